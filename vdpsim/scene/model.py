"""The scene file's words: what one chip is asked to show, as immutable tables.

Law: each class is one table of the file; what a key means, its unit and its range stand beside it. An unknown key is an
error. Only what can be said without the chip is checked here; whether a value fits the chip is asked when the scene is
built. Knows no pixels and no files.
"""

import re
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, PlainValidator, model_validator

from ..chip.model import Name, Table
from ..chip.tables.table import Title
from ..door.shown import value as shown

MOST_FRAMES = 100_000
"""The most frames that a scene can be meant to run."""

MOST_BYTES = 1 << 24
"""The most bytes that video memory has, and so that are worth writing."""

HEX_COLOUR = re.compile(r"#([0-9a-fA-F]{3}|[0-9a-fA-F]{6})")
PATTERN_NAME = re.compile(r"[a-z][a-z0-9_]*(\+[0-9]{1,6})?")
_RANGE = re.compile(r"([0-9]{1,7}):([0-9]{1,7})(?::([0-9]{1,7}))?")


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _colour(value: object) -> int | str:
    if isinstance(value, str) and HEX_COLOUR.fullmatch(value):
        return value
    if isinstance(value, int) and _whole(value) and value >= 0:
        return value
    raise ValueError(f'must be a colour such as "#1a2b3c" or "#123", or a packed word, got {shown(value)}')


def _pattern(value: object) -> int | str:
    if isinstance(value, str) and PATTERN_NAME.fullmatch(value):
        return value
    if isinstance(value, int) and _whole(value) and value >= 0:
        return value
    raise ValueError(f'must be a pattern\'s number, or a name such as "reeds" or "reeds+3", got {shown(value)}')


def _bound(value: object) -> int | str:
    if isinstance(value, int) and _whole(value):
        return value
    if isinstance(value, str):
        return value
    raise ValueError(f"must be a whole number, a colour or a pattern's name, got {shown(value)}")


def _group(value: object) -> int | str:
    if isinstance(value, str) or (isinstance(value, int) and _whole(value) and value >= 0):
        return value
    raise ValueError(f"must be a collision group's name or number, got {shown(value)}")


def _range(value: object) -> range:
    match = _RANGE.fullmatch(value) if isinstance(value, str) else None
    found = range(int(match[1]), int(match[2]), int(match[3] or 1) or -1) if match else range(0)
    if not found:
        raise ValueError(
            f'must be START:STOP or START:STOP:STEP with START below STOP, such as "0:216", got {shown(value)}'
        )
    return found


def _cell(value: object) -> object:
    if isinstance(value, str) or _whole(value):
        return {"pattern": value}
    if isinstance(value, dict):
        return value
    raise ValueError(f"must be a pattern's number, its name or a table of fields, got {shown(value)}")


Colour = Annotated[int | str, PlainValidator(_colour, json_schema_input_type=int | str)]
PatternRef = Annotated[int | str, PlainValidator(_pattern, json_schema_input_type=int | str)]
Bound = Annotated[int | str, PlainValidator(_bound, json_schema_input_type=int | str)]
GroupRef = Annotated[int | str, PlainValidator(_group, json_schema_input_type=int | str)]
Span = Annotated[range, PlainValidator(_range, json_schema_input_type=str)]
Count = Annotated[int, Field(ge=0)]
Byte = Annotated[int, Field(ge=0, le=255)]
Place = tuple[Count, Count]
Extent = tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]]


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


Cell = Annotated[CellTable, BeforeValidator(_cell, json_schema_input_type=int | str | CellTable)]


