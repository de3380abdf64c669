"""Banks and their colours chosen together, so that tiles lose as little as possible.

Law: pure numbers in, pure numbers out: tiles of 8-bit colours, rooms for colours, and the bits of each channel of the
chip; nothing here knows a chip file, a map or a layout. What is made small is the square of the distance from each dot to
its colour in the space of ``choose_points``, summed over all dots. The same input and seed give the same answer on every
machine, and the work is bounded by counts, so that a large picture is searched less, not longer. There is no promise that
no better choice exists, nor that tiles which fit as they are stay as they are: that is asked of the packer first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...door.arrays import array, mask, numbers, shade, told
from ...door.given import function, instance, items, whole_number
from ..arrays import Colour
from .choose_grid import polish
from .choose_points import Bytes, Channels, first_least, form, points, product_of, snap
from .choose_search import Tiles, Whole, first_rooms, relax, thinned

# How much is done, at most and at least. Work is counted in distances from a point to an entry, over all rooms.
_THIN: Final = 12  # points that stand for a tile in the first, long part of the search
_SHAKE: Final = 18  # coordinates; half as many steps of a channel
_FIRST: Final = (1_100_000_000, 20, 350)  # work, fewest and most alternations with thinned tiles
_SECOND: Final = (170_000_000, 3, 10)  # with all dots
_THIRD: Final = (130_000_000, 2, 8)  # rounds on the grid
_STARTS: Final = 16  # searches of a small case, of which the best is kept


MOST_FREE = 4096
"""Free entries of a room: as many as a palette can have."""

MOST_WEIGHT = 1 << 24
"""How often a tile can stand."""


@dataclass(frozen=True)
class Room:
    """One bank as the chooser sees it.

    ``free``: entries whose colour may be chosen. ``fixed``: 8-bit colours that stand in the bank already and may be used.
    """

    free: int
    fixed: tuple[Colour, ...] = ()

    def __post_init__(self) -> None:
        """Raise TypeError or ValueError for other than 0 to MOST_FREE free entries and 8-bit colours."""
        object.__setattr__(self, "free", whole_number("free", self.free, 0, MOST_FREE))
        fixed = items("fixed", self.fixed, "8-bit colours")
        object.__setattr__(self, "fixed", tuple(shade("each of fixed", one) for one in fixed))


@dataclass(frozen=True)
class Chosen:
    """The banks and colours chosen for n tiles.

    ``banks`` (n,): the number of each tile's room. ``colours``: of each room uint8 (k, 3), its fixed colours first, then
    those chosen that some dot uses, all of them on the chip's grid and none twice. ``values`` (n, dots): which colour of
    its room each dot has; -1 where it is transparent.
    """

    banks: Whole
    colours: tuple[Bytes, ...]
    values: Whole


def choose(
    tiles: Bytes,
    opaque: NDArray[np.bool_],
    rooms: Sequence[Room],
    channels: Channels,
    *,
    reach: NDArray[np.bool_] | None = None,
    weights: ArrayLike | None = None,
    seed: int = 0,
    progress: Callable[[float], None] | None = None,
) -> Chosen:
    """A room for each tile and the colours of each room.

    ``tiles`` (n, dots, 3) holds 0 to 255, ``opaque`` (n, dots) says which dots are to be shown. ``channels``: the bits of
    red, green and blue, 1 to 8 each. ``reach`` (n, rooms): the rooms that a tile may use, all by default. ``weights``
    (n,): how often a tile stands, once by default. ``progress`` is called with 0 up to 1 now and then. Of rooms that cost
    a tile the same the lower one is taken, of colours the lower value. Raises TypeError for a wrong kind, ValueError for shapes
    and numbers that do not go together, and where a tile with an opaque dot reaches no room with an entry.
    """
    seed, progress = whole_number("seed", seed), function("progress", progress)
    rooms = _rooms(rooms)
    channels = _channels(channels)
    raw, solid = _tiles(tiles, opaque)
    may, often = _ways(reach, len(solid), len(rooms)), _weights(weights, len(solid))
    _check_reach(solid, rooms, may)
    if not solid.size:
        held = [np.array(room.fixed, np.uint8).reshape(-1, 3) for room in rooms]
        return Chosen(may.argmax(axis=1), tuple(held), np.full(solid.shape, -1, np.intp))
    all_dots = Tiles(points(raw), solid.astype(np.float64), often, may)
    search = _ColourSearch(all_dots, raw, rooms, channels, progress or (lambda _: None))
    best = min((search.run(seed, number) for number in range(search.starts)), key=lambda found: found[0])
    return _told(all_dots, best[1], rooms, solid)


class _ColourSearch:
    """One case with the amount of work that suits its size."""

    def __init__(
        self, tiles: Tiles, raw: Bytes, rooms: Sequence[Room], channels: Channels, told: Callable[[float], None]
    ) -> None:
        self.tiles, self.raw, self.channels, self.told = tiles, raw, channels, told
        self.free = [room.free for room in rooms]
        self.fixed = [np.array(room.fixed, np.uint8).reshape(-1, 3) for room in rooms]
        self.thin = thinned(tiles, _THIN)
        entries = sum(self.free) + sum(map(len, self.fixed))
        small, large = entries * self.thin.weight.size, entries * tiles.weight.size
        self.starts = min(max(_THIRD[0] // max(32 * large, 1), 1), _STARTS)
        self.steps = tuple(
            max(min(work // max(size, 1), most) // self.starts, fewest)
            for (work, fewest, most), size in ((_FIRST, small), (_SECOND, large), (_THIRD, large))
        )

    def run(self, seed: int, number: int) -> tuple[float, list[Bytes]]:
        """What the search from one start costs, and the colours (k, 3) of each room."""
        chance = np.random.default_rng((seed, number))
        stands = [points(each) for each in self.fixed]
        counts = [len(each) for each in stands]

        def told(start: float, share: float) -> Callable[[float], None]:
            return lambda done: self.told((number + start + share * done) / self.starts)

        places = first_rooms(self.thin, stands, self.free, chance)
        places = relax(self.thin, places, counts, self.steps[0], _SHAKE, chance, told(0, 0.45))
        places = relax(self.tiles, places, counts, self.steps[1], 0, chance, told(0.45, 0.2))
        rooms = [
            np.concatenate([own, snap(each[len(own) :], self.channels)])
            for own, each in zip(self.fixed, places, strict=True)
        ]
        rooms = polish(self.tiles, self.raw, rooms, counts, self.channels, self.steps[2], chance, told(0.65, 0.35))
        costs = self.tiles.costs([points(room) for room in rooms]).min(axis=1)
        return float(costs @ self.tiles.often), rooms


def _told(tiles: Tiles, rooms: Sequence[Bytes], given: Sequence[Room], solid: NDArray[np.bool_]) -> Chosen:
    """The answer: each tile's cheapest room, each dot's nearest colour, and of the colours those that are used."""
    banks = tiles.costs([points(room) for room in rooms]).argmin(axis=1)
    values = np.full(solid.shape, -1, np.intp)
    colours = []
    for number, room in enumerate(rooms):
        first = len(given[number].fixed)
        mine = np.flatnonzero(banks == number)
        used = np.zeros(len(room), np.bool_)
        if mine.size and len(room):
            which = first_least(product_of(form(points(room)), tiles.of(mine)[0])).reshape(mine.size, -1)
            used[which[solid[mine]]] = True
            used[:first] = True
            values[mine] = np.where(solid[mine], (np.cumsum(used) - 1)[which], -1)
        used[:first] = True
        colours.append(room[used])
    return Chosen(banks, tuple(colours), values)


def _tiles(tiles: ArrayLike, opaque: ArrayLike) -> tuple[Bytes, NDArray[np.bool_]]:
    allowed = "whole numbers (n, dots, 3), 0 to 255"
    chips = array("tiles", tiles, allowed, "iu")
    if chips.ndim != 3 or chips.shape[2] != 3 or (chips.size and not 0 <= chips.min() <= chips.max() <= 255):
        raise ValueError(f"tiles must be {allowed}, got {told(tiles)}")
    solid = mask("opaque", opaque, chips.shape[:2], f"bools (n, dots), as tiles have them: {chips.shape[:2]}")
    return chips.astype(np.uint8), solid


def _rooms(rooms: Sequence[Room]) -> tuple[Room, ...]:
    found = tuple(instance("each of rooms", one, Room) for one in items("rooms", rooms, "at least one Room"))
    if not found:
        raise ValueError("rooms must be at least one Room, got none")
    return found


def _channels(channels: Channels) -> Channels:
    found = numbers("channels", channels, 1, 8)
    if len(found) != 3:
        raise ValueError(f"channels must be bits of red, green and blue, 1 to 8 each, got {told(channels)}")
    return found[0], found[1], found[2]


def _ways(reach: ArrayLike | None, count: int, rooms: int) -> NDArray[np.bool_]:
    if reach is None:
        return np.ones((count, rooms), np.bool_)
    return mask("reach", reach, (count, rooms), f"bools, a row a tile and a column a room, {count, rooms}")


def _weights(weights: ArrayLike | None, count: int) -> NDArray[np.float64]:
    if weights is None:
        return np.ones(count)
    allowed = f"a number of 0 to {MOST_WEIGHT:,} for each of {count} tiles"
    often = array("weights", weights, allowed, "iuf").astype(np.float64)
    if often.shape != (count,) or not ((often >= 0) & (often <= MOST_WEIGHT)).all():
        raise ValueError(f"weights must be {allowed}, got {told(weights)}")
    return often


def _check_reach(opaque: NDArray[np.bool_], rooms: Sequence[Room], may: NDArray[np.bool_]) -> None:
    """Raises ValueError where a tile has nowhere to go."""
    able = np.array([room.free + len(room.fixed) > 0 for room in rooms])
    lost = np.flatnonzero(~may.any(axis=1) | (opaque.any(axis=1) & ~(may & able).any(axis=1)))
    if lost.size:
        raise ValueError(f"each tile takes a room that it reaches and that has an entry, got none for tile {lost[0]}")
