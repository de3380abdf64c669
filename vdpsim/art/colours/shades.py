"""The colours that values show, and the values that show a picture best, once every entry has its colour.

Law: a value shows the colour of its entry in the view at hand, and black where that entry has none. Of equal colours the lower
value wins, of equal views the first. Knows views and colours, no maps and no files.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Colour, Dithering, Dots, Mask, Numbers
from .dither import dither
from .reach import View
from .units import LIGHT, palette_of


@dataclass(frozen=True, eq=False, repr=False)
class Shades:
    """What the ``values`` that there are, counted from 0, show in each of ``views``, with the ``colours`` of entries."""

    views: Sequence[View]
    colours: Mapping[int, Colour]
    values: int

    def only(self, at: int) -> Shades:
        """The same with just the view at place ``at``."""
        return Shades((self.views[at],), self.colours, self.values)

    @cached_property
    def palettes(self) -> list[list[tuple[int, Colour]]]:
        """Of each view the values that have a colour, with it."""
        return [palette_of(view, self.colours) for view in self.views]

    @cached_property
    def _table(self) -> Dots:
        """Colours (views, values, 3)."""
        table = np.zeros((len(self.views), self.values, 3), np.uint8)
        for at, palette in enumerate(self.palettes):
            for value, shade in palette:
                table[at, value] = shade
        return table

    def of(self, view: Numbers | int, value: Numbers | Dots) -> Dots:
        """The colours (..., 3) of ``value`` (...) in ``view``, the places of views (...) or one place."""
        found: Dots = self._table[view, value]
        return found

    def darkest(self, view: Numbers, value: Numbers | Dots) -> tuple[int, int]:
        """The place of the view, and the value, of the darkest of these dots; of equals the lower view, then the lower value."""
        pairs = np.unique(np.stack([view.reshape(-1), value.reshape(-1)], axis=1), axis=0)
        light = self.of(pairs[:, 0], pairs[:, 1]) @ np.array(LIGHT)
        at, number = pairs[int(light.argmin())].tolist()
        return at, number

    def dithered(self, rgb: Dots, opaque: Mask, view: Numbers, dithering: Dithering, clear: int) -> Numbers:
        """Values (lines, dots) of a picture whose dots have the views ``view``; ``clear`` where it is not ``opaque``."""
        shades = [np.array([shade for _, shade in palette], np.uint8).reshape(-1, 3) for palette in self.palettes]
        which = dither(rgb, opaque, view, shades, dithering)
        table = np.zeros((len(self.views), max(map(len, self.palettes), default=0) + 1), np.int64)
        for at, palette in enumerate(self.palettes):
            table[at, : len(palette)] = [value for value, _ in palette]
        return np.where(opaque, table[view, which], clear)

    def nearest(self, tiles: Dots, opaque: Mask, clear: int) -> tuple[Numbers, Numbers]:
        """Of each of ``tiles`` (n, down, across, 3) the place (n,) of the view that loses the least, and its values there.

        The loss is the square of the distance of the 8-bit colours, over the dots that are ``opaque`` (n, down, across).
        """
        least = np.full(len(tiles), np.iinfo(np.int64).max, np.int64)
        view, value = np.zeros(len(tiles), np.int64), np.full(opaque.shape, clear, np.int64)
        for at, palette in enumerate(self.palettes):
            if palette:
                lost, numbers = _nearest_of(palette, tiles, opaque)
                closer = lost < least
                least[closer], view[closer], value[closer] = lost[closer], at, numbers[closer]
        value[~opaque] = clear
        return view, value


def _nearest_of(palette: Sequence[tuple[int, Colour]], tiles: Dots, opaque: Mask) -> tuple[Numbers, Numbers]:
    """What each tile loses in one palette, and the values of its dots there."""
    dots = tiles.reshape(-1, 1, 3).astype(np.int64)
    apart = ((dots - np.array([shade for _, shade in palette], np.int64)) ** 2).sum(axis=2)
    which = apart.argmin(axis=1)
    lost = np.where(opaque, apart[np.arange(len(which)), which].reshape(opaque.shape), 0)
    numbers = np.array([value for value, _ in palette], np.int64)[which]
    return lost.reshape(len(tiles), -1).sum(axis=1), numbers.reshape(opaque.shape)
