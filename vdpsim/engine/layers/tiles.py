"""Layers of kind ``tiles``: which cells and pattern rows are fetched, and which dots they show.

Law: a cell is fetched when the dot before it on the line was fed by another; with it the row of its pattern that the line
shows. A turned cell shows a column of its pattern, so it costs one fetch for each of the tile's rows. Cells are decoded once
for every run of rows that asks for the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...chip.model import TilesMode
from ..timeline import UNIT
from .common import (
    OUTSIDE,
    DrawnRows,
    Ground,
    Groups,
    Ints,
    Rows,
    around,
    crop,
    edged,
    ground,
    opaque_dots,
    runs,
    spread_dots,
    stacked,
    to_entries,
)

if TYPE_CHECKING:
    from .patterns import PatternRows

SPLAT = np.uint64(0x0101_0101_0101_0101)
"""Times a byte, that byte eight times over: a quarter of the time that ``np.repeat`` takes."""


Steps = tuple[tuple[int, int], tuple[int, int]]


@lru_cache(maxsize=64)
def _offsets(page: tuple[int, int], pages: tuple[int, int], steps: Steps) -> tuple[Ints, Ints]:
    """The number of a cell in memory is the sum of one number for its column and one for its row; ``steps`` as a mode's."""
    found = [
        np.arange(cells * many) // cells * of_page + np.arange(cells * many) % cells * of_cell
        for cells, many, of_page, of_cell in zip(page, pages, *steps, strict=True)
    ]
    return found[0].astype(np.int64), found[1].astype(np.int64)


@dataclass(eq=False, repr=False)
class _TilesPlace:
    """Where in the map each row lies, group by group a column: the map's row, the tile's row, where map and patterns begin.

    ``bases`` (bases, rows): the addresses of pattern 0, one as a rule, one for each plane where they lie apart.
    """

    ground: Ground
    map_row: Ints
    v: Ints
    map_base: Ints
    bases: Ints


def _where(rows: Rows, mode: TilesMode) -> _TilesPlace:
    at = ground(rows, mode, mode.tile[0])
    base, bases = rows.control(f"{rows.mode.prefix}.map"), stacked([rows.control(name) for name in rows.mode.bases])
    return _TilesPlace(at, *np.divmod(at.line, mode.tile[1]), base, bases)


