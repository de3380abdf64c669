"""Layers of kind ``tiles``: which cells and pattern rows are fetched, and which dots they show.

Law: a cell is fetched when the dot before it on the line was fed by another; with it the row of its pattern that the line
shows. A turned cell shows a column of its pattern, so it costs one fetch for each of the tile's rows. Cells are decoded once
for every run of rows that asks for the same ones.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import TilesMode
from .common import Drawn, Ints, Rows, accesses, crop, opaque_dots, runs, to_entries

SPLAT = np.uint64(0x0101_0101_0101_0101)


@lru_cache(maxsize=64)
def _offsets(page: tuple[int, int], pages: tuple[int, int]) -> tuple[Ints, Ints]:
    """The number of a cell in memory is the sum of one number for its column and one for its row."""
    across, down = page
    columns, rows = np.arange(across * pages[0]), np.arange(down * pages[1])
    of_column = columns // across * (across * down) + columns % across
    of_row = rows // down * (pages[0] * across * down) + rows % down * across
    return of_column.astype(np.int64), of_row.astype(np.int64)


def draw(rows: Rows) -> Drawn:
    """The dots and fetches of ``rows``. Ties: none; every dot has one cell."""
    plan, mode = rows.plan, rows.mode.mode
    assert isinstance(mode, TilesMode)
    tile, layout, width = mode.tile, mode.cell.layout, plan.width
    of_column, of_row = _offsets(mode.page, mode.pages)
    scroll_x, patterns = rows.scroll("x"), rows.control(f"{rows.mode.prefix}.patterns")
    map_base = rows.control(f"{rows.mode.prefix}.map")
    column, fine = scroll_x // tile, scroll_x % tile
    map_line = (rows.t + rows.scroll("y")) % (mode.rows * tile)
    map_row, v = map_line // tile, map_line % tile

    versions = rows.memory.hot is not None
    keys = (column, map_row, map_base, patterns)
    starts, run = runs(*keys, rows.line) if versions else runs(*keys)
    across = (width + tile - 2) // tile + 1
    cells = of_row[map_row[starts]][:, None] + of_column[(column[starts][:, None] + np.arange(across)) % mode.columns]
    addresses = map_base[starts][:, None] + cells * mode.cell_bytes
    places = rows.memory.translate(rows.line[starts][:, None], addresses)
    words = rows.store.cells(mode.cell_bytes)[places // mode.cell_bytes].astype(np.int64)
    field = {name: bits.get(words) for name, bits in layout.items()}

    places = patterns[starts][:, None] + field["pattern"] * mode.pattern_bytes
    places = rows.memory.translate(rows.line[starts][:, None], places)
    table = rows.store.tile_rows(mode.bits_per_dot, mode.first_dot, tile, "flip_x" in layout, "turn" in layout)
    first_row = places // mode.row_bytes
    variant: Any = field.get("flip_x", 0)
    if "turn" in layout:
        variant = variant + field["turn"] * (2 if "flip_x" in layout else 1)
    if "flip_x" in layout or "turn" in layout:
        first_row = first_row + variant * table.shape[1]

    def spread(cellwise: npt.NDArray[Any]) -> npt.NDArray[Any]:
        return cellwise if run is None else cellwise[run]

    inner = v[:, None]
    if "flip_y" in layout:
        inner = inner ^ spread(field["flip_y"] * (tile - 1))
    plane_words = table.reshape(-1, tile // 8).take((spread(first_row) + inner).reshape(-1), axis=0)
    values = plane_words.view(np.uint8).reshape(rows.count, across * tile)

    def dotwise(cellwise: npt.NDArray[Any], dtype: Any) -> npt.NDArray[Any]:
        """One item a cell of each run, as a plane of dots."""
        if np.dtype(dtype).itemsize == 1 and tile == 8:
            plane: npt.NDArray[Any] = spread(cellwise.astype(np.uint64) * SPLAT).view(dtype)
        else:
            plane = np.repeat(spread(cellwise.astype(dtype)), tile, axis=1)
        return crop(plane, fine, width)

    values = crop(values, fine, width)
    base, step = rows.mode.base, rows.mode.bank_step
    offset = base + rows.bank()[:, None] * step
    if "bank" in layout:
        offset = dotwise(base + field["bank"] * step, plan.entry_dtype)
    entry = to_entries(plan, rows.mode, values, offset)
    met = {}
    for when in rows.conditions:
        met[when] = dotwise(when.holds(field[when.field]), np.bool_) if when.field in field else bool(when.holds(0))

    first, last = (scroll_x + rows.left) // tile, (scroll_x + rows.right - 1) // tile
    touched = last - first + 1
    cell_cost, row_cost = accesses(plan, mode.cell_bytes), accesses(plan, mode.row_bytes)
    pattern_fetches = touched * row_cost
    if "turn" in layout:
        cost = spread(np.where(field["turn"] == 1, tile, row_cost))
        here = np.arange(across)[None, :] + column[:, None]
        pattern_fetches = np.where((here >= first[:, None]) & (here <= last[:, None]), cost, 0).sum(axis=1)

    def key(at: Ints) -> Ints:
        number = of_row[map_row] + of_column[at % mode.columns]
        return np.stack([at, (map_base + number * mode.cell_bytes) % rows.memory.size, patterns, v])

    def ends() -> tuple[Ints, Ints, Ints]:
        first_cost = np.full((2, rows.count), cell_cost)
        first_cost[1] = np.where(here == first[:, None], cost, 0).sum(axis=1) if "turn" in layout else row_cost
        return key(first), key(last), first_cost

    return Drawn(
        entry,
        opaque_dots(values, mode.transparent),
        np.array([touched * cell_cost, pattern_fetches]),
        ends,
        met,
        {name: dotwise(values, np.int64) for name, values in field.items()} if rows.fields else {},
    )
