"""A little art for a first scene: a marsh in the evening, hills, reeds and a bird on the wing.

Law: sixteen colours serve every chip: a picture's dots are palette entries, four to each thing, so that banks of four colours
hold it as well as banks of sixteen. What repeats does so after 64 dots, so that few tiles are kept. Knows a depth of dots, and
no chip.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from PIL import Image

from ..images.png import png_bytes
from ..scene.tables.values import channels

Plane = npt.NDArray[np.uint8]

COLOURS = (
    "#1d2b53", "#3b5a88", "#86a3bf", "#f3d9a4",  # the sky
    "#24506a", "#3f7a8c", "#7fb3b0", "#4a6648",  # water and hills
    "#000", "#20321f", "#4d6b2f", "#97a455",  # reeds
    "#000", "#2a2024", "#a08468", "#f7f2e6",  # the bird
)  # fmt: skip
"""Entries 0 to 15; the first of each four from the second on shows nothing where layers lie behind."""

SKY, WATER, REEDS, BIRD = 0, 4, 8, 12
PERIOD = 64
WINGS_UP = """
................
......11........
......121.......
......1221......
.......1221.....
.......12221....
...11..12221....
..1331112221....
113332222222111.
..11122222222231
....1133333331..
......1133311...
........11......
................
................
................
"""
WINGS_DOWN = """
................
................
................
................
................
...11...........
..133111111.....
113332222222111.
..11122222222231
....1122222331..
.......12221....
.......12221....
......12221.....
......1221......
......111.......
................
"""


def clear(first: int, depth: int) -> int:
    """The entry that shows nothing among those from ``first`` on, of dots of ``depth`` bits."""
    return first >> depth << depth


def far(width: int, height: int) -> Plane:
    """Sky with a low sun over water."""
    horizon = height * 5 // 8 // 8 * 8
    rows = np.arange(height)
    plane = np.repeat(np.minimum(rows * 4 // horizon, 2)[:, None], width, axis=1).astype(np.uint8)
    y, x = np.mgrid[:32, :32]
    left = min(192, width - 32)
    sun = plane[horizon - 32 : horizon, left : left + 32]
    sun[(x - 15.5) ** 2 + (y - 20) ** 2 < 140] = SKY + 3
    y, x = np.mgrid[: height - horizon, :width]
    glitter = (x + 5 * y) % PERIOD
    plane[horizon:] = WATER + 1
    plane[horizon:][(y % 8 == 2) & (glitter < 24)] = WATER + 2
    plane[horizon:][(y % 8 == 5) & (glitter > 40)] = WATER
    return plane


def hills(width: int, height: int, depth: int) -> Plane:
    """Hills that rise from the horizon."""
    foot = height * 5 // 8 // 8 * 8
    plane = np.full((height, width), clear(WATER, depth), np.uint8)
    x = np.arange(width)
    top = foot - (12 + 8 * np.sin(x * 2 * np.pi / PERIOD) + 3 * np.sin(x * 6 * np.pi / PERIOD)).astype(int)
    y = np.arange(height)[:, None]
    plane[(y >= top) & (y < foot)] = WATER + 3
    plane[(y == top) & (y < foot)] = WATER + 2
    return plane


def reeds(width: int, height: int, depth: int) -> Plane:
    """Reeds that stand at the lower edge."""
    plane = np.full((height, width), clear(REEDS, depth), np.uint8)
    for at in range(0, PERIOD, 3):
        long = 16 + at * 29 % 23
        stalk = REEDS + 1 + at % 3
        for x in range(at, width, PERIOD):
            plane[height - long :, x] = stalk
            plane[height - long - 4 : height - long, x] = REEDS + 3
    plane[height - 6 :] = np.where(plane[height - 6 :] == clear(REEDS, depth), REEDS + 1, plane[height - 6 :])
    return plane


def bird(depth: int) -> Plane:
    """The bird, wings up and wings down, 16 dots each."""
    digits = [
        [[0 if dot == "." else int(dot) for dot in row] for row in text.split()] for text in (WINGS_UP, WINGS_DOWN)
    ]
    plane = np.hstack([np.array(one, np.uint8) for one in digits])
    values = 1 << depth
    return np.where(plane == 0, 0, (BIRD + plane) % values).astype(np.uint8)


def png(plane: Plane) -> bytes:
    """A picture of indices with the sixteen colours."""
    image = Image.fromarray(plane, "P")
    image.putpalette(bytes(channel for colour in COLOURS for channel in channels(colour)))
    return png_bytes(image)
