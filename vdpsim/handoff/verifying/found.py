"""What came of holding a capture against a folder: what was compared, by which shifts, what differs and where first.

Law: all that is told in words, as data and as a picture follows from it and from the folder's index.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..records.index import Index
from .outcome import Difference, Outcome
from .shift import NONE, Shift
from .trial import Differing
from .wave.fitting import Taken


@dataclass(frozen=True, eq=False, repr=False)
class Found:
    """A capture beside what was expected.

    ``outcomes``: by kind of record, in the folder's order, what came of comparing it; ``absent``: kinds of which the capture
    has no record, with how many the folder has. ``unshifted``: how many of each kind differ without a shift. ``others``: by
    kind the other shifts that fit the frames looked at as well. ``frames``: how many were compared; ``strange``: those of the
    capture, by the folder's numbers, that the folder has not. ``renumbered``: how much higher the folder numbers the frames.
    ``unplaced``: records of which no place is known. ``taken``: of a dump whose names are not enough, which signal was taken for
    what, and why; ``doubts``: what of it is not compared for that.
    """

    capture: str
    folder: str
    index: Index
    outcomes: Mapping[str, Outcome]
    unshifted: Mapping[str, int]
    others: Mapping[str, tuple[Shift, ...]]
    absent: Mapping[str, int]
    frames: int
    strange: tuple[int, ...]
    renumbered: int
    unplaced: int
    differing: Differing | None
    taken: tuple[Taken, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def same(self) -> bool:
        """Whether all that was compared is as expected, but for constant shifts."""
        return not any(one.wrong for one in self.outcomes.values())

    @property
    def shifts(self) -> dict[str, Shift]:
        """The constant shift of each kind that has one."""
        return {kind: one.shift for kind, one in self.outcomes.items() if one.shift != NONE and one.seen}

    @property
    def first(self) -> tuple[str, Difference] | None:
        """The kind and the place of the first difference of all, by frame and line, then in the folder's order of kinds."""
        found = [(kind, one.first) for kind, one in self.outcomes.items() if one.first is not None]
        return min(found, key=lambda each: each[1].when[:3], default=None)
