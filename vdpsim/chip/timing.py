"""How often lines and frames come.

Law: rates follow from the frame's table alone, as exact fractions; rounding is the caller's. Knows only the model.
"""

from __future__ import annotations

from fractions import Fraction

from .model import FrameTable


def line_rate(frame: FrameTable) -> Fraction:
    """Lines a second, Hz, exactly.

    >>> from vdpsim.chip.model import FrameTable
    >>> vga = FrameTable(width=640, height=480, dot_clock=25_175_000, dots_per_line=800, lines_per_frame=525)
    >>> float(line_rate(vga))
    31468.75
    """
    return Fraction(frame.dot_clock, frame.dots_per_line)


def frame_rate(frame: FrameTable) -> Fraction:
    """Frames a second, Hz, exactly."""
    return line_rate(frame) / frame.lines_per_frame
