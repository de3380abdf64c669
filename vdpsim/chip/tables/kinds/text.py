"""Modes of kind ``text``: cells of a character and two colour numbers.

Law: sizes in bytes are derived here from the description, once. Knows nothing of how it is drawn.
"""

from functools import cached_property
from typing import Literal, Self

from pydantic import Field, model_validator

from ..bits import Bits, clashes
from ..modes import Mode
from ..table import Layout, Table, passed


class TextCell(Table):
    """The fields of a packed text cell; a colour that is not among them comes from a register."""

    character: Layout = Field(description="the bits of the cell that hold the glyph's number")
    foreground: Layout | None = Field(
        default=None,
        description="the bits that hold the colour number of set dots; left out: a control holds it for all cells",
    )
    background: Layout | None = Field(
        default=None,
        description="the bits that hold the colour number of the other dots; left out: a control holds it for "
        "all cells",
    )

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}


class TextMode(Mode):
    """Cells of a character and two colour numbers; glyphs of 1 bit a dot, a byte a row."""

    kind: Literal["text"] = Field(description="text: cells of a character and two colours")
    bits_per_dot: int = Field(default=1, description="bits of a glyph's dot, which is 1; left out: 1")
    glyph: tuple[int, int] = Field(description="dots of a glyph, across (4 to 8) and down (4 to 16)")
    cell_bytes: Literal[1, 2] = Field(description="bytes of a cell in memory")
    cell: TextCell = Field(description="which bits of a cell hold what")
    columns: int = Field(ge=1, le=256, description="cells of a row")
    rows: int = Field(ge=1, le=256, description="rows of cells")
    left: int = Field(default=0, ge=0, le=1023, description="dots of margin before the first column")
    margin: int | None = Field(default=None, ge=0, description="the entry of the margins; left out: transparent")

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wrong = clashes(self.cell.layout, 8 * self.cell_bytes)
        if self.bits_per_dot != 1:
            wrong.append(f"bits_per_dot of a text mode is 1, got {self.bits_per_dot}")
        if not (4 <= self.glyph[0] <= 8 and 4 <= self.glyph[1] <= 16):
            wrong.append(f"glyph must be 4 to 8 dots across and 4 to 16 down, got {list(self.glyph)}")
        return passed(self, wrong)

    @property
    def top_value(self) -> int:
        """The largest value of a glyph's dot."""
        return 1

    @property
    def map_bytes(self) -> int:
        """Bytes of all cells, row after row."""
        return self.columns * self.rows * self.cell_bytes

    @property
    def pattern_bytes(self) -> int:
        """Bytes of a glyph."""
        return self.glyph[1]
