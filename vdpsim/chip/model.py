"""The chip file's words: what one hardware design is, as immutable objects.

Law: every size, limit and layout of a chip stands here and nowhere else. Each class is one table of the file; what a key
means, its unit and its range stand beside it. An unknown key is an error. What several tables must agree on is checked in
``checks.py``; this module knows no scene, no pixels and no files.
"""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, GetPydanticSchema, model_validator
from pydantic_core import core_schema

from .bits import Bits, clashes
from .condition import Condition

NAME = r"^[a-z][a-z0-9_]*$"
RESERVED = ("sprites", "backdrop", "palette", "memory")

_layout_schema = core_schema.no_info_plain_validator_function(
    lambda value: value if isinstance(value, Bits) else Bits.parse(_text(value)),
    serialization=core_schema.plain_serializer_function_ser_schema(str),
    json_schema_input_schema=core_schema.str_schema(pattern=r"^\d+(:\d+)?(\s*,\s*\d+(:\d+)?)*$"),
)
Layout = Annotated[Bits, GetPydanticSchema(lambda _source, _handler: _layout_schema)]
Name = Annotated[str, Field(pattern=NAME, max_length=40)]
Depth = Literal[1, 2, 4, 8]
FirstDot = Literal["high", "low"]
Origin = Literal["picture", "zone"]
Effect = Literal["at once", "next line", "next frame"]


def _text(value: object) -> str:
    if not isinstance(value, str):
        # pydantic collects a ValueError as a finding of the file
        raise ValueError(f'must be a text in part-select notation such as "10:0", got {value!r}')  # noqa: TRY004
    return value


AnyTable = TypeVar("AnyTable")


class Table(BaseModel):
    """A table of the chip file: read strictly, frozen, closed to unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Border(Table):
    """The frame around the active picture that shows the backdrop; dots at the sides, lines above and below."""

    left: int = Field(default=0, ge=0, le=256)
    right: int = Field(default=0, ge=0, le=256)
    top: int = Field(default=0, ge=0, le=256)
    bottom: int = Field(default=0, ge=0, le=256)


class FrameTable(Table):
    """The frame: its size in dots and lines, and how fast the dots come."""

    width: int = Field(ge=64, le=1024, description="active dots a line; a multiple of 8")
    height: int = Field(ge=64, le=768, description="active lines")
    border: Border = Border()
    dot_clock: int = Field(ge=1_000, le=1_000_000_000, description="dots a second, Hz")
    dots_per_line: int = Field(ge=64, le=8192, description="all dots of a line, blanking included")
    lines_per_frame: int = Field(ge=64, le=8192, description="all lines of a frame, blanking included")
    backdrop: int = Field(default=0, ge=0, description="the entry that shows where every rung is transparent, at reset")

    @model_validator(mode="after")
    def _fits(self) -> FrameTable:
        wide = self.width + self.border.left + self.border.right
        high = self.height + self.border.top + self.border.bottom
        wrong = []
        if self.width % 8:
            wrong.append(f"width must be a multiple of 8 dots, got {self.width}")
        if wide > self.dots_per_line:
            wrong.append(f"dots_per_line must be at least width and border, {wide}, got {self.dots_per_line}")
        if high > self.lines_per_frame:
            wrong.append(f"lines_per_frame must be at least height and border, {high}, got {self.lines_per_frame}")
        return _passed(self, wrong)


class MemoryTable(Table):
    """Video memory: one access reads ``bytes_per_access`` bytes at an address that is a multiple of it."""

    size: int = Field(ge=256, le=16 << 20, description="bytes; a multiple of 256")
    bytes_per_access: Literal[1, 2, 4, 8] = Field(description="bytes that one fetch brings")
    byte_order: Literal["little", "big"] = Field(
        default="little", description="which byte of a two-byte cell or a sprite's record comes first in memory"
    )

    @model_validator(mode="after")
    def _fits(self) -> MemoryTable:
        return _passed(self, [f"size must be a multiple of 256, got {self.size}"] if self.size % 256 else [])


class PaletteTable(Table):
    """The shared palette: ``entries`` packed colour words, each with red, green and blue of 1 to 8 bits."""

    entries: int = Field(ge=2, le=4096)
    bank_size: int = Field(ge=1, le=4096, description="entries a bank")
    red: Layout
    green: Layout
    blue: Layout

    @model_validator(mode="after")
    def _fits(self) -> PaletteTable:
        layout = self.layout
        wrong = clashes(layout, 32)
        wrong += [f"{name} must have 1 to 8 bits, got {str(bits)!r}" for name, bits in layout.items() if bits.width > 8]
        if self.bank_size > self.entries:
            wrong.append(f"bank_size must be at most entries, {self.entries}, got {self.bank_size}")
        return _passed(self, wrong)

    @property
    def layout(self) -> dict[str, Bits]:
        """The three colour fields of an entry's packed word."""
        return {"red": self.red, "green": self.green, "blue": self.blue}

    @property
    def word_bits(self) -> int:
        """Bits of a packed colour word, from bit 0 to the highest one used."""
        return 1 + max(bits.highest for bits in self.layout.values())


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


