"""Merged tiles and their patterns suited to each other, once the colours are known.

Law: merging knew no banks, so a pattern may be poor in the colours that it got. In turn each tile goes to the pattern that
suits it best as it is drawn, and each pattern becomes the mean of its tiles in the best view for it. The best round counts,
of equals the first. Work is bounded by counts. Knows tiles, patterns and shades, no map.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Dots, Mask, Numbers, Way
from ..colours.shades import Shades
from ..merge import means_of, nearest

ROUNDS = 8
"""How often tiles and patterns are suited to each other."""


@dataclass(frozen=True, eq=False, repr=False)
class PatternsOfTiles:
    """Patterns, the ``view`` (k,) and the ``value`` (k, high, wide) of each, and who shows which.

    ``of`` and ``way`` (n,): of each tile the number of its pattern, and the way in which it is shown.
    """

    of: Numbers
    way: Numbers
    view: Numbers
    value: Numbers


@dataclass(frozen=True, eq=False, repr=False)
class Refinement:
    """The unlike ``tiles`` (n, high, wide, 3), ``shows`` where they are opaque, and ``weight`` (n,), how often each stands.

    At most ``limit`` patterns may be made; ``clear`` is the value that shows nothing.
    """

    tiles: Dots
    shows: Mask
    weight: Numbers
    options: Sequence[Way]
    shades: Shades
    clear: int
    limit: int

    def refined(self, start: PatternsOfTiles, opaque: Mask) -> PatternsOfTiles:
        """The best of some rounds from ``start`` on, whose patterns are ``opaque`` (k, high, wide)."""
        least, best = np.inf, start
        view, value, opaque = start.view, start.value, opaque.copy()
        for _ in range(ROUNDS):
            drawn = self.shades.of(view[:, None, None], value)
            drawn[~opaque] = 0
            of, way, lost = nearest(self.tiles, self.shows, drawn, opaque, self.options)
            idle, room = self._room(of, view, value)
            lost = lost * self.weight
            total = float(lost.sum())
            if room >= 0 and total < least:
                least, best = total, PatternsOfTiles(of, way, view, value)
            means = means_of(self.tiles, self.weight, of, way, self.options, len(value))
            worst = np.argsort(-lost, kind="stable")[: max(room, 0)]
            means, opaque = self._with_patterns_of(worst, idle, means, opaque)
            view, value = self.shades.nearest(means, opaque, self.clear)
        return best

    def _with_patterns_of(self, worst: Numbers, idle: Numbers, means: Dots, opaque: Mask) -> tuple[Dots, Mask]:
        """The tiles that lose most become patterns themselves: in place of ``idle`` ones first, then as further ones."""
        instead, further = worst[: len(idle)], worst[len(idle) :]
        place = idle[: len(instead)]
        means[place], opaque[place] = self.tiles[instead], self.shows[instead]
        return np.concatenate([means, self.tiles[further]]), np.concatenate([opaque, self.shows[further]])

    def _room(self, of: Numbers, view: Numbers, value: Numbers) -> tuple[Numbers, int]:
        """Pairs of a pattern and a view that no tile goes to, or that are there twice; and how many more patterns may be made.

        Pairs that differ in the view alone have one pattern.
        """
        flat = value.reshape(len(value), -1)
        _, first = np.unique(np.concatenate([view[:, None], flat], axis=1), axis=0, return_index=True)
        used = np.intersect1d(first, of)
        patterns = len(np.unique(flat[used], axis=0))
        return np.setdiff1d(np.arange(len(value)), used), self.limit - patterns
