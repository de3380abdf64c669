"""Who gets which slot of a line.

Law: one line at a time and from its shape alone: which groups each layer fetches, and how many accesses the sprites ask for.
Slots go by in order, and a slot goes to the first client of the chip's list who asks; since a client never waits for one
that comes later in the list, serving one client after the other, each with the first slots that are left, is the same.
Slots that are left are a list in order. This is all that gives out slots, to the engine and to budgets alike. Plain Python:
those who ask before any scene need nothing more. Knows no memory and no line's number.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import repeat
from typing import NamedTuple

from ..model import Chip
from .checks_time import reserved_slots
from .clients import buffered, slot_clients
from .costs import mode_costs
from .rates import line_slots

MOST_KEPT = 20_000
"""Shapes of lines that are kept; then all are forgotten and served anew as they come."""

FEW_RUNS = 16
"""Runs of slots that are cut out of a list one by one; where there are more, the list is put together anew."""

NEVER = 1 << 60
"""A slot after all that there are."""


class Stretch(NamedTuple):
    """What a layer fetches for a stretch of a line: groups ``first`` to ``last`` of its mode.

    Group k begins at dot k x size - ``fine``, and shows from there or from ``left``, the stretch's first dot. ``skip``: the
    first was fetched by the stretch before. ``kept``: the cells are there already. ``turned``: a byte a group from 0, 1 where
    its cell is turned.
    """

    mode: int
    fine: int
    first: int
    last: int
    left: int
    skip: bool
    kept: bool
    turned: bytes


class Shape(NamedTuple):
    """What the layers fetch in the slots of a line: for each its stretches, None where it shows nothing.

    ``picture``: the line belongs to the picture. A layer that is held in a line buffer has the one stretch of the line after
    it; on a line below the picture such layers alone can have any.
    """

    picture: bool
    layers: tuple[tuple[Stretch | None, ...], ...]


BELOW = Shape(picture=False, layers=())
"""A line below the picture in whose slots no layer fetches."""


class Job(NamedTuple):
    """What a client has to do for a group: so many ``accesses`` in slots from ``begin`` up to but not including ``end``."""

    begin: int
    end: int
    accesses: int


class Bursts(NamedTuple):
    """One client's bursts for a stretch of a line: for each the group that it is for, and its slots in order."""

    layer: int
    stretch: int
    client: int
    bursts: tuple[tuple[int, tuple[int, ...]], ...]


@dataclass(eq=False)
class _Work:
    """A line while it is served: the slots left, bursts made, accesses missed by client, groups lost, the ends of cells."""

    free: Sequence[int]
    bursts: list[Bursts] = field(default_factory=list)
    counts: dict[int, int] = field(default_factory=dict)
    missed: dict[int, int] = field(default_factory=dict)
    lost: set[tuple[int, int, int]] = field(default_factory=set)
    cell_ends: dict[tuple[int, int], list[int | None]] = field(default_factory=dict)

    def copy(self, free: Sequence[int]) -> _Work:
        """The same work, with other slots left."""
        return _Work(
            free, list(self.bursts), dict(self.counts), dict(self.missed), set(self.lost), dict(self.cell_ends)
        )


@dataclass(frozen=True, eq=False, repr=False)
class Served:
    """A line's slots given out.

    ``counts`` and ``missed`` by the number of the slot client; ``lost`` the (layer, stretch, group) that show nothing;
    ``room`` the slots that the sprites could have, ``sprites`` those that they have, ``cpu`` those that are left for the CPU,
    each in order.
    """

    bursts: tuple[Bursts, ...]
    counts: tuple[int, ...]
    missed: tuple[int, ...]
    lost: tuple[tuple[int, int, int], ...]
    refresh: tuple[int, ...]
    room: tuple[int, ...]
    sprites: tuple[int, ...]
    cpu: tuple[int, ...]


