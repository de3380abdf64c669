"""Packed colour words and the 8-bit colours that they show.

Law: a channel of n bits shows floor(c x 255 / (2^n - 1) + 1/2) of 255: PNG Third Edition, "Sample depth scaling", and the
fixed-point conversion of the Vulkan specification round alike. Back, the word is the one that shows the nearest colour,
channel by channel, so that a colour on the chip's grid comes back unchanged. Knows the palette's table and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from .tables.basics import PaletteTable


def expand(value: int, bits: int) -> int:
    """The 8-bit channel that ``value`` of ``bits`` bits shows.

    >>> expand(27, 5)
    222
    """
    top = (1 << bits) - 1
    return (2 * value * 255 + top) // (2 * top)


@cache
def nearest(channel: int, bits: int) -> int:
    """The value of ``bits`` bits whose expansion lies nearest to ``channel``; the lower of two."""
    return min(range(1 << bits), key=lambda value: (abs(expand(value, bits) - channel), value))


def word(palette: PaletteTable, rgb: Sequence[int]) -> int:
    """The packed word for 8-bit red, green and blue. Raises ValueError for a channel outside 0 to 255."""
    packed = 0
    for bits, channel in zip(palette.layout.values(), rgb, strict=True):
        if not 0 <= channel <= 255:
            raise ValueError(f"red, green and blue take 0 to 255, got {channel}")
        packed |= bits.put(nearest(channel, bits.width))
    return packed
