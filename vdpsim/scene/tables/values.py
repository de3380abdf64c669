"""Kinds of value that stand in a scene file's tables, and what tables share whose matter comes from one of several keys.

Law: a value is what people write: a colour or a packed word, a pattern's number or name, a range of lines. Whether it fits
the chip is asked when the scene is built; of a colour, as it becomes a word: a hex colour becomes the packed word that shows the
nearest colour of the chip, a number is a packed word already. Of a table's own keys it is told here, all at once, what does not
agree; what the keys mean is said where the table stands.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar, Self

from pydantic import Field, model_validator
from pydantic_core import core_schema

from ...chip.colour import word
from ...chip.model import PaletteTable, Table
from ...chip.tables.table import passed, read_by
from ...door.shown import value as shown
from ..findings import WrongError

MOST_FRAMES = 100_000
"""The most frames that a scene can be meant to run."""

MOST_BYTES = 1 << 24
"""The most bytes that video memory has, and so that are worth writing."""

HEX_COLOUR = re.compile(r"#([0-9a-fA-F]{3}|[0-9a-fA-F]{6})")
PATTERN_NAME = re.compile(r"[a-z][a-z0-9_]*(\+[0-9]{1,6})?")
_RANGE = re.compile(r"([0-9]{1,7}):([0-9]{1,7})(?::([0-9]{1,7}))?")


Keys = frozenset[str]
"""Keys of a table, as the file writes them."""


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


def channels(text: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255, of ``#rgb`` or ``#rrggbb``.

    >>> channels("#1a2b3c"), channels("#f80")
    ((26, 43, 60), (255, 136, 0))
    """
    digits = text[1:] if len(text) == 7 else "".join(digit * 2 for digit in text[1:])
    return int(digits[0:2], 16), int(digits[2:4], 16), int(digits[4:6], 16)


def colour_word(palette: PaletteTable, colour: int | str, *sub: str | int) -> int:
    """The packed word of a colour of the file. Raises WrongError where a number is no packed word of this palette."""
    if isinstance(colour, str):
        return word(palette, channels(colour))
    top = (1 << palette.word_bits) - 1
    if colour > top:
        raise WrongError(f"a packed colour must be 0x0 to 0x{top:X}, got 0x{colour:X}", *sub)
    return colour


class Sourced(Table):
    """A table whose matter comes from exactly one of several keys; ``GOES_WITH`` lists what only goes with one of them."""

    SOURCES: ClassVar[tuple[str, ...]] = ()
    LEAST: ClassVar[int] = 1
    GOES_WITH: ClassVar[dict[str, tuple[str, ...]]] = {}

    @property
    def given(self) -> Keys:
        """The keys that the file has, as the file writes them."""
        fields = type(self).model_fields
        return frozenset(fields[name].alias or name for name in self.model_fields_set)

    @classmethod
    def wrong(cls, given: Keys) -> list[str]:
        """What does not agree in a table that has the keys ``given``, whatever stands at them: a sentence each."""
        found = [name for name in cls.SOURCES if name in given]
        told = []
        if not cls.LEAST <= len(found) <= 1:
            told.append(f"must have exactly one of {', '.join(cls.SOURCES)}, got {', '.join(found) or 'none'}")
        # what goes with a source is told once there is one
        unknown = cls.SOURCES if len(found) < cls.LEAST else ()
        return told + [
            f"{name} only goes with {' or '.join(sources)}"
            for name, sources in cls.GOES_WITH.items()
            if name in given and not given.intersection(sources) and not set(sources).intersection(unknown)
        ]

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        return passed(self, self.wrong(self.given))


class Filled(Sourced):
    """A table that lays cells: ``fill``, then one of its sources or none; ``text`` goes with a ``key``."""

    LEAST: ClassVar[int] = 0

    @classmethod
    def wrong(cls, given: Keys) -> list[str]:
        """What does not agree in a table that has the keys ``given``."""
        told = super().wrong(given)
        if not given.intersection(("fill", *cls.SOURCES)):
            told.append(f"must have fill or one of {', '.join(cls.SOURCES)}, got none")
        if "text" in given and "key" not in given:
            told.append("text needs a key that gives a cell for each character")
        return told
