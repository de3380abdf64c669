"""Colour cells: what lies in memory block by block of a bitmap's dots, and pictures for a bitmap that decide its cells.

Law: a cell has all the fields that its layout names, each within its bits. Every table of cells starts as zeros; tables act in
the order of the file. A picture begins at a block's corner and is whole blocks; what a cell names, a bank or two colours, says
how its block is looked at. With two colours a block has one or two entries. The one that more of its dots have is its
background, of two as frequent the lower; but where only the other way round do both numbers fit their fields, it is that way. A
block of one entry has it in both fields and dots of value 0; a field that does not hold it is 0, and is that the background's,
then its dots are 1. Knows no bitmap's bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode, Chip
from ...chip.tables.bitmap import TWO_COLOURS, ColourCells
from ..findings import Findings, Together, WrongError, none_of
from ..tables.blocks import ColoursTable
from ..tables.contents import BitmapTable
from .assets import Assets
from .banks import Numbers, Pieces, by_bank, opaque_first, values_by_entry
from .dots import Dots, cut, joined, lowered
from .grid import Grid, lay, room_of

Mask = npt.NDArray[np.bool_]


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


@dataclass(frozen=True, eq=False, repr=False)
class Coloured:
    """``dots`` uint8 (lines, dots), and from block column and row ``at`` on each field of the cells, int64 (rows, columns)."""

    target: str
    at: tuple[int, int]
    dots: Dots
    fields: dict[str, Numbers]


def coloured_picture(findings: Findings, assets: Assets, table: BitmapTable, mode: BitmapMode, bank: int) -> Coloured:
    """The table's picture; ``bank``: the layer's, from which two colours count. Raises WrongError."""
    cells = mode.colours
    if cells is None:
        raise WrongError(f"{table.target} has no colour cells", "banked")
    pieces = _pieces(assets, table, cells.block)
    if cells.cell.bank is not None:
        values, banks = by_bank(findings.chip, mode, cells.cell.bank.top, pieces, "png")
        fields = {"bank": banks}
    else:
        values, fields = by_pair(findings.chip, mode, cells, bank, pieces, "png")
    rows = {name: found.reshape(-1, pieces.columns) for name, found in fields.items()}
    return Coloured(table.target, pieces.first, joined(values, pieces.columns), rows)


def _pieces(assets: Assets, table: BitmapTable, block: tuple[int, int]) -> Pieces:
    """The table's picture in blocks of so many dots across and down. Raises WrongError where it is not whole ones."""
    (across, down), (dot, line) = block, table.at
    if dot % across or line % down:
        told = f"must be the first dot and line of a block of {across}x{down}"
        raise WrongError(f"{told}, got {list(table.at)}", "at")
    assert table.png is not None
    indices = assets.picture(table.png, "png").indices
    entries = lowered(indices, table.subtract, 255 - table.subtract, table.png)
    blocks = cut(entries, across, down, table.png)
    return Pieces(blocks, entries.shape[1] // across, table.png, "block", (dot // across, line // down))


def by_pair(
    chip: Chip, mode: BitmapMode, cells: ColourCells, bank: int, pieces: Pieces, key: str
) -> tuple[Dots, dict[str, Numbers]]:
    """The dots of the blocks, uint8 (count, down, across), and their cells' foreground and background, int64 (count) each.

    ``bank``: the layer's, from which the numbers count. Raises WrongError, at ``key``, that counts the blocks that have more
    entries or such as no number shows.
    """
    numbers = values_by_entry(chip, mode, bank, opaque_first(cells.top, mode.transparent))
    tops = {name: bits.top for name, bits in cells.cell.colouring.items()}
    back, fore, two = _two(pieces.entries)
    swapped = ~_fit(numbers, fore, back, tops) & _fit(numbers, back, fore, tops)
    back, fore = np.where(swapped, fore, back), np.where(swapped, back, fore)
    alone = (fore == back) & (numbers[back] >= 0)
    wrong = ~two | ~(_fit(numbers, fore, back, tops) | alone)
    if wrong.any():
        limits = ", ".join(f"0 to {tops[name]} ({name})" for name in TWO_COLOURS)
        demand = f"have one or two entries of numbers {limits}"
        raise pieces.refused(wrong, demand, lambda entry: _said(entry, int(numbers[entry])), key)
    dots = (pieces.entries != back[:, None, None]) | (alone & (numbers[back] > tops["background"]))[:, None, None]
    shown = {"foreground": numbers[fore], "background": numbers[back]}
    return dots.astype(np.uint8), {name: np.where(found > tops[name], 0, found) for name, found in shown.items()}


def _two(entries: Dots) -> tuple[Dots, Dots, Mask]:
    """The more frequent and the other entry of each block, the same where it has one, and whether it has no third."""
    flat = entries.reshape(len(entries), -1)
    low, high = flat.min(axis=1), flat.max(axis=1)
    lows, highs = (flat == low[:, None]).sum(axis=1), (flat == high[:, None]).sum(axis=1)
    often = np.where(highs > lows, high, low)
    return often, np.where(highs > lows, low, high), (lows + highs == flat.shape[1]) | (low == high)


def _fit(numbers: Numbers, fore: Dots, back: Dots, tops: dict[str, int]) -> Mask:
    """Whether each block's entries have numbers that fit these fields."""
    first, second = numbers[fore], numbers[back]
    return (first >= 0) & (first <= tops["foreground"]) & (second >= 0) & (second <= tops["background"])


def _said(entry: int, number: int) -> str:
    """What a message says of an entry beside how many dots have it: its number, where it is another."""
    if number < 0:
        return "no number"
    return "" if number == entry else f"number {number}"
