"""Every access, one record each.

Law: a record says who had a slot and what was read or written there. It is put together from what was placed in the slots,
for all lines of a kind at once, and sorted by time at the end; nothing is worked out here that drawing has not used.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.line.clients import scan_of
from ...chip.model import SpritesTable
from ..frame import TRACE
from ..plan import Plan
from ..sprites.walk import SpriteSlots
from ..timeline import Timeline
from .fetches import Fetches, Times
from .prepared import PreparedLines
from .transfers import Landed

Ints = npt.NDArray[np.int64]
Records = tuple[Ints, int, Ints, Any]
"""Instants (slots line x slots + slot), the client, addresses and values, each (records,)."""


class Tracer:
    """Reads accesses out of memory as they stood when they were made."""

    def __init__(self, plan: Plan, timeline: Timeline) -> None:
        self.plan, self.timeline = plan, timeline
        self.size, self.width = plan.chip.memory.size, plan.access

    def access(self, instants: Ints, addresses: Ints) -> tuple[Ints, npt.NDArray[np.uint64]]:
        """Addresses rounded down to accesses, modulo the memory's size, and what stood there at ``instants``."""
        at = addresses % self.size // self.width * self.width
        places = self.timeline.memory.translate(instants, at)
        order = "<" if self.plan.chip.memory.byte_order == "little" else ">"
        whole = self.plan.store.bytes()
        words = whole if self.width == 1 else whole.view(f"{order}u{self.width}")
        return at, words[places // self.width].astype(np.uint64)

    def layers(self, fetches: Fetches, times: Times) -> Iterator[Records]:
        """The accesses of the layers."""
        addresses: dict[int, tuple[Ints, ...]] = {}
        per_line = self.timeline.per_line
        for kind in range(len(fetches.served)):
            for one in fetches.placed(kind):
                groups, bursts = one.groups, one.bursts
                if id(groups) not in addresses:
                    addresses[id(groups)] = groups.addresses()
                at = one.places[:, None], bursts.groups[bursts.burst]
                if groups.further is not None and one.client == len(addresses[id(groups)]) - 1:
                    address = groups.further(at, bursts.number)
                else:
                    address = addresses[id(groups)][one.client][at] + bursts.number * self.width
                read = times[bursts.layer][one.mode][one.client][at]
                instants = (one.lines * per_line)[:, None] + bursts.slots
                where, values = self.access(read.reshape(-1), address.reshape(-1))
                yield instants.reshape(-1), bursts.client, where, values

    def sprites(self, lines: PreparedLines) -> Iterator[Records]:
        """The accesses of the sprites of ``lines``."""
        accesses = _SpriteAccesses(self, lines)
        sprites = self.plan.chip.sprites
        if sprites is not None and sprites.table == "memory":
            yield accesses.scans(sprites)
            yield from accesses.rests(sprites)
        yield accesses.patterns()

    def others(self, fetches: Fetches, landed: Landed) -> Iterator[Records]:
        """Refresh, and the bytes of transfers."""
        refresh, cpu = len(self.plan.clients), len(self.plan.clients) + 1
        for kind, served in enumerate(fetches.served):
            if served.refresh:
                begin = fetches.lines_of(kind) * self.timeline.per_line
                instants = (begin[:, None] + np.array(served.refresh)).reshape(-1)
                yield instants, refresh, np.zeros_like(instants), np.zeros_like(instants)
        yield landed.instants, cpu, landed.addresses, landed.values


class _SpriteAccesses:
    """The accesses of some lines' sprites, those that found a slot."""

    def __init__(self, tracer: Tracer, lines: PreparedLines) -> None:
        self.tracer, self.width, self.column = tracer, tracer.width, tracer.plan.column
        self.asked, self.asks, self.timeline = lines.asked, lines.prepared.asks(), lines.timeline
        self.slots = SpriteSlots(lines.asked)
        self.begins = lines.asked.slot_lines * lines.timeline.per_line
        self.scan = scan_of(tracer.plan.chip)

    def scans(self, sprites: SpritesTable) -> Records:
        """The accesses that find out who lies on a line; all read what stood in the table at slot 0."""
        words = np.array(self.scan.words, np.int64) * self.width
        offsets = (np.arange(sprites.count)[:, None] * sprites.record_bytes + words).reshape(-1)
        lines = np.flatnonzero(self.timeline.control("sprites.enable")[self.asked.at] == 1)
        line, number = np.repeat(lines, len(offsets)), np.tile(np.arange(len(offsets)), len(lines))
        return self._made("sprites.table", line, number, self._table()[line] + offsets[number])

    def rests(self, sprites: SpritesTable) -> Iterator[Records]:
        """The accesses for the rest of each drawn sprite's record, which read what stood there at slot 0 too."""
        others = [word for word in range(sprites.record_bytes // self.width) if word not in self.scan.words]
        records = self._table()[self.asks.line] + self.asks.sprite * sprites.record_bytes
        for place, word in enumerate(others):
            yield self._made("sprites.table", self.asks.line, self.asks.start + place, records + word * self.width)

    def patterns(self) -> Records:
        """The accesses for the patterns' rows; a tile's row is read when its first access is made."""
        asks, rows = self.asks, self.tracer.plan.sprite_rows
        assert rows is not None
        item = np.repeat(np.arange(len(asks.line)), asks.cost)
        number = np.arange(len(item)) - np.repeat(np.cumsum(asks.cost) - asks.cost, asks.cost)
        size, start = asks.size[item], asks.start[item] + self.scan.rest
        part, further = rows.access(number, size)
        address = asks.address[item, part] + further * self.width
        return self._made("sprites.pattern", asks.line[item], start + number, address, start + rows.begins[size, part])

    def _table(self) -> Ints:
        return self.timeline.control("sprites.table")[self.asked.at]

    def _made(self, client: str, line: Ints, number: Ints, address: Ints, first: Ints | None = None) -> Records:
        """Accesses ``number`` of their lines; each reads in the slot of access ``first`` of its line (None: in slot 0)."""
        slot = self.slots.of(line, number)
        got = slot >= 0
        begin = self.begins[line]
        read = begin if first is None else begin + np.maximum(self.slots.of(line, first), 0)
        where, values = self.tracer.access(read[got], address[got])
        return (begin + slot)[got], self.column[client], where, values


def trace(per_line: int, parts: Sequence[Records]) -> npt.NDArray[Any]:
    """All the records, in order of time, as TRACE."""
    instants = np.concatenate([part[0] for part in parts]) if parts else np.empty(0, np.int64)
    order = np.argsort(instants, kind="stable")
    out = np.empty(len(instants), TRACE)
    out["line"], out["slot"] = np.divmod(instants[order], per_line)
    out["client"] = np.concatenate([np.full(len(part[0]), part[1]) for part in parts])[order] if parts else 0
    out["address"] = np.concatenate([part[2] for part in parts])[order] if parts else 0
    out["value"] = np.concatenate([part[3].astype(np.uint64) for part in parts])[order] if parts else 0
    return out
