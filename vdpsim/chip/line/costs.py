"""What things cost in accesses: a group of a layer's mode, a sprite, and a scan of the sprite table.

Law: costs follow from the chip's description alone, and are worked out here for the engine, the slots and the budgets alike.
"""

from __future__ import annotations

from typing import NamedTuple

from ..controls import once
from ..model import AnyMode, BitmapMode, Chip, TextMode, TilesMode

SCANNED = ("y", "size", "enable")
"""The fields of a record that say whether a sprite lies on a line."""


class ModeCosts(NamedTuple):
    """A group's dots of the picture, the accesses that each client makes for it, and those for the pattern of a turned cell."""

    size: int
    costs: dict[str, int]
    turned: int


class Scan(NamedTuple):
    """A scan of a sprite table in memory: which accesses of a record every line makes to find its sprites.

    ``words``: their numbers within a record, in order. ``accesses``: those of a line, for all records. ``rest``: those that are
    left of a record, made for a sprite that is drawn. Empty and 0 for a table on the chip.
    """

    words: tuple[int, ...]
    accesses: int
    rest: int


def costs_of(chip: Chip) -> list[list[ModeCosts]]:
    """What a group takes, by layer and mode."""
    return once(chip, "_costs", lambda: [[mode_costs(chip, mode) for mode in layer.modes] for layer in chip.layers])


def mode_costs(chip: Chip, mode: AnyMode) -> ModeCosts:
    """What a group of ``mode`` takes."""
    accesses, access = chip.memory.accesses, chip.memory.bytes_per_access
    if isinstance(mode, TilesMode):
        costs = {"cells": accesses(mode.cell_bytes), "pattern": mode.raster.row_accesses(access)}
        return ModeCosts(mode.doubled(mode.tile)[0], costs, mode.tile[1] * mode.raster.dot_accesses(access))
    if isinstance(mode, TextMode):
        return ModeCosts(mode.doubled(mode.glyph)[0], {"cells": accesses(mode.cell_bytes), "glyphs": 1}, 0)
    assert isinstance(mode, BitmapMode)
    return _bitmap_costs(mode, access)


def _bitmap_costs(mode: BitmapMode, access: int) -> ModeCosts:
    """What a group of a bitmap takes: its colour cells, where there are any, and its dots in each plane."""
    dots, cells = mode.group(access), mode.colours
    costs = {} if cells is None else {"colours": max(1, dots // cells.block[0] * cells.cell_bytes // access)}
    costs["bitmap"] = len(mode.raster.bit_places) * (dots // mode.raster.dots_per_access(access))
    return ModeCosts(dots * mode.double[0], costs, 0)


def scan_of(chip: Chip) -> Scan:
    """The scan of the chip's sprite table: accesses that hold a bit of y, size or enable."""
    return once(chip, "_scan", lambda: _scan_of(chip))


def _scan_of(chip: Chip) -> Scan:
    sprites, memory = chip.sprites, chip.memory
    if sprites is None or sprites.table == "chip":
        return Scan((), 0, 0)
    bits = {bit for name in SCANNED if name in sprites.fields.layout for bit in _bits(sprites.fields.layout[name].mask)}
    found = {bit // 8 if memory.byte_order == "little" else sprites.record_bytes - 1 - bit // 8 for bit in bits}
    words = tuple(sorted({byte // memory.bytes_per_access for byte in found}))
    return Scan(words, len(words) * sprites.count, sprites.record_bytes // memory.bytes_per_access - len(words))


def sprite_costs(chip: Chip) -> tuple[int, ...]:
    """What a drawn sprite of each size costs: its pattern's row and the rest of its record; empty without sprites."""
    return once(chip, "_sprite_costs", lambda: _sprite_costs(chip))


def _sprite_costs(chip: Chip) -> tuple[int, ...]:
    sprites = chip.sprites
    if sprites is None:
        return ()
    width, rest = chip.memory.bytes_per_access, scan_of(chip).rest
    return tuple(one.accesses(width) + rest for one in sprites.patterns)


def _bits(mask: int) -> list[int]:
    return [bit for bit in range(mask.bit_length()) if mask >> bit & 1]
