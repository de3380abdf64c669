"""Layers of kind ``bitmap``: a value for each dot, fetched an access at a time.

Law: an access is fetched when the dot before it on the line was fed by another. The bitmap wraps at its width and height in
memory; a line takes whole accesses, so the wrap falls between two of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode
from .common import DrawnRows, Groups, Ints, Rows, crop, opaque_dots, to_entries

WORDS = {1: np.uint8, 2: np.uint16, 4: np.uint32, 8: np.uint64}
"""For so many dots a byte, the word that holds them all, a byte for each."""


@dataclass(eq=False, repr=False)
class _BitmapPlace:
    """Where in the bitmap each row lies: the dot at which the line begins, and the addresses of the bitmap's line.

    ``at`` (planes, rows): where the line begins in each plane; packed dots are all in one place. The accesses from number
    ``first`` to ``last`` of that line feed the row; ``begin`` is the line's first. An access has ``per_access`` dots, in one
    plane or in all of them.
    """

    scroll_x: Ints
    at: Ints
    per_access: int
    begin: Ints
    first: Ints
    last: Ints


def _where(rows: Rows, mode: BitmapMode) -> _BitmapPlace:
    scroll_x, line = rows.scroll("x"), (rows.t + rows.scroll("y")) % mode.height
    per_access, begin = mode.raster.dots_per_access(rows.plan.access), line * mode.raster.step
    bases = [rows.control(name) + begin for name in rows.mode.bases]
    return _BitmapPlace(
        scroll_x=scroll_x,
        at=np.stack([bases[piece.base] + piece.offset for piece in mode.raster.bit_places]),
        per_access=per_access,
        begin=scroll_x // per_access,
        first=(scroll_x + rows.left) // per_access,
        last=(scroll_x + rows.right - 1) // per_access,
    )


def draw(rows: Rows) -> DrawnRows:
    """The dots and fetches of ``rows``. Ties: none; every dot has one value."""
    mode = rows.mode.mode
    assert isinstance(mode, BitmapMode)
    at = _where(rows, mode)
    values = _values(rows, mode, at)
    offset = rows.mode.base + rows.bank()[:, None] * rows.mode.bank_step
    cost = rows.mode.costs.costs["bitmap"]

    def key(access: Ints) -> Ints:
        return np.stack([access, *(at.at + _byte(rows, mode, access)) % rows.memory.size])

    return DrawnRows(
        to_entries(rows.plan, rows.mode, values, offset),
        opaque_dots(values, mode.transparent),
        ((at.last - at.first + 1) * cost)[None],
        lambda: (key(at.first), key(at.last), np.full((1, rows.count), cost)),
        lambda: _groups(rows, mode, at),
        {when: bool(when.holds(0)) for when in rows.conditions},
    )


def _byte(rows: Rows, mode: BitmapMode, access: Ints) -> Ints:
    """Which byte of its line an access begins with, in each plane."""
    width = mode.raster.plane_bytes if mode.planes else mode.raster.row_bytes
    found: Ints = access * rows.plan.access % width
    return found


def _values(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> npt.NDArray[np.uint8]:
    """The value of each dot, uint8 (rows, width): the dots of a byte are gathered as one word, plane by plane."""
    raster = mode.raster
    per_byte = 8 if raster.planes else 8 // raster.bits
    start, fine = np.divmod(at.scroll_x, per_byte)
    across = _most(rows.plan.width, per_byte)
    alike = bool((start == start[0]).all())  # then a row of columns does for all rows
    line = raster.plane_bytes if raster.planes else raster.row_bytes
    columns = ((start[:1] if alike else start)[:, None] + np.arange(across)) % line
    when = rows.when(0)
    if when.shape[1] > 1:  # an instant for each access: spread over its bytes
        access = (start[:, None] + np.arange(across)) // rows.plan.access - at.begin[:, None]
        when = np.take_along_axis(when, access, axis=1)
    table = rows.store.dots(1 if raster.planes else raster.bits, mode.first_dot).view(WORDS[per_byte])[:, 0]
    words: Any = table.take(rows.memory.translate(when, at.at[0][:, None] + columns))
    for plane in range(1, len(at.at)):
        found = table.take(rows.memory.translate(when, at.at[plane][:, None] + columns))
        words |= found << np.uint64(plane)
    return crop(words.view(np.uint8).reshape(rows.count, across * per_byte), fine, rows.plan.width)


def _groups(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> Groups:
    """What feeds the rows, access by access, or in planes by as many accesses as there are planes."""
    across = _most(rows.plan.width, at.per_access)

    def byte() -> Ints:
        return _byte(rows, mode, at.begin[:, None] + np.arange(across))

    def further(place: Any, number: Ints) -> Ints:
        found: Ints = at.at[number, place[0]] + byte()[place]
        return found

    return Groups(
        size=at.per_access,
        across=across,
        fine=at.scroll_x % at.per_access,
        first=at.first - at.begin,
        last=at.last - at.begin,
        addresses=lambda: (at.at[0][:, None] + byte(),),
        further=further if mode.planes else None,
    )


def _most(width: int, size: int) -> int:
    """How many groups of ``size`` dots a line of ``width`` dots can touch."""
    return (width + size - 2) // size + 1
