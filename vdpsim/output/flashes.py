"""Flashes of an animation, by the definition of WCAG 2.2, success criterion 2.3.1.

Law: what is counted is what the definition says, dot by dot; where it leaves room the stricter reading is taken. A *change* is
one of relative luminance of 10 % or more, the darker state below 0.80, or one of more than 0.2 in the CIE 1976 u'v' diagram
where one of the states is a saturated red, R / (R + G + B) at least 0.8 on linear channels. Two opposing changes are a
*flash*. More than three within one second, over more than a quarter of a visual field of ten degrees, are too many. The field is
the definition's estimate, 341 x 256 of 1024 x 768 dots: a third of the picture each way, as though it filled the display. Nothing
here says that a picture is safe; it says what the definition's numbers find. Knows arrays of colours and nothing of chips.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt

from ..colour.space import XYZ
from ..colour.space import linear as light_of
from ..door.given import flag, real_number, several
from ..door.shown import value as shown

LEAST_CHANGE = 0.1
"""Of relative luminance: a general flash's changes are at least this large ..."""

DARKER_BELOW = 0.8
"""... and the darker of the two states is below this."""

SATURATED = 0.8
"""A red is saturated where R / (R + G + B) is at least this."""

RED_CHANGE = 0.2
"""A red flash's changes are larger than this in the u'v' diagram."""

ALLOWED = 3
"""Flashes within one second that are not too many."""

SHARE = Fraction(1, 4)
"""Of a field of ten degrees: flashes over no more than this do not count."""

PERIOD = Fraction(1)
"""Seconds."""

MOST_AGAIN = 500
"""Frames of an animation's return that are looked at: two seconds of 249 a second. No display for people shows more of them,
and a chip file can name a rate at which a second would take minutes to look at."""

TINY = 1e-9
"""Of a second and of luminance: what rounding may take away."""

D65 = (0.1978398, 0.4683363)
"""u'v' of black, which has none of its own: that of the white point, u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z)."""

KINDS = ("general", "red")

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Flashes:
    """What was found in an animation.

    ``frames`` that were looked at; ``too_many``: for each kind the frames, counted from 0, on which a fourth flash within a
    second ends; ``where``: left, top, width and height in dots of the field where that is first so; ``unseen``: how many frames
    of what comes when the animation begins again were too many to be looked at.
    """

    frames: int
    too_many: dict[str, tuple[int, ...]]
    where: dict[str, tuple[int, int, int, int]]
    unseen: int = 0

    @property
    def passes(self) -> bool:
        """Whether all was looked at, and neither kind of flash comes too often by the definition's numbers."""
        return not self.unseen and not any(self.too_many.values())

    def told(self) -> str:
        """What was found, in words."""
        parts = []
        for kind in KINDS:
            if self.too_many[kind]:
                left, top, across, down = self.where[kind]
                parts.append(
                    f"more than {ALLOWED} {kind} flashes within a second on frames {_runs(self.too_many[kind])} "
                    f"(first at dots {left} to {left + across - 1} of lines {top} to {top + down - 1})"
                )
        if self.unseen:
            parts.append(f"{self.unseen} frames within two seconds that were not looked at: not checked to the end")
        return "; ".join(parts) or f"no more than {ALLOWED} flashes within a second by the numbers of WCAG 2.3.1"


def _runs(numbers: tuple[int, ...]) -> str:
    """``4, 7 to 9``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in runs)


def linear(rgb: npt.NDArray[np.uint8]) -> Floats:
    """Linear light of 8-bit sRGB, float64 of the same shape, 0 to 1 (IEC 61966-2-1, as WCAG gives it)."""
    found: Floats = _LINEAR[rgb]
    return found


def luminance(light: Floats) -> Floats:
    """WCAG's relative luminance of linear light (..., 3): float64 (...), 0 to 1."""
    found: Floats = light @ np.array([0.2126, 0.7152, 0.0722])
    return found


