"""Records as text: columns of numbers in, lines out.

Law: digits are looked up in tables, a column at a time, so that a frame's dots cost about what drawing them does. Knows the
kinds' columns and no more.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from .kinds import KINDS, Field, width

Column = npt.NDArray[Any]
Text = npt.NDArray[np.uint8]

SPACE, LINE_END = ord(" "), ord("\n")


def _letters(words: list[str]) -> Text:
    """Words of one length as characters, uint8 (words, length)."""
    return np.frombuffer("".join(words).encode(), np.uint8).reshape(len(words), -1)


TENS = 10_000
# Two or four characters are looked up as one number: in a third of the time that it takes them as rows of a table.
_HEX = _letters([f"{number:02x}" for number in range(256)]).view(np.uint16).reshape(-1)
_TEN = _letters([f"{number:4d}" for number in range(-1, TENS)]).view(np.uint32).reshape(-1)
_ZEROS = _letters([f"{number:04d}" for number in range(TENS)]).view(np.uint32).reshape(-1)


def as_text(kind: str, columns: Sequence[Column | int]) -> bytes:
    """The records of ``kind`` as text: ``columns`` in order, each integers (records,) or one number for all.

    Raises ValueError where a number does not fit its column.
    """
    counts = [len(each) for each in columns if isinstance(each, np.ndarray)]
    out = np.full((counts[0] if counts else 1, width(kind)), SPACE, np.uint8)
    out[:, : len(kind)] = np.frombuffer(kind.encode(), np.uint8)
    out[:, -1] = LINE_END
    at = len(kind)
    for field, numbers in zip(KINDS[kind], columns, strict=True):
        at += 1 + field.wide
        column = np.asarray(numbers).reshape(-1)
        if column.size:
            _check(field, column)
            out[:, at - field.wide : at] = sixteen(column, field.wide) if field.base == 16 else _ten(column, field.wide)
    return out.tobytes()


def _check(field: Field, column: Column) -> None:
    least, most = int(column.min()), int(column.max())
    if least < (-1 if field.base == 10 and field.wide > 1 else 0) or most >= field.base**field.wide:
        worst = least if least < 0 else most
        raise ValueError(f"{field.name} has {field.wide} digits in base {field.base}, got {worst}")


def sixteen(column: Column, wide: int) -> Text:
    """The lowest ``wide`` digits in base sixteen, zeros before them, uint8 (records, wide)."""
    raw = column.astype(">u8").view(np.uint8).reshape(-1, 8)[:, 8 - (wide + 1) // 2 :]
    return _characters(_HEX, raw)[:, wide % 2 :]


def _ten(column: Column, wide: int) -> Text:
    """Digits with spaces before them, (records, wide); -1 as it is."""
    numbers = column.astype(np.int64)
    if wide <= 4:
        return _characters(_TEN, numbers + 1)[:, 4 - wide :]
    if numbers.max() < TENS:
        return np.pad(_characters(_TEN, numbers + 1), ((0, 0), (wide - 4, 0)), constant_values=SPACE)
    high, low = np.divmod(numbers, TENS)
    high[numbers < 0] = 0
    above = _ten(high, wide - 4)
    above[high == 0] = SPACE
    below = np.where(high > 0, _ZEROS[low], _TEN[np.where(numbers < 0, -1, low) + 1])
    return np.hstack([above, below.view(np.uint8).reshape(-1, 4)])


def _characters(table: Column, numbers: Column) -> Text:
    """What ``table`` has for the numbers of each record, side by side, (records, characters)."""
    return table[numbers].view(np.uint8).reshape(len(numbers), -1)
