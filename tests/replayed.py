"""An exported folder replayed: a chip at reset is given the folder's images and stimulus and nothing else, and drawn.

Law: reads README's columns, not the code that writes them, and knows no scene. What a record does is done to a plain state, or
handed to who draws as a timed write; who draws is the caller's choice.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import repeat
from pathlib import Path
from typing import Any, NamedTuple

from twin import draw_frame
from twin_result import clients

from vdpsim.chip.model import Chip
from vdpsim.chip.registers import fields, registers
from vdpsim.engine import Plan, draw
from vdpsim.machine.handles import cpu_write as cpu_writes
from vdpsim.state.enact import Latches
from vdpsim.state.state import State, Waiting
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write

Row = list[str]
Outcome = dict[str, list[tuple[int, ...]]]
"""What came out of a frame, by kind: its records' numbers, without the frame's."""


class Replayed(NamedTuple):
    """A frame that was replayed: its number, what came out, and the state that it left."""

    frame: int
    came: Outcome
    left: State


Draws = Callable[[Plan, State, list[Write]], Outcome]
"""Draws a frame from a state, which is left as the frame leaves it."""


def rows(path: Path) -> list[Row]:
    """The records of a file, word by word."""
    return [line.split() for line in path.read_text("ascii").splitlines() if not line.startswith("#")]


BASES = {
    "dot": (10, 10, 16, 16, 10, 10, 10),
    "access": (10, 10, 10, 16, 16),
    "fetches": (10, 10, 10),
    "missed": (10, 10, 10),
    "sprites": (10, 10, 10),
    "drop": (10, 10, 10),
    "collision": (10, 10, 10, 10),
    "flag": (10, 10, 10),
    "left": (16, 16),
}
"""The bases of the columns after the frame."""


def expected(folder: Path) -> dict[int, Outcome]:
    """What the folder says is to come out, by frame."""
    index = json.loads((folder / "index.json").read_text())
    found: dict[int, Outcome] = {one["frame"]: defaultdict(list) for one in index["frames"]}
    for path in sorted((folder / "vectors").glob("*.txt")):
        if path.stem != "stimulus":
            for frame, numbers in _numbers(path, BASES[path.stem]):
                found[frame][path.stem].append(numbers)
    return found


def _numbers(path: Path, bases: tuple[int, ...]) -> Iterator[tuple[int, tuple[int, ...]]]:
    """The frame and the numbers of each record of a file, whose columns are read one after the other."""
    lines = [line for line in path.read_text("ascii").splitlines() if not line.startswith("#")]
    words, wide = " ".join(lines).split(), 2 + len(bases)
    assert len(words) == wide * len(lines)
    assert set(words[::wide]) <= {path.stem}
    columns = [map(int, words[2 + at :: wide], repeat(base)) for at, base in enumerate(bases)]
    yield from zip(map(int, words[1::wide]), zip(*columns, strict=True), strict=True)


def replayed(folder: Path, chip: Chip, draws: Draws) -> Iterator[Replayed]:
    """The folder's frames, one after the other."""
    index = json.loads((folder / "index.json").read_text())
    plan, state = Plan(chip), _loaded(folder, chip)
    by_frame: dict[int, list[Row]] = {one["frame"]: [] for one in index["frames"]}
    for row in rows(folder / "vectors/stimulus.txt"):
        by_frame[int(row[1])].append(row)
    for frame, records in by_frame.items():
        state.frame, state.ahead, state.buffers = frame, None, {}
        writes = _done(plan, state, index, records)
        if frame == index["frames"][0]["frame"]:
            assert (folder / "memory/registers.bin").read_bytes() == _registers(index, state)
        came = draws(plan, state, writes)
        came["left"] = [(state.status, state.collision_flags)]
        yield Replayed(frame, came, state.copy())


def _loaded(folder: Path, chip: Chip) -> State:
    """A chip at reset with its images loaded."""
    state, wide = State.at_reset(chip), chip.memory.bytes_per_access
    video = [int(word, 16) for word in (folder / "memory/video.hex").read_text().split()]
    state.memory[:] = list(b"".join(word.to_bytes(wide, chip.memory.byte_order) for word in video))
    state.palette[:] = [int(word, 16) for word in (folder / "memory/palette.hex").read_text().split()]
    if state.sprites.size:
        state.sprites.reshape(-1)[:] = [int(word, 16) for word in (folder / "memory/sprites.hex").read_text().split()]
    return state


def _registers(index: dict[str, Any], state: State) -> bytes:
    """The bytes of all registers, from the first one's on."""
    image = next(one for one in index["memory"] if one["file"] == "memory/registers")
    held, latches = bytearray(image["words"]), Latches(state, state.held)
    for one in registers(state.chip).values():
        at = one.address - image["first"]
        held[at : at + one.size] = latches.word(one).to_bytes(one.size, "little")
    return bytes(held)


