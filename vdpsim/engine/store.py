"""Memory's bytes decoded into dots, kept while the bytes stay the same; and where in memory the rows of sprites lie.

Law: what is decoded follows from the bytes alone: for a depth and an order of dots, dot n of the memory; for tiles, the rows of
dots flipped and turned too. A cache compares the memory with the copy it was made from, so that memory may be changed by
anyone in any way. How a sprite's pattern lies is told by ``chip/tables/pattern.py`` alone; here it stands in arrays, for all
sizes at once. A part is the longest run of a row's bytes that lies at a multiple of its own length, whatever the pattern's
number: it never lies astride an access, the end of memory or two versions of it. Knows no record, no layer and no time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.model import FirstDot, SpritesTable

Dots = npt.NDArray[np.uint8]


Ints = npt.NDArray[np.int64]


def decoder(bits: int, first_dot: FirstDot) -> Dots:
    """uint8 (256, dots a byte): the values of a byte's dots, left to right."""
    shifts = np.arange(0, 8, bits)
    if first_dot == "high":
        shifts = shifts[::-1]
    return ((np.arange(256)[:, None] >> shifts) & ((1 << bits) - 1)).astype(np.uint8)


class Store:
    """Decoded memory. ``use`` it with the bytes at hand, then ask for dots, cells or tile rows."""

    def __init__(self, byte_order: str) -> None:
        self._order = "<" if byte_order == "little" else ">"
        self._bytes = np.empty(0, np.uint8)
        self._base = np.empty(0, np.uint8)
        self._kept: dict[tuple[Any, ...], Any] = {}
        self._further: dict[tuple[Any, ...], Any] = {}
        self._decoders: dict[tuple[int, FirstDot], Dots] = {}

    def use(self, memory: npt.NDArray[np.uint8], size: int) -> None:
        """Take ``memory``: ``size`` bytes of base memory, and behind them further versions of some of its units."""
        base = memory[:size]
        # To compare takes a thirtieth of the time in which all of it is decoded.
        if len(self._base) != size or not np.array_equal(base, self._base):
            self._base = base.copy()
            self._kept.clear()
        self._bytes = memory
        self._further.clear()  # the bytes of further units differ from pass to pass

    def _table(self, key: tuple[Any, ...], make: Callable[[npt.NDArray[np.uint8]], Any]) -> Any:
        """What ``make`` makes of the bytes: kept for the base memory, made anew for the further units."""
        if key not in self._kept:
            self._kept[key] = make(self._base)
        if len(self._bytes) == len(self._base):
            return self._kept[key]
        if key not in self._further:
            # Along the axis before the last, on which the memory goes on in every table: variants stand before it.
            self._further[key] = np.concatenate([self._kept[key], make(self._bytes[len(self._base) :])], axis=-2)
        return self._further[key]

    def _decode(self, raw: npt.NDArray[np.uint8], bits: int, first_dot: FirstDot) -> Dots:
        if (bits, first_dot) not in self._decoders:
            self._decoders[bits, first_dot] = decoder(bits, first_dot)
        return self._decoders[bits, first_dot].take(raw, axis=0)

    def dots(self, bits: int, first_dot: FirstDot) -> Dots:
        """uint8 (bytes, dots a byte): the dots of each byte."""
        found: Dots = self._table(("dots", bits, first_dot), lambda raw: self._decode(raw, bits, first_dot))
        return found

    def bytes(self) -> npt.NDArray[np.uint8]:
        """The bytes themselves."""
        return self._bytes

    def cells(self, size: int) -> npt.NDArray[Any]:
        """The memory as cells of ``size`` bytes (1 or 2), in the chip's byte order."""
        return self._bytes if size == 1 else self._bytes.view(f"{self._order}u2")

    def tile_rows(
        self, bits: int, first_dot: FirstDot, tile: tuple[int, int], *, flips: bool, turns: bool
    ) -> npt.NDArray[np.uint64]:
        """uint64 (variants, rows, dots across / 8): eight dots a word, in the order of the picture.

        Row r holds the dots of the row of a pattern that stands at byte r x dots across x bits / 8. Variants: as stored, flipped
        in x (with ``flips``), turned and turned then flipped (with ``turns``; row v of a turned pattern stands where row v
        of the pattern does).
        """
        across, down = tile

        def make(raw: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint64]:
            rows = self._decode(raw, bits, first_dot).reshape(-1, across)
            variants = [rows]
            if turns:
                patterns = rows.reshape(-1, down, across)
                variants += [patterns[:, ::-1].transpose(0, 2, 1).reshape(-1, across)]
            if flips:
                variants = [v for plain in variants for v in (plain, plain[:, ::-1])]
            return np.ascontiguousarray(np.stack(variants)).view(np.uint64)

        found: npt.NDArray[np.uint64] = self._table(("tile", bits, first_dot, tile, flips, turns), make)
        return found


