"""Colour cells: what lies in memory block by block of a bitmap's dots.

Law: a cell has all the fields that its layout names, each within its bits. Every table of cells starts as zeros; tables act in
the order of the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode
from ...chip.tables.kinds.colours import ColourCells
from ..findings import Findings, WrongError, none_of
from ..tables.blocks import ColoursTable
from .assets import Assets
from .pictures.coloured import Coloured

Words = npt.NDArray[np.int64]


class Blocks:
    """The colour cells of every bitmap whose cells the scene fills, by target: words (rows, columns)."""

    def __init__(self, findings: Findings, assets: Assets) -> None:
        self.findings, self.assets = findings, assets
        self.words: dict[str, Words] = {}

    def fill(self, table: ColoursTable) -> None:
        """Set cells as ``table`` says. Raises WrongError."""
        mode, cells = _of(self.findings, table.target)
        words = self._filled(table.target)
        column, row = table.at
        if table.fill is not None:
            across, down = table.size or (mode.blocks[0] - column, mode.blocks[1] - row)
            _room(words, table.at, across, down, "size" if table.size else "at")[:] = _word(
                cells, table.fill.told, "fill"
            )
        if table.rows is not None:
            for line, told in enumerate(table.rows):
                found = [_word(cells, cell.told, "rows", line, at) for at, cell in enumerate(told)]
                _room(words, (column, row + line), len(found), 1, "rows", line)[0] = found
        elif table.raw is not None:
            self._raw(table, cells, words)

    def put(self, picture: Coloured) -> None:
        """Set the cells of a picture's blocks, which lie within the bitmap."""
        _, cells = _of(self.findings, picture.target)
        (column, row), (down, across) = picture.at, next(iter(picture.fields.values())).shape
        words = sum(cells.cell.layout[name].put(values) for name, values in picture.fields.items())
        self._filled(picture.target)[row : row + down, column : column + across] = words

    def _filled(self, target: str) -> Words:
        """The cells of ``target``, which are zeros at first."""
        mode, _ = _of(self.findings, target)
        return self.words.setdefault(target, np.zeros(mode.blocks[::-1], np.int64))

    def _raw(self, table: ColoursTable, cells: ColourCells, words: Words) -> None:
        """Cells as they lie in memory, row after row of a rectangle of ``size``, or from the first cell on."""
        assert table.raw is not None
        data = self.assets.raw(table.raw, "raw", table.offset, table.length)
        down, across = words.shape
        if table.size is None and table.at != (0, 0):
            raise WrongError("raw without size is all cells as they lie in memory: at must be [0, 0]", "at")
        room = _room(words, table.at, *(table.size or (across, down)), "size")
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
            kind = self._type(_of(self.findings, target)[1])
            yield f"{target}.colours", np.frombuffer(words.astype(kind).tobytes(), np.uint8)


def coloured(findings: Findings) -> dict[str, BitmapMode]:
    """The chip's bitmap modes with colour cells, by LAYER.MODE."""
    modes = {target: findings.mode(target, "bitmap") for target in findings.targets("bitmap")}
    return {target: mode for target, mode in modes.items() if isinstance(mode, BitmapMode) and mode.colours}


def _of(findings: Findings, target: str) -> tuple[BitmapMode, ColourCells]:
    """The mode that ``target`` names, and its colour cells. Raises WrongError where there are none."""
    known = coloured(findings)
    if target not in known:
        raise WrongError(none_of(target, known, f"a bitmap mode of {findings.chip.name} with colour cells"), "for")
    mode = known[target]
    assert mode.colours is not None
    return mode, mode.colours


def _word(cells: ColourCells, told: Mapping[str, int], *sub: str | int) -> int:
    """The word of a cell that stands at ``sub`` of the table. Raises WrongError."""
    layout = cells.cell.layout
    if told.keys() != layout.keys():
        named = ", ".join(told) or "none"
        raise WrongError(f"must have the fields {' and '.join(layout)}, got {named}", *sub)
    word = 0
    for name, value in told.items():
        if value > layout[name].top:
            raise WrongError(f"must be 0 to {layout[name].top}, got {value}", *sub, name)
        word |= layout[name].put(value)
    return word


def _room(words: Words, at: tuple[int, int], across: int, down: int, *sub: str | int) -> Words:
    """The part of ``words`` from column and row ``at`` on. Raises WrongError where it sticks out, or where nothing is left."""
    (column, row), (high, wide) = at, words.shape
    if across < 1 or down < 1 or column + across > wide or row + down > high:
        raise WrongError(f"{across}x{down} cells at [{column}, {row}] must lie within {wide}x{high} blocks", *sub)
    return words[row : row + down, column : column + across]
