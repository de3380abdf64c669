"""Dusk over the marsh: shapes against a sky whose colour is another on every line.

Law: entry 0 is the sky and the water, and the scene gives it a colour for each line; the planes hold what stands before it.
``far`` (512 x 216) is stars above line 112 and what the water mirrors below it, ``near`` (512 x 216) the land. ``LISTS`` has
the colours in the order in which the scene's timed writes go through them. Knows no scene file.
"""

from __future__ import annotations

import numpy as np

from . import land
from .birds import HERON, sheet
from .canvas import Chance, Plane, box, dithered, from_digits, inside, oval, put, ridge, run

WIDE, HIGH, SHORE = 512, 216, 112
FRAMES = 64

STAR = ("#fff", "#acd", "#79b")
MIRROR = ("#213", "#314", "#425", "#634")
GLINT = ("#fc8", "#f96", "#c65", "#fea")
RANGE = ("#325", "#214", "#112")
GROUND = ("#012", "#123", "#235", "#013")
LAMP = ("#fe9", "#fb5", "#b63", "#842")
SUN = ("#ffc", "#fea", "#fc7", "#fa5", "#f84")
COLOURS = ("#f84", *STAR, *MIRROR, *GLINT, *RANGE, "#000", "#000", *GROUND, *LAMP, *SUN, "#000", "#000")
"""Entries 0 to 31: bank 0 for the far layer, bank 1 for the near one and the sun. Entries 0 and 16 are written each line or unused."""

KNOTS = (
    (-FRAMES, (1, 1, 3)), (0, (2, 2, 6)), (26, (3, 3, 8)), (52, (6, 4, 9)), (74, (10, 5, 8)), (92, (14, 7, 6)), (104, (15, 10, 6)),
    (112, (15, 12, 7)),
)  # fmt: skip
"""The sky from far above (negative lines, which come down later) to the shore: line and colour in values of four bits."""


def _sky(place: float) -> tuple[float, float, float]:
    for (low, first), (high, last) in zip(KNOTS, KNOTS[1:], strict=False):
        if place <= high:
            part = (place - low) / (high - low)
            red, green, blue = (a + (b - a) * part for a, b in zip(first, last, strict=True))
            return red, green, blue
    return KNOTS[-1][1]


def _word(red: float, green: float, blue: float) -> str:
    return "#" + "".join(f"{int(value + 0.5):x}" for value in (red, green, blue))


def sky_list() -> list[str]:
    """For lines 0 to 111, read one less further each frame: the sky comes down, and what is above it follows from the end."""
    return [_word(*_sky(place)) for place in [*range(SHORE), *range(-FRAMES, 0)]]


def water_list() -> list[str]:
    """For lines 112 to 215, read one further each frame: the sky upside down, dimmer and bluer."""

    def mirrored(place: int) -> str:
        red, green, blue = _sky(max(SHORE - 1 - place, -FRAMES))
        dim = 0.86 - 0.2 * min(place / (HIGH - SHORE), 1)
        return _word(red * dim, green * dim * 0.94, blue * dim + 0.6)

    return [mirrored(place) for place in range(HIGH - SHORE + FRAMES)]


def glint_list(bright: tuple[int, int, int]) -> list[str]:
    """The sun's path, one colour a frame: from ``bright`` down to what the water has."""
    dim = (6, 3, 6)
    return [_word(*(a + (b - a) * frame / FRAMES for a, b in zip(bright, dim, strict=True))) for frame in range(FRAMES)]


LISTS = {"sky": sky_list(), "water": water_list(), "path": glint_list((15, 14, 10)), "edge": glint_list((12, 6, 5))}
"""The colour lists of the scene's timed writes: entry 0 above and below the shore, entries 12 and 11."""


def _crest() -> tuple[np.ndarray, np.ndarray]:
    return 100 - ridge(WIDE, (4, 11, 27, 60), (7, 3.5, 1.5, 0.7), 7), 107 - ridge(WIDE, (7, 17, 45), (3, 1.8, 1), 8)


