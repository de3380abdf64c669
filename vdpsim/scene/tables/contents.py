"""Tables of a scene file that fill palette and memory: colours, patterns, maps, bitmaps, texts and sprites.

Law: each class is one table of the file. An unknown key is an error. Only what can be said without the chip is checked here.
Knows no pixels and no files.
"""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from ...chip.model import Name, Table
from ...door.shown import value as shown
from .values import Colour, Count, Extent, Filled, GroupRef, PatternRef, Place, SizeRef, Sourced, whole


class CellTable(Table):
    """The fields of a map's cell; which there are is the chip's matter."""

    pattern: PatternRef | None = Field(
        default=None,
        description="a pattern's number, up to what the cell's field holds, or its name; left out: number 0",
    )
    flip_x: Count | None = Field(default=None, description="1: left for right; left out: 0")
    flip_y: Count | None = Field(default=None, description="1: upside down; left out: 0")
    turn: Count | None = Field(default=None, description="1: a quarter turn clockwise; left out: 0")
    bank: Count | None = Field(default=None, description="its bank, up to what the cell's field holds; left out: 0")
    priority: Count | None = Field(
        default=None, description="what a rung's condition asks, up to what the cell's field holds; left out: 0"
    )

    @property
    def told(self) -> dict[str, int | str]:
        """The fields that this cell names."""
        return {name: value for name in type(self).model_fields if (value := getattr(self, name)) is not None}


class WrittenCellTable(CellTable):
    """The fields of a map's cell or of a bitmap's colour cell; which there are is the chip's matter."""

    foreground: Count | None = Field(
        default=None,
        description="colour number of a block's dots of value 1; left out: none, where the cell has no such field",
    )
    background: Count | None = Field(
        default=None,
        description="colour number of a block's dots of value 0; left out: none, where the cell has no such field",
    )


def _cell(value: object) -> object:
    if isinstance(value, str) or whole(value):
        return {"pattern": value}
    if isinstance(value, dict):
        return value
    raise ValueError(f"must be a pattern's number, its name or a table of fields, got {shown(value)}")


Cell = Annotated[CellTable, BeforeValidator(_cell, json_schema_input_type=int | str | CellTable)]
WrittenCell = Annotated[WrittenCellTable, BeforeValidator(_cell, json_schema_input_type=int | str | WrittenCellTable)]


class PaletteTable(Sourced):
    """Colours for palette entries ``at`` and on: listed, or those of a paletted PNG from its colour ``first`` on."""

    SOURCES: ClassVar[tuple[str, ...]] = ("colours", "png")
    GOES_WITH: ClassVar = {"first": ("png",), "count": ("png",)}

    at: Count = Field(default=0, description="the first entry that is filled; an entry of the palette")
    colours: tuple[Colour, ...] | None = Field(
        None,
        min_length=1,
        description='colours such as "#1a2b3c" or "#123", or packed words of 0 or more; left out: those of png',
    )
    png: str | None = Field(
        default=None,
        description="path of a paletted PNG, from the scene file's folder, whose colours are taken; left out: "
        "colours lists them",
    )
    first: int = Field(0, ge=0, le=255, description="the PNG's first colour that is taken")
    count: int | None = Field(None, ge=1, le=256, description="how many of them; left out: all from the first on")


