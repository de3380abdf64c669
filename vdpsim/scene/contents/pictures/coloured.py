"""A picture for a bitmap with colour cells: its dots, and the fields of its blocks' cells.

Law: the picture begins at a block's corner and is whole blocks; what a cell names, a bank or two colours, says how its block is
looked at. Knows neither the bitmap's bytes nor those of its cells.
"""

from __future__ import annotations

from dataclasses import dataclass

from ....chip.model import BitmapMode
from ...findings import Findings, WrongError
from ...tables.contents import BitmapTable
from ..assets import Assets
from ..dots import Dots, cut, joined, lowered
from .banks import Numbers, by_bank
from .pairs import by_pair
from .pieces import Pieces


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
