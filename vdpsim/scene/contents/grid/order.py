"""The order of a map's cells in memory: page after page, in each the cells.

Law: a cell's place follows from the mode alone; both ways are exact. Knows no cell's word.
"""

from __future__ import annotations

import numpy as np

from ....chip.model import TilesMode
from .lay import Grid


def paged(words: Grid, mode: TilesMode) -> Grid:
    """Cells (rows, columns) in the order of memory: page after page."""
    (wide, high), (across, down) = mode.page, mode.pages
    return words.reshape(down, high, across, wide).transpose(_axes(mode)).reshape(-1)


def unpaged(flat: Grid, mode: TilesMode) -> Grid:
    """Cells (rows, columns) from the order of memory."""
    (wide, high), (across, down) = mode.page, mode.pages
    axes = _axes(mode)
    shape = (down, high, across, wide)
    return flat.reshape([shape[axis] for axis in axes]).transpose(np.argsort(axes)).reshape(mode.rows, mode.columns)


def _axes(mode: TilesMode) -> tuple[int, ...]:
    """Pages down, a page's rows, pages across, a page's columns (0 to 3) in the order of memory, the slowest first."""
    pages = (2, 0) if mode.page_order == "columns" else (0, 2)
    return (*pages, *((3, 1) if mode.cell_order == "columns" else (1, 3)))


def cell_offset(mode: TilesMode, column: int, row: int) -> int:
    """Bytes from the map's address to the cell at ``column`` and ``row``."""
    return cell_number(mode, column, row) * mode.cell_bytes


def cell_number(mode: TilesMode, column: int, row: int) -> int:
    """Which of the map's cells in memory, from 0, stands at ``column`` and ``row``."""
    (wide, high), (page, cell) = mode.page, mode.steps
    return column // wide * page[0] + row // high * page[1] + column % wide * cell[0] + row % high * cell[1]