_condition_schema = core_schema.no_info_plain_validator_function(
    lambda value: value if isinstance(value, Condition) else Condition(_text(value)),
    serialization=core_schema.plain_serializer_function_ser_schema(str),
    json_schema_input_schema=core_schema.str_schema(pattern=Condition.GRAMMAR.pattern),
)


class Rung(Table):
    """One step of the ladder: a layer's name or ``sprites``, and the condition under which it stands here."""

    source: Name
    when: Annotated[Condition, GetPydanticSchema(lambda _source, _handler: _condition_schema)] | None = None

    def __str__(self) -> str:
        return self.source if self.when is None else f"{self.source} when {self.when}"


class Mode(Table):
    """What every kind of mode has."""

    name: Name
    bits_per_dot: Depth = 1
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
    def _ladder_needs_exclusive(self) -> Mode:
        wrong = (
            ["ladder is only for a mode that says exclusive"]
            if self.ladder is not None and self.exclusive is None
            else []
        )
        return _passed(self, wrong)


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
    def _one_bit(self) -> TileCell:
        return _passed(self, _single(self.layout, ("flip_x", "flip_y", "turn")))


class TilesMode(Mode):
    """A map of cells, each of which shows a square pattern."""

    kind: Literal["tiles"]
    tile: Literal[8, 16] = Field(description="dots of a tile's side")
    bits_per_dot: Depth
    cell_bytes: Literal[1, 2]
    cell: TileCell
    page: tuple[int, int] = Field(description="cells of a page, across and down")
    pages: tuple[int, int] = Field(
        default=(1, 1), description="pages of the map, across and down: 1x1, 2x1, 1x2 or 2x2"
    )
    scroll: bool = True

    @model_validator(mode="after")
    def _fits(self) -> TilesMode:
        wrong = clashes(self.cell.layout, 8 * self.cell_bytes)
        if not all(1 <= cells <= 256 for cells in self.page):
            wrong.append(f"page must have 1 to 256 cells each way, got {list(self.page)}")
        if not all(1 <= pages <= 2 for pages in self.pages):
            wrong.append(f"pages must be 1 or 2 each way, got {list(self.pages)}")
        return _passed(self, wrong)

    @property
    def columns(self) -> int:
        """Cells of the whole map, across."""
        return self.page[0] * self.pages[0]

    @property
    def rows(self) -> int:
        """Cells of the whole map, down."""
        return self.page[1] * self.pages[1]

    @property
    def row_bytes(self) -> int:
        """Bytes of one row of a pattern's dots."""
        return self.tile * self.bits_per_dot // 8

    @property
    def pattern_bytes(self) -> int:
        """Bytes of a whole pattern."""
        return self.row_bytes * self.tile

    @property
    def map_bytes(self) -> int:
        """Bytes of a whole map, every page."""
        return self.columns * self.rows * self.cell_bytes


