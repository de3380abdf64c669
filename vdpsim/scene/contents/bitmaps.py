"""Bitmaps: what lies in memory dot by dot.

Law: a dot has the value that the scene tells, within the mode's bits. Every bitmap starts as zeros; tables act in the order of
the file. A picture whose indices are palette entries fills the colour cells of its blocks as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from ...chip.controls import address_names
from ...chip.model import BitmapMode
from ..findings import Findings, Place, WrongError
from ..tables.contents import BitmapTable
from .assets import Assets
from .blocks import Blocks
from .dots import Dots, cut, digits, joined, lay, lowered, read_back
from .pictures.banks import by_bank
from .pictures.pairs import by_pair
from .pictures.pieces import Pieces


class Bitmaps:
    """The bytes of every bitmap that the scene fills, by target, uint8 (base addresses, bytes).

    ``blocks`` takes the colour cells that pictures decide; ``starting`` has the controls' values at the scene's beginning.
    """

    def __init__(self, findings: Findings, assets: Assets, blocks: Blocks, starting: Mapping[str, int]) -> None:
        self.findings, self.assets, self.blocks, self.starting = findings, assets, blocks, starting
        self.filled: dict[str, Dots] = {}

    def fill(self, index: int, table: BitmapTable, *, shared: bool) -> None:
        """Set dots as ``table``, number ``index`` of its list, says; ``shared``: not the bitmap's only one. Raises WrongError."""
        mode = self.findings.mode(table.target, "bitmap")
        assert isinstance(mode, BitmapMode)
        image = self.filled.setdefault(table.target, np.zeros((mode.raster.bases, mode.raster.size), np.uint8))
        dot, line = table.at
        if dot >= mode.width or line >= mode.height:
            raise WrongError(f"must be a dot and line of {mode.width}x{mode.height}, got {list(table.at)}", "at")
        if table.raw is not None:
            self._raw(table, mode, image, None if shared else ("bitmaps", index, "raw"))
        elif table.rows is not None:
            _put(image, mode, table, digits(table.rows, mode.bits_per_dot, None), "rows")
        elif table.banked:
            self._banked(table, mode, image)
        else:
            assert table.png is not None
            indices = self.assets.picture(table.png, "png").indices
            _put(image, mode, table, lowered(indices, table.subtract, mode.top_value, table.png), "png")

    def _raw(self, table: BitmapTable, mode: BitmapMode, image: Dots, alone: Place | None) -> None:
        """Bytes as they lie in memory, from the start of a line on; of planes apart one plane after another.

        ``alone``: where to warn of too few, for the only table.
        """
        assert table.raw is not None
        dot, line = table.at
        if dot:
            raise WrongError(f"raw bytes start at a line's first dot: must be [0, {line}], got {list(table.at)}", "at")
        if line and mode.planes in ("by pattern", "apart"):
            told = f"raw bytes of planes {mode.planes} start at the first dot of all: must be [0, 0]"
            raise WrongError(f"{told}, got {list(table.at)}", "at")
        data = np.frombuffer(self.assets.raw(table.raw, "raw", table.offset, table.length), np.uint8)
        start = line * mode.raster.step
        room = image.size - start
        if len(data) > room:
            raise WrongError(f"{table.raw} must be at most {room} bytes from line {line} on, got {len(data)}", "raw")
        if alone and len(data) < room and table.length is None:
            short = room - len(data)
            self.findings.warn(alone, f"{table.raw} is {short} bytes shorter than the {room} from line {line} on")
        image.reshape(-1)[start : start + len(data)] = data

    def _banked(self, table: BitmapTable, mode: BitmapMode, image: Dots) -> None:
        """A picture's dots and the colour cells of its blocks. Raises WrongError, then with nothing set."""
        assert table.png is not None
        if mode.colours is None:
            raise WrongError(f"{table.target} has no colour cells", "banked")
        across, down = mode.colours.block
        if table.at[0] % across or table.at[1] % down:
            told = f"must be the first dot and line of a block of {across}x{down}"
            raise WrongError(f"{told}, got {list(table.at)}", "at")
        indices = self.assets.picture(table.png, "png").indices
        entries = lowered(indices, table.subtract, 255 - table.subtract, table.png)
        first = table.at[0] // across, table.at[1] // down
        columns = entries.shape[1] // across
        pieces = Pieces(cut(entries, across, down, table.png), columns, table.png, "block", first)
        if mode.colours.cell.bank is not None:
            values, banks = by_bank(self.findings.chip, mode, mode.colours.cell.bank.top, pieces, "png")
            fields = {"bank": banks}
        else:
            bank = self.starting.get(f"{table.target.partition('.')[0]}.bank", 0)
            values, fields = by_pair(self.findings.chip, mode, mode.colours, bank, pieces, "png")
        _put(image, mode, table, joined(values, columns), "png")
        self.blocks.put(table.target, first, {name: found.reshape(-1, columns) for name, found in fields.items()})

    def images(self) -> Iterator[tuple[str, Dots]]:
        """The controls that hold addresses, and the bytes that lie there."""
        for target, image in self.filled.items():
            yield from zip(address_names(target, self.findings.mode(target, "bitmap")), image, strict=True)


def _put(image: Dots, mode: BitmapMode, table: BitmapTable, dots: Dots, key: str) -> None:
    """Set a rectangle of dots in ``image``. Raises WrongError, at ``key``, where it sticks out."""
    (dot, line), (high, wide) = table.at, dots.shape
    if dot + wide > mode.width or line + high > mode.height:
        raise WrongError(
            f"{wide}x{high} dots at {list(table.at)} must lie within the bitmap of {mode.width}x{mode.height}", key
        )
    values = read_back(image[None], mode.raster, mode.first_dot)
    values[0, line : line + high, dot : dot + wide] = dots
    lay(values, mode.raster, mode.first_dot, image[None])
