"""Frames of several chips as one picture: each with its name, and below them how far each is from the first.

Law: a picture follows from the comparison alone. In a difference black is alike, and a dot is the brighter the further its
furthest channel is from the first chip's: white is 64 of 255 or more. Knows Pillow and no chip.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

from .budgets.compare import Comparison

GAP, CAPTION = 8, 16
PAPER, INK, DIM = (24, 24, 24), (232, 232, 232), (168, 168, 168)
FULL = 64
"""The difference of a channel that shows as white."""


def side_by_side(comparison: Comparison, scale: int = 1) -> Image.Image:
    """The frames beside each other, each dot ``scale`` x ``scale`` (1 to 8), and below them the differences.

    Raises ValueError for another scale, or where no chip could draw the scene.
    """
    if not 1 <= scale <= 8:
        raise ValueError(f"scale must be 1 to 8, got {scale}")
    shown = [one.frame for one in comparison.shown]
    drawn = [frame for frame in shown if frame is not None]
    if not drawn:
        raise ValueError("no chip could draw the scene: there is nothing to show")
    first = drawn[0]
    wide = max(frame.rgb.shape[1] for frame in drawn) * scale
    high = max(frame.rgb.shape[0] for frame in drawn) * scale
    rows = 1 + any(one.differ is not None for one in comparison.shown)
    size = (GAP + len(shown) * (wide + GAP), GAP + rows * (CAPTION + high + GAP))
    picture = Image.new("RGB", size, PAPER)
    pen, font = ImageDraw.Draw(picture), ImageFont.load_default_imagefont()
    for at, (name, one) in enumerate(zip(comparison.names, comparison.shown, strict=True)):
        left = GAP + at * (wide + GAP)
        pen.text((left, GAP), name, fill=INK, font=font)
        if one.frame is None:
            pen.text(
                (left, GAP + CAPTION + 2), f"cannot load the scene: {len(one.problems)} mistakes", fill=DIM, font=font
            )
            continue
        picture.paste(_image(one.frame.rgb, scale), (left, GAP + CAPTION))
        if one.differ is not None:
            top = GAP + CAPTION + high + GAP
            share = 100 * one.differ / (first.rgb.shape[0] * first.rgb.shape[1])
            pen.text(
                (left, top), f"{one.differ} dots differ, {share:.1f} %: the brighter, the more", fill=INK, font=font
            )
            picture.paste(_image(difference(first.rgb, one.frame.rgb), scale), (left, top + CAPTION))
    return picture


def difference(first: npt.NDArray[np.uint8], other: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """uint8 (lines, dots, 3), grey: how far the furthest channel of each dot is apart, FULL or more as 255."""
    apart = np.abs(first.astype(np.int64) - other).max(axis=2)
    grey = np.minimum(apart * 255 // FULL, 255).astype(np.uint8)
    return np.repeat(grey[..., np.newaxis], 3, axis=2)


def _image(rgb: Any, scale: int) -> Image.Image:
    return Image.fromarray(np.ascontiguousarray(rgb.repeat(scale, axis=0).repeat(scale, axis=1)))
