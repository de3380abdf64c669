"""Dots as bytes and as digits.

Law: dots are uint8 arrays of values, bytes are those that the chip reads; both ways are exact. Knows no file, no memory and no
chip but what it is given: a raster, which end of a byte holds the leftmost dot, how a sprite's pattern lies.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.tables.pattern import Raster, SpritePattern
from ...door.shown import value as shown
from ..findings import Together, WrongError

Dots = npt.NDArray[np.uint8]
_DIGITS = {character: int(character, 16) for character in "0123456789abcdefABCDEF"} | {".": 0}


def pack(dots: Dots, bits: int, first_dot: str) -> Dots:
    """Bytes (..., width x bits / 8) of ``dots`` (..., width), each of which fits ``bits``.

    >>> pack(np.array([[1, 2, 3, 4]], np.uint8), 4, "high").tolist()
    [[18, 52]]
    """
    each = 8 // bits
    parts = dots.reshape(*dots.shape[:-1], dots.shape[-1] // each, each)
    packed = np.zeros(parts.shape[:-1], np.uint8)
    for place, shift in enumerate(_shifts(bits, first_dot)):
        packed |= parts[..., place] << np.uint8(shift)
    return packed


def unpack(packed: Dots, bits: int, first_dot: str) -> Dots:
    """Dots (..., bytes x 8 / bits) of ``packed`` (..., bytes)."""
    shifts = np.array(_shifts(bits, first_dot), np.uint8)
    parts = (packed[..., None] >> shifts) & np.uint8((1 << bits) - 1)
    return parts.reshape(*packed.shape[:-1], packed.shape[-1] * len(shifts))


def _shifts(bits: int, first_dot: str) -> list[int]:
    shifts = list(range(0, 8, bits))
    return shifts if first_dot == "low" else shifts[::-1]


def lay(dots: Dots, raster: Raster, first_dot: str, image: Dots | None = None) -> Dots:
    """Bytes (count, bases, size) of ``dots`` (count, down, across) as they lie in memory; what lies between rows stays 0.

    Given an ``image`` of these bytes, the dots are put into it, and what lies between rows stays as it is.
    """
    if image is None and raster.planes is None and raster.stride is None:  # one after another, as they are packed
        return pack(dots, raster.bits, first_dot).reshape(len(dots), 1, raster.size)
    if image is None:
        image = np.zeros((len(dots), raster.bases, raster.size), np.uint8)
    for bit, piece in enumerate(raster.bit_places):
        part = (
            pack(dots, raster.bits, first_dot)
            if raster.planes is None
            else pack(dots >> np.uint8(bit) & np.uint8(1), 1, first_dot)
        )
        image[:, piece.base, _places(raster, piece.offset)] = part
    return image


def read_back(image: Dots, raster: Raster, first_dot: str) -> Dots:
    """Dots (count, down, across) of the bytes ``image`` (count, bases, size)."""
    dots = np.zeros((len(image), raster.down, raster.across), np.uint8)
    for bit, piece in enumerate(raster.bit_places):
        part = image[:, piece.base, _places(raster, piece.offset)]
        dots |= (
            unpack(part, raster.bits, first_dot)
            if raster.planes is None
            else unpack(part, 1, first_dot) << np.uint8(bit)
        )
    return dots


def _places(raster: Raster, offset: int) -> npt.NDArray[np.int64]:
    """Where the bytes of each row lie that hold one bit of each dot, or all where they are packed, int64 (down, bytes)."""
    width = raster.row_bytes if raster.planes is None else raster.plane_bytes
    return offset + np.arange(raster.down)[:, None] * raster.step + np.arange(width)


def tiled(dots: Dots, shape: SpritePattern) -> Dots:
    """The tiles (count x tiles, height, width) of sprites' dots (count, height, width), in the order in which they lie."""
    across, down = shape.tile
    parts = dots.reshape(len(dots), dots.shape[1] // down, down, shape.across, across).transpose(0, 1, 3, 2, 4)
    return parts.reshape(len(dots), -1, down, across)[:, _as_they_lie(shape)].reshape(-1, down, across)


def untiled(tiles: Dots, shape: SpritePattern) -> Dots:
    """The sprites' dots (count, height, width) of their ``tiles``, in the order in which these lie."""
    (across, down), order = shape.tile, _as_they_lie(shape)
    parts = np.empty((len(tiles) // len(order), len(order), down, across), np.uint8)
    parts[:, order] = tiles.reshape(parts.shape)
    rows = parts.reshape(len(parts), -1, shape.across, down, across).transpose(0, 1, 3, 2, 4)
    return rows.reshape(len(parts), shape.size[1], shape.size[0])


def _as_they_lie(shape: SpritePattern) -> npt.NDArray[np.int64]:
    """The tiles of a sprite, numbered from its upper left row by row, in the order of their addresses."""
    return np.argsort(np.array(shape.offsets).reshape(-1))


def cut(dots: Dots, width: int, height: int, what: str, key: str = "png") -> Dots:
    """The patterns (count, height, width) of the picture ``what``, left to right and top to bottom.

    Raises WrongError at ``key`` where the picture is not whole patterns.
    """
    lines, across = dots.shape
    if lines % height or across % width:
        raise WrongError(f"{what} must be a multiple of {width}x{height} dots, is {across}x{lines}", key)
    parts = dots.reshape(lines // height, height, across // width, width)
    return parts.transpose(0, 2, 1, 3).reshape(-1, height, width)


def joined(tiles: npt.NDArray[Any], columns: int) -> npt.NDArray[Any]:
    """The picture (lines, dots, ...) of tiles (count, down, across, ...), ``columns`` side by side: ``cut`` reversed."""
    count, down, across = tiles.shape[:3]
    more = tiles.shape[3:]
    parts = tiles.reshape(count // columns, columns, down, across, *more)
    return parts.swapaxes(1, 2).reshape(count // columns * down, columns * across, *more)


def lowered(indices: Dots, subtract: int, top: int, what: str, key: str = "png") -> Dots:
    """``indices`` less ``subtract``, as values 0 to ``top``. Raises WrongError that names the first dot that is outside."""
    outside = (indices < subtract) | (indices > subtract + top)
    if outside.any():
        line, dot = np.argwhere(outside)[0].tolist()
        allowed = f"{subtract} to {min(subtract + top, 255)}" if subtract else f"0 to {top}"
        raise WrongError(
            f"{what} must have indices {allowed}, but dot {dot} of line {line} has {indices[line, dot]} "
            f"({int(outside.sum())} such dots)",
            key,
        )
    return (indices - np.uint8(subtract)).astype(np.uint8)


def digits_per_dot(bits: int) -> int:
    """How many hex digits a dot of ``bits`` bits is written with."""
    return 2 if bits > 4 else 1


def digits(rows: Sequence[str], bits: int, width: int | None) -> Dots:
    """Dots (rows, width) from hex digits: one a dot, two where ``bits`` is 5 or more; ``.`` is 0.

    ``width`` None takes the first row's width for all. Raises WrongError with the number of each row that is wrong.
    """
    each = digits_per_dot(bits)
    top = (1 << bits) - 1
    width = len(rows[0]) // each if width is None else width
    lines, all_of = [], Together()
    for number, row in enumerate(rows):
        if not row or len(row) != width * each:
            told = f"must have {width * each} digits ({width} dots of {bits} bits), got {len(row)}"
            all_of.tell(told, "rows", number)
        else:
            lines.append(all_of(_line, row, each, top, number))
    all_of.done()
    return np.array(lines, np.uint8).reshape(len(rows), width)


def _line(row: str, each: int, top: int, number: int) -> list[int]:
    """The values of row ``number``, ``each`` digits a dot. Raises WrongError for the first that is none."""
    values = [0] * (len(row) // each)
    for place, character in enumerate(row):
        value = _DIGITS.get(character)
        if value is None or value > top:
            allowed = f"0 to {min(top, 15):x} and ." if top > 1 else "0, 1 and ."
            raise WrongError(f"digits must be {allowed}, got {shown(character)} at place {place}", "rows", number)
        values[place // each] = values[place // each] << 4 | value
    if max(values) > top:
        dot = next(dot for dot, value in enumerate(values) if value > top)
        given = shown(row[dot * each : dot * each + each])
        raise WrongError(f"values must be 0 to {top:x}, got {given} at dot {dot}", "rows", number)
    return values
