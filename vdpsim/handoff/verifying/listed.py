"""Records of which a frame has a list: counts, drops, collisions, flags.

Law: lists are alike where both have the same records, in whatever order. Which lines of a frame a capture covers is known
only when it has ended, since a kind that is seldom has no record on most: so what is apart is kept until then. A line is
covered where any record of the capture lies on it, of whatever kind.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..records.framed import Framed
from ..records.index import Index, sizes
from ..records.kinds import KINDS
from ..records.parsing import ODD, Columns
from .outcome import EXTRA, MISSING, UNLIKE, Difference, Outcome, Row
from .shift import Shift, step_of

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

KEPT = 1 << 18
"""How many records are kept at most; of what is apart beyond them no more than the number is told."""


class Covered:
    """Which lines of which frames a capture has anything of."""

    def __init__(self, index: Index) -> None:
        self.lines = index.lines_per_frame
        self.heights = {frame: high for frame, (high, _) in sizes(index).items()}
        self._frames: dict[int, npt.NDArray[np.uint8]] = {}
        self._ended: set[int] = set()

    def end(self, frame: int) -> None:
        """Something came that is told when ``frame`` is over."""
        self._ended.add(frame)

    def note(self, frame: int, lines: Ints) -> None:
        """Something came of ``lines`` of ``frame``."""
        there = np.zeros(self.lines, np.bool_)
        there[lines[(lines >= 0) & (lines < self.lines)]] = True
        known = self._frames.get(frame)
        self._frames[frame] = np.packbits(there) if known is None else known | np.packbits(there)

    def has(self, frame: int, lines: Ints) -> Bools:
        """Whether there is all of each of ``lines``; of -1, the frame's end, where a later frame has begun.

        The capture may begin and end within a line, if that is not where the picture does. Lines below the picture have
        nothing of most kinds: they are there where the picture's last line is, and anything that comes after them.
        """
        if frame not in self._frames:
            return np.zeros(len(lines), np.bool_)
        there = np.unpackbits(self._frames[frame], count=self.lines).astype(np.bool_)
        every = np.flatnonzero(there)
        if frame == min(self._frames) and every[0] > 0:
            there[every[0]] = False
        later, high = frame < max(self._frames), self.heights[frame]
        if not later and every[-1] < high - 1:
            there[every[-1]] = False
        if there[high - 1]:
            there[high : self.lines if later or frame in self._ended else int(every[-1])] = True
        return np.where(lines >= 0, there[lines], later)


class Apart(NamedTuple):
    """Records of a frame that only one side has: int64 (records, columns), and how often more than the other, negative: less."""

    frame: int
    rows: Ints
    more: Ints


class Listed:
    """A kind of record, compared frame by frame."""

    def __init__(self, index: Index, kind: str, shift: Shift, *, whole: bool) -> None:
        self.kind, self.whole = kind, whole
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

    def done(self, covered: Covered) -> Outcome:
        """What came of it, where the whole capture covers what it does."""
        for each in self.apart:
            excused = (each.more < 0) & ~self._covers(each, covered)
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

    def _covers(self, apart: Apart, covered: Covered) -> Bools:
        """Whether the capture would have each record if it had come."""
        if self.whole or not self.any:
            return np.full(len(apart.rows), self.whole)
        return covered.has(apart.frame, self._lines(apart.rows))

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
