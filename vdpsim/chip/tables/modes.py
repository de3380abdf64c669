"""A chip's layers: their modes, how a value becomes an entry, and the rungs of a ladder.

Law: a kind of layer is one class, told apart by ``kind``; what all kinds have stands in Mode. Sizes in bytes are derived
here from the description, once. Knows no sprite and nothing of how a layer is drawn.
"""

from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from .bits import Bits, clashes
from .planes import ABOUT_BITS, ABOUT_PLANES, Planes, Raster
from .table import FirstDot, Layout, Name, Origin, Table, When, passed, single


class Entries(Table):
    """How a value becomes an entry: ``base + bank x bank_step + value x value_step``.

    With the steps left out it is base + bank x bank_size + value. A ``value_step`` of the bank size lets a source live in
    just those entries that the others give up as transparent (the first of each bank).
    """

    base: int = Field(default=0, ge=0)
    bank_step: int | None = Field(
        default=None, ge=0, description="entries from one bank to the next; left out: the bank size"
    )
    value_step: int = Field(default=1, ge=0)


class Rung(Table):
    """One step of the ladder: a layer's name or ``sprites``, and the condition under which it stands here."""

    source: Name
    when: When | None = None

    def __str__(self) -> str:
        return self.source if self.when is None else f"{self.source} when {self.when}"


class Mode(Table):
    """What every kind of mode has."""

    name: Name
    bits_per_dot: int = Field(default=1, ge=1, le=8, description=ABOUT_BITS)
    first_dot: FirstDot = Field(default="high", description="which end of a byte holds the leftmost dot")
    origin: Origin = Field(
        default="picture", description="where line 0 of the mode lies: at the picture's top or its zone's"
    )
    entries: Entries = Entries()
    transparent: int | None = Field(
        default=None, ge=0, le=255, description="the value that shows nothing; left out: none"
    )
    exclusive: tuple[Name, ...] | None = Field(
        default=None, description="layers that are switched off where this mode shows"
    )
    ladder: tuple[Rung, ...] | None = Field(default=None, description="the ladder where this exclusive mode shows")

    @property
    def top_value(self) -> int:
        """The largest value of a dot."""
        return (1 << self.bits_per_dot) - 1

    @model_validator(mode="after")
    def _ladder_needs_exclusive(self) -> Self:
        wrong = (
            ["ladder is only for a mode that says exclusive"]
            if self.ladder is not None and self.exclusive is None
            else []
        )
        return passed(self, wrong)


class TileCell(Table):
    """The fields of a packed cell of a tile map; only ``pattern`` must be there."""

    pattern: Layout
    flip_x: Layout | None = None
    flip_y: Layout | None = None
    turn: Layout | None = Field(default=None, description="a quarter turn clockwise, done before the flips")
    bank: Layout | None = None
    priority: Layout | None = None

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _one_bit(self) -> Self:
        return passed(self, single(self.layout, ("flip_x", "flip_y", "turn")))


class TilesMode(Mode):
    """A map of cells, each of which shows a square pattern."""

    kind: Literal["tiles"]
    tile: Literal[8, 16] = Field(description="dots of a tile's side")
    bits_per_dot: int = Field(ge=1, le=8, description=ABOUT_BITS)
    planes: Planes | None = Field(default=None, description=ABOUT_PLANES)
    cell_bytes: Literal[1, 2]
    cell: TileCell
    page: tuple[int, int] = Field(description="cells of a page, across and down")
    pages: tuple[int, int] = Field(
        default=(1, 1), description="pages of the map, across and down: 1x1, 2x1, 1x2 or 2x2"
    )
    scroll: bool = True

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wrong = clashes(self.cell.layout, 8 * self.cell_bytes)
        if not all(1 <= cells <= 256 for cells in self.page):
            wrong.append(f"page must have 1 to 256 cells each way, got {list(self.page)}")
        if not all(1 <= pages <= 2 for pages in self.pages):
            wrong.append(f"pages must be 1 or 2 each way, got {list(self.pages)}")
        return passed(self, wrong)

    @property
    def columns(self) -> int:
        """Cells of the whole map, across."""
        return self.page[0] * self.pages[0]

    @property
    def rows(self) -> int:
        """Cells of the whole map, down."""
        return self.page[1] * self.pages[1]

    @cached_property
    def raster(self) -> Raster:
        """How a pattern's rows lie in memory."""
        return Raster(self.tile, self.tile, self.bits_per_dot, self.planes)

    @property
    def pattern_bytes(self) -> int:
        """Bytes from a pattern to the next, at each base address."""
        return self.raster.size

    @property
    def map_bytes(self) -> int:
        """Bytes of a whole map, every page."""
        return self.columns * self.rows * self.cell_bytes


class BitmapMode(Mode):
    """A value for each dot, line after line in memory; it wraps both ways."""

    kind: Literal["bitmap"]
    bits_per_dot: int = Field(ge=1, le=8, description=ABOUT_BITS)
    planes: Planes | None = Field(default=None, description=ABOUT_PLANES)
    width: int = Field(ge=8, le=4096, description="dots of a line in memory; it wraps there")
    height: int = Field(ge=1, le=4096, description="lines in memory; it wraps there")
    stride: int | None = Field(
        default=None, ge=1, le=8192, description="bytes from a line to the next; left out: packed"
    )
    scroll: bool = True

    @cached_property
    def raster(self) -> Raster:
        """How its lines lie in memory."""
        return Raster(self.width, self.height, self.bits_per_dot, self.planes, self.stride)

    @property
    def map_bytes(self) -> int:
        """Bytes from the first dot to the last, at each base address."""
        return self.raster.size


class TextCell(Table):
    """The fields of a packed text cell; a colour that is not among them comes from a register."""

    character: Layout
    foreground: Layout | None = None
    background: Layout | None = None

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}


class TextMode(Mode):
    """Cells of a character and two colour numbers; glyphs of 1 bit a dot, a byte a row."""

    kind: Literal["text"]
    glyph: tuple[int, int] = Field(description="dots of a glyph, across (4 to 8) and down (4 to 16)")
    cell_bytes: Literal[1, 2]
    cell: TextCell
    columns: int = Field(ge=1, le=256)
    rows: int = Field(ge=1, le=256)
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
    def map_bytes(self) -> int:
        """Bytes of all cells, row after row."""
        return self.columns * self.rows * self.cell_bytes

    @property
    def pattern_bytes(self) -> int:
        """Bytes of a glyph."""
        return self.glyph[1]


AnyMode = Annotated[TilesMode | BitmapMode | TextMode, Field(discriminator="kind")]


class Layer(Table):
    """A full-width source of dots. With two modes or more, registers say which runs above and below a line."""

    name: Name
    modes: tuple[AnyMode, ...] = Field(min_length=1, max_length=8)

    def mode(self, name: str) -> TilesMode | BitmapMode | TextMode:
        """The mode called ``name``; KeyError where the layer has none."""
        for mode in self.modes:
            if mode.name == name:
                return mode
        raise KeyError(name)
