"""Layers of kind ``bitmap``: a value for each dot, fetched an access at a time.

Law: an access is fetched when the dot before it on the line was fed by another. A line takes whole accesses, so where the bitmap
wraps or ends falls between two of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode
from .common import OUTSIDE, DrawnRows, Groups, Ints, Rows, crop, opaque_dots, to_entries
from .surface import Ground, edged, ground, most_groups, spread_dots

WORDS = {1: np.uint8, 2: np.uint16, 4: np.uint32, 8: np.uint64}
"""For so many dots a byte, the word that holds them all, a byte for each."""


@dataclass(eq=False, repr=False)
class _BitmapPlace:
    """Where in the bitmap each row lies, group by group an access, and the addresses of the bitmap's line.

    ``at`` (planes, rows): where the line begins in each plane; packed dots are all in one place.
    """

    ground: Ground
    at: Ints


def _where(rows: Rows, mode: BitmapMode) -> _BitmapPlace:
    lies = ground(rows, mode, mode.raster.dots_per_access(rows.plan.access))
    bases = [rows.control(name) + lies.line * mode.raster.step for name in rows.mode.bases]
    return _BitmapPlace(lies, np.stack([bases[piece.base] + piece.offset for piece in mode.raster.bit_places]))


def draw(rows: Rows) -> DrawnRows:
    """The dots and fetches of ``rows``. Ties: none; every dot has one value."""
    mode = rows.mode.mode
    assert isinstance(mode, BitmapMode)
    at = _where(rows, mode)
    values = _values(rows, mode, at)
    offset = rows.mode.base + rows.bank()[:, None] * rows.mode.bank_step
    drawn = DrawnRows(
        to_entries(rows.plan, rows.mode, values, offset),
        opaque_dots(values, mode.transparent),
        *_fetches(rows, mode, at),
        lambda: _groups(rows, mode, at),
        {when: bool(when.holds(0)) for when in rows.conditions},
    )
    return edged(drawn, rows, mode, at.ground)


def _fetches(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> tuple[Ints, Callable[[], tuple[Ints, Ints, Ints]]]:
    """Accesses of each row, and what its ends fetch; see ``DrawnRows``."""
    lies, cost = at.ground, rows.mode.costs.costs["bitmap"]

    def key(access: Ints) -> Ints:
        return np.stack([access, *(at.at + _byte(rows, mode, access)) % rows.memory.size])

    def ends() -> tuple[Ints, Ints, Ints]:
        first = lies.feeding(key, rows.left)
        return first, lies.feeding(key, rows.right - 1), np.where(first[:1] == OUTSIDE, 0, cost)

    return (np.maximum(lies.last - lies.first + 1, 0) * cost)[None], ends


def _byte(rows: Rows, mode: BitmapMode, access: Ints) -> Ints:
    """Which byte of its line an access begins with, in each plane."""
    width = mode.raster.plane_bytes if mode.planes else mode.raster.row_bytes
    found: Ints = access * rows.plan.access % width
    return found


def _values(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> npt.NDArray[np.uint8]:
    """The value of each dot, uint8 (rows, width): the dots of a byte are gathered as one word, plane by plane."""
    raster = mode.raster
    per_byte = 8 if raster.planes else 8 // raster.bits
    lies, shown = at.ground, per_byte * mode.double[0]
    start, fine = np.divmod(lies.group * lies.size + lies.fine, shown)
    across = most_groups(rows.plan.width, shown)
    alike = bool((start == start[0]).all())  # then a row of columns does for all rows
    line = raster.plane_bytes if raster.planes else raster.row_bytes
    columns = ((start[:1] if alike else start)[:, None] + np.arange(across)) % line
    when = rows.when(0)
    if when.shape[1] > 1:  # an instant for each access: spread over its bytes
        access = (start[:, None] + np.arange(across)) // rows.plan.access - lies.group[:, None]
        when = np.take_along_axis(when, access, axis=1)
    table = rows.store.dots(1 if raster.planes else raster.bits, mode.first_dot).view(WORDS[per_byte])[:, 0]
    words: Any = table.take(rows.memory.translate(when, at.at[0][:, None] + columns))
    for plane in range(1, len(at.at)):
        found = table.take(rows.memory.translate(when, at.at[plane][:, None] + columns))
        words |= found << np.uint64(plane)
    values = words.view(np.uint8).reshape(rows.count, across * per_byte)
    return crop(spread_dots(values, mode), fine, rows.plan.width)


def _groups(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> Groups:
    """What feeds the rows, access by access, or in planes by as many accesses as there are planes."""
    lies = at.ground

    def byte() -> Ints:
        return _byte(rows, mode, lies.group[:, None] + np.arange(lies.across))

    def further(place: Any, number: Ints) -> Ints:
        found: Ints = at.at[number, place[0]] + byte()[place]
        return found

    return Groups(
        size=lies.size,
        across=lies.across,
        fine=lies.fine,
        first=lies.first,
        last=lies.last,
        addresses=lambda: (at.at[0][:, None] + byte(),),
        further=further if mode.planes else None,
    )
