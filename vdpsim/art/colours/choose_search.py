"""The search for banks and colours: tiles go to the bank that costs them least, colours to the middle of their dots.

Law: that alternation alone stops at the first arrangement that it cannot better, so colours are shaken less and less
while it runs, and an entry that no dot uses is given to a dot that is served badly. Points and weights are whole numbers,
and so are sums and middles (rounded): with one seed, every machine does the same. Work is bounded by counts. Knows
points, not colours; rooms as arrays of points of which the first are fixed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from .choose_points import AXES, Singles, first_least, form, lifted, product_of

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]

_SPLIT: Final = 15  # alternations from one splitting of a bank to the next
_CHUNK: Final = 1 << 14  # points whose distances to one bank are worked out at once: they stay in the cache


@dataclass
class Tiles:
    """Tiles as the search sees them: ``each`` points a tile with their weights, and which rooms a tile may use."""

    places: Singles  # (n, each, 6)
    weight: Floats  # (n, each): how many dots a point stands for
    often: Floats  # (n,): how often the tile stands
    may: NDArray[np.bool_]  # (n, rooms)
    columns: Singles = field(init=False)
    squares: Floats = field(init=False)

    def __post_init__(self) -> None:
        flat = self.places.reshape(-1, AXES)
        self.columns = lifted(flat)
        self.squares = (flat * flat).sum(axis=1, dtype=np.float64).reshape(self.weight.shape)

    def costs(self, rooms: Sequence[Singles]) -> Floats:
        """The square of the distance that each tile (n, rooms) would cost; infinite where a room cannot take it."""
        count, each = self.weight.shape
        costs = np.full((count, len(rooms)), np.inf)
        forms = [form(room) for room in rooms]
        step = max(_CHUNK // each, 1)
        for start in range(0, count, step):
            part = slice(start, min(start + step, count))
            columns = self.columns[:, start * each : part.stop * each]
            weight = self.weight[part]
            own = (self.squares[part] * weight).sum(axis=1)
            for number, rows in enumerate(forms):
                if len(rows):
                    near = product_of(rows, columns).min(axis=0).reshape(weight.shape)
                    costs[part, number] = np.einsum("ij,ij->i", near.astype(np.float64), weight) + own
        costs[~self.weight.any(axis=1)] = 0  # a tile without an opaque dot costs nothing anywhere
        costs[~self.may] = np.inf
        return costs

    def of(self, tiles: Whole) -> tuple[Singles, Floats]:
        """The points of some tiles as columns (7, dots), and the weight of each dot with that of its tile."""
        count, each = self.weight.shape
        columns = self.columns.reshape(AXES + 1, count, each)[:, tiles].reshape(AXES + 1, -1)
        return columns, (self.weight[tiles] * self.often[tiles, None]).ravel()


def thinned(tiles: Tiles, most: int, rounds: int = 2) -> Tiles:
    """Tiles of at most ``most`` points, each standing for the dots nearest to it.

    The first point of a tile is a dot of it, each further one the dot that lies farthest from those taken; then each goes
    to the middle of its dots. A tile of few colours keeps them as they are.
    """
    places, weight = tiles.places, tiles.weight
    count, each = weight.shape
    if each <= most:
        return tiles
    rows = np.arange(count)
    taken = np.empty((count, most, AXES), np.float32)
    taken[:, 0] = places[rows, (weight > 0).argmax(axis=1)]
    apart = np.full((count, each), np.inf, np.float32)
    apart[weight == 0] = -1  # below every distance: what stands for no dot comes last
    nearest = np.zeros((count, each), np.intp)
    for number in range(most):
        if number:
            taken[:, number] = places[rows, apart.argmax(axis=1)]
        new = ((places - taken[:, number, None]) ** 2).sum(axis=2)
        closer = new < apart
        nearest[closer] = number
        np.minimum(apart, new, out=apart)
    for round_ in range(rounds + 1):
        if round_:
            inner = np.matmul(places, taken.swapaxes(1, 2))
            # The squares of ``places`` are left out, as they are the same for each of the points to choose from.
            nearest = ((taken * taken).sum(axis=2)[:, None] - 2 * inner).argmin(axis=2)
        label = (nearest + rows[:, None] * most).ravel()
        held = np.bincount(label, weight.ravel(), count * most)
        for axis in range(AXES):
            total = np.bincount(label, weight.ravel() * places[..., axis].ravel(), count * most)
            middle = np.rint(total / np.maximum(held, 1)).reshape(count, most)
            taken[..., axis] = np.where(held.reshape(count, most) > 0, middle, taken[..., axis])
    return Tiles(taken, np.asarray(held.reshape(count, most), dtype=np.float64), tiles.often, tiles.may)


def middles(columns: Singles, mass: Floats, which: Whole, count: int) -> tuple[Floats, Floats]:
    """The middle (count, 6) of the dots of each entry, and the weight (count,) that it holds; 0 where that is none."""
    held = np.asarray(np.bincount(which, mass, count), dtype=np.float64)
    totals = [np.bincount(which, mass * columns[axis], count) for axis in range(AXES)]
    return np.stack(totals, axis=1) / np.maximum(held, 1e-300)[:, None], held


def first_rooms(
    tiles: Tiles, fixed: Sequence[Singles], free: Sequence[int], chance: np.random.Generator
) -> list[Singles]:
    """Rooms to begin with: each holds points of one tile that it may take, drawn by chance, and of others for the rest."""
    rooms = []
    each = tiles.weight.shape[1]
    for number, (stands, more) in enumerate(zip(fixed, free, strict=True)):
        mine = np.flatnonzero(tiles.may[:, number] & tiles.weight.any(axis=1))
        if not mine.size or not more:
            rooms.append(np.concatenate([stands, np.zeros((0, AXES), np.float32)]))
            continue
        seats = chance.permutation(each)[: min(more, each)]
        own = tiles.places[chance.choice(mine), seats]
        others = tiles.places[chance.choice(mine, more - len(seats)), chance.integers(each, size=more - len(seats))]
        rooms.append(np.concatenate([stands, own, others]))
    return rooms


def relax(
    tiles: Tiles,
    rooms: list[Singles],
    fixed: Sequence[int],
    steps: int,
    shake: float,
    chance: np.random.Generator,
    told: Callable[[float], None],
) -> list[Singles]:
    """The rooms after ``steps`` alternations, shaken by up to about ``shake`` a coordinate at first and not at all at last."""
    for step in range(steps):
        costs = tiles.costs(rooms)
        if shake and step % _SPLIT == _SPLIT - 1 and step < 0.8 * steps:
            rooms, costs = _split(tiles, rooms, fixed, costs, int(shake), chance)
        banks = costs.argmin(axis=1)
        now = int(shake * max(0.0, 1 - step / (0.85 * steps)))
        after = []
        for number, room in enumerate(rooms):
            first = fixed[number]
            mine = np.flatnonzero(banks == number)
            if len(room) == first:
                after.append(room)
                continue
            columns, mass = tiles.of(mine)
            near = product_of(form(room), columns)
            which = first_least(near)
            places, held = middles(columns, mass, which, len(room))
            moved = np.where(held[:, None] > 0, np.rint(places), room)
            if now:
                # Two throws each, so that small shakes are more frequent than large ones.
                moved = (
                    moved + chance.integers(-now, now + 1, moved.shape) + chance.integers(-now, now + 1, moved.shape)
                )
            for entry in np.flatnonzero(held[first:] == 0) + first:
                moved[entry] = _served_badly(tiles, costs, mine, number, chance)
            moved[:first] = room[:first]
            after.append(moved.astype(np.float32))
        rooms = after
        told((step + 1) / steps)
    return rooms


def _split(
    tiles: Tiles, rooms: list[Singles], fixed: Sequence[int], costs: Floats, shake: int, chance: np.random.Generator
) -> tuple[list[Singles], Floats]:
    """The rooms, of which the one that is missed least became a shaken copy of the one that costs most; and their costs.

    As they were where that one is missed more than half of what the other costs, or where the two are unlike.
    """
    banks, alone = costs.argmin(axis=1), np.sort(costs, axis=1)
    if len(rooms) == 1:
        return rooms, costs
    paid = np.bincount(banks, alone[:, 0] * tiles.often, len(rooms))
    missed = np.bincount(banks, np.minimum(alone[:, 1] - alone[:, 0], 1e15) * tiles.often, len(rooms))
    gone = int(missed.argmin())
    paid[gone] = -1  # the one that goes is not the one that is split
    split = int(paid.argmax())
    first = fixed[gone]
    alike = first == fixed[split] and rooms[gone].shape == rooms[split].shape
    if missed[gone] > paid[split] / 2 or not alike or (rooms[gone][:first] != rooms[split][:first]).any():
        return rooms, costs
    copy = (rooms[split] + chance.integers(-shake, shake + 1, rooms[split].shape)).astype(np.float32)
    copy[:first] = rooms[split][:first]
    rooms = [copy if number == gone else room for number, room in enumerate(rooms)]
    return rooms, tiles.costs(rooms)


def _served_badly(tiles: Tiles, costs: Floats, mine: Whole, number: int, chance: np.random.Generator) -> Any:
    """A point of one of the tiles of a room, or of those that it may take where it has none: the costliest of eight."""
    able = mine if mine.size else np.flatnonzero(tiles.may[:, number])
    drawn = able[chance.integers(able.size, size=8)] if able.size else np.zeros(1, np.intp)
    tile = drawn[costs[drawn].min(axis=1).argmax()]
    held = np.flatnonzero(tiles.weight[tile])
    return tiles.places[tile, held[chance.integers(held.size)] if held.size else 0]
