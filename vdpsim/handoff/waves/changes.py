"""What each signal is over a line's time, from a frame that was drawn.

Law: a signal is a run of values, each from a tick of the line on; the first is from tick 0. A line's time is that of its
slots: the blanking before it, then its dots. The dots of that blanking count on from the line before. Knows no file.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.model import Chip
from ...engine.frame import Result
from .moments import Moments, slots_of
from .queue import Held
from .signals import UNKNOWN

Value = int | str
Ints = npt.NDArray[np.int64]


class Run(NamedTuple):
    """A signal's values, each from its tick on; ticks rise."""

    signal: str
    ticks: Sequence[int | Fraction]
    values: Sequence[Value]

    def changes(self) -> Iterator[tuple[int | Fraction, Value]]:
        """Ticks at which the value becomes another, and the first."""
        last: Value | None = None
        for tick, value in zip(self.ticks, self.values, strict=True):
            if value != last:
                yield tick, value
                last = value


class Before(NamedTuple):
    """The line before the first one: its frame, its number, its dots."""

    frame: int
    line: int
    width: int


class Lines:
    """The lines of a drawn frame of a ``chip`` at its size; ``held`` is of the CPU's queue, ``before`` the line before line 0."""

    def __init__(self, chip: Chip, drawn: Result, held: Held, before: Before | None) -> None:
        self.chip, self.drawn, self.held, self.before = chip, drawn, held, before
        self.moments, self.slots = Moments(chip), slots_of(chip)
        self.ahead, self.width = self.slots.ahead, chip.frame.width
        self.flags: dict[tuple[int, str], list[int]] = {}
        for line, dot, flag in drawn.raised.tolist():
            self.flags.setdefault((line, flag), []).append(dot)
        trace = drawn.trace
        ends = np.arange(chip.frame.lines_per_frame + 1)
        self.of_line = np.zeros(0, np.int64) if trace is None else np.searchsorted(trace["line"], ends)

    def runs(self, line: int) -> Iterator[Run]:
        """Every signal of a line's time."""
        yield from self._sync(line)
        yield from self._place(line)
        yield from self._shown(line)
        yield from self._raised(line)
        if self.chip.time:
            yield from self._accesses(line)

    def _at(self, *dots: int) -> list[int]:
        """Ticks at which dots of the line begin; -1 is the last before dot 0."""
        return [(self.ahead + dot) * self.moments.dot for dot in dots]

    def _from(self, signal: str, earlier: Value, later: Value) -> Run:
        """A value in the blanking, if there is any, and another from dot 0 on."""
        ticks, values = [0, *self._at(0)], [earlier, later]
        return Run(signal, ticks, values) if self.ahead else Run(signal, ticks[1:], values[1:])

    def _pulse(self, signal: str, dots: Sequence[int]) -> Run:
        """1 while one of ``dots`` lasts."""
        around = sorted({at for dot in dots for at in (dot, dot + 1)} | {-self.ahead})
        return Run(signal, self._at(*around), [int(at in dots) for at in around])

    def _sync(self, line: int) -> Iterator[Run]:
        yield self._from("sync.line_blank", 1, 0)
        yield Run("sync.frame_blank", [0], [int(line >= self.chip.frame.height)])
        yield self._pulse("sync.line_start", [0])
        yield self._pulse("sync.frame_start", [] if line else [0])

    def _place(self, line: int) -> Iterator[Run]:
        """Which dot it is; in the blanking one of the line before."""
        frame, before = self.drawn.frame, Before(self.drawn.frame, line - 1, self.width) if line else self.before
        yield self._from("time.frame", before.frame if before else UNKNOWN, frame)
        yield self._from("time.line", before.line if before else UNKNOWN, line)
        blank = [before.width + dot if before else UNKNOWN for dot in range(self.ahead)]
        ticks = range(0, (self.ahead + self.width) * self.moments.dot, self.moments.dot)
        yield Run("time.dot", ticks, [*blank, *range(self.width)])

    def _shown(self, line: int) -> Iterator[Run]:
        """What shows at each dot of the picture."""
        drawn, row = self.drawn, line - self.drawn.first
        if row >= drawn.height:
            yield from (
                Run(f"picture.{name}", [0], [UNKNOWN]) for name in ("entry", "colour", "source", "rung", "sprite")
            )
            return
        red, green, blue = drawn.rgb[row].astype(np.int64).T
        shown = {
            "entry": drawn.indices[row],
            "colour": red << 16 | green << 8 | blue,
            "source": drawn.source[row],
            "rung": drawn.rung[row],
            "sprite": drawn.sprite[row].astype(np.uint16),  # -1, for none, is all ones
        }
        ticks = [*([0] if self.ahead else []), *self._at(*range(self.width))]
        for name, values in shown.items():
            yield Run(f"picture.{name}", ticks, [*([UNKNOWN] if self.ahead else []), *values.tolist()])

    def _raised(self, line: int) -> Iterator[Run]:
        for flag in self.chip.status.bits if self.chip.status else {}:
            yield self._pulse(f"flag.{flag}", self.flags.get((line, flag), []))

    def _accesses(self, line: int) -> Iterator[Run]:
        """Who has which slot, and what is read or written there."""
        assert self.drawn.trace is not None
        begin, end = self.of_line[line : line + 2]
        records, cpu = self.drawn.trace[begin:end], len(self.drawn.log.clients) + 1
        slot = records["slot"].tolist()
        yield Run("access.of_line", [0], [line])
        yield self._of_slots("access.slot", list(range(self.slots.slots)), UNKNOWN)
        yield self._of_slots("access.busy", _spread(self.slots.slots, 0, slot, [1] * len(slot)), 0)
        for name, column in (("client", "client"), ("address", "address"), ("data", "value")):
            values = _spread(self.slots.slots, UNKNOWN, slot, records[column].tolist())
            yield self._of_slots(f"access.{name}", values, UNKNOWN)
        lands = (records["client"] == cpu).astype(int).tolist()
        yield self._of_slots("cpu.lands", _spread(self.slots.slots, 0, slot, lands), 0)
        yield self._queue(line)

    def _of_slots(self, signal: str, values: list[Value], rest: Value) -> Run:
        """A value for each slot, and ``rest`` in what is left of the line after them."""
        ticks = list(range(0, self.slots.slots * self.moments.slot, self.moments.slot))
        if (end := self.slots.slots * self.moments.slot) < self.moments.line:
            ticks, values = [*ticks, end], [*values, rest]
        return Run(signal, ticks, values)

    def _queue(self, line: int) -> Run:
        """How many bytes of the CPU's are held."""
        begin, end = (Fraction(at * self.slots.dots) for at in (line, line + 1))
        first = bisect_right(self.held, begin, key=_moment)
        steps = self.held[first : bisect_left(self.held, end, key=_moment)]
        before = self.held[first - 1][1] if first else 0
        ticks = [(moment - begin) * self.moments.dot for moment, _ in steps]
        return Run("cpu.queue", [0, *ticks], [before, *(count for _, count in steps)])


def _moment(step: tuple[Fraction, int]) -> Fraction:
    return step[0]


def _spread(count: int, idle: Value, places: Sequence[int], values: Sequence[Any]) -> list[Value]:
    """``count`` values: those of ``places``, and ``idle`` elsewhere."""
    found = [idle] * count
    for place, value in zip(places, values, strict=True):
        found[place] = value
    return found
