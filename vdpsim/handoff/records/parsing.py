"""Records read back: text as columns of numbers, piece by piece, so that a capture may be of any length.

Law: a line is a word of ``KINDS`` and numbers with any white space between them; lines of other words, and what stands behind
``#``, are passed over, since a test bench prints other things too. A digit that hardware does not know (x, z) makes a number
not known, a lone ``-`` says nothing of its column. A line of a known kind that has too few columns, or something else than a
number, is a mistake with its line number. All lines of a piece are looked at together; only odd numbers are looked at one by
one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
import numpy.typing as npt

from ...door.shown import clipped
from .aligned import aligned
from .kinds import KINDS, Field

ODD = "odd"
"""A column beside a record's own: bit j is set where its column j is not known, bit j + ``UNTOLD`` where nothing is told of it.

Without it all is known and told. What stands in such a column itself is 0.
"""

UNTOLD = 16

NEEDED = {"dot": 4, "access": 5}
"""How many columns a record must have where it may have fewer than it is written with: a dot its entry, an access its address."""

LONGEST = 1 << 16
"""Bytes of a record's line; longer ones of other words are passed over."""

MOST = (1 << 31) - 1
"""The largest number in base ten; one in base sixteen has up to 64 bits."""

Ints = npt.NDArray[np.int64]
Columns = Mapping[str, Ints]

_TIDY = bytes.maketrans(b"\xef\xbb\xbf\t\r\v\fABCDEFGHIJKLMNOPQRSTUVWXYZ", b"       abcdefghijklmnopqrstuvwxyz")
"""Tabs and the like are spaces; so is the mark of UTF-8 that some programs write first, or a record would be passed over."""

_SPACE, _LINE, _MINUS = ord(" "), ord("\n"), ord("-")
_NO_DIGIT = 99
_DIGITS = np.full(256, _NO_DIGIT, np.int64)
_DIGITS[np.frombuffer(b"0123456789abcdef", np.uint8)] = np.arange(16)
_COMMENT = re.compile(rb"#[^\n]*")


class UnreadableRecordError(ValueError):
    """A line that should be a record and is none; ``line`` is its number, from 1."""

    def __init__(self, line: int, message: str) -> None:
        super().__init__(message)
        self.line = line


def parsed(pieces: Iterable[bytes]) -> Iterator[tuple[str, Columns]]:
    """The records of a text that comes in ``pieces``, cut anywhere, a kind after the other of each piece.

    Columns are int64 (records,); those that records may lack, and these lack, are not there, and ``ODD`` is there where a
    number is not known or not told. Raises UnreadableRecordError.
    """
    for raw, line in _whole_lines(pieces):
        found = aligned(raw)
        if found is not None:  # as most are: tidying would take a tenth of the time, and change nothing
            yield found
            continue
        text = raw.translate(_TIDY)
        if b"#" in text:
            text = _COMMENT.sub(b"", text)
        yield from _records(text, line)


def _records(text: bytes, line: int) -> Iterator[tuple[str, Columns]]:
    """The records of tidy whole lines, of which ``line`` is the first one's number."""
    found = aligned(text)
    if found is not None:
        yield found
        return
    head = _before_even(text)
    yield from _Text(text[:head], line).records()
    if head < len(text):
        even, rest = aligned(text[head:]), line + _lines(text[:head])
        yield from [even] if even is not None else _Text(text[head:], rest).records()


def _before_even(text: bytes) -> int:
    """How many bytes stand before the last lines that are equally long, where these are most of the text; all bytes elsewhere."""
    ends = np.flatnonzero(np.frombuffer(text, np.uint8) == _LINE)
    sizes = np.diff(ends)
    other = np.flatnonzero(sizes != sizes[-1]) if len(sizes) else sizes
    head = int(ends[other[-1] + 1]) + 1 if len(other) else int(ends[0]) + 1 if len(ends) else len(text)
    return head if 0 < head < len(text) // 2 else len(text)


def _whole_lines(pieces: Iterable[bytes]) -> Iterator[tuple[bytes, int]]:
    """Texts of whole lines, each with the number of its first. What is too long to be a record is left out."""
    number, rest, passed = 1, b"", False
    for piece in pieces:
        whole, newline, tail = piece.rpartition(b"\n")
        if newline:
            yield (b"" if passed else rest) + whole + newline, number
            number += _lines(whole) + 1
            rest, passed = tail, False
        elif not passed:
            rest += tail
        if len(rest) > LONGEST and not passed:
            _check_long(rest, number)
            rest, passed = b"", True
    if rest:
        yield rest + b"\n", number


def _lines(text: bytes) -> int:
    """How many lines end in ``text``; ``bytes.count`` takes ten times as long where there are many."""
    return int(np.count_nonzero(np.frombuffer(text, np.uint8) == _LINE))


