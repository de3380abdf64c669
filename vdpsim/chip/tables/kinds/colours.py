"""Colour cells: a second table beside a bitmap, one cell for each block of its dots.

Law: a cell gives a block two colour numbers, one for dots of value 0 and one for those of value 1, or the bank of its dots; it
may say besides what a rung's condition asks. Knows layouts and no bitmap.
"""

from functools import cached_property
from typing import Literal, Self

from pydantic import Field, model_validator

from ..bits import Bits, clashes
from ..table import Layout, Table, passed

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
