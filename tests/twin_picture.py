"""The twin's picture: how wide and high it is in the frame in which a state stands, and how many lines of border lie below it.

Law: follows from the chip file's sizes and the control ``picture_size`` alone; a frame keeps the size that it begins with.
"""

from __future__ import annotations

from typing import NamedTuple

from vdpsim.state.state import State


class Picture(NamedTuple):
    """Dots of a line, lines, and the lines of border below them."""

    width: int
    height: int
    below: int


def picture_of(state: State) -> Picture:
    """The picture of the frame in which ``state`` stands."""
    frame = state.chip.frame
    if not frame.sizes:
        return Picture(frame.width, frame.height, frame.border.bottom)
    number = 0
    if "picture_size" in state.names:
        number = int(state.controls[state.names.index("picture_size")])
    width, height = frame.sizes[number]
    tallest = max(high for _, high in frame.sizes)
    above = frame.border.top + (tallest - height) // 2
    return Picture(width, height, frame.border.top + tallest + frame.border.bottom - above - height)
