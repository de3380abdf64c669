"""Sprites by name: their fields as numbers and their records as bytes.

Law: a record has just the fields that the chip's layout names, each within its bits. A place left of or above the picture
is written as the chip can hold it: with the x_bias bit, or round the end of a field that wraps. Records that no sprite of
the scene takes are zero; where the chip has no enable field they stand below the picture instead, if y reaches that far.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...chip.model import SpritesTable
from ...chip.tables.bits import Bits
from ...chip.tables.pattern import SpritePattern
from ...door.shown import value as shown
from ..findings import Findings, Place, Together, WrongError, none_of, one_of
from ..tables.contents import SpriteTable
from .patterns import Patterns

Fields = dict[str, int]

PATTERN_FIELDS = frozenset({"pattern", "pattern_bank", "size"})
"""The fields that say which pattern a sprite shows, and which bytes that is."""


class SpriteMaker:
    """Checks sprites' fields against the chip and packs records."""

    findings: Findings
    sprites: SpritesTable
    patterns: Patterns
    layout: dict[str, Bits]

    def __init__(self, findings: Findings, sprites: SpritesTable, patterns: Patterns) -> None:
        self.findings, self.sprites, self.patterns = findings, sprites, patterns
        self.layout = sprites.fields.layout
        self.order = findings.chip.memory.byte_order

    def record(self, fields: Fields) -> bytes:
        """The packed record of ``fields``."""
        word = 0
        for name, value in fields.items():
            word |= self.layout[name].put(value)
        return word.to_bytes(self.sprites.record_bytes, self.order)

    def parked(self) -> Fields:
        """The fields of a record that no sprite takes."""
        below, reach = self.findings.chip.frame.height, self.layout["y"].top + 1
        last = below + self.sprites.sizes[0][1] if self.sprites.wrap_y else below + 1
        return {} if "enable" in self.layout or last > reach else {"y": below}

    def fields(self, told: Mapping[str, Any], *sub: str | int, base: Fields | None = None) -> Fields:
        """The numbers for the fields that ``told`` names. Raises WrongError, at ``sub`` and each field that does not fit.

        ``base``: fields that the sprite has already, None where they are not known; a pattern's number is one of its size. Where
        ``told`` does not name the pattern's bank, the pattern's whole number stands for both.
        """
        each = Together()
        found = self._fields(each, told, sub, base)
        each.done()
        return found

    def changes(self, told: Mapping[str, Any], *sub: str | int, base: Fields | None) -> Fields:
        """The same. Raises WrongError for a pattern that is not loaded as well."""
        each = Together()
        found = self._fields(each, told, sub, base)
        if base is not None and each.clear(PATTERN_FIELDS) and PATTERN_FIELDS & set(found):
            each(self.loaded, {**base, **found}, *sub)
        each.done()
        return found

    def _fields(self, each: Together, told: Mapping[str, Any], sub: Place, base: Fields | None) -> Fields:
        """The numbers of the fields that fit."""
        found: Fields = {}
        # a pattern by name asks for the size; told without one, as motion tells fields frame by frame, any order will do
        in_order = sorted(told.items(), key=lambda pair: pair[0] != "size") if "size" in told else told.items()
        for name, value in in_order:
            each(self._field, name, value, told, found, sub, base)
        return found

    def _field(
        self, name: str, value: Any, told: Mapping[str, Any], found: Fields, sub: Place, base: Fields | None
    ) -> None:
        """Put one field into ``found``. Raises WrongError."""
        if name not in self.layout:
            raise WrongError(f"{one_of(self.layout, 'a field of the sprites')}, got {shown(name)}", *sub, name)
        # most are numbers, in each frame those of motion, and stand for themselves
        number: int | None = value
        if not isinstance(value, int):
            known = "size" in found or ("size" not in told and base is not None)
            beside = {**(base or {}), **found} if known else None
            number = self.named(name, value, *sub, name, beside=beside)
        if number is None:
            return
        top, whole = self.layout[name].top, "pattern_bank" in self.layout and "pattern_bank" not in told
        number = self._placed(name, number, found)
        if name == "pattern" and whole and 0 <= number <= self.sprites.fields.top_number:
            found["pattern_bank"], number = divmod(number, top + 1)
        if not 0 <= number <= top:
            raise WrongError(f"must be {self._allowed(name, whole=whole)}, got {value}", *sub, name)
        found[name] = number

    def _placed(self, name: str, number: int, found: Fields) -> int:
        """A place as its field holds it, of x with the bias bit in ``found``; the number of any other field."""
        if name == "x":
            return self._x(number, found)
        if name == "y" and number < 0 and self.sprites.wrap_y:
            return number + (1 << self.layout["y"].width)
        return number

    def named(
        self, name: str, value: int | str | tuple[int, int], *sub: str | int, beside: Fields | None
    ) -> int | None:
        """The number that ``value`` stands for in the field ``name``: a pattern or a group by name, a size by its dots.

        ``beside``: the sprite's other fields, None where its size is not known; a pattern's number counts as its size does. None
        where it is unknown only because something else is wrong. Raises WrongError, at ``sub``, where it stands for none.
        """
        if name == "pattern" and not isinstance(value, tuple):
            return self._pattern(value, sub, beside)
        if name == "size" and isinstance(value, tuple):
            if value not in self.sprites.sizes:
                known = (f"{across}x{down}" for across, down in self.sprites.sizes)
                raise WrongError(f"{one_of(known, 'one of the sizes')}, got {value[0]}x{value[1]}", *sub)
            return self.sprites.sizes.index(value)
        if name == "group" and isinstance(value, str):
            groups = self.findings.chip.collisions.groups if self.findings.chip.collisions else ()
            if value not in groups:
                raise WrongError(none_of(value, groups, "a collision group"), *sub)
            return groups.index(value)
        if not isinstance(value, int):
            given = list(value) if isinstance(value, tuple) else value
            raise WrongError(f"must be a whole number, got {shown(given)}", *sub)
        return value

    def _pattern(self, value: int | str, sub: Place, beside: Fields | None) -> int | None:
        """A pattern's number; of a size that is not known none, and told is what is wrong of each size."""
        if isinstance(value, int):
            return value
        if beside is not None:
            return self.patterns.number("sprites", value, *sub, shape=self.shape(beside))
        told = {}
        for shape in self.sprites.patterns:
            try:
                self.patterns.number("sprites", value, *sub, shape=shape)
            except WrongError as wrong:
                told[wrong.message] = wrong
            else:
                return None
        if len(told) == 1:
            raise told.popitem()[1]
        return None

    def shape(self, fields: Fields) -> SpritePattern:
        """How the pattern of a sprite with these fields lies."""
        return self.sprites.patterns[fields.get("size", 0)]

    def _x(self, x: int, found: Fields) -> int:
        """The x field; a left place also sets the bias bit in ``found``, any other place clears it."""
        bias = "x_bias" in self.layout
        if bias:
            found.setdefault("x_bias", 0)
        if x >= 0:
            return x
        if bias and 0 <= x + self.sprites.x_bias <= self.layout["x"].top:
            found["x_bias"] = 1
            return x + self.sprites.x_bias
        return x + (1 << self.layout["x"].width) if self.sprites.wrap_x else x

    def _allowed(self, name: str, *, whole: bool = False) -> str:
        low, layout = 0, self.layout[name]
        if name == "pattern" and whole:
            return f"0 to {self.sprites.fields.top_number}"
        if name == "x" and self.sprites.x_bias:
            low = -self.sprites.x_bias
        if (name == "x" and self.sprites.wrap_x) or (name == "y" and self.sprites.wrap_y):
            low = min(low, -layout.top - 1)
        return f"{low} to {layout.top}"

    def whole(self, table: SpriteTable) -> Fields:
        """All fields of a sprite of the scene. Raises WrongError where some do not fit or its pattern is not loaded."""
        told = table.told
        if "enable" in self.layout:
            told.setdefault("enable", 1)
        return self.changes(told, base={})

    def loaded(self, fields: Fields, *sub: str | int) -> None:
        """Raises WrongError where the pattern that a sprite shows is not loaded, every byte of its size."""
        if "patterns" in self.findings.muted or "pattern" not in fields:
            return
        shape = self.shape(fields)
        number = self.sprites.fields.number(fields)
        if not self.patterns.has("sprites", number, shape.size_bytes, shape):
            across, down = shape.size
            raise WrongError(
                f"must be a pattern that is loaded, all {shape.size_bytes} bytes of {across}x{down} dots: "
                f"{self.patterns.known('sprites')}; got {number}",
                *sub,
                "pattern",
            )


