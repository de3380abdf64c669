"""A boat on a slipway, drawn at three places: a sheet of tiles and the cells that show it at each.

Law: ``backs`` are 288 x 192; the boat and its cradle reach no further than dot 255, so that two pictures differ within the
first page of the map alone. Every tile keeps to one bank, value 0 of each bank is left free. Cells are packed as Curlew has
them: bank in bits 4 to 2, pattern in 14 to 5, the low byte first. Knows no scene file.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from . import birds, land
from .canvas import Plane, box, dithered, from_digits, inside, line, oval, put, ridge, run, stamp

WIDE, HIGH, SHORE, QUAY = 288, 192, 128, 146
PLACES = (40, 88, 136)
"""The boat's left edge before, after one pull and after two: six columns apart."""

SKY = ("#48b", "#59c", "#7ad", "#9ce", "#bde", "#dee")
CLOUD = ("#bcd", "#eef", "#fff")
TREES = ("#8aa", "#587", "#465", "#354")
WATER = ("#ace", "#8bd", "#69b", "#57a")
STONE = ("#332", "#554", "#776", "#998", "#bba", "#ddc")
WOOD = ("#321", "#543", "#875", "#ca8")
HULL = ("#112", "#246", "#358", "#711", "#b22", "#d54")
DECK = ("#fd5", "#254")
NUMBERED = (*SKY, *CLOUD, *TREES, *WATER, *STONE, *WOOD, *HULL, *DECK)
"""Colours of the far layer, by the number that the drawing uses; its banks are packed from what each tile needs."""

TEXT = ("#023", "#fed", "#fb4", "#7cc", "#cde", "#fff", "#9cf")
STAFF = ("#111", "#eee", "#c33", "#f90", "#fc6", "#421")
REED = ("#132", "#253", "#385", "#5a4", "#9c5", "#ce8", "#a74", "#dc8")

_S, _C, _T, _W, _N, _O, _H, _D = (
    [*range(start, start + len(part))]
    for start, part in zip(
        np.cumsum([0, *(len(part) for part in (SKY, CLOUD, TREES, WATER, STONE, WOOD, HULL))]).tolist(),
        (SKY, CLOUD, TREES, WATER, STONE, WOOD, HULL, DECK),
        strict=True,
    )
)
_DIGITS = {
    "0": "111 1.1 1.1 1.1 111", "1": ".1. 11. .1. .1. 111", "4": "1.1 1.1 111 ..1 ..1",
    "5": "111 1.. 111 ..1 111", "6": "111 1.. 111 1.1 111",
}  # fmt: skip


def back(place: int) -> Plane:
    """Sky, far shore, water, quay with rails, and the boat on its cradle with its left edge at dot ``place``."""
    plane = np.zeros((HIGH, WIDE), np.uint8)
    plane[:SHORE] = land.sky(SHORE, WIDE, _S, 0.85)
    for x, y, half, thick, seed in ((228, 22, 40, 10, 1), (70, 34, 26, 5, 2), (150, 14, 22, 4, 3)):
        land.cloud(plane, x, y, half, thick, [_C[0], _C[1], _C[2]], seed)
    land.hills(plane, 116 - ridge(WIDE, (3, 8, 21), (5, 2, 1), 4), SHORE, [_T[0], _S[4]], 0.5)
    land.tree_line(plane, 124 - np.maximum(0, ridge(WIDE, (5, 12), (4, 2), 5)), (_T[2], _T[1], _T[1]), 6, 4)
    land.tree_line(plane, np.full(WIDE, float(SHORE)), (_T[3], _T[2], _T[1]), 7, 3)
    land.water(plane, SHORE, QUAY, _W, 8, 64, _C[2])
    _quay(plane)
    run(plane, place + 104, 141, WIDE - place - 104, _O[3])
    run(plane, place + 104, 142, WIDE - place - 104, _O[0])
    _boat(plane, place)
    return plane


