"""What came of comparing one kind of record: how many were compared, how many differ and how, and the first that does.

Law: plain counts and places, no words. A difference has its expected records and those that came in its place, either of
which may be none; a number that came and is not known is None.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..records.kinds import KINDS
from ..records.parsing import ODD, UNTOLD, Columns
from .shift import Shift

UNLIKE, MISSING, EXTRA, TWICE, BESIDE = "unlike", "missing", "extra", "twice", "beside"
"""Sorts of difference: another value, none, one too many, two at one place, one where by the shift is no picture."""

SORTS = (UNLIKE, MISSING, EXTRA, TWICE, BESIDE)

MOST_FRAMES = 1000
"""Of how many frames that differ the numbers are kept."""

Row = Mapping[str, int | None]
"""A record by the names of its columns, without its frame; None: not known."""


class Difference(NamedTuple):
    """Where something differs: ``line`` and ``step``, a dot or a slot, both as expected; -1 where there is none."""

    frame: int
    line: int
    step: int
    sort: str
    expected: tuple[Row, ...]
    came: tuple[Row, ...]

    @property
    def when(self) -> tuple[int, bool, int, int]:
        """By which the first is the smallest; what has no line is the frame's end."""
        return self.frame, self.line < 0, self.line, self.step


@dataclass
class Outcome:
    """A kind of record compared.

    ``seen``: records of the capture that were held against one of the folder; ``absent``: records of the folder of which the
    capture says nothing. ``counts``: differences by sort. ``lines``: bool (lines of a frame,), on which lines there are any;
    ``frames``: the first thousand frames that have any. ``outside``: records of the capture beside what the folder tells of.
    """

    kind: str
    shift: Shift
    lines: npt.NDArray[np.bool_]
    seen: int = 0
    absent: int = 0
    outside: int = 0
    counts: Counter[str] = field(default_factory=Counter)
    frames: list[int] = field(default_factory=list)
    first: Difference | None = None

    @property
    def wrong(self) -> int:
        """How many differences there are."""
        return sum(self.counts.values())

    def note(self, found: Difference, sort: str, count: int, lines: npt.NDArray[np.int64]) -> None:
        """``count`` more differences of a ``sort``, on ``lines``; ``found`` is the first of them."""
        self.counts[sort] += count
        self.lines[lines[(lines >= 0) & (lines < len(self.lines))]] = True
        if found.frame not in self.frames[-1:] and len(self.frames) < MOST_FRAMES:
            self.frames.append(found.frame)
        if self.first is None or found.when < self.first.when:
            self.first = found


def row(kind: str, columns: Columns, at: int) -> Row:
    """Record ``at`` of ``columns``; columns of which nothing is told are left out."""
    odd = int(columns[ODD][at]) if ODD in columns else 0
    told: dict[str, int | None] = {}
    for number, field_ in enumerate(KINDS[kind]):
        if field_.name in columns and not odd >> number + UNTOLD & 1:
            told[field_.name] = None if odd >> number & 1 else int(columns[field_.name][at])
    return told


def odd_bits(kind: str, columns: Columns, name: str) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]] | None:
    """Of the column ``name``: where its numbers are not known, and where nothing is told; None where all are known and told."""
    if ODD not in columns:
        return None
    number = [each.name for each in KINDS[kind]].index(name)
    odd = columns[ODD] >> number
    return odd & 1 != 0, odd >> UNTOLD & 1 != 0