class Sourced(Table):
    """A table whose matter comes from exactly one of several keys; ``GOES_WITH`` lists what only goes with one of them."""

    SOURCES: ClassVar[tuple[str, ...]] = ()
    LEAST: ClassVar[int] = 1
    GOES_WITH: ClassVar[dict[str, tuple[str, ...]]] = {}

    @property
    def given(self) -> set[str]:
        """The keys that the file has, as the file writes them."""
        fields = type(self).model_fields
        return {fields[name].alias or name for name in self.model_fields_set}

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        given = self.given
        found = [name for name in self.SOURCES if name in given]
        if not self.LEAST <= len(found) <= 1:
            raise ValueError(f"must have exactly one of {', '.join(self.SOURCES)}, got {', '.join(found) or 'none'}")
        wrong = [
            f"{name} only goes with {' or '.join(sources)}"
            for name, sources in self.GOES_WITH.items()
            if name in given and not given.intersection(sources)
        ]
        if wrong:
            raise ValueError("; ".join(wrong))
        return self


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


def _size(value: object) -> int | tuple[int, int]:
    if isinstance(value, int) and _whole(value) and value >= 0:
        return value
    if isinstance(value, list) and len(value) == 2 and all(map(_whole, value)):
        return value[0], value[1]
    raise ValueError(f"must be a size's number or its dots across and down such as [16, 16], got {shown(value)}")


class SpriteSet(Table):
    """Fields of a sprite's record; which there are is the chip's matter."""

    x: int | None = None
    y: int | None = None
    pattern: PatternRef | None = None
    flip_x: Count | None = None
    flip_y: Count | None = None
    bank: Count | None = None
    priority: Count | None = None
    size: Annotated[Any, PlainValidator(_size, json_schema_input_type=int | tuple[int, int])] = None
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


class WriteTable(Sourced):
    """A timed write: when, and one of register, entry, sprite, memory, patterns, map or port with what goes with it.

    What goes to memory is there before its line; ``by = "cpu"`` makes it a transfer, which lands byte by byte as slots are
    free for it.
    """

    SOURCES = ("register", "entry", "sprite", "memory", "patterns", "map", "port")
    GOES_WITH: ClassVar = {
        "dot": ("register", "entry", "by", "port"),
        "by": ("memory", "patterns", "map"),
        "step": ("by",),
        "value": ("register", "port"),
        "values": ("register", "port"),
        "from": ("register", "entry"),
        "to": ("from",),
        "advance": ("values", "colours"),
        "colour": ("entry",),
        "colours": ("entry",),
        "set": ("sprite",),
        "bytes": ("memory",),
        "raw": ("memory",),
        "offset": ("raw",),
        "length": ("raw",),
        "fill": ("memory",),
        "count": ("fill",),
        "rows": ("patterns",),
        "for": ("patterns",),
        "at": ("map",),
        "cell": ("map",),
    }
    NEEDS: ClassVar[dict[str, tuple[tuple[str, ...], ...]]] = {
        "register": (("value", "values", "from"),),
        "entry": (("colour", "colours", "from"),),
        "sprite": (("set",),),
        "memory": (("bytes", "raw", "fill"),),
        "fill": (("count",),),
        "patterns": (("rows",),),
        "map": (("at",), ("cell",)),
        "port": (("value", "values"),),
        "from": (("to",), ("lines",)),
    }

    frame: Count | None = Field(None, description="left out: every frame")
    frames: Span | None = Field(None, description='such as "10:20"')
    line: Count | None = None
    lines: Span | None = Field(None, description='such as "0:216" or "0:216:2"')
    dot: Count = 0
    control: str | None = Field(None, alias="register")
    value: Count | None = None
    values: tuple[Count, ...] | None = Field(
        None, min_length=1, description="one a line, over and over; a port's without lines: one after the other"
    )
    first: Bound | None = Field(None, alias="from", description="value or colour on the first of the lines")
    last: Bound | None = Field(None, alias="to", description="value or colour on the last of the lines")
    advance: int = Field(0, description="how much further in the list each frame begins")
    entry: Count | None = None
    colour: Colour | None = None
    colours: tuple[Colour, ...] | None = Field(None, min_length=1)
    sprite: str | None = None
    set: SpriteSet | None = None
    memory: Count | None = Field(None, description="address of the first byte")
    bytes: tuple[Byte, ...] | None = Field(None, min_length=1)
    raw: str | None = Field(None, description="a file whose bytes are written")
    offset: Count = Field(0, description="bytes of the raw file that are passed over")
    length: int | None = Field(None, ge=1, description="bytes taken from it; left out: all that follow")
    fill: Byte | None = Field(None, description="the one byte that is written over and over")
    count: int | None = Field(None, ge=1, le=MOST_BYTES, description="how often")
    patterns: PatternRef | None = Field(None, description="the pattern that is rewritten")
    target: str | None = Field(None, alias="for", description="whose pattern, where the name alone does not say")
    rows: tuple[str, ...] | None = Field(None, min_length=1)
    map: str | None = Field(None, description="LAYER.MODE of kind tiles")
    at: Place | None = None
    cell: Cell | None = None
    port: int | None = Field(None, ge=0, le=0xFFFF, description="address of a register or port as the CPU sees it")
    by: Literal["cpu"] | None = Field(None, description="cpu: a transfer, a byte in each slot that is free for the CPU")
    step: Byte = Field(1, description="bytes from the place of one byte of a transfer to that of the next")

    @model_validator(mode="after")
    def _whole(self) -> Self:
        given = self.given
        pairs = (("line", "lines"), ("frame", "frames"))
        wrong = [f"{one} and {many} exclude each other" for one, many in pairs if given.issuperset((one, many))]
        if not given.intersection(("line", "lines")):
            wrong.append("line or lines is missing")
        if given.issuperset(("register", "values")) and "lines" not in given:
            wrong.append("values needs lines")
        for name, needs in self.NEEDS.items():
            for choice in needs:
                count = len(given.intersection(choice))
                if name in given and count != 1:
                    wrong.append(f"{name} needs {'exactly one of ' if count else ''}{' or '.join(choice)}")
        if wrong:
            raise ValueError("; ".join(wrong))
        return self


