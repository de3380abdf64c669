"""The ground of the reserve's map: shore, waters, marsh, beach, woods, hill, fields and roads.

Law: each function draws one thing onto a sheet, in the sheet's inks; what lies where follows from the
course of shore and river alone. Knows no name and no sign.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from ..canvas import Chance, Field, from_digits, inside, line, noise, oval, ridge
from .sheet import (
    BLUE,
    BROWN,
    DARK,
    DEEP,
    GREEN,
    HEATHER,
    HIGH,
    INK,
    MARSH,
    MUD,
    RED,
    SAND,
    SHALLOW,
    WIDE,
    WOOD,
    Dots,
    Sheet,
    curve,
)

RIVER = (
    (236, -6),
    (228, 24),
    (244, 50),
    (226, 74),
    (196, 86),
    (188, 110),
    (160, 124),
    (140, 148),
    (138, 176),
    (124, 206),
)
CREEKS = (
    ((188, 108), (206, 120), (216, 138), (236, 146)),
    ((160, 124), (136, 118), (118, 126), (100, 120)),
    ((140, 150), (164, 158), (178, 174), (196, 178)),
    ((138, 164), (116, 168), (98, 160), (84, 166)),
)
MERE, POOLS = (60, 112, 36, 14), ((206, 168, 11, 5), (238, 172, 9, 5), (108, 144, 9, 5), (168, 141, 8, 4))


@cache
def _land() -> Dots:
    """Where land is: south of a waving coast lies the sea, a river and its creeks cut through, and waters lie in it."""
    x = np.arange(WIDE)
    coast = 206 + 9 * np.sin(x / 31 + 0.6) + 3.5 * ridge(WIDE, (7, 19, 43), (1.2, 0.7, 0.4), 11)
    coast += 52 / (1 + np.exp(-(x - 262) / 7)) - 22 * np.exp(-(((x - 128) / 34) ** 2))
    coast -= 40 / (1 + np.exp(-(x - 308) / 4))
    y, u = np.mgrid[:HIGH, :WIDE]
    found: Dots = y < coast[None, :]
    way = curve(RIVER)
    for number, (at, down) in enumerate(way):
        part = number / len(way)
        width = 2.2 + 2.2 * part + 17 * max(part - 0.62, 0) ** 1.4 * 3
        found &= ~oval((HIGH, WIDE), at, down, width, width)
    for creek in CREEKS:
        points = curve(creek)
        for number, (at, down) in enumerate(points):
            width = 2.4 - 1.5 * number / len(points)
            found &= ~oval((HIGH, WIDE), at, down, width, width)
    wobble = noise(HIGH, WIDE, 40, 40, 12)
    for at, down, across, high in (MERE, *POOLS):
        found &= ((u - at) / across) ** 2 + ((y - down) / high) ** 2 > 1 + 0.35 * wobble
    return found


@cache
def _from_shore() -> Field:
    """How far each dot lies from the nearest dot on the other side of the shore: land positive, water negative."""
    land = _land()
    rim = land & ~(np.roll(land, 1, 0) & np.roll(land, -1, 0) & np.roll(land, 1, 1) & np.roll(land, -1, 1))
    rim[[0, -1]] = False
    rim[:, [0, -1]] = False
    points = np.argwhere(rim).astype(np.float32)
    y, x = np.mgrid[:HIGH, :WIDE].astype(np.float32)
    best = np.full((HIGH, WIDE), np.inf, np.float32)
    for v, u in points.tolist():
        np.minimum(best, (y - v) ** 2 + (x - u) ** 2, out=best)
    found: Field = np.sqrt(best).astype(np.float64) * np.where(land, 1, -1)
    return found


def waters(sheet: Sheet) -> None:
    """The shore, and lines that follow it out into the water, each further from the last and more broken."""
    away = -_from_shore()
    water = ~_land()
    sheet.paper[water & (away > 5)] = SHALLOW
    sheet.paper[water & (away > 22)] = DEEP
    y, x = np.mgrid[:HIGH, :WIDE]
    for number, far in enumerate((2.8, 6.0, 10.0, 15.0, 21.0, 28.0)):
        ring = water & (away >= far) & (away < far + 1)
        keep = (np.floor(x / 3 + 5 * np.sin(y / 9)) + np.floor(y / 4)) % 7 >= number
        sheet.ink[ring & keep] = BLUE
    land = _land()
    sheet.ink[land & (_from_shore() < 1)] = INK


def tufts(sheet: Sheet) -> None:
    """Marsh: tufts of reed on a short line, where the ground is low and near the river."""
    chance = Chance(21)
    inland = _from_shore()
    tuft = from_digits("..1....\n1.1..1.\n.1.1.1.\n.1111..\n111.111")
    for y in range(96, 214, 8):
        for x in range(24 + y % 16 // 2, 282, 12):
            u, v = x + chance.whole(-3, 3), y + chance.whole(-2, 2)
            if 5 < inland[min(v + 3, HIGH - 1), u + 3] < 40 and _marshy(u, v):
                sheet.draw(tuft, u, v, GREEN)
    v, u = np.mgrid[:HIGH, :WIDE]
    sheet.paper[(inland > 2) & _marshy(u, v)] = MARSH


def _marshy(x: npt.ArrayLike, y: npt.ArrayLike) -> Dots:
    """Whether the ground is marsh: a broad belt along the lower river and around the mere."""
    u, v = np.asarray(x, float), np.asarray(y, float)
    belt = ((u - 160) / 92) ** 2 + ((v - 150) / 44) ** 2 < 1
    mere = ((u - 64) / 46) ** 2 + ((v - 114) / 26) ** 2 < 1
    found: Dots = belt | mere
    return found


def beach(sheet: Sheet) -> None:
    """Sand along the open sea: dots, the denser the nearer the water, and dunes as short arcs."""
    inland = _from_shore()
    chance = Chance(31)
    y, x = np.mgrid[:HIGH, :WIDE]
    strand = (inland > 1) & (inland < 17) & (y > 182) & ((x < 96) | (x > 176)) & ~_marshy(x, y)
    sheet.paper[strand] = SAND
    for v, u in np.argwhere(strand).tolist():
        if chance.next() < 0.30 - 0.02 * inland[v, u] and (u + v) % 2:
            sheet.ink[v, u] = BROWN
    arc = from_digits("..111..\n.1...1.\n1.....1\n.......\n...1...")
    for _ in range(400):
        u, v = chance.whole(4, WIDE - 12), chance.whole(176, 262)
        if (
            strand[v, u + 3]
            and 7 < inland[v, u + 3] < 15
            and not (sheet.ink[v - 1 : v + 4, u - 1 : u + 8] == BROWN).sum() > 6
        ):
            sheet.clear(u, v, 7, 4)
            sheet.draw(arc[:4], u, v, BROWN)
    flats = (inland < -1) & (inland > -9) & (x > 84) & (x < 190) & (y > 168) & (y < 236)
    sheet.paper[flats] = MUD
    for v, u in np.argwhere(flats).tolist():
        if (u * 7 + v * 3) % 11 == 0:
            sheet.ink[v, u] = BROWN


_TREE = "..11..\n.1..1.\n1...11\n1..111\n.1111.\n..11..\n..1111"
_FIR = "..1..\n.1.1.\n..1..\n.111.\n1.111\n..1..\n..11."


def woods(sheet: Sheet) -> None:
    """Trees, each with its shadow: firs on the hill, round ones in the wood by the mere."""
    chance = Chance(41)
    y, x = np.mgrid[:HIGH, :WIDE]
    alder = ((x - 34) / 30) ** 2 + ((y - 152) / 17) ** 2 < 1
    firs = ((x - 284) / 34) ** 2 + ((y - 84) / 24) ** 2 < 1
    for wood, tree in ((alder, _TREE), (firs, _FIR)):
        sheet.paper[wood] = WOOD
        shape = from_digits(tree)
        for v in range(40, 176, 6):
            for u in range(8 + v % 12 // 2, WIDE - 8, 8):
                across, down = u + chance.whole(-1, 1), v + chance.whole(-1, 1)
                if wood[min(down + 3, HIGH - 1), min(across + 3, WIDE - 1)]:
                    sheet.clear(across, down, *shape.shape[::-1])
                    sheet.draw(shape, across, down, DARK)


def hill(sheet: Sheet) -> None:
    """The heath north-west of the village: strokes that fall from its top on all sides, longer on the side of the shade."""
    chance = Chance(51)
    for ring, (near, far, count) in enumerate(((6, 10, 26), (12, 17, 44), (18, 22, 30))):
        for turn in range(count):
            angle = (turn + ring * 0.37) * 2 * np.pi / count + chance.between(-0.05, 0.05)
            shade = 1.35 if np.cos(angle - 0.7) > 0 else 0.7
            if ring == 2 and shade < 1:
                continue
            stop = near + (far - near) * shade
            start = (36 + near * 1.25 * np.cos(angle), 72 + near * 0.6 * np.sin(angle))
            end = (36 + stop * 1.25 * np.cos(angle), 72 + stop * 0.6 * np.sin(angle))
            line(sheet.ink, start, end, HEATHER)


def fields(sheet: Sheet) -> None:
    """Fields beyond the river: hedges of dots, furrows in some."""
    corners = ((258, 12), (308, 16), (308, 52), (262, 46))
    hedges = (corners + corners[:1], ((282, 14), (284, 49)), ((260, 30), (308, 34)))
    for hedge in hedges:
        sheet.way(hedge, GREEN, (2, 1))
    y, x = np.mgrid[:HIGH, :WIDE]
    left = inside((HIGH, WIDE), ((260, 14), (281, 15), (282, 30), (260, 29)))
    right = inside((HIGH, WIDE), ((286, 36), (307, 37), (307, 50), (287, 48)))
    sheet.paper[inside((HIGH, WIDE), corners)] = SAND
    sheet.ink[left & ((x + y // 3) % 4 == 0)] = BROWN
    sheet.ink[right & (y % 3 == 0) & (x % 6 < 5)] = BROWN


def roads(sheet: Sheet) -> None:
    """The road to the village, paths, the boardwalk, the sea wall."""
    road = curve(((4, 92), (30, 96), (60, 88), (96, 94), (124, 84), (150, 92), (176, 78)))
    for off in (-1.5, 1.5):
        sheet.way([(x, y + off) for x, y in road], INK)
    over = curve(((176, 78), (200, 66), (222, 60), (252, 56), (312, 62)))
    for off in (-1.5, 1.5):
        sheet.way([(x, y + off) for x, y in over], INK)
    for path in (
        ((150, 92), (146, 104), (128, 108), (110, 104), (98, 112), (98, 128), (76, 138)),
        ((176, 80), (178, 98), (166, 108)),
        ((252, 58), (256, 88), (250, 120), (262, 150), (266, 186), (276, 216), (280, 240)),
        ((76, 138), (70, 156), (62, 176), (44, 190)),
        ((222, 62), (214, 92), (228, 112), (250, 120)),
    ):
        sheet.way(curve(path), RED, (3, 2))
    walk = curve(((250, 120), (236, 130), (222, 134), (206, 146), (190, 146)))
    sheet.way(walk, INK)
    sheet.way([(x, y + 3) for x, y in walk], INK)
    for x, y in walk[::2]:
        line(sheet.ink, (x, y), (x, y + 3), INK)
    wall = curve(((98, 100), (116, 96), (140, 98), (168, 90)))
    for number, (x, y) in enumerate(wall):
        if number % 2:
            line(sheet.ink, (x, y), (x - 1, y + 2), INK)
