"""``vdpsim frame``: a frame's table for a common display."""

from __future__ import annotations

import argparse
from collections.abc import Iterable

import vdpsim
from vdpsim.door.shown import value

from ..completing.table import offers
from ..parsing import whole
from ..say import say

ABOUT = """\
Prints a [frame] table for a new chip file: dot clock, lines and border for a picture of WIDTHxHEIGHT on a display of
"525 lines", "625 lines" or "640x480", not interlaced. The numbers follow published timing; each has its source beside it.
If the hardware shows every line twice, give twice the height: the table counts the lines that the display gets."""
EXAMPLES = """\
examples:
  vdpsim frame "625 lines" 288x216                the fewest published dots per line that have room
  vdpsim frame "625 lines" 288x216 --dots 384     wider dots: 384 per line, blanking included
  vdpsim frame "525 lines" 256x224 > tern.chip.toml
  vdpsim frame 640x480 320x480                    each dot is two of the 640 wide
"""


MOST = 99_999
"""Dots or lines; which of them a display takes is looked up later."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    display = parser.add_argument("display", metavar="DISPLAY", help='"525 lines", "625 lines" or "640x480"')
    offers(display, _displays)
    parser.add_argument("size", metavar="WIDTHxHEIGHT", type=_size, help="dots and lines of the picture")
    parser.add_argument(
        "--dots", metavar="N", type=_dots, help="dots of a whole line (default: the fewest published number with room)"
    )


def _displays() -> Iterable[str]:
    from vdpsim.chip.line.displays import DISPLAYS  # noqa: PLC0415 - --help needs none of it

    return DISPLAYS


def run(options: argparse.Namespace) -> int:
    """Do it."""
    width, height = options.size
    say(vdpsim.frame_text(vdpsim.display_frame(options.display, width, height, options.dots)), end="")
    return 0


def _size(text: str) -> tuple[int, int]:
    """The size that ``text`` names, as 288x216."""
    across, _, down = text.partition("x")
    width, height = whole(across, 0, MOST), whole(down, 0, MOST)
    if width is None or height is None:
        raise argparse.ArgumentTypeError(f"must be WIDTHxHEIGHT such as 288x216, got {value(text)}")
    return width, height


def _dots(text: str) -> int:
    """The number that ``text`` is."""
    found = whole(text, 0, MOST)
    if found is None:
        raise argparse.ArgumentTypeError(f"must be a whole number of dots, got {value(text)}")
    return found
