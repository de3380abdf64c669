"""The last part of the choice: colours on the chip's own grid, bettered one at a time.

Law: every colour here is one that the chip can show. A change is kept only where the dots of its room cost less with it,
each dot counted with the entry that it would take then: a colour goes to a neighbour on the grid, or leaves its place for
one where dots are served badly. Costs are whole numbers, exact; the first of equals wins. Work is bounded by counts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from .choose_points import Bytes, Channels, Singles, first_least, form, neighbours, points, product_of, snap
from .choose_search import Floats, Tiles, Whole, middles

_NUDGES: Final = 200_000_000  # what the nudges of one room may cost in a round, counted in distances
_FAR: Final = np.float32(1 << 23)  # farther than any two points lie apart


class Shelf:
    """One room with the dots that are in it: colours (k, 3) of which the first ``fixed`` stay, and each dot's distances."""

    def __init__(self, columns: Singles, mass: Floats, colours: Bytes, fixed: int, channels: Channels) -> None:
        self.columns, self.mass, self.colours, self.fixed, self.channels = (
            columns,
            mass,
            colours.copy(),
            fixed,
            channels,
        )
        self.apart = product_of(form(points(colours)), columns)

    def others(self, entry: int) -> Singles:
        """The distance of each dot to the nearest entry but this one."""
        before, after = self.apart[:entry], self.apart[entry + 1 :]
        rest = np.minimum(before.min(axis=0, initial=_FAR), after.min(axis=0, initial=_FAR))
        return np.asarray(rest, dtype=np.float32)

    def cost(self, near: Singles) -> Floats:
        """What rows of nearest distances (..., dots) cost, weighed."""
        return np.asarray(np.einsum("...j,j->...", near.astype(np.float64), self.mass), dtype=np.float64)

    def put(self, entry: int, colour: Bytes) -> None:
        """Give the entry another colour."""
        self.colours[entry] = colour
        self.apart[entry] = product_of(form(points(colour[None])), self.columns)[0]

    def settle(self, rounds: int) -> None:
        """Each colour to the grid's nearest to the middle of its dots, ``rounds`` times; an entry without dots stays."""
        for _ in range(rounds):
            places, held = middles(self.columns, self.mass, first_least(self.apart), len(self.colours))
            snapped = snap(places, self.channels)
            for entry in np.flatnonzero(held[self.fixed :] > 0) + self.fixed:
                if (self.colours[entry] != snapped[entry]).any():
                    self.put(int(entry), snapped[entry])

    def nudge(self, entry: int) -> bool:
        """Move the entry to the neighbour on the grid that costs least; False where it costs least as it is."""
        rest = self.others(entry)
        tried = neighbours(self.colours[entry], self.channels)
        costs = self.cost(np.minimum(product_of(form(points(tried)), self.columns), rest))
        best = int(costs.argmin())
        if costs[best] >= self.cost(np.minimum(self.apart[entry], rest)):
            return False
        self.put(entry, tried[best])
        return True

    def jump(self, candidates: Bytes) -> bool:
        """Give the entry that is missed least the best of some colours; False where none costs less than it does."""
        if len(self.colours) == self.fixed:
            return False
        which, nearest = first_least(self.apart), self.apart.min(axis=0)
        now = float(self.cost(nearest))
        dots = np.arange(len(which))
        self.apart[which, dots] = _FAR
        second = self.apart.min(axis=0)
        self.apart[which, dots] = nearest
        missed = (second - nearest).astype(np.float64) * self.mass
        entry = int(np.bincount(which, missed, len(self.colours))[self.fixed :].argmin()) + self.fixed
        costs = self.cost(
            np.minimum(product_of(form(points(candidates)), self.columns), np.where(which == entry, second, nearest))
        )
        best = int(costs.argmin())
        if costs[best] >= now:
            return False
        self.put(entry, candidates[best])
        return True


def polish(
    tiles: Tiles,
    raw: Bytes,
    rooms: Sequence[Bytes],
    fixed: Sequence[int],
    channels: Channels,
    rounds: int,
    chance: np.random.Generator,
    told: Callable[[float], None],
) -> list[Bytes]:
    """The rooms' colours after ``rounds`` of sending tiles to rooms and bettering each room; fewer where one changes nothing.

    ``raw``: the colours of the dots (n, dots, 3).
    """
    now = list(rooms)
    for round_ in range(rounds):
        changed = False
        banks = tiles.costs([points(room) for room in now]).argmin(axis=1)
        for number, room in enumerate(now):
            mine = np.flatnonzero(banks == number)
            if mine.size and len(room) > fixed[number]:
                columns, mass = tiles.of(mine)
                shelf = Shelf(columns, mass, room, fixed[number], channels)
                now[number] = better(shelf, raw[mine].reshape(-1, 3), chance)
                changed = changed or bool((now[number] != room).any())
        told((round_ + 1) / rounds)
        if not changed:
            told(1)
            break
    return now


def better(shelf: Shelf, raw: Bytes, chance: np.random.Generator, jumps: int = 4, tried: int = 24) -> Bytes:
    """The shelf's colours after jumps to dots that are served badly, and one nudge of every entry (of as many as work allows)."""
    squares = (shelf.columns[:-1] ** 2).sum(axis=0)
    shelf.settle(1)
    for _ in range(jumps):
        loss = (shelf.apart.min(axis=0) + squares) * shelf.mass
        sums = np.cumsum(loss)
        if not sums.size or sums[-1] <= 0:
            break
        drawn: Whole = np.searchsorted(sums, chance.integers(int(sums[-1]), size=tried), side="right")
        if shelf.jump(snap(points(raw[drawn]).astype(np.float64), shelf.channels)):
            shelf.settle(1)
    free = len(shelf.colours) - shelf.fixed
    able = max(_NUDGES // max(len(raw) * (len(shelf.colours) + 200), 1), 4)
    for entry in np.sort(chance.permutation(free)[:able]) + shelf.fixed:
        shelf.nudge(int(entry))
    return shelf.colours
