"""Kinds of value that stand in a scene file's tables, and what is said of one that is none of them.

Law: a value is what people write: a colour or a packed word, a pattern's number or name, a range of lines. Whether it fits
the chip is asked when the scene is built.
"""

import re
from typing import Annotated, Any

from pydantic import Field
from pydantic_core import core_schema

from ...chip.tables.table import read_by
from ...door.shown import value as shown

MOST_FRAMES = 100_000
"""The most frames that a scene can be meant to run."""

MOST_BYTES = 1 << 24
"""The most bytes that video memory has, and so that are worth writing."""

HEX_COLOUR = re.compile(r"#([0-9a-fA-F]{3}|[0-9a-fA-F]{6})")
PATTERN_NAME = re.compile(r"[a-z][a-z0-9_]*(\+[0-9]{1,6})?")
_RANGE = re.compile(r"([0-9]{1,7}):([0-9]{1,7})(?::([0-9]{1,7}))?")


def whole(value: object) -> bool:
    """Whether ``value`` is a whole number; true and false are none."""
    return isinstance(value, int) and not isinstance(value, bool)


def _colour(value: object) -> int | str:
    if isinstance(value, str) and HEX_COLOUR.fullmatch(value):
        return value
    if isinstance(value, int) and whole(value) and value >= 0:
        return value
    raise ValueError(f'must be a colour such as "#1a2b3c" or "#123", or a packed word, got {shown(value)}')


def _pattern(value: object) -> int | str:
    if isinstance(value, str) and PATTERN_NAME.fullmatch(value):
        return value
    if isinstance(value, int) and whole(value) and value >= 0:
        return value
    raise ValueError(f'must be a pattern\'s number, or a name such as "reeds" or "reeds+3", got {shown(value)}')


def _bound(value: object) -> int | str:
    if isinstance(value, int) and whole(value):
        return value
    if isinstance(value, str):
        return value
    raise ValueError(f"must be a whole number, a name or a colour, got {shown(value)}")


def _field_bound(value: object) -> int | str | tuple[int, int]:
    if isinstance(value, str) or (isinstance(value, int) and whole(value)):
        return value
    if isinstance(value, list) and len(value) == 2 and all(map(whole, value)):
        return value[0], value[1]
    raise ValueError(f"must be a whole number, a name or a size such as [16, 16], got {shown(value)}")


def _group(value: object) -> int | str:
    if isinstance(value, str) or (isinstance(value, int) and whole(value) and value >= 0):
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


def _size(value: object) -> int | tuple[int, int]:
    if isinstance(value, int) and whole(value) and value >= 0:
        return value
    if isinstance(value, list) and len(value) == 2 and all(map(whole, value)):
        return value[0], value[1]
    raise ValueError(f"must be a size's number or its dots across and down such as [16, 16], got {shown(value)}")


_int, _str = core_schema.int_schema(), core_schema.str_schema()
_pair = core_schema.tuple_schema([_int, _int])
_named = core_schema.union_schema([_int, _str])

Colour = Annotated[int | str, read_by(_colour, _named)]
PatternRef = Annotated[int | str, read_by(_pattern, _named)]
Bound = Annotated[int | str, read_by(_bound, _named)]
FieldBound = Annotated[
    int | str | tuple[int, int], read_by(_field_bound, core_schema.union_schema([_int, _str, _pair]))
]
GroupRef = Annotated[int | str, read_by(_group, _named)]
Span = Annotated[range, read_by(_range, _str)]
Count = Annotated[int, Field(ge=0)]
Byte = Annotated[int, Field(ge=0, le=255)]
Place = tuple[Count, Count]
Extent = tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]]
SizeRef = Annotated[Any, read_by(_size, core_schema.union_schema([_int, _pair]))]
