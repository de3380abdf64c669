"""Accesses of an exported folder for which the model's text says that a memory gives something else: those, and no others.

Law: the text is *What a memory does otherwise*. A folder's memory is replayed from its own records, slot by slot. An access
is excepted where the model's value is what memory held when the burst began (a sprite's record: at the line's slot 0), and
bytes of transfers that landed from then on are all that has changed. Then the record gets what memory holds in its own slot,
so that a design is still held to one value. What else would follow from the other value is not looked for.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Any, Literal

Landed = list[tuple[int, int, int]]
"""Bytes that landed on a line: slot, address, and what was there before."""


def as_a_memory(folder: Path) -> int:
    """Put into the folder's accesses what a memory gives, where the text lets it differ; how many these are."""
    told: dict[str, Any] = {}
    exec((folder / "constants.py").read_text("utf-8"), told)  # noqa: S102 - our own text
    replay = _Replay(folder, told)
    path = folder / "vectors" / "access.txt"
    rows = path.read_text("ascii").splitlines(keepends=True)
    other = [row if row.startswith("#") else replay.access(row) for row in rows]
    path.write_text("".join(other), "ascii")
    return sum(row != new for row, new in zip(rows, other, strict=True))


class _Replay:
    """The folder's memory, as its accesses go by."""

    def __init__(self, folder: Path, told: dict[str, Any]) -> None:
        self.told = told
        self.order: Literal["big", "little"] = "big" if told["MEMORY_BIG_END_FIRST"] else "little"
        self.memory = bytearray((folder / "memory" / "video.bin").read_bytes())
        rows = (row.split() for row in (folder / "vectors" / "stimulus.txt").read_text("ascii").splitlines())
        self.written = [
            (int(row[1]), int(row[2]), int(row[4], 16), int(row[5], 16)) for row in rows if row[0] == "memory"
        ]
        self.reach = _reach(told)
        self.line = (-1, -1)
        self.landed: Landed = []
        self.slots: dict[int, list[int]] = {}

    def access(self, row: str) -> str:
        """The record, with what a memory gives where it is excepted."""
        frame, line, slot, client, address, value = (
            int(word, base) for word, base in zip(row.split()[1:], BASES, strict=True)
        )
        self._go_to(frame, line)
        if client == self.told["CLIENT_CPU"]:
            self.landed.append((slot, address, self.memory[address]))
            self.memory[address] = value
        elif client != self.told["CLIENT_REFRESH"]:
            self.slots[client].append(slot)
            if value != self._number(self.memory, address) and self._burst(client, address, value):
                return f"{row[:-17]}{self._number(self.memory, address):016x}\n"
        return row

    def _go_to(self, frame: int, line: int) -> None:
        if self.line != (frame, line):
            self.line, self.landed, self.slots = (frame, line), [], defaultdict(list)
        while self.written and self.written[0][:2] <= self.line:
            _, _, address, byte = self.written.pop(0)
            self.memory[address] = byte

    def _burst(self, client: int, address: int, value: int) -> bool:
        """Whether ``value`` is what memory held when a burst that has this access may have begun."""
        table = client == self.told["CLIENT_SPRITES_TABLE"]
        return any(
            self._number(self._held(slot), address) == value
            for slot in ([0] if table else self.slots[client][-self.reach[client] :])
        )

    def _held(self, slot: int) -> bytearray:
        """Memory as it was in ``slot`` of this line."""
        memory = self.memory[:]
        for landed, address, before in reversed(self.landed):
            if landed >= slot:
                memory[address] = before
        return memory

    def _number(self, memory: bytearray, address: int) -> int:
        return int.from_bytes(memory[address : address + self.told["MEMORY_ACCESS_BYTES"]], self.order)


BASES = (10, 10, 10, 10, 16, 16)
"""Of the numbers of an access: frame, line, slot, client, address, value."""


def _reach(told: dict[str, Any]) -> dict[int, int]:
    """The most accesses of a client from the first of a burst to its last: those of other places of the client lie between."""
    found: dict[int, int] = defaultdict(int)
    for layer, what, client in zip(told["PLACES_LAYER"], told["PLACES_WHAT"], told["PLACES_CLIENT"], strict=True):
        if client < 0:
            found[told["CLIENT_SPRITES_PATTERN"]] = max(told["SPRITE_SIZES_ROW_ACCESSES"])
            continue
        name = next(one for one in ("CELLS", "PATTERN", "GLYPHS", "COLOURS", "BITMAP") if told[f"WHAT_{one}"] == what)
        counts = zip(told["MODES_LAYER"], told[f"MODES_{name}_ACCESSES"], strict=True)
        found[client] += max(count for of, count in counts if of == layer)
    return found
