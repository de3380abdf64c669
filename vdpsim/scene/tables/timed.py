"""Tables of a scene file that act while it runs: timed writes and motion.

Law: each class is one table of the file. An unknown key is an error. Only what can be said without the chip is checked here.
"""

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from ...chip.tables.table import ValueRef, passed
from .contents import SpriteSet, WrittenCell
from .values import (
    MOST_BYTES,
    MOST_FRAMES,
    Bound,
    Byte,
    Colour,
    Count,
    FieldBound,
    Keys,
    PatternRef,
    Place,
    Sourced,
    Span,
)


class WriteTable(Sourced):
    """A timed write: when, and one of register, entry, sprite, memory, patterns, map or port with what goes with it.

    What goes to memory is there before its line; ``by = "cpu"`` makes it a transfer, which lands byte by byte as slots are
    free for it.
    """

    SOURCES: ClassVar[tuple[str, ...]] = ("register", "entry", "sprite", "memory", "patterns", "map", "port")
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

    frame: Count | None = Field(None, description="the one frame in which it happens; left out: every frame")
    frames: Span | None = Field(
        None,
        description='such as "10:20", from the first frame up to but not including the last; left out: every frame',
    )
    line: Count | None = Field(
        default=None,
        description="the line at which it happens, one of the frame's, from 0; left out: lines says at which",
    )
    lines: Span | None = Field(
        None,
        description='such as "0:216" or "0:216:2", from the first line up to but not including the last, and in '
        "steps of the third number; left out: line says at which",
    )
    dot: Count = Field(default=0, description="the dot of the line at which it happens, one of dots_per_line")
    control: str | None = Field(
        None, alias="register", description="the register that is written; left out: another key says what is written"
    )
    value: ValueRef | None = Field(
        None,
        description="a register's value or its name; a port's byte, from 0 up to what it takes; left out: "
        "values, or from and to",
    )
    values: tuple[ValueRef, ...] | None = Field(
        None,
        min_length=1,
        description="one a line, over and over; a port's without lines: one after the other, from 0 up to what "
        "it takes; left out: value, or from and to",
    )
    first: Bound | None = Field(
        None,
        alias="from",
        description="value or colour on the first of the lines, up to what the register takes; left out: value "
        "or values, colour or colours",
    )
    last: Bound | None = Field(
        None,
        alias="to",
        description="value or colour on the last of the lines, up to what the register takes; left out: value "
        "or values, colour or colours",
    )
    advance: int = Field(0, description="how much further in the list each frame begins; any whole number")
    entry: Count | None = Field(
        default=None,
        description="the entry that is written, one of the palette's; left out: another key says what is written",
    )
    colour: Colour | None = Field(
        default=None,
        description='a colour such as "#1a2b3c" or a packed word of 0 or more; left out: colours, or from and to',
    )
    colours: tuple[Colour, ...] | None = Field(
        None,
        min_length=1,
        description="colours, or packed words of 0 or more, one a line, over and over; left out: colour, or "
        "from and to",
    )
    sprite: str | None = Field(
        default=None, description="the sprite whose record is written; left out: another key says what is written"
    )
    set: SpriteSet | None = Field(
        default=None, description="the fields of the sprite's record that change; left out: for writes of other things"
    )
    memory: Count | None = Field(
        None, description="address of the first byte, one of the memory's; left out: another key says what is written"
    )
    bytes: tuple[Byte, ...] | None = Field(
        None, min_length=1, description="the bytes, 0 to 255 each; left out: raw or fill"
    )
    raw: str | None = Field(
        None,
        description="a file whose bytes are written, at this path from the scene file's folder; left out: bytes "
        "or fill",
    )
    offset: Count = Field(0, description="bytes of the raw file that are passed over")
    length: int | None = Field(None, ge=1, description="bytes taken from it; left out: all that follow")
    fill: Byte | None = Field(None, description="the one byte that is written over and over; left out: bytes or raw")
    count: int | None = Field(None, ge=1, le=MOST_BYTES, description="how often; left out: for other writes than fill")
    patterns: PatternRef | None = Field(
        None,
        description="the pattern that is rewritten, by its number or name, up to what is loaded; left out: "
        "another key says what is written",
    )
    target: str | None = Field(
        None,
        alias="for",
        description="whose pattern, where the name alone does not say: LAYER.MODE or sprites; left out: the "
        "name says it",
    )
    rows: tuple[str, ...] | None = Field(
        None,
        min_length=1,
        description="hex digits, one row of the pattern each; left out: for other writes than patterns",
    )
    map: str | None = Field(
        None,
        description="LAYER.MODE of kind tiles, or of kind bitmap with colour cells, whose cell is written; left out: another key "
        "says what is written",
    )
    at: Place | None = Field(
        default=None,
        description="column and row of the cell, of a colour cell those of its block, each 0 or more; left out: for other "
        "writes than map",
    )
    cell: WrittenCell | None = Field(
        default=None,
        description="a pattern's number, up to what is loaded, or its name, or a table of fields, of a colour cell all that "
        "colour its block; left out: for other writes than map",
    )
    port: int | None = Field(
        None,
        ge=0,
        le=0xFFFF,
        description="address of a register or port as the CPU sees it; left out: another key says what is written",
    )
    by: Literal["cpu"] | None = Field(
        None,
        description="cpu: a transfer, a byte in each slot that is free for the CPU; left out: it is there "
        "before its line",
    )
    step: Byte = Field(1, description="bytes from the place of one byte of a transfer to that of the next")

    @classmethod
    def wrong(cls, given: Keys) -> list[str]:
        """What does not agree in a table that has the keys ``given``."""
        wrong = super().wrong(given)
        pairs = (("line", "lines"), ("frame", "frames"))
        wrong += [f"{one} and {many} cannot both be given" for one, many in pairs if given.issuperset((one, many))]
        if not given.intersection(("line", "lines")):
            wrong.append("line or lines is missing")
        if given.issuperset(("register", "values")) and "lines" not in given:
            wrong.append("values needs lines")
        for name, needs in cls.NEEDS.items():
            for choice in needs:
                count = len(given.intersection(choice))
                if name in given and count != 1:
                    wrong.append(f"{name} needs {'exactly one of ' if count else ''}{' or '.join(choice)}")
        return wrong


