"""The sizes of its picture at which registers let a chip be.

Law: a size is reached where the field that sets it can hold its number, or where it is wired.
"""

from __future__ import annotations

from ..controls import PICTURE_SIZE
from ..model import Chip
from .fields import field_names, rest_values


def at_sizes(chip: Chip) -> tuple[Chip, ...]:
    """The chip at each size of its picture that its registers let it have."""
    every, field = chip.each_size, field_names(chip).get(PICTURE_SIZE)
    if len(every) == 1:
        return every
    numbers = range(0, field.top + 1, field.step) if field else (rest_values(chip)[PICTURE_SIZE],)
    return tuple(every[number] for number in numbers)


def at_largest(chip: Chip) -> Chip:
    """The chip at the size with most dots that its registers let it have; of equals the first."""
    return max(at_sizes(chip), key=lambda one: one.frame.width * one.frame.height)
