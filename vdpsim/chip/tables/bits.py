"""Bit layouts: which bits of a packed word hold a field.

Law: a layout is written in part-select notation, most significant bit first: ``"10:0"``, one bit ``"11"``, or parts
joined by commas, ``"31:24, 3"``, of which the first holds the highest bits. Parsing happens once; reading and writing
work alike on Python integers and on numpy integer arrays. Knows no chip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from ...door.shown import value as shown

WIDEST = 64
"""The most bits a packed word can have."""

WIDEST_FIELD = 32
"""The most bits a field can have."""

SHORT = 40
"""Characters of a text that is kept with its layout, so that a stranger's spaces are not."""


@dataclass(frozen=True)
class Bits:
    """A field of a packed word: ``parts`` are (highest, lowest) bit numbers, the first part on top.

    >>> Bits.parse("7:4").get(0xA5), Bits.parse("0, 7:4").get(0xA5), Bits.parse("7:4").put(3)
    (10, 26, 48)
    """

    parts: tuple[tuple[int, int], ...]

    @classmethod
    def parse(cls, text: str) -> Bits:
        """Read part-select notation. Raises ValueError that says what is allowed and what was given."""
        return _known(text) if len(text) <= SHORT else _read(text)

    def __str__(self) -> str:
        return ", ".join(str(high) if high == low else f"{high}:{low}" for high, low in self.parts)

    @cached_property
    def width(self) -> int:
        """How many bits the field has."""
        return sum(high - low + 1 for high, low in self.parts)

    @cached_property
    def mask(self) -> int:
        """The word in which just the field's bits are one."""
        mask = 0
        for high, low in self.parts:
            mask |= ((1 << (high - low + 1)) - 1) << low
        return mask

    @property
    def top(self) -> int:
        """The largest value that the field holds."""
        return (1 << self.width) - 1

    @property
    def highest(self) -> int:
        """The highest bit number used."""
        return max(high for high, _ in self.parts)

    def get(self, word: Any) -> Any:
        """The field's value in ``word``, an int or an integer array wide enough for the layout."""
        high, low = self.parts[0]
        value = (word >> low) & ((1 << (high - low + 1)) - 1)
        for high, low in self.parts[1:]:
            value = (value << (high - low + 1)) | ((word >> low) & ((1 << (high - low + 1)) - 1))
        return value

    def put(self, value: Any) -> Any:
        """The word whose field holds ``value`` (0 to ``top``; higher bits are cut) and whose other bits are zero."""
        word: Any = 0
        for high, low in reversed(self.parts):
            part = (1 << (high - low + 1)) - 1
            word = word | ((value & part) << low)
            value = value >> (high - low + 1)
        return word


def _read(text: str) -> Bits:
    parts = []
    for piece in text.split(","):
        ends = [end.strip() for end in piece.split(":")]
        if len(ends) > 2 or not all(end.isascii() and end.isdigit() and len(end) <= 3 for end in ends):
            raise ValueError(f'must be bit numbers such as "10:0", "11" or "31:24, 3", got {shown(text)}')
        high, low = int(ends[0]), int(ends[-1])
        if high < low:
            raise ValueError(f"the higher bit comes first: write {low}:{high}, got {shown(text)}")
        if high >= WIDEST:
            raise ValueError(f"bit numbers go from 0 to {WIDEST - 1}, got {shown(text)}")
        parts.append((high, low))
    bits = Bits(tuple(parts))
    if bits.width > WIDEST_FIELD:
        raise ValueError(f"a field has at most {WIDEST_FIELD} bits, got {shown(text)}")
    if bits.width != bits.mask.bit_count():
        raise ValueError(f"names a bit twice: {shown(text)}")
    return bits


_known = lru_cache(maxsize=1024)(_read)
"""The same for texts that come again: a wrong file is looked at hundreds of times, with the same layouts."""


def clashes(layout: Mapping[str, Bits], bits: int) -> list[str]:
    """What is wrong with a layout of a word of ``bits`` bits: fields that overlap and fields that stick out."""
    found = []
    names = list(layout)
    for index, name in enumerate(names):
        if layout[name].highest >= bits:
            found.append(
                f"{name} = {shown(str(layout[name]))} does not fit a word of {bits} bits (allowed: 0 to {bits - 1})"
            )
        for other in names[:index]:
            shared = layout[name].mask & layout[other].mask
            if shared:
                which = ", ".join(str(bit) for bit in range(WIDEST) if shared >> bit & 1)
                found.append(
                    f"{name} = {shown(str(layout[name]))} and {other} = {shown(str(layout[other]))} share bit {which}"
                )
    return found
