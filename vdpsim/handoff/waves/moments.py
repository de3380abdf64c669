"""Moments of a frame's lines in whole picoseconds.

Law: a moment is exact until it is rounded down, once. Within a line moments count in ticks, of which a dot has ``dot`` and a
slot ``slot``, so that both are whole numbers of them; frames and lines follow each other without a gap, whatever sizes their
pictures have.
"""

from __future__ import annotations

from fractions import Fraction

from ...chip.line.rates import LineSlots, line_slots
from ...chip.model import Chip

PICOSECONDS = 10**12
"""A second."""


def slots_of(chip: Chip) -> LineSlots:
    """The slots of a line of a chip at its size; no slot, and a tick a dot, where it has no time table."""
    if chip.time:
        return line_slots(chip)
    frame = chip.frame
    return LineSlots(Fraction(1), frame.dots_per_line, frame.dots_per_line - frame.width, 0, 0)


class Moments:
    """Ticks of a chip's lines: of a ``dot``, of a ``slot``, of a whole ``line``, and of the blanking ``ahead`` of its dot 0."""

    def __init__(self, chip: Chip) -> None:
        slots = slots_of(chip)
        self.dot, self.slot = slots.rate.numerator, slots.rate.denominator
        self.line, self.ahead = slots.dots * self.dot, slots.ahead * self.dot
        self._lines, self._second = chip.frame.lines_per_frame, self.dot * chip.frame.dot_clock

    def begin(self, frame: int, line: int) -> int:
        """The tick with which the slots of a line of a frame of the scene begin, counted from frame 0."""
        return (frame * self._lines + line) * self.line

    def picoseconds(self, ticks: int | Fraction) -> int:
        """Ticks from frame 0 as picoseconds, rounded down."""
        return int(ticks * PICOSECONDS // self._second)
