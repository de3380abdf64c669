"""Layers of kind ``tiles``: which cells and pattern rows are fetched, and which dots they show.

Law: a cell is fetched when the dot before it on the line was fed by another; with it the row of its pattern that the line
shows. A turned cell shows a column of its pattern, so it costs one fetch for each of the tile's rows. Cells are decoded once
for every run of rows that asks for the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import TilesMode
from .common import DrawnRows, Groups, Ints, Rows, crop, opaque_dots, runs, to_entries

SPLAT = np.uint64(0x0101_0101_0101_0101)
"""Times a byte, that byte eight times over: a quarter of the time that ``np.repeat`` takes."""


@lru_cache(maxsize=64)
def _offsets(page: tuple[int, int], pages: tuple[int, int]) -> tuple[Ints, Ints]:
    """The number of a cell in memory is the sum of one number for its column and one for its row."""
    across, down = page
    columns, rows = np.arange(across * pages[0]), np.arange(down * pages[1])
    of_column = columns // across * (across * down) + columns % across
    of_row = rows // down * (pages[0] * across * down) + rows % down * across
    return of_column.astype(np.int64), of_row.astype(np.int64)


@dataclass(eq=False, repr=False)
class _TilesPlace:
    """Where in the map each row begins: its first ``column``, the dot ``fine`` within it, the map's row, the tile's row."""

    scroll_x: Ints
    column: Ints
    fine: Ints
    map_row: Ints
    v: Ints
    map_base: Ints
    patterns: Ints


def _where(rows: Rows, mode: TilesMode) -> _TilesPlace:
    scroll_x = rows.scroll("x")
    map_line = (rows.t + rows.scroll("y")) % (mode.rows * mode.tile)
    base, patterns = rows.control(f"{rows.mode.prefix}.map"), rows.control(f"{rows.mode.prefix}.patterns")
    tile = mode.tile
    return _TilesPlace(scroll_x, scroll_x // tile, scroll_x % tile, map_line // tile, map_line % tile, base, patterns)


@dataclass(eq=False, repr=False)
class _TileCells:
    """The cells that each run of rows shows, ``across`` of them, and each row's run (None: each row is its own).

    ``address`` and ``patterns`` are those of the fetches; ``pattern_at`` is where the pattern's bytes stand.
    """

    across: int
    run: Ints | None
    words: Ints
    field: dict[str, Ints]
    address: Ints
    patterns: Ints
    pattern_at: Ints

    def spread(self, cellwise: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """From runs to rows."""
        return cellwise if self.run is None else cellwise.take(self.run, axis=0)


def _cells(rows: Rows, mode: TilesMode, at: _TilesPlace) -> _TileCells:
    """Fetch and take apart the cells. Where memory changes in time each row asks for itself."""
    of_column, of_row = _offsets(mode.page, mode.pages)
    patterns = f"{rows.mode.prefix}.patterns"
    if rows.kept:  # what is kept is what was fetched, whatever else may change
        starts, run = runs(*rows.fetch_keys())
    else:
        set_by = {f"{rows.mode.prefix}.map": at.map_base, patterns: at.patterns}
        if mode.scrolls("x"):
            set_by[f"{rows.mode.layer}.scroll_x"] = at.column
        keys = [at.map_row, *(values for name, values in set_by.items() if rows.timeline.varies(name))]
        starts, run = runs(*keys, *rows.fetch_keys())
    across = (rows.plan.width + mode.tile - 2) // mode.tile + 1
    columns = (at.column[starts][:, None] + np.arange(across)) % mode.columns
    numbers = of_row[at.map_row[starts]][:, None] + of_column[columns]
    address = at.map_base[starts][:, None] + numbers * mode.cell_bytes
    places = rows.memory.translate(rows.when(0)[starts], address)
    words = rows.store.cells(mode.cell_bytes)[places // mode.cell_bytes].astype(np.int64)
    if rows.kept and rows.kept.words:
        words[0, : len(rows.kept.words)] = rows.kept.words
    apart = rows.memory.hot is not None or (rows.kept is not None and rows.timeline.varies(patterns))
    if apart and run is not None:  # each row fetches its patterns when its own time has come
        words, address, run, starts = words[run], address[run], None, np.arange(rows.count)
    field = {name: bits.get(words) for name, bits in mode.cell.layout.items()}
    wanted = at.patterns[starts][:, None] + field["pattern"] * mode.pattern_bytes
    return _TileCells(across, run, words, field, address, wanted, rows.memory.translate(rows.when(1)[starts], wanted))


def _values(rows: Rows, mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> npt.NDArray[np.uint8]:
    """The value of each dot of the cells, uint8 (rows, across x tile): eight dots are gathered as one word."""
    layout, tile = mode.cell.layout, mode.tile
    flips, turns = "flip_x" in layout, "turn" in layout
    table = rows.store.tile_rows(mode.bits_per_dot, mode.first_dot, tile, flips=flips, turns=turns)
    row = cells.pattern_at // mode.row_bytes
    if turns:
        row = row + cells.field["turn"] * ((1 + flips) * table.shape[1])
    if flips:
        row = row + cells.field["flip_x"] * table.shape[1]
    inner: Any = at.v[:, None]
    if "flip_y" in layout:
        inner = inner ^ cells.spread(cells.field["flip_y"] * (tile - 1))
    words = table.reshape(-1, tile // 8).take((cells.spread(row) + inner).reshape(-1), axis=0)
    values: npt.NDArray[np.uint8] = words.view(np.uint8).reshape(rows.count, cells.across * tile)
    return values


def draw(rows: Rows) -> DrawnRows:
    """The dots and fetches of ``rows``. Ties: none; every dot has one cell."""
    plan, mode = rows.plan, rows.mode.mode
    assert isinstance(mode, TilesMode)
    at = _where(rows, mode)
    cells = _cells(rows, mode, at)
    values = crop(_values(rows, mode, at, cells), at.fine, plan.width)

    def dotwise(cellwise: npt.NDArray[Any], dtype: Any) -> npt.NDArray[Any]:
        """One item a cell of each run, as a plane of dots."""
        if np.dtype(dtype).itemsize == 1 and mode.tile == 8:
            plane: npt.NDArray[Any] = cells.spread(cellwise.astype(np.uint64) * SPLAT).view(dtype)
        else:
            plane = np.repeat(cells.spread(cellwise.astype(dtype)), mode.tile, axis=1)
        return crop(plane, at.fine, plan.width)

    base, step, field = rows.mode.base, rows.mode.bank_step, cells.field
    offset = base + rows.bank()[:, None] * step
    if "bank" in field:
        offset = dotwise(base + field["bank"] * step, plan.entry_dtype)
    return DrawnRows(
        to_entries(plan, rows.mode, values, offset),
        opaque_dots(values, mode.transparent),
        *_fetches(rows, mode, at, cells),
        lambda: _groups(rows, mode, at, cells),
        {
            when: dotwise(when.holds(field[when.field]), np.bool_) if when.field in field else bool(when.holds(0))
            for when in rows.conditions
        },
        {name: dotwise(each, np.int64) for name, each in field.items()} if rows.fields else {},
    )


def _fetches(rows: Rows, mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> tuple[Ints, Any]:
    """How often each row's dots change the cell that feeds them, and what each change costs; see ``DrawnRows``."""
    first, last = (at.scroll_x + rows.left) // mode.tile, (at.scroll_x + rows.right - 1) // mode.tile
    touched = last - first + 1
    cell_cost, row_cost = map(rows.plan.chip.memory.accesses, (mode.cell_bytes, mode.row_bytes))

    def of_columns(low: Ints, high: Ints) -> Ints:
        """What the rows of patterns of the columns from ``low`` to ``high`` cost."""
        if "turn" not in cells.field:
            return (high - low + 1) * row_cost
        cost = cells.spread(np.where(cells.field["turn"] == 1, mode.tile, row_cost))
        here = np.arange(cells.across) + at.column[:, None]
        total: Ints = np.where((here >= low[:, None]) & (here <= high[:, None]), cost, 0).sum(axis=1)
        return total

    def key(column: Ints) -> Ints:
        of_column, of_row = _offsets(mode.page, mode.pages)
        number = of_row[at.map_row] + of_column[column % mode.columns]
        return np.stack([column, (at.map_base + number * mode.cell_bytes) % rows.memory.size, at.patterns, at.v])

    def ends() -> tuple[Ints, Ints, Ints]:
        return key(first), key(last), np.stack([np.full(rows.count, cell_cost), of_columns(first, first)])

    return np.stack([touched * cell_cost, of_columns(first, last)]), ends


