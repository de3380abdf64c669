"""Layers of kind ``text``: cells of a character and colours, glyphs of one bit a dot, margins around them.

Law: outside its columns and rows a text mode shows its margin and fetches nothing; inside, each column of a line takes its
cell and one byte of its glyph. Text does not scroll.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import TextMode
from ..store import decoder
from .common import OUTSIDE, DrawnRows, Groups, Ints, Rows, runs, spread_dots


@dataclass(eq=False, repr=False)
class _TextPlace:
    """Where in the text each row lies, and where on the line the text does.

    By row: the text's ``row`` (0 where it is not ``inside`` the mode's rows), the line ``v`` of its glyphs, the bases of map and
    ``glyphs``, the ``first`` and the ``last`` column of which it shows a dot (the last below the first where it shows none). Of
    all rows: ``columns`` that begin on the line, and the dot ``right`` before which they end.
    """

    row: Ints
    v: Ints
    inside: npt.NDArray[np.bool_]
    map_base: Ints
    glyphs: Ints
    first: Ints
    last: Ints
    columns: int
    right: int


def _where(rows: Rows, mode: TextMode) -> _TextPlace:
    across, down = mode.doubled(mode.glyph)
    # Rounded up: a column that begins on the line is fetched, be only a part of it seen.
    columns = min(mode.columns, max(0, -(-(rows.plan.width - mode.left) // across)))
    row, v = np.divmod(rows.t, down)
    v = v // mode.double[1]
    inside = row < mode.rows
    right = min(rows.plan.width, mode.left + columns * across)
    begin, end = np.maximum(rows.left - mode.left, 0), np.minimum(rows.right, right) - mode.left
    some = inside & (end > begin)
    return _TextPlace(
        row=np.where(inside, row, 0),
        v=v,
        inside=inside,
        map_base=rows.control(f"{rows.mode.prefix}.map"),
        glyphs=rows.control(f"{rows.mode.prefix}.glyphs"),
        first=np.where(some, begin // across, 0),
        last=np.where(some, (end - 1) // across, -1),
        columns=columns,
        right=right,
    )


@dataclass(eq=False, repr=False)
class _TextCells:
    """What the columns of each row show: the cells' ``words`` and the addresses of ``glyph`` bytes, (rows, columns).

    ``address`` of the cells, of each run of rows that asks for the same ones; ``run`` of each row (None: each is its own).
    """

    words: Ints
    glyph: Ints
    address: Ints
    run: Ints | None

    def addresses(self) -> Ints:
        """The cells' addresses, int64 (rows, columns)."""
        return self.address if self.run is None else self.address[self.run]