class MotionTable(Sourced):
    """A register or a sprite's field that moves: floor(from + step x frame), until ``to`` is reached."""

    SOURCES: ClassVar[tuple[str, ...]] = ("register", "sprite")
    GOES_WITH: ClassVar = {"field": ("sprite",), "then": ("to",)}

    control: str | None = Field(
        None, alias="register", description="the register that moves; left out: sprite and field say what moves"
    )
    sprite: str | None = Field(default=None, description="the sprite that moves; left out: register says what moves")
    field: str | None = Field(default=None, description="which field of the sprite's record; left out: for a register")
    first: FieldBound = Field(alias="from", description="the value in frame 0, up to what the register or field takes")
    last: FieldBound | None = Field(
        None,
        alias="to",
        description="the value at which it has arrived, up to what the register or field takes; left out: it "
        "never does",
    )
    step: float = Field(
        1,
        ge=-65536,
        le=65536,
        allow_inf_nan=False,
        description="how far it moves with each step, up or down; may be a fraction, not 0",
    )
    every: int = Field(1, ge=1, le=MOST_FRAMES, description="frames from a step to the next")
    then: Literal["stop", "repeat", "bounce"] = Field(default="stop", description="what it does once it has arrived")

    @classmethod
    def wrong(cls, given: Keys) -> list[str]:
        """What does not agree in a table that has the keys ``given``."""
        return super().wrong(given) + (["sprite needs field"] if "sprite" in given and "field" not in given else [])

    @model_validator(mode="after")
    def _moves(self) -> Self:
        return passed(self, [] if self.step else ["step must not be 0"])
