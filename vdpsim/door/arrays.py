"""What a caller of the art room's doors gave: colours, sizes, sets of numbers and arrays, checked before any work begins.

Law: as ``given``: a wrong kind is a TypeError, a wrong value a ValueError, with the argument's name, what is allowed and what
was given; what comes back is Python's own or numpy's. An array is told by its dtype and shape. Knows no chip and no picture.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from .given import items, text, whole, whole_number
from .shown import value as shown

MOST_SIDE = 1 << 16
"""Dots of a side of anything that is asked for; what is larger fits no picture that is read."""

FURTHEST = 1e6
"""Parts of colours lie within this and its negative: beyond, sums of them lose what differs."""


def told(value: object) -> str:
    """A value as messages show it: an array by its dtype and shape."""
    return f"{value.dtype} {value.shape}" if isinstance(value, np.ndarray) else shown(value)


def array(name: str, value: Any, allowed: str, kinds: str) -> npt.NDArray[Any]:
    """``value``, an array or what numpy makes one of, with a dtype of ``kinds`` (``allowed`` in words). Raises TypeError."""
    try:
        found = np.asarray(value)
    except (TypeError, ValueError, OverflowError):
        found = None
    if found is None or found.dtype.kind not in kinds:
        raise TypeError(f"{name} must be {allowed}, got {told(value)}")
    return found


def colours(name: str, value: Any) -> npt.NDArray[np.float64]:
    """Colours (..., 3), whole numbers or not, as float64.

    Raises TypeError where they are no numbers, ValueError for another shape, or parts that are no colour's (or nan).
    """
    allowed = "an array of numbers whose last axis is 3 long"
    found = array(name, value, allowed, "iuf").astype(np.float64, copy=False)
    if found.ndim == 0 or found.shape[-1] != 3:
        raise ValueError(f"{name} must be {allowed}, got {told(value)}")
    if not (np.abs(found) <= FURTHEST).all():
        raise ValueError(f"{name} must be parts of colours, -{FURTHEST:g} to {FURTHEST:g}, got {told(value)}")
    return found


def mask(name: str, value: Any, shape: tuple[int, ...] | None, allowed: str) -> npt.NDArray[np.bool_]:
    """``value`` as an array of bools of ``shape`` (None: any). Raises TypeError or ValueError."""
    found = array(name, value, allowed, "b")
    if shape is not None and found.shape != shape:
        raise ValueError(f"{name} must be {allowed}, got {told(value)}")
    return found


def picture(name: str, value: Any) -> npt.NDArray[np.uint8]:
    """``value``, a uint8 array (lines, dots, 3) with a dot. Raises TypeError where it is no array, else ValueError."""
    allowed = "a uint8 array (lines, dots, 3) of at least one dot"
    if not isinstance(value, np.ndarray):
        raise TypeError(f"{name} must be {allowed}, got {told(value)}")
    if value.dtype != np.uint8 or value.ndim != 3 or value.shape[2] != 3 or not value.size:
        raise ValueError(f"{name} must be {allowed}, got {told(value)}")
    return value


def shade(name: str, value: Any) -> tuple[int, int, int]:
    """``value`` as an 8-bit colour: three whole numbers, 0 to 255. Raises TypeError or ValueError."""
    allowed = "a colour: red, green and blue, 0 to 255 each"
    if isinstance(value, np.ndarray) and value.ndim == 1:
        value = value.tolist()
    if not isinstance(value, list | tuple):
        raise TypeError(f"{name} must be {allowed}, got {told(value)}")
    if len(value) != 3:
        raise ValueError(f"{name} must be {allowed}, got {shown(value)}")
    red, green, blue = (whole_number(f"each part of {name}", part, 0, 255) for part in value)
    return red, green, blue


def size(name: str, value: Any) -> tuple[int, int]:
    """``value`` as dots across and down: two whole numbers. Raises TypeError, or ValueError where they are not two.

    Whether so many dots can be is for the caller to say.
    """
    allowed = "dots across and down, such as (16, 16)"
    if not isinstance(value, list | tuple):
        raise TypeError(f"{name} must be {allowed}, got {told(value)}")
    if len(value) != 2:
        raise ValueError(f"{name} must be {allowed}, got {shown(value)}")
    return whole(f"each of {name}", value[0]), whole(f"each of {name}", value[1])


def numbers(name: str, value: Any, least: int = 0, most: int | None = None) -> tuple[int, ...]:
    """``value`` as whole numbers, ``least`` to ``most``. Raises TypeError or ValueError."""
    return tuple(whole_number(f"each of {name}", one, least, most) for one in items(name, value, "whole numbers"))


def symbols(name: str, value: Any) -> frozenset[int]:
    """``value``, a set or another collection of whole numbers, as a set. Raises TypeError."""
    if isinstance(value, str | bytes | Mapping) or not isinstance(value, Collection):
        raise TypeError(f"{name} must be a collection of whole numbers, got {told(value)}")
    return frozenset(value if {*map(type, value)} <= {int} else [whole(f"each of {name}", one) for one in value])


def several_symbols(name: str, value: Any) -> list[frozenset[int]]:
    """``value``, several collections of whole numbers, as sets. Raises TypeError."""
    return [symbols(name, one) for one in items(name, value, "collections of whole numbers")]


def texts(name: str, value: Iterable[Any]) -> tuple[str, ...]:
    """``value``, several texts. Raises TypeError."""
    return tuple(text(f"each of {name}", one) for one in items(name, value, "several texts"))
