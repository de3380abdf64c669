"""What stands on the reserve's map beside its ground: houses and hides, names, border, title, rose, scale, legend, and a bird.

Law: each function draws one thing onto a sheet, on ground that it clears. Knows nothing of the ground below.
"""

from __future__ import annotations

import numpy as np

from ..canvas import from_digits, inside, line, oval, put
from . import lettering
from .sheet import BLUE, CARD, GREEN, HIGH, INK, RED, WIDE, Point, Sheet, curve

_HOUSE, _CHURCH = (
    "..1..\n.111.\n11111\n1...1\n1.1.1",
    "...1...\n..111..\n...1...\n..111..\n..1.1..\n111.111\n1.1.1.1\n1111111",
)
_MILL = "1.....1\n.1...1.\n..1.1..\n...1...\n..111..\n.11.11.\n.1...1.\n.11111.\n1111111"
_LIGHT = "1..1..1\n.1.1.1.\n..111..\n1.1.1.1\n..111..\n..1.1..\n..111..\n..1.1..\n.11111."
_HIDE = "...1...\n..111..\n.11111.\n1111111\n.1...1.\n.11111.\n.1...1."
_BOAT = "....1.....\n....11....\n..1.111...\n.11.1111..\n111.11111.\n....1.....\n1111111111\n.11111111.\n..111111.."


def places(sheet: Sheet) -> None:
    """What stands there: the village with its church, the mill, the light, the ferry, the hides with their numbers."""
    for number, (x, y) in enumerate(
        ((150, 78), (158, 82), (166, 76), (172, 84), (143, 83), (160, 71), (180, 72), (186, 80))
    ):
        sheet.draw(from_digits(_HOUSE)[: 5 - number % 2], x, y, INK)
    for shape, x, y, ink in ((_CHURCH, 148, 66, INK), (_MILL, 106, 76, INK), (_LIGHT, 276, 243, RED)):
        picture = from_digits(shape)
        sheet.clear(x - 1, y - 1, picture.shape[1] + 2, picture.shape[0] + 2)
        sheet.draw(picture, x, y, ink)
    for name, x, y in (("1", 99, 113), ("2", 170, 108), ("3", 184, 138), ("4", 66, 162), ("5", 262, 190)):
        sheet.clear(x - 1, y - 1, 14, 9)
        sheet.draw(from_digits(_HIDE), x, y, RED)
        sheet.draw(lettering.small(name), x + 9, y + 1, RED)
    for x, y in ((226, 258), (40, 230), (112, 246)):
        sheet.clear(x - 1, y - 1, 12, 11)
        sheet.draw(from_digits(_BOAT), x, y, BLUE)
    sheet.way(((206, 84), (212, 90), (216, 96)), RED, (1, 1))


def names(sheet: Sheet) -> None:
    """Names of land upright, of water slanted and in blue, soundings in the sea."""
    for text, x, y, gap in (
        ("REED QUAY", 196, 96, 1), ("HEATH HILL", 36, 70, 1), ("ALDER CARR", 36, 174, 1), ("CHURCH FIELDS", 282, 6, 1),
        ("FIR BANK", 286, 110, 1), ("THE WARREN", 232, 206, 1), ("DUNHEAD", 290, 212, 1), ("WEST STRAND", 34, 204, 1),
        ("MILL", 110, 88, 1), ("SLUICE", 126, 102, 1),
    ):  # fmt: skip
        sheet.write(text, x, y, INK, gap)
    for text, x, y, gap in (
        ("AVOCET MERE", 60, 110, 1), ("SANDERLING BAY", 64, 254, 3), ("RIVER ELL", 214, 40, 1), ("THE MOUTH", 132, 222, 1),
        ("CURLEW CREEK", 222, 155, 1),
    ):  # fmt: skip
        sheet.write(text, x, y, BLUE, gap, slanted=True)
    for text, x, y in (
        ("2", 26, 228), ("3", 74, 232), ("4", 100, 232), ("6", 168, 268), ("5", 186, 240), ("7", 110, 262), ("3", 226, 246),
        ("4", 238, 268), ("8", 204, 262), ("2", 214, 228), ("5", 24, 242),
    ):  # fmt: skip
        sheet.write(text, x, y, BLUE)


