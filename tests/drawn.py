"""Drawings of ``vdpsim/handoff`` as their parts: read back by a parser of XML, and measured."""

from __future__ import annotations

from typing import NamedTuple
from xml.etree import ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"
LETTER = 13
"""Height of the letters of ``drawing/svg.py``."""


class Area(NamedTuple):
    """What something covers, and the text that it is, if it is one."""

    left: float
    top: float
    right: float
    bottom: float
    text: str = ""

    def meets(self, other: Area) -> bool:
        """Whether both cover some place."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def within(self, other: Area) -> bool:
        """Whether all of it lies in the other."""
        return (
            other.left <= self.left
            and self.right <= other.right
            and other.top <= self.top
            and self.bottom <= other.bottom
        )


class Read(NamedTuple):
    """A drawing: its sheet, its boxes with whether each is grey, its texts, and what it says to whoever cannot see it."""

    sheet: Area
    boxes: list[tuple[Area, bool]]
    texts: list[Area]
    label: str


def read(svg: str | bytes) -> Read:
    """The parts of a drawing; that it has no others is checked."""
    root = ET.fromstring(svg)  # noqa: S314 - what this project wrote itself
    assert root.tag == f"{SVG}svg"
    kinds = {one.tag.removeprefix(SVG) for one in root.iter()}
    assert kinds <= {"svg", "style", "rect", "text", "path"}, kinds
    sheet, *boxes = root.iter(f"{SVG}rect")
    return Read(
        Area(0, 0, float(sheet.get("width", "")), float(sheet.get("height", ""))),
        [(_box(one), one.get("class") == "still") for one in boxes],
        [_text(one) for one in root.iter(f"{SVG}text")],
        root.get("aria-label", ""),
    )


def _box(one: ET.Element) -> Area:
    x, y, across, down = (float(one.get(name, "")) for name in ("x", "y", "width", "height"))
    return Area(x, y, x + across, y + down)


def _text(one: ET.Element) -> Area:
    """A text with its letters' feet and heads: a quarter of their height below the base line, three above."""
    x, base, wide = (float(one.get(name, "")) for name in ("x", "y", "textLength"))
    left = x - wide / 2 if one.get("text-anchor") == "middle" else x
    return Area(left, base - LETTER * 0.75, left + wide, base + LETTER * 0.25, one.text or "")
