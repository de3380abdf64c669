"""Lines of every kind served with every way to scroll and every number of sprites, and the worst of each of their figures.

Law: what is told of a line is what serving its slots gave. Clients are served in their order, and lines that are alike up to a
client share what was served up to there; a line's own figures are taken when its last client has been. Nothing is written in
mid-line. ``complete`` says whether every line was served, cells that are turned one by one left aside. Plain Python.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from math import prod
from operator import sub
from typing import NamedTuple

from ...chip.line.serving import Job, Stretch, ends, without
from ...chip.line.slots import Server
from ...chip.model import Chip
from ..reach import sprite_accesses
from .kinds import LineKind, Modes
from .line import NOWHERE, ClientWork, Line, Spare, SpriteRoom
from .ways import Beside, Ways

MOST_LINES = 4_000
"""Lines that are served for one budget; where a chip has more, some of them are."""

Choice = Callable[[int, int | None, Sequence[Stretch | None]], Sequence[Stretch | None]]
"""Which of a layer's ways in a mode are served: (layer, mode, all of them)."""


@dataclass(eq=False)
class KindFound:
    """What lines of one kind come to at worst, each figure on a line of its own.

    ``used`` most slots, ``fullest`` on which line; ``cpu`` fewest slots of the CPU's, ``cpu_blank`` the blank ones of them;
    ``room`` fewest for sprites; ``spare`` of each client of a layer the nearest to being late.
    """

    lines: int = 0
    used: int = -1
    fullest: Line | None = None
    cpu: int = -1
    cpu_blank: int = 0
    room: SpriteRoom | None = None
    spare: dict[str, Spare] = field(default_factory=dict)


class Worst:
    """Serves lines of ``chip`` and keeps the worst.

    ``kinds``: what was found of each kind. ``cpu``: for lines of the picture (True) and for those below it, the distinct sets
    of slots that the CPU was left with. ``complete``: has True and False where
    every line of the picture, and every one below it, was served.
    """

    def __init__(self, chip: Chip, server: Server, ways: Ways) -> None:
        self.chip, self.server, self.ways = chip, server, ways
        self.kinds: dict[LineKind, KindFound] = {}
        self.cpu: dict[bool, dict[tuple[int, ...], None]] = {True: {}, False: {}}
        self.lines = 0
        self.complete: set[bool] = set()
        self._counts = _counts(chip, server)
        self.names = server.order
        self.layers = [place.layer for place in server.places.values()]
        self.order = tuple(dict.fromkeys(layer for layer in self.layers if layer >= 0))
        self._last = not self.names or self.names[-1] == "sprites"
        self._beside = {picture: ways.beside(self.order, picture=picture) for picture in (True, False)}
        self._all = {picture: len(server.fresh(picture=picture)[0]) for picture in (True, False)}
        self._refresh = len(server.fresh(picture=True)[1])
        self._path: Sequence[Spare] = ()
        self._work: dict[tuple[int, Stretch | None], dict[str, ClientWork]] = {}

    def beside(self, *, picture: bool) -> Beside:
        """Which modes can stand beside which, layers in the ``order`` in which they are served."""
        return self._beside[picture]

    def count(self, *, picture: bool) -> int:
        """How many lines there are to be served; where kinds are too many to be looked through, a number that is not below it."""
        if self.ways.exact:
            kinds = [[[mode] for mode in kind.modes] for kind in self.ways.kinds if kind.picture == picture]
        else:
            kinds = [[self.ways.modes(number) for number in range(len(self.order))]]
        found = 0
        for modes in kinds:
            each = [sum(len(self.ways_of(n, mode, picture=picture)) for mode in many) for n, many in enumerate(modes)]
            found += prod(each) * (1 if self._last else len(self.counts(picture=picture)))
        return found

    def serve_all(self, *, picture: bool) -> None:
        """Serve every line of the picture, or below it."""
        counts = self.counts(picture=picture)
        if self._last:  # where nobody comes after the sprites, fewer of them leave the CPU the same slots and more
            counts = counts[-1:]
        _LineWalk(self, lambda _layer, _mode, ways: ways, counts, picture=picture).begin()
        self.complete |= {picture}

    def serve_one(
        self, modes: Modes, layers: Sequence[Stretch | None], sprites: int, *, picture: bool
    ) -> Sequence[Spare]:
        """Serve one line: how near each client comes to being late."""
        self._path = ()
        _LineWalk(self, lambda layer, _mode, _ways: [layers[layer]], [sprites], picture=picture, modes=modes).begin()
        return self._path

    def kind(self, modes: Sequence[int | None], *, picture: bool) -> LineKind:
        """The kind of a line whose layers, in the chip's order, are in ``modes``."""
        return LineKind(tuple(modes), picture)

    def ways_of(self, number: int, mode: int | None, *, picture: bool) -> Sequence[Stretch | None]:
        """The ways of a layer in a mode; where it is off there is one, to fetch nothing."""
        return [None] if mode is None else self.ways.of(number, mode, picture=picture)

    def counts(self, *, picture: bool) -> Sequence[int]:
        """The numbers of accesses that sprites can make on such a line."""
        return self._counts[picture]

    def work(self, layer: int, stretch: Stretch | None) -> dict[str, ClientWork]:
        """What each client of a layer has to do where it fetches ``stretch``; those that have nothing to do are not in it."""
        key = (layer, stretch)
        if key not in self._work:
            found = {}
            for name, of in zip(self.names, self.layers, strict=True):
                jobs = self.server.jobs(name, stretch) if of == layer and stretch is not None else ()
                if jobs:
                    found[name] = ClientWork(jobs, sum(job.accesses for job in jobs), [job.end - 1 for job in jobs])
            self._work[key] = found
        return self._work[key]

    def take(self, line: Line, free: Sequence[int], room: int | None, path: Sequence[Spare]) -> None:
        """Keep what is worst of a line that has been served."""
        self._path = path
        picture = line.kind.picture
        found = self.kinds.setdefault(line.kind, KindFound())
        self.lines += 1
        found.lines += 1
        used = self._all[picture] - len(free) + self._refresh
        if used > found.used:
            found.used, found.fullest = used, line
        slots = self.server.for_cpu(free, picture=picture)
        self.cpu[picture][slots] = None
        if found.cpu < 0 or len(slots) < found.cpu:
            blank = self.server.line.blank if picture else self.server.line.slots
            found.cpu, found.cpu_blank = len(slots), bisect_left(slots, blank)
        if room is not None and (found.room is None or room < found.room.slots):
            found.room = SpriteRoom(room, line)
        for spare in path:
            known = found.spare.get(spare.client)
            # most are further off, which the first comparison tells
            if known is None or (spare.slots <= known.slots and spare.nearness < known.nearness):
                found.spare[spare.client] = spare._replace(line=line)