class BitmapMode(Mode):
    """A value for each dot, line after line in memory; it wraps both ways."""

    kind: Literal["bitmap"]
    bits_per_dot: Depth
    width: int = Field(ge=8, le=4096, description="dots of a line in memory; it wraps there")
    height: int = Field(ge=1, le=4096, description="lines in memory; it wraps there")
    stride: int | None = Field(
        default=None, ge=1, le=8192, description="bytes from a line to the next; left out: packed"
    )
    scroll: bool = True

    @property
    def row_bytes(self) -> int:
        """Bytes of a line's dots."""
        return self.width * self.bits_per_dot // 8

    @property
    def stride_bytes(self) -> int:
        """Bytes from a line to the next."""
        return self.row_bytes if self.stride is None else self.stride

    @property
    def map_bytes(self) -> int:
        """Bytes from the first dot to the last."""
        return self.stride_bytes * (self.height - 1) + self.row_bytes


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
    def _fits(self) -> TextMode:
        wrong = clashes(self.cell.layout, 8 * self.cell_bytes)
        if self.bits_per_dot != 1:
            wrong.append(f"bits_per_dot of a text mode is 1, got {self.bits_per_dot}")
        if not (4 <= self.glyph[0] <= 8 and 4 <= self.glyph[1] <= 16):
            wrong.append(f"glyph must be 4 to 8 dots across and 4 to 16 down, got {list(self.glyph)}")
        return _passed(self, wrong)

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


class SpriteFields(Table):
    """The fields of a sprite's packed record; ``x``, ``y`` and ``pattern`` must be there."""

    x: Layout = Field(description="dot of the left edge")
    y: Layout = Field(description="line of the upper edge")
    pattern: Layout
    flip_x: Layout | None = None
    flip_y: Layout | None = None
    bank: Layout | None = None
    priority: Layout | None = None
    size: Layout | None = Field(default=None, description="which of the sizes")
    group: Layout | None = Field(default=None, description="which collision group")
    enable: Layout | None = Field(default=None, description="1: shown; without this field every sprite is")
    x_bias: Layout | None = Field(default=None, description="1: moved left by the chip's x_bias dots")

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _one_bit(self) -> SpriteFields:
        return _passed(self, _single(self.layout, ("flip_x", "flip_y", "enable", "x_bias")))


class SpritesTable(Table):
    """The sprite engine: how many, how they are described, and what a line can take."""

    count: int = Field(ge=1, le=1024, description="records in the sprite table")
    table: Literal["chip", "memory"] = Field(
        description="where the sprite table lies; in memory its fetches are counted"
    )
    record_bytes: int = Field(ge=1, le=8)
    fields: SpriteFields
    sizes: tuple[tuple[int, int], ...] = Field(
        min_length=1, max_length=16, description="dots across (8, 16, 32, 64), down"
    )
    bits_per_dot: Depth
    first_dot: FirstDot = "high"
    pattern_bytes: int | None = Field(
        default=None,
        ge=1,
        le=4096,
        description="bytes from a pattern number to the next; left out: those of the smallest size",
    )
    entries: Entries = Entries()
    transparent: int | None = Field(default=0, ge=0, le=255)
    per_line: int | None = Field(default=None, ge=1, le=1024, description="most sprites a line; left out: no limit")
    dots_per_line: int | None = Field(
        default=None, ge=8, le=65536, description="most sprite dots a line; left out: no limit"
    )
    front: Literal["first", "last"] = Field(
        default="first", description="which of the table stands in front of the others"
    )
    dropped: Literal["back", "front"] = Field(default="back", description="which give way beyond a limit")
    x_bias: int = Field(default=0, ge=0, le=1024, description="dots that the x_bias bit moves a sprite to the left")
    wrap_x: bool = Field(default=False, description="x counts modulo the width of its field")
    wrap_y: bool = Field(default=False, description="y counts modulo the width of its field")
    resolve: Literal["before the ladder", "rung by rung"] = Field(
        default="before the ladder",
        description="one line buffer for all sprites, or one for each of the ladder's sprite rungs",
    )

    @model_validator(mode="after")
    def _fits(self) -> SpritesTable:
        wrong = clashes(self.fields.layout, 8 * self.record_bytes)
        for width, height in self.sizes:
            if width not in (8, 16, 32, 64) or not 1 <= height <= 64:
                wrong.append(f"sizes must be 8, 16, 32 or 64 dots across and 1 to 64 lines down, got {[width, height]}")
        return _passed(self, wrong)

    def row_bytes(self, size: int) -> int:
        """Bytes of one row of dots of sprites of ``sizes[size]``."""
        return self.sizes[size][0] * self.bits_per_dot // 8

    @property
    def step_bytes(self) -> int:
        """Bytes from a pattern number to the next."""
        if self.pattern_bytes is not None:
            return self.pattern_bytes
        return min(self.row_bytes(size) * height for size, (_, height) in enumerate(self.sizes))

    @property
    def alignment(self) -> int:
        """What sprite patterns' addresses are multiples of: the bytes of the widest row."""
        return max(self.row_bytes(size) for size in range(len(self.sizes)))


