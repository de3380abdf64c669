"""A frame to scale: picture, border and blanking in order of time.

Law: the picture lies within the border, and both within the whole frame; each says its size beside it. Knows no slot.
"""

from __future__ import annotations

from typing import NamedTuple

from ....chip.model import Chip
from ...drawing.svg import Drawing, Tone
from .spread import spread

WIDE, HIGH, LINE, AWAY = 420.0, 300.0, 18.0, 30.0
"""Size of the whole frame, height of a line of text, and how far at the right of the frame the texts stand."""


class _Area(NamedTuple):
    """Dots and lines of a frame, from its first on, and what they are."""

    what: str
    x: int
    y: int
    across: int
    down: int
    tone: Tone

    @property
    def size(self) -> str:
        """Its size in words."""
        return f"{self.across} dots x {self.down} lines"


def frame_drawn(chip: Chip) -> str:
    """The drawing."""
    made, areas = Drawing(), _areas(chip)
    edge, step_x, step_y = made.edge, WIDE / areas[0].across, HIGH / areas[0].down
    for one in areas:
        made.box(edge + one.x * step_x, edge + one.y * step_y, one.across * step_x, one.down * step_y, one.tone)
    corners = [(edge + (one.x + one.across) * step_x, edge + one.y * step_y) for one in areas]
    places = spread([y + LINE for _, y in corners], [2.5 * LINE] * len(areas), edge - LINE / 4, edge + HIGH)
    for number, (one, (x, y), at) in enumerate(zip(areas, corners, places, strict=True)):
        text, turn = edge + WIDE + AWAY, edge + WIDE + AWAY - 7 * (number + 1)
        made.line((x, y), (turn, y), (turn, at - LINE / 2), (text, at - LINE / 2))
        made.text(text + 5, at - LINE / 2 + 4, one.what, head=True)
        made.text(text + 5, at + LINE / 2 + 4, one.size)
    return made.svg(f"A frame: {'; '.join(f'{one.what} {one.size}' for one in areas)}")


def _areas(chip: Chip) -> list[_Area]:
    """The whole frame, its border where it has one, and the picture: what lies in another comes after it."""
    frame, border = chip.frame, chip.frame.border
    across, down = frame.width + border.left + border.right, frame.height + border.top + border.bottom
    x, y = frame.dots_per_line - frame.width - border.right, frame.lines_per_frame - frame.height - border.bottom
    found = [_Area("whole frame", 0, 0, frame.dots_per_line, frame.lines_per_frame, "still")]
    if (across, down) != (frame.width, frame.height):
        found.append(_Area("border and picture", x - border.left, y - border.top, across, down, "mark"))
    return [*found, _Area("picture", x, y, frame.width, frame.height, "")]
