"""What a change is, dot by dot: of luminance, and to or from a saturated red.

Law: the numbers are those of WCAG 2.2, success criterion 2.3.1. A *general* change is one of relative luminance of 10 % or more,
the darker state below 0.80; a *red* one is of more than 0.2 in the CIE 1976 u'v' diagram where one of the states is a saturated
red, R / (R + G + B) at least 0.8 on linear channels. A change counts where it goes against the last one. Knows arrays of colours
and nothing of time.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np
import numpy.typing as npt

from ...colour.space import XYZ
from ...colour.space import linear as light_of

LEAST_CHANGE = 0.1
"""Of relative luminance: a general flash's changes are at least this large ..."""

DARKER_BELOW = 0.8
"""... and the darker of the two states is below this."""

SATURATED = 0.8
"""A red is saturated where R / (R + G + B) is at least this."""

RED_CHANGE = 0.2
"""A red flash's changes are larger than this in the u'v' diagram."""

TINY = 1e-9
"""Of luminance: what rounding may take away."""

D65 = (0.1978398, 0.4683363)
"""u'v' of black, which has none of its own: that of the white point, u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z)."""

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_LINEAR = light_of(np.arange(256))


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
    total = light[..., 0] + light[..., 1] + light[..., 2]  # a sum over an axis of three takes several times as long
    found: Bools = (light[..., 0] >= SATURATED * total) & (total > 0)
    return found


class Changes(ABC):
    """The state of each dot: its extremes since its last change, and which way that went (1 up, -1 down, 0 none yet)."""

    def __init__(self, light: Floats) -> None:
        self.low = self.state(light)
        self.high = self.low.copy()
        self.way = np.zeros(len(light), np.int8)

    @staticmethod
    @abstractmethod
    def state(light: Floats) -> Floats:
        """What is compared, of light (dots, 3)."""

    @staticmethod
    @abstractmethod
    def height(state: Floats) -> Floats:
        """By what the extremes are told, of states."""

    @staticmethod
    @abstractmethod
    def changed(low: Floats, high: Floats) -> Bools:
        """Where a change from one of these states to the other is large enough."""

    def turned(self, at: Ints, light: Floats) -> Bools:
        """Which of the dots ``at`` changed by enough, against the way of their last change, now that they have ``light``."""
        now, low, high, way = self.state(light), self.low[at], self.high[at], self.way[at]
        up = (way <= 0) & self.changed(low, now)
        down = (way >= 0) & self.changed(now, high) & ~up
        turned: Bools = up | down
        for extreme, beyond in (
            (self.low, self.height(now) < self.height(low)),
            (self.high, self.height(now) > self.height(high)),
        ):
            new = np.flatnonzero(turned | beyond)
            extreme[at[new]] = now[new]
        self.way[at[up]] = 1
        self.way[at[down]] = -1
        return turned


class LuminanceChanges(Changes):
    """General changes: the state is the relative luminance (dots,)."""

    @staticmethod
    def state(light: Floats) -> Floats:
        """The relative luminance."""
        return luminance(light)

    @staticmethod
    def height(state: Floats) -> Floats:
        """The luminance itself."""
        return state

    @staticmethod
    def changed(low: Floats, high: Floats) -> Bools:
        """Where ``high`` is brighter by 10 %, and ``low`` dark enough."""
        changed: Bools = (high - low >= LEAST_CHANGE - TINY) & (low < DARKER_BELOW)
        return changed


class RedChanges(Changes):
    """Red changes: the state is u', v' and whether it is a saturated red, 0 or 1 (dots, 3)."""

    @staticmethod
    def state(light: Floats) -> Floats:
        """u', v', saturated or not."""
        return np.column_stack([chromaticity(light), saturated_red(light)])

    @staticmethod
    def height(state: Floats) -> Floats:
        """u', which grows towards red."""
        found: Floats = state[:, 0]
        return found

    @staticmethod
    def changed(low: Floats, high: Floats) -> Bools:
        """Where ``high`` has no less u', lies far enough away, and one of both is a saturated red."""
        far: Bools = (high[:, 0] - low[:, 0]) ** 2 + (high[:, 1] - low[:, 1]) ** 2 > RED_CHANGE**2
        return far & (high[:, 2] + low[:, 2] > 0) & (high[:, 0] >= low[:, 0])
