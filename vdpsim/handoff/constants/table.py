"""Constants and tables of numbers as they are known before any language: words for a name, numbers, and what they say.

Law: what a chip's constants are called and what each means stands once, for all languages. Words in the singular (``layer``,
``mode``) begin names that go on with one out of the chip's file; words in the plural (``layers``) begin those of tables that are
read by number. Knows no chip and no language.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from ...chip.tables.bits import Bits

NONE = -1
"""What stands where there is nothing: no control, no limit, no such bit."""

APART = "-1: its bits do not lie together, or there are none"


class Constant(NamedTuple):
    """A number: the words of its name, the number, and what it says with its unit."""

    words: tuple[str, ...]
    value: int
    about: str


class Numbers(NamedTuple):
    """A table of numbers, -1 to 2^32 - 1, by place from 0: the words of its name, the numbers, and what they say."""

    words: tuple[str, ...]
    values: tuple[int, ...]
    about: str


Item = Constant | Numbers


class Section(NamedTuple):
    """Items that belong together: a title, what holds for all of them, and the items."""

    title: str
    about: str
    items: tuple[Item, ...]


def constant(name: str, value: int, about: str) -> Constant:
    """A constant whose name is words with spaces between."""
    return Constant(tuple(name.split()), int(value), about)


def numbers(name: str, values: Iterable[int | None], about: str) -> Numbers:
    """A table whose name is words with spaces between; None is NONE."""
    return Numbers(tuple(name.split()), tuple(NONE if each is None else int(each) for each in values), about)


def columns(
    prefix: str, things: Sequence[Any], told: Iterable[tuple[str, str, Callable[[Any], int | None]]]
) -> Iterator[Numbers]:
    """Tables with a number for each of ``things``: for each a name behind ``prefix``, what it says, and how to find it."""
    for name, about, find in told:
        yield numbers(f"{prefix} {name}", (find(thing) for thing in things), about)


def enumeration(prefix: str, words: Iterable[str], about: str, always: Sequence[str] = ()) -> Iterator[Constant]:
    """A constant for each of ``words``, counted from 0; NONE for those of ``always`` that are not among them."""
    found = tuple(words)
    for number, word in enumerate(found):
        yield Constant((prefix, word), number, about if number == 0 else "")
    for word in always:
        if word not in found:
            yield Constant((prefix, word), NONE, "this chip has none")


def places(bits: Bits | None, wide: int) -> tuple[int, ...]:
    """Bit i of a field stands in bit places[i] of its word: ``wide`` numbers, NONE where the field has no bit i."""
    found = [] if bits is None else [bit for high, low in reversed(bits.parts) for bit in range(low, high + 1)]
    return (*found, *(NONE for _ in range(wide - len(found))))


def layout(words: tuple[str, ...], bits: Bits | None, about: str) -> Iterator[Constant]:
    """A field by name: its mask in the word, how many bits it has and the lowest, NONE where they do not lie together."""
    parts = () if bits is None else bits.parts
    yield Constant((*words, "mask"), 0 if bits is None else bits.mask, f"{about}: its bits in the word")
    yield Constant((*words, "bits"), 0 if bits is None else bits.width, "")
    yield Constant((*words, "lowest"), parts[0][1] if len(parts) == 1 else NONE, "" if len(parts) == 1 else APART)
