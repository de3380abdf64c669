"""Colour cells of a bitmap: which of them the rows show, and what they say of each dot.

Law: the cells of a group of the bitmap's dots are fetched together, however many of its blocks the row shows. Knows neither
values nor entries, and of conditions only whether they hold.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode
from ...chip.tables.bitmap import ColourCells
from .common import DrawnRows, Ground, Ints, Rows, crop, runs


@dataclass(eq=False, repr=False)
class ColourCellsShown:
    """The cells of each row's groups, ``each`` of a group: their ``words``, int64 (rows, cells).

    ``line`` (rows,): the address of the first cell of the row of blocks.
    """

    table: ColourCells
    lies: Ground
    width: int
    size: int
    across: int
    each: int
    line: Ints
    words: Ints

    @property
    def two(self) -> bool:
        """Whether a cell gives two colour numbers."""
        return self.table.two

    def dotwise(self, name: str) -> npt.NDArray[Any]:
        """A field of the cells, int64 (rows, width)."""
        dots = self.table.cell.layout[name].get(self.words)
        return crop(np.repeat(dots, self.lies.size // self.each, axis=1), self.lies.fine, self.width)

    def tell(self, drawn: DrawnRows, rows: Rows, mode: BitmapMode) -> None:
        """Put into ``drawn`` what the cells say to conditions and rules."""
        told = {name: self.dotwise(name) for name in mode.asked}
        drawn.met |= {when: when.holds(told[when.field]) for when in rows.conditions if when.field in told}
        if rows.fields:
            drawn.fields |= told

    def address_of(self, group: Ints) -> Ints:
        """Where the cells of a group begin (rows,), by its number on the surface."""
        found: Ints = (self.line + group * self.each % self.across * self.table.cell_bytes) % self.size
        return found

    def addresses(self) -> Ints:
        """Where the cells of each group begin, int64 (rows, groups)."""
        cells = (self.lies.group[:, None] + np.arange(self.lies.across)) * self.each % self.across
        return self.line[:, None] + cells * self.table.cell_bytes


def colour_cells(rows: Rows, mode: BitmapMode, table: ColourCells, lies: Ground) -> ColourCellsShown:
    """The colour cells of the rows, of which ``mode`` shows what ``lies`` says."""
    across, each = mode.blocks[0], mode.group(rows.plan.access) // table.block[0]
    base = rows.control(f"{rows.mode.prefix}.colours")
    line = base + lies.line // table.block[1] * across * table.cell_bytes
    starts, run = runs(*rows.fetch_keys()) if rows.kept else (np.arange(rows.count), None)
    cells = (lies.group[starts][:, None] * each + np.arange(lies.across * each)) % across
    when = rows.when(0)[starts]
    if when.shape[1] > 1:
        when = np.repeat(when, each, axis=1)
    places = rows.memory.translate(when, line[starts][:, None] + cells * table.cell_bytes)
    words = rows.store.cells(table.cell_bytes)[places // table.cell_bytes].astype(np.int64)
    if rows.kept and rows.kept.words:
        first = int(lies.first[0]) * each
        words[0, first : first + len(rows.kept.words)] = rows.kept.words
    words = words if run is None else words[run]
    return ColourCellsShown(table, lies, rows.plan.width, rows.memory.size, across, each, line, words)