class PatternsTable(Sourced):
    """Patterns for a tiles or text mode, or for the sprites, from number ``at`` on."""

    SOURCES: ClassVar[tuple[str, ...]] = ("png", "raw", "rows", "font")
    GOES_WITH: ClassVar = {"subtract": ("png",), "count": ("png",), "offset": ("raw",), "length": ("raw",)}

    name: Name | None = Field(
        default=None,
        description="what cells, sprites and writes call the first of them, name+1 the next; left out: they "
        "have numbers alone",
    )
    target: str = Field(alias="for", description='LAYER.MODE or "sprites"')
    at: Count | None = Field(None, description="number of the first; left out: after those of the tables before")
    size: Extent | None = Field(
        None,
        description="sprites: dots across and down, one of the chip's sizes, each 1 or more; left out: the "
        "chip's first size",
    )
    png: str | None = Field(
        default=None,
        description="path of a paletted or grey PNG, from the scene file's folder, cut into patterns; left out: "
        "another key says what",
    )
    subtract: int = Field(0, ge=0, le=255, description="taken from each of the PNG's dots first")
    count: int | None = Field(None, ge=1, description="only so many of the PNG's patterns; left out: all")
    raw: str | None = Field(
        default=None, description="path of a file of patterns as they lie in memory; left out: another key says what"
    )
    offset: Count = Field(0, description="bytes of the raw file that are passed over")
    length: int | None = Field(None, ge=1, description="bytes taken from it; left out: all that follow")
    rows: tuple[str, ...] | None = Field(
        None, min_length=1, description="hex digits, one row of a pattern each; left out: another key says what"
    )
    font: Literal["builtin"] | None = Field(
        default=None,
        description="builtin: a small font of 95 characters, for text modes; left out: another key says what",
    )


class MapTable(Filled):
    """Cells of a tiles mode's map, from column and row ``at`` on: first ``fill`` over ``size``, then one source."""

    SOURCES: ClassVar[tuple[str, ...]] = ("rows", "text", "picture", "raw")
    GOES_WITH: ClassVar = {
        "key": ("text",),
        "size": ("fill", "raw"),
        "make": ("picture",),
        "banked": ("picture",),
        "subtract": ("picture",),
        "offset": ("raw",),
        "length": ("raw",),
    }

    target: str = Field(alias="for", description="LAYER.MODE of kind tiles")
    at: Place = Field(default=(0, 0), description="column and row of the first cell that is filled, each 0 or more")
    fill: Cell | None = Field(
        default=None,
        description="a pattern's number, up to what is loaded, or its name, or a table of fields, for every "
        "cell of size; left out: these cells stay as they are",
    )
    size: Extent | None = Field(
        None, description="columns and rows of fill or raw, each 1 or more; left out: to the map's end"
    )
    rows: tuple[tuple[Cell, ...], ...] | None = Field(
        None,
        min_length=1,
        description="rows of cells, each a pattern's number, up to what is loaded, or its name, or a table of "
        "fields; left out: another key says what, or fill does",
    )
    text: str | None = Field(
        default=None,
        description="lines of characters, each of which key makes a cell; left out: another key says what, or "
        "fill does",
    )
    key: dict[str, Cell] | None = Field(
        None,
        description="for each character of text its cell: a pattern's number, up to what is loaded, or its "
        "name, or a table of fields; left out: for other keys than text",
    )
    picture: str | None = Field(
        default=None,
        description="path of a paletted or grey PNG, from the scene file's folder, whose tiles become cells; "
        "left out: another key says what",
    )
    make: bool = Field(default=False, description="distinct tiles of the picture become patterns")
    banked: bool = Field(
        default=False,
        description="the picture's indices are palette entries, by the mode's own rule, and decide each tile's bank: of those "
        "that have all entries of the tile, by the palette's own rule the one in whose bank_size entries they lie; then one that "
        "shows all of them before one that shows some as nothing; then the lowest",
    )
    subtract: int = Field(0, ge=0, le=255, description="taken from each of the picture's dots first")
    raw: str | None = Field(
        default=None,
        description="path of a file of cells as they lie in memory or, with size, row by row; left out: another "
        "key says what",
    )
    offset: Count = Field(default=0, description="bytes of the raw file that are passed over")
    length: int | None = Field(None, ge=1, description="bytes taken from it; left out: all that follow")
    set: CellTable = Field(
        CellTable.model_construct(),
        description="fields of the cells that do not say otherwise; left out: 0 in all fields",
    )