class Collisions(Table):
    """Which sprites are told to collide: ``groups`` are named in the order of the group field's values."""

    groups: tuple[Name, ...] = Field(min_length=1, max_length=8)
    pairs: tuple[tuple[Name, Name], ...]
    hidden_dots: bool = Field(default=True, description="whether dots that a layer covers count")

    @model_validator(mode="after")
    def _known(self) -> Collisions:
        wrong = [
            f"groups names {name!r} twice" for name in sorted({n for n in self.groups if self.groups.count(n) > 1})
        ]
        for pair in self.pairs:
            wrong += [
                f"pairs must name groups ({', '.join(self.groups)}), got {name!r}"
                for name in pair
                if name not in self.groups
            ]
        return _passed(self, wrong)

    def collide(self, first: int, second: int) -> bool:
        """Whether members of group numbers ``first`` and ``second`` collide; a number without a name never does."""
        if max(first, second) >= len(self.groups):
            return False
        names = (self.groups[first], self.groups[second])
        return names in self.pairs or names[::-1] in self.pairs


class RegisterTable(Table):
    """A register: how many bits, what it holds at reset, when a write takes effect, and where the CPU finds it."""

    bits: int = Field(ge=1, le=32)
    reset: int | None = Field(
        default=None, ge=0, description="what it sets at reset; left out: the control's own rest value"
    )
    effect: Effect
    step: int | None = Field(
        default=None, ge=1, description="what one unit of it is worth; left out: the control's own step"
    )
    address: int | None = Field(
        default=None, ge=0, le=0xFFFF, description="its number as the CPU sees it; left out: the next free"
    )


class Chip(Table):
    """One hardware design. Immutable; equal chips compare and hash equal by their whole description."""

    name: str = Field(min_length=1, max_length=60)
    about: str = Field("", max_length=2000)
    frame: FrameTable
    memory: MemoryTable
    palette: PaletteTable
    layers: tuple[Layer, ...] = Field(min_length=1, max_length=8)
    ladder: tuple[Rung, ...] = Field(min_length=1, max_length=64)
    sprites: SpritesTable | None = None
    collisions: Collisions | None = None
    registers: dict[str, RegisterTable] | None = Field(default=None, description="left out: the default map")
    constants: dict[str, int] | None = Field(
        default=None, description="controls that are wired instead of held in a register"
    )

    @cached_property
    def layer_names(self) -> tuple[str, ...]:
        """The layers' names in the order of the file."""
        return tuple(layer.name for layer in self.layers)

    @cached_property
    def source_names(self) -> tuple[str, ...]:
        """Sources by number: 0 the backdrop, then the layers in the file's order, then the sprites."""
        return ("backdrop", *self.layer_names, *(("sprites",) if self.sprites else ()))

    def layer(self, name: str) -> Layer:
        """The layer called ``name``; KeyError where the chip has none."""
        for layer in self.layers:
            if layer.name == name:
                return layer
        raise KeyError(name)

    def entry_rule(self, entries: Entries) -> tuple[int, int, int]:
        """(base, bank step, value step) with a left-out bank step filled in."""
        step = self.palette.bank_size if entries.bank_step is None else entries.bank_step
        return entries.base, step, entries.value_step


def _passed(table: AnyTable, wrong: list[str]) -> AnyTable:
    if wrong:
        raise ValueError("; ".join(wrong))
    return table


def _single(layout: dict[str, Bits], names: tuple[str, ...]) -> list[str]:
    return [
        f"{name} must be one bit, got {str(layout[name])!r}"
        for name in names
        if name in layout and layout[name].width > 1
    ]