def far() -> Plane:
    """Stars, and on the water the hills' reflection, streaks and the sun's path."""
    plane = np.zeros((HIGH, WIDE), np.uint8)
    chance = Chance(4)
    for _ in range(70):
        x, y = chance.whole(0, WIDE - 1), int(chance.next() ** 1.7 * 62)
        put(plane, x, y, 3 if y > 34 else chance.whole(1, 3))
    for x, y in ((52, 16), (236, 9), (330, 26), (470, 12)):
        for u, v in ((-1, 0), (1, 0), (0, -1), (0, 1)):
            put(plane, x + u, y + v, 3)
        put(plane, x, y, 1)
    back, front = _crest()
    for tops, solid, stretch in ((back, 6, 1.3), (front, 5, 1.5)):
        for x in range(WIDE):
            deep = int((SHORE - tops[x]) * stretch)
            plane[SHORE : SHORE + deep, x] = solid
    for y in range(SHORE + 1, SHORE + 34):
        part = (y - SHORE) / 34
        for _ in range(int(WIDE / 18)):
            x, length = chance.whole(0, WIDE - 1), chance.whole(4, 9 + int(10 * part))
            beyond = int(plane[y - 1 if chance.next() < 0.5 else min(y + 5, HIGH - 1), x])
            run(plane, x, y, length, beyond if chance.next() < 0.5 + 0.3 * part else 7, wrap=True)
    for y in range(SHORE + 4, HIGH):
        depth = (y - SHORE) / (HIGH - SHORE)
        for _ in range(7):
            if chance.next() < 0.72 - 0.3 * depth:
                length = chance.whole(4, 7 + int(22 * depth))
                x = chance.whole(0, WIDE - 1)
                run(plane, x, y, length, 5 if depth > 0.5 else 7 if chance.next() < 0.4 else 6, wrap=True)
    land.glitter(plane, 166, SHORE + 1, HIGH - 10, [12, 9, 10, 11], 9)
    return plane


def near() -> Plane:
    """Two ranges of hills, the shore, and in front reeds, a jetty with a lamp and a heron: on nothing, which is entry 16."""
    plane = np.full((HIGH, WIDE), 16, np.uint8)
    back, front = _crest()
    for x in range(WIDE):
        for y in range(int(back[x]), SHORE):
            plane[y, x] = 19
        for y in range(int(front[x]), SHORE):
            plane[y, x] = 18
        plane[SHORE - 1, x] = 17
    land.tree_line(plane, np.minimum(front + 2 + ridge(WIDE, (40, 90), (1, 0.8), 33), SHORE - 1), (18, 18, 18), 12, 2)
    deck = 166
    for x in range(196, 330, 30):
        box(plane, x, deck, 4, HIGH - deck, 17)
        box(plane, x, deck - 9, 3, 9, 17)
    box(plane, 188, deck, 150, 3, 17)
    run(plane, 188, deck, 150, 19)
    run(plane, 196, deck - 7, 126, 17)
    box(plane, 256, deck - 34, 2, 34, 17)
    plane[inside(plane.shape, ((251, deck - 36), (257, deck - 42), (263, deck - 36)))] = 17
    box(plane, 253, deck - 36, 8, 8, 17)
    box(plane, 254, deck - 35, 6, 6, 22)
    box(plane, 255, deck - 34, 4, 4, 21)
    for u, v, entry in ((-3, -33, 23), (12, -33, 23), (-6, -31, 24), (15, -31, 24), (4, -45, 24)):
        put(plane, 252 + u, deck + v, entry)
    x = np.arange(WIDE)
    tall = 20 + 6 * ridge(WIDE, (10, 24), (1, 0.6), 5) + 92 * np.exp(-(((x - 24) / 30) ** 2)) + 46 * np.exp(-(((x - 104) / 22) ** 2))
    tall += 70 * np.exp(-(((x - 288) / 20) ** 2)) + 60 * np.exp(-(((x - 430) / 50) ** 2))
    land.reeds(plane, 0, WIDE, HIGH, tall, [(18, 19), (17, 18), (17, 17)], [18, 17], 14, 1.1)
    return plane


def sun() -> Plane:
    """The sun, 32 x 32, in values 9 to 13 of its bank: bright in the middle, red at its foot."""
    plane = np.zeros((32, 32), np.uint8)
    disc = oval(plane.shape, 16, 16, 13, 13)
    level = np.repeat((np.arange(32) / 31 * 4.6 - 0.4)[:, None], 32, axis=1)
    plane[disc] = dithered(level, (9, 10, 11, 12, 13), 0.9)[disc]
    return plane


GOOSE_UP = """
................
................
................
......2.........
......22........
.......22.......
.......222......
........222.....
..2....2222222..
...222222222222.
.....222222.....
................
................
................
................
................
"""
GOOSE_DOWN = """
................
................
................
................
................
................
................
..2.............
...222222222222.
.....222222222..
......2222......
......222.......
......22........
.....22.........
.....2..........
................
"""


def geese() -> Plane:
    """A goose against the light, wings up and down, 16 x 16 each, in value 2."""
    return sheet(GOOSE_UP, GOOSE_DOWN)


def heron() -> Plane:
    """A heron against the light, 16 x 32, in value 1, with a rim of light in value 3."""
    plane = np.zeros((32, 16), np.uint8)
    shape = from_digits(HERON) > 0
    plane[shape] = 1
    rim = shape & ~np.roll(shape, -1, axis=1)
    plane[rim] = 3
    return plane
