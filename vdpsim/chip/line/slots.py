"""Who gets which slot of a line.

Law: one line at a time and from its shape alone: which groups each layer fetches, and how many accesses the sprites ask for.
Slots go by in order, and a slot goes to the first client of the chip's list who asks; since a client never waits for one
that comes later in the list, serving one client after the other, each with the first slots that are left, is the same.
This is all that gives out slots, to the engine and to budgets alike. Knows no memory and no line's number.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import compress, pairwise
from typing import NamedTuple

from ..model import Chip, TimeTable
from .checks_time import reserved_slots
from .clients import ModeCosts, Place, costs_of, layers_ahead, place_of, places, slot_clients
from .rates import LineSlots, line_slots
from .serving import Cells, Job, Shape, Stretch, Within, ends, give, jobs_of, numbers, one_queue, remembered, without


class Bursts(NamedTuple):
    """One client's bursts for a stretch of a line: for each the group that it is for, and its slots in order."""

    layer: int
    stretch: int
    client: int
    bursts: tuple[tuple[int, tuple[int, ...]], ...]


class Asked(NamedTuple):
    """One client's jobs for a stretch of a line, and which of the line's stretches it is."""

    position: int
    stretch: Stretch
    jobs: tuple[Job, ...]


@dataclass(eq=False, repr=False)
class _LineSoFar:
    """A line while it is served: the slots left, bursts made, accesses made and missed by client, groups lost.

    ``cells``: for a layer and a stretch, what became of its cells.
    """

    free: Sequence[int]
    counts: list[int]
    missed: list[int]
    bursts: list[Bursts] = field(default_factory=list)
    lost: set[tuple[int, int, int]] = field(default_factory=set)
    cells: dict[tuple[int, int], Cells] = field(default_factory=dict)

    def copy(self, free: Sequence[int]) -> _LineSoFar:
        """The same work, with other slots left."""
        return _LineSoFar(free, [*self.counts], [*self.missed], [*self.bursts], {*self.lost}, {**self.cells})


