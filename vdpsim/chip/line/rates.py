"""How often lines and frames come, which slots of the memory lie where in a line, and when the CPU has a byte at hand.

Law: rates follow from the chip's tables alone, as exact fractions; rounding is the caller's. A line's slots begin with the
blanking before it: what stands here is the one place where dots become slots. The CPU's pace is that of DEVELOPERS.md, "The
CPU's pace", for the engine and for budgets alike, in units in which every moment is a whole number; moments count from the
beginning of a line's slots. Knows no transfer and no free slot.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm
from typing import NamedTuple

from ...door.given import instance
from ..model import Chip
from ..tables.basics import FrameTable


def line_rate(frame: FrameTable) -> Fraction:
    """Lines a second, Hz, exactly.

    >>> from vdpsim.chip.model import FrameTable
    >>> vga = FrameTable(width=640, height=480, dot_clock=25_175_000, dots_per_line=800, lines_per_frame=525)
    >>> float(line_rate(vga))
    31468.75
    """
    instance("frame", frame, FrameTable)
    return Fraction(frame.dot_clock, frame.dots_per_line)


def frame_rate(frame: FrameTable) -> Fraction:
    """Frames a second, Hz, exactly."""
    return line_rate(frame) / frame.lines_per_frame


class LineSlots(NamedTuple):
    """A line's slots: those of the blanking before it, then those of its active dots.

    ``rate`` accesses a dot; ``dots`` of a line, of which ``ahead`` are blanking (the right border counts among them);
    ``slots`` whole accesses that a line has, ``blank`` of them over before dot 0. A fraction that is left at a line's end is
    lost.
    """

    rate: Fraction
    dots: int
    ahead: int
    slots: int
    blank: int

    def before(self, dot: int) -> int:
        """How many of a line's slots are over when ``dot`` shows: so many of the first ones come in time for it."""
        return (self.ahead + dot) * self.rate.numerator // self.rate.denominator

    def from_dot(self, dot: int) -> int:
        """The first slot that begins at ``dot`` or later; dots before the line's blanking count as its beginning."""
        return max(0, -(-(self.ahead + dot) * self.rate.numerator // self.rate.denominator))

    def at(self, dot: int) -> int:
        """The first slot from a moment on, both counted from the beginning of a frame's first line, whose slot 0 is 0."""
        line, rest = divmod(dot, self.dots)
        return line * self.slots + min(self.slots, -int(-rest * self.rate // 1))


def line_slots(chip: Chip) -> LineSlots:
    """The slots of each line of ``chip``. Raises ValueError where it does not say how fast its memory is."""
    rate, frame = chip.memory.accesses_per_dot, chip.frame
    if rate is None:
        raise ValueError(f"{chip.name} has no memory.accesses_per_dot")
    ahead = frame.dots_per_line - frame.width
    return LineSlots(rate, frame.dots_per_line, ahead, int(frame.dots_per_line * rate), int(ahead * rate))


class Pace(NamedTuple):
    """``unit``: units a dot; ``line``, ``slot`` and ``byte``: units of a line, of a slot, and of the CPU's loop for a byte.

    ``queue``: bytes that the chip holds; ``slots`` of a line.
    """

    queue: int
    unit: int
    line: int
    slot: int
    byte: int
    slots: int

    @classmethod
    def of(cls, chip: Chip) -> Pace | None:
        """The pace of a chip with a time table; None without a ``cpu`` table: as fast as the slots."""
        if chip.cpu is None:
            return None
        line = line_slots(chip)
        byte = Fraction(chip.cpu.cycles_per_byte * chip.frame.dot_clock, chip.cpu.clock)
        unit = lcm(byte.denominator, line.rate.numerator)
        return cls(chip.cpu.queue, unit, line.dots * unit, int(unit / line.rate), int(byte * unit), line.slots)

    def first_slot(self, moment: int) -> int:
        """The first slot of the line that begins at ``moment`` or later; ``slots`` where none does."""
        return min(self.slots, max(0, -(-moment // self.slot)))

    def instant(self, moment: int) -> int:
        """The same for a moment of any line: line x slots + slot, both from the line with which moments begin."""
        line, rest = divmod(moment, self.line)
        return line * self.slots + self.first_slot(rest)

    def begins(self, instant: int) -> int:
        """The moment at which the slot at an instant begins."""
        line, slot = divmod(instant, self.slots)
        return line * self.line + slot * self.slot
