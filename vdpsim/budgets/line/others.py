"""What the clients before take at most of the slots that a client waits for.

Law: half of the bound of ``bound.py``, which says why it holds. In each stretch of time another layer counts with the way
that takes most there, be it another way in the next stretch: too much at times, never too little. Nothing is concluded here.

What it costs: ``at`` are the places that are asked about, ``columns`` the moments that are looked at, and every table has
a row for each of the one and a column for each of the other. Where a line has few slots all places are worked out at once
and kept (``_square``); where it has many, that would take too much room, and the ways of a mode are put together (``_mode``).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from ...chip.line.slots import Server
from .taken import Ints, LineClients, Slots, Taken
from .ways import Ways

Pattern = tuple[int | None, tuple[int, ...] | None]
"""``every`` and ``at`` of a client: those that have the same may have the same slots."""

MOST_SQUARE = 1_200
"""Slots of a line up to which each way counts for itself; beyond, the ways of a mode are put together, which takes less room."""

MOST_COLUMNS = 2_048
"""Moments of a line that are looked at; where it has more slots, what is done between two of them counts as done at the later."""


class Others(LineClients):
    """Tells what is left for a client of lines of the picture, or of the last one below it, when those before it took theirs."""

    def __init__(self, server: Server, ways: Ways, *, picture: bool) -> None:
        super().__init__(server, ways, picture=picture)
        self.columns = np.append(np.arange(0, self.slots, -(-self.slots // MOST_COLUMNS)), self.slots)
        self.patterns = {name: (client.every, client.at) for name, client in server.time.clients.items()}
        self.masks = {pattern: self._mask(*pattern) for pattern in set(self.patterns.values())}
        self._open: dict[Pattern, tuple[Slots, Slots]] = {}
        self._shared: dict[tuple[Pattern, frozenset[Pattern]], Ints] = {}
        self._met: dict[frozenset[Pattern], bool] = {}
        self._squares: dict[tuple[int, int, tuple[str, ...]], Ints] = {}
        self._modes: dict[tuple[int, int, tuple[str, ...]], tuple[Ints, Ints]] = {}
        self._sums: dict[tuple[int, tuple[int, ...], tuple[str, ...]], Ints] = {}

    def _mask(self, every: int | None, at: tuple[int, ...] | None) -> npt.NDArray[np.bool_]:
        found = np.full(self.slots, every is None)
        for place in at or ():
            found[place::every] = True
        return found

    def next_client(self, name: str) -> None:
        """``name`` has been bounded: those that follow come after it."""
        self.done.append(name)
        self._sums.clear()  # they are of all clients before

    def _slots(self, name: str) -> tuple[Slots, Slots]:
        """The slots that are open to a client when nobody comes before it, and how many of them there are before each slot."""
        pattern = self.patterns[name]
        if pattern not in self._open:
            mine = self.open & self.masks[pattern]
            self._open[pattern] = np.flatnonzero(mine).astype(np.int32), _before(mine)
        return self._open[pattern]

    def _supply(self, name: str) -> Slots:
        """How many slots are open to the client before each slot."""
        return self._slots(name)[1]

    def _meet(self, one: str, other: str) -> bool:
        """Whether two clients can want the same slot."""
        pair = frozenset((self.patterns[one], self.patterns[other]))
        if pair not in self._met:
            self._met[pair] = bool(np.logical_and.reduce([self.masks[pattern] for pattern in pair]).any())
        return self._met[pair]

    def _others(self, name: str, layer: int | None, mode: int | None, at: Slots) -> Ints:
        """What clients before this one, of other layers and of sprites, take at most from slots ``at`` up to each slot."""
        found = np.zeros((len(at), len(self.columns)), np.int32)
        for beside in self.ways.together(layer, mode, picture=self.picture):
            taken = np.zeros((len(at), len(self.columns)), np.int32)
            for other, modes in beside.items():
                taken += self._of_other(name, other, modes, at)
            np.maximum(found, taken, out=found)
        if self.of_sprites is not None and self._meet(name, "sprites"):
            asked = self.of_sprites.begun[None, :] - self.of_sprites.over(at)[:, None]
            found += np.minimum(asked, self._common(name, ("sprites",), at)).astype(np.int32)
        return np.maximum(found, 0)

    def _of_other(self, name: str, layer: int, modes: tuple[int, ...], at: Slots) -> Ints:
        """What the clients of another ``layer`` take at most in any of ``modes`` of the slots that ``name`` can have."""
        found = np.zeros((len(at), len(self.columns)), np.int32)
        before = [one for one in self.done_of(layer) if self._meet(name, one)]
        alike: dict[tuple[str, ...], list[int]] = {}
        for mode in modes:  # where each mode has slots of its own, its clients are within those
            alike.setdefault(tuple(one for one in before if self._served_at(one, mode)), []).append(mode)
        for names, many in alike.items():
            if names:
                taken = self._of_layer(layer, tuple(many), names, at)
                np.maximum(found, np.minimum(taken, self._common(name, names, at)), out=found)
        return found

    def _served_at(self, name: str, mode: int) -> bool:
        """Whether the place ``name`` counts for a mode: that it is for; where its layer's places are for all, every one does."""
        place = self.server.places[name]
        return mode in place.modes or place.client == name

    def _common(self, name: str, names: tuple[str, ...], at: Slots) -> Ints:
        """How many slots there are from ``at`` up to each column that both the client and one of ``names`` can have."""
        key = (self.patterns[name], frozenset(self.patterns[one] for one in names))
        if key not in self._shared:
            masks = np.logical_or.reduce([self.masks[pattern] for pattern in key[1]])
            self._shared[key] = _before(self.open & self.masks[key[0]] & masks)
        before = self._shared[key]
        found: Ints = before[self.columns][None, :] - before[at][:, None]
        return found

    def _of_layer(self, layer: int, modes: tuple[int, ...], names: tuple[str, ...], at: Slots) -> Ints:
        """What the clients ``names`` of a layer take at most in any of ``modes``."""
        if self.slots > MOST_SQUARE:
            return self._by_mode(layer, modes, names, at)
        key = (layer, modes, names)
        if key not in self._sums:
            squares = [self._square(layer, mode, names) for mode in modes]
            none = np.zeros((self.slots + 1, len(self.columns)), np.int32)
            self._sums[key] = np.maximum.reduce([none, *squares])
        return self._sums[key][at]

    def _by_mode(self, layer: int, modes: tuple[int, ...], names: tuple[str, ...], at: Slots) -> Ints:
        """The same where there are many slots, with the ways of each mode put together."""
        found = np.zeros((len(at), len(self.columns)), np.int32)
        taken = np.empty_like(found)
        before = np.searchsorted(self.columns, at, "right") - 1  # what is over by this column is over by ``at``
        for mode in modes:
            begun, over = self._mode(layer, mode, names)
            np.maximum(found, np.subtract(begun[None, :], over[before][:, None], out=taken), out=found)
        return found

    def _square(self, layer: int, mode: int, names: tuple[str, ...]) -> Ints:
        """What they take in one mode, from each slot up to each other."""
        key = (layer, mode, names)
        if key not in self._squares:
            found = np.zeros((self.slots + 1, len(self.columns)), np.int32)
            for begun, over in self._each(layer, mode, names, np.arange(self.slots + 1)):
                np.maximum(found, begun[None, :] - over[:, None], out=found)
            self._squares[key] = found
        return self._squares[key]

    def _mode(self, layer: int, mode: int, names: tuple[str, ...]) -> tuple[Ints, Ints]:
        """The most that they can have begun by each column in one mode, and the least that must be over before it."""
        key = (layer, mode, names)
        if key not in self._modes:
            begun = np.zeros(len(self.columns), np.int32)
            over = np.full(len(self.columns), np.iinfo(np.int32).max, np.int32)
            for one, other in self._each(layer, mode, names, self.columns):
                np.maximum(begun, one, out=begun)
                np.minimum(over, other, out=over)
            self._modes[key] = begun, over
        return self._modes[key]

    def _each(self, layer: int, mode: int, names: tuple[str, ...], places: Slots) -> Iterator[tuple[Ints, Ints]]:
        """What they can have begun by each column, and what must be over before ``places``, scroll position by position."""
        for way in self.modes[layer][mode]:
            begun, over = np.zeros(len(self.columns), np.int32), np.zeros(len(places), np.int32)
            for name in names:
                if name in way.taken:
                    begun += way.taken[name].begun
                    over += way.taken[name].over(places).astype(np.int32)
            yield begun, over

    def _taken(self, earliest: Slots, latest: Slots) -> Taken:
        """What accesses take; each list is put in order by itself, as the counts of both stretches' ends ask for no more."""
        begins = np.sort(earliest)
        return Taken(begins, np.sort(latest), np.searchsorted(begins, self.columns).astype(np.int32))


def _before(slots: npt.NDArray[np.bool_]) -> Ints:
    """How many of ``slots`` there are before each slot, and before the line's end."""
    found = np.zeros(len(slots) + 1, np.int32)
    np.cumsum(slots, out=found[1:])
    return found
