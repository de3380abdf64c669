"""One look at a whole capture: every record held against the folder's, under shifts that are given.

Law: the capture is read once, frame by frame, and each frame is compared and forgotten. Looks for no shift.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..records.framed import Framed
from ..records.kinds import OUTCOMES
from ..records.parsing import Columns
from .capture import Capture
from .folder import Folder, Upcoming
from .grid import COMPARED, Grid
from .listed import Covered, Listed
from .outcome import Outcome
from .shift import NONE, Shift

SUSPECTS = 3
"""How many frames of a kind that differ are told, for whoever looks for a shift."""


class Differing(NamedTuple):
    """A frame with dots that differ: the records expected and come; ``wrong`` bool (lines x dots,), where."""

    frame: int
    expected: Columns
    came: Columns
    wrong: npt.NDArray[np.bool_]


@dataclass
class Trial:
    """What came of it, by kind of which the capture has any record (``whole``: of all).

    ``frames``: of the folder, compared; ``strange``: of the capture, which the folder has not. ``absent``: kinds of which the
    capture has nothing, with their number of records. ``suspects``: by kind the first frames that differ.
    """

    shifts: Mapping[str, Shift]
    renumbered: int
    outcomes: dict[str, Outcome] = field(default_factory=dict)
    frames: set[int] = field(default_factory=set)
    strange: set[int] = field(default_factory=set)
    absent: dict[str, int] = field(default_factory=dict)
    suspects: dict[str, list[int]] = field(default_factory=dict)
    differing: Differing | None = None
    unplaced: int = 0

    @property
    def wrong(self) -> int:
        """How much differs."""
        return sum(one.wrong for one in self.outcomes.values())


MOST_STRANGE = 1 << 16
"""Of how many frames that the folder has not the numbers are kept."""


def tried(capture: Capture, folder: Folder, shifts: Mapping[str, Shift], renumbered: int, *, whole: bool) -> Trial:
    """Compare ``capture`` with ``folder``. Raises InputError."""
    return _Trying(capture, folder, Trial(shifts, renumbered), whole=whole).run()


class _Trying:
    def __init__(self, capture: Capture, folder: Folder, told: Trial, *, whole: bool) -> None:
        self.capture, self.folder, self.told, self.whole = capture, folder, told, whole
        index = folder.index
        self.known = set(folder.numbers)
        self.sides: dict[str, Grid | Listed] = {}
        for kind in folder.totals:
            made = Grid if kind in COMPARED else Listed
            self.sides[kind] = made(index, kind, told.shifts.get(kind, NONE), whole=whole)
        self.upcoming = {kind: Upcoming(folder, kind) for kind in folder.totals}
        self.covered = Covered(index)
        self.came: set[str] = set()

    def run(self) -> Trial:
        """All of it."""
        for one in self.capture.frames(self.told.shifts, self.told.renumbered):
            if one.frame not in self.known or one.kind not in self.sides:
                self._strange(one)
            else:
                self._take(one)
        for kind, side in self.sides.items():
            if kind in self.came or self.whole:
                for number, expected in self.upcoming[kind].until(None):
                    side.gap(number, expected)
                self.told.outcomes[kind] = side.done(self.covered) if isinstance(side, Listed) else side.outcome
            elif self.folder.totals[kind]:
                self.told.absent[kind] = self.folder.totals[kind]
        self.told.unplaced = self.capture.unplaced
        return self.told

    def _take(self, one: Framed) -> None:
        """Compare a frame's records of a kind."""
        side, told = self.sides[one.kind], self.told
        self.came.add(one.kind)
        told.frames.add(one.frame)
        if "line" in one.columns:
            self.covered.note(one.frame, one.columns["line"])
        else:
            self.covered.end(one.frame)
        for number, expected in self.upcoming[one.kind].until(one.frame):
            if number != one.frame:
                side.gap(number, expected)
                continue
            if isinstance(side, Listed):
                side.frame(one, expected)
            else:
                self._compare(side, one, expected)

    def _compare(self, side: Grid, one: Framed, expected: Columns) -> None:
        """Compare a frame's dots or accesses, and keep what is worth another look."""
        told, before = self.told, side.outcome.wrong
        wrong = side.frame(one, expected)
        suspects = told.suspects.setdefault(one.kind, [])
        if side.outcome.wrong > before and len(suspects) < SUSPECTS:
            suspects.append(one.frame)
        if one.kind == "dot" and told.differing is None and wrong.any():
            told.differing = Differing(one.frame, expected, one.columns, wrong)

    def _strange(self, one: Framed) -> None:
        if one.kind in OUTCOMES and one.frame not in self.known and len(self.told.strange) < MOST_STRANGE:
            self.told.strange.add(one.frame)
