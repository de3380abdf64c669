"""Records whose lines are all of one shape, which are most: a column of characters after the other is read for all lines at once.

Law: says the same as ``parsing.py``, many times as fast, or says nothing: where a line is of another length, a number does
not end under that of the line before, or a character is no digit, whoever asked has to look for words.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from .kinds import KINDS

Ints = npt.NDArray[np.int64]
Characters = npt.NDArray[np.uint8]
"""uint8 (characters of a line, lines)."""

MOST_DIGITS = {10: 9, 16: 16}
"""How wide a number may be so that none is too large."""

_SPACE, _MINUS, _LINE = ord(" "), ord("-"), ord("\n")
_NO_DIGIT = 99
_DIGITS = np.full(256, _NO_DIGIT, np.uint8)
_DIGITS[np.frombuffer(b"0123456789abcdef", np.uint8)] = np.arange(16)
_DIGITS[[_SPACE, _MINUS]] = 0


def aligned(text: bytes) -> tuple[str, Mapping[str, Ints]] | None:
    """The records of ``text``, whole lines in lower case without comments, or None."""
    wide = text.find(b"\n") + 1
    if wide <= 1 or len(text) % wide or text[-1] != _LINE:
        return None
    lines = np.frombuffer(text, np.uint8).reshape(-1, wide)
    if (lines[:, -1] != _LINE).any() or text.count(b"\n") != len(lines):
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
    """The numbers in a block of characters, or None."""
    if len(block) > MOST_DIGITS[base] or (block[-1] == _SPACE).any():
        return None
    value = np.zeros(block.shape[1], np.int64)
    begun: npt.NDArray[np.bool_] | None = None
    minus: npt.NDArray[np.bool_] | None = None
    for row in block:
        digit = _DIGITS[row]
        if digit.max() >= base:
            return None
        value *= base
        value += digit
        space, sign = row == _SPACE, row == _MINUS
        if begun is not None and (begun & (space | sign)).any():
            return None
        begun = ~space if begun is None else begun | ~space
        if sign.any():
            minus = sign if minus is None else minus | sign
    if minus is None:
        return value
    if base != 10 or (block[-1] == _MINUS).any():
        return None
    return np.where(minus, -value, value)
