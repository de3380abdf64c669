"""A chip's sprite engine: what a record holds, what a line can take, which groups collide.

Law: limits and layouts of sprites stand here and nowhere else. Knows no layer and nothing of how a sprite is drawn.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Any, Literal, Self

from pydantic import Field, PlainSerializer, PlainValidator, field_validator, model_validator

from ...door.shown import value as shown
from ...files.problems import WhereMissing
from .bits import WIDEST_FIELD, Bits, clashes
from .modes import Entries
from .pattern import ABOUT_BITS, ABOUT_PLANES, Planes, Raster, SpritePattern, depth
from .table import FirstDot, Layout, Name, Table, Transparent, passed, single

WIDEST = 64
"""Dots across and down of the largest sprite."""

MOST_BYTES = 4096
"""Bytes of the largest sprite's pattern."""

PatternBytes = Annotated[int, Field(ge=1, le=MOST_BYTES)]
Steps = PatternBytes | tuple[PatternBytes, ...] | None


def _steps(value: object) -> int | tuple[int, ...] | None:
    """A number or a list of numbers, told apart here so that just one sentence says what is wrong."""
    listed = value if isinstance(value, list | tuple) else (value,)
    for each in () if value is None else listed:
        if isinstance(each, bool) or not isinstance(each, int):
            raise ValueError(f"must be a whole number or a list of them, got {shown(value)}")  # noqa: TRY004 - a finding
        if not 1 <= each <= MOST_BYTES:
            raise ValueError(f"must be 1 to {MOST_BYTES}, got {each}")
    return tuple(value) if isinstance(value, list) else value  # type: ignore[return-value]


def _as_it_is(steps: Any) -> Any:
    """For pydantic, which otherwise writes a tuple as a list and then finds that it is no tuple."""
    return steps


TRANSPARENT_WANTED = 'must be said: transparent = 0, what leaving it out meant before, or transparent = "none"'


class SpriteFields(Table):
    """The fields of a sprite's packed record; ``x``, ``y`` and ``pattern`` must be there."""

    x: Layout = Field(description="the bits that hold the dot of the left edge")
    y: Layout = Field(description="the bits that hold the line of the upper edge")
    pattern: Layout = Field(description="the bits that hold the pattern's number")
    pattern_bank: Layout | None = Field(
        default=None,
        description="bits above those of pattern: its value x 2^(bits of pattern) is added to the pattern "
        "number; left out: none",
    )
    flip_x: Layout | None = Field(default=None, description="the bit that turns it left for right; left out: never")
    flip_y: Layout | None = Field(default=None, description="the bit that turns it upside down; left out: never")
    bank: Layout | None = Field(default=None, description="the bits that hold the bank; left out: bank 0")
    priority: Layout | None = Field(
        default=None, description="the bits that a rung's condition can ask; left out: none"
    )
    size: Layout | None = Field(
        default=None, description="the bits that say which of the sizes; left out: there is one"
    )
    group: Layout | None = Field(default=None, description="the bits that say which collision group; left out: group 0")
    enable: Layout | None = Field(
        default=None, description="the bit that is 1 for a sprite that is shown; left out: all are"
    )
    x_bias: Layout | None = Field(
        default=None, description="the bit that moves it left by the chip's x_bias dots; left out: none is moved"
    )

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wrong = single(self.layout, ("flip_x", "flip_y", "enable", "x_bias"))
        both = self.pattern.width + (self.pattern_bank.width if self.pattern_bank else 0)
        if both > WIDEST_FIELD:
            wrong.append(f"pattern and pattern_bank together have at most {WIDEST_FIELD} bits, got {both}")
        return passed(self, wrong)

    def number(self, values: Mapping[str, Any]) -> Any:
        """The pattern's number, of a record's fields as integers or as arrays of them; what is not among them is 0."""
        if "pattern_bank" not in values:
            return values.get("pattern", 0)
        return values.get("pattern", 0) + (values["pattern_bank"] << self.pattern.width)

    @cached_property
    def top_number(self) -> int:
        """The largest pattern number that a record can tell."""
        return int(self.number({name: bits.top for name, bits in self.layout.items()}))