class BitmapTable(Sourced):
    """Dots of a bitmap mode, from dot and line ``at`` on."""

    SOURCES: ClassVar[tuple[str, ...]] = ("png", "raw", "rows")
    GOES_WITH: ClassVar = {"subtract": ("png",), "banked": ("png",), "offset": ("raw",), "length": ("raw",)}

    target: str = Field(alias="for", description="LAYER.MODE of kind bitmap")
    at: Place = Field(default=(0, 0), description="dot and line of the first dot that is set, each 0 or more")
    png: str | None = Field(
        default=None,
        description="path of a paletted or grey PNG, from the scene file's folder, whose dots are set; left "
        "out: another key says what",
    )
    subtract: int = Field(0, ge=0, le=255, description="taken from each of the PNG's dots first")
    banked: bool = Field(
        default=False,
        description="the PNG's indices are palette entries, and fill the colour cells of its blocks too: each block's bank, "
        "or its one or two colours, of which the more frequent is the background, of two as frequent the lower, unless they fit "
        "the cell's fields only the other way round",
    )
    raw: str | None = Field(
        None,
        description="bytes as they lie in memory from the start of line at[1] on, from a file at this path; "
        "left out: another key says what",
    )
    offset: Count = Field(default=0, description="bytes of the raw file that are passed over")
    length: int | None = Field(None, ge=1, description="bytes taken from it; left out: all that follow")
    rows: tuple[str, ...] | None = Field(
        None, min_length=1, description="hex digits, a line of dots each; left out: another key says what"
    )

    def fills_cells(self, target: str) -> bool:
        """Whether it fills the colour cells of ``target``."""
        return self.banked and self.target == target


class TextTable(Table):
    """Characters of a text mode, from column and row ``at`` on; a line break goes to the next row, below the first column."""

    target: str = Field(alias="for", description="LAYER.MODE of kind text")
    at: Place = Field(default=(0, 0), description="column and row of the first character, each 0 or more")
    text: str = Field(min_length=1, description="the characters; a line break goes to the next row")
    foreground: Count = Field(1, description="colour number, where the cell has the field")
    background: Count = Field(default=0, description="colour number, where the cell has the field")


class SpriteSet(Table):
    """Fields of a sprite's record; which there are is the chip's matter."""

    x: int | None = Field(
        default=None, description="dot of the left edge, up to what its field holds; left out: as it was"
    )
    y: int | None = Field(
        default=None, description="line of the upper edge, up to what its field holds; left out: as it was"
    )
    pattern: PatternRef | None = Field(
        default=None, description="a pattern's number or name, up to what its field holds; left out: as it was"
    )
    pattern_bank: Count | None = Field(
        None, description="bits above those of pattern; left out: as the pattern's whole number says"
    )
    flip_x: Count | None = Field(default=None, description="1: left for right; left out: 0 at first, then as it was")
    flip_y: Count | None = Field(default=None, description="1: upside down; left out: 0 at first, then as it was")
    bank: Count | None = Field(
        default=None, description="its bank, up to what its field holds; left out: 0 at first, then as it was"
    )
    priority: Count | None = Field(
        default=None,
        description="what a rung's condition asks, up to what its field holds; left out: 0 at first, then as it was",
    )
    size: SizeRef = Field(
        default=None,
        description="dots across and down, or the size's number from 0, one of the chip's sizes; left out: the "
        "first at first, then as it was",
    )
    group: GroupRef | None = Field(
        default=None,
        description="a collision group's name or number, up to what its field holds; left out: 0 at first, then "
        "as it was",
    )
    enable: Count | None = Field(default=None, description="1: shown; left out: 1 at first, then as it was")
    x_bias: Count | None = Field(
        default=None,
        description="1: moved left by the chip's x_bias dots; left out: as x asks for at first, then as it was",
    )

    @property
    def told(self) -> dict[str, Any]:
        """The fields that this table names."""
        return {name: value for name in SpriteSet.model_fields if (value := getattr(self, name)) is not None}


class SpriteTable(SpriteSet):
    """A sprite: its name, its place in the table, and its fields."""

    name: Name = Field(description="what motion and writes call it; no two alike")
    number: Count | None = Field(None, description="place in the sprite table; left out: the next free one")
    x: int = Field(description="dot of the left edge, up to what its field holds")
    y: int = Field(description="line of the upper edge, up to what its field holds")
    pattern: PatternRef = Field(description="a pattern's number or name, up to what its field holds")