def _cells(rows: Rows, mode: TextMode, at: _TextPlace) -> _TextCells:
    """Fetch the cells, once for every run of rows that asks for the same ones."""
    starts, run = runs(at.row, at.map_base, *rows.fetch_keys())
    numbers = at.row[starts][:, None] * mode.columns + np.arange(at.columns)
    address = at.map_base[starts][:, None] + numbers * mode.cell_bytes
    places = rows.memory.translate(rows.when(0)[starts][:, : at.columns], address)
    words = rows.store.cells(mode.cell_bytes)[places // mode.cell_bytes].astype(np.int64)
    if rows.kept and rows.kept.words:
        words[0, : len(rows.kept.words)] = rows.kept.words
    words = words if run is None else words[run]
    glyph = at.glyphs[:, None] + mode.cell.character.get(words) * mode.glyph[1] + at.v[:, None]
    return _TextCells(words, glyph, address, run)


def draw(rows: Rows) -> DrawnRows:
    """The dots and fetches of ``rows``. Ties: none; every dot is a margin's or a cell's."""
    mode = rows.mode.mode
    assert isinstance(mode, TextMode)
    at = _where(rows, mode)
    cells = _cells(rows, mode, at)
    return DrawnRows(
        *_dots(rows, mode, at, cells),
        *_fetches(rows, mode, at),
        lambda: _groups(rows, mode, at, cells),
        {when: bool(when.holds(0)) for when in rows.conditions},
    )


def _dots(
    rows: Rows, mode: TextMode, at: _TextPlace, cells: _TextCells
) -> tuple[npt.NDArray[Any], npt.NDArray[np.bool_]]:
    """The entry of each dot, and whether it shows; (rows, width)."""
    places = rows.memory.translate(rows.when(1)[:, : at.columns], cells.glyph)
    bits = decoder(1, mode.first_dot)[rows.store.bytes()[places]][:, :, : mode.glyph[0]]
    bits = spread_dots(bits, mode)
    foreground, background = (_colour(rows, mode, name, cells.words) for name in ("foreground", "background"))
    number = np.where(bits == 1, foreground, background)
    offset = rows.mode.base + rows.bank()[:, None, None] * rows.mode.bank_step
    entries = (number.astype(np.int64) * rows.mode.value_step + offset).reshape(rows.count, -1)
    # No number is OUTSIDE, so that without a transparent one all show.
    shows = (number != (OUTSIDE if mode.transparent is None else mode.transparent)).reshape(rows.count, -1)

    entry = np.full((rows.count, rows.plan.width), mode.margin or 0, np.dtype(rows.plan.entry_dtype))
    opaque = np.full(entry.shape, mode.margin is not None)
    text = slice(mode.left, at.right)
    entry[at.inside, text] = entries[at.inside, : at.right - mode.left]
    opaque[at.inside, text] = shows[at.inside, : at.right - mode.left]
    return entry, opaque


def _colour(rows: Rows, mode: TextMode, name: str, words: Ints) -> Ints:
    """The colour number of ``name`` in each cell, int64 (rows, columns or 1, 1)."""
    layout = mode.cell.layout.get(name)
    numbers: Ints = layout.get(words) if layout else rows.control(f"{rows.mode.prefix}.{name}")[:, None]
    return numbers[:, :, None]


def _fetches(rows: Rows, mode: TextMode, at: _TextPlace) -> tuple[Ints, Callable[[], tuple[Ints, Ints, Ints]]]:
    """Accesses for the cells and glyphs of each row, and what its ends fetch; see ``DrawnRows``."""
    cost = np.array([[each] for each in rows.mode.costs.costs.values()])

    def key(dot: Ints) -> Ints:
        in_text = at.inside & (dot >= mode.left) & (dot < at.right)
        column = np.where(in_text, (dot - mode.left) // mode.doubled(mode.glyph)[0], OUTSIDE)
        address = (at.map_base + (at.row * mode.columns + column) * mode.cell_bytes) % rows.memory.size
        return np.stack([column, np.where(in_text, address, 0), at.glyphs, at.v])

    def ends() -> tuple[Ints, Ints, Ints]:
        first_key = key(rows.left)
        return first_key, key(rows.right - 1), np.where(first_key[0] == OUTSIDE, 0, cost)

    return (at.last - at.first + 1) * cost, ends


def _groups(rows: Rows, mode: TextMode, at: _TextPlace, cells: _TextCells) -> Groups:
    """What feeds the rows, column by column."""
    fine = np.full(rows.count, -mode.left)
    return Groups(
        size=mode.doubled(mode.glyph)[0],
        across=at.columns,
        fine=fine,
        first=at.first,
        last=at.last,
        addresses=lambda: (cells.addresses(), cells.glyph),
        words=cells.words,
    )


def kept_key(rows: Rows) -> tuple[Ints, Ints, Ints]:
    """(map address, text row, 0) of each row, the text row -1 beyond the mode's rows."""
    mode = rows.mode.mode
    assert isinstance(mode, TextMode)
    row = rows.t // mode.doubled(mode.glyph)[1]
    base = rows.control(f"{rows.mode.prefix}.map")
    return base, np.where(row < mode.rows, row, OUTSIDE), np.zeros(rows.count, np.int64)
