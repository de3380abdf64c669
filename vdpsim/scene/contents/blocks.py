"""Colour cells: what lies in memory block by block of a bitmap's dots.

Law: a cell has all the fields that its layout names, each within its bits. Every table of cells starts as zeros; tables act in
the order of the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode
from ...chip.tables.bitmap import ColourCells
from ..findings import Findings, Together, WrongError, none_of
from ..tables.blocks import ColoursTable
from .assets import Assets
from .grid.lay import Grid, lay, room_of
from .pictures.coloured import Coloured


class Blocks:
    """The colour cells of every bitmap whose cells the scene fills, by target: words (rows, columns)."""

    def __init__(self, findings: Findings, assets: Assets) -> None:
        self.findings, self.assets = findings, assets
        self.words: dict[str, Grid] = {}

    def fill(self, table: ColoursTable) -> None:
        """Set cells as ``table`` says. Raises WrongError."""
        _, cells = of(self.findings, table.target)
        words, each = self._filled(table.target), Together()
        each(lay, words, table, lambda cell, *sub: word(cells, cell.told, *sub), "blocks")
        if table.raw is not None and each.clear({"at"}):
            each(self._raw, table, cells, words)
        each.done()

    def put(self, picture: Coloured) -> None:
        """Set the cells of a picture's blocks, which lie within the bitmap."""
        _, cells = of(self.findings, picture.target)
        (column, row), (down, across) = picture.at, next(iter(picture.fields.values())).shape
        words = sum(cells.cell.layout[name].put(values) for name, values in picture.fields.items())
        self._filled(picture.target)[row : row + down, column : column + across] = words

    def _filled(self, target: str) -> Grid:
        """The cells of ``target``, which are zeros at first."""
        mode, _ = of(self.findings, target)
        return self.words.setdefault(target, np.zeros(mode.blocks[::-1], np.int64))

    def _raw(self, table: ColoursTable, cells: ColourCells, words: Grid) -> None:
        """Cells as they lie in memory, row after row of a rectangle of ``size``, or from the first cell on."""
        assert table.raw is not None
        each, (down, across) = Together(), words.shape
        given = each(self.assets.raw, table.raw, "raw", table.offset, table.length)
        if table.size is None and table.at != (0, 0):
            each.tell("raw without size is all cells as they lie in memory: at must be [0, 0]", "at")
        else:
            each(room_of, words, table.at, *(table.size or (across, down)), "blocks", "size")
        each.done()
        assert given is not None
        self._put(table, cells, given, room_of(words, table.at, *(table.size or (across, down)), "blocks", "size"))

    def _put(self, table: ColoursTable, cells: ColourCells, data: bytes, room: Grid) -> None:
        """Lay the cells of a file into ``room``. Raises WrongError where they are not as many."""
        whole, each = room.size * cells.cell_bytes, cells.cell_bytes
        if len(data) % each or len(data) > whole or (table.size is not None and len(data) < whole):
            most = "" if table.size is not None else "at most "
            raise WrongError(
                f"{table.raw} must be {most}{room.size} cells of {each} bytes, got {len(data)} bytes", "raw"
            )
        flat = room.reshape(-1).copy()
        flat[: len(data) // each] = np.frombuffer(data, self._type(cells))
        room[:] = flat.reshape(room.shape)

    def _type(self, cells: ColourCells) -> str:
        return f"{'<' if self.findings.chip.memory.byte_order == 'little' else '>'}u{cells.cell_bytes}"

    def images(self) -> Iterator[tuple[str, npt.NDArray[np.uint8]]]:
        """The controls that hold addresses, and the bytes that lie there."""
        for target, words in self.words.items():
            kind = self._type(of(self.findings, target)[1])
            yield f"{target}.colours", np.frombuffer(words.astype(kind).tobytes(), np.uint8)


def of(findings: Findings, target: str, key: str = "for") -> tuple[BitmapMode, ColourCells]:
    """The mode that ``target`` names, and its colour cells. Raises WrongError, at ``key``, where there are none."""
    known = findings.coloured()
    if target not in known:
        raise WrongError(none_of(target, known, f"a bitmap mode of {findings.chip.name} with colour cells"), key)
    mode = known[target]
    assert mode.colours is not None
    return mode, mode.colours


def word(cells: ColourCells, told: Mapping[str, int], *sub: str | int) -> int:
    """The word of a cell that stands at ``sub`` of the table. Raises WrongError."""
    each, layout, needed = Together(), cells.cell.layout, cells.cell.colouring
    if not needed.keys() <= told.keys() <= layout.keys():
        named = ", ".join(told) or "none"
        beside = "" if len(needed) == len(layout) else " and may have priority"
        each.tell(f"must have the fields {' and '.join(needed)}{beside}, got {named}", *sub)
    for name in [name for name in told if name in layout]:
        if told[name] > layout[name].top:
            each.tell(f"must be 0 to {layout[name].top}, got {told[name]}", *sub, name)
    each.done()
    return sum(layout[name].put(value) for name, value in told.items())
