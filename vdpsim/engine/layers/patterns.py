"""Rows of patterns: from a pattern's addresses, the row shown and its flips and turn to the values, and to the accesses made.

Law: whatever the raster, packed or in planes; which cell shows which pattern is the caller's to say. A turned cell shows a column
of its pattern: what is fetched for it are the bits of each dot, from left to right. Where memory changes in time, all bytes are
read at the one instant that their group has.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import FirstDot
from ...chip.tables.pattern import Raster
from ..store import Store
from ..timeline import Memory

Ints = npt.NDArray[np.int64]
Dots = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False, repr=False)
class PatternRows:
    """Rows of patterns as cells show them; arrays int64 (rows, cells), or what broadcasts to that.

    ``at`` (bases, rows, cells): the addresses of the patterns. ``v``: the row that shows, once flipped in y. ``flip_x`` and
    ``turn`` 0 or 1; of a turned cell ``v`` is the column that shows, as row ``flip_x`` says from the bottom up or down.
    """

    raster: Raster
    first_dot: FirstDot
    at: Ints
    v: Ints
    flip_x: Ints
    turn: Ints

    def values(self, store: Store, memory: Memory, instants: Ints) -> Dots:
        """The value of each dot, uint8 (rows, cells x dots across), as memory holds them at ``instants`` (rows, cells or 1)."""
        raster, shape = self.raster, self.at.shape[1:]
        v = np.broadcast_to(self.v, shape)
        instants = np.broadcast_to(instants, shape)
        bits = _Bits(raster, self.first_dot, store, memory)
        out = bits.rows(self.at, v, instants)
        flip = np.broadcast_to(self.flip_x, shape) == 1
        if flip.any():
            out[flip] = out[flip][:, ::-1]  # turned cells as well: they are read anew below
        turned = np.nonzero(np.broadcast_to(self.turn, shape))
        if len(turned[0]):
            row = _rows_of_turned(raster, flip[turned])
            out[turned] = bits.dots(self.at[:, *turned, None], v[turned][:, None], row, instants[turned][:, None])
        return out.reshape(shape[0], -1)

    def accesses(self, place: Any, number: Ints, access: int) -> Ints:
        """Where access ``number`` of the cell at ``place`` goes, an index of (rows, cells); not rounded down to an access."""
        shape = self.at.shape[1:]
        v, flip, turn = (np.broadcast_to(each, shape)[place] for each in (self.v, self.flip_x, self.turn))
        at = self.at[:, *place]
        plain = self._row_access(at, v, np.where(turn == 1, 0, number), access)
        if not turn.any():
            return plain
        return np.where(turn == 1, self._dot_access(at, v, flip == 1, number, access), plain)

    def _row_access(self, at: Ints, v: Ints, number: Ints, access: int) -> Ints:
        """Of a row: piece after piece, each in order of address."""
        pieces = self.raster.pieces
        piece, within = np.divmod(number, self.raster.row_accesses(access) // len(pieces))
        found: Ints = _piece(pieces, piece, at) + v * self.raster.step + within * access
        return found

    def _dot_access(self, at: Ints, column: Ints, flip: npt.NDArray[np.bool_], number: Ints, access: int) -> Ints:
        """Of a turned cell: dot after dot; of each, the accesses that hold a bit of it."""
        raster, each = self.raster, self.raster.dot_accesses(access)
        dot, within = np.divmod(number, each)
        row = np.where(flip, dot, raster.down - 1 - dot) * raster.step
        inner: Ints = _piece(raster.bit_places, within, at) + column // 8
        if raster.planes is None:
            inner = at[0] + column * raster.bits // 8
        elif raster.planes == "by row" and raster.plane_bytes < access:  # each access of the row holds one of its bits
            inner = at[0] + within * access
        out: Ints = inner + row
        return out


def _piece(pieces: Any, number: Ints, at: Ints) -> Ints:
    """Where row 0 of piece ``number`` begins."""
    bases, offsets = np.array([piece.base for piece in pieces]), np.array([piece.offset for piece in pieces])
    base = np.broadcast_to(bases[number], at.shape[1:])
    found: Ints = np.take_along_axis(at, base[None], axis=0)[0] + offsets[number]
    return found


def _rows_of_turned(raster: Raster, flip: npt.NDArray[np.bool_]) -> Ints:
    """The pattern's row of each dot of a turned cell, int64 (cells, dots): from the bottom up, or down where it is flipped."""
    down = np.arange(raster.down)
    return np.where(flip[:, None], down, raster.down - 1 - down)


class _Bits:
    """Reads rows and dots of a raster out of memory."""

    def __init__(self, raster: Raster, first_dot: FirstDot, store: Store, memory: Memory) -> None:
        self.raster, self.memory = raster, memory
        self.table = store.dots(raster.bits if raster.planes is None else 1, first_dot)

    def rows(self, at: Ints, v: Ints, instants: Ints) -> Dots:
        """Whole rows ``v`` of the patterns ``at`` (bases, rows, cells): uint8 (rows, cells, dots)."""
        raster, instants = self.raster, instants[..., None]
        across = np.arange(raster.row_bytes if raster.planes is None else raster.plane_bytes)
        words: Any = 0
        for bit, piece in enumerate(raster.bit_places):
            begin = at[piece.base] + piece.offset + v * raster.step
            places = self.memory.translate(instants, begin[..., None] + across)
            found = self.table.take(places, axis=0)
            # Each byte of ``found`` is one dot: packed dots have all their bits, dots in planes this plane's alone.
            words = found if raster.planes is None else words | found << np.uint8(bit)
        dots: Dots = words.reshape(*v.shape, -1)
        return dots

    def dots(self, at: Ints, column: Ints, row: Ints, instants: Ints) -> Dots:
        """The dots at ``column`` of each ``row`` of the patterns ``at``; all but ``at`` (bases, ...) broadcast: uint8 (...)."""
        raster, per_byte = self.raster, self.table.shape[1]
        found: Any = 0
        for bit, piece in enumerate(raster.bit_places):
            address = at[piece.base] + piece.offset + row * raster.step + column // per_byte
            places = self.memory.translate(instants, address)
            found = found | self.table[places, column % per_byte] << np.uint8(bit)
        return np.asarray(found, np.uint8)
