"""Tables of a scene file that act while it runs: timed writes and motion.

Law: each class is one table of the file. An unknown key is an error. Only what can be said without the chip is checked here.
"""

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from ...chip.tables.table import ValueRef
from .contents import Cell, SpriteSet
from .sourced import Sourced
from .values import MOST_BYTES, MOST_FRAMES, Bound, Byte, Colour, Count, FieldBound, PatternRef, Place, Span


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
    value: ValueRef | None = Field(None, description="a register's value or its name; a port's byte")
    values: tuple[ValueRef, ...] | None = Field(
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
        wrong = [f"{one} and {many} cannot both be given" for one, many in pairs if given.issuperset((one, many))]
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
    first: FieldBound = Field(alias="from")
    last: FieldBound | None = Field(None, alias="to")
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