@dataclass(eq=False, repr=False)
class _TileCells:
    """The cells that each run of rows shows, ``across`` of them; the runs' first rows, and each row's run (None: its own).

    ``address`` is that of the cells' fetches, ``patterns`` (bases, runs, cells) where the patterns lie.
    """

    across: int
    starts: Ints
    run: Ints | None
    words: Ints
    field: dict[str, Ints]
    address: Ints
    patterns: Ints

    def spread(self, cellwise: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """From runs to rows."""
        return cellwise if self.run is None else cellwise.take(self.run, axis=0)


def _cells(rows: Rows, mode: TilesMode, at: _TilesPlace) -> _TileCells:
    """Fetch and take apart the cells. Where memory changes in time each row asks for itself."""
    of_column, of_row = _offsets(mode.page, mode.pages, mode.steps)
    if rows.kept:  # what is kept is what was fetched, whatever else may change
        starts, run = runs(*rows.fetch_keys())
    else:
        set_by = {f"{rows.mode.prefix}.map": at.map_base, **dict(zip(rows.mode.bases, at.bases, strict=True))}
        if mode.scrolls("x"):
            set_by[f"{rows.mode.layer}.scroll_x"] = at.ground.group
        keys = [at.map_row, *(values for name, values in set_by.items() if rows.timeline.varies(name))]
        starts, run = runs(*keys, *rows.fetch_keys())
    across = at.ground.across
    columns = around(at.ground.group[starts][:, None] + np.arange(across), mode.columns)
    numbers = of_row[at.map_row[starts]][:, None] + of_column.take(columns)
    address = at.map_base[starts][:, None] + numbers * mode.cell_bytes
    places = rows.memory.translate(rows.when(0)[starts], address)
    words = rows.store.cells(mode.cell_bytes).take(places // mode.cell_bytes).astype(np.int64)
    if rows.kept and rows.kept.words:
        first = at.ground.first[0]
        words[0, first : first + len(rows.kept.words)] = rows.kept.words  # the rows of its run have them too
    varies = any(map(rows.timeline.varies, rows.mode.bases))
    apart = rows.memory.hot is not None or (rows.kept is not None and varies)
    if apart and run is not None:  # each row fetches its patterns when its own time has come
        words, address, run, starts = words[run], address[run], None, np.arange(rows.count)
    field = {name: bits.get(words) for name, bits in mode.cell.layout.items()}
    patterns = at.bases.take(starts, axis=1)[..., None] + field["pattern"] * mode.pattern_bytes
    return _TileCells(across, starts, run, words, field, address, patterns)


def _values(rows: Rows, mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> npt.NDArray[np.uint8]:
    """The value of each dot of the cells, uint8 (rows, across x tile)."""
    if not _in_words(mode):
        return _patterns(mode, at, cells).values(rows.store, rows.memory, rows.when(1))
    return _packed_values(rows, mode, at, cells)


def _packed_values(rows: Rows, mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> npt.NDArray[np.uint8]:
    """The value of each dot of tiles that lie ``_in_words``: eight dots are gathered as one word."""
    layout, (across, down) = mode.cell.layout, mode.tile
    flips, turns = "flip_x" in layout, "turn" in layout
    table = rows.store.tile_rows(mode.bits_per_dot, mode.first_dot, mode.tile, flips=flips, turns=turns)
    # One place for a whole pattern, as none lies in two units: a run is translated once, and rows count from there.
    row = rows.memory.translate(rows.when(1)[cells.starts], cells.patterns[0]) // mode.raster.step
    if turns:
        row = row + cells.field["turn"] * ((1 + flips) * table.shape[1])
    if flips:
        row = row + cells.field["flip_x"] * table.shape[1]
    inner: Any = at.v[:, None]
    if "flip_y" in layout:
        inner = inner ^ cells.spread(cells.field["flip_y"] * (down - 1))  # down - 1 - v, as down is a power of two
    words = table.reshape(-1, across // 8).take((cells.spread(row) + inner).reshape(-1), axis=0)
    values: npt.NDArray[np.uint8] = words.view(np.uint8).reshape(rows.count, cells.across * across)
    return values


def _in_words(mode: TilesMode) -> bool:
    """Whether patterns are packed, their sides powers of two and eight dots or more across, and none lies in two units."""
    sides = all(side & (side - 1) == 0 for side in mode.tile)
    return mode.planes is None and sides and mode.tile[0] >= 8 and mode.pattern_bytes <= UNIT


def _patterns(mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> PatternRows:
    """The rows of patterns that the cells of each row show."""
    from .patterns import PatternRows  # noqa: PLC0415 - plain tiles are drawn without, see ``_in_words``

    none = np.zeros((1, 1), np.int64)

    def field(name: str) -> Ints:
        return cells.spread(cells.field[name]) if name in cells.field else none

    v = at.v[:, None]
    bases = np.stack([cells.spread(each) for each in cells.patterns])
    v = np.where(field("flip_y") == 1, mode.tile[1] - 1 - v, v)
    return PatternRows(mode.raster, mode.first_dot, bases, v, field("flip_x"), field("turn"))


def draw(rows: Rows) -> DrawnRows:
    """The dots and fetches of ``rows``. Ties: none; every dot has one cell."""
    plan, mode = rows.plan, rows.mode.mode
    assert isinstance(mode, TilesMode)
    at = _where(rows, mode)
    cells = _cells(rows, mode, at)
    values = crop(spread_dots(_values(rows, mode, at, cells), mode), at.ground.fine, plan.width)

    def dotwise(cellwise: npt.NDArray[Any], dtype: Any) -> npt.NDArray[Any]:
        """One item a cell of each run, as a plane of dots."""
        if np.dtype(dtype).itemsize == 1 and at.ground.size == 8:
            plane: npt.NDArray[Any] = cells.spread(cellwise.astype(np.uint64) * SPLAT).view(dtype)
        else:
            plane = np.repeat(cells.spread(cellwise.astype(dtype)), at.ground.size, axis=1)
        return crop(plane, at.ground.fine, plan.width)

    base, step, field = rows.mode.base, rows.mode.bank_step, cells.field
    offset = base + rows.bank()[:, None] * step
    if "bank" in field:
        offset = dotwise(base + field["bank"] * step, plan.entry_dtype)
    drawn = DrawnRows(
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
    return edged(drawn, rows, mode, at.ground)


def _fetches(rows: Rows, mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> tuple[Ints, Any]:
    """How often each row's dots change the cell that feeds them, and what each change costs; see ``DrawnRows``."""
    lies, costs = at.ground, rows.mode.costs
    cell_cost, row_cost = costs.costs["cells"], costs.costs["pattern"]
    touched = np.maximum(lies.last - lies.first + 1, 0)

    def of_columns(low: Ints, high: Ints) -> Ints:
        """What the rows of patterns of the groups from ``low`` to ``high`` cost."""
        if "turn" not in cells.field:
            plain: Ints = np.maximum(high - low + 1, 0) * row_cost
            return plain
        cost = cells.spread(np.where(cells.field["turn"] == 1, costs.turned, row_cost))
        here = np.arange(cells.across)
        total: Ints = np.where((here >= low[:, None]) & (here <= high[:, None]), cost, 0).sum(axis=1)
        return total

    def key(column: Ints) -> Ints:
        of_column, of_row = _offsets(mode.page, mode.pages, mode.steps)
        number = of_row[at.map_row] + of_column[around(column, mode.columns)]
        return np.stack([column, (at.map_base + number * mode.cell_bytes) % rows.memory.size, *at.bases, at.v])

    def ends() -> tuple[Ints, Ints, Ints]:
        first_key = lies.feeding(key, rows.left)
        first = np.stack([np.full(rows.count, cell_cost), of_columns(lies.first, lies.first)])
        first = first if lies.left is None else np.where(first_key[0] == OUTSIDE, 0, first)
        return first_key, lies.feeding(key, rows.right - 1), first

    return np.stack([touched * cell_cost, of_columns(lies.first, lies.last)]), ends


def _groups(rows: Rows, mode: TilesMode, at: _TilesPlace, cells: _TileCells) -> Groups:
    """What feeds the rows, cell by cell."""
    access = rows.plan.access

    @cache  # asked for only where accesses are listed one by one
    def patterns() -> PatternRows:
        return _patterns(mode, at, cells)

    def addresses() -> tuple[Ints, ...]:
        """Where each cell's burst begins, and each pattern row's."""
        everywhere = np.ix_(np.arange(rows.count), np.arange(cells.across))
        return cells.spread(cells.address), patterns().accesses(everywhere, np.zeros(1, np.int64), access)

    return Groups(
        size=at.ground.size,
        across=at.ground.across,
        fine=at.ground.fine,
        first=at.ground.first,
        last=at.ground.last,
        addresses=addresses,
        turned=cells.spread(cells.field["turn"]) if "turn" in cells.field else None,
        words=cells.spread(cells.words),
        cell_bytes=mode.cell_bytes,
        further=None if _in_a_row(mode) else lambda place, number: patterns().accesses(place, number, access),
    )


def _in_a_row(mode: TilesMode) -> bool:
    """Whether the accesses for a cell's row always follow one another."""
    return len(mode.raster.pieces) == 1 and "turn" not in mode.cell.layout


def kept_key(rows: Rows) -> tuple[Ints, Ints, Ints]:
    """(map address, map row, scroll) of each row: rows with the same three show the same cells; row -1 beyond the map."""
    mode = rows.mode.mode
    assert isinstance(mode, TilesMode)
    at = _where(rows, mode)
    shows = at.ground.shows
    return at.map_base, at.map_row if shows is None else np.where(shows, at.map_row, OUTSIDE), rows.scroll("x")