def _quay(plane: Plane) -> None:
    """Stone slabs down to the strip, and a pair of rails on sleepers."""
    ramp = [_N[4], _N[3], _N[2], _N[1]]
    level = np.linspace(0, 3, HIGH - QUAY)[:, None] + np.zeros((1, WIDE))
    plane[QUAY:] = dithered(level, ramp, 0.8)
    run(plane, 0, QUAY, WIDE, _N[5])
    for y, wide in ((162, 32), (174, 48), (187, 64)):
        run(plane, 0, y, WIDE, _N[0])
        for x in range(wide // 2, WIDE, wide):
            box(plane, x, y - 11, 1, 11, _N[0])
    for x in range(0, WIDE, 8):
        box(plane, x, 152, 5, 3, _O[1])
        run(plane, x, 155, 5, _O[0])
    run(plane, 0, 150, WIDE, _N[5])
    run(plane, 0, 151, WIDE, _H[0])


def _boat(plane: Plane, x: int) -> None:
    """A workboat of the reserve, bow to the right, on a cradle with four wheels."""
    shape = plane.shape
    night, blue, light, dark, red, warm = _H
    white, pale = _C[2], _C[0]

    def area(*corners: tuple[float, float]) -> np.ndarray:
        return inside(shape, [(x + u, v) for u, v in corners])

    line(plane, (x + 82, 26), (x + 2, 90), night)
    line(plane, (x + 82, 26), (x + 110, 88), night)
    box(plane, x + 81, 24, 3, 70, _O[1])
    box(plane, x + 81, 24, 1, 70, _O[3])
    plane[area((84, 25), (100, 29), (84, 34))] = _D[1]
    run(plane, x + 85, 29, 10, _D[0])
    box(plane, x + 14, 76, 54, 22, white)
    box(plane, x + 14, 92, 54, 6, pale)
    box(plane, x + 12, 74, 58, 3, blue)
    for u in range(18, 64, 9):
        box(plane, x + u, 80, 6, 6, blue)
        run(plane, x + u, 80, 6, night)
        put(plane, x + u + 5, 85, pale)
    box(plane, x + 44, 56, 24, 18, white)
    box(plane, x + 44, 70, 24, 4, pale)
    box(plane, x + 42, 53, 28, 3, blue)
    for u in (46, 53, 61):
        box(plane, x + u, 59, 5, 7, blue)
        run(plane, x + u, 59, 5, night)
    box(plane, x + 22, 56, 12, 18, red)
    box(plane, x + 22, 56, 12, 4, night)
    box(plane, x + 22, 62, 12, 3, _D[0])
    box(plane, x + 33, 60, 1, 14, dark)
    for u in range(72, 108, 6):
        box(plane, x + u, 82 - (u - 72) // 12, 1, 12, pale)
    line(plane, (x + 70, 84), (x + 108, 80), white)
    plane[area((0, 94), (30, 98), (76, 96), (112, 84), (103, 128), (94, 136), (12, 136), (4, 122))] = blue
    plane[area((2, 96), (30, 100), (76, 98), (111, 87), (110, 91), (76, 102), (30, 104), (2, 100))] = white
    plane[area((3, 116), (106, 115), (103, 128), (94, 136), (12, 136), (4, 122))] = red
    plane[area((8, 128), (100, 128), (94, 136), (12, 136))] = dark
    plane[area((3, 114), (107, 113), (106, 116), (3, 117))] = _D[0]
    for u in range(14, 96, 14):
        plane[oval(shape, x + u, 108, 2.6, 2.6)] = light
        put(plane, x + u, 108, night)
    for u in range(8, 100, 4):
        put(plane, x + u, 122, warm)
    for u in (16, 88):
        box(plane, x + u, 112, 3, 30, _O[2])
        box(plane, x + u, 112, 1, 30, _O[3])
    box(plane, x + 6, 137, 98, 6, _O[2])
    run(plane, x + 6, 137, 98, _O[3])
    run(plane, x + 6, 142, 98, _O[0])
    for u in (14, 38, 66, 92):
        box(plane, x + u - 5, 134, 10, 3, _O[1])
        plane[oval(shape, x + u, 146.5, 4.2, 4.2)] = night
        plane[oval(shape, x + u, 146.5, 1.6, 1.6)] = _N[4]


def _banks(needs: set[frozenset[int]]) -> list[list[int]]:
    """Banks of at most fifteen colours, so that each of ``needs`` lies within one: those that grow least are joined first."""
    largest = [one for one in needs if not any(one < other for other in needs)]
    banks = [set(one) for one in sorted(largest, key=lambda one: (-len(one), sorted(one)))]
    while True:
        pairs = [
            (len(one | other) - max(len(one), len(other)), -len(one & other), place, before)
            for place, one in enumerate(banks)
            for before, other in enumerate(banks[:place])
            if len(one | other) <= 15
        ]
        if not pairs:
            return [sorted(bank) for bank in banks]
        _, _, place, before = min(pairs)
        banks[before] |= banks.pop(place)


@cache
def _packed() -> tuple[Plane, list[np.ndarray], tuple[str, ...]]:
    """The sheet of tiles, the cells of each place, and the colours of five banks."""
    backs = [back(place) for place in PLACES]
    tiles = [plane.reshape(HIGH // 8, 8, WIDE // 8, 8).swapaxes(1, 2).reshape(-1, 8, 8) for plane in backs]
    needs = {frozenset(np.unique(tile).tolist()) for part in tiles for tile in part}
    banks = _banks(needs)
    numbers: dict[bytes, int] = {bytes(64): 0}
    words = []
    for part in tiles:
        found = []
        for tile in part:
            need = set(np.unique(tile).tolist())
            bank = next(number for number, one in enumerate(banks) if need <= set(one))
            values = np.array([banks[bank].index(colour) + 1 for colour in tile.reshape(-1).tolist()], np.uint8)
            found.append(numbers.setdefault(values.tobytes(), len(numbers)) << 5 | bank << 2)
        words.append(np.array(found, "<u2").reshape(HIGH // 8, WIDE // 8))
    across, down = 32, -(-len(numbers) // 32)
    sheet = np.zeros((down * 8, across * 8), np.uint8)
    for data, number in numbers.items():
        row, column = divmod(number, across)
        sheet[row * 8 :, column * 8 :][:8, :8] = np.frombuffer(data, np.uint8).reshape(8, 8)
    colours: list[str] = []
    for number, held in enumerate(banks):
        named = [NUMBERED[colour] for colour in held]
        colours += [TEXT[number], *named, *["#000"] * (15 - len(named))]
    return sheet, words, tuple(colours)


def colours() -> tuple[str, ...]:
    """Seven banks: five of the far layer, one of staff and reeds, the birds. The first entry of each is the text's."""
    return (*_packed()[2], TEXT[5], *STAFF, *REED, "#000", TEXT[6], *birds.COLOURS[1:])


def near() -> Plane:
    """On nothing (entry 80): the staff that shows on which lines the CPU writes, a bollard, reeds at the right."""
    plane = np.full((HIGH, WIDE), 80, np.uint8)
    black, white, red, orange, bright, wood = range(81, 87)
    box(plane, 10, 20, 8, 172, wood)
    box(plane, 11, 21, 6, 171, white)
    for y in range(24, HIGH, 8):
        run(plane, 11, y, 3 if y % 16 else 6, black)
    box(plane, 11, 60, 6, 155 - 60, orange)
    box(plane, 15, 60, 2, 155 - 60, bright)
    for y in (60, 154):
        run(plane, 6, y, 16, red)
        run(plane, 6, y + 1, 16, black)
    for y, text in ((52, "60"), (157, "154")):
        box(plane, 20, y - 1, 4 * len(text) + 1, 7, white)
        for at, digit in enumerate(text):
            stamp(plane, from_digits(_DIGITS[digit].replace(" ", "\n")) * black, 21 + 4 * at, y)
    x = np.arange(WIDE)
    tall = 6 + 52 * np.exp(-(((x - 292) / 26) ** 2))
    greens = [(87, 88), (88, 89), (89, 90), (90, 91)]
    land.reeds(plane, 246, WIDE, HIGH, tall[246:], greens, (93, 94), 9, 1.1)
    return plane


def pictures() -> list[tuple[str, Plane, Sequence[str]]]:
    """The sheet of tiles, whose colours are those of every bank, and the near layer."""
    return [("slipway-tiles.png", _packed()[0], colours()), ("slipway-near.png", near(), colours())]


def cells() -> list[tuple[str, bytes]]:
    """The first page's cells for each place of the boat, row by row, and the four columns beside it, which never change."""
    words = _packed()[1]
    pages = [(f"slipway-{number}.cells", one[:, :32].tobytes()) for number, one in enumerate(words)]
    return [*pages, ("slipway-edge.cells", words[0][:, 32:].tobytes())]
