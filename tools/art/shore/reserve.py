"""The reserve as a visitor's map: hand-drawn in one bit a dot, coloured by the block of 8 x 5 dots.

Law: the map is drawn as ink on paper, with a kind of ink and a kind of paper for each dot; ``chart`` then leaves to each block
the one paper and the one ink of which it has most, so that two entries a block show everything. 320 x 320 dots, north is up.
Knows no scene file and no chip.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from ..canvas import Plane
from . import ground, signs
from .sheet import BLOCK, COLOURS, CREAM, HIGH, INK, WIDE, Dots, Sheet


def _sheet() -> Sheet:
    """Everything on one sheet, what covers others last."""
    sheet = Sheet()
    ground.waters(sheet)
    ground.beach(sheet)
    ground.tufts(sheet)
    ground.woods(sheet)
    ground.hill(sheet)
    ground.fields(sheet)
    ground.roads(sheet)
    signs.places(sheet)
    signs.names(sheet)
    signs.legend(sheet)
    signs.rose(sheet, 284, 284, 15)
    signs.vignette(sheet, 128, 249)
    signs.scale(sheet, 222, 307)
    signs.cartouche(sheet)
    signs.border(sheet)
    return sheet


def _most(dots: Plane, wanted: Dots, otherwise: int) -> int:
    """The number of which most of the wanted dots are; the lowest of several, ``otherwise`` where none is wanted."""
    counts = np.bincount(dots[wanted].reshape(-1), minlength=16)
    return int(counts.argmax()) if counts.any() else otherwise


@cache
def chart() -> tuple[Plane, Plane]:
    """Where ink is (0 and 1), and the entries of paper and ink of each block: (blocks down, blocks across, 2)."""
    sheet = _sheet()
    wide, high = BLOCK
    inked = sheet.ink > 0
    cells = np.zeros((HIGH // high, WIDE // wide, 2), np.uint8)
    for row in range(HIGH // high):
        for column in range(WIDE // wide):
            part = np.s_[row * high : (row + 1) * high, column * wide : (column + 1) * wide]
            everywhere = np.ones((high, wide), np.bool_)
            cells[row, column] = _most(sheet.paper[part], everywhere, CREAM), _most(sheet.ink[part], inked[part], INK)
    return inked.astype(np.uint8), cells


def painted() -> Plane:
    """The map in entries, two a block."""
    dots, cells = chart()
    wide, high = BLOCK
    both = cells.repeat(high, axis=0).repeat(wide, axis=1)
    return np.where(dots == 1, both[..., 1], both[..., 0])


def pictures() -> list[tuple[str, Plane, Sequence[str]]]:
    """Where ink is."""
    return [("reserve.png", chart()[0], (COLOURS[CREAM], COLOURS[INK]))]


def cells() -> list[tuple[str, bytes]]:
    """The colours of the blocks, row by row: two bytes each, the paper's entry and the ink's."""
    return [("reserve.cells", chart()[1].tobytes())]
