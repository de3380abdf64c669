"""Flashes of an animation, by the definition of WCAG 2.2, success criterion 2.3.1.

Law: what is counted is what the definition says, dot by dot (``flashing/``). Nothing here says that a picture is safe; it says
what the definition's numbers find. Knows arrays of colours and nothing of chips.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt

from ..door.given import flag, real_number, several
from ..door.shown import value as shown
from .flashing.changes import LuminanceChanges, RedChanges, linear
from .flashing.counting import ALLOWED, PERIOD, FlashCount

KINDS = {"general": LuminanceChanges, "red": RedChanges}
"""The kinds of flashes, and what a change is of each."""

MOST_AGAIN = 500
"""Frames of an animation's return that are looked at: two seconds of 249 a second. No display for people shows more of them,
and a chip file can name a rate at which a second would take minutes to look at."""

FASTEST = 1_000_000
"""The most frames a second that are looked at."""


MOST_RUNS = 12
"""Frames, or runs of them, that are named in words."""


@dataclass(frozen=True)
class Flashes:
    """What was found in an animation.

    ``frames`` that were looked at; ``too_many``: for each kind the frames, counted from 0, on which a fourth flash within a
    second ends, with those of its return numbered on; ``where``: left, top, width and height in dots of the field where that is
    first so; ``unseen``: how many frames of what comes when the animation begins again were too many to be looked at;
    ``numbers``: what each frame is called where it comes from, none where that was not said.
    """

    frames: int
    too_many: dict[str, tuple[int, ...]]
    where: dict[str, tuple[int, int, int, int]]
    unseen: int = 0
    numbers: tuple[int, ...] = ()

    @property
    def passes(self) -> bool:
        """Whether all was looked at, and neither kind of flash comes too often by the definition's numbers."""
        return not self.unseen and not any(self.too_many.values())

    def told(self) -> str:
        """What was found, in words. Each frame that is named is one of the ``frames``, as the animation counts them, from 0."""
        parts = []
        for kind in KINDS:
            if self.too_many[kind]:
                left, top, across, down = self.where[kind]
                parts.append(
                    f"more than {ALLOWED} {kind} flashes within a second {self._named(self.too_many[kind])}; "
                    f"first at dots {left} to {left + across - 1} of lines {top} to {top + down - 1}"
                )
        if self.unseen:
            parts.append(f"{self.unseen} frames within two seconds that were not looked at: not checked to the end")
        return "; ".join(parts) or f"no more than {ALLOWED} flashes within a second by the numbers of WCAG 2.3.1"

    def _named(self, too_many: Sequence[int]) -> str:
        """The frames, and of those of the return the ones that are new."""
        once = [number for number in too_many if number < self.frames]
        again = sorted({number % self.frames for number in too_many} - set(once))
        counted = f" of the {self.frames}, counted from 0"
        parts = [f"on frames {_runs(once)}{counted}{self._called(once)}"] if once else []
        if again:
            more = " too" if once else counted
            parts.append(f"when it begins again on frames {_runs(again)}{more}{self._called(again)}")
        return ", ".join(parts)

    def _called(self, at: Sequence[int]) -> str:
        """What those frames are called where they come from, if that is something else."""
        if not self.numbers or self.numbers == tuple(range(self.frames)):
            return ""
        return f" (the scene's {_runs(sorted({self.numbers[one] for one in at}))})"


def _runs(numbers: Sequence[int]) -> str:
    """``4, 7 to 9``; beyond ``MOST_RUNS`` of them how many frames are left."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    told = [str(a) if a == b else f"{a} to {b}" for a, b in runs[:MOST_RUNS]]
    more = sum(b - a + 1 for a, b in runs[MOST_RUNS:])
    return ", ".join(told) + (f" and {more} more" if more else "")


class Watcher:
    """Looks for flashes in pictures that come one after the other, ``rate`` a second; ``found`` says what there was.

    ``again``: they are shown over and over, so that what the end and the beginning do together is looked at too; frames are then
    numbered on. Raises ValueError for a rate that is not above 0.
    """

    def __init__(self, rate: Fraction | float, *, again: bool = False) -> None:
        told = real_number("rate", rate, 0, FASTEST)
        self.rate = rate if isinstance(rate, Fraction) else Fraction(told)
        if self.rate <= 0:
            raise ValueError(f"rate must be above 0, got {rate}")
        self.count = 0
        self._numbers: list[int] = []
        self._counted: list[FlashCount] = []
        self._last: npt.NDArray[np.uint8] | None = None
        whole = int(2 * self.rate * PERIOD) + 2 if again else 0
        self._loop = min(whole, MOST_AGAIN)
        self._unseen = whole - self._loop
        self._first: list[npt.NDArray[np.uint8]] = []

    def look(self, picture: npt.NDArray[Any], number: int | None = None) -> None:
        """Take in the next picture, uint8 (lines, dots, 3) of sRGB, which is called ``number`` where it comes from.

        Raises ValueError where it has another size.
        """
        if not isinstance(picture, np.ndarray):
            raise TypeError(f"a picture must be an array, uint8 (lines, dots, 3), got {shown(picture)}")
        if picture.dtype != np.uint8 or picture.ndim != 3 or picture.shape[2] != 3 or not picture.size:
            raise ValueError(f"a picture must be uint8 (lines, dots, 3), got {picture.dtype} {picture.shape}")
        now: npt.NDArray[np.uint8] = picture.copy()
        if self._last is not None and now.shape != self._last.shape:
            (down, across), (high, wide) = self._last.shape[:2], now.shape[:2]
            raise ValueError(f"pictures must have one size, got {across}x{down} and {wide}x{high}")
        self._take(self.count, now)
        self.count += 1
        self._numbers += [] if number is None else [number]
        if len(self._first) < self._loop:
            self._first.append(now)

    def _take(self, number: int, now: npt.NDArray[np.uint8]) -> None:
        flat = now.reshape(-1, 3)
        if self._last is None:
            light, shape = linear(flat), (now.shape[0], now.shape[1])
            self._counted = [FlashCount(kind, changes(light), shape) for kind, changes in KINDS.items()]
        else:
            other = flat != self._last.reshape(-1, 3)
            at = np.flatnonzero(other[:, 0] | other[:, 1] | other[:, 2])
            light = linear(flat[at])
            for each in self._counted:
                each.look(number, float(number / self.rate), at, light)
        self._last = now

    def found(self) -> Flashes:
        """What was found, once all pictures were looked at. Raises ValueError where there was none."""
        if not self.count:
            raise ValueError("an animation needs a picture at least, got none")
        for number in range(self._loop if self.count > 1 else 0):  # one picture over and over never changes
            self._take(self.count + number, self._first[number % len(self._first)])
        self._loop = 0
        return Flashes(
            self.count,
            {each.kind: tuple(each.too_many) for each in self._counted},
            {each.kind: each.where for each in self._counted},
            self._unseen if self.count > 1 else 0,
            tuple(self._numbers) if len(self._numbers) == self.count else (),
        )


def flashes(pictures: Iterable[npt.NDArray[Any]], rate: Fraction | float, *, again: bool = False) -> Flashes:
    """What a ``Watcher`` finds in ``pictures``, uint8 (lines, dots, 3) of sRGB each, all of one size.

    Raises TypeError for what is no picture, ValueError where there is none, for two sizes, or a rate that is not above 0.
    """
    watcher = Watcher(rate, again=flag("again", again))
    for picture in several("pictures", pictures, "arrays, uint8 (lines, dots, 3)"):
        watcher.look(picture)
    return watcher.found()
