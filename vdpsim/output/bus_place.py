"""Where in the picture of the line's time everything lies, and in which colours what is around the slots is drawn.

Law: numbers alone, in dots of the picture; draws nothing. What is around the slots is ``letter`` times as large as its
constants say, so that letters and the room for them grow together.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..engine.frame import SlotLog
from ..images.paper import letter_size
from .frame import Frame

LATE = (200, 30, 30)
"""The mark of a line with missed accesses."""

LEFT, TOP, RIGHT = 64, 38, 86
"""Room beside the slots: for the lines' numbers, for the slots' numbers, for what the lines are."""

GAP = 5
"""Dots between blank and active slots, and between the picture's lines and those below it: room for the edge."""


@dataclass(frozen=True)
class BusPlace:
    """Where the slot of a line lies.

    There are ``lines`` from ``first`` on, the upper ``shown`` of them the picture's; each has ``slots``, of which the first
    ``blank`` are over before its dot 0. A slot is ``scale`` x ``scale`` dots, a letter's dot ``letter`` x ``letter``.
    """

    first: int
    lines: int
    shown: int
    slots: int
    blank: int
    scale: int

    @classmethod
    def of(cls, frame: Frame, slots: SlotLog, scale: int) -> BusPlace:
        """The place of ``frame``."""
        return cls(slots.first, len(slots.counts), frame.height, slots.per_line, frame.blank, scale)

    @property
    def letter(self) -> int:
        """How large the dots of letters are."""
        return letter_size(self.scale)

    @property
    def right(self) -> int:
        """The right end of all slots."""
        return self.x(self.slots)

    @property
    def below(self) -> int:
        """The lower end of all lines."""
        return self.y(self.lines)

    def x(self, slot: int) -> int:
        """The left of a slot; that of ``slots`` is the right end of all."""
        return LEFT * self.letter + slot * self.scale + (GAP if slot >= self.blank else 0)

    def y(self, row: int) -> int:
        """The top of a line's row; that of ``lines`` is the lower end of all."""
        return TOP * self.letter + row * self.scale + (GAP if row >= self.shown else 0)

    @property
    def panels(self) -> list[tuple[slice, slice]]:
        """Rows and slots of each of the four parts: before, in, and below the picture. Empty ones are left out."""
        rows = (slice(0, self.shown), slice(self.shown, self.lines))
        across = (slice(0, self.blank), slice(self.blank, self.slots))
        return [
            (down, along) for down in rows for along in across if down.start < down.stop and along.start < along.stop
        ]
