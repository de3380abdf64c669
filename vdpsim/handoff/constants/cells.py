"""Constants of cells: which bits of a cell's word hold what, and which of them conditions of rungs ask.

Law: tables by mode, numbered as ``layers.py`` has them. Knows no ladder and no language.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ...chip.model import AnyMode, BitmapMode, Chip
from .layers import OneMode, all_modes
from .table import Item, Section, constant, layout, numbers
from .table import places as bit_places

CELL_BITS = 16
CELL_FIELDS = ("pattern", "flip_x", "flip_y", "turn", "bank", "priority", "character", "foreground", "background")


def sections(chip: Chip) -> Iterator[Section]:
    """The section of cells."""
    yield Section("Cells", "Which bits of a cell hold what.", tuple(_cells(all_modes(chip))))


def _cells(known: list[OneMode]) -> Iterator[Item]:
    yield constant("cell bits", CELL_BITS, "rows of a mode in the tables of this section")
    layouts = [_layout(one.mode) for one in known]
    for field in CELL_FIELDS:
        yield numbers(
            f"cells {field}",
            (bit for one in layouts for bit in bit_places(one.get(field), CELL_BITS)),
            f"{field}: bit i of it in mode m stands in bit [m x 16 + i] of the cell; -1: no such bit",
        )
    for one, fields in zip(known, layouts, strict=True):
        for name, bits in fields.items():
            yield from layout(("cell", one.layer.name, one.mode.name, name), bits, f"{one.prefix}, {name}")


def _layout(mode: AnyMode) -> Mapping[str, Any]:
    if isinstance(mode, BitmapMode):
        return {} if mode.colours is None else mode.colours.cell.layout
    return mode.cell.layout
