"""The chart of a day's tide at the reserve's hides.

Law: the same dots each time; a picture's indices are the values, or the entries, that its scene takes from it, and every
colour lies on a grid of four bits a channel. Knows no chip.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from vdpsim.scene.contents.patterns import glyphs

from .canvas import Plane, box, line, some

WIDE, HIGH = 288, 216
Point = tuple[float, float]
Dots = npt.NDArray[np.bool_]


def _listed(text: str) -> tuple[str, ...]:
    return tuple(text.split())


PAPER, GRID, AXIS, FLOOD, FLOOD_DEEP, CURVE, LABEL, NIGHT, NOTE, FLOOD_MID = range(10)
CHART_COLOURS = _listed("""
    #fed #dcb #345 #9cd #59b #036 #456 #dcd #a42 #7bc #000 #000 #000 #000 #000 #000
""")
LEFT, RIGHT, TOP, BOTTOM = 26, 280, 18, 112


def tide(hour: float) -> float:
    """Metres above the gauge's zero at ``hour`` of the day: two unequal tides in 24 h 50 min."""
    return 3.2 + 2.1 * math.cos(math.tau * (hour - 5.2) / 12.42) + 0.3 * math.cos(math.tau * (hour - 3.0) / 24.84)


def _write(plane: Plane, x: int, y: int, text: str, entry: int) -> None:
    """A row of glyphs, six dots each."""
    drawn = glyphs(6, 8)
    for place, character in enumerate(text):
        rows, columns = np.nonzero(drawn[ord(character) - 32])
        plane[y + rows, x + 6 * place + columns] = entry


def chart() -> Plane:
    """The tide of one day: hours across, metres up, the water below the curve shaded by its depth."""
    plane = np.full((128, WIDE), PAPER, np.uint8)

    def across(hour: float) -> int:
        return round(LEFT + (RIGHT - LEFT) * hour / 24)

    def up(metres: float) -> int:
        return round(BOTTOM - (BOTTOM - TOP) * metres / 6)

    plane[TOP:BOTTOM, LEFT : across(5.4)] = NIGHT
    plane[TOP:BOTTOM, across(20.9) : RIGHT] = NIGHT
    for metres in range(1, 7):
        plane[up(metres), LEFT:RIGHT:2] = GRID
    for hour in range(3, 25, 3):
        plane[TOP:BOTTOM:2, across(hour)] = GRID
    level = [up(tide((x - LEFT) * 24 / (RIGHT - LEFT))) for x in range(LEFT, RIGHT + 1)]
    y, x = np.mgrid[:128, :WIDE]
    depth = np.zeros(plane.shape)
    for place, top in enumerate(level):
        depth[top:BOTTOM, LEFT + place] = (np.arange(top, BOTTOM) - top + 1) / (BOTTOM - TOP)
    water = depth > 0
    plane[water] = FLOOD
    plane[water & some(depth * 2.4)] = FLOOD_MID
    plane[water & some(depth * 2.2 - 0.9)] = FLOOD_DEEP
    grid = water & (((x - LEFT) % 2 == 0) & np.isin(y, [up(metres) for metres in range(1, 6)]))
    plane[grid] = FLOOD
    for place, (one, two) in enumerate(pairwise(level)):
        line(plane, (LEFT + place, one), (LEFT + place + 1, two), CURVE)
        line(plane, (LEFT + place, one + 1), (LEFT + place + 1, two + 1), CURVE)
    box(plane, LEFT - 1, TOP - 4, 1, BOTTOM - TOP + 5, AXIS)
    box(plane, LEFT - 1, BOTTOM, RIGHT - LEFT + 4, 1, AXIS)
    for metres in range(7):
        box(plane, LEFT - 4, up(metres), 3, 1, AXIS)
        _write(plane, LEFT - 11, up(metres) - 3, str(metres), LABEL)
    for hour in range(25):
        box(plane, across(hour), BOTTOM, 1, 4 if hour % 3 == 0 else 2, AXIS)
        if hour % 3 == 0 and hour < 24:
            _write(plane, across(hour) - 5, BOTTOM + 6, f"{hour:02}", LABEL)
    _write(plane, RIGHT - 7, BOTTOM + 6, "h", LABEL)
    _write(plane, LEFT - 22, TOP - 3, "m", LABEL)
    _write(plane, LEFT + 3, 3, "Tides at the hides, Friday 6 June", AXIS)
    for peak, text in ((5.13, "05:08  5.6 m"), (17.7, "17:42  5.0 m")):
        _write(plane, across(peak) - 36, up(tide(peak)) - 11, text, NOTE)
        box(plane, across(peak) - 1, up(tide(peak)) - 1, 4, 4, NOTE)
    return plane
