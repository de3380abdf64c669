"""Ink on paper: what the reserve's map is drawn on, and the colours that it has.

Law: a sheet has a kind of paper for each dot, and 0 or a kind of ink; both are entries of ``COLOURS``. Knows no map.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from ..canvas import Plane, put
from . import lettering

WIDE, HIGH = 320, 320
"""Dots of the map."""

BLOCK = (8, 5)
"""Dots of a block, across and down, which has one paper and one ink."""

Point = tuple[float, float]
Dots = npt.NDArray[np.bool_]

COLOURS = (
    "#f8ecc8", "#4a3020", "#9c2818", "#d8ecdc", "#20506c", "#b0d8dc", "#e0e8a8", "#3c6420",
    "#c4dc90", "#244818", "#f8dc98", "#905820", "#e0ccA8", "#fff8e0", "#6c4880", "#f0b870",
)  # fmt: skip
(CREAM, INK, RED, SHALLOW, BLUE, DEEP, MARSH, GREEN, WOOD, DARK, SAND, BROWN, MUD, CARD, HEATHER, ROOF) = range(16)
"""Papers and inks by what they are for; the papers are light, so that any ink goes with any of them."""


class Sheet:
    """A sheet that is drawn on: each dot has a paper, and 0 or an ink."""

    def __init__(self) -> None:
        self.paper: Plane = np.full((HIGH, WIDE), CREAM, np.uint8)
        self.ink: Plane = np.zeros((HIGH, WIDE), np.uint8)

    def draw(self, shape: Plane | Dots, x: int, y: int, ink: int) -> None:
        """Lay the dots of ``shape`` that are set, its upper left dot at ``x``, ``y``."""
        for v, u in np.argwhere(shape).tolist():
            put(self.ink, x + u, y + v, ink)

    def clear(self, x: int, y: int, wide: int, high: int) -> None:
        """No ink there, for what is to be written over it."""
        self.ink[max(y, 0) : y + high, max(x, 0) : x + wide] = 0

    def write(self, text: str, x: int, y: int, ink: int, gap: int = 1, *, slanted: bool = False) -> None:
        """Small capitals around the middle ``x``, on cleared ground."""
        plane = lettering.small(text, gap, slanted=slanted)
        left = x - plane.shape[1] // 2
        self.clear(left - 1, y - 1, plane.shape[1] + 2, 7)
        self.draw(plane, left, y, ink)

    def way(self, points: Sequence[Point], ink: int, dash: tuple[int, int] = (1, 0)) -> None:
        """A line through the points, of dashes of so many dots and gaps of so many."""
        walked = 0
        for (x0, y0), (x1, y1) in pairwise(points):
            steps = max(1, round(max(abs(x1 - x0), abs(y1 - y0))))
            for step in range(steps):
                if walked % sum(dash) < dash[0]:
                    put(self.ink, round(x0 + (x1 - x0) * step / steps), round(y0 + (y1 - y0) * step / steps), ink)
                walked += 1


def curve(corners: Sequence[Point], steps: int = 10) -> list[Point]:
    """A smooth way through all corners (Catmull-Rom)."""
    ends = [corners[0], *corners, corners[-1]]
    found: list[Point] = []
    for a, b, c, d in zip(ends, ends[1:], ends[2:], ends[3:], strict=False):
        for step in range(steps):
            t = step / steps
            x, y = (
                0.5 * (2 * q + (r - p) * t + (2 * p - 5 * q + 4 * r - s) * t * t + (3 * q - p - 3 * r + s) * t**3)
                for p, q, r, s in zip(a, b, c, d, strict=True)
            )
            found.append((x, y))
    return [*found, corners[-1]]
