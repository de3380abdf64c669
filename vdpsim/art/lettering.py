"""A font's glyphs for a chip's text mode: which of them it can show, in its glyphs' size.

Law: no glyph is scaled and no dot is lost: one that is too large is left out, and told. A character is its Unicode number, which
is the number of its glyph in the chip; a font that knows no characters keeps its own numbers. Knows fonts and text modes, no
colours.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from ..chip.model import Chip, TextMode
from ..door.shown import counted
from ..files.problems import InputError, Problem
from ..fonts.glyphs import Font
from .arrays import Dots
from .fitted import FittedGlyphs


def letter(font: Font, chip: Chip, layer: str, mode: TextMode, name: str, file: str) -> FittedGlyphs:
    """The glyphs of ``font`` that the mode has numbers and room for, at the left of its boxes.

    Rows that no glyph has any dot in are taken away from the top and the bottom where a box is too high. Raises InputError,
    for ``file``, where more glyphs are too large than fit, or none has a number of the mode's.
    """
    across, down = mode.glyph
    top = mode.cell.character.top
    numbered = {number: glyph for number, glyph in sorted(font.glyphs.items()) if 0 <= number <= top}
    inked = [glyph for glyph in numbered.values() if glyph.any()]
    rows = np.flatnonzero(np.any([glyph.any(axis=1) for glyph in inked], axis=0)) if inked else np.zeros(0, np.int64)
    first, last = (int(rows[0]), int(rows[-1])) if len(rows) else (0, 0)
    notes = list(font.notes)
    start = 0
    if font.size[1] > down and last - first < down:
        start = min(first, font.size[1] - down)
        notes.append(f"{font.size[1] - down} empty rows were taken away, {start} of them at the top")
    found, large = {}, 0
    for number, glyph in numbered.items():
        boxed = _boxed(glyph[start:], across, down)
        if boxed is None:
            large += 1
        else:
            found[number] = boxed
    if len(found) <= large:
        told = f"glyphs for {layer}.{mode.name} must be at most {across}x{down} dots and numbered 0 to {top}"
        size = f"{font.size[0]}x{font.size[1]}"
        raise InputError([Problem(file, 0, "", f"{told}; most of the font's, which are up to {size}, are not")])
    if large:
        notes.append(f"left out: {counted(large, 'glyph')} of more than {across}x{down} dots")
    beyond = len(font.glyphs) - len(numbered)
    if beyond:
        notes.append(f"left out: {counted(beyond, 'glyph')} beyond number {top}")
    if not font.characters:
        notes.append("the font does not say which characters it has: glyphs keep their own numbers")
    return FittedGlyphs(chip, name, f"{layer}.{mode.name}", mode.glyph, found, len(font.glyphs), tuple(notes))


def _boxed(glyph: npt.NDArray[np.bool_], across: int, down: int) -> Dots | None:
    """The glyph in a box of the mode's size, at the upper left; None where it has dots beyond."""
    if glyph[down:].any() or glyph[:, across:].any():
        return None
    box = np.zeros((down, across), np.uint8)
    part = glyph[:down, :across]
    box[: part.shape[0], : part.shape[1]] = part
    return box