def _check_long(line: bytes, number: int) -> None:
    words = line[:64].translate(_TIDY).split()
    if words and words[0].decode("latin-1") in KINDS:
        raise UnreadableRecordError(number, f"a record's line must be at most {LONGEST} characters long")


class _Text:
    """Whole lines as words: where each begins and ends, and which is the first of each line."""

    def __init__(self, text: bytes, line: int) -> None:
        # A space before all: so the first word begins at an edge too, as every other does.
        self.line, self.bytes = line, np.frombuffer(b" " + text, np.uint8)
        apart = self.bytes <= _SPACE
        edges = np.flatnonzero(apart[1:] != apart[:-1]) + 1
        self.starts, self.ends = edges[::2], edges[1::2]
        begins = np.searchsorted(self.starts, np.flatnonzero(self.bytes == _LINE))
        self.first = np.concatenate([[0], begins[:-1]]) if len(begins) else begins
        self.count = np.diff(begins, prepend=0)

    def records(self) -> Iterator[tuple[str, Columns]]:
        """The records, a kind after the other. Raises UnreadableRecordError."""
        lines = np.flatnonzero(self.count)
        start = self.starts[self.first[lines]]
        size = self.ends[self.first[lines]] - start
        for kind in KINDS:
            word = np.frombuffer(kind.encode(), np.uint8)
            maybe = np.flatnonzero((size == len(word)) & (self.bytes[start] == word[0]))
            found = (self.bytes[start[maybe][:, None] + np.arange(len(word))] == word).all(axis=1)
            if found.any():
                yield kind, self._kind(kind, lines[maybe[found]])

    def _kind(self, kind: str, lines: Ints) -> Columns:
        """The records of ``kind``, which stand on ``lines``."""
        fields, least = KINDS[kind], NEEDED.get(kind, len(KINDS[kind]))
        count = np.minimum(self.count[lines] - 1, len(fields))
        if count.min() < least:
            wanted = " ".join(field.name for field in fields[:least])
            self._refuse(lines[count.argmin()], f"{kind} must have the columns {wanted}, got {count.min()} of them")
        odd = np.zeros(len(lines), np.int64)
        words = self.first[lines] + 1
        found: dict[str, Ints] = {}
        for number, field in enumerate(fields[: int(count.max())]):
            there = np.flatnonzero(count > number)
            value, bits = self._numbers(field, words[there] + number, lines[there])
            found[field.name] = np.zeros(len(lines), np.int64)
            found[field.name][there] = value
            odd[there] |= bits << number
            odd[count <= number] |= 1 << number + UNTOLD
        return {**found, ODD: odd} if odd.any() else found

    def _numbers(self, field: Field, words: Ints, lines: Ints) -> tuple[Ints, Ints]:
        """Words as the numbers of a column, and the bits of ``ODD`` for each as for column 0."""
        start, end = self.starts[words], self.ends[words]
        minus = (self.bytes[start] == _MINUS) & (end - start > 1) if field.base == 10 else np.zeros(1, np.bool_)
        start = start + minus if minus.any() else start
        size = end - start
        value, wrong = np.zeros(len(words), np.int64), size > (10 if field.base == 10 else 16)
        # From the last digit on, a place of all words at once: so words of any length line up.
        for place in range(min(int(size.max()), 16)):
            digit = _DIGITS[self.bytes[np.maximum(end - 1 - place, 0)]]
            if place >= size.min():
                digit = np.where(place < size, digit, 0)
            wrong |= digit >= field.base
            value += digit * (field.base**place)
        wrong |= (value > MOST) & (field.base == 10)
        value = np.where(minus, -value, value) if minus.any() else value
        bits = np.zeros(len(words), np.int64)
        for at in np.flatnonzero(wrong).tolist():
            value[at], bits[at] = _odd(field, self.bytes[start[at] : end[at]].tobytes(), self.line + int(lines[at]))
        return value, bits

    def _refuse(self, line: int, message: str) -> None:
        raise UnreadableRecordError(self.line + int(line), message)


def _odd(field: Field, word: bytes, line: int) -> tuple[int, int]:
    """An odd word as a number, and the bits of ``ODD`` for column 0."""
    if word == b"-":
        return 0, 1 << UNTOLD
    digits = b"0123456789abcdef"[: field.base]
    if all(digit in digits + b"xz" for digit in word) and len(word) <= LONGEST:
        if not all(digit in digits for digit in word):
            return 0, 1
        plain = word.lstrip(b"0") or b"0"
        if len(plain) <= 16 and (field.base == 16 or int(plain) <= MOST):
            # 64 bits as int64 holds them: what is expected was read so too, and like is held against like.
            number = int(plain, field.base)
            return number - (1 << 64 if number >> 63 else 0), 0
    allowed = f"0 to {MOST}" if field.base == 10 else "of up to 64 bits"
    given = clipped(word.decode("ascii", "replace"), 40)
    raise UnreadableRecordError(line, f"{field.name} must be a number in base {field.base}, {allowed}, got {given}")
