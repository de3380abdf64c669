"""The marsh at dusk: sky and water, the reeds before them, the birds.

Law: the same dots each time; a picture's indices are the values, or the entries, that its scene takes from it, and every
colour lies on a grid of four bits a channel. Where the scene writes
an entry's colour on each line, the PNG holds the colour of one such line. Knows the scene's entries and no chip.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from .canvas import Chance, Plane, box, from_digits, inside, line, noise, oval, put, run, smooth_noise, some

WIDE, HIGH = 288, 216
Point = tuple[float, float]
Dots = npt.NDArray[np.bool_]


def _listed(text: str) -> tuple[str, ...]:
    return tuple(text.split())


MAP_WIDE = 512
HORIZON = 120
SUN = (150, 111, 23)
"""The sun's middle and radius; it stands with a part of it below the horizon."""
SKY, SKY_HALF, GLOW, GLOW_HALF, WATER, WATER_HALF, GLINT, GLINT_HALF = range(1, 9)
"""Entries that the scene writes on every line: a colour and the one half a step above it, in turn on neighbouring dots."""
DISC, HILL, HILL_NEAR = 9, 13, 14
DUSK_COLOURS = _listed("""
    #113 #427 #428 #a56 #b57 #b66 #a66 #fa6 #fb7 #fea #fd8 #d77 #b66 #746 #535 #424
    #fda #102 #213 #324 #435 #546 #657 #768 #879 #98a #a65 #c86 #da7 #eb8 #fc9 #fea
    #000 #112 #213 #314 #425 #536 #647 #758 #869 #97a #a65 #c86 #da7 #eb8 #fc9 #fea
""")
CLEAR, DARK, REED, RIM, LAMP = 16, 17, 18, 26, 30
"""The near layer's entries: value 0 of its bank, mud and boards, lighter reeds, the last light on an edge, a lit window."""


def _checker(shape: tuple[int, int]) -> Plane:
    """0 and 1 in turn."""
    y, x = np.mgrid[: shape[0], : shape[1]]
    return np.asarray((x + y) % 2, np.uint8)


def dusk_far() -> Plane:
    """Sky, sun, hills and water of one page and a half; right of dot 320 the plain sky and water go on."""
    plane = np.zeros((HIGH, MAP_WIDE), np.uint8)
    y, x = np.mgrid[:HIGH, :MAP_WIDE]
    turn = _checker(plane.shape)
    distance = np.hypot((x - SUN[0]) * 0.8, y - SUN[1])
    bands = noise(HIGH, MAP_WIDE, 40, 5, 11) + 0.5 * noise(HIGH, MAP_WIDE, 70, 9, 12)
    clouds = np.clip(bands * 1.6 - 0.55, 0, 1) * np.clip((y - 14) / 30, 0, 1) * np.clip((108 - y) / 20, 0, 1)
    glow = np.clip(1.05 - distance / 105, 0, 1) ** 2
    level = np.where(x < 320, np.maximum(glow, clouds), 0)
    plane[:] = np.where(some(level), GLOW, SKY) + turn
    sun = oval(plane.shape, *SUN[:2], SUN[2], SUN[2])
    plane[oval(plane.shape, *SUN[:2], SUN[2] + 3, SUN[2] + 3) & (turn == 0)] = DISC + 1
    plane[sun] = DISC
    plane[sun & some(np.clip((y - 104) / 16, 0, 1).astype(np.float64))] = DISC + 1
    for top, deep, seed, entry in ((113, 4.0, 3, HILL), (116, 2.5, 8, HILL_NEAR)):
        edge = top + deep * smooth_noise(MAP_WIDE, 9, seed) + smooth_noise(MAP_WIDE, 60, seed + 1)
        plane[(y >= edge[None, :]) & (y < HORIZON)] = entry
    _water(plane, turn)
    return plane


def _water(plane: Plane, turn: Plane) -> None:
    """Water below the horizon: the sun's path in short strokes that grow towards us, and a few elsewhere."""
    plane[HORIZON:] = WATER + turn[HORIZON:]
    chance = Chance(41)
    for y in range(HORIZON, HIGH):
        near = (y - HORIZON) / (HIGH - HORIZON)
        for _ in range(5 if y % 2 else 3):
            spread = 15 + 26 * near
            length = chance.whole(3, 5 + int(11 * near))
            middle = SUN[0] + (chance.between(-1, 1) + chance.between(-1, 1)) * spread * 0.6
            run(plane, round(middle - length / 2), y, length, GLINT + (y % 2))
        for _ in range(2):
            if chance.next() < 0.4:
                run(plane, chance.whole(0, 319), y, chance.whole(4, 6 + int(14 * near)), SKY + (y % 2), wrap=True)


