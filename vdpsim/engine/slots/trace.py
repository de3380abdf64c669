"""Every access, one record each.

Law: a record says who had a slot and what was read or written there. It is put together from what was placed in the slots,
for all lines of a kind at once, and sorted by time at the end; nothing is worked out here that drawing has not used.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.line.costs import scan_of
from ..frame import TRACE
from ..plan import Plan
from ..sprites.lines import Asked, Prepared
from ..timeline import Timeline
from .fetches import Fetches, Times
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
                step: Any = self.width
                if one.client == 1 and groups.turned is not None:
                    turned = groups.turned[at]
                    step = np.where(turned, turned, self.width)
                address = addresses[id(groups)][one.client][at] + bursts.number * step
                read = times[bursts.layer][one.mode][one.client][at]
                instants = (one.lines * per_line)[:, None] + bursts.slots
                where, values = self.access(read.reshape(-1), address.reshape(-1))
                yield instants.reshape(-1), bursts.client, where, values

    def sprites(self, asked: Asked, prepared: Prepared, timeline: Timeline) -> Iterator[Records]:
        """The accesses of the sprites of ``asked.lines``, prepared from ``timeline``."""
        sprites = self.plan.chip.sprites
        assert sprites is not None
        assert asked.rooms is not None
        assert asked.shape is not None
        asks, shapes, begins = prepared.asks, asked.shape, asked.slot_lines * self.timeline.per_line
        longest = max((len(room) for room in asked.rooms), default=0)
        rooms = np.full((len(asked.rooms), longest + 1), -1, np.int64)
        for shape, room in enumerate(asked.rooms):
            rooms[shape, : len(room)] = room

        def made(line: Ints, number: Ints, burst: Ints, client: int, address: Ints) -> Records:
            """Accesses ``number`` of their lines that found a slot; each reads when access ``burst`` did (-1: at slot 0)."""
            slot = rooms[shapes[line], np.minimum(number, longest)]
            got = slot >= 0
            first = np.where(burst >= 0, rooms[shapes[line], np.minimum(np.maximum(burst, 0), longest)], 0)
            read = begins[line] + first
            where, values = self.access(read[got], address[got])
            return (begins[line] + slot)[got], client, where, values

        rest = 0
        if sprites.table == "memory":
            words = scan_of(self.plan.chip).words
            scan = np.array(
                [r * sprites.record_bytes + w * self.width for r in range(sprites.count) for w in words], np.int64
            )
            others = [w * self.width for w in range(sprites.record_bytes // self.width) if w not in words]
            rest = len(others)
            tables = timeline.control("sprites.table")[asked.at]
            lines = np.flatnonzero(timeline.control("sprites.enable")[asked.at] == 1)
            line, number = np.repeat(lines, len(scan)), np.tile(np.arange(len(scan)), len(lines))
            client, latched = self.plan.column["sprites.table"], np.full(len(line), -1)
            yield made(line, number, latched, client, tables[line] + scan[number])
            for place, offset in enumerate(others):
                address = tables[asks.line] + asks.sprite * sprites.record_bytes + offset
                yield made(asks.line, asks.start + place, np.full(len(asks.line), -1), client, address)
        item = np.repeat(np.arange(len(asks.line)), asks.cost)
        number = np.arange(len(item)) - np.repeat(np.cumsum(asks.cost) - asks.cost, asks.cost)
        start = asks.start[item] + rest
        address = asks.address[item] + number * self.width
        yield made(asks.line[item], start + number, start, self.plan.column["sprites.pattern"], address)

    def others(self, fetches: Fetches, landed: Landed) -> Iterator[Records]:
        """Refresh, and the bytes of transfers."""
        refresh, cpu = len(self.plan.clients), len(self.plan.clients) + 1
        for kind, served in enumerate(fetches.served):
            if served.refresh:
                begin = fetches.lines_of(kind) * self.timeline.per_line
                instants = (begin[:, None] + np.array(served.refresh)).reshape(-1)
                yield instants, refresh, np.zeros_like(instants), np.zeros_like(instants)
        yield landed.instants, cpu, landed.addresses, landed.values


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
