"""Records whose lines are all of one shape, which are most: a column of characters after the other is read for all lines at once.

Law: says the same as ``parsing.py``, many times as fast, or says nothing: where a line is of another length, a number does
not end under that of the line before, or a character is no digit, whoever asked has to look for words.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from .kinds import KINDS

Ints = npt.NDArray[np.int64]
Characters = npt.NDArray[np.uint8]
"""uint8 (characters of a line, lines)."""

MOST_DIGITS = {10: 9, 16: 16}
"""How wide a number may be so that none is too large."""

SMALL_DIGITS = {10: 9, 16: 7}
"""How wide one may be that fits 31 bits, which are added up in half the time."""

_SPACE, _MINUS, _LINE = ord(" "), ord("-"), ord("\n")
_NO_DIGIT = 99


def _table(base: int) -> bytes:
    """The digit that each character is; what may stand before a number counts as 0."""
    table = np.full(256, _NO_DIGIT, np.uint8)
    table[np.frombuffer(b"0123456789abcdef"[:base], np.uint8)] = np.arange(base)
    table[[_SPACE, _MINUS] if base == 10 else [_SPACE]] = 0
    return table.tobytes()


_DIGITS = {base: _table(base) for base in (10, 16)}


def aligned(text: bytes) -> tuple[str, Mapping[str, Ints]] | None:
    """The records of ``text``, whole lines in lower case without comments, or None.

    An end of a line elsewhere than under that of the first stands in a word or a number, and is none of their characters.
    """
    wide = text.find(b"\n") + 1
    if wide <= 1 or len(text) % wide or text[-1] != _LINE:
        return None
    lines = np.frombuffer(text, np.uint8).reshape(-1, wide)
    if (lines[:, -1] != _LINE).any():
        return None
    characters = np.ascontiguousarray(lines.T)
    blank = [bool((row == _SPACE).all()) for row in characters[:-1]]
    edges = np.flatnonzero(np.diff([True, *blank, True])).tolist()
    blocks = [characters[start:end] for start, end in zip(edges[::2], edges[1::2], strict=True)]
    return _kind(blocks[0], blocks[1:]) if blocks else None


def _kind(word: Characters, blocks: list[Characters]) -> tuple[str, Mapping[str, Ints]] | None:
    if (word != word[:, :1]).any():
        return None
    kind = word[:, 0].tobytes().decode("latin-1")
    fields = KINDS.get(kind, ())
    if not fields or len(blocks) != len(fields):
        return None
    found = {}
    for field, block in zip(fields, blocks, strict=True):
        numbers = _numbers(block, field.base)
        if numbers is None:
            return None
        found[field.name] = numbers
    return kind, found


def _numbers(block: Characters, base: int) -> Ints | None:
    """The numbers in a block of characters, or None.

    Strings of bytes are searched and translated several times as fast as arrays of them.
    """
    text = block.tobytes()
    digits = np.frombuffer(text.translate(_DIGITS[base]), np.uint8).reshape(block.shape)
    if len(block) > MOST_DIGITS[base] or digits.max() == _NO_DIGIT:
        return None
    space = block == _SPACE if b" " in text else None
    if space is not None and (space[-1].any() or (space[1:] & ~space[:-1]).any()):
        return None
    begin = next((at for at, row in enumerate(digits) if row.any()), len(digits))
    small = len(digits) - begin <= SMALL_DIGITS[base]
    value: npt.NDArray[Any] = np.zeros(block.shape[1], np.int32 if small else np.int64)
    for row in digits[begin:]:
        value *= base
        value += row
    if base == 16 or b"-" not in text:
        return value.astype(np.int64)
    minus = block == _MINUS
    before = np.zeros_like(minus) if space is None else space
    if minus[-1].any() or (minus[1:] & ~before[:-1]).any():
        return None
    return np.where(minus.any(axis=0), -value, value).astype(np.int64)