def _groups(rows: Rows, mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> Groups:
    """What feeds the rows, cell by cell. A turned cell's burst goes up its pattern's rows, or down where it is flipped in x."""
    field, last = cells.field, mode.tile - 1
    steps = None
    if "turn" in field:
        flipped = field.get("flip_x", np.zeros_like(field["turn"]))
        steps = cells.spread(field["turn"] * np.where(flipped == 1, mode.row_bytes, -mode.row_bytes))

    def addresses() -> tuple[Ints, ...]:
        """Where each cell's burst begins, and each pattern row's; of a turned cell the byte of the leftmost dot shown."""
        row = at.v[:, None]
        if "flip_y" in field:
            row = row ^ cells.spread(field["flip_y"] * last)
        inner = row * mode.row_bytes
        if steps is not None:
            # dot (u, v) of a turned cell is dot (v, last - u) of its pattern
            byte = row * mode.bits_per_dot // 8
            inner = np.where(steps, byte + np.where(steps < 0, last * mode.row_bytes, 0), inner)
        return cells.spread(cells.address), cells.spread(cells.patterns) + inner

    first, end = (at.fine + rows.left) // mode.tile, (at.fine + rows.right - 1) // mode.tile
    return Groups(mode.tile, cells.across, at.fine, first, end, addresses, steps, cells.spread(cells.words))


def kept_key(rows: Rows) -> tuple[Ints, Ints, Ints]:
    """(map address, map row, scroll) of each row: rows with the same three show the same cells."""
    mode = rows.mode.mode
    assert isinstance(mode, TilesMode)
    at = _where(rows, mode)
    return at.map_base, at.map_row, at.scroll_x
