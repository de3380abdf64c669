"""Tiles of a picture: cut, and those found twice, be it turned or flipped.

Law: two tiles are alike only where a cell of the layer at hand can show one by the pattern of the other: in the ways that its
layout has, no others. Of several ways the plainest wins, then the earlier tile. Arrays may have colours in a last axis or
none; nothing here looks at what a dot means.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..scene.contents.match import shown
from .arrays import Block, Numbers, Way

PLAIN: tuple[Way, ...] = ({},)
"""What a layout without flips and turns can do."""


@dataclass(frozen=True, eq=False, repr=False)
class Alike:
    """Which of n tiles are shown by which.

    ``first`` (k,): the tiles that are kept, in order. ``of`` (n,): of each tile the place in ``first`` of the one that shows
    it, and ``way`` (n,) the number of the way in which.
    """

    first: Numbers
    of: Numbers
    way: Numbers


def cut(picture: Block, across: int, down: int) -> Block:
    """The tiles (count, down, across, ...) of a picture (lines, dots, ...), from left to right and top to bottom.

    Raises ValueError where the picture is not whole tiles.
    """
    lines, dots = picture.shape[:2]
    if lines % down or dots % across:
        raise ValueError(f"must be a multiple of {across}x{down} dots, is {dots}x{lines}")
    more = picture.shape[2:]
    parts = picture.reshape(lines // down, down, dots // across, across, *more)
    return parts.swapaxes(1, 2).reshape(-1, down, across, *more)


def alike(tiles: Block, options: Sequence[Way]) -> Alike:
    """Which of ``tiles`` (n, down, across, ...) a cell with one of the ``options`` shows by another's pattern.

    ``options`` begin with the plainest, as ``scene.match.ways`` gives them.
    """
    known: dict[bytes, tuple[int, int]] = {}
    first: list[int] = []
    of, way = np.zeros(len(tiles), np.int64), np.zeros(len(tiles), np.int64)
    size = tiles[:1].nbytes
    drawn = [np.ascontiguousarray(shown(tiles, option)).tobytes() for option in options]
    for at in range(len(tiles)):
        here = slice(at * size, at * size + size)
        key = drawn[0][here]
        if key not in known:
            for number, dots in enumerate(drawn):
                known.setdefault(dots[here], (len(first), number))
            first.append(at)
        of[at], way[at] = known[key]
    return Alike(np.array(first, np.int64), of, way)


def turned(tiles: Block, way: Numbers, options: Sequence[Way]) -> Block:
    """What cells show of ``tiles`` (n, down, across, ...), each in its ``way`` (n,), a number of ``options``."""
    found = tiles.copy()
    for number, option in enumerate(options):
        chosen = way == number
        if any(option.values()) and chosen.any():
            found[chosen] = shown(tiles[chosen], option)
    return found


def back(tiles: Block, option: Way) -> Block:
    """The patterns of which a cell with ``option`` shows ``tiles``: the reverse of ``shown``."""
    flips = {name: bit for name, bit in option.items() if name != "turn"}
    tiles = shown(tiles, flips)
    return np.rot90(tiles, 1, axes=(1, 2)) if option.get("turn") else tiles
