"""Lines of text on a picture, in Pillow's own bitmap font.

Law: the same text gives the same dots with the same release of Pillow. What the font does not have shows as ``?``. Knows pictures
and nothing of what they show.
"""

from __future__ import annotations

from collections.abc import Iterable

from PIL import Image, ImageDraw, ImageFont

from .paper import LETTER, LINE


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
    font = ImageFont.load_default_imagefont()
    left, top = place
    for number, line in enumerate(lines):
        text = line.encode("latin-1", "replace").decode("latin-1")  # all that the font has
        mask = Image.new("L", (max(LETTER * len(text), 1), LINE), 0)
        ImageDraw.Draw(mask).text((0, 0), text, fill=255, font=font)
        if size > 1:
            mask = mask.resize((mask.width * size, mask.height * size), Image.Resampling.NEAREST)
        pen.bitmap((left, top + number * step * size), mask, fill=ink)
