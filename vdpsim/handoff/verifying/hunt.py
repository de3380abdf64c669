"""The hunt for a constant shift: which one would make a few frames that differ the same.

Law: says what fits the frames that it is given, and proves nothing; whoever asks compares the whole capture with what is
found. All shifts that are near are tried by some records of each frame, those that fit these best by all of them. Of shifts
that fit equally well the smallest is taken. A shift is no better than none unless it makes something right that lies in the
picture either way, and leaves enough to compare.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..records.index import Index
from ..records.parsing import Columns
from .grid import codes, compared
from .shift import NONE, OFFSET, Shift, period, step_of

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int32]

NEAR = 64, 8
"""How many dots or slots, and how many lines, a shift has at most, unless the blanking is longer: then as many as that."""

PROBES = 512
"""By how many records of a frame all shifts are tried."""

FEW = 32
"""How many shifts are tried by all records."""

PROOF = 4
"""How many different numbers must be off by one constant for it to be one."""

BETTER = 0.5
"""A shift leaves at most this part of what is unlike without one."""

ENOUGH = 0.5
"""It leaves at least this part of the records to compare: one that moves nearly all out of the picture excuses anything."""

_OUT, _OTHER = 0, 1
"""What stands in the blanking, where all may come, and where nothing is expected, or nothing that came; what came counts on."""

_SUMMED = 255
"""So many probes are counted in a byte."""


class Sample(NamedTuple):
    """A frame's records of a kind, expected and come; ``size``: the lines and dots of its picture."""

    expected: Columns
    came: Columns
    size: tuple[int, int]


class _Known(NamedTuple):
    """Of a sample what no shift changes.

    ``rows``: at each time of a frame the row expected, -1: none, -2: outside. Of each record that came: its ``time``, the row
    expected ``before`` any shift, whether it ``was`` unlike by that, and its number ``came``, to be held against ``wanted``.
    """

    sample: Sample
    rows: Ints
    time: Ints
    before: Ints
    was: Bools
    wanted: Ints
    came: Ints


class Fit(NamedTuple):
    """A shift, how many records of the sample it leaves unlike, of how many, how many it mends, and which others fit as well."""

    unlike: int
    compared: int
    shift: Shift
    mended: int
    others: tuple[Shift, ...] = ()

    @property
    def part(self) -> float:
        """The part of the records that is unlike: a shift that leaves fewer to compare is not the better for it."""
        return self.unlike / max(self.compared, 1)


def best_fit(index: Index, kind: str, samples: Sequence[Sample], least: float = 1) -> Fit:
    """The smallest of the shifts that leave fewest records of ``samples`` unlike.

    Where ``least`` is less, no shift need be found that leaves a larger part than that unlike.
    """
    most_unlike = int(least * sum(len(one.came["line"]) for one in samples))
    every = Laid(index, kind, samples, next(compared(kind, samples[0].came)))
    fits = [every.exact(NONE)]
    if off := every.offset(NONE):
        fits.append(every.exact(NONE._replace(offset=off)))
    for names in compared(kind, samples[0].came):
        laid = every if names == every.names else Laid(index, kind, samples, names)
        for shift in laid.likely(min(most_unlike, *(fit.unlike for fit in fits))):
            fits.append(every.exact(shift))
            if names != every.names and (off := every.offset(shift)):
                fits.append(every.exact(shift._replace(offset=off)))
        if any(fit.unlike == 0 for fit in fits):
            break
    most = fits[0].part * BETTER
    useful = [fits[0], *(fit for fit in fits[1:] if fit.mended > 0 and fit.part <= most)]
    best = min(useful, key=lambda fit: (fit.part, fit.shift.size))
    others = {fit.shift for fit in useful if fit.part == best.part} - {best.shift}
    return best._replace(others=tuple(sorted(others, key=lambda shift: shift.size)))


