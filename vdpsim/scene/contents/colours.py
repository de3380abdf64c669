"""Colours as people write them in a scene file.

Law: a hex colour becomes the packed word that shows the nearest colour of the chip; a number is a packed word already.
"""

from __future__ import annotations

from ...chip.colour import word
from ...chip.model import PaletteTable
from ..findings import WrongError


def channels(text: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255, of ``#rgb`` or ``#rrggbb``.

    >>> channels("#1a2b3c"), channels("#f80")
    ((26, 43, 60), (255, 136, 0))
    """
    digits = text[1:] if len(text) == 7 else "".join(digit * 2 for digit in text[1:])
    return int(digits[0:2], 16), int(digits[2:4], 16), int(digits[4:6], 16)


def colour_word(palette: PaletteTable, colour: int | str, *sub: str | int) -> int:
    """The packed word of a colour of the file. Raises WrongError where a number is no packed word of this palette."""
    if isinstance(colour, str):
        return word(palette, channels(colour))
    top = (1 << palette.word_bits) - 1
    if colour > top:
        raise WrongError(f"a packed colour must be 0x0 to 0x{top:X}, got 0x{colour:X}", *sub)
    return colour