class SpriteList:
    """The scene's sprites: their numbers by name, and each one's fields at the start, none where some are wrong."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}
        self.fields: dict[int, Fields] = {}
        self._taken: dict[int, str] = {}

    def add(self, table: SpriteTable, count: int) -> None:
        """Give the sprite its number. Raises WrongError where its name or number is taken or the table is full."""
        each = Together()
        if table.name in self.numbers:
            each.tell(f"another sprite is called {shown(table.name)}", "name")
        number = each(self._place, table, count)
        each.done()
        assert number is not None
        self.numbers[table.name] = number
        self.fields[number] = {}
        self._taken[number] = table.name

    def _place(self, table: SpriteTable, count: int) -> int:
        """The sprite's place in a table of ``count``. Raises WrongError where there is none."""
        number = table.number
        if number is None:
            number = next((free for free in range(count) if free not in self._taken), count)
            if number == count:
                raise WrongError(f"has no free place left: the sprite table has {count}", "name")
        if number >= count:
            raise WrongError(f"must be a place in the sprite table, 0 to {count - 1}, got {number}", "number")
        if number in self._taken:
            raise WrongError(f"place {number} is taken by {shown(self._taken[number])}", "number")
        return number

    def number(self, findings: Findings, name: str, *sub: str | int) -> int | None:
        """The number of the sprite ``name``; None where it is unknown only because a table has failed."""
        if name in self.numbers:
            return self.numbers[name]
        if "sprites" in findings.muted:
            return None
        raise WrongError(f"{one_of(self.numbers, 'a sprite of the scene')}, got {shown(name)}", *sub)
