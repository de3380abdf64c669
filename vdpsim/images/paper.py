"""The paper that pictures with text are on: its colours, and how large letters are.

Law: numbers alone; loads nothing.
"""

from __future__ import annotations

PAPER, INK, DIM = (244, 241, 234), (36, 36, 44), (104, 99, 90)
"""The ground, light as paper; text on it; what is beside the point. Both can be read on the ground."""

LETTER = 6
"""Dots from a letter to the next."""

LINE = 14
"""Dots from a line to the next, where nothing else is said."""


def letter_size(scale: int) -> int:
    """How large the dots of letters are beside a picture whose dots are ``scale`` x ``scale``: half as large, rounded up."""
    return (scale + 1) // 2


def step_of(least: int, scale: float) -> int:
    """The smallest of 1, 2, 5, 10, 20, 50, ... that is ``least`` dots or more, each ``scale`` dots."""
    tens = 1
    while True:
        for step in (tens, 2 * tens, 5 * tens):
            if step * scale >= least:
                return step
        tens *= 10