class Server:
    """Serves the lines of one chip."""

    def __init__(self, chip: Chip) -> None:
        assert chip.time is not None
        self.chip, self.time, self.line = chip, chip.time, line_slots(chip)
        self.names = slot_clients(chip)
        self.number = {name: number for number, name in enumerate(self.names)}
        self._reserved = reserved_slots(chip)
        self._of_cpu = _slots(self._reserved) if self._reserved else ()
        self.modes = [[mode_costs(chip, mode) for mode in layer.modes] for layer in chip.layers]
        every = (1 << self.line.slots) - 1
        masks = {name: client.mask(self.line.slots) for name, client in self.time.clients.items()}
        self._open = {name: None if mask == every else frozenset(_slots(mask)) for name, mask in masks.items()}
        self.order = tuple(self.time.clients)
        self.layer = {layer.name: number for number, layer in enumerate(chip.layers)}
        self.sprites_ahead = bool(chip.sprites) and self.time.clients["sprites"].when == "line before"
        self.layers_ahead = tuple(number for number, layer in enumerate(chip.layers) if buffered(chip, layer))
        self._fresh = {picture: self._free(picture=picture) for picture in (False, True)}
        at = self.order.index("sprites") if "sprites" in self.order else len(self.order)
        self._before, self._after = self.order[:at], self.order[at + 1 :]
        self._begun: dict[Shape, tuple[_Work, tuple[int, ...]]] = {}
        self._served: dict[tuple[Shape, int], Served] = {}
        self._jobs: dict[tuple[str, Stretch], tuple[Job, ...]] = {}

    # Whole lines

    def room(self, shape: Shape) -> tuple[int, ...]:
        """The slots that the sprites can have on a line of this shape, in order."""
        return self._begin(shape)[1]

    def serve(self, shape: Shape, sprites: int) -> Served:
        """The line with ``sprites`` accesses of the sprites, at most as many as there is room for."""
        key = (shape, sprites)
        found = self._served.get(key)
        if found is None:
            if len(self._served) >= MOST_KEPT:
                self._served.clear()
            found = self._served[key] = self._finish(shape, sprites)
        return found

    def _begin(self, shape: Shape) -> tuple[_Work, tuple[int, ...]]:
        """Serve refresh and the clients that come before the sprites."""
        found = self._begun.get(shape)
        if found is None:
            if len(self._begun) >= MOST_KEPT:
                self._begun.clear()
            work = _Work(self.fresh(picture=shape.picture)[0])
            for name in self._before if shape.layers else ():
                self._client(work, name, shape)
            found = self._begun[shape] = work, self.room_of(work.free)
        return found

    def _finish(self, shape: Shape, sprites: int) -> Served:
        begun, room = self._begin(shape)
        taken = room[:sprites]
        work = begun.copy(without(begun.free, taken))
        for name in self._after if shape.layers else ():
            self._client(work, name, shape)
        self._carry_lost(work, shape)
        refresh = self.fresh(picture=shape.picture)[1]
        work.counts[self.number["refresh"]] = len(refresh)
        numbers = range(len(self.names))
        return Served(
            tuple(work.bursts),
            tuple(work.counts.get(number, 0) for number in numbers),
            tuple(work.missed.get(number, 0) for number in numbers),
            tuple(sorted(work.lost)),
            refresh,
            room,
            taken,
            self.for_cpu(work.free, picture=shape.picture),
        )

    def _client(self, work: _Work, name: str, shape: Shape) -> None:
        """Serve one client of a layer on the whole line."""
        what, number = name.partition(".")[2], self.number[name]
        layer = self.layer[name.partition(".")[0]]
        made = missed = 0
        for index, stretch in enumerate(shape.layers[layer]):
            jobs = () if stretch is None else self.jobs(name, stretch)
            if stretch is None or not jobs:
                continue
            begin = stretch.first + stretch.skip
            work.free, slots = self.give(name, work.free, jobs, work.cell_ends.get((layer, index)))
            found = tuple((begin + place, tuple(taken)) for place, taken in enumerate(slots) if taken)
            short = [place for place, job in enumerate(jobs) if len(slots[place]) < job.accesses]
            made += sum(map(len, slots))
            missed += sum(jobs[place].accesses - len(slots[place]) for place in short)
            work.lost.update((layer, index, begin + place) for place in short)
            if found:
                work.bursts.append(Bursts(layer, index, number, found))
            if what == "cells":
                work.cell_ends[layer, index] = ends(jobs, slots)
        work.counts[number], work.missed[number] = made, missed

    def _carry_lost(self, work: _Work, shape: Shape) -> None:
        """A group that goes on in the next stretch is lost there too."""
        for layer, stretches in enumerate(shape.layers):
            for index, stretch in enumerate(stretches):
                before = stretches[index - 1] if index else None
                if stretch and before and stretch.skip and (layer, index - 1, before.last) in work.lost:
                    work.lost.add((layer, index, stretch.first))

    # One client after the other

    def fresh(self, *, picture: bool) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """A line's slots once refresh has had its own: those left for others than the CPU, and those of refresh."""
        return self._fresh[picture]

    def _free(self, *, picture: bool) -> tuple[tuple[int, ...], tuple[int, ...]]:
        mask = ((1 << self.line.slots) - 1) & ~(self._reserved if picture else 0)
        refresh = self.time.refresh
        if refresh is None:
            return _slots(mask), ()
        taken = _slots(mask & refresh.mask(self.line.slots))[: refresh.slots]
        return without(_slots(mask), taken), taken

    def jobs(self, name: str, stretch: Stretch) -> tuple[Job, ...]:
        """What a layer's client has to do for a stretch: a job a group from the first that is not skipped.

        There is none at all where the mode does not ask for it, or has its cells already.
        """
        key = (name, stretch)
        if key not in self._jobs:
            if len(self._jobs) >= MOST_KEPT:
                self._jobs.clear()
            self._jobs[key] = tuple(self._work_of(name, stretch))
        return self._jobs[key]

    def _work_of(self, name: str, stretch: Stretch) -> Iterable[Job]:
        layer, _, what = name.partition(".")
        mode, client = self.modes[self.layer[layer]][stretch.mode], self.time.clients[name]
        if what not in mode.costs or (what == "cells" and stretch.kept):
            return ()
        line, whole = self.line, self.line.blank if client.when == "blanking" else self.line.slots
        groups = range(stretch.first + stretch.skip, stretch.last + 1)
        jobs: Sequence[Job] = [Job(0, whole, mode.costs[what])] * len(groups)
        if client.lead is not None:
            first, shown = line.ahead - stretch.fine, line.ahead + stretch.left
            starts = range(first + groups.start * mode.size, first + groups.stop * mode.size, mode.size)
            jobs = _in_time(starts, shown, client.lead, line.rate.numerator, line.rate.denominator, mode.costs[what])
        if what == "pattern" and stretch.turned:
            pairs = zip(jobs, groups, strict=True)
            return [job._replace(accesses=mode.turned) if stretch.turned[group] else job for job, group in pairs]
        return jobs

    def give(
        self, name: str, free: Sequence[int], jobs: Sequence[Job], ready: Sequence[int | None] | None
    ) -> tuple[Sequence[int], list[Sequence[int]]]:
        """Serve a client's ``jobs`` in order from the slots ``free``: the slots that are left, and each job's slots.

        A job has the first slots of its window that come after those of the job before; where the window ends too soon it has
        those that there are. ``ready``: for each job the slot after which it may begin; None where it has nothing to begin with.
        """
        within = self._open[name]
        left = [*(free if within is None else (slot for slot in free if slot in within)), NEVER, NEVER]
        kept = bytearray(b"\1") * len(left)  # cutting each slot out of a long line would move all that follow
        found: list[Sequence[int]] = []
        at = 0
        for (begin, end, count), after in zip(jobs, repeat(-1) if ready is None else ready, strict=False):
            if after is None:
                found.append(())
                continue
            low = begin if begin > after else after + 1
            if left[at] < low:
                at = bisect_left(left, low, at)
            if count == 1:  # as most are
                if left[at] < end:
                    found.append((left[at],))
                    kept[at] = 0
                    at += 1
                else:
                    found.append(())
                continue
            taken = left[at : at + count]
            if taken[-1] >= end:
                del taken[bisect_left(taken, end) :]
            found.append(taken)
            kept[at : at + len(taken)] = bytes(len(taken))
            at += len(taken)
        if within is not None:
            return without(free, [slot for taken in found for slot in taken]), found
        del left[-2:], kept[-2:]
        return _kept(left, kept), found

    def room_of(self, free: Sequence[int]) -> tuple[int, ...]:
        """Those of the slots ``free`` that the sprites can have."""
        if "sprites" not in self._open:
            return ()
        within, end = self._open["sprites"], self.line.slots if self.sprites_ahead else self.line.blank
        if within is None:
            return tuple(free[: bisect_left(free, end)])
        return tuple(slot for slot in free if slot < end and slot in within)

    def for_cpu(self, free: Sequence[int], *, picture: bool) -> tuple[int, ...]:
        """The CPU's slots, where all others leave ``free``."""
        cpu, blank = self.time.cpu, self.line.blank if picture else self.line.slots
        at = bisect_left(free, blank)
        slots = tuple(free[:at]) if cpu.blanking else ()
        if cpu.active == "free":
            slots += tuple(free[at:])
        elif picture and cpu.active == "reserved":
            slots += self._of_cpu
        return slots

    def end(self, client: int, stretch: Stretch, group: int) -> int:
        """The slot before which a client, by its number, has to be done with a group."""
        return self.jobs(self.names[client], stretch)[group - stretch.first - stretch.skip].end


