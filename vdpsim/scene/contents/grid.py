"""Cells in columns and rows: laid there, by texts whose characters each stand for a cell too, and their order in memory.

Law: what sticks out is refused and nothing of it laid. A map's cells lie page after page; where follows from the mode alone, and
both ways are exact. Knows no cell's fields: of a cell it is told the word.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.model import TilesMode
from ...door.shown import value as shown
from ..findings import Together, WrongError, one_of
from ..tables.blocks import ColoursTable
from ..tables.contents import MapTable

Grid = npt.NDArray[np.int64]


class _Words(NamedTuple):
    """The words of the cells that a table tells: of ``fill``, of its rows, and of each character of its key."""

    fill: int | None
    rows: list[list[int]]
    key: dict[str, int]


def lay(room: Grid, table: MapTable | ColoursTable, word: Callable[..., int], noun: str) -> None:
    """Lay the table's cells: first ``fill``, then rows or characters.

    ``word`` makes a cell's word of it and of its place below the table; ``noun``: what cells are called. Raises WrongError for
    each cell that is wrong, for each part that sticks out, and for characters that stand for none.
    """
    each, (high, wide) = Together(), room.shape
    words = _words(each, table, word)
    if table.at[0] < wide and table.at[1] < high:
        _lay(each, room, table, words, noun)
    else:
        each.tell(f"must be a column and row of {wide}x{high} {noun}, got {list(table.at)}", "at")
    each.done()


def _words(each: Together, table: MapTable | ColoursTable, word: Callable[..., int]) -> _Words:
    """The words of the table's cells; 0 for those that are wrong."""
    fill = None if table.fill is None else each(word, table.fill, "fill")
    rows = [
        [each(word, cell, "rows", line, at) or 0 for at, cell in enumerate(cells)]
        for line, cells in enumerate(table.rows or ())
    ]
    key = {name: each(_of_character, name, cell, word) or 0 for name, cell in (table.key or {}).items()}
    return _Words(fill, rows, key)


def _of_character(name: str, cell: object, word: Callable[..., int]) -> int:
    if len(name) != 1:
        raise WrongError(f"must have single characters for keys, got {shown(name)}", "key", name)
    return word(cell, "key", name)


def _lay(each: Together, room: Grid, table: MapTable | ColoursTable, words: _Words, noun: str) -> None:
    column, row = table.at
    if words.fill is not None:
        across, down = table.size or (room.shape[1] - column, room.shape[0] - row)
        part = each(room_of, room, table.at, across, down, noun, "size")
        if part is not None:
            part[:] = words.fill
    for line, cells in enumerate(words.rows):
        part = each(room_of, room, (column, row + line), len(cells), 1, noun, "rows", line)
        if part is not None:
            part[0] = cells
    for line, characters in enumerate(text_lines(table.text) if table.text is not None else ()):
        part = each(room_of, room, (column, row + line), len(characters), 1, noun, "text")
        whole = all(len(name) == 1 for name in words.key)
        numbers = each(_numbers, characters, line, words.key) if whole else None
        if part is not None and numbers is not None:
            part[0] = numbers


def _numbers(characters: str, line: int, key: Mapping[str, int]) -> list[int]:
    """The word of each character. Raises WrongError for the first that stands for none."""
    unknown = next((at for at, one in enumerate(characters) if one not in key), None)
    if unknown is not None:
        listed = one_of(map(repr, key), "a character of key")
        raise WrongError(f"{listed}; got {shown(characters[unknown])} at place {unknown} of line {line}", "text")
    return [key[one] for one in characters]


def text_lines(text: str) -> list[str]:
    """The lines of a text; a line break at its very end starts no further line."""
    return text.removesuffix("\n").split("\n")


def room_of(room: Grid, at: tuple[int, int], across: int, down: int, noun: str, *sub: str | int) -> Grid:
    """The part of ``room`` from column and row ``at`` on; ``noun``: its cells' name. Raises WrongError where it sticks out."""
    (column, row), (high, wide) = at, room.shape
    if column + across > wide or row + down > high:
        raise WrongError(f"{across}x{down} cells at [{column}, {row}] must lie within {wide}x{high} {noun}", *sub)
    return room[row : row + down, column : column + across]


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