class MotionTable(Sourced):
    """A register or a sprite's field that moves: floor(from + step x frame), until ``to`` is reached."""

    SOURCES = ("register", "sprite")
    GOES_WITH: ClassVar = {"field": ("sprite",), "then": ("to",)}

    control: str | None = Field(None, alias="register")
    sprite: str | None = None
    field: str | None = None
    first: Bound = Field(alias="from")
    last: Bound | None = Field(None, alias="to")
    step: float = Field(1, ge=-65536, le=65536, allow_inf_nan=False, description="each frame; may be a fraction")
    every: int = Field(1, ge=1, le=MOST_FRAMES, description="frames from a step to the next")
    then: Literal["stop", "repeat", "bounce"] = "stop"

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.sprite is not None and self.field is None:
            raise ValueError("sprite needs field")
        if not self.step:
            raise ValueError("step must not be 0")
        return self


class SceneHead(Table):
    """What a scene file says outside its lists."""

    name: Title
    about: str = Field("", max_length=2000)
    chip: str = Field(min_length=1, description="path of the chip file, from the scene file's folder")
    frames: int = Field(1, ge=1, le=MOST_FRAMES, description="how many frames the scene is meant to run")
    registers: dict[str, Count] = Field({}, description="starting values, in control units")


class SceneFile(SceneHead):
    """A whole scene file."""

    palette: tuple[PaletteTable, ...] = ()
    patterns: tuple[PatternsTable, ...] = ()
    maps: tuple[MapTable, ...] = ()
    bitmaps: tuple[BitmapTable, ...] = ()
    text: tuple[TextTable, ...] = ()
    sprites: tuple[SpriteTable, ...] = ()
    writes: tuple[WriteTable, ...] = ()
    motion: tuple[MotionTable, ...] = ()


LISTS: dict[str, type[Table]] = {
    "palette": PaletteTable,
    "patterns": PatternsTable,
    "maps": MapTable,
    "bitmaps": BitmapTable,
    "text": TextTable,
    "sprites": SpriteTable,
    "writes": WriteTable,
    "motion": MotionTable,
}
"""The file's lists of tables, by key."""
