"""Any bitmap font in: PSF, BDF, PCF, hex fonts and pictures of glyphs, told apart by what they contain.

Law: a font file becomes a Font, packed by gzip or not, whatever its name; whatever the bytes, it is a Font or an InputError.
No more than LARGEST bytes are read or unpacked. Knows no chip.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..colour.numbers import numbers_of
from ..door.arrays import size
from ..door.given import path as path_of
from ..files.packed import read, unpacked, wrong
from ..images.pictures import Picture, is_picture, picture_from
from . import bdf, hexfont, pcf, psf
from .glyphs import Font, Glyph, check_size

__all__ = ["Font", "font_from", "read_font"]

LARGEST = 32 << 20
"""Bytes; a font that is longer, packed or unpacked, is refused."""

KINDS = "PSF, BDF, PCF, a hex font and a picture of glyphs are known"


def read_font(path: str | Path, *, cell: tuple[int, int] | None = None) -> Font:
    """The font in the file at ``path``, packed by gzip or not.

    ``cell``: dots across and down of a glyph in a picture of glyphs, which must be given for such a picture, and is not
    looked at for other fonts: these know their size. A picture is cut from left to right, then from top to bottom; a
    glyph's place is its number. Ink is what is opaque where anything is transparent, else the rarer of two colours, and the
    lighter where both are as many.

    Raises InputError, with the file's name, where it cannot be read, is too large, damaged or cut off, of no kind that is known,
    or where a picture is not made of whole cells or has more colours than ink and paper.
    """
    cell = None if cell is None else size("cell", cell)
    return font_from(read(path_of("path", path), LARGEST), str(path), cell=cell)


def font_from(data: bytes, file: str, *, cell: tuple[int, int] | None = None) -> Font:
    """The font whose file has the bytes ``data``; ``file`` is its name for messages. See read_font."""
    data = unpacked(data, LARGEST, file)
    if data.startswith(psf.VERSION_1):
        return psf.parse_1(data, file)
    if data.startswith(psf.VERSION_2):
        return psf.parse_2(data, file)
    if data.startswith(pcf.BEGINS):
        return pcf.parse(data, file)
    if data.startswith(bdf.BEGINS):
        return bdf.parse(data, file)
    if hexfont.is_hex(data):
        return hexfont.parse(data, file)
    if is_picture(data):
        return _sheet(picture_from(data, file), cell, file)
    raise wrong(file, f"is no font of a kind that is known: {KINDS}")


def _sheet(picture: Picture, cell: tuple[int, int] | None, file: str) -> Font:
    """The glyphs of a picture, by place."""
    if cell is None:
        raise wrong(file, "a picture of glyphs needs the size of a glyph, none was given")
    (across, down), (lines, dots) = cell, picture.opaque.shape
    check_size(file, cell, 1)
    if lines % down or dots % across:
        raise wrong(file, f"a picture of glyphs must be a multiple of {across}x{down} dots, is {dots}x{lines}")
    ink, told = _ink(picture, file)
    parts = ink.reshape(lines // down, down, dots // across, across).transpose(0, 2, 1, 3).reshape(-1, down, across)
    parts.flags.writeable = False
    glyphs = dict(enumerate(parts))
    return Font(cell, glyphs, characters=False, notes=(*picture.notes, told), widths=dict.fromkeys(glyphs, across))


def _ink(picture: Picture, file: str) -> tuple[Glyph, str]:
    """Which dots are ink, bool (lines, dots), and how that was told."""
    packed = numbers_of(picture.rgb)
    colours, counts = np.unique(packed[picture.opaque], return_counts=True)
    if not picture.opaque.all():
        if len(colours) > 1:
            told = "a picture of glyphs with transparent dots must have one colour beside them"
            raise wrong(file, f"{told}, has {len(colours)}")
        return picture.opaque.copy(), "the opaque dots were taken as ink"
    if len(colours) > 2:
        raise wrong(file, f"a picture of glyphs must have two colours, ink and paper, has {len(colours)}")
    if len(colours) == 1:
        return np.zeros(picture.opaque.shape, np.bool_), f"all dots are #{colours[0]:06x} and were taken as paper"
    sums = [sum(int(colour).to_bytes(3, "big")) for colour in colours]
    by_count = sorted(range(2), key=lambda place: (counts[place], -sums[place], place))
    ink, paper = colours[by_count[0]], colours[by_count[1]]
    return packed == ink, f"#{ink:06x} was taken as ink and #{paper:06x} as paper"
