"""Layers of kind ``bitmap``: a value for each dot, fetched an access at a time.

Law: an access is fetched when the dot before it on the line was fed by another. A line takes whole accesses, so where the bitmap
wraps or ends falls between two of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode
from .common import (
    OUTSIDE,
    DrawnRows,
    Ground,
    Groups,
    Ints,
    Rows,
    crop,
    edged,
    ground,
    most_groups,
    opaque_dots,
    spread_dots,
    to_entries,
)

if TYPE_CHECKING:
    from .colours import ColourCellsShown

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
    lies = ground(rows, mode, mode.group(rows.plan.access))
    bases = [rows.control(name) + lies.line * mode.raster.step for name in rows.mode.bases]
    return _BitmapPlace(lies, np.stack([bases[piece.base] + piece.offset for piece in mode.raster.bit_places]))


def draw(rows: Rows) -> DrawnRows:
    """The dots and fetches of ``rows``. Ties: none; every dot has one value."""
    mode = rows.mode.mode
    assert isinstance(mode, BitmapMode)
    at = _where(rows, mode)
    values: npt.NDArray[Any] = _values(rows, mode, at)
    cells = _colour_cells(rows, mode, at)
    offset: Any = rows.mode.base + rows.bank()[:, None] * rows.mode.bank_step
    if cells is not None and cells.two:
        values = np.where(values == 1, cells.dotwise("foreground"), cells.dotwise("background"))
    elif cells is not None:
        offset = rows.mode.base + cells.dotwise("bank") * rows.mode.bank_step
    drawn = DrawnRows(
        to_entries(rows.plan, rows.mode, values, offset),
        opaque_dots(values, mode.transparent),
        *_fetches(rows, mode, at, cells),
        lambda: _groups(rows, mode, at, cells),
        {when: bool(when.holds(0)) for when in rows.conditions},
    )
    if cells is not None and mode.asked:
        cells.tell(drawn, rows, mode)
    return edged(drawn, rows, mode, at.ground)


def _fetches(
    rows: Rows, mode: BitmapMode, at: _BitmapPlace, cells: ColourCellsShown | None
) -> tuple[Ints, Callable[[], tuple[Ints, Ints, Ints]]]:
    """Accesses of each row, and what its ends fetch; see ``DrawnRows``."""
    lies, costs = at.ground, np.array(list(rows.mode.costs.costs.values()))[:, None]

    def key(group: Ints) -> Ints:
        found = [group, *(at.at + _byte(rows, mode, group)) % rows.memory.size]
        return np.stack(found if cells is None else [*found, cells.address_of(group)])

    def ends() -> tuple[Ints, Ints, Ints]:
        first = lies.feeding(key, rows.left)
        return first, lies.feeding(key, rows.right - 1), np.where(first[0] == OUTSIDE, 0, costs)

    return np.maximum(lies.last - lies.first + 1, 0) * costs, ends


def _byte(rows: Rows, mode: BitmapMode, group: Ints) -> Ints:
    """Which byte of its line a group begins with, in each plane."""
    width = mode.raster.plane_bytes if mode.planes else mode.raster.row_bytes
    found: Ints = group * _accesses(rows, mode) * rows.plan.access % width
    return found


def _accesses(rows: Rows, mode: BitmapMode) -> int:
    """How many accesses bring a group's dots in each plane."""
    return mode.group(rows.plan.access) // mode.raster.dots_per_access(rows.plan.access)


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
    when = rows.when(len(rows.mode.columns) - 1)
    if when.shape[1] > 1:  # an instant for each group: spread over its bytes
        group = (start[:, None] + np.arange(across)) // (_accesses(rows, mode) * rows.plan.access) - lies.group[:, None]
        when = np.take_along_axis(when, group, axis=1)
    table = rows.store.dots(1 if raster.planes else raster.bits, mode.first_dot).view(WORDS[per_byte])[:, 0]
    words: Any = table.take(rows.memory.translate(when, at.at[0][:, None] + columns))
    for plane in range(1, len(at.at)):
        found = table.take(rows.memory.translate(when, at.at[plane][:, None] + columns))
        words |= found << np.uint64(plane)  # a byte of a word is 0 or 1, and no shift below 8 takes it into the next
    values = words.view(np.uint8).reshape(rows.count, across * per_byte)
    return crop(spread_dots(values, mode), fine, rows.plan.width)


def _colour_cells(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> ColourCellsShown | None:
    """The colour cells of the rows, where the mode has such."""
    if mode.colours is None:
        return None
    from .colours import colour_cells  # noqa: PLC0415 - few bitmaps have any

    return colour_cells(rows, mode, mode.colours, at.ground)


def _groups(rows: Rows, mode: BitmapMode, at: _BitmapPlace, cells: ColourCellsShown | None) -> Groups:
    """What feeds the rows, group by group: accesses, in planes in each of them, and colour cells where there are any."""
    lies, accesses, access = at.ground, _accesses(rows, mode), rows.plan.access

    def byte() -> Ints:
        return _byte(rows, mode, lies.group[:, None] + np.arange(lies.across))

    def further(place: Any, number: Ints) -> Ints:
        plane, within = np.divmod(number, accesses)
        found: Ints = at.at[plane, place[0]] + byte()[place] + within * access
        return found

    def addresses() -> tuple[Ints, ...]:
        return (*(() if cells is None else (cells.addresses(),)), at.at[0][:, None] + byte())

    return Groups(
        size=lies.size,
        across=lies.across,
        fine=lies.fine,
        first=lies.first,
        last=lies.last,
        addresses=addresses,
        words=None if cells is None else cells.words,
        cells=1 if cells is None else cells.each,
        cell_bytes=0 if mode.colours is None else mode.colours.cell_bytes,
        further=further if mode.planes else None,
    )


def kept_key(rows: Rows) -> tuple[Ints, Ints, Ints]:
    """(colours' address, row of blocks, scroll) of each row: rows with the same three show the same colour cells."""
    mode = rows.mode.mode
    assert isinstance(mode, BitmapMode)
    assert mode.colours is not None
    lies = ground(rows, mode, mode.group(rows.plan.access))
    row = lies.line // mode.colours.block[1]
    base = rows.control(f"{rows.mode.prefix}.colours")
    return base, row if lies.shows is None else np.where(lies.shows, row, OUTSIDE), rows.scroll("x")
