"""Colours as people write them and as the chip holds them.

Law: a hex colour becomes the packed word whose 8-bit expansion lies nearest, channel by channel; one that the chip can
hold exactly comes back unchanged. Channels expand as floor(value x 255 / (2^bits - 1) + 1/2).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from ..chip.model import PaletteTable
from .desk import WrongError


def channels(text: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255, of ``#rgb`` or ``#rrggbb``.

    >>> channels("#1a2b3c"), channels("#f80")
    ((26, 43, 60), (255, 136, 0))
    """
    digits = text[1:] if len(text) == 7 else "".join(digit * 2 for digit in text[1:])
    return int(digits[0:2], 16), int(digits[2:4], 16), int(digits[4:6], 16)


def expand(value: int, bits: int) -> int:
    """The 8-bit channel that ``value`` of ``bits`` bits shows."""
    top = (1 << bits) - 1
    return (2 * value * 255 + top) // (2 * top)


@cache
def nearest(channel: int, bits: int) -> int:
    """The value of ``bits`` bits whose expansion lies nearest to ``channel``; the lower of two."""
    return min(range(1 << bits), key=lambda value: (abs(expand(value, bits) - channel), value))


def word(palette: PaletteTable, rgb: Sequence[int]) -> int:
    """The packed word for 8-bit red, green and blue."""
    packed = 0
    for bits, channel in zip(palette.layout.values(), rgb, strict=True):
        packed |= bits.put(nearest(channel, bits.width))
    return packed


def colour_word(palette: PaletteTable, colour: int | str, *sub: str | int) -> int:
    """The packed word of a colour of the file. Raises WrongError where a number is no packed word of this palette."""
    if isinstance(colour, str):
        return word(palette, channels(colour))
    top = (1 << palette.word_bits) - 1
    if colour > top:
        raise WrongError(f"a packed colour must be 0x0 to 0x{top:X}, got 0x{colour:X}", *sub)
    return colour
