"""Who gets which slot of a line.

Law: one line at a time and from its shape alone: which groups each layer fetches, and how many accesses the sprites ask for.
Slots go by in order, and a slot goes to the first client of the chip's list who asks; since a client never waits for one
that comes later in the list, serving one client after the other, each with the first slots that are left, is the same.
Lines of one shape are served once and kept. Sets of slots are whole numbers, slot s in bit s. Plain Python: those who ask
before any scene need nothing more. Knows no memory and no line's number.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from .checks_time import reserved_slots
from .clients import buffered, slot_clients
from .model import AnyMode, BitmapMode, Chip, ClientTime, TextMode, TilesMode
from .timing import line_slots

MOST_KEPT = 20_000
"""Shapes of lines that are kept; then all are forgotten and served anew as they come."""


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


class Bursts(NamedTuple):
    """One client's bursts for a stretch of a line: for each the group that it is for, and its slots in order."""

    layer: int
    stretch: int
    client: int
    bursts: tuple[tuple[int, tuple[int, ...]], ...]


@dataclass(eq=False)
class _Work:
    """A line while it is served: the slots left, bursts made, accesses missed by client, groups lost, the ends of cells."""

    free: int
    bursts: list[Bursts] = field(default_factory=list)
    counts: dict[int, int] = field(default_factory=dict)
    missed: dict[int, int] = field(default_factory=dict)
    lost: set[tuple[int, int, int]] = field(default_factory=set)
    cell_end: dict[tuple[int, int, int], int | None] = field(default_factory=dict)
    refresh: tuple[int, ...] = ()


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


class ModeCosts(NamedTuple):
    """A group's dots, the accesses that each client makes for it, and those for the pattern of a turned cell."""

    size: int
    costs: dict[str, int]
    turned: int


