"""The ferry's river on a bright day: few patterns, four banks, for both chips.

Law: ``far`` is 256 x 216 and goes round, ``near`` 288 x 216; every tile keeps to one bank, value 0 of each bank is left free, but
for the ground of the text strip below line 192, which is entry 0. ``COLOURS`` are entries 0 to 63. Knows no scene file.
"""

from __future__ import annotations

import numpy as np

from . import birds, land
from .canvas import Plane, box, inside, put, ridge, run

WIDE, HIGH, SHORE, STRIP = 512, 216, 96, 192

SKY = ("#26b", "#37c", "#49d", "#6ad", "#8be", "#acf")
CLOUD = ("#9bd", "#cde", "#fff")
FOREST = ("#8ac", "#7a9", "#485", "#364", "#596", "#7b7")
WATER = ("#ace", "#8bd", "#6ac", "#49b", "#38a", "#279", "#168")
GLINT, HOUSE = ("#eff",), ("#fec", "#da8", "#b53", "#843", "#567", "#cde", "#fff")
REED = ("#132", "#253", "#385", "#5a4", "#9c5", "#ce8")
STRAW, WOOD = ("#642", "#a74", "#dc8"), ("#321", "#643", "#986", "#cb9", "#edc")
TEXT = ("#023", "#fed", "#fb4", "#7cc")

COLOURS = (
    TEXT[0], *SKY, *CLOUD, *FOREST,
    TEXT[1], *WATER, *GLINT, *HOUSE,
    TEXT[2], *REED, *STRAW, *WOOD, "#000",
    TEXT[3], *birds.COLOURS[1:],
)  # fmt: skip
"""Four banks: sky and hills, water and houses, reeds and wood, birds and boats. The first entry of each is the text's."""


def far() -> Plane:
    """Sky, clouds, wooded hills; on the other bank a quay; water."""
    plane = np.zeros((HIGH, 256), np.uint8)
    sky, cloud, wood = [*range(1, 7)], [7, 8, 9], [10, 11, 12, 13, 14, 15]
    plane[:88] = land.sky(88, 256, sky, 0.9)
    for x, y, half, thick, seed in ((76, 30, 36, 9, 1), (190, 20, 44, 11, 2), (130, 50, 26, 4, 3), (222, 54, 26, 4, 4)):
        land.cloud(plane, x, y, half, thick, [cloud[2], cloud[2], cloud[1], cloud[0]], seed)
    land.hills(plane, 68 - ridge(256, (3, 7, 19), (7, 3, 1), 11), 88, [wood[0], sky[4]], 0.5)
    land.hills(plane, 78 - ridge(256, (4, 9, 23), (5, 2, 1), 12), 88, [wood[1], wood[0]], 0.5)
    land.tree_line(plane, 86 - np.maximum(0, ridge(256, (5, 11), (3, 2), 13)), (wood[3], wood[2], wood[4]), 14, 4)
    land.tree_line(plane, np.full(256, 88.0), (wood[3], wood[2], wood[5]), 15, 3)
    plane[88:SHORE] = 17 + 4
    land.water(plane, SHORE, STRIP, [*range(17, 24)], 21, 64, 24)
    _bank(plane)
    plane[STRIP:] = 0
    return plane


def _bank(plane: Plane) -> None:
    """The quay of the other bank, lines 88 to 95, in the second bank of entries."""
    wall, shade, roof, dark, slate = range(25, 30)
    box(plane, 0, 88, 256, 8, dark)
    for x in range(256):
        put(plane, x, 88, shade if (x * 5) % 7 < 4 else wall)
        put(plane, x, 89, shade if (x * 3) % 5 < 2 else dark)
        if (x * 7) % 11 < 6:
            put(plane, x, 95, slate)
    for y in range(90, 95):
        for x in range(0, 256, 8):
            put(plane, x + (y % 2) * 4, y, roof)


def village() -> Plane:
    """Houses and a mill on the other bank, 96 x 32, in the birds' bank, on nothing: entry 48."""
    plane = np.zeros((32, 96), np.uint8)
    for x, wide, high, roof in ((2, 18, 10, 11), (22, 16, 13, 3), (40, 20, 9, 11), (78, 16, 10, 8)):
        top = 32 - high
        box(plane, x + 1, top, wide - 2, high, 6)
        box(plane, x + wide - 5, top, 4, high, 5)
        plane[
            inside(
                plane.shape,
                ((x - 0.5, top), (x + wide / 2 - 2, top - 7), (x + wide / 2 + 2, top - 7), (x + wide + 0.5, top)),
            )
        ] = roof
        run(plane, x + wide // 2 - 2, top - 7, 4, 8 if roof != 8 else 7)
        for u in range(3, wide - 5, 4):
            box(plane, x + u, top + 2, 2, 3, 3)
            put(plane, x + u, top + 2, 15)
        box(plane, x + wide - 9, 27, 2, 5, 8)
        box(plane, x + 4, top - 8, 2, 4, 8)
    plane[inside(plane.shape, ((63, 32), (65, 12), (72, 12), (75, 32)))] = 5
    plane[inside(plane.shape, ((63, 32), (65, 12), (69, 12), (70, 32)))] = 6
    plane[inside(plane.shape, ((64, 13), (68.5, 7), (73, 13)))] = 8
    box(plane, 66, 16, 2, 3, 3)
    box(plane, 67, 27, 3, 5, 8)
    for u, v in ((-1, -1), (1, -1), (-1, 1), (1, 1)):
        for step in range(2, 12):
            put(plane, 68 + u * step, 12 + v * step, 7)
            if step > 3:
                put(plane, 68 + u * step + (v if u * v > 0 else -v), 12 + v * step, 10)
    box(plane, 67, 11, 2, 2, 1)
    for x, top in ((20, 24), (61, 25), (94, 23)):
        box(plane, x, top + 4, 1, 8 - (top - 24), 7)
        for v in range(-3, 4):
            for u in range(-3, 4):
                if u * u + v * v <= 9:
                    put(plane, x + u, top + 2 + v, 14)
    return np.where(plane, plane + 48, 48).astype(np.uint8)


def near() -> Plane:
    """A landing stage on the left, reeds on the right, on nothing: entry 32."""
    plane = np.full((HIGH, WIDE), 32, np.uint8)
    reeds, straw, wood = [*range(33, 39)], [*range(39, 42)], [*range(42, 47)]
    land.boardwalk(plane, 0, 88, 152, wood[:4], STRIP)
    box(plane, 84, 138, 6, 54, wood[0])
    box(plane, 85, 139, 3, 53, wood[2])
    run(plane, 84, 138, 6, wood[4])
    x = np.arange(WIDE)
    tall = (
        16
        + 5 * ridge(WIDE, (16, 32), (1, 0.5), 3)
        + 66 * np.exp(-(((x - 284) / 34) ** 2))
        + 30 * np.exp(-(((x - 8) / 20) ** 2))
    )
    greens = [(reeds[1], reeds[2]), (reeds[2], reeds[3]), (reeds[3], reeds[4])]
    land.reeds(plane, 0, 320, STRIP, tall, greens, [straw[0], straw[1], straw[2]], 5, 1.2)
    land.reeds(plane, 0, 320, STRIP + 2, np.full(320, 12.0), [(reeds[0], reeds[1]), (reeds[0], reeds[2])], (), 6, 1.4)
    plane[STRIP:] = 32
    return plane[:, :288]
