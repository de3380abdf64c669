"""Which accesses fed a dot, and which bytes landed before an access read, as far as the folder's records tell.

Law: of each of the layer's clients the last access whose slot is over before the dot shows: on the dot's line, else on the
line before. What a client fetched ahead is so told as the last, and nothing is told of sprites, whose accesses come in no
order of dots.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...records.index import Index, sizes
from ...records.parsing import Columns
from ..folder import Folder
from ..outcome import Difference

WIDEST = 8
"""Bytes of the widest access."""


def fetched(folder: str, index: Index, one: Difference) -> Iterator[str]:
    """Sentences on the accesses before the first dot that differs."""
    source = index.sources[one.expected[0]["source"] or 0]
    clients = [(number, name) for number, name in enumerate(index.clients) if name.startswith(f"{source}.")]
    if not clients or source == "sprites" or not index.slots_per_line:
        return
    columns = _accesses(folder, one.frame)
    for number, name in clients if columns else ():
        at = _last(index, columns, number, one.line, one.step, sizes(index)[one.frame][1])
        if at is not None:
            line, slot, address, value = (int(columns[each][at]) for each in ("line", "slot", "address", "value"))
            bits = value & (1 << 64) - 1
            yield f"last access of {name} before it: line {line}, slot {slot}, address 0x{address:06x}, value 0x{bits:x}"


def landed(folder: str, index: Index, one: Difference) -> Iterator[str]:
    """Which bytes of transfers landed before, on the line, in what an access reads, that are what came instead."""
    columns = _accesses(folder, one.frame)
    expected, came, address = one.expected[0]["value"], one.came[0].get("value"), one.expected[0]["address"]
    if not columns or expected is None or came is None or address is None:
        return
    wrong = [came >> low & 0xFF for low in range(0, 64, 8) if (came ^ expected) >> low & 0xFF]
    before = (columns["line"] == one.line) & (columns["slot"] < one.step)
    mine = before & (columns["client"] == index.clients.index("cpu")) & np.isin(columns["value"], wrong)
    near = mine & (columns["address"] >= address) & (columns["address"] < address + WIDEST)
    for at in np.flatnonzero(near)[-1:]:
        byte, to, slot = (int(columns[name][at]) for name in ("value", "address", "slot"))
        what = f"the CPU's byte 0x{byte:02x} landed at 0x{to:06x} in slot {slot}"
        yield f"{what}: a memory has it by then, the model's burst may not (README: What a memory does otherwise)"


def _accesses(folder: str, frame: int) -> Columns:
    """The folder's accesses of a frame; nothing where it has none."""
    read = Folder(folder)
    if "access" not in read.totals:
        return {}
    return next((columns for number, columns in read.frames("access") if number == frame), {})


def _last(index: Index, columns: Columns, client: int, line: int, dot: int, wide: int) -> int | None:
    """The record of the last access of ``client`` that is over when the dot of ``wide`` shows; None where there is none."""
    numerator, denominator = index.dots_per_slot
    over = (columns["slot"] + 1) * numerator <= (index.dots_per_line - wide + dot) * denominator
    mine = columns["client"] == client
    for near in (mine & (columns["line"] == line) & over, mine & (columns["line"] == line - 1)):
        found = np.flatnonzero(near)
        if len(found):
            return int(found[columns["slot"][found].argmax()])
    return None