def border(sheet: Sheet) -> None:
    """The map's frame: a thin line, a band of black and white by the quarter mile, a thin line."""
    y, x = np.mgrid[:HIGH, :WIDE]
    rim = np.minimum(np.minimum(x, WIDE - 1 - x), np.minimum(y, HIGH - 1 - y))
    sheet.ink[rim < 5] = 0
    sheet.paper[rim < 5] = CARD
    along = np.where(np.minimum(x, WIDE - 1 - x) <= np.minimum(y, HIGH - 1 - y), y, x)
    sheet.ink[(rim == 0) | (rim == 4) | ((rim > 0) & (rim < 4) & (along // 20 % 2 == 0))] = INK


def cartouche(sheet: Sheet) -> None:
    """The title, on a card with a double edge and turned corners."""
    x, y, wide, high = 10, 9, 176, 45
    sheet.clear(x - 1, y - 1, wide + 2, high + 2)
    sheet.paper[y : y + high, x : x + wide] = CARD
    for inset in (0, 3):
        ring = np.zeros((high - 2 * inset, wide - 2 * inset), np.uint8)
        ring[[0, -1]] = 1
        ring[:, [0, -1]] = 1
        sheet.draw(ring, x + inset, y + inset, INK)
    corner = from_digits("111111.\n1....1.\n1.11.1.\n1.1..1.\n1.1111.\n111....\n.......")
    for flip_x in (1, -1):
        for flip_y in (1, -1):
            turned = corner[::flip_y, ::flip_x]
            sheet.draw(turned, x if flip_x == 1 else x + wide - 7, y if flip_y == 1 else y + high - 7, INK)
    for text, down in (("THE MARSHES", 8), ("OF REED QUAY", 21)):
        letters = lettering.large(text)
        sheet.draw(letters, x + (wide - letters.shape[1]) // 2, y + down, RED)
    words = lettering.small("A MAP FOR THOSE WHO COME ON FOOT")
    sheet.draw(words, x + (wide - words.shape[1]) // 2, y + 35, INK)


def rose(sheet: Sheet, x: int, y: int, size: int) -> None:
    """A compass rose of eight points, each dark on one side."""
    shape = (HIGH, WIDE)
    ring = oval(shape, x, y, size * 0.62, size * 0.62) & ~oval(shape, x, y, size * 0.62 - 1, size * 0.62 - 1)
    sheet.ink[oval(shape, x, y, size * 0.66, size * 0.66)] = 0
    sheet.ink[ring] = INK
    for turn in (1, 3, 5, 7, 0, 2, 4, 6):
        long = size if turn % 2 == 0 else size * 0.62
        angle = turn * np.pi / 4
        tip = (x + long * np.sin(angle), y - long * np.cos(angle))
        waist = [
            (x + size * 0.2 * np.sin(angle + side), y - size * 0.2 * np.cos(angle + side)) for side in (-0.78, 0.78)
        ]
        both = inside(shape, (tip, waist[0], (x, y), waist[1]))
        dark = inside(shape, (tip, (x, y), waist[1]))
        sheet.ink[both] = 0
        sheet.ink[dark] = INK
        for side in waist:
            line(sheet.ink, tip, side, INK)
        line(sheet.ink, tip, (x, y), INK)
    letter = lettering.small("N")
    sheet.clear(x - 3, y - size - 8, 7, 7)
    sheet.draw(letter, x - 2, y - size - 7, RED)


def scale(sheet: Sheet, x: int, y: int) -> None:
    """A scale of one mile."""
    for part in range(4):
        for v in range(3):
            for u in range(20):
                if v in (0, 2) or part % 2 == 0:
                    put(sheet.ink, x + part * 20 + u, y + v, INK)
    for v in range(-1, 4):
        put(sheet.ink, x, y + v, INK)
        put(sheet.ink, x + 80, y + v, INK)
    for text, at in (("0", 0), ("ONE MILE", 40), ("1", 80)):
        letters = lettering.small(text)
        sheet.draw(letters, x + at - letters.shape[1] // 2, y - 8, INK)


def legend(sheet: Sheet) -> None:
    """What the signs mean, on a card at the lower left."""
    x, y, wide, high = 10, 268, 110, 44
    sheet.clear(x, y, wide, high)
    sheet.paper[y : y + high, x : x + wide] = CARD
    for inset in (0, 2):
        ring = np.zeros((high - 2 * inset, wide - 2 * inset), np.uint8)
        ring[[0, -1]] = 1
        ring[:, [0, -1]] = 1
        sheet.draw(ring, x + inset, y + inset, INK)
    sheet.draw(from_digits(_HIDE), x + 7, y + 5, RED)
    sheet.way(((x + 5, y + 18), (x + 17, y + 18)), RED, (3, 2))
    for u in range(x + 5, x + 17):
        for v in (y + 24, y + 27):
            put(sheet.ink, u, v, INK)
        if u % 2:
            line(sheet.ink, (u, y + 24), (u, y + 27), INK)
    sheet.draw(from_digits("..1....\n1.1..1.\n.1.1.1.\n.1111..\n111.111"), x + 7, y + 34, GREEN)
    for text, down in (("HIDE", 6), ("PATH", 15), ("BOARDWALK", 24), ("MARSH", 34)):
        sheet.draw(lettering.small(text), x + 22, y + down, INK)
    for text, down in (("KEEP TO", 6), ("THE PATHS", 13), ("DOGS ON", 24), ("THE LEAD", 31)):
        sheet.draw(lettering.small(text), x + 69, y + down, RED)


BODY: tuple[Point, ...] = (
    (4, 32), (14, 25), (26, 20), (40, 18), (50, 13), (54, 6), (62, 2), (70, 4), (75, 10), (75, 16), (72, 21), (71, 29),
    (66, 39), (56, 46), (44, 49), (30, 46), (18, 40),
)  # fmt: skip


def vignette(sheet: Sheet, x: int, y: int) -> None:
    """A sanderling as an engraver has it: an outline, and strokes that are denser where it is darker."""
    shape = (HIGH, WIDE)
    outline = curve([(x + u, y + v) for u, v in (*BODY, BODY[0])], 8)
    body = inside(shape, outline)
    v, u = np.mgrid[:HIGH, :WIDE]
    sheet.ink[body] = 0
    back = np.clip(1 - (v - y - 16 - (u - x - 10) * 0.12) / 17, 0, 1) * np.clip((62 - (u - x)) / 14, 0, 1)
    crown = np.clip(1 - ((u - x - 62) / 12.0) ** 2 - ((v - y - 4) / 5.0) ** 2, 0, 1) * 0.8
    dark = np.maximum(back, crown)
    strokes = (u + 2 * v) % 5
    sheet.ink[body & (dark > 0.12) & (strokes == 0)] = INK
    sheet.ink[body & (dark > 0.45) & ((u - 2 * v) % 5 == 0)] = INK
    sheet.ink[body & (dark > 0.75) & (strokes == 2)] = INK
    sheet.way(outline, INK)
    for feather in range(7):
        sheet.way(
            curve(
                [
                    (x + 14 + 5 * feather, y + 24 + feather * 0.4),
                    (x + 10 + 5 * feather, y + 33),
                    (x + 2 + 6 * feather, y + 35 + feather),
                ]
            ),
            INK,
        )
    for u0, v0 in ((66, 9), (67, 9), (66, 10), (67, 10), (65, 9), (66, 8)):
        put(sheet.ink, x + u0, y + v0, INK)
    for off in (0, 1):
        sheet.way(((x + 75, y + 11 + off), (x + 90, y + 13)), INK)
    for hip, foot in (((38, 48), (34, 60)), ((46, 48), (52, 60))):
        for off in (0, 1):
            sheet.way(((x + hip[0] + off, y + hip[1]), (x + foot[0] + off, y + foot[1])), INK)
        sheet.way(((x + foot[0] - 3, y + foot[1]), (x + foot[0] + 6, y + foot[1])), INK)
    for number in range(5):
        sheet.way(
            ((x + 8 + number * 9, y + 63 + number % 2 * 2), (x + 30 + number * 13, y + 63 + number % 2 * 2)),
            INK,
            (5, 3),
        )
