"""The barn owl and the bats of the moonlit marsh: a sheet of tiles, drawn in the last bank of its painting's colours.

Law: values 1 to 15; 1 is dark, 2 to 7 go from brown to buff, 8 to 15 from white to grey. Knows no scene.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..canvas import Plane, from_digits, inside, stamp

_WINGS = (
    ((21, 11), (16, 4), (9, 0), (4, 0), (3, 3), (8, 8), (14, 13), (21, 16)),
    ((21, 9), (13, 6), (4, 7), (0, 10), (2, 12), (10, 13), (16, 16), (22, 16)),
    ((21, 10), (14, 10), (6, 13), (1, 19), (2, 21), (8, 19), (15, 18), (22, 16)),
)
"""The left wing of the owl, raised, level and lowered; the right one is its mirror image."""


def _owl(corners: Sequence[tuple[float, float]]) -> Plane:
    """A barn owl that comes towards us, 48 x 24: barred wings, a pale breast, and the face like a heart."""
    plane = np.zeros((24, 48), np.uint8)
    wing = inside(plane.shape, corners)
    v, u = np.mgrid[:24, :48]
    reach = np.hypot(u - 21, v - 12)
    tone = 6 - (reach % 4 < 1) * 2 - (reach > 15) - ((v + u) % 2) * (reach % 4 >= 3)
    plane[wing] = np.clip(tone, 2, 6)[wing]
    lead = wing & ~np.roll(wing, 1, axis=0)
    plane[lead] = 9
    trail = wing & ~np.roll(wing, -1, axis=0)
    plane[trail] = 14
    plane = np.maximum(plane, plane[:, ::-1])
    body = ((v - 15) / 6.2) ** 2 + ((u - 23.5) / 4.2) ** 2 <= 1
    plane[body] = np.where(u < 22, 9, np.where(u > 25, 11, 8))[body]
    plane[body & ((u * 5 + v * 3) % 11 == 0)] = 13
    crown = ((v - 9) / 4.6) ** 2 + ((u - 23.5) / 5.0) ** 2 <= 1
    plane[crown] = 5
    plane[crown & (v < 7)] = 4
    for side in (-1, 1):
        face = ((v - 9.5) / 3.6) ** 2 + ((u - 23.5 - side * 2) / 2.4) ** 2 <= 1
        plane[face] = 8
    for at in (21, 26):
        plane[9:11, at] = 1
    plane[11:13, 23:25] = 5
    plane[12, 23:25] = 3
    plane[5:8, 23:25] = 4
    plane[21:23, 22] = 3
    plane[21:23, 25] = 3
    return plane


_BATS = (
    """
........................
.11..................11.
..111..............111..
..1111....1..1....1111..
...11111..1111..11111...
....1111111111111111....
.....11111111111111.....
......11.11111111.......
.........111111.........
...........11...........
""",
    """
........................
........................
........................
..........1..1..........
......11..1111..11......
..11111111111111111111..
.11111.1111111111.11111.
1111......1111......1111
11.........11.........11
........................
""",
    """
........................
........................
..........1..1..........
..........1111..........
.....1111111111111......
....111111111111111.....
...1111..111111..1111...
...111....1111....111...
...11......11......11...
...1................1...
""",
)


def sheet() -> Plane:
    """A sheet of tiles like the waders', 128 dots across.

    The owl's wings are raised, level and lowered, one below the other; beside
    the first a bat in three phases.
    """
    plane = np.zeros((72, 128), np.uint8)
    for number, corners in enumerate(_WINGS):
        plane[24 * number : 24 * number + 24, :48] = _owl(corners)
    for number, drawing in enumerate(_BATS):
        stamp(plane, from_digits(drawing), 48 + 24 * number, 0)
    return plane
