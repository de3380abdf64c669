"""Tables of a scene file that fill palette and memory: colours, patterns, maps, bitmaps, texts and sprites.

Law: each class is one table of the file. An unknown key is an error. Only what can be said without the chip is checked here.
Knows no pixels and no files.
"""

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from ...chip.model import Name, Table
from ...door.shown import value as shown
from .sourced import Sourced
from .values import Colour, Count, Extent, GroupRef, PatternRef, Place, SizeRef, whole


class CellTable(Table):
    """The fields of a map's cell; which there are is the chip's matter."""

    pattern: PatternRef | None = None
    flip_x: Count | None = None
    flip_y: Count | None = None
    turn: Count | None = None
    bank: Count | None = None
    priority: Count | None = None

    @property
    def told(self) -> dict[str, int | str]:
        """The fields that this cell names."""
        return {name: value for name in type(self).model_fields if (value := getattr(self, name)) is not None}


def _cell(value: object) -> object:
    if isinstance(value, str) or whole(value):
        return {"pattern": value}
    if isinstance(value, dict):
        return value
    raise ValueError(f"must be a pattern's number, its name or a table of fields, got {shown(value)}")


Cell = Annotated[CellTable, BeforeValidator(_cell, json_schema_input_type=int | str | CellTable)]


class PaletteTable(Sourced):
    """Colours for palette entries ``at`` and on: listed, or those of a paletted PNG from its colour ``first`` on."""

    SOURCES = ("colours", "png")
    GOES_WITH: ClassVar = {"first": ("png",), "count": ("png",)}

    at: Count = 0
    colours: tuple[Colour, ...] | None = Field(None, min_length=1)
    png: str | None = None
    first: int = Field(0, ge=0, le=255, description="the PNG's first colour that is taken")
    count: int | None = Field(None, ge=1, le=256, description="how many of them; left out: all from the first on")


class PatternsTable(Sourced):
    """Patterns for a tiles or text mode, or for the sprites, from number ``at`` on."""

    SOURCES = ("png", "raw", "rows", "font")
    GOES_WITH: ClassVar = {"subtract": ("png",), "count": ("png",), "offset": ("raw",), "length": ("raw",)}

    name: Name | None = None
    target: str = Field(alias="for", description='LAYER.MODE or "sprites"')
    at: Count | None = Field(None, description="number of the first; left out: after those of the tables before")
    size: Extent | None = Field(None, description="sprites: dots across and down; left out: the chip's first size")
    png: str | None = None
    subtract: int = Field(0, ge=0, le=255, description="taken from each of the PNG's dots first")
    count: int | None = Field(None, ge=1, description="only so many of the PNG's patterns")
    raw: str | None = None
    offset: Count = Field(0, description="bytes of the raw file that are passed over")
    length: int | None = Field(None, ge=1, description="bytes taken from it; left out: all that follow")
    rows: tuple[str, ...] | None = Field(None, min_length=1, description="hex digits, one row of a pattern each")
    font: Literal["builtin"] | None = None


class MapTable(Sourced):
    """Cells of a tiles mode's map, from column and row ``at`` on: first ``fill`` over ``size``, then one source."""

    SOURCES = ("rows", "text", "picture", "raw")
    LEAST = 0
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
    at: Place = (0, 0)
    fill: Cell | None = None
    size: Extent | None = Field(None, description="columns and rows of fill or raw; left out: to the map's end")
    rows: tuple[tuple[Cell, ...], ...] | None = Field(None, min_length=1)
    text: str | None = None
    key: dict[str, Cell] | None = Field(None, description="the cell for each character of text")
    picture: str | None = None
    make: bool = Field(default=False, description="distinct tiles of the picture become patterns")
    banked: bool = Field(default=False, description="a tile's bank is its dots' index divided by the bank size")
    subtract: int = Field(0, ge=0, le=255)
    raw: str | None = None
    offset: Count = 0
    length: int | None = Field(None, ge=1)
    set: CellTable = Field(CellTable(), description="fields of the cells that do not say otherwise")

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.fill is None and not self.given.intersection(self.SOURCES):
            raise ValueError(f"must have fill or one of {', '.join(self.SOURCES)}, got none")
        if self.text is not None and self.key is None:
            raise ValueError("text needs a key that gives a cell for each character")
        return self


class BitmapTable(Sourced):
    """Dots of a bitmap mode, from dot and line ``at`` on."""

    SOURCES = ("png", "raw", "rows")
    GOES_WITH: ClassVar = {"subtract": ("png",), "offset": ("raw",), "length": ("raw",)}

    target: str = Field(alias="for", description="LAYER.MODE of kind bitmap")
    at: Place = (0, 0)
    png: str | None = None
    subtract: int = Field(0, ge=0, le=255)
    raw: str | None = Field(None, description="bytes as they lie in memory from the start of line at[1] on")
    offset: Count = 0
    length: int | None = Field(None, ge=1)
    rows: tuple[str, ...] | None = Field(None, min_length=1)


class TextTable(Table):
    """Characters of a text mode, from column and row ``at`` on; a line break goes to the next row, below the first column."""

    target: str = Field(alias="for", description="LAYER.MODE of kind text")
    at: Place = (0, 0)
    text: str = Field(min_length=1)
    foreground: Count = Field(1, description="colour number, where the cell has the field")
    background: Count = 0


class SpriteSet(Table):
    """Fields of a sprite's record; which there are is the chip's matter."""

    x: int | None = None
    y: int | None = None
    pattern: PatternRef | None = None
    pattern_bank: Count | None = Field(
        None, description="bits above those of pattern; left out: as the pattern's whole number says"
    )
    flip_x: Count | None = None
    flip_y: Count | None = None
    bank: Count | None = None
    priority: Count | None = None
    size: SizeRef = None
    group: GroupRef | None = None
    enable: Count | None = None
    x_bias: Count | None = None

    @property
    def told(self) -> dict[str, Any]:
        """The fields that this table names."""
        return {name: value for name in SpriteSet.model_fields if (value := getattr(self, name)) is not None}


class SpriteTable(SpriteSet):
    """A sprite: its name, its place in the table, and its fields."""

    name: Name
    number: Count | None = Field(None, description="place in the sprite table; left out: the next free one")
    x: int
    y: int
    pattern: PatternRef
