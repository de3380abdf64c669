"""The space in which colours are chosen: whole numbers, so that every machine finds the same banks.

Law: a colour becomes six whole numbers: its three sRGB channels and its OKLab, each set scaled. The square of the
distance of two colours is a blend of what PSNR measures (the channels) and of what an eye sees (OKLab), with the share of
the eye given by ``EYE``; of black and white both halves say the same. Coordinates are so small that every square, product
and sum below 2^24 is exact in float32: matrix products then give the same bits whatever the order of their additions.
Knows colours and the chip's grid, and nothing of tiles or banks.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import Any, Final, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...chip.colour import expand
from ...colour.space import oklab

Singles: TypeAlias = NDArray[np.float32]
Bytes: TypeAlias = NDArray[np.uint8]
Channels: TypeAlias = tuple[int, int, int]

EYE: Final = 0.2  # the share of OKLab in the square of a distance
FINE: Final = 2.0  # steps of a coordinate to one step of a channel
AXES: Final = 6

_TRIED: Final = np.array(
    list(product(range(3), repeat=3))
)  # which of three levels each of 27 colours has in each channel

_SMALL: Final = 200_000  # multiplications that one thread does sooner than several

_BY_CHANNEL: Final = FINE * (1 - EYE) ** 0.5
_BY_EYE: Final = FINE * EYE**0.5 * 255 * 3**0.5  # black and white lie 1 apart in OKLab, and 255 x sqrt(3) in sRGB


def points(rgb8: ArrayLike) -> Singles:
    """Colours (..., 3) of 0 to 255 as points (..., 6): whole numbers in float32."""
    colours = np.asarray(rgb8, dtype=np.float64)
    halves = [colours * _BY_CHANNEL, oklab(colours) * _BY_EYE]
    return np.rint(np.concatenate(halves, axis=-1)).astype(np.float32)


def product_of(rows: Singles, columns: Singles) -> Singles:
    """``rows @ columns``, in pieces so small that no BLAS spreads them over threads: that would cost more than it saves here."""
    most = max(1, _SMALL // max(1, rows.size))
    if columns.shape[1] <= most:
        return np.asarray(rows @ columns, dtype=np.float32)
    found = np.empty((len(rows), columns.shape[1]), np.float32)
    for start in range(0, columns.shape[1], most):
        part = slice(start, start + most)
        found[:, part] = rows @ columns[:, part]
    return found


def first_least(apart: Singles) -> NDArray[np.intp]:
    """``apart.argmin(axis=0)``, the first of equals: row by row where columns are many, in a quarter of the time."""
    rows, columns = apart.shape
    if columns < 1 << 12 or rows >= 1 << 15:
        return np.asarray(apart.argmin(axis=0), dtype=np.intp)
    least = apart.min(axis=0)
    which = np.zeros(columns, np.int16)
    for row in range(rows - 1, -1, -1):
        np.copyto(which, row, where=apart[row] == least)
    return which.astype(np.intp)


@cache
def grid(bits: int) -> Bytes:
    """The 8-bit channels that ``bits`` bits can show, ascending; read-only."""
    found = np.array([expand(value, bits) for value in range(1 << bits)], np.uint8)
    found.flags.writeable = False
    return found


def _steps(channel: NDArray[Any], levels: Bytes) -> NDArray[np.intp]:
    """The place of the level nearest to each channel, 0 to 255; the lower of two."""
    above = np.clip(np.searchsorted(levels, channel), 1, len(levels) - 1)
    low, high = levels[above - 1].astype(np.float64), levels[above].astype(np.float64)
    return np.where(channel - low <= high - channel, above - 1, above)


def snap(places: NDArray[Any], channels: Channels) -> Bytes:
    """The colours (k, 3) of the chip's grid whose points lie nearest to ``places`` (k, 6); the darkest of equals.

    Tried are the level nearest to each channel and its neighbours, 27 colours.
    """
    around = []
    for part, bits in enumerate(channels):
        levels = grid(bits)
        near = _steps(places[:, part] / _BY_CHANNEL, levels)
        around.append(levels[np.clip(near[:, None] + np.array([-1, 0, 1]), 0, len(levels) - 1)])
    colours = np.stack([around[part][:, _TRIED[:, part]] for part in range(3)], axis=-1)
    apart = ((points(colours).astype(np.float64) - places[:, None, :]) ** 2).sum(axis=-1)
    return np.asarray(colours[np.arange(len(colours)), apart.argmin(axis=1)], dtype=np.uint8)


def neighbours(colour: Bytes, channels: Channels) -> Bytes:
    """The colours (up to 26, 3) of the chip's grid that are one level away from ``colour``, itself on it, in some channels."""
    choices = []
    for part, bits in enumerate(channels):
        levels = grid(bits)
        place = int(np.searchsorted(levels, colour[part]))
        choices.append(levels[max(place - 1, 0) : place + 2].tolist())
    own = tuple(int(channel) for channel in colour)
    return np.array([each for each in product(*choices) if each != own], np.uint8).reshape(-1, 3)


def form(places: Singles) -> Singles:
    """Points (k, 6) as rows (k, 7) which, times ``lifted`` points, give squares of distances less the point's own square."""
    return np.concatenate([-2 * places, (places * places).sum(axis=1, keepdims=True)], axis=1)


def lifted(places: Singles) -> Singles:
    """Points (n, 6) as columns (7, n): the six coordinates and 1."""
    return np.ascontiguousarray(np.concatenate([places, np.ones((len(places), 1), np.float32)], axis=1).T)
