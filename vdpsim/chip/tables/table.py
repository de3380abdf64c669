"""What every table of a chip file is, and the kinds of value that stand in them, a rung's condition among them.

Law: a table is read strictly, frozen and closed to unknown keys; a value is checked where it is read, and everything that is
wrong with a table is told at once. A condition is one relation, one field and one number, parsed once, and asked of ints and
arrays alike. Knows bit layouts, and no table of its own.
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable
from typing import Annotated, Any, ClassVar, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, GetPydanticSchema
from pydantic_core import core_schema

from ...door.shown import PLAIN
from ...door.shown import value as shown
from .bits import Bits

RELATIONS: dict[str, Callable[[Any, Any], Any]] = {
    "=": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}


NAME = r"^[a-z][a-z0-9_]*$"


class Condition:
    """``FIELD = NUMBER`` (or ``!=``, ``<``, ``<=``, ``>``, ``>=``). Raises ValueError where the text reads otherwise.

    >>> Condition("priority >= 2").holds(3)
    True
    """

    field: str
    relation: str
    number: int

    GRAMMAR = re.compile(r"^\s*([a-z_]+)\s*(=|!=|<=|>=|<|>)\s*(\d{1,9})\s*$")

    def __init__(self, text: str) -> None:
        match = self.GRAMMAR.match(text)
        if not match:
            raise ValueError(f'must read like "priority = 1" (with =, !=, <, <=, > or >=), got {shown(text)}')
        self.field, self.relation, self.number = match[1], match[2], int(match[3])

    def holds(self, value: Any) -> Any:
        """Whether the condition holds for ``value``, an int or an array (then an array of bool)."""
        return RELATIONS[self.relation](value, self.number)

    def __str__(self) -> str:
        return f"{self.field} {self.relation} {self.number}"

    def __repr__(self) -> str:
        return f"Condition({str(self)!r})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Condition) and str(self) == str(other)

    def __hash__(self) -> int:
        return hash(str(self))


def read_by(
    check: Callable[[Any], Any], written: core_schema.CoreSchema, said: Callable[[Any], Any] | None = None
) -> GetPydanticSchema:
    """A kind of value that ``check`` reads: a file has it as ``written``; ``said`` turns it back, None where that is not needed.

    As pydantic's own validators do it, but with one schema for every table that has the kind: theirs make one a field.
    """
    schema = core_schema.no_info_plain_validator_function(
        check,
        serialization=core_schema.plain_serializer_function_ser_schema(said) if said else None,
        json_schema_input_schema=written,
    )
    return GetPydanticSchema(lambda _source, _handler: schema)


Layout = Annotated[
    Bits,
    read_by(
        lambda value: value if isinstance(value, Bits) else Bits.parse(as_text(value)),
        core_schema.str_schema(pattern=r"^\d+(:\d+)?(\s*,\s*\d+(:\d+)?)*$"),
        str,
    ),
]
Name = Annotated[str, Field(pattern=NAME, max_length=40)]
Title = Annotated[str, Field(pattern=PLAIN, min_length=1, max_length=60)]
"""What people call a thing: any letters, in one line."""

Depth = Literal[1, 2, 4, 8]
FirstDot = Literal["high", "low"]
Origin = Literal["picture", "zone"]
Effect = Literal["at once", "next line", "next frame"]


def as_text(value: object) -> str:
    """``value`` where it is a text. Raises ValueError otherwise."""
    if not isinstance(value, str):
        # pydantic collects a ValueError as a finding of the file
        raise ValueError(f'must be a text in part-select notation such as "10:0", got {shown(value)}')  # noqa: TRY004
    return value


def _value(value: object) -> int | str:
    if isinstance(value, str) or (isinstance(value, int) and not isinstance(value, bool) and value >= 0):
        return value
    raise ValueError(f"must be a whole number, at least 0, or a value's name, got {shown(value)}")


ValueRef = Annotated[
    int | str, read_by(_value, core_schema.union_schema([core_schema.int_schema(ge=0), core_schema.str_schema()]))
]
"""A value of a control: its number, or its name where the control's values have names."""


def _transparent(value: object) -> int | None:
    if value is None or value == "none":
        return None
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 255:
        return value
    raise ValueError(f'must be a value, 0 to 255, or "none", got {shown(value)}')


def _transparent_said(value: int | None) -> int | str:
    return "none" if value is None else value


Transparent = Annotated[
    int | None,
    read_by(
        _transparent,
        core_schema.union_schema([core_schema.int_schema(ge=0, le=255), core_schema.literal_schema(["none"])]),
        _transparent_said,
    ),
]
"""The value that shows nothing; None where each shows something, which a file calls ``none``."""

AXES: dict[str, str] = {"both": "xy", "x": "x", "y": "y", "none": ""}
"""The axes on which a mode scrolls, by what its ``scroll`` says."""


def _scroll(value: object) -> str:
    if isinstance(value, bool):
        return "both" if value else "none"
    if isinstance(value, str) and value in AXES:
        return value
    raise ValueError(f'must be "both", "x", "y" or "none" (or true for both, false for none), got {shown(value)}')


Scroll = Annotated[
    Literal["both", "x", "y", "none"],
    read_by(_scroll, core_schema.union_schema([core_schema.literal_schema([*AXES]), core_schema.bool_schema()])),
]
"""On which axes a mode scrolls."""

AnyTable = TypeVar("AnyTable")


class Table(BaseModel):
    """A table of the chip file: read strictly, frozen, closed to unknown keys."""

    model_config: ClassVar[ConfigDict] = ConfigDict(
        extra="forbid", frozen=True, strict=True, defer_build=True, protected_namespaces=()
    )


def passed(table: AnyTable, wrong: list[str]) -> AnyTable:
    """``table`` itself where nothing is ``wrong``. Raises ValueError with everything that is."""
    if wrong:
        raise ValueError("; ".join(wrong))
    return table


def single(layout: dict[str, Bits], names: tuple[str, ...]) -> list[str]:
    """What is wrong with fields of ``names`` that hold a flag: each has one bit."""
    return [
        f"{name} must be one bit, got {shown(str(layout[name]))}"
        for name in names
        if name in layout and layout[name].width > 1
    ]


When = Annotated[
    Condition,
    read_by(
        lambda value: value if isinstance(value, Condition) else Condition(as_text(value)),
        core_schema.str_schema(pattern=Condition.GRAMMAR.pattern),
        str,
    ),
]
