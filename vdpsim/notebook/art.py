"""Fitted art in a notebook: the picture as the chip shows it, what it took and lost, its palette and its patterns.

Law: the words are those of its report; nothing is worked out here.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from PIL import Image

from ..art.results import Art, GlyphArt, LayerArt, SpriteArt
from ..images.png import png_bytes
from .palettes import entries
from .pieces import heading, line, picture, table

ACROSS, MOST_PATTERNS = 32, 256
"""Patterns in a row, and in all."""

PAPER = 128
"""The grey between patterns."""


def art_html(found: Art) -> str:
    """All of it."""
    shown = heading(repr(found)[1:-1]) + picture(png_bytes(found.image), f"{found.name} as the chip shows it")
    shown += table(("figure", found.name), found.report.rows()) + "".join(map(line, found.report.notes))
    shown += heading(f"{len(found.palette)} entries of the palette") + entries(found.chip.palette, found.palette)
    return shown + "".join(_patterns(told, values) for told, values in _stacks(found))


def glyphs_html(found: GlyphArt) -> str:
    """The glyphs, and what became of the font."""
    shown = heading(repr(found)[1:-1]) + picture(png_bytes(found.image), f"the glyphs of {found.name}")
    return shown + table(("figure", found.name), found.rows()) + "".join(map(line, found.notes))


def _stacks(found: Art) -> list[tuple[str, npt.NDArray[np.uint8]]]:
    """The patterns of each kind, uint8 (count, down, across), with what they are."""
    if isinstance(found, LayerArt):
        return [("patterns", found.patterns)] if len(found.patterns) else []
    assert isinstance(found, SpriteArt)
    return [(f"images of {wide} x {high}", values) for (wide, high), values in found.images.items() if len(values)]


def _patterns(told: str, values: npt.NDArray[np.uint8]) -> str:
    """The first patterns beside and below each other, their values from black to white."""
    count, high, wide = min(len(values), MOST_PATTERNS), *values.shape[1:]
    sheet = np.full((-(-count // ACROSS) * (high + 1) + 1, min(count, ACROSS) * (wide + 1) + 1), PAPER, np.uint8)
    top = max(int(values.max(initial=0)), 1)
    for number in range(count):
        y, x = number // ACROSS * (high + 1) + 1, number % ACROSS * (wide + 1) + 1
        sheet[y : y + high, x : x + wide] = values[number].astype(int) * 255 // top
    more = f", the first {count}" if count < len(values) else ""
    return heading(f"{len(values)} {told}{more}: values 0 (black) to {top} (white)") + picture(
        png_bytes(Image.fromarray(sheet)), told
    )
