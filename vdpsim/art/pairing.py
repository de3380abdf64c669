"""Tiles merged two by two, always the two that lose the least.

Law: the loss of two means that become one is the square of their distance, weighted by how many tiles stand behind each. Only
ways are tried of which any two, one after the other, are one of them again. Means are kept in steps of 1/256.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..scene.contents.match import shown
from .arrays import Block, Floats, Progress, Way
from .tiles import back


def merged_in_pairs(
    tiles: Floats, weight: Floats, options: Sequence[Way], limit: int, progress: Progress | None
) -> Floats:
    """Means after merging the two that lose the least, again and again, down to ``limit``."""
    pairing = _Pairing(tiles, weight, _closed(options))
    steps = len(tiles) - limit
    for step in range(steps):
        pairing.join_closest()
        if progress is not None and not step % 64:
            progress(step / steps)
    return pairing.means[pairing.alive]


class _Pairing:
    """Means on their way to fewer: what any two lose by becoming one, kept up to date as they do.

    ``loss`` (k, k): infinite where one of both is gone. ``best`` (k,): of each mean the other that it loses least with, and
    ``least`` (k,) that loss. Joining two changes a row and a column, so that only means whose best they were look again: k steps
    of about k instead of k x k.
    """

    def __init__(self, tiles: Floats, weight: Floats, ways: Sequence[Way]) -> None:
        count = len(tiles)
        self.ways = ways
        self.means, self.held = tiles.copy(), weight.copy()
        self.flat = self.means.reshape(count, -1)  # the same numbers, not a copy
        self.norm = (self.flat * self.flat).sum(axis=1)
        self.alive = np.ones(count, bool)
        self.loss = self._losses()
        self.best = self.loss.argmin(axis=1)
        self.least = self.loss[np.arange(count), self.best]

    def _losses(self) -> Floats:
        loss = np.full((len(self.means), len(self.means)), np.inf, np.float64)
        for each in variants(self.means, self.ways):
            np.minimum(loss, self.norm[:, None] + self.norm - 2 * (self.flat @ each.T), out=loss)
        loss *= self.held[:, None] * self.held / (self.held[:, None] + self.held)
        np.fill_diagonal(loss, np.inf)
        return loss

    def join_closest(self) -> None:
        """Make one of the two that lose the least."""
        one = int(self.least.argmin())
        other = int(self.best[one])
        together = self.held[one] + self.held[other]
        turned = back(self.means[other : other + 1], self._way(one, other))[0]
        both = self.means[one] * self.held[one] + turned * self.held[other]
        self.means[one] = stepped(both / together)
        self.held[one], self.alive[other], self.held[other] = together, False, 0
        self.norm[one] = (self.flat[one] * self.flat[one]).sum()
        self._replace(one, other, self._row(one))

    def _way(self, one: int, other: int) -> Way:
        """The way in which ``one`` shows ``other`` best."""
        drawn = variants(self.means[one : one + 1], self.ways)[:, 0]
        return self.ways[int(((drawn - self.flat[other]) ** 2).sum(axis=1).argmin())]

    def _row(self, one: int) -> Floats:
        """What ``one`` loses with each other mean."""
        drawn = variants(self.means[one : one + 1], self.ways)[:, 0]
        row: Floats = self.norm[one] + self.norm - 2 * (drawn @ self.flat.T).max(axis=0)
        row *= self.held[one] * self.held / (self.held[one] + self.held)
        row[~self.alive] = np.inf
        row[one] = np.inf
        return row

    def _replace(self, one: int, other: int, row: Floats) -> None:
        """``other`` is gone, and ``one`` loses ``row`` now."""
        self.loss[other], self.loss[:, other], self.least[other] = np.inf, np.inf, np.inf
        self.loss[one], self.loss[:, one] = row, row
        closer = row < self.least
        self.best[closer], self.least[closer] = one, row[closer]
        stale = np.flatnonzero(self.alive & ((self.best == one) | (self.best == other)) & ~closer)
        for at in {one, *stale.tolist()}:
            self.best[at] = self.loss[at].argmin()
            self.least[at] = self.loss[at, self.best[at]]


def _closed(options: Sequence[Way]) -> list[Way]:
    """The options of which any two, one after the other, are one of them again: all, or those without a turn."""
    return list(options) if len(options) == 8 else [way for way in options if not way.get("turn")]


def variants(means: Block, options: Sequence[Way]) -> Floats:
    """Everything that cells show of ``means``: (ways, k, values)."""
    return np.stack([np.ascontiguousarray(shown(means, way)).reshape(len(means), -1) for way in options])


def stepped(means: Floats) -> Floats:
    """Means in steps of 1/256: their sums are exact, in whatever order they are added."""
    found: Floats = np.rint(means * 256) / 256
    return found