class Served(NamedTuple):
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

    chip: Chip
    time: TimeTable
    line: LineSlots

    def __init__(self, chip: Chip) -> None:
        assert chip.time is not None
        self.chip, self.time, self.line = chip, chip.time, line_slots(chip)
        self.names: tuple[str, ...] = slot_clients(chip)
        self.number: dict[str, int] = {name: number for number, name in enumerate(self.names)}
        self._reserved = reserved_slots(chip)
        self._of_cpu = numbers(self._reserved) if self._reserved else ()
        self.modes: list[list[ModeCosts]] = costs_of(chip)
        every = (1 << self.line.slots) - 1
        masks = {name: client.mask(self.line.slots) for name, client in self.time.clients.items()}
        self._open = {name: None if mask == every else Within(numbers(mask)) for name, mask in masks.items()}
        self.places: dict[str, Place] = places(chip)
        self.order: tuple[str, ...] = tuple(self.places)
        self.sprites_ahead: bool = bool(chip.sprites) and self.time.clients["sprites"].when == "line before"
        self.layers_ahead: tuple[int, ...] = layers_ahead(chip)
        self._fresh = {picture: self._free(picture=picture) for picture in (False, True)}
        at = self.order.index("sprites") if "sprites" in self.order else len(self.order)
        self._before, self._after = self.order[:at], self.order[at + 1 :]
        self._begun: dict[tuple[Shape], tuple[_LineSoFar, tuple[int, ...]]] = {}
        self._served: dict[tuple[Shape, int], Served] = {}
        self._jobs: dict[tuple[str, Stretch], tuple[Job, ...]] = {}

    # Whole lines

    def room(self, shape: Shape) -> tuple[int, ...]:
        """The slots that the sprites can have on a line of this shape, in order."""
        return remembered(self._begun, self._begin, shape)[1]

    def serve(self, shape: Shape, sprites: int) -> Served:
        """The line with ``sprites`` accesses of the sprites, at most as many as there is room for."""
        return remembered(self._served, self._serve, shape, sprites)

    def _begin(self, shape: Shape) -> tuple[_LineSoFar, tuple[int, ...]]:
        """Serve refresh and the clients that come before the sprites: the line so far, and the sprites' room."""
        free, refresh = self.fresh(picture=shape.picture)
        work = _LineSoFar(free, [0] * len(self.names), [0] * len(self.names))
        work.counts[self.number["refresh"]] = len(refresh)
        self._clients(work, self._before, shape)
        return work, self.room_of(work.free)

    def _serve(self, shape: Shape, sprites: int) -> Served:
        begun, room = remembered(self._begun, self._begin, shape)
        taken = room[:sprites]
        work = begun.copy(without(begun.free, taken))
        self._clients(work, self._after, shape)
        _carry_lost(work, shape)
        return Served(
            bursts=tuple(work.bursts),
            counts=tuple(work.counts),
            missed=tuple(work.missed),
            lost=tuple(sorted(work.lost)),
            refresh=self.fresh(picture=shape.picture)[1],
            room=room,
            sprites=taken,
            cpu=self.for_cpu(work.free, picture=shape.picture),
        )

    def _clients(self, work: _LineSoFar, names: Sequence[str], shape: Shape) -> None:
        """Serve clients of layers on the whole line, one after the other."""
        for name in names if shape.layers else ():
            asked = [
                Asked(position, stretch, jobs)
                for position, stretch in enumerate(shape.layers[self.places[name].layer])
                if stretch is not None and (jobs := self.jobs(name, stretch))
            ]
            if asked:
                self._client(work, name, asked)

    def _client(self, work: _LineSoFar, name: str, asked: Sequence[Asked]) -> None:
        """Serve one client on a line: its jobs for all stretches are one queue."""
        layer = self.places[name].layer
        cells = [work.cells.get((layer, one.position)) for one in asked]
        jobs: Sequence[Job]
        ready: Sequence[int | None] | None
        if len(asked) == 1:
            jobs, ready = asked[0].jobs, cells[0] and cells[0].ends
        else:
            jobs, ready = one_queue([one.jobs for one in asked], cells)
        work.free, slots = self.give(name, work.free, jobs, ready)
        at = 0
        for one in asked:
            self._note(work, name, one, slots[at : at + len(one.jobs)])
            at += len(one.jobs)

    def _note(self, work: _LineSoFar, name: str, asked: Asked, slots: Sequence[Sequence[int]]) -> None:
        """Note which slots a client got for a stretch, and what it missed."""
        position, stretch, jobs = asked
        layer, what, client, _ = self.places[name]
        number, begin = self.number[client], stretch.first + stretch.skip
        groups = range(begin, begin + len(jobs))
        wanted, made = sum([job.accesses for job in jobs]), sum(map(len, slots))
        work.counts[number] += made
        if made < wanted:
            work.missed[number] += wanted - made
            short = [len(taken) < job.accesses for job, taken in zip(jobs, slots, strict=True)]
            work.lost.update((layer, position, group) for group in compress(groups, short))
        bursts = tuple([(group, tuple(taken)) for group, taken in zip(groups, slots, strict=True) if taken])
        if bursts:
            work.bursts.append(Bursts(layer, position, number, bursts))
        if what == "cells":
            work.cells[layer, position] = Cells(jobs, ends(jobs, slots))

    # One client after the other

    def fresh(self, *, picture: bool) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """A line's slots once refresh has had its own: those left for others than the CPU, and those of refresh."""
        return self._fresh[picture]

    def _free(self, *, picture: bool) -> tuple[tuple[int, ...], tuple[int, ...]]:
        mask = ((1 << self.line.slots) - 1) & ~(self._reserved if picture else 0)
        refresh = self.time.refresh
        if refresh is None:
            return numbers(mask), ()
        taken = numbers(mask & refresh.mask(self.line.slots))[: refresh.slots]
        return without(numbers(mask), taken), taken

    def jobs(self, name: str, stretch: Stretch) -> tuple[Job, ...]:
        """What there is to do for a stretch at the place ``name``: nothing where that is not for its mode; see ``jobs_of``."""
        return remembered(self._jobs, self._jobs_of, name, stretch)

    def _jobs_of(self, name: str, stretch: Stretch) -> tuple[Job, ...]:
        place = self.places[name]
        if stretch.mode not in place.modes:
            return ()
        return jobs_of(self.line, self.time.clients[name], place.what, self.modes[place.layer][stretch.mode], stretch)

    def give(
        self, name: str, free: Sequence[int], jobs: Sequence[Job], ready: Sequence[int | None] | None
    ) -> tuple[Sequence[int], list[Sequence[int]]]:
        """Serve a client's ``jobs`` from those of the slots ``free`` that it may have; see ``giving.give``."""
        within = self._open[name]
        if within is None:
            return give(free, jobs, ready)
        _, found = give(within.enough(free, jobs, ready), jobs, ready)
        return without(free, [slot for taken in found for slot in taken]), found

    def room_of(self, free: Sequence[int]) -> tuple[int, ...]:
        """Those of the slots ``free`` that the sprites can have."""
        if "sprites" not in self._open:
            return ()
        within, end = self._open["sprites"], self.line.slots if self.sprites_ahead else self.line.blank
        if within is None:
            return tuple(free[: bisect_left(free, end)])
        return tuple(slot for slot in free if slot < end and slot in within.among)

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
        return self.jobs(self.place(client, stretch), stretch)[group - stretch.first - stretch.skip].end

    def place(self, client: int, stretch: Stretch) -> str:
        """The name of the place at which a layer's client, by its number, is served for a stretch."""
        layer, _, what = self.names[client].partition(".")
        return place_of(self.chip, self.chip.layer(layer), stretch.mode, what)


def _carry_lost(work: _LineSoFar, shape: Shape) -> None:
    """A group that goes on in the next stretch is lost there too."""
    for layer, stretches in enumerate(shape.layers):
        for index, (before, stretch) in enumerate(pairwise(stretches)):
            if before and stretch and stretch.skip and (layer, index, before.last) in work.lost:
                work.lost.add((layer, index + 1, stretch.first))
