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

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ...chip.line.clients import place_of
from ...chip.line.slots import Server
from ...chip.model import Chip
from ..reach import most_accesses
from .busy import Busy
from .others import Others
from .taken import BoundedWay, Slots
from .ways import Ways


@dataclass(frozen=True)
class SlackBound:
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


class JobsOfWay(NamedTuple):
    """A client's jobs in one way of its layer, an item a job: its window of slots, and how many accesses it asks for.

    ``begin``: the window's first slot; ``end``: the slot after its last; ``fewest`` and ``most``: with no cell turned, or all.
    """

    begin: Slots
    end: Slots
    fewest: Slots
    most: Slots

    @property
    def of(self) -> Slots:
        """The job of each access."""
        return np.repeat(np.arange(len(self.most)), self.most)

    @property
    def last(self) -> Slots:
        """The last access of each job."""
        return np.cumsum(self.most) - 1


class AskedFrom(NamedTuple):
    """From which slot on each job of a client is asked for.

    ``early`` and ``late``: at the earliest and at the latest. A pattern waits for its cell: ``earliest`` and ``release`` are
    from when on it can be fetched itself, at the earliest and at the latest.
    """

    early: Slots
    late: Slots
    earliest: Slots
    release: Slots


def bound(chip: Chip, server: Server, ways: Ways, *, careful: bool = False) -> SlackBound:
    """The bound on every line of ``chip``; ``careful``: the better of two, which takes longer."""
    found = [Bounder(chip, server, ways, picture=picture, careful=careful).bound() for picture in (True, False)]
    slack = {name: min(one.slack[name] for one in found if name in one.slack) for name in found[0].slack}
    return SlackBound(slack, min(one.room for one in found))


