"""Draws the regatta's pictures, for the scene in which a line has more sprites than it can take, into scenes/art/.

Law: the same dots each time; a picture's indices are the entries, or the values, that the scene takes from it, and every
colour lies on a grid of four bits a channel. Every tile keeps to one bank of 16 entries. What the scene's collisions rest
upon is drawn by rule: row 8 of the punt is opaque from edge to edge, and the rows above it are empty. Knows no scene file
and no chip.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from . import birds, land
from .canvas import Chance, Field, Plane, box, dithered, inside, line, put, ridge, run

WIDE, HIGH, SHORE = 288, 192, 96
"""Dots of both layers' pictures, and the line at which the water begins."""

SKY = ("#48a", "#59b", "#7ac", "#9bd", "#bcd", "#dde", "#fed")
SNOW = ("#fff", "#cde", "#9bc", "#79b", "#68a")
WOOD_LINE = ("#356", "#467", "#689")
WATER = ("#ccd", "#abd", "#8ac", "#69b", "#58a", "#479", "#368", "#257")
MIRROR = ("#dee", "#8ab", "#467")
SHINE = ("#fff",)
STALK = ("#431", "#642", "#863", "#a85", "#ca6", "#ec8")
FROST = ("#eff", "#cde", "#abc")
DARK = ("#210", "#321")
TEXT = ("#012", "#123", "#fed", "#fb4")

COLOURS = (
    TEXT[0], *SKY, *SNOW, *WOOD_LINE,
    TEXT[1], *WATER, *MIRROR, *SHINE, "#000", "#000", "#000",
    TEXT[2], *STALK, *FROST, *DARK, "#000", "#000", "#000", "#000",
    TEXT[3], *birds.COLOURS[1:],
)  # fmt: skip
"""Four banks: sky and hills, water, reeds, birds and boats. The first entry of each is the text's."""

NIGHT, SLATE, STEEL, GREY, PALE, WHITE, TAR, BROWN, TAN, SAND, RED, ORANGE, YELLOW, GREEN, BLUE = range(1, 16)


def _crests() -> tuple[Field, Field]:
    """The lines of the mountains' crest and of the nearer hills'."""
    x = np.arange(WIDE)
    far = 84 - 9 * np.exp(-(((x - 70) / 46) ** 2)) - 13 * np.exp(-(((x - 214) / 58) ** 2))
    far -= np.abs(ridge(WIDE, (11, 24, 53), (7.0, 4.0, 1.5), 21))
    near = 90 - 3 * ridge(WIDE, (4, 9, 31), (0.8, 0.5, 0.3), 22)
    return far, near


