"""What a caller gave: checked at the door, and refused with its name, what is allowed and what was given.

Law: a wrong kind is a TypeError, a wrong value a ValueError, told before anything has changed. A whole number is an int or
numpy's, never a bool; what comes back is Python's own. Knows nothing of chips.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from numbers import Real
from operator import index
from pathlib import Path, PurePath
from typing import Any

from .shown import value as shown

MOST_DOTS = 1 << 26
"""The most dots of a picture: in colour 192 MB, of which a few copies are needed."""


def is_whole(value: object) -> bool:
    """Whether ``value`` is a whole number: an int or numpy's, and not a bool."""
    return hasattr(type(value), "__index__") and type(value).__name__ not in {"bool", "bool_", "ndarray"}


def whole_number(name: str, value: Any, least: int = 0, most: int | None = None, *, hexadecimal: bool = False) -> int:
    """``value`` as an int, ``least`` to ``most`` (None: no end). Raises TypeError where it is none, ValueError out of range."""
    if type(value) is int:
        number = value
    else:
        if not is_whole(value):
            raise TypeError(f"{name} must be a whole number, {_allowed(least, most)}, got {shown(value)}")
        number = index(value)
    if number < least or (most is not None and number > most):
        given = f"{number:#x}" if hexadecimal and number.bit_length() <= 64 else shown(number)
        raise ValueError(f"{name} must be {_allowed(least, most, hexadecimal=hexadecimal)}, got {given}")
    return number


def whole(name: str, value: Any) -> int:
    """``value`` as an int of any size. Raises TypeError where it is no whole number."""
    if type(value) is int:
        return value
    if not is_whole(value):
        raise TypeError(f"{name} must be a whole number, got {shown(value)}")
    return index(value)


def _allowed(least: int, most: int | None, *, hexadecimal: bool = False) -> str:
    if most is None:
        return f"{least} or more"
    return f"0x{least:X} to 0x{most:X}" if hexadecimal else f"{least} to {most}"


def real_number(name: str, value: Any, least: float, most: float) -> float:
    """``value`` as a float, ``least`` to ``most``. Raises TypeError where it is no number, ValueError out of range or for nan."""
    if isinstance(value, bool) or not isinstance(value, Real):
        raise TypeError(f"{name} must be a number, {least:g} to {most:g}, got {shown(value)}")
    try:
        found = float(value)
    except OverflowError:
        found = inf
    if not least <= found <= most:
        raise ValueError(f"{name} must be {least:g} to {most:g}, got {shown(value)}")
    return found


def instance(name: str, value: Any, kind: Any, told: str = "") -> Any:
    """``value``, which must be of ``kind``, a type or several (``told`` in words). Raises TypeError."""
    if not isinstance(value, kind):
        raise TypeError(f"{name} must be {told or f'a {kind.__name__}'}, got {shown(value)}")
    return value


def flag(name: str, value: Any) -> bool:
    """``value``, which must be True or False. Raises TypeError."""
    if type(value).__name__ not in {"bool", "bool_"}:
        raise TypeError(f"{name} must be True or False, got {shown(value)}")
    return bool(value)


def raw_bytes(name: str, value: Any) -> bytes:
    """``value`` as bytes: bytes, a bytearray or a memoryview. Raises TypeError."""
    if not isinstance(value, bytes | bytearray | memoryview):
        raise TypeError(f"{name} must be bytes, got {shown(value)}")
    return bytes(value)


def text(name: str, value: Any) -> str:
    """``value``, which must be text. Raises TypeError."""
    found: str = instance(name, value, str, "text")
    return found


def one_of(name: str, value: Any, allowed: Iterable[str]) -> str:
    """``value``, which must be one of ``allowed``. Raises TypeError where it is no text, ValueError for another."""
    known, found = tuple(allowed), text(name, value)
    if found not in known:
        raise ValueError(f"{name} must be {', '.join(known)}, got {shown(value)}")
    return found


def several(name: str, value: Any, told: str) -> Any:
    """``value``, which must be several things to be gone through (``told`` in words), not gone through yet. Raises TypeError."""
    if isinstance(value, str | bytes) or not isinstance(value, Iterable):
        raise TypeError(f"{name} must be {told}, got {shown(value)}")
    return value


def items(name: str, value: Any, told: str) -> tuple[Any, ...]:
    """``value``, which must be several things to be gone through (``told`` in words), as a tuple. Raises TypeError."""
    return tuple(several(name, value, told))


def path(name: str, value: Any) -> Path:
    """``value``, text or a Path, as a Path. Raises TypeError for another kind."""
    if not isinstance(value, str | PurePath):
        raise TypeError(f"{name} must be a path, as text or a Path, got {shown(value)}")
    return Path(value)


def function(name: str, value: Any) -> Any:
    """``value``, which must be None or can be called. Raises TypeError."""
    if value is not None and not callable(value):
        raise TypeError(f"{name} must be a function or None, got {shown(value)}")
    return value


def picture_scale(scale: Any, most: int, wide: int, high: int) -> int:
    """How many dots across and down a dot of a picture of ``wide`` x ``high`` becomes: 1 to ``most``.

    Raises TypeError, or ValueError where it is out of range or the picture would have more than MOST_DOTS dots.
    """
    number = whole_number("scale", scale, 1, most)
    dots = wide * high * number * number
    if dots > MOST_DOTS:
        raise ValueError(
            f"scale must leave at most {MOST_DOTS:,} dots, got {number}: {wide} x {number} by {high} x {number} is {dots:,}"
        )
    return number
