"""Planes of dots made ready to be looked at, and the one place where Pillow is used to write a PNG.

Law: arrays in and arrays out: enlarged, on a checker, and how far two of them are apart. The same picture gives the same bytes
with the same release of Pillow. Knows no chip and no frame.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from ..door.given import instance

CHECKER = ((204, 204, 204), (170, 170, 170))
"""What shows in a view where its source is transparent: squares of 8 dots in two greys."""

FULL = 64
"""The difference of a channel that shows as white."""

Dots = npt.NDArray[np.uint8]


def difference(first: Dots, other: Dots) -> Dots:
    """uint8 (lines, dots, 3), grey: how far the furthest channel of each dot is apart, FULL or more as 255."""
    apart = np.abs(first.astype(np.int64) - other).max(axis=2)
    grey = np.minimum(apart * 255 // FULL, 255).astype(np.uint8)
    return np.repeat(grey[..., np.newaxis], 3, axis=2)


def larger(dots: npt.NDArray[Any], scale: int) -> npt.NDArray[Any]:
    """A plane with each dot ``scale`` x ``scale``."""
    return dots if scale == 1 else dots.repeat(scale, axis=0).repeat(scale, axis=1)


def checker(height: int, width: int) -> Dots:
    """uint8 (height, width, 3): the squares that show through where nothing is drawn."""
    down, across = np.ogrid[:height, :width]
    squares: Dots = np.array(CHECKER, np.uint8)[(down // 8 + across // 8) % 2]
    return squares


class _PngBytes(io.BytesIO):
    """A file in memory, known as PNG by its name: asked for a format instead, Pillow loads the writers of others too."""

    name = "frame.png"


def png_bytes(image: Image.Image) -> bytes:
    """``image`` as the bytes of a PNG file."""
    instance("image", image, Image.Image, "a Pillow image")
    out = _PngBytes()
    image.save(out, compress_level=6)
    return out.getvalue()
