"""What the signals of a dump do, as far as its first changes tell: how they count, which values they have, how regular they are.

Law: says what was seen and judges nothing. Of a signal that changes several times at one time the last value counts, as it does
for whoever looks at the dump. A value that is not known is no value: what comes after it is no change from it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from .dump import WIDEST, Change, Dump, Signal

LOOKED = 1 << 20
"""Changes that are looked at: more than a frame's of a large picture with its clock."""

MOST_VALUES, MOST_ENDS = 1 << 12, 4
"""How many values of a signal are kept; how many spans of time, and how many numbers that it falls from and to."""

MOST_RUNS = 1 << 14
"""Runs of a signal that are kept."""


@dataclass(slots=True)
class Habit:
    """What a signal does. ``ups``: changes to the next number; ``falls``: to a smaller one; ``jumps``: to a larger one.

    ``values``: how often it changed to each. ``spans``: times from a change to the next, as many as differ.
    """

    ups: int = 0
    falls: int = 0
    jumps: int = 0
    now: int = -1
    since: int = -1
    fallen_from: set[int] = field(default_factory=set)
    fallen_to: set[int] = field(default_factory=set)
    values: Counter[int] = field(default_factory=Counter)
    spans: set[int] = field(default_factory=set)

    @property
    def changes(self) -> int:
        """How often it changed from a known value to another."""
        return self.ups + self.falls + self.jumps

    def sees(self, value: int, time: int) -> None:
        """It becomes ``value`` at ``time``."""
        before, self.now = self.now, value
        if value < 0 or value == before:
            return
        if len(self.values) < MOST_VALUES or value in self.values:
            self.values[value] += 1
        if before < 0:
            return
        if value == before + 1:
            self.ups += 1
        elif value > before:
            self.jumps += 1
        else:
            self.falls += 1
            _keep(self.fallen_from, before)
            _keep(self.fallen_to, value)
        if self.since >= 0:
            _keep(self.spans, time - self.since)
        self.since = time


def _keep(several: set[int], one: int) -> None:
    if len(several) < MOST_ENDS:
        several.add(one)


def habits(dump: Dump, signals: Iterable[Signal]) -> dict[bytes, Habit]:
    """What each of ``signals`` does, by its id code; of those that are too wide nothing."""
    found = {one.code: Habit() for one in signals if one.bits <= WIDEST}
    ones = list(found.values())
    for time, changes in _times(dump, found):
        for number, value in changes.items():
            ones[number].sees(value, time)
    return found


@dataclass(slots=True)
class Runs:
    """For how many rises of a clock a signal stays at 0 and at 1: how often each length, in order of ``every`` run."""

    at: int = 0
    now: int = -1
    whole: bool = False
    every: list[tuple[int, int]] = field(default_factory=list)

    def sees(self, value: int, clocks: int) -> None:
        """It becomes ``value`` after so many rises; a rise of the same time was before it."""
        if value == self.now:
            return
        if self.whole and self.now >= 0 and len(self.every) < MOST_RUNS:
            self.every.append((self.now, clocks - self.at))
        self.whole, self.at, self.now = self.now >= 0, clocks, value


def runs(dump: Dump, clock: bytes, codes: Sequence[bytes], *, falling: bool = False) -> dict[bytes, Runs]:
    """The runs of the one-bit signals ``codes``, in rises of ``clock`` (``falling``: in falls)."""
    found = {clock: Runs(), **{code: Runs() for code in codes}}
    ones, clocks, ticks = list(found.values()), 0, 0 if falling else 1
    for _, changes in _times(dump, found):
        if 0 in changes and ones[0].now != changes[0]:
            clocks += changes[0] == ticks
            ones[0].now = changes[0]
        for number, value in changes.items():
            if number:
                ones[number].sees(value, clocks)
    return {code: each for code, each in found.items() if code != clock}


def _times(dump: Dump, codes: Iterable[bytes]) -> Iterator[tuple[int, Mapping[int, int]]]:
    """The first changes of a dump, time by time: the last value of each signal there."""
    left = LOOKED
    changes: list[Change]
    for changes in dump.changes({code: number for number, code in enumerate(codes)}):
        yield dump.now, dict(changes)
        left -= len(changes)
        if left < 0:
            return
