"""The CPU's transfers: which byte lands in which slot.

Law: transfers are served one after the other, in the order of their start; a byte takes the first slot that is free for the
CPU, that comes after the byte before it, and that is not before the CPU can have it ready. Instants are line x slots a line +
slot, counted from the frame's line 0. Knows no layer, no sprite and no dot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..memory import State, Waiting
from .fetches import Fetches
from .frame import TRANSFERS
from .plan import Plan
from .timeline import Change, Program

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class Landed:
    """Bytes that land: their ``instants``, ``addresses`` and ``values``, int64 (bytes,), and how many of each transfer."""

    instants: Ints
    addresses: Ints
    values: Ints
    bytes: list[int]

    def changes(self) -> list[Change]:
        """What they do to memory; a byte is there from the next slot on."""
        found = zip(self.instants.tolist(), self.addresses.tolist(), self.values.tolist(), strict=True)
        return [(instant + 1, address, bytes([value])) for instant, address, value in found]

    def same(self, other: Landed | None) -> bool:
        """Whether they land where ``other`` do."""
        return other is not None and np.array_equal(self.instants, other.instants)


class Queue:
    """The transfers that wait or begin on the lines from ``first`` up to but not including ``last``."""

    def __init__(self, plan: Plan, state: State, program: Program, first: int, last: int) -> None:
        assert plan.server is not None
        self.plan, self.state, self.line = plan, state, plan.server.line
        self.first, self.last = first, last
        base = first * self.line.dots
        waiting = [one._replace(start=one.start + base) for one in state.waiting]
        numbers = range(state.transfers, state.transfers + len(program.transfers))
        self.waiting = waiting + [
            Waiting(
                number, write.line * self.line.dots + self.line.ahead + write.dot, write.address, write.data, write.step
            )
            for number, write in zip(numbers, program.transfers, strict=True)
        ]
        self.begun = len(program.transfers)

    def _ready(self, one: Waiting) -> Ints:
        """The instants from which the bytes that are left can land."""
        number = np.arange(one.done, len(one.data), dtype=np.int64)
        cpu, chip = self.plan.chip.cpu, self.plan.chip
        late = -(-(number * cpu.cycles_per_byte * chip.frame.dot_clock) // cpu.clock) if cpu else np.zeros_like(number)
        line, rest = np.divmod(one.start + late, self.line.dots)
        slot = -(-rest * self.line.rate.numerator // self.line.rate.denominator)
        instants: Ints = line * self.line.slots + np.minimum(slot, self.line.slots)
        return instants

    def land(self, fetches: Fetches) -> Landed:
        """Let bytes land in the slots that ``fetches`` leave."""
        none = np.empty(0, np.int64)
        if not self.waiting:
            return Landed(none, none, none, [])
        ready = np.concatenate([self._ready(one) for one in self.waiting])
        data = np.frombuffer(b"".join(one.data[one.done :] for one in self.waiting), np.uint8).astype(np.int64)
        places = [one.address + np.arange(one.done, len(one.data)) * one.step for one in self.waiting]
        addresses = np.concatenate(places) % self.plan.chip.memory.size
        free = self._free(fetches, int(ready[0]))
        number = np.arange(len(ready))
        slot = np.maximum.accumulate(np.searchsorted(free, ready) - number) + number
        count = int(np.searchsorted(slot, len(free)))
        bytes_of, left = [], count
        for one in self.waiting:
            bytes_of.append(min(left, len(one.data) - one.done))
            left -= bytes_of[-1]
        return Landed(free[slot[:count]], addresses[:count], data[:count], bytes_of)

    def _free(self, fetches: Fetches, since: int) -> Ints:
        """Instants that are free for the CPU, in order, from the line of ``since`` on."""
        begin = max(since // self.line.slots, self.first)
        of_line = fetches.served_of_line[max(begin - self.first, 0) :].tolist()
        free = [np.array(served.cpu, np.int64) for served in fetches.served]
        parts = [free[kind] + (begin + n) * self.line.slots for n, kind in enumerate(of_line)]
        return np.concatenate(parts) if parts else np.empty(0, np.int64)

    def records(self, landed: Landed) -> npt.NDArray[np.void]:
        """What each transfer did on these lines, as TRANSFERS."""
        slots = self.line.slots
        begin, end = self.first * slots, self.last * slots
        out = np.zeros(len(self.waiting), TRANSFERS)
        at = 0
        for record, one, count in zip(out, self.waiting, landed.bytes or [0] * len(self.waiting), strict=True):
            instants = landed.instants[at : at + count]
            at += count
            ended = one.done + count == len(one.data)
            start = max(self.line.at(one.start), begin)
            stop = int(instants[-1]) + 1 if ended and count else end
            first, last = (int(instants[0]), int(instants[-1])) if count else (-1, -1)
            record["number"], record["bytes"], record["ended"] = one.number, count, ended
            record["first_line"], record["first_slot"] = divmod(first, slots) if count else (-1, -1)
            record["last_line"], record["last_slot"] = divmod(last, slots) if count else (-1, -1)
            record["waited"] = max(stop - start, count) - count
        return out

    def settle(self, state: State, landed: Landed) -> None:
        """Leave in ``state`` what still waits, counted from the line before which it stands."""
        base = self.last * self.line.dots
        counts = landed.bytes or [0] * len(self.waiting)
        state.waiting = tuple(
            one._replace(start=one.start - base, done=one.done + count)
            for one, count in zip(self.waiting, counts, strict=True)
            if one.done + count < len(one.data)
        )
        state.transfers += self.begun