def _reed(plane: Plane, chance: Chance, foot: Point, high: float, lean: float, entry: int) -> None:
    """One stem with its leaves and, on tall ones, a plume with the last light on it."""
    x, y = foot
    for step in range(int(high)):
        part = step / high
        put(plane, round(x + lean * part * part), round(y - step), entry)
    tip_x, tip_y = x + lean, y - high
    if high > 20:
        for step in range(chance.whole(5, 9)):
            put(plane, round(tip_x + lean * 0.02 * step), round(tip_y + step), entry)
            if 0 < step < 6:
                put(plane, round(tip_x + lean * 0.02 * step) + 1, round(tip_y + step), RIM if step < 3 else entry)
    for _ in range(2):
        part = chance.between(0.25, 0.7)
        side = 1 if chance.next() < 0.5 else -1
        root = (x + lean * part * part, y - high * part)
        bend = chance.between(4, 9)
        line(plane, root, (root[0] + side * bend * 0.6, root[1] - bend), entry)


def dusk_near() -> Plane:
    """The silhouetted marsh: a mud bank with posts, a hide on stilts with a boardwalk, and reeds before all."""
    plane = np.full((HIGH, MAP_WIDE), CLEAR, np.uint8)
    chance = Chance(7)
    y, _ = np.mgrid[:HIGH, :MAP_WIDE]
    # The mud bank: a thin tongue from the left, with the light on its upper edge.
    edge = 147 + 2.0 * smooth_noise(MAP_WIDE, 24, 5)
    for x in range(104):
        lower = 153 - max(0, (x - 60) * 0.16)
        top = edge[x] + max(0, (x - 70) * 0.1)
        for v in range(round(top), round(lower)):
            plane[v, x] = DARK + 1
        if x % 3 and round(top) < round(lower):
            plane[round(top), x] = RIM
    for _ in range(26):
        _reed(plane, chance, (chance.between(0, 58), 150), chance.between(8, 19), chance.between(-3, 3), DARK + 1)
    _hide(plane)
    # Reeds before all: dense at both sides, low in the middle.
    shore = 209 - 3 * smooth_noise(MAP_WIDE, 12, 9)
    plane[y >= shore[None, :]] = DARK
    for entry, count, share in ((REED, 150, 0.8), (DARK, 210, 1.0)):
        for _ in range(count):
            foot = chance.between(-4, WIDE + 6)
            side = abs(foot - 150) / 150
            high = (10 + 62 * side * side * side + chance.between(-4, 12)) * share
            _reed(plane, chance, (foot, 213), high, chance.between(-0.22, 0.22) * high, entry)
    return plane


def _hide(plane: Plane) -> None:
    """The hide on stilts at the right, its slit lit, and the boardwalk that leads to it."""
    corners = [(214, 104), (240, 95), (266, 104), (266, 107), (214, 107)]
    plane[inside(plane.shape, corners)] = DARK
    box(plane, 218, 106, 44, 22, DARK)
    for row in range(109, 128, 4):
        box(plane, 219, row, 42, 1, DARK + 1)
    box(plane, 222, 112, 36, 4, LAMP)
    for post in (228, 236, 244, 252):
        box(plane, post, 112, 1, 4, DARK)
    for x in (219, 231, 247, 260):
        box(plane, x, 128, 2, 46, DARK)
    line(plane, (220, 131), (231, 150), DARK)
    line(plane, (260, 131), (248, 150), DARK)
    box(plane, 212, 127, 76, 3, DARK)
    run(plane, 212, 127, 6, RIM)
    for x in range(270, 288, 8):
        box(plane, x, 117, 1, 56, DARK)
    box(plane, 266, 117, 22, 1, DARK)
    line(plane, (213, 104), (239, 95), RIM)
    for x, top in ((84, 136), (97, 139), (196, 134)):
        box(plane, x, top, 2, 20, DARK)
        put(plane, x, top, RIM)


BIRDS = tuple(
    from_digits(text)
    for text in (
        """
................
.11.........11..
..111......11...
...111....111...
....111.1111....
.....11111......
......1112......
................""",
        """
................
................
................
.1111.....1111..
...1111.11111...
.....11111......
......1112......
................""",
        """
................
................
................
......111.......
...111111111....
.111..1112.111..
11..........11..
................""",
    )
)
"""Wings up, level and down, 16 x 8 dots."""


def dusk_birds() -> Plane:
    """The three phases side by side."""
    return np.hstack(BIRDS)
