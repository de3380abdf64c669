"""The CPU's pace: when it has a byte at hand, in units in which every moment is a whole number.

Law: the rule is that of DEVELOPERS.md, "The CPU's pace", for the engine and for budgets alike. Moments count from the
beginning of a line's slots; nothing is rounded. Plain Python. Knows no transfer and no free slot.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from ..model import Chip
from .rates import line_slots


@dataclass(frozen=True)
class Pace:
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
