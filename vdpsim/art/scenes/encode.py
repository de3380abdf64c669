"""Art in a chip's own bits: cells, maps, bitmaps and colours as words and bytes, and what the chip shows for them.

Law: every layout comes from the chip file; what is written here is read back by the functions beside it, dot for dot. Patterns
are laid out by ``scene.contents.formats.Format``, as a scene's own are. Knows no picture and no file.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.colour import expand, word
from ...chip.model import BitmapMode, Chip, PaletteTable, TextMode, TilesMode
from ...chip.tables.bitmap import ColourCells
from ...chip.tables.bits import Bits
from ...scene.contents.dots import lay, read_back
from ...scene.contents.formats import Format
from ...scene.contents.grid import paged, unpaged
from ...scene.contents.match import shown
from ...scene.findings import WrongError
from ..arrays import Block, Colour, Dots


def pattern_bytes(look: Format, patterns: Dots) -> bytes:
    """Patterns uint8 (count, height, width), values that fit the format's bits, as they lie in memory.

    That is one after another; sprites of tiles with a stride lie side by side. Of planes apart: all of plane 0, then plane 1 ...
    """
    return look.in_memory(look.packed(patterns)) if len(patterns) else b""


def pattern_dots(look: Format, data: bytes) -> Dots:
    """The patterns (count, height, width) in ``data``. Raises ValueError where it is not whole patterns."""
    try:
        return look.unpacked(look.from_memory(np.frombuffer(data, np.uint8)))
    except WrongError as wrong:
        raise ValueError(wrong.message) from None


def cell_words(layout: Mapping[str, Bits], fields: Mapping[str, npt.NDArray[Any]]) -> Block:
    """Packed words int64 of cells whose ``fields`` are arrays of one shape; what is not named is 0.

    Raises ValueError for a field that the layout has not, where it is not 0 everywhere, or a number that it does not hold.
    """
    shape = next(iter(fields.values())).shape
    words: Block = np.zeros(shape, np.int64)
    for name, values in fields.items():
        top = layout[name].top if name in layout else 0
        low, high = int(values.min(initial=0)), int(values.max(initial=0))
        if low < 0 or high > top:
            raise ValueError(f"{name} must be 0 to {top}, got {low if low < 0 else high}")
        if name in layout:
            words |= layout[name].put(values.astype(np.int64))
    return words


def cell_fields(layout: Mapping[str, Bits], words: Block) -> dict[str, Block]:
    """Every field of the layout, in arrays of the shape of ``words``."""
    return {name: bits.get(words) for name, bits in layout.items()}


def _cell_type(chip: Chip, mode: TilesMode | TextMode) -> str:
    return f"{'<' if chip.memory.byte_order == 'little' else '>'}u{mode.cell_bytes}"


def map_bytes(chip: Chip, mode: TilesMode, words: Block) -> bytes:
    """The whole map, words (rows, columns) of all its pages, as it lies in memory: page after page."""
    return paged(words, mode).astype(_cell_type(chip, mode)).tobytes()


def map_words(chip: Chip, mode: TilesMode, data: bytes) -> Block:
    """The words (rows, columns) of a whole map in ``data``. Raises ValueError for another length."""
    if len(data) != mode.map_bytes:
        raise ValueError(f"a map has {mode.map_bytes} bytes, got {len(data)}")
    return unpaged(np.frombuffer(data, _cell_type(chip, mode)).astype(np.int64), mode)


def bitmap_bytes(mode: BitmapMode, values: Dots) -> bytes:
    """A whole bitmap, values (height, width), as it lies in memory, planes apart one after another; bytes between lines are 0."""
    return lay(values[None], mode.raster, mode.first_dot).tobytes()


def bitmap_dots(mode: BitmapMode, data: bytes) -> Dots:
    """The values (height, width) of a whole bitmap in ``data``. Raises ValueError for another length."""
    raster = mode.raster
    if len(data) != raster.bases * raster.size:
        raise ValueError(f"a bitmap has {raster.bases * raster.size} bytes, got {len(data)}")
    image = np.frombuffer(data, np.uint8).reshape(1, raster.bases, raster.size)
    values: Dots = read_back(image, raster, mode.first_dot)[0]
    return values


def colour_bytes(chip: Chip, cells: ColourCells, words: Block) -> bytes:
    """The colour cells of a whole bitmap, words (rows, columns), as they lie in memory."""
    return words.astype(f"{'<' if chip.memory.byte_order == 'little' else '>'}u{cells.cell_bytes}").tobytes()


def cells_shown(mode: TilesMode, patterns: Dots, words: Block) -> Dots:
    """What cells show, turned and flipped: values (lines, dots) of words (rows, columns).

    Raises ValueError where a cell names a pattern that is not among ``patterns`` (count, down, across).
    """
    fields = cell_fields(mode.cell.layout, words.reshape(-1))
    number = fields["pattern"]
    if int(number.max(initial=-1)) >= len(patterns):
        raise ValueError(f"patterns go from 0 to {len(patterns) - 1}, got {int(number.max())}")
    tiles = patterns[number]
    for name in ("turn", "flip_x", "flip_y"):
        if name in fields:
            turned = fields[name] == 1
            tiles[turned] = shown(tiles[turned], {name: 1})
    down, across = words.shape
    wide, high = mode.tile
    return tiles.reshape(down, across, high, wide).transpose(0, 2, 1, 3).reshape(down * high, across * wide)


def colour_words(palette: PaletteTable, colours: Mapping[int, Colour]) -> dict[int, int]:
    """Packed words by entry, of 8-bit colours by entry: each the nearest that the chip has."""
    return {entry: word(palette, colour) for entry, colour in sorted(colours.items())}


def shown_colour(palette: PaletteTable, packed: int) -> Colour:
    """The 8-bit colour that a packed word shows."""
    red, green, blue = (expand(bits.get(packed), bits.width) for bits in palette.layout.values())
    return red, green, blue
