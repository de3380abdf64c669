"""Modes of kind ``bitmap``: a value for each dot, line after line, and colour cells beside them, one for each block of dots.

Law: sizes in bytes are derived here from the description, once. A colour cell gives a block two colour numbers, one for dots of
value 0 and one for those of value 1, or the bank of its dots; it may say besides what a rung's condition asks. Knows nothing of
how it is drawn.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Literal, Self

from pydantic import Field, model_validator

from .bits import Bits, clashes
from .modes import SurfaceMode
from .pattern import Raster
from .table import Layout, Table, passed

TWO_COLOURS = ("foreground", "background")


class ColourCell(Table):
    """The fields of a packed colour cell: ``foreground`` and ``background``, or ``bank``; and ``priority`` beside them."""

    foreground: Layout | None = Field(
        default=None, description="colour number of the block's dots of value 1; left out: a bank is named"
    )
    background: Layout | None = Field(
        default=None, description="colour number of the block's dots of value 0; left out: a bank is named"
    )
    bank: Layout | None = Field(default=None, description="bank of the block's dots; left out: two colours are named")
    priority: Layout | None = Field(
        default=None, description="what a rung's condition asks of the block's dots; left out: 0 for all"
    )

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}

    @cached_property
    def colouring(self) -> dict[str, Bits]:
        """The fields that colour the block: two colours, or a bank."""
        return {name: bits for name, bits in self.layout.items() if name != "priority"}

    @model_validator(mode="after")
    def _one_or_two(self) -> Self:
        named = ", ".join(self.colouring) or "none"
        wrong = (
            []
            if set(self.colouring) in ({*TWO_COLOURS}, {"bank"})
            else ["must have foreground and background, or bank alone"]
        )
        return passed(self, [f"{one}, got {named}" for one in wrong])


class ColourCells(Table):
    """A cell for each block of a bitmap's dots; rows of blocks lie one after another."""

    block: tuple[int, int] = Field(description="dots of a block across (4 to 64) and lines down (1 to 64)")
    cell_bytes: Literal[1, 2] = Field(description="bytes of a cell")
    cell: ColourCell = Field(
        description="which bits of a cell hold what: foreground and background, or bank alone; and priority"
    )

    @property
    def two(self) -> bool:
        """Whether a cell gives two colour numbers, and no bank."""
        return self.cell.bank is None

    @property
    def top(self) -> int:
        """The largest colour number of a cell that gives two."""
        return max(bits.top for bits in self.cell.colouring.values())

    @property
    def both(self) -> int:
        """The largest colour number that either of two can be."""
        return min(bits.top for bits in self.cell.colouring.values())

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wrong = clashes(self.cell.layout, 8 * self.cell_bytes)
        if not (4 <= self.block[0] <= 64 and 1 <= self.block[1] <= 64):
            wrong.append(f"block must be 4 to 64 dots across and 1 to 64 lines down, got {list(self.block)}")
        return passed(self, wrong)


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
