"""A chip's frame, memory and palette.

Law: sizes and rates that every source shares. Each class is one table of the file; what a key means, its unit and its range
stand beside it. Knows no layer and no sprite.
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, Any, Literal, Self

from pydantic import (
    Field,
    PrivateAttr,
    SerializerFunctionWrapHandler,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    model_serializer,
    model_validator,
)
from pydantic_core import PydanticKnownError, core_schema

from ...door.shown import value as shown
from .bits import Bits, clashes
from .table import Layout, Table, passed, read_by
from .time import parse_rate

_rate_written = core_schema.union_schema(
    [core_schema.int_schema(ge=1, le=64), core_schema.str_schema(pattern=r"^\d{1,6}(/\d{1,6})?$")]
)
Rate = Annotated[Fraction, read_by(parse_rate, _rate_written, str)]


class Border(Table):
    """The frame around the active picture that shows the backdrop; dots at the sides, lines above and below."""

    left: int = Field(default=0, ge=0, le=256, description="dots before the picture")
    right: int = Field(default=0, ge=0, le=256, description="dots after the picture")
    top: int = Field(default=0, ge=0, le=256, description="lines above the picture")
    bottom: int = Field(default=0, ge=0, le=256, description="lines below the picture")


Width = Annotated[int, Field(ge=64, le=1024)]
Height = Annotated[int, Field(ge=64, le=768)]


def _without_default(schema: dict[str, Any]) -> None:
    """What is left out is worked out; no number stands for it."""
    schema.pop("default", None)


def _largest(extent: int) -> WrapValidator:
    """Of an extent that is left out the largest of the sizes', where there are some."""

    def found(value: object, check: ValidatorFunctionWrapHandler, info: ValidationInfo) -> int:
        if value is not None:
            return int(check(value))
        sizes = info.data.get("sizes")
        if sizes == ():
            raise PydanticKnownError("missing")
        return max(size[extent] for size in sizes) if sizes else 0  # sizes that are wrong are told as such

    return WrapValidator(found)


class FrameTable(Table):
    """The frame: its size in dots and lines, and how fast the dots come.

    With ``sizes``, width and height are the largest of them, which the border is around; ``at_size`` has those of one.
    """

    sizes: tuple[tuple[Width, Height], ...] = Field(
        default=(),
        min_length=1,
        max_length=8,
        description="1 to 8 sizes of the picture, each [width, height] in dots and lines, 64 to 1024 and 64 to 768; the control "
        "picture_size chooses one by its place; left out: the one size that width and height give",
    )
    width: Annotated[Width, _largest(0)] = Field(
        default=None,
        validate_default=True,
        description="active dots a line, 64 to 1024, a multiple of 8; left out: sizes say it",
        json_schema_extra=_without_default,
    )
    height: Annotated[Height, _largest(1)] = Field(
        default=None,
        validate_default=True,
        description="active lines, 64 to 768; left out: sizes say it",
        json_schema_extra=_without_default,
    )
    border: Border = Field(
        default=Border.model_construct(),
        description="dots and lines around the largest width and height that show the backdrop; left out: none",
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

    _number: int | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wide = self.width + self.border.left + self.border.right
        high = self.height + self.border.top + self.border.bottom
        wrong = list(self._wrong_sizes())
        wrong += [f"width must be a multiple of 8 dots, got {size[0]}" for size in self.every_size if size[0] % 8]
        if wide > self.dots_per_line:
            wrong.append(f"dots_per_line must be at least width and border, {wide}, got {self.dots_per_line}")
        if high > self.lines_per_frame:
            wrong.append(f"lines_per_frame must be at least height and border, {high}, got {self.lines_per_frame}")
        return passed(self, wrong)

    @model_serializer(mode="wrap")
    def _as_given(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """The table as a file says it: it has either sizes or width and height."""
        told: dict[str, Any] = handler(self)
        without = {"width", "height"} if self.sizes else {"sizes"}
        return {name: one for name, one in told.items() if name not in without}

    def _wrong_sizes(self) -> Iterator[str]:
        """What is wrong with how the size is given."""
        given = [name for name in ("width", "height") if name in self.model_fields_set]
        if given and self.sizes:
            yield f"must have either sizes or width and height, got sizes and {' and '.join(given)}"
        for number, size in enumerate(self.sizes):
            if size in self.sizes[:number]:
                yield f"sizes must be unlike each other, got {size_name(size)} twice"

    @property
    def every_size(self) -> tuple[tuple[int, int], ...]:
        """Width and height of each size, by its number; just one where the table has no ``sizes``."""
        return self.sizes or ((self.width, self.height),)

    @property
    def tallest(self) -> int:
        """Lines of the tallest size."""
        return max(height for _, height in self.every_size)

    @property
    def narrowest(self) -> int:
        """Dots of a line of the narrowest size."""
        return min(width for width, _ in self.every_size)

    @property
    def number(self) -> int | None:
        """The number of the size that this is the frame at; None for that of a chip which chooses among several."""
        return self._number if len(self.every_size) > 1 else 0

    def at_size(self, number: int) -> Self:
        """The same frame with the width and height of size ``number``, in the middle of the same outer edge.

        Where what is over is odd, the border is a dot wider at the right, a line at the bottom. Raises IndexError for a size that
        there is not, ValueError for another size of a frame that is at one.
        """
        (width, height), edge = self.every_size[number], self.border
        if self.number is not None:
            if number != self.number:
                raise ValueError(f"the frame is at size {self.number} already, got {number}")
            return self
        across, down = self.width - width, self.height - height
        sides = {"left": edge.left + across // 2, "right": edge.right + across - across // 2}
        ends = {"top": edge.top + down // 2, "bottom": edge.bottom + down - down // 2}
        made = self.model_copy(
            update={"width": width, "height": height, "border": edge.model_copy(update=sides | ends)}
        )
        made._number = number  # noqa: SLF001 - its own copy
        return made


def size_name(size: tuple[int, int]) -> str:
    """What a size of the picture is called: ``256x192``."""
    return f"{size[0]}x{size[1]}"


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
