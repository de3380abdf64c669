"""What draws text and lines on the picture of the line's time, in one font and one size.

Law: knows places in dots and colours, and nothing of what they show.
"""

from __future__ import annotations

from PIL import Image, ImageDraw

from ..images.paper import INK, write_lines

Colour = tuple[int, int, int]


class Pen:
    """Draws on ``picture``; each dot of a letter is ``size`` x ``size``."""

    def __init__(self, picture: Image.Image, size: int) -> None:
        self.picture, self.size, self._draw = picture, size, ImageDraw.Draw(picture)

    def text(self, x: int, y: int, text: str, colour: Colour = INK) -> None:
        """``text`` with its upper left corner at (x, y)."""
        write_lines(self._draw, (x, y), [text] if text else [], colour, size=self.size)

    def box(self, left: int, top: int, right: int, bottom: int, colour: Colour = INK) -> None:
        """All dots from (left, top) to (right, bottom), both included."""
        self._draw.rectangle((left, top, right, bottom), fill=colour)

    def edge(self, left: int, top: int, right: int, bottom: int, colour: Colour = INK) -> None:
        """The outermost dots of such a box."""
        self._draw.rectangle((left, top, right, bottom), outline=colour)
