"""Tiles merged to a limit: the most similar share a pattern, with the least loss.

Law: the loss of a dot is the square of the distance of its 8-bit colours, which is what PSNR measures; a dot that is opaque in
one tile and transparent in the other costs more than any two colours. Tiles are first merged two by two, always the two that
lose the least; then each goes to the pattern that suits it best, and patterns follow their tiles, until nothing
moves. No clock decides when to stop, only counts; means are kept in steps of 1/256, so that sums are exact, in whatever order
a machine adds, and the same tiles are merged everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from .arrays import Dots, Floats, Mask, Numbers, Progress, Way
from .pairing import merged_in_pairs, stepped, variants
from .tiles import back

MOST_PAIRED = 3000
"""Tiles of which every two are held against each other; of more, a start is drawn by chance with a fixed seed."""

ROUNDS = 24
"""How often tiles go to their best pattern and patterns follow, at most."""

CLEAR = 512.0
"""How far opaque and transparent are apart; black and white are 442."""


@dataclass(frozen=True, eq=False, repr=False)
class Merged:
    """Which pattern (n,) of the ``rgb`` (k, down, across, 3) and ``opaque`` (k, down, across) each tile has, and in which way."""

    of: Numbers
    way: Numbers
    rgb: Dots
    opaque: Mask


def merge(
    rgb: Dots,
    opaque: Mask,
    weight: npt.NDArray[Any],
    options: Sequence[Way],
    limit: int,
    *,
    members: bool,
    progress: Progress | None = None,
) -> Merged:
    """At most ``limit`` patterns for the tiles (n, down, across): those that a cell shows in one of the ``options``.

    ``weight`` (n,): how often each tile stands. ``members``: a pattern is one of its tiles, and so has only colours of the
    picture; otherwise it is their mean. ``progress`` is told 0 to 1. Raises ValueError for a limit below 1.
    """
    if limit < 1:
        raise ValueError(f"at least one tile must be allowed, got {limit}")
    tiles = _features(rgb, opaque)
    weight = np.asarray(weight, np.float64)
    paired = len(tiles) <= MOST_PAIRED
    means = (
        merged_in_pairs(tiles, weight, options, limit, progress) if paired else _drawn(tiles, weight, options, limit)
    )
    rounds = ROUNDS if paired else ROUNDS // 4
    means, of, way = _settled(tiles, weight, options, means, rounds)
    if members:
        means, of, way = _settled_on_members(tiles, options, means, (of, way), rounds)
    return Merged(of, way, *_coloured(means))


def _settled(
    tiles: Floats, weight: Floats, options: Sequence[Way], means: Floats, rounds: int
) -> tuple[Floats, Numbers, Numbers]:
    """Means that follow their tiles, and tiles that go to the best mean, until nothing moves."""
    of, way, _ = _nearest(tiles, means, options)
    for _ in range(rounds):
        means = _means(tiles, weight, of, way, options, means)
        before = of, way
        of, way, cost = _nearest(tiles, means, options)
        _fill(tiles, means, of, way, cost * weight)
        if _same(before, (of, way)):
            break
    return means, of, way


def _settled_on_members(
    tiles: Floats, options: Sequence[Way], means: Floats, shown_by: tuple[Numbers, Numbers], rounds: int
) -> tuple[Floats, Numbers, Numbers]:
    """The same, with one of its tiles in place of each mean."""
    of, way = shown_by
    for _ in range(rounds):
        means = _members(tiles, of, way, options, means)
        before = of, way
        of, way, _ = _nearest(tiles, means, options)
        if _same(before, (of, way)):
            break
    return means, of, way


def _same(before: tuple[Numbers, Numbers], after: tuple[Numbers, Numbers]) -> bool:
    return np.array_equal(before[0], after[0]) and np.array_equal(before[1], after[1])


def _coloured(means: Floats) -> tuple[Dots, Mask]:
    """The 8-bit colours of means, and where they are opaque: where more than half of their tiles are.

    A mean's colour is that of its opaque tiles alone: transparent ones count as black in the sum, and in nothing else.
    """
    opaque = means[..., 3] >= CLEAR / 2
    colours = np.zeros(means[..., :3].shape, np.float64)
    share = np.maximum(means[..., 3:], 1) / CLEAR
    np.divide(means[..., :3], share, out=colours, where=opaque[..., None])
    return np.clip(np.rint(colours), 0, 255).astype(np.uint8), opaque


def nearest(
    rgb: Dots,
    opaque: Mask,
    patterns: Dots,
    clear: Mask,
    options: Sequence[Way],
) -> tuple[Numbers, Numbers, Floats]:
    """Of each tile (n, down, across) the pattern, and the way, that loses the least, and what it loses.

    The first of several patterns wins, then the plainest way. ``patterns`` (k, down, across, 3) with ``clear``, where they are
    opaque, as they are shown without turn and flips.
    """
    return _nearest(_features(rgb, opaque), _features(patterns, clear), options)


def means_of(
    rgb: Dots, weight: npt.NDArray[Any], of: Numbers, way: Numbers, options: Sequence[Way], count: int
) -> Dots:
    """The mean colours (count, down, across, 3) of the tiles that share a pattern, turned back to it; 0 where it has none."""
    tiles = rgb.astype(np.float64)
    start = np.zeros((count, *rgb.shape[1:]), np.float64)
    found = _means(tiles, np.asarray(weight, np.float64), of, way, options, start)
    return np.clip(np.rint(found), 0, 255).astype(np.uint8)


def _features(rgb: Dots, opaque: Mask) -> Floats:
    """Float64 (n, down, across, 4): colours, 0 where transparent, and how opaque."""
    found = np.empty((*opaque.shape, 4), np.float64)
    found[..., :3] = np.where(opaque[..., None], rgb, 0)
    found[..., 3] = opaque * CLEAR
    return found


def _nearest(tiles: Floats, means: Floats, options: Sequence[Way]) -> tuple[Numbers, Numbers, Floats]:
    """Of each tile the mean and the way with the least loss, and the loss."""
    flat = tiles.reshape(len(tiles), -1)
    drawn = variants(means, options)
    count = len(means)
    best = np.full(len(tiles), np.inf, np.float64)
    found = np.zeros(len(tiles), np.int64)
    own = (flat * flat).sum(axis=1)
    step = max(1, (1 << 24) // max(count, 1))
    for number, each in enumerate(drawn):
        norm = (each * each).sum(axis=1)
        for start in range(0, len(tiles), step):
            here = slice(start, start + step)
            loss = norm - 2 * (flat[here] @ each.T)
            at = loss.argmin(axis=1)
            least = loss[np.arange(len(at)), at] + own[here]
            better = least < best[here] - 0.5  # half a level of one dot: an earlier way is the plainer
            best[here][better] = least[better]
            found[here][better] = number * count + at[better]
    return found % count, found // count, np.maximum(best, 0)


def _means(tiles: Floats, weight: Floats, of: Numbers, way: Numbers, options: Sequence[Way], means: Floats) -> Floats:
    total = np.zeros(means.shape, np.float64)
    held = np.zeros(len(means))
    for number, option in enumerate(options):
        chosen = np.flatnonzero(way == number)
        if len(chosen):
            parts = back(tiles[chosen], option) * weight[chosen].reshape(-1, *[1] * (tiles.ndim - 1))
            np.add.at(total, of[chosen], parts)
            np.add.at(held, of[chosen], weight[chosen])
    found = means.copy()
    some = held > 0
    found[some] = stepped(total[some] / held[some].reshape(-1, *[1] * (tiles.ndim - 1)))
    return found


def _fill(tiles: Floats, means: Floats, of: Numbers, way: Numbers, loss: Floats) -> None:
    """Give a mean that no tile goes to any more to the tile that loses the most."""
    empty = np.setdiff1d(np.arange(len(means)), of)
    worst = np.argsort(-loss, kind="stable")[: len(empty)]
    for mean, tile in zip(empty.tolist(), worst.tolist(), strict=False):
        if loss[tile] > 0:
            means[mean], of[tile], way[tile] = tiles[tile], mean, 0


def _members(tiles: Floats, of: Numbers, way: Numbers, options: Sequence[Way], means: Floats) -> Floats:
    """Of each mean the tile that is nearest to it, turned back to it."""
    found = means.copy()
    best = np.full(len(means), np.inf)
    for number, option in enumerate(options):
        for at in np.flatnonzero(way == number):
            tile = back(tiles[at : at + 1], option)[0]
            loss = float(((tile - means[of[at]]) ** 2).sum())
            if loss < best[of[at]]:
                best[of[at]], found[of[at]] = loss, tile
    return found


def _drawn(tiles: Floats, weight: Floats, options: Sequence[Way], limit: int) -> Floats:
    """A start of ``limit`` tiles, each drawn in proportion to what it would lose to those that were drawn before."""
    rng = np.random.default_rng(0)
    flat = tiles.reshape(len(tiles), -1)
    norm = (flat * flat).sum(axis=1)
    loss = np.full(len(tiles), np.inf, np.float64)
    chosen = [int(weight.argmax())]
    while True:
        for each in variants(tiles[chosen[-1:]], options)[:, 0]:
            np.minimum(loss, np.maximum(norm + (each * each).sum() - 2 * (flat @ each), 0), out=loss)
        loss[chosen[-1]] = 0
        total = np.cumsum(loss.astype(np.float64) * weight)
        if len(chosen) == limit or total[-1] <= 0:
            return tiles[chosen]
        chosen.append(int(np.searchsorted(total, rng.random() * total[-1], side="right")))
