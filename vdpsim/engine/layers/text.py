"""Layers of kind ``text``: cells of a character and colours, glyphs of one bit a dot, margins around them.

Law: outside its columns and rows a text mode shows its margin and fetches nothing; inside, each column of a line takes its
cell and one byte of its glyph. Text does not scroll.
"""

from __future__ import annotations

import numpy as np

from ...chip.model import TextMode
from ..store import decoder
from .common import OUTSIDE, Drawn, Groups, Ints, Rows, runs


def draw(rows: Rows) -> Drawn:
    """The dots and fetches of ``rows``. Ties: none; every dot is a margin's or a cell's."""
    plan, mode = rows.plan, rows.mode.mode
    assert isinstance(mode, TextMode)
    width, (across, down) = plan.width, mode.glyph
    columns = min(mode.columns, max(0, -(-(width - mode.left) // across)))
    map_base, glyphs = rows.control(f"{rows.mode.prefix}.map"), rows.control(f"{rows.mode.prefix}.glyphs")
    row, v = rows.t // down, rows.t % down
    inside = row < mode.rows
    row = np.where(inside, row, 0)

    starts, run = runs(row, map_base, *rows.fetch_keys())
    cells = row[starts][:, None] * mode.columns + np.arange(columns)
    addresses = map_base[starts][:, None] + cells * mode.cell_bytes
    when = rows.when(0)[starts]
    places = rows.memory.translate(when[:, :columns], addresses)
    words = rows.store.cells(mode.cell_bytes)[places // mode.cell_bytes].astype(np.int64)
    if rows.kept and rows.kept.words:
        words[0, : len(rows.kept.words)] = rows.kept.words
    words = words if run is None else words[run]

    character = mode.cell.character.get(words)
    glyph = glyphs[:, None] + character * down + v[:, None]
    places = rows.memory.translate(rows.when(1)[:, :columns], glyph)
    bits = decoder(1, mode.first_dot)[rows.store.bytes()[places]][:, :, :across]
    foreground, background = (_colour(rows, mode, name, words) for name in ("foreground", "background"))
    number = np.where(bits == 1, foreground, background)
    offset = rows.mode.base + rows.bank()[:, None, None] * rows.mode.bank_step
    wide = (number.astype(np.int64) * rows.mode.value_step + offset).reshape(rows.count, -1)
    shows = (number != (OUTSIDE if mode.transparent is None else mode.transparent)).reshape(rows.count, -1)

    entry = np.full((rows.count, width), mode.margin or 0, np.dtype(plan.entry_dtype))
    opaque = np.full((rows.count, width), mode.margin is not None)
    right = min(width, mode.left + columns * across)
    shown = right - mode.left
    entry[inside, mode.left : right] = wide[inside, :shown]
    opaque[inside, mode.left : right] = shows[inside, :shown]

    first = np.maximum(rows.left, mode.left) - mode.left
    last = np.minimum(rows.right, right) - 1 - mode.left
    touched = np.where(inside & (last >= first), last // across - first // across + 1, 0)
    cost = np.array([[plan.chip.memory.accesses(mode.cell_bytes)], [1]])

    def key(dot: Ints) -> Ints:
        at = np.where(inside & (dot >= mode.left) & (dot < right), (dot - mode.left) // across, OUTSIDE)
        address = map_base + (row * mode.columns + at) * mode.cell_bytes
        return np.stack([at, np.where(at == OUTSIDE, 0, address % rows.memory.size), glyphs, v])

    def ends() -> tuple[Ints, Ints, Ints]:
        first_key = key(rows.left)
        return first_key, key(rows.right - 1), np.where(first_key[0] == OUTSIDE, 0, cost)

    def groups() -> Groups:
        """What feeds the rows, column by column."""
        begin, end = np.where(touched > 0, first // across, 0), np.where(touched > 0, last // across, -1)
        every = addresses if run is None else addresses[run]
        fine = np.full(rows.count, -mode.left)
        return Groups(across, columns, fine, begin, end, lambda: (every, glyph), None, words)

    return Drawn(
        entry,
        opaque,
        touched * cost,
        ends,
        groups,
        {when: bool(when.holds(0)) for when in rows.conditions},
    )


def _colour(rows: Rows, mode: TextMode, name: str, words: Ints) -> Ints:
    """The colour number of ``name`` in each cell, int64 (rows, columns or 1, 1)."""
    layout = mode.cell.layout.get(name)
    numbers: Ints = layout.get(words) if layout else rows.control(f"{rows.mode.prefix}.{name}")[:, None]
    return numbers[:, :, None]


def kept_key(rows: Rows) -> tuple[Ints, Ints, Ints]:
    """(map address, text row, 0) of each row, the text row -1 beyond the mode's rows."""
    mode = rows.mode.mode
    assert isinstance(mode, TextMode)
    row = rows.t // mode.glyph[1]
    base = rows.control(f"{rows.mode.prefix}.map")
    return base, np.where(row < mode.rows, row, OUTSIDE), np.zeros(rows.count, np.int64)