def chromaticity(light: Floats) -> Floats:
    """CIE 1976 u'v' of linear sRGB light (..., 3): float64 (..., 2); of black that of the white point."""
    xyz = light @ XYZ.T
    scale = xyz @ np.array([1.0, 15.0, 3.0])
    dark = scale <= 0
    scale = np.where(dark, 1, scale)
    found: Floats = np.stack([4 * xyz[..., 0] / scale, 9 * xyz[..., 1] / scale], axis=-1)
    found[dark] = D65
    return found


def saturated_red(light: Floats) -> Bools:
    """Where R / (R + G + B) of linear light (..., 3) is at least 0.8; black is not."""
    total = light.sum(axis=-1)
    found: Bools = (light[..., 0] >= SATURATED * total) & (total > 0)
    return found


_LINEAR = light_of(np.arange(256))


class _General:
    """Each dot's relative luminance: the least and the most since its last change, and which way that went."""

    def __init__(self, light: Floats) -> None:
        self.low = luminance(light)
        self.high = self.low.copy()
        self.way = np.zeros(len(light), np.int8)

    def turned(self, at: Ints, light: Floats) -> Bools:
        """Which of the dots ``at`` changed by enough, against the way of their last change, now that they have ``light``."""
        now, low, high, way = luminance(light), self.low[at], self.high[at], self.way[at]
        up = (way <= 0) & (now - low >= LEAST_CHANGE - TINY) & (low < DARKER_BELOW)
        down = (way >= 0) & (high - now >= LEAST_CHANGE - TINY) & (now < DARKER_BELOW)
        turned: Bools = up | down
        self.low[at] = np.where(turned, now, np.minimum(low, now))
        self.high[at] = np.where(turned, now, np.maximum(high, now))
        self.way[at] = np.where(up, 1, np.where(down, -1, way))
        return turned


class _Red:
    """Each dot's u'v' and whether it is a saturated red: the states with least and most u' since its last change."""

    def __init__(self, light: Floats) -> None:
        self.low = _red_state(light)
        self.high = self.low.copy()
        self.way = np.zeros(len(light), np.int8)

    def turned(self, at: Ints, light: Floats) -> Bools:
        """Which of the dots ``at`` turned to red or away from it, against the way of their last change."""
        now, low, high, way = _red_state(light), self.low[at], self.high[at], self.way[at]
        up = (way <= 0) & _far(now, low) & (now[:, 0] >= low[:, 0])
        down = (way >= 0) & _far(now, high) & (now[:, 0] <= high[:, 0]) & ~up
        turned: Bools = up | down
        self.low[at] = np.where((turned | (now[:, 0] < low[:, 0]))[:, None], now, low)
        self.high[at] = np.where((turned | (now[:, 0] > high[:, 0]))[:, None], now, high)
        self.way[at] = np.where(up, 1, np.where(down, -1, way))
        return turned


def _red_state(light: Floats) -> Floats:
    """u', v' and whether it is a saturated red (0 or 1) of light (dots, 3): float64 (dots, 3)."""
    return np.column_stack([chromaticity(light), saturated_red(light)])


def _far(one: Floats, other: Floats) -> Bools:
    """Where two states are a red flash's change apart."""
    far: Bools = ((one - other)[:, :2] ** 2).sum(axis=1) > RED_CHANGE**2
    return far & ((one[:, 2] + other[:, 2]) > 0)


