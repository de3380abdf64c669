"""The first frame with dots that differ as a picture: what was expected, what came, and where they differ.

Law: follows from the result alone. Where they differ is white on the expected picture, dimmed to a quarter, so that it is seen
without telling colours apart. A dot of which nothing came is as in the background of the picture.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from ....door.given import MOST_DOTS, whole_number
from ....images.paper import LINE, write_lines
from ....images.png import larger
from ...records.parsing import Columns
from ..found import Found

LARGEST = 8
GAP = 8
PAPER, INK = (24, 24, 24), (232, 232, 232)

Dots = npt.NDArray[np.uint8]


def picture_of(result: Found, scale: int = 1) -> Image.Image:
    """The pictures beside each other, each dot ``scale`` x ``scale`` (1 to 8).

    Raises ValueError where no dots differ, for another scale, or for a picture of more than 67,108,864 dots.
    """
    scale = whole_number("scale", scale, 1, LARGEST)
    one = result.differing
    if one is None:
        raise ValueError("no dots differ: there is nothing to draw")
    size = result.index.height, result.index.width
    expected, colours = _laid(one.expected, size), _colours(one.expected)
    came = _laid({**one.came, "colour": one.came.get("colour", colours[one.came["entry"] % len(colours)])}, size)
    wrong = one.wrong.reshape(size)
    where = np.where(wrong[..., None], np.uint8(255), expected // 4)
    titles = f"frame {one.frame}: expected", "came", f"{int(wrong.sum())} dots differ: white"
    wide, high = size[1] * scale, size[0] * scale
    across, down = 3 * wide + 4 * GAP, high + LINE + 3 * GAP
    if across * down > MOST_DOTS:
        raise ValueError(f"scale must leave at most {MOST_DOTS:,} dots, got {scale}: {across} x {down}")
    picture = Image.new("RGB", (across, down), PAPER)
    pen = ImageDraw.Draw(picture)
    for number, (title, dots) in enumerate(zip(titles, (expected, came, where), strict=True)):
        left = GAP + number * (wide + GAP)
        write_lines(pen, (left, GAP), [title], INK)
        picture.paste(Image.fromarray(larger(dots, scale)), (left, 2 * GAP + LINE))
    return picture


def _laid(columns: Columns, size: tuple[int, int]) -> Dots:
    """Colours by their places, uint8 (lines, dots, 3)."""
    out = np.full((*size, 3), PAPER, np.uint8)
    line, dot, colour = columns["line"], columns["dot"], columns["colour"]
    inside = (line >= 0) & (line < size[0]) & (dot >= 0) & (dot < size[1])
    channels = np.stack([colour >> 16 & 255, colour >> 8 & 255, colour & 255], axis=-1)
    out[line[inside], dot[inside]] = channels[inside]
    return out


def _colours(expected: Columns) -> npt.NDArray[np.int64]:
    """The colour of each entry as far as the expected frame shows it, a middle grey elsewhere."""
    colours = np.full(4096, 0x808080, np.int64)
    colours[expected["entry"]] = expected["colour"]
    return colours