def _done(plan: Plan, state: State, index: dict[str, Any], records: Sequence[Row]) -> list[Write]:
    """Do the records of line -1 to ``state``; the others as timed writes."""
    writes: list[Write] = []
    left = iter(records)
    for row in left:
        kind, line = row[0], int(row[2])
        bytes_of = _Bytes(left)
        if line >= 0:
            writes.append(_timed(plan.chip, index, row, bytes_of))
        elif kind == "bus":
            cpu_writes(plan, state, int(row[4], 16), int(row[5], 16))
        elif kind == "memory":
            state.memory[int(row[4], 16)] = int(row[5], 16)
        elif kind == "palette":
            state.palette[int(row[4], 16)] = int(row[5], 16)
        elif kind == "sprite":
            state.sprites.reshape(-1)[int(row[4], 16)] = int(row[5], 16)
        elif kind == "status":
            state.status, state.collision_flags = int(row[3], 16), int(row[4], 16)
        elif kind == "waiting":
            start, begun, hands, address, step, count = (
                int(word, base) for word, base in zip(row[3:], (10, 10, 10, 16, 10, 10), strict=True)
            )
            at_hand = tuple(Fraction(int(hand[2]), int(hand[3])) for hand in (next(left) for _ in range(hands)))
            data = bytes(begun) + bytes_of.take(count)
            size = plan.chip.memory.size
            state.waiting += (
                Waiting(state.transfers, start, (address - begun * step) % size, data, step, begun, at_hand),
            )
            state.transfers += 1
        else:
            raise AssertionError(f"{kind} at line {line}")
    return writes


class _Bytes:
    """The records of the kind byte that follow."""

    def __init__(self, left: Iterator[Row]) -> None:
        self.left = left

    def take(self, count: int) -> bytes:
        """So many of them."""
        found = [next(self.left) for _ in range(count)]
        assert {row[0] for row in found} == {"byte"}
        return bytes(int(row[2], 16) for row in found)


def _timed(chip: Chip, index: dict[str, Any], row: Row, bytes_of: _Bytes) -> Write:
    kind, line, dot = row[0], int(row[2]), int(row[3])
    if kind == "bus":
        return PortWrite(line, int(row[4], 16), int(row[5], 16), dot)
    if kind == "field":
        field = fields(chip)[index["fields"][int(row[4])]]
        return RegisterWrite(line, field.name, int(row[5], 16) * field.step, dot)
    if kind == "register":
        return RegisterWrite(line, index["registers"][int(row[4])], int(row[5], 16), dot)
    if kind == "palette":
        return PaletteWrite(line, int(row[4], 16), (int(row[5], 16),), dot)
    if kind == "sprite":
        return SpriteWrite(line, int(row[4], 16), bytes([int(row[5], 16)]), dot)
    if kind == "memory":
        return MemoryWrite(line, int(row[4], 16), bytes([int(row[5], 16)]), dot)
    assert kind == "transfer"
    return Transfer(line, int(row[4], 16), bytes_of.take(int(row[6])), dot, int(row[5]))


REASONS = {"count": 0, "dots": 1, "slots": 2}


def by_twin(plan: Plan, state: State, writes: list[Write]) -> Outcome:
    """Drawn dot by dot."""
    chip, names = plan.chip, clients(plan.chip)
    made = draw_frame(state, writes)
    planes = (made.indices, made.rgb, made.source, made.rung, made.sprite)
    came: Outcome = {
        "dot": [
            (line, dot, entry, red << 16 | green << 8 | blue, source, rung, sprite)
            for line, of_line in enumerate(zip(*planes, strict=True))
            for dot, (entry, (red, green, blue), source, rung, sprite) in enumerate(zip(*of_line, strict=True))
        ],
        "sprites": [(line, *pair) for line, pair in enumerate(zip(made.found, made.drawn, strict=True))],
        "drop": [(line, sprite, REASONS[reason]) for line, sprite, reason in made.drops],
        "collision": [(line, dot, first, second) for line, first, second, dot in made.collisions],
        "missed": _counted(names, made.missed),
        "fetches": _counted(names, made.counts),
        "access": [
            (line, slot, [*names, "refresh", "cpu"].index(client), address, value)
            for line, slot, client, address, value in made.trace
        ],
    }
    bits = chip.status.bits if chip.status else {}
    came["flag"] = [(line, dot, bits[flag]) for line, dot, flag in made.raised]
    return came


def _counted(names: list[str], counts: list[dict[str, int]]) -> list[tuple[int, ...]]:
    return [
        (line, number, of_line[name])
        for line, of_line in enumerate(counts)
        for number, name in enumerate(names)
        if of_line[name]
    ]


def by_engine(plan: Plan, state: State, writes: list[Write]) -> Outcome:
    """Drawn by the engine, for pictures of full size."""
    made = draw(plan, state, writes, damage=True, trace=plan.chip.time is not None)
    rgb = made.rgb.astype(int)
    colours = (rgb[..., 0] << 16 | rgb[..., 1] << 8 | rgb[..., 2]).tolist()
    planes = (made.indices.tolist(), colours, made.source.tolist(), made.rung.tolist(), made.sprite.tolist())
    bits = plan.chip.status.bits if plan.chip.status else {}
    tables = {"missed": made.missed.tolist(), "fetches": made.log.counts.tolist()}
    return {
        "dot": [
            (line, dot, *of_dot)
            for line, of_line in enumerate(zip(*planes, strict=True))
            for dot, of_dot in enumerate(zip(*of_line, strict=True))
        ],
        "sprites": [
            (line, *pair)
            for line, pair in enumerate(zip(made.log.found.tolist(), made.log.drawn.tolist(), strict=True))
        ],
        "drop": [(line, sprite, REASONS[reason]) for line, sprite, reason in made.drops.tolist()],
        "collision": [(line, dot, first, second) for line, first, second, dot in made.collisions.tolist()],
        "access": [] if made.trace is None else made.trace.tolist(),
        "flag": [(line, dot, bits[flag]) for line, dot, flag in made.raised.tolist()],
        **{
            kind: [
                (line, client, count)
                for line, of_line in enumerate(table)
                for client, count in enumerate(of_line)
                if count
            ]
            for kind, table in tables.items()
        },
    }
