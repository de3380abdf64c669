"""The address map in SystemRDL's terms: words of 8, 16 and 32 bits, fields in one piece, and a name for each.

Law: a word of 17 to 24 bits is two, ``low`` of 16 bits and ``high`` of 8, as SystemRDL's have a power of two of bits. A field
that is not in one piece is several: one for each run of bits that are neighbours in the word and in the field, called NAME_H_L,
or NAME_B for a single bit, with the numbers of its own bits. Names that become one are a mistake that names both; all such are
told at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from ...chip.register_words import whole_bits
from ...chip.tables.bits import Bits
from ...files.problems import InputError, Problem
from ..names import distinct
from .address_map import Entry, Field

FILE = "registers.rdl"


class Piece(NamedTuple):
    """Bits ``high`` to ``low`` of a word hold ``reset``, and are bits ``top`` and down of ``field``; ``whole``: all of it.

    ``numbers``: those of the whole field that have a name, by that name as one of SystemRDL.
    """

    name: str
    field: Field
    high: int
    low: int
    top: int
    whole: bool
    reset: int | None
    numbers: Mapping[str, int] = {}

    @property
    def width(self) -> int:
        """Its bits."""
        return self.high - self.low + 1

    @property
    def own(self) -> str:
        """Which of the field's bits it has, in part-select notation."""
        return str(Bits(((self.top, self.top - self.width + 1),)))


class Word(NamedTuple):
    """A word of 8, 16 or 32 bits at ``offset`` of its entry; of two words of an entry each has a ``part``."""

    part: str
    offset: int
    width: int
    pieces: tuple[Piece, ...]


class Named(NamedTuple):
    """An entry with its name, and the words that it consists of."""

    name: str
    entry: Entry
    words: tuple[Word, ...]


SPANS = {1: ((0, 8),), 2: ((0, 16),), 3: ((0, 16), (16, 8)), 4: ((0, 32),)}
"""For an entry of so many bytes the first bit and the width of each word of it."""


def named(entries: Sequence[Entry]) -> list[Named]:
    """All entries with their names. Raises InputError with every two names that become one."""
    wrong: list[Problem] = []
    names = _distinct([one.words for one in entries], wrong)
    found = [Named(names.get(one.words, ""), one, tuple(_words(one, wrong))) for one in entries]
    if wrong:
        raise InputError(dict.fromkeys(wrong))
    return found


def _distinct(paths: Sequence[tuple[str, ...]], wrong: list[Problem]) -> dict[tuple[str, ...], str]:
    try:
        return distinct(paths, "systemrdl", FILE)
    except InputError as error:
        wrong += error.problems
        return {}


def _words(entry: Entry, wrong: list[Problem]) -> Iterator[Word]:
    for (first, width), part in zip(SPANS[entry.size], ("low", "high"), strict=False):
        cut = [one for field in entry.fields for one in _cut(field, first, first + width)]
        paths = [_path(one) for one in cut]
        names = _distinct(paths, wrong)
        pieces = [
            one._replace(name=names.get(path, ""), numbers=_numbered(one, wrong))
            for one, path in zip(cut, paths, strict=True)
        ]
        told = part if len(SPANS[entry.size]) > 1 else ""
        yield Word(told, first // 8, width, tuple(sorted(pieces, key=lambda one: one.low)))


def _numbered(one: Piece, wrong: list[Problem]) -> Mapping[str, int]:
    """The numbers of a field that have names, where it is in one piece."""
    told = one.field.names if one.whole else ()
    names = _distinct([(name,) for _, name in told], wrong)
    return {names[name,]: number for number, name in told if (name,) in names}


def _path(one: Piece) -> tuple[str, ...]:
    return one.field.words if one.whole else (*one.field.words, one.own.replace(":", "_"))


def _cut(field: Field, first: int, end: int) -> Iterator[Piece]:
    """The pieces of a field that lie in bits ``first`` to ``end`` - 1 of its entry, numbered from ``first``."""
    of = whole_bits(field.bits.width) if field.of is None else field.of
    pairs = list(zip(_numbers(field.bits), _numbers(of), strict=True))
    breaks = [
        place
        for place, ((bit, own), (other, its)) in enumerate(pairwise(pairs), 1)
        if other != bit - 1 or its != own - 1 or (bit >= end > other) or (bit >= first > other)
    ]
    whole = field.of is None and not breaks
    for start, stop in pairwise([0, *breaks, len(pairs)]):
        (high, top), (low, _) = pairs[start], pairs[stop - 1]
        if first <= low < end:
            reset = None if field.reset is None else field.reset >> low & (2 << high - low) - 1
            yield Piece("", field, high - first, low - first, top, whole, reset)


def _numbers(bits: Bits) -> list[int]:
    """Bit numbers, from the one that counts most."""
    return [bit for high, low in bits.parts for bit in range(high, low - 1, -1)]