class Server:
    """Serves the lines of one chip."""

    def __init__(self, chip: Chip) -> None:
        assert chip.time is not None
        self.chip, self.time, self.line = chip, chip.time, line_slots(chip)
        self.names = slot_clients(chip)
        self._number = {name: number for number, name in enumerate(self.names)}
        self._all = (1 << self.line.slots) - 1
        self._blank = (1 << self.line.blank) - 1
        self._reserved = reserved_slots(chip)
        self._modes = [[mode_costs(chip, mode) for mode in layer.modes] for layer in chip.layers]
        self._masks = {name: client.mask(self.line.slots) for name, client in self.time.clients.items()}
        names = list(self.time.clients)
        at = names.index("sprites") if "sprites" in names else len(names)
        self._before, self._after = names[:at], names[at + 1 :]
        self._layer = {layer.name: number for number, layer in enumerate(chip.layers)}
        self.sprites_ahead = bool(chip.sprites) and self.time.clients["sprites"].when == "line before"
        self.layers_ahead = tuple(number for number, layer in enumerate(chip.layers) if buffered(chip, layer))
        self._begun: dict[Shape, tuple[_Work, tuple[int, ...]]] = {}
        self._served: dict[tuple[Shape, int], Served] = {}
        self._windows: dict[tuple[int, int], tuple[int, int]] = {}

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
            work = _Work(self._all & ~(self._reserved if shape.picture else 0))
            refresh = self.time.refresh
            if refresh:
                work.refresh = _lowest(work.free & refresh.mask(self.line.slots), refresh.slots)
                work.free &= ~_bits(work.refresh)
            for name in self._before if shape.layers else ():
                self._client(work, name, shape)
            found = self._begun[shape] = work, self._room(work)
        return found

    def _room(self, work: _Work) -> tuple[int, ...]:
        client = self.time.clients.get("sprites")
        if client is None:
            return ()
        mask = work.free & self._masks["sprites"] & (self._all if self.sprites_ahead else self._blank)
        return _lowest(mask, self.line.slots)

    def _finish(self, shape: Shape, sprites: int) -> Served:
        begun, room = self._begin(shape)
        taken = room[:sprites]
        work = _Work(
            begun.free & ~_bits(taken),
            list(begun.bursts),
            dict(begun.counts),
            dict(begun.missed),
            set(begun.lost),
            dict(begun.cell_end),
            begun.refresh,
        )
        for name in self._after if shape.layers else ():
            self._client(work, name, shape)
        self._carry_lost(work, shape)
        work.counts[self._number["refresh"]] = len(work.refresh)
        numbers = range(len(self.names))
        return Served(
            tuple(work.bursts),
            tuple(work.counts.get(number, 0) for number in numbers),
            tuple(work.missed.get(number, 0) for number in numbers),
            tuple(sorted(work.lost)),
            work.refresh,
            room,
            taken,
            _lowest(self._for_cpu(work, shape), self.line.slots),
        )

    def _for_cpu(self, work: _Work, shape: Shape) -> int:
        cpu = self.time.cpu
        blank = self._blank if shape.picture else self._all
        slots = blank & work.free if cpu.blanking else 0
        if cpu.active == "free":
            slots |= work.free & ~blank
        elif shape.picture and cpu.active == "reserved":
            slots |= self._reserved
        return slots

    def _client(self, work: _Work, name: str, shape: Shape) -> None:
        """Serve one client of a layer: its groups from left to right, each access with the first slot that serves."""
        layer, what = self._layer[name.partition(".")[0]], name.partition(".")[2]
        client, number, mask = self.time.clients[name], self._number[name], self._masks[name]
        last, made, missed = -1, 0, 0
        for index, stretch in enumerate(shape.layers[layer]):
            if stretch is None or what not in self._modes[layer][stretch.mode].costs:
                continue
            mode = self._modes[layer][stretch.mode]
            found: list[tuple[int, tuple[int, ...]]] = []
            if what == "cells" and stretch.kept:
                continue
            for group in range(stretch.first + stretch.skip, stretch.last + 1):
                count = mode.costs[what]
                if what == "pattern" and stretch.turned and stretch.turned[group]:
                    count = mode.turned
                key = (layer, index, group)
                after = work.cell_end.get(key, -1)
                slots: list[int] = []
                if after is not None:
                    begin, end = self._window(client, max(stretch.left, group * mode.size - stretch.fine))
                    while len(slots) < count:
                        low = max(begin, last + 1, after + 1)
                        left = (work.free & mask) >> low
                        slot = low + (left & -left).bit_length() - 1
                        if not left or slot >= end:
                            break
                        slots.append(slot)
                        work.free ^= 1 << slot
                        last = slot
                if slots:
                    found.append((group, tuple(slots)))
                    made += len(slots)
                if len(slots) < count:
                    missed += count - len(slots)
                    work.lost.add(key)
                if what == "cells":
                    work.cell_end[key] = slots[-1] if len(slots) == count else None
            if found:
                work.bursts.append(Bursts(layer, index, number, tuple(found)))
        work.counts[number] = made
        work.missed[number] = missed

    def end(self, client: int, layer: int, stretch: Stretch, group: int) -> int:
        """The slot before which a client, by its number, has to be done with a group."""
        size = self._modes[layer][stretch.mode].size
        due = max(stretch.left, group * size - stretch.fine)
        return self._window(self.time.clients[self.names[client]], due)[1]

    def _window(self, client: ClientTime, due: int) -> tuple[int, int]:
        """The slots that serve a group that is due at dot ``due``: from the first up to but not including the second."""
        if client.lead is None:
            return 0, self.line.blank if client.when == "blanking" else self.line.slots
        key = (client.lead, due)
        if key not in self._windows:
            self._windows[key] = self.line.from_dot(due - client.lead), self.line.before(due)
        return self._windows[key]

    def _carry_lost(self, work: _Work, shape: Shape) -> None:
        """A group that goes on in the next stretch is lost there too."""
        for layer, stretches in enumerate(shape.layers):
            for index, stretch in enumerate(stretches):
                before = stretches[index - 1] if index else None
                if stretch and before and stretch.skip and (layer, index - 1, before.last) in work.lost:
                    work.lost.add((layer, index, stretch.first))


def mode_costs(chip: Chip, mode: AnyMode) -> ModeCosts:
    """What a group of ``mode`` takes."""
    width = chip.memory.bytes_per_access
    if isinstance(mode, TilesMode):
        costs = {"cells": max(1, mode.cell_bytes // width), "pattern": max(1, mode.row_bytes // width)}
        return ModeCosts(mode.tile, costs, mode.tile)
    if isinstance(mode, TextMode):
        return ModeCosts(mode.glyph[0], {"cells": max(1, mode.cell_bytes // width), "glyphs": 1}, 0)
    assert isinstance(mode, BitmapMode)
    return ModeCosts(8 * width // mode.bits_per_dot, {"bitmap": 1}, 0)


def _lowest(mask: int, most: int) -> tuple[int, ...]:
    """The lowest bits of ``mask``, in order, ``most`` of them at most."""
    found: list[int] = []
    while mask and len(found) < most:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return tuple(found)


def _bits(slots: tuple[int, ...]) -> int:
    return sum(1 << slot for slot in slots)
