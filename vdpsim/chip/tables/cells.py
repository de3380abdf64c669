"""Modes that are maps of cells: of kind ``tiles``, which show patterns, and of kind ``text``, which show glyphs in two colours.

Law: sizes in bytes are derived here from the description, once. Knows nothing of how it is drawn.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import core_schema

from ...door.shown import value as shown
from .bits import Bits, clashes
from .modes import Mode, SurfaceMode
from .pattern import Raster
from .table import Layout, Table, passed, read_by, single

MOST_PAGES = 8
"""Pages of a map each way."""

Order = Literal["rows", "columns"]

SIDES = range(4, 33, 4)
"""Dots that a tile can have each way."""


def tile_sides(value: object) -> tuple[int, int]:
    """Dots of a tile across and down, of one number for both or of two. Raises ValueError for anything else."""
    given = tuple(value) if isinstance(value, list | tuple) else (value, value)
    if len(given) != 2 or not all(type(side) is int and side in SIDES for side in given):
        told = "must be a number of dots or [across, down], each a multiple of 4 from 4 to 32"
        raise ValueError(f"{told}, got {shown(value)}")
    return given


_number_schema = core_schema.int_schema(ge=SIDES[0], le=SIDES[-1], multiple_of=SIDES.step)
TileSides = Annotated[
    tuple[int, int],
    read_by(
        tile_sides,
        core_schema.union_schema([_number_schema, core_schema.tuple_schema([_number_schema, _number_schema])]),
        lambda sides: sides[0] if sides[0] == sides[1] else list(sides),
    ),
]


class TileCell(Table):
    """The fields of a packed cell of a tile map; only ``pattern`` must be there."""

    pattern: Layout = Field(description="the bits of the cell that hold the pattern's number")
    flip_x: Layout | None = Field(
        default=None, description="the bit that turns the pattern left for right; left out: never"
    )
    flip_y: Layout | None = Field(
        default=None, description="the bit that turns the pattern upside down; left out: never"
    )
    turn: Layout | None = Field(
        default=None, description="the bit that turns it a quarter clockwise, before the flips; left out: never"
    )
    bank: Layout | None = Field(
        default=None, description="the bits that hold the bank; left out: the layer's control holds it, or it is 0"
    )
    priority: Layout | None = Field(
        default=None, description="the bits that a rung's condition can ask; left out: none"
    )

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _one_bit(self) -> Self:
        return passed(self, single(self.layout, ("flip_x", "flip_y", "turn")))


class TilesMode(SurfaceMode):
    """A map of cells, each of which shows a pattern."""

    kind: Literal["tiles"] = Field(description="tiles: a map of cells, each of which shows a pattern")
    tile: TileSides = Field(
        description="dots of a tile, [across, down], or one number for both: multiples of 4 from 4 to 32"
    )
    cell_bytes: Literal[1, 2] = Field(description="bytes of a cell in memory")
    cell: TileCell = Field(description="which bits of a cell hold what")
    page: tuple[int, int] = Field(description="cells of a page, across and down; 1 to 256 each way")
    pages: tuple[int, int] = Field(
        default=(1, 1), description="pages of the map, across and down, 1 to 8 each way; left out: one page"
    )
    page_order: Order = Field(
        default="rows", description="how pages follow one another in memory: row by row, or column by column"
    )
    cell_order: Order = Field(default="rows", description="how a page's cells follow one another in memory")

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wrong = clashes(self.cell.layout, 8 * self.cell_bytes)
        if self.cell.turn is not None and self.tile[0] != self.tile[1]:
            wrong.append(f"turn needs a tile as wide as it is high, got {list(self.tile)}")
        if not all(1 <= cells <= 256 for cells in self.page):
            wrong.append(f"page must have 1 to 256 cells each way, got {list(self.page)}")
        if not all(1 <= pages <= MOST_PAGES for pages in self.pages):
            wrong.append(f"pages must be 1 to {MOST_PAGES} each way, got {list(self.pages)}")
        return passed(self, wrong)

    @property
    def asked(self) -> Mapping[str, Bits]:
        """All fields of its cells."""
        return self.cell.layout

    @property
    def columns(self) -> int:
        """Cells of the whole map, across."""
        return self.page[0] * self.pages[0]

    @property
    def rows(self) -> int:
        """Cells of the whole map, down."""
        return self.page[1] * self.pages[1]

    @property
    def size(self) -> tuple[int, int]:
        """Dots of the whole map across, and lines down."""
        return self.columns * self.tile[0], self.rows * self.tile[1]

    @property
    def extent(self) -> tuple[int, int]:
        """Dots and lines of the picture that the whole map takes."""
        return self.doubled(self.size)

    @property
    def steps(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """How many cells further in memory the next page lies, across and down, and the next cell of a page."""
        (wide, high), (across, down) = self.page, self.pages
        page, cells = (down, 1) if self.page_order == "columns" else (1, across), wide * high
        return (page[0] * cells, page[1] * cells), (high, 1) if self.cell_order == "columns" else (1, wide)

    @cached_property
    def raster(self) -> Raster:
        """How a pattern's rows lie in memory."""
        return Raster(*self.tile, self.bits_per_dot, self.planes)

    @cached_property
    def pattern_bytes(self) -> int:
        """Bytes from a pattern to the next, at each base address."""
        return self.raster.size

    @property
    def map_bytes(self) -> int:
        """Bytes of a whole map, every page."""
        return self.columns * self.rows * self.cell_bytes


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
