"""Frames of several chips as one picture: each with its name, and below them how far each is from the first.

Law: a picture follows from the comparison alone, and whoever sees it needs no other paper to read it. In a difference black is
alike, and a dot is the brighter the further its furthest channel is from the first picture's: white is 64 of 255 or more; a
wedge says so. Knows Pillow and no chip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from ..door.given import MOST_DOTS, instance, whole_number
from ..images.paper import DIM, INK, LETTER, LINE, PAPER, letter_size, wedge, write_lines
from ..images.png import difference, larger
from .compare import Comparison
from .drawn import SceneOnChip

GAP = 8

NARROWEST = 240
"""Dots of a column, which has room for 40 letters, however narrow a chip's picture is."""

LARGEST = 8
"""The most picture dots across and down that one dot of a frame can become."""

Dots = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class _Column:
    """What stands below each other: lines of text, a frame or the lines in its place, lines of text, a difference."""

    head: Sequence[str]
    dots: Dots | None
    instead: Sequence[str]
    told: Sequence[str]
    apart: Dots | None


def side_by_side(comparison: Comparison, scale: int = 1) -> Image.Image:
    """The frames beside each other, each dot ``scale`` x ``scale`` (1 to 8), and below them the differences.

    A chip that cannot load the scene has its column, and says so there. Raises ValueError for another scale, for a
    picture of more than 67,108,864 dots, or where no chip could draw the scene.
    """
    scale = whole_number("scale", scale, 1, LARGEST)
    instance("comparison", comparison, Comparison)
    first = comparison.first
    if first is None:
        raise ValueError("no chip could draw the scene: there is nothing to show")
    size = letter_size(scale)
    frames = [one.frame.rgb for one in comparison.shown if one.frame is not None]
    wide = max(NARROWEST * size, max(dots.shape[1] for dots in frames) * scale)
    high = max(dots.shape[0] for dots in frames) * scale
    columns = [_column(comparison, at, frames[0], wide // (LETTER * size)) for at in range(len(comparison.shown))]
    layout = _Columns(columns, wide=wide, high=high, size=size)
    if layout.across * layout.end > MOST_DOTS:
        told = f"{layout.across} x {layout.end} is {layout.across * layout.end:,}"
        raise ValueError(f"scale must leave at most {MOST_DOTS:,} dots, got {scale}: {told}")
    picture = Image.new("RGB", (layout.across, layout.end), PAPER)
    _write(picture, (layout.gap, layout.gap), [_title(comparison)], INK, size)
    for at, one in enumerate(columns):
        _paint(picture, one, layout, layout.left(at), scale)
        if layout.subtracted and at == first:
            wedge(picture, (layout.left(at), layout.apart), size)
    return picture


class _Columns:
    """Where columns of pictures ``wide`` and ``high`` stand, in dots; letters are ``size`` times as large.

    Below the picture's own line the ``head`` of each column; from the ``top`` of the frames down: the lines ``told`` of them, the
    differences (``apart``), the ``end`` of the picture.
    """

    def __init__(self, columns: Sequence[_Column], *, wide: int, high: int, size: int) -> None:
        self.wide, self.high, self.size, self.gap, self.line = wide, high, size, GAP * size, LINE * size
        self.subtracted = any(one.apart is not None for one in columns)
        self.head = self.gap + self.line
        self.top = self.head + max(len(one.head) for one in columns) * self.line
        self.told = self.top + high + self.gap
        lines = max(len(one.told) for one in columns) * self.line
        self.apart = self.told + lines
        self.end = self.apart + (high if self.subtracted else 0) + (self.gap if lines else 0)
        self.across = self.left(len(columns))

    def left(self, at: int) -> int:
        """Where the column ``at`` begins."""
        return self.gap + at * (self.wide + self.gap)


def _paint(picture: Image.Image, one: _Column, layout: _Columns, left: int, scale: int) -> None:
    """One column: what stands above its frame, the frame or what stands in its place, what stands below, the difference."""
    size = layout.size
    _write(picture, (left, layout.head), one.head, INK, size)
    _write(picture, (left, layout.top), one.instead[: layout.high // layout.line], DIM, size)
    _write(picture, (left, layout.told), one.told, INK, size)
    if one.dots is not None:
        picture.paste(Image.fromarray(larger(one.dots, scale)), (left, layout.top))
    if one.apart is not None:
        picture.paste(Image.fromarray(larger(one.apart, scale)), (left, layout.apart))


def _column(comparison: Comparison, at: int, first: Dots, letters: int) -> _Column:
    """The column of the chip ``at``, with lines of at most so many ``letters``."""
    one, name = comparison.shown[at], comparison.names[at]
    head = wrap(name, letters)
    if one.frame is None:
        text = [part for told in (_refusal(one), *one.problems[:3]) for part in (*wrap(told, letters), "")]
        return _Column(head, None, text, (), None)
    rgb = one.frame.rgb
    apart = None if one.differ is None else difference(first, rgb)
    return _Column(head, rgb, (), wrap(_caption(comparison, at, first), letters), apart)


def _title(comparison: Comparison) -> str:
    """What is shown, in a line."""
    frame = next(one.frame for one in comparison.shown if one.frame is not None)
    scene = frame.origin.scene if frame.origin else None
    return f"{scene.name if scene else 'a scene'}, frame {frame.frame}, on {len(comparison.shown)} chips"


def _refusal(one: SceneOnChip) -> str:
    count = len(one.problems)
    return f"cannot load the scene: {count} mistake{'s' if count != 1 else ''}"


def _caption(comparison: Comparison, at: int, first: Dots) -> str:
    """What stands below a frame: how far it is from the first or, below that one, what the differences show."""
    one = comparison.shown[at]
    assert comparison.first is not None
    name = comparison.names[comparison.first]
    if at == comparison.first:
        others = [shown for shown in comparison.shown if shown.differ is not None]
        return f"Differences from {name}: each dot's furthest channel, of 255; black is alike" if others else ""
    assert one.frame is not None
    if one.other_size:
        return f"{_size(one.frame.rgb)} dots, {name} has {_size(first)}: no difference is shown"
    dots = f"{one.differ:,} of {one.frame.indices.size:,} dots differ ({100 * one.share:.1f} %)"
    return f"{dots}, a channel by {one.mean:.1f} in the mean, {one.largest} at most"


def _size(dots: Dots) -> str:
    return f"{dots.shape[1]} x {dots.shape[0]}"


def _write(
    picture: Image.Image, place: tuple[int, int], lines: Sequence[str], ink: tuple[int, int, int], size: int
) -> None:
    """Lines of text below each other from ``place`` on, each dot of a letter ``size`` x ``size``."""
    write_lines(ImageDraw.Draw(picture), place, lines, ink, size=size)