class SpriteTiles(Table):
    """How sprites are made of tiles, each of which lies in memory like a pattern of its own.

    With ``rows`` the tile in column i and row j of a sprite is j x stride + i tiles after the pattern's number; with ``columns``
    i x stride + j.
    """

    size: tuple[int, int] = Field(
        description="dots of a tile across (4 to 64 in steps of 4, a row a whole number of bytes) and down (1 to 64)"
    )
    order: Literal["rows", "columns"] = Field(
        default="rows", description="whether a row of tiles or a column of them lies one after the other"
    )
    stride: int | None = Field(
        default=None,
        ge=1,
        le=256,
        description="tiles from a row of tiles to the next, or from a column; left out: as many as the sprite has in one",
    )


class SpritesTable(Table):
    """The sprite engine: how many, how they are described, and what a line can take."""

    count: int = Field(ge=1, le=1024, description="records in the sprite table")
    table: Literal["chip", "memory"] = Field(
        description="where the sprite table lies; in memory its fetches are counted"
    )
    record_bytes: int = Field(ge=1, le=8, description="bytes of a sprite's record")
    fields: SpriteFields = Field(description="which bits of a record hold what")
    sizes: tuple[tuple[int, int], ...] = Field(
        min_length=1,
        max_length=16,
        description="dots across (4 to 64 in steps of 4, a row a whole number of bytes) and down (1 to 64)",
    )
    planes: Planes | None = Field(default=None, description=ABOUT_PLANES)
    bits_per_dot: int = Field(ge=1, le=8, description=ABOUT_BITS)
    first_dot: FirstDot = Field(default="high", description="which end of a byte holds the leftmost dot")
    pattern_bytes: Annotated[
        Steps, PlainValidator(_steps, json_schema_input_type=Steps), PlainSerializer(_as_it_is)
    ] = Field(
        default=None,
        description="bytes from a pattern number to the next, 1 to 4096: a number for all sizes or a list with one for "
        "each, and with planes apart those in each plane; left out: those of the smallest size's pattern, for all, or of a tile",
    )
    tiles: SpriteTiles | None = Field(
        default=None, description="sprites are made of tiles; left out: the rows of a sprite lie one after the other"
    )
    entries: Entries = Field(
        default=Entries.model_construct(),
        description="how a value becomes an entry; left out: base 0, the palette's bank size from bank to bank",
    )
    transparent: Annotated[Transparent, WhereMissing(TRANSPARENT_WANTED)] = Field(
        description='the value that shows nothing, 0 to 255, or "none"'
    )
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

    _depth = field_validator("bits_per_dot")(depth)

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wrong = clashes(self.fields.layout, 8 * self.record_bytes)
        for size in self.sizes:
            wrong += self._misshapen("sizes", size)
        if self.tiles is not None:
            wrong += self._misshapen("tiles.size", self.tiles.size) or self._untiled(self.tiles)
        if isinstance(self.pattern_bytes, tuple):
            wrong += self._unlike(self.pattern_bytes)
        return passed(self, wrong)

    def _misshapen(self, key: str, size: tuple[int, int]) -> list[str]:
        """What is wrong with the dots of a sprite or of a tile."""
        across, down = size
        if across not in range(4, WIDEST + 1, 4) or not 1 <= down <= WIDEST:
            told = f"4 to {WIDEST} dots across in steps of 4 and 1 to {WIDEST} lines down"
            return [f"{key} must be {told}, got {list(size)}"]
        if across * (1 if self.planes else self.bits_per_dot) % 8 and (self.tiles is None or key != "sizes"):
            told = "in each plane" if self.planes else f"with bits_per_dot = {self.bits_per_dot}"
            told = f"dots across whose row is whole bytes {told}"
            return [f"{key} must be {told}, got {list(size)}"]
        return []

    def _untiled(self, tiles: SpriteTiles) -> list[str]:
        """What speaks against sprites of the ``sizes`` made of ``tiles``."""
        wide, high = tiles.size
        wrong = [
            f"sizes must be whole tiles of {wide}x{high} dots, got {list(size)}"
            for size in self.sizes
            if size[0] % wide or size[1] % high
        ]
        if tiles.stride is None:
            return wrong
        least = max(across // wide if tiles.order == "rows" else down // high for across, down in self.sizes)
        if tiles.stride < least:
            told = f"{least}, the most that a sprite has in one of its {tiles.order}"
            wrong.append(f"tiles.stride must be at least {told}, got {tiles.stride}")
        each = self._raster(tiles.size).size
        if self.pattern_bytes is not None and self.pattern_bytes != each:
            told = f"left out or the bytes of a tile, {each}, with a stride"
            given = self.pattern_bytes if isinstance(self.pattern_bytes, int) else list(self.pattern_bytes)
            wrong.append(f"pattern_bytes must be {told}, got {given}")
        return wrong

    def _unlike(self, steps: tuple[int, ...]) -> list[str]:
        """What is wrong with a step for each of the sizes."""
        if len(steps) != len(self.sizes):
            return [
                f"pattern_bytes must be a number, or a list with one for each size, {len(self.sizes)}, got {len(steps)}"
            ]
        if len(set(zip(self.sizes, steps, strict=True))) != len(set(self.sizes)):
            return [f"pattern_bytes must be alike for sizes that are, got {list(steps)}"]
        return []

    @cached_property
    def patterns(self) -> tuple[SpritePattern, ...]:
        """How the pattern of each of the ``sizes`` lies in memory."""
        steps = self.pattern_bytes
        each = steps if isinstance(steps, tuple) else (steps,) * len(self.sizes)
        return tuple(self._pattern(size, step) for size, step in zip(self.sizes, each, strict=True))

    def _pattern(self, size: tuple[int, int], step: int | None) -> SpritePattern:
        if self.tiles is not None:
            raster, by_rows = self._raster(self.tiles.size), self.tiles.order == "rows"
            return SpritePattern.of_tiles(size, raster, step, by_rows=by_rows, stride=self.tiles.stride)
        if step is None:
            step = min(self._raster(one).size for one in self.sizes)
        return SpritePattern(size, self._raster(size), step)

    def _raster(self, size: tuple[int, int]) -> Raster:
        """How rows of so many dots across and down lie in memory."""
        return Raster(*size, self.bits_per_dot, self.planes)

    @property
    def alignment(self) -> int:
        """What sprite patterns' addresses are multiples of, so that no row lies astride what is fetched at once."""
        return max(one.part for one in self.patterns)


class Collisions(Table):
    """Which sprites are told to collide: ``groups`` are named in the order of the group field's values."""

    groups: tuple[Name, ...] = Field(
        min_length=1, max_length=8, description="names of the groups, in the order of the group field's values"
    )
    pairs: tuple[tuple[Name, Name], ...] = Field(description="pairs of groups whose sprites are told to collide")
    hidden_dots: bool = Field(default=True, description="whether dots that a layer covers count")

    @model_validator(mode="after")
    def _known(self) -> Self:
        wrong = [
            f"groups names {shown(name)} twice" for name in sorted({n for n in self.groups if self.groups.count(n) > 1})
        ]
        for pair in self.pairs:
            wrong += [
                f"pairs must name groups ({', '.join(self.groups)}), got {shown(name)}"
                for name in pair
                if name not in self.groups
            ]
        return passed(self, wrong)

    def collide(self, first: int, second: int) -> bool:
        """Whether members of group numbers ``first`` and ``second`` collide; a number without a name never does."""
        if max(first, second) >= len(self.groups):
            return False
        names = (self.groups[first], self.groups[second])
        return names in self.pairs or names[::-1] in self.pairs
