"""The CPU's transfers: which byte lands in which slot.

Law: transfers are served one after the other, in the order of their start; a byte takes the first slot that is free for the
CPU, that comes after the byte before it, and that is not before the CPU has it at hand. Instants are line x slots a line +
slot, moments are in the units of ``chip/line/rates.py``; both count from the frame's line 0. Knows no layer, sprite or dot.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from ...chip.line.rates import Pace
from ...state.state import State, Waiting
from ..frame import TRANSFERS
from ..plan import Plan
from ..timeline import Change, Program
from .fetches import Fetches

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class Landed:
    """Bytes that land: their ``instants``, ``addresses`` and ``values``, int64 (bytes,), and how many of each transfer.

    ``at_hand``: the moments at which the bytes after them are at hand, as far as the queue has places for them.
    """

    instants: Ints
    addresses: Ints
    values: Ints
    bytes: list[int]
    at_hand: list[int] = field(default_factory=list)

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
        self.pace = Pace.of(plan.chip)
        base = first * self.line.dots
        waiting = [
            one._replace(start=one.start + base, at_hand=tuple(moment + base for moment in one.at_hand))
            for one in state.waiting
        ]
        numbers = range(state.transfers, state.transfers + len(program.transfers))
        self.waiting = waiting + [
            Waiting(
                number, write.line * self.line.dots + self.line.ahead + write.dot, write.address, write.data, write.step
            )
            for number, write in zip(numbers, program.transfers, strict=True)
        ]
        self.begun = len(program.transfers)

    def land(self, fetches: Fetches) -> Landed:
        """Let bytes land in the slots that ``fetches`` leave."""
        none = np.empty(0, np.int64)
        if not self.waiting:
            return Landed(none, none, none, [])
        first = self.waiting[0]
        free = self._free(fetches, self.line.at(int(first.at_hand[0] if first.at_hand else first.start)))
        instants, moments = self._unpaced(free) if self.pace is None else self._paced(self.pace, free.tolist())
        count = len(instants)
        data = np.frombuffer(b"".join(one.data[one.done :] for one in self.waiting), np.uint8).astype(np.int64)
        places = [one.address + np.arange(one.done, len(one.data)) * one.step for one in self.waiting]
        addresses = np.concatenate(places) % self.plan.chip.memory.size
        bytes_of, left = [], count
        for one in self.waiting:
            bytes_of.append(min(left, len(one.data) - one.done))
            left -= bytes_of[-1]
        return Landed(instants, addresses[:count], data[:count], bytes_of, moments[count:])

    def at_hand(self, instants: list[int]) -> list[Fraction]:
        """The moments at which bytes come into the queue where they land at ``instants``; in dots from line 0, in order."""
        if self.pace is None:
            return [Fraction(one.start) for one in self.waiting for _ in range(len(one.data) - one.done)]
        return [Fraction(moment, self.pace.unit) for moment in self._paced(self.pace, instants)[1]]

    def _unpaced(self, free: Ints) -> tuple[Ints, list[int]]:
        """The instants at which bytes land in ``free`` ones where every byte is at hand when its transfer begins."""
        starts = np.array([self.line.at(one.start) for one in self.waiting], np.int64)
        ready = starts.repeat([len(one.data) - one.done for one in self.waiting])
        # Each byte has the first free slot from when it is ready on, and one after the byte before: less their numbers
        # that is a running maximum. Gone through one by one, as at a CPU's pace, 4,096 bytes take 20 times as long.
        number = np.arange(len(ready))
        place = np.maximum.accumulate(np.searchsorted(free, ready) - number) + number
        return free[place[: int(np.searchsorted(place, len(free)))]], []

    def _paced(self, pace: Pace, free: list[int]) -> tuple[Ints, list[int]]:
        """The same at the CPU's pace, byte by byte; and the moments at which they and those left are at hand, where known."""
        moments: list[int] = []
        taken: list[int] = []
        landed: list[int] = []
        place, full = -1, False
        for known, start in self._bytes(pace):
            freed = len(moments) - pace.queue
            if freed >= len(landed):
                break  # no place of the queue is free for it yet
            if known is not None:
                moments.append(known)
            else:
                after = moments[-1:] + ([taken[freed]] if freed >= 0 else [])
                moments.append(max([*after, start]) if start is not None else max(after) + pace.byte)
            if not full:
                place = bisect_left(free, pace.instant(moments[-1]), place + 1)
                full = place == len(free)
            if not full:
                landed.append(free[place])
                taken.append(pace.begins(free[place]))
        return np.array(landed, np.int64), moments

    def _bytes(self, pace: Pace) -> Iterator[tuple[int | None, int | None]]:
        """For each byte that is left: when it is at hand, where that is known; of a transfer's first byte, its start."""
        for place, one in enumerate(self.waiting):
            known = [int(-(-moment * pace.unit // 1)) for moment in one.at_hand]  # rounded up to whole units
            for number in range(len(one.data) - one.done):
                first = not number and (not one.done or not place)
                yield known[number] if number < len(known) else None, one.start * pace.unit if first else None

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
        for record, one, count in zip(out, self.waiting, landed.bytes, strict=True):
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
        if self.first == self.last:
            return
        base = self.last * self.line.dots
        unit = self.pace.unit if self.pace else 1
        known = [max(Fraction(moment, unit) - base, Fraction(0)) for moment in landed.at_hand]
        left = []
        for one, count in zip(self.waiting, landed.bytes, strict=True):
            done = one.done + count
            if done < len(one.data):
                at_hand, known = known[: len(one.data) - done], known[len(one.data) - done :]
                left.append(one._replace(start=max(one.start - base, 0), done=done, at_hand=tuple(at_hand)))
        state.waiting = tuple(left)
        state.transfers += self.begun
