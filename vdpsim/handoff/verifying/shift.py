"""Constant shifts: how much later than expected everything comes, and by how much a number is larger.

Law: a shift is taken back from records as they come, before they are put together frame by frame, so that time goes on over
the ends of lines and frames. Knows no comparison.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from ..records.index import Index
from ..records.kinds import KINDS
from ..records.parsing import Columns

OFFSET: Mapping[str, str] = {"dot": "entry", "access": "address"}
"""Which column of a kind may be larger or smaller by one constant."""


class Shift(NamedTuple):
    """How much later everything comes, in lines and in dots or slots; how much larger one column is (``OFFSET``)."""

    lines: int = 0
    steps: int = 0
    offset: int = 0

    @property
    def size(self) -> tuple[int, int, int, bool, bool]:
        """By which the smallest shift is the first; of equally large ones the later."""
        return abs(self.offset), abs(self.lines), abs(self.steps), self.lines < 0, self.steps < 0


NONE = Shift()


def step_of(kind: str) -> str | None:
    """The column that says where on its line a record of ``kind`` lies, a dot or a slot."""
    names = [field.name for field in KINDS[kind]]
    return next((name for name in ("dot", "slot") if name in names[:3]), None)


def period(index: Index, kind: str) -> int:
    """How many dots or slots a line lasts."""
    return max(index.slots_per_line, 1) if step_of(kind) == "slot" else index.dots_per_line


def moved(index: Index, kind: str, columns: Columns, shift: Shift) -> Columns:
    """Records as they would have come without the shift."""
    if shift == NONE or "line" not in columns:
        return columns
    out = dict(columns)
    name, wide = step_of(kind), period(index, kind)
    steps = columns[name] - shift.steps if name else np.zeros_like(columns["line"])
    time = (columns["line"] - shift.lines) * wide + steps
    if kind != "dot":  # a dot that leaves its frame leaves the picture: it stays beside it, and frames stay in order
        long = index.lines_per_frame * wide
        at = columns["line"] * wide + (columns[name] if name else 0)
        frames = np.where((at >= 0) & (at < long), time // long, 0)  # a place that no frame has stays one
        time = time - frames * long
        out["frame"] = columns["frame"] + frames
    out["line"], steps = np.divmod(time, wide)
    if name:
        out[name] = steps
    if shift.offset:
        out[OFFSET[kind]] = columns[OFFSET[kind]] - shift.offset
    return out
