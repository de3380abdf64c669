"""From a sprite's row to its dots: where in memory its parts lie, in which of its accesses each comes, and what they show.

Law: how a pattern lies is told by ``chip/tables/pattern.py`` alone; here it stands in arrays, for all sizes at once. A part is
the longest run of a row's bytes that lies at a multiple of its own length, whatever the pattern's number: it never lies astride
an access, the end of memory or two versions of it. Knows no record, no layer and no time.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from ...chip.model import SpritesTable
from ..store import Dots, Store

Ints = npt.NDArray[np.int64]


class SpriteRows:
    """The rows of a chip's sprites, whose parts are numbered from the left, as the pattern lies in memory, before flips.

    Arrays by size's number: ``heights``, ``parts`` of a row (of any size ``most``); ``each``, the accesses of one part.
    ``begins`` (sizes, most): how many accesses of the row come before those of the tile in which a part lies.
    """

    def __init__(self, sprites: SpritesTable, access: int) -> None:
        self.sprites, shapes = sprites, sprites.patterns
        self.heights = np.array([height for _, height in sprites.sizes], np.int64)
        self.part = np.array([one.part for one in shapes], np.int64)
        self.parts = np.array([one.across * one.row_bytes // one.part for one in shapes], np.int64)
        self.each = np.maximum(1, self.part // access)
        self._step = np.array([one.step for one in shapes], np.int64)
        self._tall = np.array([one.tile[1] for one in shapes], np.int64)
        self._row_bytes = np.array([one.row_bytes for one in shapes], np.int64)
        self.most = int(self.parts.max())
        self._offsets = np.zeros((len(shapes), max(len(one.offsets) for one in shapes), self.most), np.int64)
        self.begins = np.zeros((len(shapes), self.most), np.int64)
        for size, one in enumerate(shapes):
            of_tile = one.row_bytes // one.part
            tile, place = np.divmod(np.arange(self.parts[size]), of_tile)
            self._offsets[size, : len(one.offsets), : len(tile)] = np.array(one.offsets)[:, tile] + place * one.part
            self.begins[size, : len(tile)] = tile * of_tile * self.each[size]

    def addresses(self, base: Ints, number: Ints, row: Ints, size: Ints) -> Ints:
        """int64 (items, most): where each part of the row begins, not yet modulo the memory's size.

        ``base``: the address of pattern 0; ``number`` of the pattern; ``row`` of its dots, before flips. What stands beyond the
        parts of an item's size means nothing.
        """
        of_tiles, inner = np.divmod(row, self._tall[size])
        begin: Ints = base + number * self._step[size] + inner * self._row_bytes[size]
        return begin[:, None] + self._offsets[size, of_tiles]

    def access(self, number: Ints, size: Ints) -> tuple[Ints, Ints]:
        """Of access ``number`` of a row: the part to which it belongs, and its number among those of the part."""
        return np.divmod(number, self.each[size])

    def values(self, store: Store, place: Ints, size: int) -> Dots:
        """uint8 (items, dots across): the values of rows of one size, whose parts stand at ``place`` in the store."""
        part, parts = int(self.part[size]), int(self.parts[size])
        dots = store.dots(self.sprites.bits_per_dot, self.sprites.first_dot)
        dots = dots.reshape(-1, part * dots.shape[1])
        return dots.take(place[:, :parts] // part, axis=0).reshape(len(place), parts * dots.shape[1])

    def bytes(self, memory: npt.NDArray[np.uint8], place: Sequence[int], size: int) -> bytes:
        """The row's bytes one after another, out of ``memory``, in which its parts stand at ``place``."""
        part, parts = int(self.part[size]), int(self.parts[size])
        return b"".join(memory[at : at + part].tobytes() for at in place[:parts])

    def places(self, begin: Ints, size: Ints) -> Ints:
        """Where the parts of rows stand whose bytes stand one after another from ``begin`` on, as ``addresses`` tells them."""
        found: Ints = begin[:, None] + self.part[size][:, None] * np.arange(self.most)
        return found