def _mountains(plane: Plane, crest: Field) -> None:
    """Snow in the sun from the left, blue shade on the slopes that fall to the right, and mist at the foot."""
    snow = [*range(8, 13)]
    slope = np.gradient(crest)
    for x in range(WIDE):
        top = round(float(crest[x]))
        for y in range(top, SHORE):
            deep = (y - top) / 9
            lit = slope[(x + (y - top) // 2) % WIDE] < 0.12
            level = (0.2 + 0.5 * deep if lit else 1.9 + 0.45 * deep) + (0.35 if (x + y) % 2 else 0.0)
            put(plane, x, y, snow[int(np.clip(level, 0, 4))])
            mist = (y - 84) / 12
            if mist > 0 and (x * 5 + y * 3) % 8 < 8 * mist - 1:
                put(plane, x, y, 5)


def far() -> Plane:
    """A clear winter morning: sky, snow on the mountains, a wooded shore, and a bay that mirrors it."""
    plane = np.zeros((HIGH, WIDE), np.uint8)
    plane[:SHORE] = land.sky(SHORE, WIDE, [*range(1, 8)], 0.85)
    for x, y, half, thick, seed in ((232, 14, 34, 7, 3), (60, 22, 48, 5, 4), (150, 72, 40, 3, 6)):
        land.cloud(plane, x, y, half, thick, [5, 9, 9, 8], seed)
    crest, hills = _crests()
    _mountains(plane, crest)
    land.hills(plane, hills, SHORE, [15, 14], 0.8)
    land.tree_line(plane, np.full(WIDE, float(SHORE)), (13, 14, 15), 8, 3)
    level = (np.arange(HIGH - SHORE) / (HIGH - SHORE - 1)) ** 0.7 * 7
    plane[SHORE:] = dithered(np.repeat(level[:, None], WIDE, axis=1), [*range(17, 25)], 0.9)
    land.water(plane, SHORE, HIGH, [*range(17, 25)], 31, WIDE, 28)
    _mirror(plane, crest, hills)
    return plane


def _mirror(plane: Plane, crest: Field, hills: Field) -> None:
    """What the bay gives back of mountains and shore: broken into runs, fainter the further from the shore."""
    chance = Chance(33)
    for y in range(SHORE, SHORE + 34):
        away = y - SHORE
        shift = chance.whole(-2, 2)
        x = 0
        while x < WIDE:
            length = chance.whole(2, 9)
            at = min(max(x + shift, 0), WIDE - 1)
            dense = 0.9 - away / 42
            if away < 2 + (SHORE - float(hills[at])) * 0.7:
                entry = 27
            elif away < (SHORE - float(crest[at])) * 1.0:
                entry = 25 if away > 9 else 26
                dense *= 0.62
            else:
                entry = 0
            if entry and chance.next() < dense:
                run(plane, x, y, min(length, WIDE - x), entry)
            x += length


def near() -> Plane:
    """Frosted reeds before everything, high at both sides, on nothing: entry 32."""
    plane = np.full((HIGH, WIDE), 32, np.uint8)
    stalk, frost = [*range(33, 39)], [*range(39, 42)]
    x = np.arange(WIDE)
    tall = 12 + 3 * ridge(WIDE, (9, 21), (1, 0.6), 41) + 58 * np.exp(-(((x - 282) / 26) ** 2))
    tall += 44 * np.exp(-(((x - 2) / 24) ** 2))
    shades = [(stalk[0], stalk[2]), (stalk[1], stalk[3]), (stalk[2], stalk[4])]
    land.reeds(plane, 0, WIDE, HIGH, tall, shades, [frost[0], stalk[5], frost[1]], 42, 1.25)
    land.reeds(plane, 0, WIDE, HIGH + 2, np.full(WIDE, 12.0), [(42, 43), (42, stalk[0]), (43, stalk[1])], (), 43, 1.6)
    chance = Chance(44)
    for _ in range(150):
        across, down = chance.whole(0, WIDE - 1), chance.whole(120, HIGH - 1)
        if plane[down, across] != 32:
            plane[down, across] = frost[chance.whole(0, 2)]
    return plane


def sailing_boat(light: int, shade: int) -> Plane:
    """A boat under sail, 32 x 32 dots, bound for the left, with ``light`` on its sails and ``shade`` in their folds."""
    plane = np.zeros((32, 32), np.uint8)
    main, jib = ((17, 1), (18, 23), (30, 23)), ((14, 3), (14, 23), (3, 22))
    for corners in (main, jib):
        sail = inside(plane.shape, corners)
        plane[sail] = light
        edge = sail & ~np.roll(sail, -1, axis=1)
        plane[edge] = shade
    for y in range(9, 24, 7):
        for x in range(32):
            if plane[y, x] == light:
                plane[y, x] = shade
    line(plane, (15, 0), (15, 25), TAR)
    line(plane, (16, 0), (16, 25), BROWN)
    run(plane, 15, 24, 15, TAN)
    put(plane, 17, 0, RED)
    put(plane, 18, 0, RED)
    plane[inside(plane.shape, ((2, 25), (29, 25), (26, 30), (7, 30)))] = NIGHT
    run(plane, 2, 25, 28, SAND)
    run(plane, 4, 26, 24, TAN)
    box(plane, 20, 22, 3, 3, RED)
    box(plane, 20, 20, 3, 2, SAND)
    for x in range(4, 30):
        if (x * 5) % 9 < 5:
            put(plane, x, 30, PALE)
        if 8 < x < 26 and (x * 7) % 10 < 4:
            put(plane, x, 31, light if x % 3 else BLUE)
    return plane


def punt() -> Plane:
    """A flat boat, 32 x 16 dots: its rim, row 8, goes from edge to edge; rows 0 to 7 are empty."""
    plane = np.zeros((16, 32), np.uint8)
    plane[inside(plane.shape, ((0, 9), (32, 9), (28, 14), (4, 14)))] = BROWN
    run(plane, 0, 8, 32, SAND)
    run(plane, 0, 9, 32, TAR)
    run(plane, 3, 11, 26, TAN)
    run(plane, 4, 13, 24, TAR)
    for x in range(32):
        if (x * 5) % 8 < 5:
            put(plane, x, 14, PALE if x % 6 < 2 else BLUE)
        if (x * 3) % 10 < 4:
            put(plane, x, 15, BLUE)
    return plane


def pictures() -> list[tuple[str, Plane, Sequence[str]]]:
    """The regatta's two layers and its sheets of sprites: file name, plane, colours."""
    sails = np.hstack([sailing_boat(WHITE, PALE), sailing_boat(RED, BROWN), sailing_boat(YELLOW, ORANGE)])
    flyers = (birds.LAPWING_UP, birds.LAPWING_LEVEL, birds.LAPWING_DOWN, birds.TERN, birds.TERN_DOWN)
    return [
        ("regatta-far.png", far(), COLOURS),
        ("regatta-near.png", near(), COLOURS),
        ("regatta-sails.png", sails, birds.COLOURS),
        ("regatta-punt.png", punt(), birds.COLOURS),
        ("regatta-birds.png", birds.sheet(*flyers, birds.AVOCET, birds.CURLEW), birds.COLOURS),
        ("regatta-visitor.png", birds.sheet(birds.VISITOR), birds.COLOURS),
    ]
