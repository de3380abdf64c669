"""Modes of kind ``bitmap``: a value for each dot, line after line in memory.

Law: sizes in bytes are derived here from the description, once. Knows nothing of how it is drawn.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Literal, Self

from pydantic import Field, model_validator

from ..bits import Bits
from ..planes import Raster
from ..table import passed
from .colours import ColourCells
from .surface import SurfaceMode


class BitmapMode(SurfaceMode):
    """A value for each dot, line after line in memory."""

    kind: Literal["bitmap"] = Field(description="a bitmap: a value for each dot")
    width: int = Field(ge=8, le=4096, description="dots of a line in memory")
    height: int = Field(ge=1, le=4096, description="lines in memory")
    stride: int | None = Field(
        default=None, ge=1, le=8192, description="bytes from a line to the next; left out: packed"
    )

    colours: ColourCells | None = Field(
        default=None, description="a cell for each block of dots that says their colours or bank; left out: none"
    )

    @model_validator(mode="after")
    def _whole_blocks(self) -> Self:
        wrong, cells = [], self.colours
        if cells is not None and (self.width % cells.block[0] or self.height % cells.block[1]):
            size = f"{self.width}x{self.height}"
            wrong.append(f"the bitmap must be whole blocks of {cells.block[0]}x{cells.block[1]} dots, got {size}")
        if cells is not None and cells.two and self.bits_per_dot != 1:
            wrong.append(f"bits_per_dot beside foreground and background is 1, got {self.bits_per_dot}")
        return passed(self, wrong)

    @property
    def asked(self) -> Mapping[str, Bits]:
        """The priority of its colour cells, where they have any."""
        return (
            {}
            if self.colours is None or self.colours.cell.priority is None
            else {"priority": self.colours.cell.priority}
        )

    @property
    def blocks(self) -> tuple[int, int]:
        """Blocks that have a colour cell, across and down; none where there are no such cells."""
        if self.colours is None:
            return 0, 0
        return self.width // self.colours.block[0], self.height // self.colours.block[1]

    @property
    def colour_bytes(self) -> int:
        """Bytes of all colour cells."""
        return 0 if self.colours is None else self.blocks[0] * self.blocks[1] * self.colours.cell_bytes

    def group(self, access: int) -> int:
        """Dots that are fetched together: those of an access of ``access`` bytes or, where it is wider, those of a block."""
        dots = self.raster.dots_per_access(access)
        return dots if self.colours is None else max(dots, self.colours.block[0])

    @property
    def size(self) -> tuple[int, int]:
        """Dots of a line, and lines."""
        return self.width, self.height

    @property
    def extent(self) -> tuple[int, int]:
        """Dots and lines of the picture that the whole bitmap takes."""
        return self.doubled(self.size)

    @cached_property
    def raster(self) -> Raster:
        """How its lines lie in memory."""
        return Raster(self.width, self.height, self.bits_per_dot, self.planes, self.stride)

    @property
    def map_bytes(self) -> int:
        """Bytes from the first dot to the last, at each base address."""
        return self.raster.size