class SpriteRows:
    """The rows of a chip's sprites, whose parts are numbered from the left, as the pattern lies in memory, before flips.

    Arrays by size's number: ``heights``, ``parts`` of a row (of any size ``most``); ``each``, the accesses of one part.
    ``begins`` (sizes, most): how many accesses of the row come before those of the tile in which a part lies.
    """

    sprites: SpritesTable
    heights: Ints
    part: Ints
    parts: Ints
    each: Ints
    most: int
    begins: Ints

    def __init__(self, sprites: SpritesTable, access: int) -> None:
        self.sprites, shapes = sprites, sprites.patterns
        self.heights = np.array([height for _, height in sprites.sizes], np.int64)
        self.part = np.array([one.part for one in shapes], np.int64)
        each = [len(one.raster.pieces) * one.row_bytes // one.part for one in shapes]
        self.parts = np.array([one.across * parts for one, parts in zip(shapes, each, strict=True)], np.int64)
        self.each = np.maximum(1, self.part // access)  # an access brings a part that is shorter as a whole
        self._step = np.array([one.step for one in shapes], np.int64)
        self._tall = np.array([one.tile[1] for one in shapes], np.int64)
        self._row_step = np.array([one.raster.step for one in shapes], np.int64)
        self.most = int(self.parts.max())
        self._offsets = np.zeros((len(shapes), max(len(one.offsets) for one in shapes), self.most), np.int64)
        self.begins = np.zeros((len(shapes), self.most), np.int64)
        self._base = np.zeros((len(shapes), self.most), np.int64)
        for size, one in enumerate(shapes):
            tile, inner = np.divmod(np.arange(self.parts[size]), each[size])
            piece, place = np.divmod(inner, one.row_bytes // one.part)
            bases, offsets = (np.array(column)[piece] for column in zip(*one.raster.pieces, strict=True))
            begin = np.array(one.offsets)[:, tile] + offsets + place * one.part
            self._offsets[size, : len(one.offsets), : len(tile)] = begin
            self._base[size, : len(tile)] = bases
            self.begins[size, : len(tile)] = tile * each[size] * self.each[size]
        self._plain = self._offsets[0].size == 1  # one part and one row of tiles, so that nothing is to be looked up

    def addresses(self, base: Ints, number: Ints, row: Ints, size: Ints) -> Ints:
        """int64 (items, most): where each part of the row begins, not yet modulo the memory's size.

        ``base`` (bases, items): the addresses of pattern 0; ``number`` of the pattern; ``row`` of its dots, before flips. What
        stands beyond the parts of an item's size means nothing.
        """
        if self._plain:
            plain: Ints = base[0] + number * self._step.take(size) + row * self._row_step.take(size)
            return plain[:, None]
        of_tiles: Ints = row // self._tall[size]
        inner: Ints = row % self._tall[size]
        begin: Ints = number * self._step[size] + inner * self._row_step[size]
        found: Ints = np.take_along_axis(base.T, self._base[size], axis=1) + self._offsets[size, of_tiles]
        found += begin[:, None]
        return found

    def access(self, number: Ints, size: Ints) -> tuple[Ints, Ints]:
        """Of access ``number`` of a row: the part to which it belongs, and its number among those of the part."""
        return np.divmod(number, self.each[size])

    def values(self, store: Store, place: Ints, size: int) -> Dots:
        """uint8 (items, dots across): the values of rows of one size, whose parts stand at ``place`` in the store."""
        part, parts, shape = int(self.part[size]), int(self.parts[size]), self.sprites.patterns[size]
        raster, across = shape.raster, self.sprites.sizes[size][0]
        dots = store.dots(raster.bits if raster.planes is None else 1, self.sprites.first_dot)
        dots = dots.reshape(-1, part * dots.shape[1])
        found = dots.take(place[:, :parts] // part, axis=0)
        if raster.planes is None:
            return found.reshape(len(place), across)
        # Parts stand tile by tile, and in each plane by plane: as axes they are put in order without a copy.
        planes = found.reshape(len(place), shape.across, raster.bits, raster.across)
        values: Dots = np.zeros((len(place), shape.across, raster.across), np.uint8)
        for bit in range(raster.bits):
            values |= planes[:, :, bit] << np.uint8(bit)
        return values.reshape(len(place), across)

    def bytes(self, memory: npt.NDArray[np.uint8], place: Sequence[int], size: int) -> bytes:
        """The row's bytes one after another, out of ``memory``, in which its parts stand at ``place``."""
        part, parts = int(self.part[size]), int(self.parts[size])
        return b"".join(memory[at : at + part].tobytes() for at in place[:parts])

    def places(self, begin: Ints, size: Ints) -> Ints:
        """Where the parts of rows stand whose bytes stand one after another from ``begin`` on, as ``addresses`` tells them."""
        found: Ints = begin[:, None] + self.part[size][:, None] * np.arange(self.most)
        return found
