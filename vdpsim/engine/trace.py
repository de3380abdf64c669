"""Every access, one record each.

Law: a record says who had a slot and what was read or written there. It is put together from what was placed in the slots,
for all lines of a kind at once, and sorted by time at the end; nothing is worked out here that drawing has not used.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from .fetches import Fetches, Times
from .frame import TRACE
from .plan import Plan
from .sprites import Asked, Prepared, scan_words
from .timeline import Timeline
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
                groups, burst = one.groups, one.burst
                if id(groups) not in addresses:
                    addresses[id(groups)] = groups.addresses()
                first = addresses[id(groups)][one.client][one.places, burst.group]
                step: Any = self.width
                if one.client == 1 and groups.turned is not None:
                    turned = groups.turned[one.places, burst.group]
                    step = np.where(turned, turned, self.width)
                read = times[burst.layer][one.mode][one.client][one.places, burst.group]
                for number, slot in enumerate(burst.slots):
                    at, values = self.access(read, first + number * step)
                    yield one.lines * per_line + slot, burst.client, at, values

    def sprites(self, asked: Asked, prepared: Prepared, timeline: Timeline) -> Iterator[Records]:
        """The accesses of the sprites of ``asked.lines``, prepared from ``timeline``."""
        sprites = self.plan.chip.sprites
        assert sprites is not None
        assert asked.rooms is not None
        assert asked.shape is not None
        scanned = scan_words(self.plan, sprites) if sprites.table == "memory" else []
        others = [word for word in range(sprites.record_bytes // self.width) if word not in scanned]
        others = others if sprites.table == "memory" else []
        tables = timeline.control("sprites.table")[asked.at] if sprites.table == "memory" else None
        enabled = timeline.control("sprites.enable")[asked.at]
        asks = prepared.asks
        attribute = self.plan.column.get("sprites.attribute", 0)
        pattern = self.plan.column["sprites.pattern"]
        for line in range(len(asked.lines)):
            room = asked.rooms[int(asked.shape[line])]
            steps: list[tuple[int, int]] = []
            table = int(tables[line]) if tables is not None else 0
            if enabled[line]:
                steps += [
                    (attribute, table + record * sprites.record_bytes + word * self.width)
                    for record in range(sprites.count if scanned else 0)
                    for word in scanned
                ]
            bursts: list[int] = []
            for item in np.flatnonzero(asks.line == line).tolist():
                record = table + int(asks.sprite[item]) * sprites.record_bytes
                steps += [(attribute, record + word * self.width) for word in others]
                bursts.append(len(steps))
                steps += [(pattern, int(asks.address[item]) + n * self.width) for n in range(int(asks.cost[item]))]
            made = min(len(steps), len(room))
            instant = int(asked.slot_lines[line]) * self.timeline.per_line
            burst = 0
            for number in range(made):
                client, address = steps[number]
                while burst + 1 < len(bursts) and bursts[burst + 1] <= number:
                    burst += 1
                read = instant
                if client == pattern:
                    read = instant + room[bursts[burst]]
                at, values = self.access(np.array([read]), np.array([address]))
                yield np.array([instant + room[number]]), client, at, values

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
    out["value"] = np.concatenate([part[3] for part in parts])[order] if parts else 0
    return out
