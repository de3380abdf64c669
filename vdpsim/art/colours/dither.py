"""Which value each dot of a picture has, once the banks and their colours are known: plain, ordered or by diffusion.

Law: a dot shows only colours of its own bank, and what one bank fails to show is never made up for by the dots of another:
error stays among the dots of its bank. The same picture gives the same dots on every machine: plain and ordered work on
the whole-numbered points of ``choose_points`` and decide ties for the lower value; diffusion on whole sixteenths of a
channel's step. Shades mix as sRGB channels do. Knows no chip.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final, TypeAlias, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...door.shown import value as value_shown
from ..arrays import Dithering
from .choose_points import Bytes, Singles, first_least, form, lifted, points, product_of

Values: TypeAlias = NDArray[np.intp]

# The grain of a mix: what two colours of a mix may lie apart before another mix, or one colour alone, is better. 0 would
# mix the farthest colours for the smallest gain; at 1 nothing is mixed.
GRAIN: Final = 0.15

_CHUNK: Final = 1 << 13


def _thresholds() -> NDArray[np.int64]:
    """The 64 thresholds of an 8 x 8 square, 0 to 63, such that each next one lies far from those before it."""
    square = np.zeros((1, 1), np.int64)
    for _ in range(3):
        square = np.block([[4 * square, 4 * square + 2], [4 * square + 3, 4 * square + 1]])
    return square


def dither(
    rgb: NDArray[Any],
    opaque: NDArray[np.bool_],
    bank_of_dot: NDArray[Any],
    colours: Sequence[ArrayLike],
    kind: str = "none",
) -> Values:
    """The value of each dot (h, w): the place of its colour among those of its bank; -1 where the dot is not opaque.

    ``rgb`` (h, w, 3) holds 0 to 255; ``bank_of_dot`` (h, w) numbers ``colours``, each (k, 3) of 0 to 255. ``kind``:
    "none" takes the nearest colour; "ordered" mixes two colours by a fixed 8 x 8 pattern that repeats over the picture;
    "diffusion" hands what a dot fails to show to the dots right of and below it that have its bank, 7, 3, 5 and 1
    sixteenths of it. Raises ValueError for another kind, for shapes that differ, and where an opaque dot's bank is
    not there or has no colour.
    """
    if kind not in get_args(Dithering):
        raise ValueError(f"dither takes {', '.join(get_args(Dithering))}, got {value_shown(kind)}")
    picture, banks = np.asarray(rgb), np.asarray(bank_of_dot)
    solid = np.asarray(opaque, dtype=bool)
    if picture.ndim != 3 or picture.shape[2] != 3 or not picture.shape[:2] == solid.shape == banks.shape:
        raise ValueError(
            "dither takes a picture (h, w, 3) and opaque dots and banks (h, w), got "
            f"{picture.shape}, {solid.shape} and {banks.shape}"
        )
    held = [np.asarray(each, dtype=np.uint8).reshape(-1, 3) for each in colours]
    for bank in np.unique(banks[solid]).tolist():
        if not 0 <= bank < len(held) or not len(held[bank]):
            raise ValueError(f"an opaque dot takes a bank with colours; of {len(held)} banks it got number {bank}")
    if kind == "diffusion":
        return _diffused(picture.astype(np.int64), solid, banks, held)
    values = np.full(solid.shape, -1, np.intp)
    rows, columns = np.nonzero(solid)
    level = _thresholds()[rows % 8, columns % 8]
    bank_of = banks[rows, columns]
    seen = points(picture[rows, columns])
    found = np.full(len(rows), -1, np.intp)
    for bank, each in enumerate(held):
        mine = np.flatnonzero(bank_of == bank)
        shown: Callable[[Values], Values]
        shown = _Plain(seen, each) if kind == "none" else _Mixed(seen, level, each)
        for start in range(0, len(mine), _CHUNK):
            part = mine[start : start + _CHUNK]
            found[part] = shown(part)
    values[rows, columns] = found
    return values


class _Plain:
    """The nearest colour of one bank for dots by number; the lower value of equals."""

    def __init__(self, seen: Singles, colours: Bytes) -> None:
        self.seen, self.form = seen, form(points(colours))

    def __call__(self, dots: Values) -> Values:
        return first_least(product_of(self.form, lifted(self.seen[dots])))


class _Mixed:
    """The colour of one bank for dots by number, by a mix of two: the nearest and the one that it mixes best with.

    A mix is judged by how far it lies from the dot, and by how far its colours lie apart where both show often. The
    darker of the two shows where the threshold is the higher, so that the pattern goes on where shades run into another.
    """

    def __init__(self, seen: Singles, level: NDArray[np.int64], colours: Bytes) -> None:
        self.seen, self.level = seen, level
        self.places = points(colours).astype(np.float64)
        self.light = colours.astype(np.int64) @ np.array([299, 587, 114])  # of ITU-R BT.601, in thousandths
        self.plain = _Plain(seen, colours)

    def __call__(self, dots: Values) -> Values:
        near = self.plain(dots)
        toward = self.seen[dots].astype(np.float64) - self.places[near]  # (dots, 6)
        inner = toward @ self.places.T - np.einsum("ij,ij->i", toward, self.places[near])[:, None]
        gaps = self.places[:, None] - self.places
        square = (gaps**2).sum(axis=2)[near]
        share = np.clip(64 * inner / np.maximum(square, 1), 0, 32)  # of the other colour, in 64ths
        loss = square * share**2 - 128 * inner * share + GRAIN * square * share * (64 - share)
        other = loss.argmin(axis=1)
        rows = np.arange(len(dots))
        mixed = np.floor(share[rows, other]).astype(np.int64)
        other_is_lighter = self.light[other] > self.light[near]
        of_lighter = np.where(other_is_lighter, mixed, 64 - mixed)
        lighter = self.level[dots] < of_lighter
        return np.where(lighter == other_is_lighter, other, near)


def _diffused(
    picture: NDArray[np.int64], solid: NDArray[np.bool_], banks: NDArray[Any], held: Sequence[Bytes]
) -> Values:
    """Diffusion, slanted line by slanted line: a dot waits for those left of and above it, up to one column to its right.

    So all dots of one x + 2y are independent and are worked out at once.
    """
    height, width = solid.shape
    most = max((len(each) for each in held), default=0)
    table = np.full((len(held), most, 3), 1 << 12, np.int64)  # an empty place lies farther away than any colour
    for bank, each in enumerate(held):
        table[bank, : len(each)] = each
    most_handed = np.array([_widest_step(each) * 8 for each in held]).reshape(-1, 3)
    values = np.full(solid.shape, -1, np.intp)
    # A rim of one dot around the picture belongs to no bank: what is handed to it is dropped.
    owner = np.full((height + 1, width + 2), -1, np.int64)
    owner[:height, 1:-1] = np.where(solid, banks, -1)
    carried = np.zeros((*owner.shape, 3), np.int64)
    for slant in range(width + 2 * (height - 1) if solid.any() else 0):
        rows = np.arange(max(0, (slant - width + 2) // 2), min(height - 1, slant // 2) + 1)
        columns = slant - 2 * rows + 1
        keep = owner[rows, columns] >= 0
        rows, columns = rows[keep], columns[keep]
        if not rows.size:
            continue
        bank = owner[rows, columns]
        wanted = np.clip(picture[rows, columns - 1] * 16 + carried[rows, columns], 0, 255 * 16)
        value = ((table[bank] * 16 - wanted[:, None]) ** 2).sum(axis=2).argmin(axis=1)
        values[rows, columns - 1] = value
        missed = np.clip(wanted - table[bank, value] * 16, -most_handed[bank], most_handed[bank])
        for down, right, parts in ((0, 1, 7), (1, -1, 3), (1, 0, 5), (1, 1, 1)):
            to = (rows + down, columns + right)
            kin = owner[to] == bank
            carried[to[0][kin], to[1][kin]] += missed[kin] * parts + 8 >> 4
    return values


def _widest_step(colours: Bytes) -> NDArray[np.int64]:
    """The longest step (3,), in each channel, of the tree of least length that joins all colours of a bank.

    A shade between two colours that are joined misses the nearer by at most half of it. Where a dot misses by more, its
    shade is one that the bank cannot mix: handed on, that would gather until a single dot flares up.
    """
    places = colours.astype(np.int64)
    longest = np.zeros(3, np.int64)
    if not len(places):
        return longest
    parent = np.zeros(len(places), np.intp)
    apart = ((places - places[0]) ** 2).sum(axis=1)
    outside = np.arange(len(places)) > 0
    for _ in range(len(places) - 1):
        new = int(np.where(outside, apart, 1 << 20).argmin())
        longest = np.maximum(longest, np.abs(places[new] - places[parent[new]]))
        outside[new] = False
        closer = ((places - places[new]) ** 2).sum(axis=1)
        parent[closer < apart] = new
        apart = np.minimum(apart, closer)
    return longest