class _Counted:
    """Flashes of one kind, dot by dot, and as events: flashes that end on one frame over more than a quarter of some field."""

    def __init__(self, kind: str, changes: _General | _Red, shape: tuple[int, int]) -> None:
        self.kind, self.changes, self.shape = kind, changes, shape
        self.field = (max(1, shape[0] // 3), max(1, shape[1] // 3))
        dots = shape[0] * shape[1]
        self.open = np.full(dots, np.nan)
        """When the change that waits for its opposite was made, seconds; nan where none waits."""
        self.starts = np.full((ALLOWED + 1, dots), -np.inf)
        """When the last flashes of each dot began, the latest last."""
        self.events: deque[float] = deque()
        """When the flashes of the last events began, of each the latest."""
        self.too_many: list[int] = []
        self.where = (0, 0, self.field[1], self.field[0])

    def look(self, number: int, time: float, at: Ints, light: Floats) -> None:
        """Take in the dots ``at`` that are others in frame ``number``, which shows from ``time`` on."""
        turned = at[self.changes.turned(at, light)]
        opens = np.isnan(self.open[turned])
        done = turned[~opens]
        begun = self.open[done]
        self.open[turned[opens]] = time
        self.open[done] = np.nan
        if not len(done):
            return
        self.starts[:-1, done] = self.starts[1:, done]
        self.starts[-1, done] = begun
        since = time - float(PERIOD) - TINY
        area, place = self._fullest(done)
        too_many = False
        if area > SHARE * self.field[0] * self.field[1]:
            self.events.append(float(begun.max()))
            while self.events and self.events[0] < since:
                self.events.popleft()
            too_many = len(self.events) > ALLOWED
        often = done[self.starts[0, done] >= since]
        most, other = self._fullest(often)
        if most > SHARE * self.field[0] * self.field[1]:
            too_many, place = True, other
        if too_many:
            if not self.too_many:
                self.where = (place[1], place[0], self.field[1], self.field[0])
            self.too_many.append(number)

    def _fullest(self, dots: Ints) -> tuple[int, tuple[int, int]]:
        """The most of ``dots`` in any field, and the upper left dot (line, dot) of the first such field."""
        if not len(dots):
            return 0, (0, 0)
        marks = np.zeros(self.shape[0] * self.shape[1], np.int64)
        marks[dots] = 1
        total = np.zeros((self.shape[0] + 1, self.shape[1] + 1), np.int64)
        total[1:, 1:] = marks.reshape(self.shape).cumsum(axis=0).cumsum(axis=1)
        down, across = self.field
        inside = total[down:, across:] - total[:-down, across:] - total[down:, :-across] + total[:-down, :-across]
        at = int(inside.argmax())
        line, dot = divmod(at, inside.shape[1])
        return int(inside.reshape(-1)[at]), (line, dot)


FASTEST = 1_000_000
"""The most frames a second that are looked at."""


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
        self._counted: list[_Counted] = []
        self._last: npt.NDArray[np.uint8] | None = None
        whole = int(2 * self.rate * PERIOD) + 2 if again else 0
        self._loop = min(whole, MOST_AGAIN)
        self._unseen = whole - self._loop
        self._first: list[npt.NDArray[np.uint8]] = []

    def look(self, picture: npt.NDArray[Any]) -> None:
        """Take in the next picture, uint8 (lines, dots, 3) of sRGB. Raises ValueError where it has another size."""
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
        if len(self._first) < self._loop:
            self._first.append(now)

    def _take(self, number: int, now: npt.NDArray[np.uint8]) -> None:
        flat = now.reshape(-1, 3)
        if self._last is None:
            light, shape = linear(flat), (now.shape[0], now.shape[1])
            self._counted = [_Counted("general", _General(light), shape), _Counted("red", _Red(light), shape)]
        else:
            at = np.flatnonzero((flat != self._last.reshape(-1, 3)).any(axis=1))
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
        )


def flashes(pictures: Iterable[npt.NDArray[Any]], rate: Fraction | float, *, again: bool = False) -> Flashes:
    """What a ``Watcher`` finds in ``pictures``, uint8 (lines, dots, 3) of sRGB each, all of one size.

    Raises TypeError for what is no picture, ValueError where there is none, for two sizes, or a rate that is not above 0.
    """
    watcher = Watcher(rate, again=flag("again", again))
    for picture in several("pictures", pictures, "arrays, uint8 (lines, dots, 3)"):
        watcher.look(picture)
    return watcher.found()
