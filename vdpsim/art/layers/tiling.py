"""A picture in tiles, before and after it is coloured: cut to whole tiles, and put together of patterns.

Law: where the last tiles reach beyond the picture they are clear or, on a layer where no value shows nothing, repeat its edge.
Knows no colour and no chip but the mode's size of a tile.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...scene.contents.dots import joined
from ..arrays import Block, Dots, Mask, Numbers, Way
from ..tiles import Alike, alike, cut, turned


@dataclass(frozen=True, eq=False, repr=False)
class CutPicture:
    """A picture as ``down`` rows of ``across`` tiles.

    ``rgb`` (lines, dots, 3) and ``opaque`` (lines, dots): the picture, made whole tiles. ``tiles`` (n, high, wide, 3), 0 where
    transparent, and ``shows`` (n, high, wide): the same in tiles.
    """

    across: int
    down: int
    rgb: Dots
    opaque: Mask
    tiles: Dots
    shows: Mask

    @classmethod
    def of(cls, rgb: Dots, opaque: Mask, tile: tuple[int, int], *, clear: bool) -> CutPicture:
        """The picture cut to tiles of so many dots across and down.

        ``clear``: a value shows nothing, so that the tiles may reach beyond the picture.
        """
        lines, dots = opaque.shape
        wide, high = tile
        down, across = -(-lines // high), -(-dots // wide)
        spare = ((0, down * high - lines), (0, across * wide - dots))
        rgb = np.pad(rgb, (*spare, (0, 0)), "edge")
        opaque = np.pad(opaque, spare) if clear else np.pad(opaque, spare, "edge")
        tiles, shows = cut(rgb, wide, high), cut(opaque, wide, high)
        tiles[~shows] = 0
        return cls(across, down, rgb, opaque, tiles, shows)

    def alike(self, options: Sequence[Way]) -> Alike:
        """Which tiles are shown by which, in one of the ``options``; transparent is no colour."""
        return alike(np.concatenate([self.tiles, self.shows[..., None]], axis=3), options)

    def spread(self, view: Numbers) -> Numbers:
        """The view (lines, dots) of each dot, of the view (n,) of each tile."""
        return spread(view, self.across, tile_of(self.tiles))


def spread(of_tile: Numbers, across: int, tile: tuple[int, int]) -> Numbers:
    """What each dot (lines, dots) has, of what each tile (n,) has, ``across`` of them in a row."""
    wide, high = tile
    return of_tile.reshape(-1, across).repeat(high, axis=0).repeat(wide, axis=1)


def tile_of(tiles: Block) -> tuple[int, int]:
    """Dots across and down of ``tiles`` (n, high, wide, ...)."""
    return tiles.shape[2], tiles.shape[1]


@dataclass(frozen=True, eq=False, repr=False)
class Tiling:
    """A picture put together of ``patterns`` uint8 (k, high, wide).

    Of each of its tiles (n,): the ``number`` of its pattern, the ``way`` in which it is shown, of ``options``, and its ``view``.
    ``size``: lines and dots of the picture, ``across``: tiles in a row.
    """

    patterns: Dots
    number: Numbers
    way: Numbers
    view: Numbers
    options: Sequence[Way]
    size: tuple[int, int]
    across: int

    def cells(self) -> Dots:
        """The values (n, high, wide) of each tile, as its cell shows it."""
        found: npt.NDArray[Any] = turned(self.patterns[self.number], self.way, self.options)
        return found

    def values(self) -> Numbers:
        """The values (lines, dots) of the picture."""
        lines, dots = self.size
        return joined(self.cells(), self.across)[:lines, :dots].astype(np.int64)

    def views(self) -> Numbers:
        """The view (lines, dots) of each dot."""
        lines, dots = self.size
        return spread(self.view, self.across, tile_of(self.patterns))[:lines, :dots]

    def views_of_cells(self) -> Numbers:
        """The view (n, high, wide) of each tile's dots."""
        return np.broadcast_to(self.view[:, None, None], (len(self.view), *self.patterns.shape[1:]))