def _counts(chip: Chip, server: Server) -> dict[bool, list[int]]:
    """For lines of the picture and the last below it the numbers of accesses that sprites can make, in order.

    Sprites that are prepared a line ahead have none to be prepared on the picture's last line, where lines follow below it.
    """
    asked, ahead = sprite_accesses(chip), server.sprites_ahead
    none = ahead and chip.frame.lines_per_frame > chip.frame.height
    return {True: sorted({0, *asked}) if none else asked, False: asked if ahead else [0]}


class _ChosenSoFar(NamedTuple):
    """What a line is, as far as its clients have been met.

    ``modes``: of the layers, in the order in which they are met; ``ways``: what each of them fetches, and its work. ``made``:
    the accesses of sprites, ``room`` the slots that there were for them.
    """

    modes: Modes
    ways: dict[int, tuple[Stretch | None, dict[str, ClientWork]]]
    made: int = 0
    room: int | None = None


class _Shared(NamedTuple):
    """What came of serving it so far, which all lines share that are alike up to there.

    ``free``: the slots left. ``ended``: the slots in which a layer's cells ended. ``path``: how near each client came to being
    late.
    """

    free: Sequence[int]
    ended: dict[int, Sequence[int | None]]
    path: tuple[Spare, ...]


class _LineWalk:
    """One walk over the clients in their order, with all ways of each layer that are asked for.

    Lines share what was served alike: a tree whose leaves are the lines, so that most clients are served once for many lines.
    """

    def __init__(
        self, worst: Worst, choose: Choice, counts: Sequence[int], *, picture: bool, modes: Modes | None = None
    ) -> None:
        self.worst, self.picture, self.choose, self.modes, self.counts = worst, picture, choose, modes, counts
        self.server, self.names, self.layers, self.order = worst.server, worst.names, worst.layers, worst.order
        self.beside = worst.beside(picture=picture)
        self.places = [self.order.index(number) for number in range(len(self.order))]

    def begin(self) -> None:
        """Serve the lines."""
        self._go(0, _ChosenSoFar((), {}), _Shared(self.server.fresh(picture=self.picture)[0], {}, ()))

    def _go(self, depth: int, chosen: _ChosenSoFar, shared: _Shared) -> None:
        """Serve the clients from number ``depth`` on for as long as there is no choice; then go on with each."""
        free, ended, path = shared
        for at in range(depth, len(self.names)):
            name, layer = self.names[at], self.layers[at]
            if layer not in chosen.ways:
                self._branch(at, layer, chosen, _Shared(free, ended, path))
                return
            stretch, works = chosen.ways[layer]
            work = works.get(name)
            if work is not None and stretch is not None:
                free, slots = self.server.give(name, free, work.jobs, ended.get(layer))
                spare, in_slots = self._outcome(name, stretch, work, slots)
                path = (*path, spare)
                if self.server.places[name].what == "cells":
                    ended = {**ended, layer: in_slots}
        # Lists first: a tuple of a generator takes 1.6 times as long, and this is done for every line.
        kind = LineKind(tuple([chosen.modes[place] for place in self.places]), self.picture)
        layers = tuple([chosen.ways[number][0] for number in range(len(self.places))])
        self.worst.take(Line(kind, layers, chosen.made), free, chosen.room, path)

    def _branch(self, depth: int, layer: int, chosen: _ChosenSoFar, shared: _Shared) -> None:
        """Go on with each number of sprites, or with each way of a layer of which no client was served yet."""
        if layer < 0:
            for free, made, room in self._sprites(shared.free):
                sprites = _ChosenSoFar(chosen.modes, chosen.ways, made, room)
                self._go(depth + 1, sprites, _Shared(free, shared.ended, shared.path))
            return
        for mode, way in self._open(layer, chosen.modes):
            ways = {**chosen.ways, layer: (way, self.worst.work(layer, way))}
            self._go(depth, _ChosenSoFar((*chosen.modes, mode), ways, chosen.made, chosen.room), shared)

    def _outcome(
        self, name: str, stretch: Stretch, work: ClientWork, slots: Sequence[Sequence[int]]
    ) -> tuple[Spare, Sequence[int | None]]:
        """How near the client came to being late, and for cells the slot in which each job ended."""
        jobs, wanted, last = work
        if sum(map(len, slots)) < wanted:
            return _missing(name, stretch, jobs, slots, wanted), self._ends(name, jobs, slots)
        ended = [taken[-1] for taken in slots]
        spare = list(map(sub, last, ended))
        least = min(spare)
        place = spare.index(least)
        group = stretch.first + stretch.skip + place
        return Spare(least, 0, name, ended[place], last[place], group, NOWHERE), ended

    def _ends(self, name: str, jobs: Sequence[Job], slots: Sequence[Sequence[int]]) -> Sequence[int | None]:
        return ends(jobs, slots) if self.server.places[name].what == "cells" else ()

    def _open(self, layer: int, modes: Modes) -> Iterable[tuple[int | None, Stretch | None]]:
        """The modes and ways of the next layer."""
        for mode in self.beside.next(modes):
            if self.modes is not None and mode != self.modes[layer]:
                continue
            for way in self.choose(layer, mode, self.worst.ways_of(layer, mode, picture=self.picture)):
                yield mode, way

    def _sprites(self, free: Sequence[int]) -> Iterator[tuple[Sequence[int], int, int | None]]:
        """Serve each number of accesses that sprites can make: the slots left, the accesses made, the room that there was."""
        if not self.picture and not self.server.sprites_ahead:
            yield free, 0, None
            return
        room = self.server.room_of(free)
        # All counts beyond the room come to one line, which is served once.
        for count in dict.fromkeys([min(count, len(room)) for count in reversed(self.counts)]):
            yield without(free, room[:count]), count, len(room)


def _missing(name: str, stretch: Stretch, jobs: Sequence[Job], slots: Sequence[Sequence[int]], wanted: int) -> Spare:
    """How much the client misses of ``wanted`` accesses, on a line that is not known yet."""
    place = next(n for n, (job, taken) in enumerate(zip(jobs, slots, strict=True)) if len(taken) < job.accesses)
    slot, group = slots[place][-1] if slots[place] else -1, stretch.first + stretch.skip + place
    return Spare(-1, wanted - sum(map(len, slots)), name, slot, jobs[place].end - 1, group, NOWHERE)
