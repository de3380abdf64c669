"""SVG 1.1, the little of it that drawings here need: lines, boxes and text that fits.

Law: whatever a text holds, it is text in the drawing and ends no tag. A text has the width that ``width_of`` says, whichever font
a viewer takes, as each is told its length (``textLength``, SVG 1.1, 10.5); so what was laid out without overlap is shown without.
Colours follow what the viewer prefers, light or dark (CSS Media Queries 5, ``prefers-color-scheme``); on paper they are light.
Knows no chip.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from typing import Literal
from xml.sax.saxutils import escape as escaped_xml
from xml.sax.saxutils import quoteattr

SIZE = 13
"""Height of the letters, in the drawing's units."""

EM = 0.6
"""The width of a letter in heights: what monospaced fonts have."""

TIP = 8
"""Length of an arrow's tip."""

Tone = Literal["", "still", "mark", "more"]
"""How a box is filled: as paper, grey for what does nothing, or in one of two colours that set things apart."""

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 (2.2, Char) allows nowhere."""

STYLE = """
.vd {
  color-scheme: light dark;
  --ink: #1a1a1a; --paper: #ffffff; --line: #555555; --still: #e4e4e4; --mark: #bcdcf2; --more: #f6d9a8;
}
@media screen and (prefers-color-scheme: dark) {
  .vd { --ink: #eeeeee; --paper: #161616; --line: #a0a0a0; --still: #3a3a3a; --mark: #1d4a68; --more: #634413; }
}
.vd text { font: 13px ui-monospace, "DejaVu Sans Mono", Consolas, Menlo, monospace; fill: var(--ink); white-space: pre; }
.vd .head { font-weight: bold; }
.vd rect { fill: var(--paper); stroke: var(--line); }
.vd .sheet { stroke: none; }
.vd .still { fill: var(--still); }
.vd .mark { fill: var(--mark); }
.vd .more { fill: var(--more); }
.vd path { fill: none; stroke: var(--line); }
.vd .dashed { stroke-dasharray: 5 3; }
.vd .tip { fill: var(--line); }
"""


def plain(text: str) -> str:
    """``text`` as the inside of an element of XML, with U+FFFD for what XML has no place for."""
    return escaped_xml(_NOT_XML.sub("\ufffd", text))


def width_of(text: str) -> float:
    """How wide a text is drawn, in the drawing's units: wide letters as two, marks that stand on others as none."""
    if text.isascii():
        return len(text) * SIZE * EM
    cells = 0
    for letter in text:
        wide = unicodedata.east_asian_width(letter) in "WF"
        cells += 0 if unicodedata.combining(letter) else 2 if wide else 1
    return max(cells, 1) * SIZE * EM if text else 0.0


def number(value: float) -> str:
    """A coordinate, to a tenth."""
    return f"{value:.1f}".removesuffix(".0")


def _sign(value: float) -> int:
    return (value > 0) - (value < 0)


class Drawing:
    """A drawing as it grows: it becomes as large as what is put there needs, with an empty ``edge`` around all."""

    def __init__(self, edge: float = 12) -> None:
        self.edge = edge
        self.right = self.bottom = edge
        self._parts: list[str] = []

    def text(self, x: float, y: float, what: str, *, middle: bool = False, head: bool = False) -> None:
        """Put ``what`` with its base line at ``y``, beginning at ``x`` or with its ``middle`` there; a ``head`` is bold."""
        if not what:
            return
        wide = width_of(what)
        kind = (' text-anchor="middle"' if middle else "") + (' class="head"' if head else "")
        length = f'textLength="{number(wide)}" lengthAdjust="spacingAndGlyphs"'
        at = f'x="{number(x)}" y="{number(y)}" xml:space="preserve"'
        self._put(f"<text {at} {length}{kind}>{plain(what)}</text>", x + (wide / 2 if middle else wide), y + SIZE / 2)

    def box(self, x: float, y: float, across: float, down: float, tone: Tone = "") -> None:
        """Put a box with its corner at ``x``, ``y``."""
        sides = f'x="{number(x)}" y="{number(y)}" width="{number(across)}" height="{number(down)}"'
        kind = f' class="{tone}"' if tone else ""
        self._put(f"<rect {sides}{kind}/>", x + across, y + down)

    def line(self, *points: tuple[float, float], dashed: bool = False) -> None:
        """Put a line from point to point."""
        self._path(points, ' class="dashed"' if dashed else "")

    def arrow(self, *points: tuple[float, float], dashed: bool = False) -> None:
        """Put a line from point to point with a tip at its last, whose last stretch goes straight across or down."""
        self.line(*points, dashed=dashed)
        (from_x, from_y), (x, y) = points[-2:]
        across, down = _sign(x - from_x) * TIP, _sign(y - from_y) * TIP
        side_x, side_y = down / 2, across / 2
        tip = ((x - across + side_x, y - down + side_y), (x, y), (x - across - side_x, y - down - side_y))
        self._path(tip, ' class="tip"')

    def svg(self, about: str) -> str:
        """All of it, as a file or as part of a page; ``about`` tells it to whoever cannot see it."""
        label, across, down = (
            _NOT_XML.sub("\ufffd", about),
            number(self.right + self.edge),
            number(self.bottom + self.edge),
        )
        size = f'width="{across}" height="{down}" viewBox="0 0 {across} {down}"'
        head = f'<svg xmlns="http://www.w3.org/2000/svg" class="vd" {size} role="img" aria-label={quoteattr(label)}>'
        sheet = f'<rect class="sheet" width="{across}" height="{down}"/>'
        return "\n".join([head, f"<style>{STYLE}</style>", sheet, *self._parts, "</svg>", ""])

    def _path(self, points: Sequence[tuple[float, float]], kind: str) -> None:
        path = " L".join(f"{number(x)} {number(y)}" for x, y in points)
        self._put(f'<path d="M{path}"{kind}/>', max(x for x, _ in points), max(y for _, y in points))

    def _put(self, part: str, right: float, bottom: float) -> None:
        self._parts.append(part)
        self.right, self.bottom = max(self.right, right), max(self.bottom, bottom)
