"""Records of which a frame has a list: counts, drops, collisions, flags.

Law: lists are alike where both have the same records, in whatever order. Which lines of a frame a capture covers is known
only when it has ended, since a kind that is seldom has no record on most: so what is apart is kept until then. A frame's
lines are covered from the first to the last that any record of the capture has in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..records.framed import Framed
from ..records.index import Index
from ..records.kinds import KINDS
from ..records.parsing import ODD, Columns
from .outcome import EXTRA, MISSING, UNLIKE, Difference, Outcome, Row
from .shift import Shift, step_of

Ints = npt.NDArray[np.int64]
Extents = Mapping[int, tuple[int, int]]
"""By frame the first and the last line of which a capture has anything."""

KEPT = 1 << 18
"""How many records are kept at most; of what is apart beyond them no more than the number is told."""


class Apart(NamedTuple):
    """Records of a frame that only one side has: int64 (records, columns), and how often more than the other, negative: less."""

    frame: int
    rows: Ints
    more: Ints


class Listed:
    """A kind of record, compared frame by frame."""

    def __init__(self, index: Index, kind: str, shift: Shift, *, whole: bool) -> None:
        self.kind, self.whole, self.height = kind, whole, index.height
        self.names = tuple(field.name for field in KINDS[kind] if field.name != "frame")
        self.outcome = Outcome(kind, shift, np.zeros(index.lines_per_frame, np.bool_))
        self.apart: list[Apart] = []
        self.kept = self.beyond = 0
        self.any = False

    def gap(self, number: int, expected: Columns) -> None:
        """Nothing of this kind came of frame ``number``."""
        rows = self._rows(expected)
        self._keep(Apart(number, rows, np.full(len(rows), -1)))

    def frame(self, one: Framed, expected: Columns) -> None:
        """Compare a frame."""
        self.any = True
        wanted, came = self._rows(expected), self._rows(one.columns)
        self.outcome.seen += len(came)
        if np.array_equal(wanted, came) and ODD not in one.columns:
            return
        if ODD in one.columns:
            came = came.copy()
            for number, name in enumerate(self.names, 1):
                came[(one.columns[ODD] >> number & 1) != 0, self.names.index(name)] = NOT_KNOWN
        rows, place = np.unique(np.concatenate([wanted, came]), axis=0, return_inverse=True)
        sides = np.repeat([-1, 1], [len(wanted), len(came)])
        more = np.bincount(place.reshape(-1), weights=sides, minlength=len(rows)).astype(np.int64)
        self._keep(Apart(one.frame, rows[more != 0], more[more != 0]))

    def done(self, extents: Extents) -> Outcome:
        """What came of it; ``extents`` tells what the whole capture covers."""
        ends = min(extents, default=0), max(extents, default=0)
        for each in self.apart:
            missing = each.more < 0
            covered = np.array(
                [self._covers(each.frame, int(line), extents, ends) for line in self._lines(each.rows)], np.bool_
            )
            excused = missing & ~covered
            self.outcome.absent -= int(each.more[excused].sum())
            self._note(Apart(each.frame, each.rows[~excused], each.more[~excused]))
        self.outcome.counts[MISSING] += self.beyond
        self.outcome.counts = +self.outcome.counts
        return self.outcome

    def _rows(self, columns: Columns) -> Ints:
        if not columns:
            return np.empty((0, len(self.names)), np.int64)
        return np.stack([columns[name] for name in self.names], axis=1)

    def _lines(self, rows: Ints) -> Ints:
        return rows[:, 0] if self.names[0] == "line" else np.full(len(rows), -1)

    def _keep(self, apart: Apart) -> None:
        if not len(apart.rows):
            return
        if self.kept > KEPT:
            self.beyond += int(np.abs(apart.more).sum())
            return
        self.kept += len(apart.rows)
        self.apart.append(apart)

    def _covers(self, frame: int, line: int, extents: Extents, ends: tuple[int, int]) -> bool:
        """Whether the capture has what there is of ``line`` (-1: of the frame's end)."""
        if self.whole:
            return True
        if not self.any or frame not in extents:
            return False
        if line < 0:
            return frame < ends[1]
        first, last = extents[frame]
        begins = line > first or (line == first and (frame > ends[0] or first == 0))
        goes_on = line < last or (line == last and (frame < ends[1] or last >= self.height - 1))
        return begins and goes_on

    def _note(self, apart: Apart) -> None:
        """Count what is apart, the first line of it as the difference to tell."""
        if not len(apart.rows):
            return
        lines = self._lines(apart.rows)
        less, more = int(-apart.more[apart.more < 0].sum()), int(apart.more[apart.more > 0].sum())
        here = lines == lines.min()
        expected, came = (self._told(apart.rows[here & side]) for side in (apart.more < 0, apart.more > 0))
        both = min(less, more)
        sort = UNLIKE if expected and came else MISSING if expected else EXTRA
        step = step_of(self.kind)
        steps = [one[step] for one in (*expected, *came)] if step else []
        place = int(lines.min()), min((each for each in steps if each is not None), default=-1)
        found = Difference(apart.frame, *place, sort, expected, came)
        for each, count in ((UNLIKE, both), (MISSING, less - both), (EXTRA, more - both)):
            if count:
                self.outcome.note(found, each, count, np.unique(lines))

    def _told(self, rows: Ints) -> tuple[Row, ...]:
        return tuple(
            {name: None if number == NOT_KNOWN else number for name, number in zip(self.names, one, strict=True)}
            for one in rows[:4].tolist()
        )


NOT_KNOWN = -(1 << 62)
"""What stands for a number that is not known; no column of a list is that wide."""
