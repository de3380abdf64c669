"""The tide table's graph: a day's tide as a filled curve, with night and day, a grid and a mark for now.

Law: ``chart`` is a plane of 288 x 128 dots with entries 0 to 15 of ``COLOURS``. The tide is invented: 2.6 m + 1.7 m x
cos(2 pi (t - 8.3 h) / 12.42 h), a little more by day than by night.
"""

from __future__ import annotations

import math

import numpy as np

from .canvas import Field, Plane, box, dithered, put, run

WIDE, HIGH = 288, 128
LEFT, RIGHT, TOP, BOTTOM = 30, 279, 18, 113
"""The graph's frame: 24 hours across from dot 30, 5 metres up from line 113."""

COLOURS = (
    "#012", "#123", "#134", "#245", "#467", "#146", "#168", "#29a",
    "#5cc", "#bee", "#fed", "#fb4", "#fe9", "#e63", "#89a", "#fff",
)  # fmt: skip
"""Background, night, day, grid, frame; the water from deep to surface; crest, text, sun, moon, now, axis, white."""


def tide(hours: float) -> float:
    """Metres above the lowest water at ``hours``."""
    return 2.6 + 1.7 * math.cos(2 * math.pi * (hours - 8.3) / 12.42) + 0.15 * math.cos(math.pi * (hours - 8.3) / 12.42)


def column(hours: float) -> int:
    """The dot of an hour."""
    return LEFT + round(hours * (RIGHT - LEFT) / 24)


def row(metres: float) -> int:
    """The line of a height."""
    return BOTTOM - round(metres * (BOTTOM - TOP) / 5)


def chart() -> Plane:
    """The whole graph without its lettering, which is text."""
    plane = np.zeros((HIGH, WIDE), np.uint8)
    _day_and_night(plane)
    for hour in range(0, 25, 3):
        for y in range(TOP, BOTTOM, 2):
            put(plane, column(hour), y, 3)
    for metres in range(6):
        for x in range(LEFT, RIGHT, 2):
            put(plane, x, row(metres), 3)
    curve = [row(tide((x - LEFT) * 24 / (RIGHT - LEFT))) for x in range(LEFT, RIGHT + 1)]
    deep: Field = np.array([[(y - TOP) / (BOTTOM - TOP) for _ in range(WIDE)] for y in range(HIGH)])
    water = dithered(np.clip(2.7 - 3.1 * deep, 0, 2), (5, 6, 7), 0.9)
    for x, top in zip(range(LEFT, RIGHT + 1), curve, strict=True):
        plane[top:BOTTOM, x] = water[top:BOTTOM, x]
        if x % 24 < 9:
            put(plane, x, top + 5 + (x // 24 * 5) % 9, 8)
        put(plane, x, top + 1, 8)
        put(plane, x, top, 9)
        put(plane, x, top - 1, 9)
    for hours in (2.09, 8.3, 14.51, 20.72):
        x, y = column(hours), row(tide(hours))
        box(plane, x - 2, y - 2, 5, 5, 0)
        box(plane, x - 1, y - 1, 3, 3, 12)
    now = column(6.2)
    for y in range(TOP - 4, BOTTOM):
        if y % 4 < 3:
            put(plane, now, y, 13)
    for step in range(4):
        run(plane, now - 3 + step, TOP - 8 + step, 7 - 2 * step, 13)
    box(plane, now - 2, row(tide(6.2)) - 2, 5, 5, 15)
    box(plane, now - 1, row(tide(6.2)) - 1, 3, 3, 13)
    box(plane, LEFT - 1, TOP, 1, BOTTOM - TOP + 1, 4)
    run(plane, LEFT - 1, BOTTOM, RIGHT - LEFT + 2, 4)
    for hour in range(0, 25, 3):
        box(plane, column(hour), BOTTOM + 1, 1, 2, 4)
    for metres in range(6):
        run(plane, LEFT - 3, row(metres), 2, 4)
    return plane


def _day_and_night(plane: Plane) -> None:
    """The frame's ground: darker at night, with a sun and a moon above their halves."""
    rise, fall = column(6.0), column(20.4)
    for y in range(TOP, BOTTOM):
        for x in range(LEFT, RIGHT + 1):
            away = min(abs(x - rise), abs(x - fall)) + (x * 3 + y * 5) % 7 - 3
            day = rise < x < fall
            plane[y, x] = 2 if day or (away < 5 and (x + y) % 2) else 1
    for x, entry in ((column(13.2), 11), (column(2.4), 12), (column(22.9), 12)):
        for v in range(-3, 4):
            for u in range(-3, 4):
                if u * u + v * v <= 10 and (entry == 11 or (u - 2) ** 2 + (v + 1) ** 2 > 8):
                    put(plane, x + u, 9 + v, entry)
    x = column(13.2)
    for u, v in ((-5, 0), (5, 0), (0, -5), (0, 5), (-4, -4), (4, -4), (-4, 4), (4, 4)):
        put(plane, x + u, 9 + v, 11)
