"""The scale of a picture of differences: a wedge from black to white, with its ends in numbers.

Law: the same for every such picture. Knows nothing of what is shown.
"""

from __future__ import annotations

from PIL import Image, ImageDraw

from .captions import write_lines
from .dots import FULL
from .paper import DIM, INK

FIELDS, SIDE = 16, 8
"""Fields of a wedge, from black to white, and dots across of each, with letters of their own size."""

WEDGE_HIGH = 2 * SIDE
"""Dots down of a wedge."""


def wedge(picture: Image.Image, place: tuple[int, int], size: int) -> None:
    """The scale of a difference, with its upper left corner at ``place``: from alike, black, to FULL and more, white."""
    (left, top), side = place, SIDE * size
    pen = ImageDraw.Draw(picture)
    for step in range(FIELDS):
        grey = 255 * step // (FIELDS - 1)
        pen.rectangle((left + step * side, top, left + step * side + side - 1, top + 2 * side - 1), (grey, grey, grey))
    pen.rectangle((left, top, left + FIELDS * side - 1, top + 2 * side - 1), outline=DIM)
    write_lines(pen, (left + (FIELDS + 1) * side, top + 2 * size), [f"0 to {FULL} or more"], INK, size=size)
