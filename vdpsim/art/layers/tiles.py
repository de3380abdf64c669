"""A picture on its way into a map of tiles: cut, coloured, merged where its patterns are too many, and written as the whole map.

Law: a pattern is used again in just the ways that the layer's cells have. Where the picture is smaller than what shows of the
layer, one more pattern may be needed for what lies around it. The picture's cells and the layer's others stand on the same rung
of the ladder; fields that the layout lacks are not written. Knows no file.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...chip.model import TilesMode
from ...scene.contents.dots import joined
from ...scene.contents.match import ways
from ..arrays import Dots, Numbers, OverLimit, Progress
from ..colours.reach import rung_fields
from ..colours.units import Coloured, Scheme, Units
from ..fitted import Fitted
from ..job import PatternCount
from ..merge import Merged, merge
from ..results import loss
from ..scenes.encode import cell_words
from ..tiles import PLAIN, alike, cut, turned
from .job import LayerJob, dots_seen
from .refine import PatternsOfTiles, Refinement
from .tiling import CutPicture, Tiling, spread


@dataclass(eq=False, repr=False, kw_only=True)
class TileJob(LayerJob):
    """A picture and the tiles mode that it is for; ``limit``: the most patterns, and ``over_limit`` what to do with more."""

    mode: TilesMode
    limit: int
    over_limit: OverLimit

    def __post_init__(self) -> None:
        super().__post_init__()
        across, down = self.cell = self.mode.tile
        self.thing = "tile"
        self.options = list(ways(self.mode))
        self.pieces = CutPicture.of(self.asked, self.opaque, self.cell, clear=self.mode.transparent is not None)
        self.alike = self.pieces.alike(self.options)
        self.merged: Merged | None = None
        self.unlimited: float | None = None
        wide, high = dots_seen(self.chip, self.mode)
        self.surrounded = self.pieces.across * across < wide or self.pieces.down * down < high

    def units(self) -> Units:
        """The unlike tiles or, once they were merged, the patterns to be."""
        weight = self._weight()
        if self.merged is None:
            rgb, opaque = self.pieces.tiles[self.alike.first], self.pieces.shows[self.alike.first]
        else:
            rgb, opaque = self.merged.rgb, self.merged.opaque
            weight = np.bincount(self.merged.of, weights=weight, minlength=len(rgb))
        flat = len(rgb), -1
        weight = np.maximum(weight, 1)
        return Units(rgb.reshape(*flat, 3), opaque.reshape(flat), weight, self.reach, self.target)

    def _weight(self) -> Numbers:
        """How often each unlike tile stands in the picture."""
        return np.bincount(self.alike.of, minlength=len(self.alike.first))

    def settle(self, coloured: Coloured, scheme: Scheme) -> None:
        """Take what became of the units: find the patterns, and who shows which."""
        self.take(coloured, scheme, self.mode.top_value + 1)
        across, down = self.mode.tile
        value = np.where(coloured.value < 0, self.clear, coloured.value).reshape(-1, down, across)
        if self.merged is None:
            self.exact = coloured.exact
            self.tiling = self._unmerged(coloured, value)
            self.asked_for = len(self.tiling.patterns)
        else:
            self.why = "tiles were merged"
            self.tiling = self._regrouped(self.merged, coloured, value)
        self.around = self._around()

    def _unmerged(self, coloured: Coloured, value: Numbers) -> Tiling:
        """The tiling where every tile keeps its own dots; tiles that became alike share a pattern."""
        view = coloured.view[self.alike.of]
        if self.dithers:
            whole = self.pieces
            dots = self.shades.dithered(whole.rgb, whole.opaque, whole.spread(view), self.dithering, self.clear)
            cells = cut(dots, *self.mode.tile)
        else:
            cells = turned(value[self.alike.of], self.alike.way, self.options)
        cells = cells.astype(np.uint8)
        found = alike(cells, self.options)
        return self._tiling(cells[found.first], found.of, found.way, view)

    def _regrouped(self, merged: Merged, coloured: Coloured, value: Numbers) -> Tiling:
        """The tiling of merged tiles, without patterns that nobody shows and those that became alike."""
        made = PatternsOfTiles(merged.of, merged.way, coloured.view, value)
        if self.dithers:
            view = spread(coloured.view, 1, self.mode.tile)
            rgb, opaque = joined(merged.rgb, 1), joined(merged.opaque, 1)
            dots = self.shades.dithered(rgb, opaque, view, self.dithering, self.clear)
            made = PatternsOfTiles(merged.of, merged.way, coloured.view, cut(dots, *self.mode.tile))
        elif not coloured.exact:
            made = self._refinement().refined(made, merged.opaque)
        used, place = np.unique(made.of, return_inverse=True)
        plain = alike(made.value[used], PLAIN)
        patterns = made.value[used][plain.first].astype(np.uint8)
        tile = self.alike.of
        return self._tiling(patterns, plain.of[place][tile], made.way[tile], made.view[made.of][tile])

    def _refinement(self) -> Refinement:
        first = self.alike.first
        tiles, shows = self.pieces.tiles[first], self.pieces.shows[first]
        limit = self.limit - int(self.surrounded)
        return Refinement(tiles, shows, self._weight(), self.options, self.shades, self.clear, limit)

    def _tiling(self, patterns: Dots, number: Numbers, way: Numbers, view: Numbers) -> Tiling:
        size = self.opaque.shape[0], self.opaque.shape[1]
        return Tiling(patterns, number, way, view, self.options, size, self.pieces.across)

    def _around(self) -> tuple[int, Dots] | None:
        """The view and the tile (1, down, across) that show around the picture; None where nothing of it would be seen."""
        if not self.surrounded:
            return None
        view, value = self.rest(self.tiling.views_of_cells(), self.tiling.cells())
        return view, np.full((1, *self.mode.tile[::-1]), value, np.uint8)

    def _patterns(self) -> Dots:
        """The picture's patterns and, where none of them does for what lies around it, one for that."""
        patterns = self.tiling.patterns
        if self.around is None or place_of(self.around[1], patterns) is not None:
            return patterns
        return np.concatenate([patterns, self.around[1]])

    def over(self) -> bool:
        """Whether there are more patterns than are allowed. Raises InputError where that is an error."""
        total = len(self._patterns())
        if total <= self.limit or self.merged is not None:
            return False
        if self.over_limit == "error":
            own = f", {self.asked_for} of the picture and one for what lies around it"
            needs = f"needs {total}{own if total > self.asked_for else ''}"
            raise self.wrong("max_tiles", f"must be at most {self.limit} patterns for {self.target}, {needs}")
        return True

    def merge(self, progress: Progress | None) -> None:
        """Merge tiles until they are few enough. Raises InputError where not even one could stay."""
        room = self.limit - int(self.surrounded)
        if room < 1:
            raise self.wrong("max_tiles", f"must be at least {1 + self.surrounded} for this picture, got {self.limit}")
        self.unlimited = loss(self.asked, self._rgb(), self.opaque).psnr
        self.alike = self.pieces.alike(PLAIN)
        first = self.alike.first
        tiles, shows = self.pieces.tiles[first], self.pieces.shows[first]
        self.merged = merge(tiles, shows, self._weight(), self.options, room, members=self.exact, progress=progress)
        self.notes.append(f"{self.asked_for} patterns were merged to {len(self.merged.rgb)}")

    def _rgb(self) -> Dots:
        return self.shades.of(self.tiling.views(), self.tiling.values())

    def fitted(self, kept: Collection[int]) -> Fitted:
        """The result."""
        asked_for = self.opaque
        self._see_through()
        patterns, tiling, rgb = self._patterns(), self.tiling, self._rgb()
        banks = [view.bank for view in self.reach.views]
        standing = rung_fields(self.mode.ladder or self.chip.ladder, self.layer, self.mode.cell.layout)
        view, value = tiling.views()[self.opaque], tiling.values()[self.opaque]
        report = self.report(rgb, view, value, self.opaque & asked_for, kept, self._count(len(patterns)))
        bank_of_tile = np.where(self.pieces.shows.any(axis=(1, 2)), np.array(banks)[tiling.view], -1)
        shape = self.pieces.down, self.pieces.across
        return Fitted(
            **self.result(rgb, report, bank_of_tile.reshape(shape), self.settings(int(tiling.view[0]))),
            patterns=patterns,
            map=map_of(self.mode, tiling, banks, self._fields_around(patterns, banks), standing),
            bitmap=np.zeros((0, 0), np.uint8),
        )

    def _count(self, used: int) -> PatternCount:
        bound = self.scheme.bound if self.merged is None else 0
        there = len(self.pieces.tiles)
        return PatternCount("tiles", there, self.asked_for, used, self.limit, bound, self.unlimited)

    def _fields_around(self, patterns: Dots, banks: list[int]) -> dict[str, int]:
        """The fields of the cells around the picture."""
        if self.around is None:
            return {"pattern": 0}
        view, tile = self.around
        return {"pattern": place_of(tile, patterns) or 0, "bank": banks[view]}

    def _see_through(self) -> None:
        """A merged tile may be opaque where the picture is not, and the other way round: what shows is what counts."""
        if self.merged is None or self.mode.transparent is None:
            return
        shows = self.tiling.values() != self.mode.transparent
        changed = int((shows != self.opaque).sum())
        if changed:
            self.notes.append(f"{changed} dots became transparent, or ceased to be, as tiles were merged")
        self.opaque = shows


