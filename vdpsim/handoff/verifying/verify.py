"""What a design printed, held against an exported folder.

Law: the order of work. The capture is compared as it is; where dots or accesses differ, a shift is hunted for in frames that
do, and the whole capture is compared anew by it. Where that leaves frames that differ, the hunt goes on with these among the
others, until it finds nothing new. So a shift that is told was tried on every record, and what it left is told with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from ...door.given import flag
from ...door.given import path as path_of
from ...door.shown import value
from ...files.problems import InputError, Problem
from ..records.index import sizes
from ..records.parsing import Columns
from .capture import Capture, first_frame
from .folder import Folder, nothing, numbers_of
from .grid import COMPARED
from .hunt import Fit, Sample, best_fit
from .shift import NONE, Shift
from .trial import Trial, tried
from .verified import Verified

ROUNDS = 4
"""How often the hunt goes on."""

NUMBERS = (0, 1, -1, 2, -2)
"""By how much frames may be numbered otherwise, beside the first of the capture being the first of the folder."""


def verify(
    capture: str | Path, against: str | Path, *, signals: Mapping[str, str] | None = None, whole: bool = False
) -> Verified:
    """Compare the file ``capture`` with the exported folder ``against``.

    A capture is a text of records in the form of the folder's own, or a value change dump (VCD); of whichever kinds of record,
    frames and lines, in order of frames. ``signals``: which signal of a dump is what, by the names that ``vdpsim verify --help``
    lists, as ``{"entry": "top.video.index"}``; others are found by their names and, where these are not enough, by their bits and
    what they do, each where one signal alone fits: see ``Verified.taken``. What is not in the capture is counted and no
    difference, unless ``whole`` says that all of the folder has to be in it.

    Dots and accesses may all be late or early by one constant: up to 64 dots or slots and 8 lines, or as far as the blanking
    reaches; entries or addresses may be larger by one constant, and frames be numbered otherwise. Of shifts that fit equally
    well the smallest is told. Raises InputError where the folder or the capture is none, or they have no record in common.
    """
    flag("whole", whole)
    chosen = _signals(signals)
    folder = Folder(path_of("against", against))
    read = Capture(path_of("capture", capture), folder.index, chosen, lambda: numbers_of(folder))
    first = first_frame(read)
    if first is None:
        kinds = ", ".join(folder.totals)
        lost = f"; {read.unplaced} have no place that is known" if read.unplaced else ""
        raise InputError([Problem(read.path, 0, "", f"has no record of a kind that is compared: {kinds}{lost}")])
    look = _Look(read, folder, whole=whole)
    look.at({}, 0 if first in folder.numbers else folder.numbers[0] - first)
    for _ in range(ROUNDS):
        if not look.wrong() or not look.at(*look.hunted()):
            break
    return look.chosen()


def _signals(signals: Mapping[str, str] | None) -> dict[str, str]:
    """The signals that were chosen, checked. Raises TypeError."""
    found: Any = {} if signals is None else signals
    if not isinstance(found, Mapping) or not all(isinstance(one, str) for pair in found.items() for one in pair):
        raise TypeError(f"signals must be a dict of roles and paths, all texts, got {value(found)}")
    return dict(found)


class _Look:
    """Looks at a capture: what each found, and which shifts fit the frames that differed."""

    def __init__(self, capture: Capture, folder: Folder, *, whole: bool) -> None:
        self.capture, self.folder, self.whole = capture, folder, whole
        self.known = frozenset(folder.numbers)
        self.trials: list[Trial] = []
        self.fits: dict[str, Fit] = {}

    def at(self, shifts: Mapping[str, Shift], number: int) -> bool:
        """Look at the whole capture by ``shifts``; False where that was done before."""
        if any((each.shifts, each.renumbered) == (shifts, number) for each in self.trials):
            return False
        try:
            self.trials.append(tried(self.capture, self.folder, shifts, number, whole=self.whole))
        except InputError:
            if not self.trials:
                raise
            return False  # by the shift records of one frame fall into another that is over: so it is not that shift
        return True

    def wrong(self) -> int:
        """How much differs by the last look."""
        return self.trials[-1].wrong

    def hunted(self) -> tuple[dict[str, Shift], int]:
        """The shifts that fit the frames best that differed so far, and how much higher the folder numbers the frames."""
        shifts: dict[str, Shift] = {}
        number, found = self._number()
        for kind in COMPARED:
            suspects = [one for one in self._suspects(kind) if one + number in self.known]
            if kind in found and suspects == self._suspects(kind):
                fit = found[kind]
            elif samples := self._samples(kind, suspects, [number])[number]:
                fit = best_fit(self.folder.index, kind, samples)
            else:
                continue
            self.fits[kind], shifts[kind] = fit, fit.shift
        if "dot" in shifts:
            # The other kinds have too few records to be hunted by, and come of the same dots: they are as late as these.
            late = shifts["dot"]._replace(offset=0)
            shifts |= dict.fromkeys((kind for kind in self.folder.totals if kind not in COMPARED), late)
        return {kind: shift for kind, shift in shifts.items() if shift != NONE}, number

    def _suspects(self, kind: str) -> list[int]:
        """The capture's numbers of frames of ``kind`` that differed in any look."""
        return sorted({frame - each.renumbered for each in self.trials for frame in each.suspects.get(kind, ())})

    def _number(self) -> tuple[int, dict[str, Fit]]:
        """How much higher the folder numbers the frames, by the first kind that has a place each; what fits that so."""
        default = self.trials[0].renumbered
        kind = next(
            (one for one in COMPARED if one in self.trials[0].outcomes and self.trials[0].outcomes[one].seen), None
        )
        suspects = self._suspects(kind) if kind else []
        if not kind or not suspects:
            return default, {}
        first = self.folder.numbers[0] - suspects[0]
        ways = list(dict.fromkeys([default, *(default + each for each in NUMBERS), first]))
        fits: dict[int, Fit] = {}
        least = 1.0
        for way, samples in self._samples(kind, suspects, ways).items():
            if least > 0 and any(one + way in self.known for one in suspects):
                fits[way] = best_fit(self.folder.index, kind, samples, least)
                least = min(least, fits[way].part)
        best = min(fits, key=lambda way: (fits[way].part, ways.index(way)), default=default)
        return best, {kind: fits[best]} if best in fits else {}

    def _samples(self, kind: str, suspects: list[int], ways: Iterable[int]) -> dict[int, list[Sample]]:
        """For each way to number frames, ``suspects`` with what is expected of them: nothing where there is no such frame."""
        came: dict[int, Columns] = {}
        for one in self.capture.frames({}) if suspects else ():
            if one.kind == kind and one.frame in suspects:
                came[one.frame] = one.columns
                # What comes after the last of them need not be read: of a long dump that is most.
                if len(came) == len(suspects):
                    break
        wanted = {number + way for number in came for way in ways} & self.known
        expected: dict[int, Columns] = {}
        for number, columns in self.folder.frames(kind) if wanted else ():
            if number in wanted and columns:
                expected[number] = columns
            if number >= max(wanted):
                break
        none, size, most = nothing(kind), sizes(self.folder.index), (self.folder.index.height, self.folder.index.width)
        return {
            way: [
                Sample(expected.get(each + way, none), came[each], size.get(each + way, most)) for each in sorted(came)
            ]
            for way in ways
        }

    def _came(self) -> set[int]:
        """The capture's own numbers of the frames that it has, whatever a shift makes of them."""
        first = self.trials[0]
        return {frame - first.renumbered for frame in first.frames | first.strange}

    def chosen(self) -> Verified:
        """The look that leaves least, of each kind by its own shift."""
        best = min(self.trials, key=lambda each: each.wrong)
        alike = [each for each in self.trials if each.renumbered == best.renumbered]
        having = {kind: [each for each in alike if kind in each.outcomes] for kind in self.folder.totals}
        least = {
            kind: min(looks, key=lambda each: (each.outcomes[kind].wrong, each.outcomes[kind].shift.size))
            for kind, looks in having.items()
            if looks  # a shift may move all that came of a kind out of the folder's frames; it came nevertheless
        }
        without, frames = self.trials[0], self._came()
        return Verified(
            capture=self.capture.path,
            folder=str(self.folder.path),
            index=self.folder.index,
            outcomes={kind: each.outcomes[kind] for kind, each in least.items()},
            unshifted={kind: without.outcomes[kind].wrong if kind in without.outcomes else 0 for kind in least},
            others={
                kind: fit.others for kind, fit in self.fits.items() if fit.shift == least[kind].outcomes[kind].shift
            },
            absent={kind: many for kind, many in best.absent.items() if kind not in least},
            frames=len(best.frames),
            strange=tuple(sorted({each + best.renumbered for each in frames} - self.known)),
            renumbered=best.renumbered,
            unplaced=best.unplaced,
            differing=least["dot"].differing if "dot" in least else None,
            taken=self.capture.signals.taken,
            doubts=self.capture.signals.doubts,
        )
