"""Layers of kind ``text``: cells of a character and colours, glyphs of one bit a dot, margins around them.

Law: outside its columns and rows a text mode shows its margin and fetches nothing; inside, each column of a line takes its
cell and one byte of its glyph. Text does not scroll.
"""

from __future__ import annotations

import numpy as np

from ...chip.model import TextMode
from ..store import decoder
from .common import OUTSIDE, Drawn, Ints, Rows, runs


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

    versions = rows.memory.hot is not None
    starts, run = runs(row, map_base, rows.line) if versions else runs(row, map_base)
    cells = row[starts][:, None] * mode.columns + np.arange(columns)
    addresses = map_base[starts][:, None] + cells * mode.cell_bytes
    places = rows.memory.translate(rows.line[starts][:, None], addresses)
    words = rows.store.cells(mode.cell_bytes)[places // mode.cell_bytes].astype(np.int64)
    words = words if run is None else words[run]

    character = mode.cell.character.get(words)
    places = rows.memory.translate(rows.line[:, None], glyphs[:, None] + character * down + v[:, None])
    bits = decoder(1, mode.first_dot)[rows.store.bytes()[places]][:, :, :across]
    colour = {}
    for name in ("foreground", "background"):
        layout = mode.cell.layout.get(name)
        colour[name] = layout.get(words) if layout else rows.control(f"{rows.mode.prefix}.{name}")[:, None]
    number = np.where(bits == 1, colour["foreground"][:, :, None], colour["background"][:, :, None])
    offset = rows.mode.base + rows.bank()[:, None, None] * rows.mode.bank_step
    wide = number.astype(np.int64) * rows.mode.value_step + offset

    entry = np.full((rows.count, width), mode.margin or 0, np.dtype(plan.entry_dtype))
    opaque = np.full((rows.count, width), mode.margin is not None)
    right = min(width, mode.left + columns * across)
    shown = right - mode.left
    entry[inside, mode.left : right] = wide.reshape(rows.count, -1)[inside, :shown]
    opaque[inside, mode.left : right] = (number != (OUTSIDE if mode.transparent is None else mode.transparent)).reshape(
        rows.count, -1
    )[inside, :shown]

    first = np.maximum(rows.left, mode.left) - mode.left
    last = np.minimum(rows.right, right) - 1 - mode.left
    touched = np.where(inside & (last >= first), last // across - first // across + 1, 0)
    cost = np.array([[plan.accesses(mode.cell_bytes)], [1]])

    def key(dot: Ints) -> Ints:
        at = np.where(inside & (dot >= mode.left) & (dot < right), (dot - mode.left) // across, OUTSIDE)
        address = map_base + (row * mode.columns + at) * mode.cell_bytes
        return np.stack([at, np.where(at == OUTSIDE, 0, address % rows.memory.size), glyphs, v])

    def ends() -> tuple[Ints, Ints, Ints]:
        first_key = key(rows.left)
        return first_key, key(rows.right - 1), np.where(first_key[0] == OUTSIDE, 0, cost)

    return Drawn(
        entry,
        opaque,
        touched * cost,
        ends,
        {when: bool(when.holds(0)) for when in rows.conditions},
    )
