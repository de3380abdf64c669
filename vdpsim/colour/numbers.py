"""Colours as numbers: 0xRRGGBB, so that they are counted, sorted and compared as quickly as numbers are.

Law: pure; three channels of 0 to 255, red first, become one number and come back from it. Knows no chip and no file.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt


def numbers_of(rgb: npt.NDArray[Any]) -> npt.NDArray[np.int64]:
    """Colours (..., 3) of 0 to 255 as numbers (...)."""
    wide = rgb.astype(np.int64)
    return wide[..., 0] << 16 | wide[..., 1] << 8 | wide[..., 2]


def shades_of(numbers: npt.NDArray[np.int64]) -> npt.NDArray[np.uint8]:
    """The colours (..., 3) that numbers (...) stand for."""
    return np.stack([numbers >> 16, numbers >> 8 & 255, numbers & 255], axis=-1).astype(np.uint8)


def number_of(shade: tuple[int, int, int]) -> int:
    """A colour as a number."""
    return shade[0] << 16 | shade[1] << 8 | shade[2]


def shade_of(number: int) -> tuple[int, int, int]:
    """The colour that a number stands for."""
    return number >> 16, number >> 8 & 255, number & 255
