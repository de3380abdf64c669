"""Bitmaps: what lies in memory dot by dot.

Law: a dot has the value that the scene tells, within the mode's bits. Every bitmap starts as zeros; tables act in the order of
the file. Which colour cells a picture
fills is kept for whoever lays them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from ...chip.controls import address_names
from ...chip.model import BitmapMode
from ..findings import Findings, Place, Together, WrongError
from ..tables.contents import BitmapTable
from .assets import Assets
from .dots import Dots, digits, lay, lowered, read_back

if TYPE_CHECKING:
    from .blocks import Coloured


class Bitmaps:
    """The bytes of every bitmap that the scene fills, by target, uint8 (base addresses, bytes).

    ``coloured`` are the pictures that decide colour cells; ``starting`` has the controls' values at the scene's beginning.
    """

    def __init__(self, findings: Findings, assets: Assets, starting: Mapping[str, int]) -> None:
        self.findings, self.assets, self.starting = findings, assets, starting
        self.coloured: list[Coloured] = []
        self.filled: dict[str, Dots] = {}

    def fill(self, index: int, table: BitmapTable, *, shared: bool) -> None:
        """Set dots as ``table``, number ``index`` of its list, says; ``shared``: not the bitmap's only one. Raises WrongError."""
        mode = self.findings.mode(table.target, "bitmap")
        assert isinstance(mode, BitmapMode)
        image = self.filled.setdefault(table.target, np.zeros((mode.raster.bases, mode.raster.size), np.uint8))
        each, (dot, line) = Together(), table.at
        inside = dot < mode.width and line < mode.height
        if not inside:
            each.tell(f"must be a dot and line of {mode.width}x{mode.height}, got {list(table.at)}", "at")
        if table.raw is not None:
            if inside:
                each(self._raw, table, mode, image, None if shared else ("bitmaps", index, "raw"))
        elif table.banked:
            each(self._banked, table, mode, image)
        else:
            key = "png" if table.rows is None else "rows"
            dots = each(self._dots, table, mode)
            if inside and dots is not None:
                each(_put, image, mode, table, dots, key)
        each.done()

    def _dots(self, table: BitmapTable, mode: BitmapMode) -> Dots:
        """The dots of rows or of a picture. Raises WrongError."""
        if table.rows is not None:
            return digits(table.rows, mode.bits_per_dot, None)
        assert table.png is not None
        indices = self.assets.picture(table.png, "png").indices
        return lowered(indices, table.subtract, mode.top_value, table.png)

    def _raw(self, table: BitmapTable, mode: BitmapMode, image: Dots, alone: Place | None) -> None:
        """Bytes as they lie in memory, from the start of a line on; of planes apart one plane after another.

        ``alone``: where to warn of too few, for the only table.
        """
        assert table.raw is not None
        each, (dot, line) = Together(), table.at
        if line and mode.planes in ("by pattern", "apart"):
            told = f"raw bytes of planes {mode.planes} start at the first dot of all: must be [0, 0]"
            each.tell(f"{told}, got {list(table.at)}", "at")
        elif dot:
            each.tell(f"raw bytes start at a line's first dot: must be [0, {line}], got {list(table.at)}", "at")
        given = each(self.assets.raw, table.raw, "raw", table.offset, table.length)
        each.done()
        assert given is not None
        data = np.frombuffer(given, np.uint8)
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
        from .blocks import coloured_picture  # noqa: PLC0415 - few scenes have colour cells

        bank = self.starting.get(f"{table.target.partition('.')[0]}.bank", 0)
        made = coloured_picture(self.findings, self.assets, table, mode, bank)
        _put(image, mode, table, made.dots, "png")
        self.coloured.append(made)

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