def _kept(slots: list[int], kept: bytearray) -> list[int]:
    """Those of ``slots``, which may be changed, for which ``kept`` has a 1."""
    runs: list[tuple[int, int]] = []
    begin = kept.find(0)
    while begin >= 0:
        end = kept.find(1, begin)
        runs.append((begin, end if end >= 0 else len(kept)))
        begin = kept.find(0, runs[-1][1])
    if len(runs) <= FEW_RUNS:
        for begin, end in reversed(runs):
            del slots[begin:end]
        return slots
    found: list[int] = []
    after = 0
    for begin, end in runs:
        found += slots[after:begin]
        after = end
    found += slots[after:]
    return found


@lru_cache(4_096)
def _in_time(starts: range, shown: int, lead: int, over: int, under: int, accesses: int) -> tuple[Job, ...]:
    """The jobs of groups that begin at ``starts``, none of which shows before ``shown``, at most ``lead`` dots before they show.

    In dots from a line's first slot, ``over / under`` slots a dot. Many chips that differ a little have the same.
    """
    dues = [max(start, shown) for start in starts]
    return tuple(Job(max(0, -((lead - due) * over // under)), due * over // under, accesses) for due in dues)


def ends(jobs: Sequence[Job], slots: Sequence[Sequence[int]]) -> list[int | None]:
    """The slot in which each job ended; None for one that did not have all of its accesses."""
    return [taken[-1] if len(taken) == job.accesses else None for job, taken in zip(jobs, slots, strict=True)]


def without(free: Sequence[int], taken: Sequence[int]) -> tuple[int, ...]:
    """The slots of ``free`` that are not among ``taken``, which are some of them; both in order."""
    many = len(taken)
    if not many or taken[-1] == free[many - 1]:  # then they are the first, as sprites take them
        return tuple(free[many:])
    gone = set(taken)
    return tuple(slot for slot in free if slot not in gone)


def _slots(mask: int) -> tuple[int, ...]:
    """The numbers of the bits that are set in ``mask``, in order."""
    return tuple(place for place, bit in enumerate(reversed(f"{mask:b}")) if bit == "1")