def map_of(
    mode: TilesMode, tiling: Tiling, banks: Sequence[int], around: Mapping[str, int], standing: Mapping[str, int]
) -> Numbers:
    """Packed words (rows, columns) of the map: the picture at the upper left, and ``around`` it one cell's fields.

    ``banks``: of each view. ``standing``: fields that every cell has (see ``rung_fields``).
    """
    layout = mode.cell.layout
    other = {name: np.array([number]) for name, number in {**around, **standing}.items() if name in layout}
    words = np.zeros((mode.rows, mode.columns), np.int64)
    words[:] = cell_words(layout, other)[0]
    across = tiling.across
    shape = (len(tiling.number) // across, across)
    words[: shape[0], :across] = cell_words(layout, _fields(mode, tiling, banks, standing)).reshape(shape)
    return words


def _fields(mode: TilesMode, tiling: Tiling, banks: Sequence[int], standing: Mapping[str, int]) -> dict[str, Numbers]:
    """The fields (n,) of the picture's cells."""
    fields = {"pattern": tiling.number}
    for name in tiling.options[0]:
        fields[name] = np.array([option[name] for option in tiling.options], np.int64)[tiling.way]
    if "bank" in mode.cell.layout:
        fields["bank"] = np.array(banks, np.int64)[tiling.view]
    return {**fields, **{name: np.full(len(tiling.number), number) for name, number in standing.items()}}


def place_of(tile: Dots, patterns: Dots) -> int | None:
    """The first of ``patterns`` (k, high, wide) that is ``tile`` (1, high, wide); None where none is."""
    same = (patterns == tile).all(axis=(1, 2))
    return int(same.argmax()) if same.any() else None