class Bounder(Others):
    """Bounds the clients on lines of the picture, or on the last one below it."""

    def __init__(self, chip: Chip, server: Server, ways: Ways, *, picture: bool, careful: bool) -> None:
        super().__init__(server, ways, picture=picture)
        self.chip = chip
        every_slot = all(client.every is None for client in server.time.clients.values())
        self.busy = Busy(self) if careful and every_slot else None
        self._ends = np.append(self.columns, self.slots + 1) - 1

    def bound(self) -> SlackBound:
        """Bound each client in turn."""
        slack: dict[str, int] = {}
        room = self.slots
        for name in self.server.order:
            if name == "sprites":
                room = self._sprites()
            else:
                slack[name] = self._client(name)
            self.next_client(name)
        return SlackBound(slack, room)

    # Sprites

    def _sprites(self) -> int:
        """Bound the sprites, whose accesses follow each other from the window's first slot on; the room that they have."""
        server = self.server
        if not self.picture and not server.sprites_ahead:
            return self.slots
        end = server.line.slots if server.sprites_ahead else server.line.blank
        count = min(most_accesses(self.chip)[0], end)
        left = self._supply("sprites")[self.columns] - self._others("sprites", None, None, np.zeros(1, np.int64))[0]
        latest = np.minimum(self._done(np.maximum.accumulate(left), count), end - 1)
        where = self._slots("sprites")[0]
        earliest = where[where < end][:count]
        self.of_sprites = self._taken(earliest, latest[: len(earliest)])
        return max(0, int(left[self.columns <= end].max()))

    # Layers

    def _client(self, name: str) -> int:
        """Bound a layer's client in every way of its layer; the least slack of them all."""
        layer = self.server.places[name].layer
        slacks = (self._way(name, layer, mode, way) for mode, ways in self.modes[layer].items() for way in ways)
        return min((slack for slack in slacks if slack is not None), default=self.slots)

    def _way(self, name: str, layer: int, mode: int, way: BoundedWay) -> int | None:
        """Bound a client in one way of its layer, and keep what it takes; its slack, None where it has nothing to fetch."""
        jobs = self._jobs(name, way)
        if jobs is None:
            return None
        asked = self._asked(name, way, jobs)
        latest = self._latest(name, layer, mode, way, jobs, asked.release)
        if self.busy is not None:
            late = asked.late[jobs.of]
            latest = np.minimum(latest, self.busy.latest(layer, mode, way, late))
            way.asked[name] = asked.early[jobs.of], late
        slack = int((jobs.end - 1 - latest[jobs.last]).min())
        if way.lost:  # a cell may be missed, and then what hangs on it
            slack = min(slack, -1)
        self._keep(name, way, jobs, latest=latest, asked=asked, in_time=slack >= 0)
        return slack

    def _jobs(self, name: str, way: BoundedWay) -> JobsOfWay | None:
        """The client's jobs in this way; None where it has none."""
        jobs = self.server.jobs(name, way.stretch)
        if not jobs:
            return None
        begin, end, turned = (np.array(column) for column in zip(*jobs, strict=True))
        plain = [job.accesses for job in self.server.jobs(name, way.stretch._replace(turned=b""))]
        return JobsOfWay(begin, end, np.minimum(turned, plain), np.maximum(turned, plain))

    def _asked(self, name: str, way: BoundedWay, jobs: JobsOfWay) -> AskedFrom:
        place, begin = self.server.places[name], jobs.begin
        if place.what not in {"pattern", "glyphs"}:
            return AskedFrom(begin, begin, begin, begin)
        assert way.cells is not None
        first, latest = way.cells
        cells = place_of(self.chip, self.chip.layers[place.layer], way.stretch.mode, "cells")
        # a cell asks in the pattern's place until it has come, so that the pattern counts from the cell's beginning on
        late = np.maximum(begin, [job.begin for job in self.server.jobs(cells, way.stretch)])
        release = np.maximum(begin, latest + 1)
        if self.server.time.clients[cells].keep:  # then the cell may be there already
            return AskedFrom(begin, late, begin, release)
        return AskedFrom(late, late, np.maximum(begin, first + 1), release)

    def _keep(
        self, name: str, way: BoundedWay, jobs: JobsOfWay, *, latest: Slots, asked: AskedFrom, in_time: bool
    ) -> None:
        """Keep what the client takes in this way, for those that come after it."""
        of, last = jobs.of, jobs.last
        latest = np.minimum(latest, jobs.end[of] - 1)
        # else an access before may be missed, and take no slot
        earliest = self._earliest(name, asked.earliest, jobs.fewest) if in_time else asked.earliest
        number = np.arange(len(of)) - (last - jobs.most + 1)[of]
        first = self._open_from(name, earliest[of] + number)
        can = first <= latest  # the others never are made
        way.taken[name] = self._taken(first[can], latest[can])
        if self.server.places[name].what == "cells":
            way.cells, way.lost = (first[last], latest[last]), not in_time

    def _latest(self, name: str, layer: int, mode: int, way: BoundedWay, jobs: JobsOfWay, release: Slots) -> Slots:
        """The latest slot of each access: of all stretches of work that it may be in, the one that brings it last."""
        # of the jobs that are released at once the first has all others in its stretch
        at, begins = np.unique(np.minimum(release, self.slots), return_index=True)
        left = self._supply(name)[self.columns][None, :] - self._supply(name)[at][:, None]
        left -= self._others(name, layer, mode, at)
        for other, taken in way.taken.items():
            if self._meet(name, other):
                left -= taken.begun[None, :] - taken.over(at)[:, None]
        left[self.columns[None, :] <= at[:, None]] = -1  # before it begins nothing of a stretch can be done
        # Once as many slots were left as it takes the access is done, however few are left by a later column.
        left = np.maximum.accumulate(left, axis=1)
        first = np.cumsum(jobs.most) - jobs.most
        latest = np.zeros(int(jobs.most.sum()), np.int64)
        for row, begin in zip(left, first[begins].tolist(), strict=True):
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
