"""Tables of a scene file that fill the colour cells of bitmaps, block by block.

Law: as for all that fills memory, an unknown key is an error, and only what can be said without the chip is checked here. Knows
no pixels and no files.
"""

from typing import ClassVar

from pydantic import Field

from ...chip.model import Table
from .values import Count, Extent, Filled, Place


class ColourCellTable(Table):
    """The fields of a colour cell; which there are is the chip's matter."""

    foreground: Count | None = Field(
        None, description="colour number of the block's dots of value 1; left out: the cell names a bank"
    )
    background: Count | None = Field(
        None, description="colour number of the block's dots of value 0; left out: the cell names a bank"
    )
    bank: Count | None = Field(None, description="bank of the block's dots; left out: the cell names two colours")
    priority: Count | None = Field(
        None, description="what a rung's condition asks, up to what the cell's field holds; left out: 0"
    )

    @property
    def told(self) -> dict[str, int]:
        """The fields that this cell names."""
        return {name: value for name in type(self).model_fields if (value := getattr(self, name)) is not None}


class ColoursTable(Filled):
    """Colour cells of a bitmap mode, from column and row ``at`` of its blocks on: ``fill`` over ``size``, then one source."""

    SOURCES: ClassVar[tuple[str, ...]] = ("rows", "text", "raw")
    GOES_WITH: ClassVar = {"key": ("text",), "size": ("fill", "raw"), "offset": ("raw",), "length": ("raw",)}

    target: str = Field(alias="for", description="LAYER.MODE of kind bitmap with colour cells")
    at: Place = Field((0, 0), description="column and row of blocks; 0 or more each; left out: [0, 0]")
    fill: ColourCellTable | None = Field(None, description="a cell for all blocks of size; left out: none")
    size: Extent | None = Field(
        None, description="columns and rows of fill or raw; 1 or more each; left out: to the last block"
    )
    rows: tuple[tuple[ColourCellTable, ...], ...] | None = Field(
        None, min_length=1, description="cells row by row; left out: none"
    )
    text: str | None = Field(
        None,
        description="lines of characters, each of which key makes a cell; left out: another key says what, or fill does",
    )
    key: dict[str, ColourCellTable] | None = Field(
        None, description="for each character of text its cell, a table of fields; left out: for other keys than text"
    )
    raw: str | None = Field(None, description="path of a file with cells as they lie in memory; left out: none")
    offset: Count = Field(0, description="byte of the file to begin at; left out: 0")
    length: int | None = Field(None, ge=1, description="how many bytes of the file; left out: all from offset on")
