"""The saltmarsh at sunrise: a far layer of sky, hills and water, a near one of reeds and boards.

Law: ``far`` and ``near`` are planes of 512 x 192 dots; every tile of 8 x 8 keeps to one bank of 16 entries, value 0 of each
bank is left free. ``COLOURS`` are entries 0 to 63. Knows no scene file.
"""

from __future__ import annotations

import numpy as np

from . import birds, land
from .canvas import Plane, noise, oval, ridge

WIDE, HIGH, HORIZON = 512, 192, 88

SKY = ("#357", "#468", "#579", "#68a", "#89b", "#aab", "#cbb", "#eca", "#fdb")
CLOUD = ("#a9a", "#dba", "#fed")
HILL = ("#79a", "#568", "#345")
WATER = ("#fda", "#ec9", "#cba", "#9ab", "#79a", "#568", "#357", "#235")
GLINT, MUD, GRASS = ("#ffd",), ("#432", "#654", "#987"), ("#243", "#474", "#8a5")
REED = ("#122", "#132", "#243", "#454", "#774", "#ba6")
STRAW = ("#531", "#964", "#db7", "#fea")
WOOD = ("#322", "#644", "#976", "#cba")
TEXT = ("#012", "#123", "#fed", "#fb4")

COLOURS = (
    TEXT[0], *SKY, *CLOUD, *HILL,
    TEXT[1], *WATER, *GLINT, *MUD, *GRASS,
    TEXT[2], *REED, *STRAW, *WOOD, "#f0f",
    TEXT[3], *birds.COLOURS[1:],
)  # fmt: skip
"""Four banks: sky and hills, water and mud, reeds and wood, birds. The first entry of each is the text's."""

_STARTS = (
    (SKY, 1), (CLOUD, 10), (HILL, 13), (WATER, 17), (GLINT, 25), (MUD, 26), (GRASS, 29), (REED, 33), (STRAW, 39), (WOOD, 43),
)  # fmt: skip
_AT = {id(part): start for part, start in _STARTS}

HIGH_CLOUDS = (
    (96, 20, 44, 7, 1), (150, 34, 26, 4, 2), (262, 14, 52, 8, 3), (320, 29, 30, 4, 4), (420, 22, 60, 9, 5),
    (486, 38, 34, 4, 6),
)  # fmt: skip
LOW_CLOUDS = (
    (60, 47, 30, 2.4, 7), (176, 52, 24, 1.6, 8), (250, 46, 36, 2.4, 9), (372, 50, 44, 2.6, 10), (120, 60, 22, 1.4, 11),
    (300, 58, 20, 1.3, 12),
)  # fmt: skip
"""Clouds, thick ones high up and thin ones near the sun: middle, half length, thickness, seed."""

ISLANDS = (
    (60, 101, 44, 1),
    (305, 97, 36, 2),
    (430, 104, 58, 3),
    (150, 116, 34, 4),
    (360, 122, 46, 5),
    (262, 108, 20, 6),
)
"""Banks of mud: middle, half length, seed."""


def entries(part: tuple[str, ...]) -> list[int]:
    """The entries that hold these colours."""
    return list(range(_AT[id(part)], _AT[id(part)] + len(part)))


def far() -> Plane:
    """Sky, sun, clouds and hills above line 88; water and banks of mud below."""
    plane = np.zeros((HIGH, WIDE), np.uint8)
    sky, cloud, hill = entries(SKY), entries(CLOUD), entries(HILL)
    plane[:HORIZON] = land.sky(HORIZON, WIDE, sky, 1.15)
    sun = 196
    plane[:HORIZON][oval((HORIZON, WIDE), sun, 66, 9, 9)] = cloud[2]
    back, lit = [sky[3], sky[4], cloud[0], cloud[1], cloud[2]], [cloud[0], cloud[1], cloud[2]]
    for x, y, half, thick, seed in HIGH_CLOUDS:
        land.cloud(plane, x, y, half, thick, back, seed)
    for x, y, half, thin, seed in LOW_CLOUDS:
        land.cloud(plane, x, y, half, thin, lit, seed)
    land.hills(plane, 72 - ridge(WIDE, (5, 11, 29, 61), (6, 3, 1.2, 0.6), 41), HORIZON, [hill[0], sky[4], sky[5]], 0.75)
    land.hills(plane, 79 - ridge(WIDE, (7, 17, 43), (4, 2, 1), 52), HORIZON, [hill[1], hill[0], sky[4]], 0.8)
    crest = 87 - np.maximum(0, ridge(WIDE, (6, 13), (1.5, 1), 63))
    land.tree_line(plane, crest, (hill[2], hill[2], hill[1]), 64, 3)
    plane[HORIZON - 1] = hill[2]
    below = entries(WATER)
    land.water(plane, HORIZON, HIGH, below, 71, 128, entries(GLINT)[0])
    land.glitter(plane, sun, HORIZON, 150, [entries(GLINT)[0], below[0]], 81)
    mud, grass = entries(MUD), entries(GRASS)
    for x, y, half, seed in ISLANDS:
        land.island(plane, x, y, half, mud, grass, 90 + seed)
    return plane


def near() -> Plane:
    """Reeds, boards and a hide, on nothing: value 0 of bank 2 lets the far layer through."""
    plane = np.full((HIGH, WIDE), 32, np.uint8)
    reeds, straw, wood = entries(REED), entries(STRAW), entries(WOOD)
    land.hide(plane, 226, 150, wood, [wood[0], straw[0], straw[1]])
    land.boardwalk(plane, 140, 420, 158, wood, HIGH)
    greens = [(reeds[1], reeds[2]), (reeds[2], reeds[3]), (reeds[3], reeds[4])]
    x = np.arange(WIDE)
    frame = (
        100 * np.exp(-(((x - 18) / 34) ** 2))
        + 84 * np.exp(-(((x - 470) / 46) ** 2))
        + 34 * np.exp(-(((x - 340) / 24) ** 2))
    )
    bed = 22 + 6 * ridge(WIDE, (9, 21), (1, 0.7), 17) + frame
    land.reeds(plane, 0, WIDE, HIGH, bed, greens, [straw[1], straw[2], straw[3], straw[2]], 31, 1.3)
    low = 13 + 5 * noise(1, WIDE, 1, 40, 7)[0]
    land.reeds(plane, 0, WIDE, HIGH + 2, low, [(reeds[0], reeds[2]), (reeds[0], reeds[1])], (), 33, 1.6)
    return plane
