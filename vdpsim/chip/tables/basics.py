"""A chip's frame, memory and palette.

Law: sizes and rates that every source shares. Each class is one table of the file; what a key means, its unit and its range
stand beside it. Knows no layer and no sprite.
"""

from fractions import Fraction
from typing import Annotated, Literal, Self

from pydantic import Field, GetPydanticSchema, model_validator
from pydantic_core import core_schema

from ...door.shown import value as shown
from .bits import Bits, clashes
from .table import Layout, Table, passed
from .time import parse_rate

_rate_schema = core_schema.no_info_plain_validator_function(
    parse_rate,
    serialization=core_schema.plain_serializer_function_ser_schema(str),
    json_schema_input_schema=core_schema.union_schema(
        [core_schema.int_schema(ge=1, le=64), core_schema.str_schema(pattern=r"^\d{1,6}(/\d{1,6})?$")]
    ),
)
Rate = Annotated[Fraction, GetPydanticSchema(lambda _source, _handler: _rate_schema)]


class Border(Table):
    """The frame around the active picture that shows the backdrop; dots at the sides, lines above and below."""

    left: int = Field(default=0, ge=0, le=256, description="dots before the picture")
    right: int = Field(default=0, ge=0, le=256, description="dots after the picture")
    top: int = Field(default=0, ge=0, le=256, description="lines above the picture")
    bottom: int = Field(default=0, ge=0, le=256, description="lines below the picture")


class FrameTable(Table):
    """The frame: its size in dots and lines, and how fast the dots come."""

    width: int = Field(ge=64, le=1024, description="active dots a line; a multiple of 8")
    height: int = Field(ge=64, le=768, description="active lines")
    border: Border = Field(
        default=Border(), description="dots and lines around the picture that show the backdrop; left out: none"
    )
    dot_clock: int = Field(ge=1_000, le=1_000_000_000, description="dots a second, Hz")
    dots_per_line: int = Field(ge=64, le=8192, description="all dots of a line, blanking included")
    lines_per_frame: int = Field(ge=64, le=8192, description="all lines of a frame, blanking included")
    backdrop: int = Field(
        default=0,
        ge=0,
        description="the entry that shows where every rung is transparent, at reset; an entry of the palette",
    )
    display: Literal["525 lines", "625 lines", "640x480", "other"] | None = Field(
        default=None,
        description="the display that it is meant for, which vdpsim check compares it with; left out: the "
        "nearest known one",
    )

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wide = self.width + self.border.left + self.border.right
        high = self.height + self.border.top + self.border.bottom
        wrong = []
        if self.width % 8:
            wrong.append(f"width must be a multiple of 8 dots, got {self.width}")
        if wide > self.dots_per_line:
            wrong.append(f"dots_per_line must be at least width and border, {wide}, got {self.dots_per_line}")
        if high > self.lines_per_frame:
            wrong.append(f"lines_per_frame must be at least height and border, {high}, got {self.lines_per_frame}")
        return passed(self, wrong)


class MemoryTable(Table):
    """Video memory: one access reads ``bytes_per_access`` bytes at an address that is a multiple of it."""

    size: int = Field(ge=256, le=16 << 20, description="bytes; a multiple of 256")
    bytes_per_access: Literal[1, 2, 4, 8] = Field(description="bytes that one fetch brings")
    byte_order: Literal["little", "big"] = Field(
        default="little", description="which byte of a two-byte cell or a sprite's record comes first in memory"
    )
    accesses_per_dot: Rate | None = Field(
        default=None,
        description="how fast it is: accesses in the time of a dot, 1/64 to 64, a whole number or a fraction "
        'such as "3/2"; left out: nothing is told in time',
    )

    @model_validator(mode="after")
    def _fits(self) -> Self:
        return passed(self, [f"size must be a multiple of 256, got {self.size}"] if self.size % 256 else [])

    def accesses(self, size: int) -> int:
        """Fetches that it takes to read ``size`` bytes that are aligned to their size or to an access; one at least."""
        return max(1, size // self.bytes_per_access)


class PaletteTable(Table):
    """The shared palette: ``entries`` packed colour words, each with red, green and blue of 1 to 8 bits."""

    entries: int = Field(ge=2, le=4096, description="how many entries it has")
    bank_size: int = Field(ge=1, le=4096, description="entries a bank")
    red: Layout = Field(
        description="the bits of an entry's word, of which bit 31 is the highest, that hold red; 1 to 8 bits"
    )
    green: Layout = Field(description="the bits of an entry's word that hold green; 1 to 8 bits")
    blue: Layout = Field(description="the bits of an entry's word that hold blue; 1 to 8 bits")

    @model_validator(mode="after")
    def _fits(self) -> Self:
        layout = self.layout
        wrong = clashes(layout, 32)
        wrong += [
            f"{name} must have 1 to 8 bits, got {shown(str(bits))}" for name, bits in layout.items() if bits.width > 8
        ]
        if self.bank_size > self.entries:
            wrong.append(f"bank_size must be at most entries, {self.entries}, got {self.bank_size}")
        return passed(self, wrong)

    @property
    def layout(self) -> dict[str, Bits]:
        """The three colour fields of an entry's packed word."""
        return {"red": self.red, "green": self.green, "blue": self.blue}

    @property
    def word_bits(self) -> int:
        """Bits of a packed colour word, from bit 0 to the highest one used."""
        return 1 + max(bits.highest for bits in self.layout.values())
