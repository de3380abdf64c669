"""A picture on its way into a bitmap with colour cells: blocks that show one bank each, or two colours.

Law: where a cell names a bank, blocks are coloured as tiles are. Where it gives two colours, the picture is coloured as one with
so many values as a cell can name, and then each block has the two of them with which it loses least: every two are tried, where
there are more than ``MOST`` those of the ``MOST`` that are nearest to most of its dots. Of equals the lower numbers win.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ...chip.model import BitmapMode
from ...chip.tables.bitmap import ColourCells
from ...scene.contents.dots import joined
from ..arrays import Dots, Numbers
from ..colours.reach import rung_fields
from ..colours.units import Coloured, Scheme, Units
from ..fitted import Fitted
from ..job import PatternCount
from ..scenes.encode import cell_words
from ..tiles import cut
from .job import LayerJob
from .tiling import CutPicture

MOST = 32
"""Colours of which every two are tried for a block."""


@dataclass(eq=False, repr=False, kw_only=True)
class BlockJob(LayerJob):
    """A picture and the bitmap with colour cells that it is for.

    Once it is settled: ``view`` and ``number`` (lines, dots) of the picture made whole blocks, which show its colours; ``two``
    (n, 2): what value 0 and 1 of each block shows, where cells give two colours.
    """

    mode: BitmapMode

    def __post_init__(self) -> None:
        super().__post_init__()
        assert self.mode.colours is not None
        self.cells: ColourCells = self.mode.colours
        if self.cells.two and self.clear > self.cells.both:
            told = f"both colours of {self.target} must be able to be the number that shows nothing, {self.clear}"
            raise self.wrong("mode", f"{told}; one of them ends at {self.cells.both}")
        self.cell, self.thing = self.cells.block, "block"
        self.pieces = CutPicture.of(self.asked, self.opaque, self.cell, clear=self.mode.transparent is not None)

    def units(self) -> Units:
        """The blocks or, where a cell gives two colours, the whole picture as one thing."""
        if self.cells.two:
            return Units(self.asked.reshape(1, -1, 3), self.opaque.reshape(1, -1), np.ones(1), self.reach, self.target)
        rgb, opaque = self.pieces.tiles, self.pieces.shows
        flat = len(rgb), -1
        return Units(rgb.reshape(*flat, 3), opaque.reshape(flat), np.ones(len(rgb)), self.reach, self.target)

    def settle(self, coloured: Coloured, scheme: Scheme) -> None:
        """Take what became of it."""
        self.take(coloured, scheme, values_of(self.mode))
        whole, blocks = self.pieces, len(self.pieces.tiles)
        if self.cells.two:
            self.view = np.zeros(whole.opaque.shape, np.int64)
            number = self._two_a_block()
            if coloured.exact and (number != self._as_coloured(coloured))[self._inside()].any():
                self.why = "a block shows two colours"
            self.number = number
            return
        self.two = np.zeros((blocks, 2), np.int64)
        self.view = whole.spread(coloured.view)
        value = np.where(coloured.value < 0, self.clear, coloured.value).reshape(whole.shows.shape)
        self.number = joined(value, whole.across)
        if self.dithers:
            self.number = self.shades.dithered(whole.rgb, whole.opaque, self.view, self.dithering, self.clear)

    def _inside(self) -> tuple[slice, slice]:
        return slice(self.opaque.shape[0]), slice(self.opaque.shape[1])

    def _as_coloured(self, coloured: Coloured) -> Numbers:
        """The numbers that the picture had before blocks were told to have two."""
        found = np.full(self.pieces.opaque.shape, self.clear, np.int64)
        value = coloured.value.reshape(self.opaque.shape)
        found[self._inside()] = np.where(value < 0, self.clear, value)
        return found

    def _two_a_block(self) -> Numbers:
        """The number that each dot shows, of the two with which its block loses least."""
        rgb, shows = self.pieces.tiles, self.pieces.shows
        palette = self.shades.palettes[0] or [(self.clear, (0, 0, 0))]
        numbers = np.array([number for number, _ in palette], np.int64)
        colours = np.array([colour for _, colour in palette], np.int64)
        self.two = np.zeros((len(rgb), 2), np.int64)
        found = np.full(shows.shape, self.clear, np.int64)
        for at in range(len(rgb)):
            pair = two_of(rgb[at][shows[at]], colours, alone=not shows[at].all())
            first, second = numbers[list(pair)].tolist()
            self.two[at] = (self.clear, first) if not shows[at].all() else (first, second)
            apart = ((rgb[at][shows[at]].astype(np.int64)[:, None] - colours[list(pair)]) ** 2).sum(axis=2)
            found[at][shows[at]] = numbers[list(pair)][apart.argmin(axis=1)]
        return joined(found, self.pieces.across)

    def over(self) -> bool:
        """Whether it is more than the layer takes: never."""
        return False

    def fitted(self, kept: Collection[int]) -> Fitted:
        """The result."""
        inside = self._inside()
        view, number = self.view[inside], self.number[inside]
        rgb = self.shades.of(view, number)
        count = PatternCount(things="", there=1, asked=1, used=1, limit=1, bound=self.scheme.bound)
        report = self.report(rgb, view[self.opaque], number[self.opaque], self.opaque, kept, count)
        return Fitted(
            **self.result(rgb, report, self._banks(), self.settings(0)),
            patterns=np.zeros((0, 0, 0), np.uint8),
            map=np.zeros((0, 0), np.int64),
            bitmap=self._bitmap(),
            colours=self._words(),
        )

    def _banks(self) -> Numbers:
        """The bank of each block, -1 where nothing shows; of two colours, the one bank of all."""
        banks = np.array([view.bank for view in self.reach.views], np.int64)
        if self.cells.two:
            return np.array([[banks[0] if self.opaque.any() else -1]], np.int64)
        shows = self.pieces.shows.any(axis=(1, 2))
        view = cut(self.view, *self.cell)[:, 0, 0]
        return np.where(shows, banks[view], -1).reshape(self.pieces.down, self.pieces.across)

    def _bitmap(self) -> Dots:
        """Values (height, width) of the whole bitmap."""
        high, wide = self.number.shape
        if self.cells.two:
            bitmap = np.zeros((self.mode.height, self.mode.width), np.uint8)
            blocks = cut(self.number, *self.cell)
            bitmap[:high, :wide] = joined((blocks != self.two[:, 0, None, None]).astype(np.uint8), self.pieces.across)
            return bitmap
        bitmap = np.full((self.mode.height, self.mode.width), self._around()[1], np.uint8)
        bitmap[:high, :wide] = self.number
        return bitmap

    def _around(self) -> tuple[int, int]:
        """View and number of what lies around the picture."""
        inside = self._inside()
        return self.rest(self.view[inside], self.number[inside])

    def _words(self) -> Numbers:
        """Packed words of all colour cells (rows, columns)."""
        columns, rows = self.mode.blocks
        view, number = self._around()
        shape = self.pieces.down, self.pieces.across
        if self.cells.two:
            other = {"background": number, "foreground": number}
            fields = {"background": self.two[:, 0].reshape(shape), "foreground": self.two[:, 1].reshape(shape)}
        else:
            other = {"bank": self.reach.views[view].bank}
            fields = {"bank": np.maximum(self._banks(), 0)}
        layout = self.cells.cell.layout
        standing = rung_fields(self.mode.ladder or self.chip.ladder, self.layer, self.mode.asked)
        around = {name: np.array([one]) for name, one in {**other, **standing}.items()}
        words = np.full((rows, columns), cell_words(layout, around)[0])
        fields |= {name: np.full(shape, one) for name, one in standing.items()}
        words[: shape[0], : shape[1]] = cell_words(layout, fields)
        return words


def values_of(mode: BitmapMode) -> int:
    """How many numbers a dot can have: values or, where cells give two colours, what both of these can be."""
    if mode.colours is None or not mode.colours.two:
        return mode.top_value + 1
    return 1 + mode.colours.both


def two_of(dots: Dots, colours: Numbers, *, alone: bool) -> tuple[int, int]:
    """The places of the two ``colours`` (k, 3) with which ``dots`` (n, 3) lose least; ``alone``: they have to do with one.

    The loss is the square of the distance of the 8-bit colours; of equals the lower places win. One that does for all is given
    twice.
    """
    apart = ((dots.astype(np.int64)[:, None] - colours) ** 2).sum(axis=2)
    best = int(apart.sum(axis=0).argmin())
    if alone or not apart[:, best].any():
        return best, best
    near = np.arange(len(colours))
    if len(near) > MOST:
        often = np.bincount(apart.argmin(axis=1), minlength=len(near))
        near = np.sort(np.argsort(-often, kind="stable")[:MOST])
    some = apart[:, near]
    lost = np.minimum(some[:, :, None], some[:, None, :]).sum(axis=0)
    first, second = divmod(int(lost.argmin()), len(near))
    return int(near[first]), int(near[second])
