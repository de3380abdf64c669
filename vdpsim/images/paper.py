"""The paper that pictures with text are on: its colours, letters in Pillow's own bitmap font, and the scale of differences.

Law: the same text gives the same dots with the same release of Pillow. What the font does not have shows as ``?``. The scale is
the same for every picture of differences: a wedge from black to white, with its ends in numbers. Pillow is loaded when something
is written. Knows nothing of what pictures show.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from .png import FULL

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

PAPER, INK, DIM = (244, 241, 234), (36, 36, 44), (104, 99, 90)
"""The ground, light as paper; text on it; what is beside the point. Both can be read on the ground."""

LETTER = 6
"""Dots from a letter to the next."""

LINE = 14
"""Dots from a line to the next, where nothing else is said."""


FIELDS, SIDE = 16, 8
"""Fields of a wedge, from black to white, and dots across of each, with letters of their own size."""

WEDGE_HIGH = 2 * SIDE
"""Dots down of a wedge."""


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


def write_lines(
    pen: ImageDraw.ImageDraw,
    place: tuple[int, int],
    lines: Iterable[str],
    ink: tuple[int, int, int],
    *,
    step: int = LINE,
    size: int = 1,
) -> None:
    """Write ``lines`` below each other, from the upper left corner ``place`` (x, y) on, ``step`` dots apart.

    Each dot of a letter is ``size`` x ``size``, and ``step`` grows with it.
    """
    from PIL import Image, ImageDraw, ImageFont  # noqa: PLC0415 - most pictures have no text

    font = ImageFont.load_default_imagefont()
    left, top = place
    for number, line in enumerate(lines):
        text = line.encode("latin-1", "replace").decode("latin-1")  # all that the font has
        mask = Image.new("L", (max(LETTER * len(text), 1), LINE), 0)
        ImageDraw.Draw(mask).text((0, 0), text, fill=255, font=font)
        if size > 1:
            mask = mask.resize((mask.width * size, mask.height * size), Image.Resampling.NEAREST)
        pen.bitmap((left, top + number * step * size), mask, fill=ink)


def wedge(picture: Image.Image, place: tuple[int, int], size: int) -> None:
    """The scale of a difference, with its upper left corner at ``place``: from alike, black, to FULL and more, white."""
    from PIL import ImageDraw  # noqa: PLC0415 - as above

    (left, top), side = place, SIDE * size
    pen = ImageDraw.Draw(picture)
    for step in range(FIELDS):
        grey = 255 * step // (FIELDS - 1)
        pen.rectangle((left + step * side, top, left + step * side + side - 1, top + 2 * side - 1), (grey, grey, grey))
    pen.rectangle((left, top, left + FIELDS * side - 1, top + 2 * side - 1), outline=DIM)
    write_lines(pen, (left + (FIELDS + 1) * side, top + 2 * size), [f"0 to {FULL} or more"], INK, size=size)