class Laid:
    """Samples laid out over the time of a frame, so that a shift is a distance."""

    def __init__(self, index: Index, kind: str, samples: Sequence[Sample], names: tuple[str, ...]) -> None:
        self.kind, self.names, self.samples = kind, names, samples
        self.wide, self.step = period(index, kind), step_of(kind) or "dot"
        dots = kind == "dot"
        self.width, self.height = (index.width, index.height) if dots else (self.wide, index.lines_per_frame)
        self.long = index.lines_per_frame * self.wide
        self.most = max(NEAR[0], self.wide - self.width), max(NEAR[1], index.lines_per_frame - self.height)
        self.known = [self._known(sample) for sample in samples]

    def _size(self, sample: Sample) -> tuple[int, int]:
        """The lines and steps of which something may be expected."""
        return sample.size if self.kind == "dot" else (self.height, self.width)

    def _time(self, columns: Columns) -> Ints:
        return np.clip(columns["line"], -1, 1 << 14) * self.wide + np.clip(columns[self.step], -1, 1 << 21)

    def likely(self, most: int) -> list[Shift]:
        """The shifts that fit the probes best, the smallest of equals first, but none that leaves more than ``most`` unlike.

        Nor one that leaves too few records to compare: it hardly ever misses one, and would stand before all that miss some.
        """
        steps, lines = self.most
        left = np.sum([self.left(known) for known in self.known], axis=0)
        missed = np.where(left >= ENOUGH * left[lines, steps], 0, most + 1)
        reach = lines * self.wide + steps
        for known in self.known:
            values, came = np.unique(known.came, return_inverse=True)
            numbers = came + _OTHER + 1
            place = np.searchsorted(values, known.wanted)
            like = np.append(values, 0)[place] == known.wanted
            expected = np.append(np.where(like & (place < len(values)), place + _OTHER + 1, _OTHER), (_OUT, _OTHER))
            wanted = np.full(self.long + 2 * reach, _OUT, np.int32)
            wanted[reach : reach + self.long] = expected[known.rows]  # the last two are of rows -2 and -1
            wanted = wanted[::-1].copy()  # the shifts of a probe lie one after the other
            probes = _probes(known.came, (known.time >= 0) & (known.time < self.long))
            for some in np.split(probes, range(_SUMMED, len(probes), _SUMMED)):
                inside, alike = np.zeros((2, *missed.shape), np.uint8)
                for time, number in zip(known.time[some].tolist(), numbers[some].tolist(), strict=True):
                    window = _window(wanted, self.long + reach - 1 - time, self.most, self.wide)
                    inside += (window != _OUT).view(np.uint8)
                    alike += (window == number).view(np.uint8)
                missed += inside
                missed -= alike
                if missed.min() > most:
                    return []
        few = np.sort(missed, axis=None)[FEW]
        fitting = np.argwhere(missed <= min(int(few), most)).tolist()
        found = [(int(missed[at, to]), Shift(at - lines, to - steps)) for at, to in fitting]
        return [shift for _, shift in sorted(found, key=lambda each: (each[0], each[1].size))[:FEW] if shift != NONE]

    def left(self, known: _Known) -> Ints:
        """How many records each shift leaves to compare, (shifts in lines, shifts in steps)."""
        steps, lines = self.most
        high, across = self._size(known.sample)
        reach = lines * self.wide + steps
        time = known.time[(known.time >= -reach) & (known.time < self.long + reach)] + reach
        before = np.cumsum([0, *np.bincount(time, minlength=self.long + 2 * reach)])
        first = reach + np.arange(-lines, high + lines)[:, None] * self.wide + np.arange(-steps, steps + 1)
        above = np.cumsum([0 * first[0], *(before[first + across] - before[first])], axis=0)
        left: Ints = above[high:] - above[:-high]
        return left

    def _known(self, sample: Sample) -> _Known:
        """What is worked out once for all shifts."""
        rows = np.full(self.long, -2, np.int64)
        picture = rows.reshape(-1, self.wide)
        high, wide = self._size(sample)
        picture[:high, :wide] = -1
        rows[self._time(sample.expected)] = np.arange(len(sample.expected["line"]))
        names = tuple(name for name in self.names if name in sample.came)
        wanted, came = (codes(self.kind, each, names) for each in (sample.expected, sample.came))
        time = self._time(sample.came)
        before = self._at(rows, time)
        return _Known(sample, rows, time, before, _unlike(before, wanted, came), wanted, came)

    def _at(self, rows: Ints, time: Ints) -> Ints:
        """What stands in ``rows`` at each ``time``: outside before and after the frame."""
        return np.where((time >= 0) & (time < self.long), rows[time % self.long], -2)

    def _moved(self, known: _Known, shift: Shift) -> Ints:
        """For each record that came the row expected by ``shift``."""
        return self._at(known.rows, known.time - shift.lines * self.wide - shift.steps)

    def exact(self, shift: Shift) -> Fit:
        """How many records are unlike by ``shift``, and how many that are unlike without one it mends."""
        unlike = mended = compared = 0
        for known in self.known:
            here, came = self._moved(known, shift), known.came
            if shift.offset:
                name = OFFSET[self.kind]
                less = {**known.sample.came, name: known.sample.came[name] - shift.offset}
                came = codes(self.kind, less, tuple(each for each in self.names if each in less))
            wrong = _unlike(here, known.wanted, came)
            unlike += int(wrong.sum())
            compared += int((here > -2).sum())
            mended += int((known.was & (here >= 0) & (known.before > -2) & ~wrong).sum())
        return Fit(unlike, compared, shift, mended)

    def offset(self, shift: Shift) -> int:
        """By which constant most numbers of the column that may be off are, 0 where that proves nothing."""
        name = OFFSET[self.kind]
        apart, wanted = [], []
        for known in self.known:
            sample, rows = known.sample, self._moved(known, shift)
            if name in sample.came and len(sample.expected["line"]):
                there = rows >= 0
                wanted.append(sample.expected[name][rows[there]])
                apart.append(sample.came[name][there] - wanted[-1])
        if not apart or not sum(map(len, apart)):
            return 0
        values, count = np.unique(np.concatenate(apart), return_counts=True)
        common = int(values[count.argmax()])
        proof = np.unique(np.concatenate(wanted)[np.concatenate(apart) == common])
        return common if len(proof) >= PROOF and 2 * count.max() > count.sum() else 0


def _unlike(rows: Ints, wanted: Ints, came: Ints) -> Bools:
    """Which records that came are not what is expected of them in their ``rows``."""
    if not len(wanted):
        return np.asarray(rows == -1)
    unlike: Bools = (rows == -1) | (rows >= 0) & (wanted[np.maximum(rows, 0)] != came)
    return unlike


def _probes(came: Ints, inside: Bools) -> Ints:
    """Some records to try shifts by: half of them where something else comes than before, where a shift shows."""
    places = np.flatnonzero(inside)
    edges = places[1:][came[places[1:]] != came[places[:-1]]]
    every = [each[:: max(1, 2 * len(each) // PROBES)] for each in (edges, places)]
    return np.unique(np.concatenate(every))


def _window(wanted: Numbers, first: int, most: tuple[int, int], wide: int) -> Numbers:
    """What every shift expects of one record, (shifts in lines, shifts in steps).

    It lies in ``wanted``, which runs back in time, around ``first``, where it is without a shift.
    """
    steps, lines = most
    size = wanted.itemsize
    at = (first - lines * wide - steps) * size
    return np.ndarray((2 * lines + 1, 2 * steps + 1), wanted.dtype, wanted, at, (wide * size, size))
