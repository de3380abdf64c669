"""Drawings of ``vdpsim/handoff`` as their parts: read back by a parser of XML, and measured."""

from __future__ import annotations

import itertools
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


class Path(NamedTuple):
    """A line from point to point, and its kind: ``dashed``, ``tip`` or none."""

    points: list[tuple[float, float]]
    kind: str

    def meets(self, area: Area) -> bool:
        """Whether some part of it, which goes straight across or down or is short, lies within ``area`` and not at its edge."""
        return any(_stretch(*ends).meets(area) for ends in itertools.pairwise(self.points))


class Read(NamedTuple):
    """A drawing: its sheet, its boxes with whether each is grey, its texts, what it says to whoever cannot see it, its lines."""

    sheet: Area
    boxes: list[tuple[Area, bool]]
    texts: list[Area]
    label: str
    paths: list[Path]


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
        [_path(one) for one in root.iter(f"{SVG}path")],
    )


def _path(one: ET.Element) -> Path:
    points = [place.split() for place in one.get("d", "").removeprefix("M").split(" L")]
    return Path([(float(x), float(y)) for x, y in points], one.get("class", ""))


def _stretch(start: tuple[float, float], end: tuple[float, float]) -> Area:
    """What a stretch of a line covers: a little to either side of it, and less than all of it at its ends."""
    (left, right), (top, bottom) = (sorted(pair) for pair in zip(start, end, strict=True))
    return Area(left - 0.2, top - 0.2, right + 0.2, bottom + 0.2)


def _box(one: ET.Element) -> Area:
    x, y, across, down = (float(one.get(name, "")) for name in ("x", "y", "width", "height"))
    return Area(x, y, x + across, y + down)


def _text(one: ET.Element) -> Area:
    """A text with its letters' feet and heads: a quarter of their height below the base line, three above."""
    x, base, wide = (float(one.get(name, "")) for name in ("x", "y", "textLength"))
    left = x - wide / 2 if one.get("text-anchor") == "middle" else x
    return Area(left, base - LETTER * 0.75, left + wide, base + LETTER * 0.25, one.text or "")
