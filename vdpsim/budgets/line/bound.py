"""How late each access can come at most: a bound that holds on every line, and grows with clients, not with their combinations.

Law: clients are served in fixed order, so what holds a client up within a stretch of time is at most what those before it can
take there. From the first client to the last: for each way w of a layer, E is the earliest and D the latest slot of each
access, so in slots a up to b it takes at most (how many E < b) - (how many D < a); of each other layer the way counts that takes
most. An access that is the q-th of a busy stretch that begins with the release r of some job has its slot by t, where slots r
to t are open to the client, less what others can take of them, are q or more; whichever job the stretch begins with, it is
done by the latest such t. That is response-time analysis for fixed priorities (M. Joseph, P. Pandya, Finding Response Times
in a Real-Time System, The Computer Journal 29(5), 1986), with windows in place of periods. It asks nothing of those that
come later, and fewer requests of those before are within it: service has anomalies, the bound has none.

Where no client is kept to a pattern of slots there is a second bound, which ``careful`` adds (``busy.py``): it takes longer, as
bounds that are near the truth do (R. Davis, A. Burns, Response Time Upper Bounds for Fixed Priority Real-Time Systems, IEEE
RTSS 2008).

What it says of a line that cannot be: too much, never too little. Cells that are turned one by one, cells that are kept and
any number of sprites are within it. Needs numpy, and no line is served.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...chip.line.jobs import Job
from ...chip.line.slots import Server
from ...chip.model import Chip
from ..reach import most_accesses
from .busy import Busy
from .taken import Bounded, Ints, Slots, Taken, Way
from .ways import Ways

Pattern = tuple[int | None, tuple[int, ...] | None]
"""``every`` and ``at`` of a client: those that have the same may have the same slots."""

MOST_SQUARE = 1_200
"""Slots of a line up to which each way counts for itself; beyond, the ways of a mode are put together, which takes less room."""

MOST_COLUMNS = 2_048
"""Moments of a line that are looked at; where it has more slots, what is done between two of them counts as done at the later."""


@dataclass(frozen=True)
class Bound:
    """``slack``: for each client of a layer, slots that its latest access is early at least; below 0 nothing is known.

    ``room``: slots that sprites have at least on every line, 0 where there are none. ``layers``: every layer's access is in
    time on every line.
    """

    slack: dict[str, int]
    room: int

    @property
    def layers(self) -> bool:
        """Whether every access of a layer comes in time."""
        return all(slots >= 0 for slots in self.slack.values())


def bound(chip: Chip, server: Server, ways: Ways, *, careful: bool = False) -> Bound:
    """The bound on every line of ``chip``; ``careful``: the better of two, which takes longer."""
    found = [Lines(chip, server, ways, picture=picture, careful=careful).bound() for picture in (True, False)]
    slack = {name: min(one.slack[name] for one in found if name in one.slack) for name in found[0].slack}
    return Bound(slack, min(one.room for one in found))


class Lines(Bounded):
    """Bounds the clients on lines of the picture, or on the last one below it."""

    def __init__(self, chip: Chip, server: Server, ways: Ways, *, picture: bool, careful: bool) -> None:
        super().__init__(server, ways, picture=picture)
        self.careful = careful and all(client.every is None for client in server.time.clients.values())
        self.chip = chip
        self.columns = np.append(np.arange(0, self.slots, -(-self.slots // MOST_COLUMNS)), self.slots)
        self._ends = np.append(self.columns, self.slots + 1) - 1
        self.patterns = {name: (client.every, client.at) for name, client in server.time.clients.items()}
        self.masks = {pattern: self._mask(*pattern) for pattern in set(self.patterns.values())}
        self._open: dict[Pattern, tuple[Slots, Slots]] = {}
        self._shared: dict[tuple[Pattern, frozenset[Pattern]], Ints] = {}
        self._met: dict[frozenset[Pattern], bool] = {}
        self._squares: dict[tuple[int, int, tuple[str, ...]], Ints] = {}
        self.busy = Busy(self) if self.careful else None
        self._modes: dict[tuple[int, int, tuple[str, ...]], tuple[Ints, Ints]] = {}
        self._sums: dict[tuple[int, tuple[int, ...], tuple[str, ...]], Ints] = {}

    def _mask(self, every: int | None, at: tuple[int, ...] | None) -> npt.NDArray[np.bool_]:
        found = np.full(self.slots, every is None)
        for place in at or ():
            found[place::every] = True
        return found

    def bound(self) -> Bound:
        """Bound each client in turn."""
        slack: dict[str, int] = {}
        room = self.slots
        for name in self.server.order:
            if name == "sprites":
                room = self._sprites()
            else:
                slack[name] = self._client(name)
            self.done.append(name)
            self._sums.clear()
        return Bound(slack, room)

    # Sprites

    def _sprites(self) -> int:
        """Bound the sprites, whose accesses follow each other from the window's first slot on; the room that they have."""
        server = self.server
        if not self.picture and not server.sprites_ahead:
            return self.slots
        end = server.line.slots if server.sprites_ahead else server.line.blank
        count = min(most_accesses(self.chip)[0], end)
        where = self._slots("sprites")[0]
        left = self._supply("sprites")[self.columns] - self._others("sprites", None, None, np.zeros(1, np.int64))[0]
        within = self.columns <= end
        latest = np.minimum(self._done(np.maximum.accumulate(left), count), end - 1)
        earliest = where[where < end][:count]
        self.of_sprites = self._taken(earliest, latest[: len(earliest)])
        return max(0, int(left[within].max()))

    # Layers

    def _client(self, name: str) -> int:
        """Bound a layer's client in every way of its layer; the least slack of them all."""
        layer = self.server.layer[name.partition(".")[0]]
        least = self.slots
        for mode, ways in self.modes[layer].items():
            for way in ways:
                jobs = self.server.jobs(name, way.stretch)
                if jobs:
                    least = min(least, self._way(name, layer, mode, way, jobs))
        return least

    def _way(self, name: str, layer: int, mode: int, way: Way, jobs: Sequence[Job]) -> int:
        begin, end, count = (np.array(column) for column in zip(*jobs, strict=True))
        other = self.server.jobs(name, way.stretch._replace(turned=b""))  # with no cell turned
        fewest = np.minimum(count, [job.accesses for job in other])
        count = np.maximum(count, [job.accesses for job in other])
        of, _, what = name.partition(".")
        cells = f"{of}.cells"
        release = earliest = asked_late = asked_early = begin
        if what in {"pattern", "glyphs"}:
            assert way.cells is not None
            release = np.maximum(begin, way.cells[1] + 1)
            asked_late = np.maximum(begin, [job.begin for job in self.server.jobs(cells, way.stretch)])
            if not self.server.time.clients[cells].keep:
                earliest, asked_early = np.maximum(begin, way.cells[0] + 1), asked_late
        latest = self._latest(name, layer, mode, way, release, count)
        job_of = np.repeat(np.arange(len(count)), count)
        if self.busy is not None:
            latest = np.minimum(latest, self.busy.latest(layer, mode, way, asked_late[job_of]))
            way.asked[name] = asked_early[job_of], asked_late[job_of]
        last = np.cumsum(count) - 1
        slack = int((end - 1 - latest[last]).min())
        if way.lost:
            slack = min(slack, -1)
        latest = np.minimum(latest, end[job_of] - 1)
        number = np.arange(len(job_of)) - (last - count + 1)[job_of]
        if slack >= 0:  # else an access before may be missed, and take no slot
            earliest = self._earliest(name, earliest, fewest)
        first = self._open_from(name, earliest[job_of] + number)
        can = first <= latest  # the others never are made
        way.taken[name] = self._taken(first[can], latest[can])
        if what == "cells":
            way.cells, way.lost = (first[last], latest[last]), slack < 0
        return slack

    def _latest(self, name: str, layer: int, mode: int, way: Way, release: Slots, count: Slots) -> Slots:
        """The latest slot of each access: of all stretches of work that it may be in, the one that brings it last."""
        at, jobs = np.unique(
            np.minimum(release, self.slots), return_index=True
        )  # of the jobs that are released at once the first has all others in its stretch
        supply = self._supply(name)
        left = supply[self.columns][None, :] - supply[at][:, None] - self._others(name, layer, mode, at)
        for other, taken in way.taken.items():
            if self._meet(name, other):
                left -= taken.begun[None, :] - taken.over(at)[:, None]
        left[self.columns[None, :] <= at[:, None]] = -1
        left = np.maximum.accumulate(left, axis=1)
        first = np.cumsum(count) - count
        latest = np.zeros(int(count.sum()), np.int64)
        for row, begin in zip(left, first[jobs].tolist(), strict=True):
            np.maximum(latest[begin:], self._done(row, len(latest) - begin), out=latest[begin:])
        return latest

    def _done(self, left: Slots, count: int) -> Slots:
        """By which slot each of ``count`` accesses is done, where ``left`` slots there are for them by each column."""
        found: Slots = self._ends[np.searchsorted(left, np.arange(1, count + 1))]
        return found

    def _earliest(self, name: str, begin: Slots, fewest: Slots) -> Slots:
        """The first slot that each job can have: those before it have had theirs, the fewest that they ask for."""
        open_, before = self._slots(name)
        found, place = np.empty(len(begin), np.int64), 0
        for job, (slot, count) in enumerate(zip(np.minimum(begin, self.slots).tolist(), fewest.tolist(), strict=True)):
            place = max(place, int(before[slot]))
            found[job] = open_[place] if place < len(open_) else self.slots
            place += count
        return found

    def _open_from(self, name: str, slots: Slots) -> Slots:
        """Each slot, or the first after it that is open to the client."""
        open_, before = self._slots(name)
        found: Slots = np.append(open_, self.slots)[before[np.minimum(slots, self.slots)]]
        return found

    # What others take

    def _slots(self, name: str) -> tuple[Slots, Slots]:
        """The slots that are open to a client when nobody comes before it, and how many of them there are before each slot."""
        pattern = self.patterns[name]
        if pattern not in self._open:
            mine = self.open & self.masks[pattern]
            self._open[pattern] = np.flatnonzero(mine).astype(np.int32), _before(mine)
        return self._open[pattern]

    def _supply(self, name: str) -> Slots:
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
                names = tuple(one for one in self.done_of(other) if self._meet(name, one))
                if names:
                    taken += np.minimum(self._of_layer(other, modes, names, at), self._common(name, names, at))
            np.maximum(found, taken, out=found)
        if self.of_sprites is not None and self._meet(name, "sprites"):
            asked = self.of_sprites.begun[None, :] - self.of_sprites.over(at)[:, None]
            found += np.minimum(asked, self._common(name, ("sprites",), at)).astype(np.int32)
        return np.maximum(found, 0)

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
            found = np.zeros((len(at), len(self.columns)), np.int32)
            before = (
                np.searchsorted(self.columns, at, "right") - 1
            )  # what must be over before this column is over by then
            taken = np.empty_like(found)
            for mode in modes:
                begun, over = self._mode(layer, mode, names)
                np.maximum(found, np.subtract(begun[None, :], over[before][:, None], out=taken), out=found)
            return found
        key = (layer, modes, names)
        if key not in self._sums:
            squares = [self._square(layer, mode, names) for mode in modes]
            none = np.zeros((self.slots + 1, len(self.columns)), np.int32)
            self._sums[key] = np.maximum.reduce([none, *squares])
        return self._sums[key][at]

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
        begins = np.sort(earliest)
        return Taken(begins, np.sort(latest), np.searchsorted(begins, self.columns).astype(np.int32))


def _before(slots: npt.NDArray[np.bool_]) -> Ints:
    """How many of ``slots`` there are before each slot, and before the line's end."""
    found = np.zeros(len(slots) + 1, np.int32)
    np.cumsum(slots, out=found[1:])
    return found
