"""Art in a chip's own numbers, and a report of what it took and what was lost.

Law: only fitting makes results, so that nothing is checked again;
a result never changes and is whole: everything that a scene needs to show it, and the picture that the chip then shows.
Each figure of a report follows from the asked and the given dots alone. Knows no file.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image

from ..chip.model import Chip
from ..colour.numbers import numbers_of, shades_of
from ..colour.space import ciede2000, lab, psnr
from ..door.arrays import mask, picture, told
from ..door.columns import lines
from ..door.lazy import by_notebook
from ..door.shown import WIDEST
from ..images.png import png_bytes
from .arrays import Dots, Mask, Numbers


@dataclass(frozen=True)
class Loss:
    """How far a picture is from the one that was asked for, over its opaque dots.

    ``psnr``: dB, of all three channels together, infinite where no dot has changed. ``mean`` and ``worst``: colour difference
    CIEDE2000. ``colours_asked`` and ``colours_given``: how many different ones.
    """

    psnr: float
    mean: float
    worst: float
    colours_asked: int
    colours_given: int

    @property
    def none(self) -> bool:
        """Whether every dot has the colour that was asked for."""
        return math.isinf(self.psnr)


def loss(asked: Dots, given: Dots, opaque: Mask) -> Loss:
    """The loss between two pictures (lines, dots, 3), over the dots that are ``opaque``; none where no dot is.

    Raises TypeError or ValueError where they are not uint8, two of one shape, and bool.
    """
    asked, given = picture("asked", asked), picture("given", given)
    opaque = mask("opaque", opaque, asked.shape[:2], f"bools (lines, dots), as asked has them: {asked.shape[:2]}")
    if given.shape != asked.shape:
        raise ValueError(f"given must have the shape of asked, {asked.shape}, got {told(given)}")
    first, second = asked[opaque], given[opaque]
    if not len(first):
        return Loss(math.inf, 0.0, 0.0, 0, 0)
    pairs, count = np.unique(numbers_of(first) << 24 | numbers_of(second), return_counts=True)
    wanted, shown = pairs >> 24, pairs & 0xFFFFFF
    apart = ciede2000(lab(shades_of(wanted)), lab(shades_of(shown)))
    apart[wanted == shown] = 0
    mean = float((apart * count).sum() / count.sum())
    return Loss(psnr(first, second), mean, float(apart.max()), len(np.unique(wanted)), len(np.unique(shown)))


@dataclass(frozen=True)
class Report:
    """What one picture took of its layer, and what was lost.

    ``things``: what is counted, "tiles" or "sprites". ``there``: how many of them the picture has. ``asked``: unlike ones among
    them, before any were merged. ``used``: patterns made, of ``limit``. ``banks``: how many it shows, of ``banks_there``;
    ``together``: banks of all pictures that share the palette, and ``bound``: fewer could not hold them, proved; both 0 where
    colours had to be chosen. ``entries``: those that show; ``free``: those that its banks reach and that have no colour.
    ``unlimited``: the PSNR if no tile had been merged; None where none was.
    """

    name: str
    target: str
    size: tuple[int, int]
    things: str
    there: int
    asked: int
    used: int
    limit: int
    banks: int
    banks_there: int
    together: int
    bound: int
    entries: int
    free: int
    loss: Loss
    unlimited: float | None = None
    notes: tuple[str, ...] = ()

    def rows(self) -> list[tuple[str, str]]:
        """The report as pairs of a name and a figure in words."""
        told = [("for", self.target), ("size", f"{self.size[0]} x {self.size[1]} dots")]
        if self.things:
            told.append(
                (self.things, f"{self.there}, of which {self.asked} unlike; {self.used} patterns of {self.limit}")
            )
        told.append(("banks", f"{self.banks} of {self.banks_there}{self._proved()}"))
        told.append(("entries", f"{self.entries} show, {self.free} are free"))
        told.append(("colours", f"{self.loss.colours_asked} asked for, {self.loss.colours_given} given"))
        if self.loss.none:
            told.append(("lost", "nothing: every dot has its colour"))
        else:
            told.append(("PSNR", f"{self.loss.psnr:.2f} dB"))
            if self.unlimited is not None:
                shown = "no loss" if math.isinf(self.unlimited) else f"{self.unlimited:.2f} dB"
                told.append(("without the limit", shown))
            told.append(("difference", f"CIEDE2000 {self.loss.mean:.2f} in the mean, {self.loss.worst:.2f} at most"))
        return told

    def _proved(self) -> str:
        if not self.bound:
            return ""
        few = "the fewest that can be" if self.bound == self.together else f"at least {self.bound} are needed"
        return f", {few}" if self.together == self.banks else f"; all pictures together have {self.together}, {few}"

    def text(self) -> str:
        """The report as lines to print: its name, its rows, its notes."""
        return _lines(self.name, self.rows(), self.notes)

    def __str__(self) -> str:
        return self.text().rstrip("\n")


@dataclass(frozen=True, eq=False, repr=False)
class Art:
    """What layers and sprites that were fitted have in common.

    ``name``: what its files are called. ``asked`` and ``rgb``: uint8 (lines, dots, 3), the picture as it came and as the chip
    shows it; ``opaque``: bool (lines, dots). ``banks``: int64 (rows, columns), the bank of each tile or sprite, -1 where
    nothing shows.
    ``palette``: packed words by entry, all that share the palette. ``registers``: what has to be set to show it.
    """

    chip: Chip
    name: str
    target: str
    asked: Dots
    rgb: Dots
    opaque: Mask
    banks: Numbers
    palette: Mapping[int, int]
    registers: Mapping[str, int]
    report: Report

    @property
    def image(self) -> Image.Image:
        """The picture as the chip shows it: RGB, or RGBA where dots are transparent."""
        if self.opaque.all():
            return Image.fromarray(self.rgb)
        alpha = np.where(self.opaque, 255, 0).astype(np.uint8)
        return Image.fromarray(np.concatenate([self.rgb * self.opaque[..., None], alpha[..., None]], axis=2))

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.name!r} for {self.target} of {self.chip.name}>"

    def _repr_png_(self) -> bytes:
        return png_bytes(self.image)

    _repr_html_ = by_notebook("art", "art_html")


@dataclass(frozen=True, eq=False, repr=False)
class LayerArt(Art):
    """A picture in a layer's own numbers, at its top left.

    ``patterns``: uint8 (count, tile, tile), from number 0 on, and ``map``: int64 (rows, columns), packed words of the whole
    map; both empty for a bitmap. ``bitmap``: uint8 (height, width), values of the whole bitmap; empty for tiles. ``colours``:
    int64 (rows, columns), packed words of its colour cells; empty where it has none.
    """

    patterns: Dots
    map: Numbers
    bitmap: Dots
    colours: Numbers = field(default_factory=lambda: np.zeros((0, 0), np.int64))


@dataclass(frozen=True)
class Placed:
    """A sprite of a sheet: its ``cell``, counted from 0 from left to right and top to bottom, and what shows it.

    ``size``: one of the chip's, and ``image``: which of the images of that size. ``dx`` and ``dy``: from the cell's upper left
    corner to the sprite's. ``bank``: as the record's field counts.
    """

    cell: int
    size: tuple[int, int]
    image: int
    flip_x: int
    flip_y: int
    bank: int
    dx: int
    dy: int


@dataclass(frozen=True, eq=False, repr=False)
class SpriteArt(Art):
    """A sheet of sprites in the chip's own numbers; empty cells have no sprite.

    ``images``: by size, uint8 (count, down, across), and ``sprites`` who shows them. ``cell``: dots of a cell of the sheet,
    across and down. ``first``: the pattern number of the first image of each size.
    """

    cell: tuple[int, int]
    images: Mapping[tuple[int, int], Dots]
    first: Mapping[tuple[int, int], int]
    sprites: tuple[Placed, ...]


def _lines(name: str, rows: Sequence[tuple[str, str]], notes: Sequence[str]) -> str:
    """A name, its figures below each other, its notes."""
    figures = (f"  {line}" for line in lines(rows, WIDEST - 2))
    return "".join(f"{line}\n" for line in (name, *figures, *(f"  note: {note}" for note in notes)))


@dataclass(frozen=True, eq=False, repr=False)
class GlyphArt:
    """A font's glyphs for a text mode: ``glyphs`` by character number, uint8 (down, across) of 0 and 1; ``notes`` in words."""

    chip: Chip
    name: str
    target: str
    size: tuple[int, int]
    glyphs: Mapping[int, Dots]
    there: int
    notes: tuple[str, ...]

    @property
    def image(self) -> Image.Image:
        """All glyphs, sixteen in a row, in the order of their numbers; dark on light."""
        across, down = self.size
        rows = -(-len(self.glyphs) // 16)
        sheet = np.full((rows * (down + 1) + 1, 16 * (across + 1) + 1), 208, np.uint8)
        for at, number in enumerate(sorted(self.glyphs)):
            y, x = at // 16 * (down + 1) + 1, at % 16 * (across + 1) + 1
            sheet[y : y + down, x : x + across] = np.where(self.glyphs[number], 0, 255)
        return Image.fromarray(sheet)

    def rows(self) -> list[tuple[str, str]]:
        """What became of the font, as pairs of a name and a figure in words."""
        numbers = sorted(self.glyphs)
        return [
            ("for", self.target),
            ("glyphs", f"{len(numbers)} of {self.there}, {self.size[0]} x {self.size[1]} dots"),
            ("characters", f"{numbers[0]} to {numbers[-1]}"),
        ]

    def text(self) -> str:
        """The same as lines to print, with the notes."""
        return _lines(self.name, self.rows(), self.notes)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.name!r} for {self.target} of {self.chip.name}>"

    def _repr_png_(self) -> bytes:
        return png_bytes(self.image)

    _repr_html_ = by_notebook("art", "glyphs_html")


def slug(name: str) -> str:
    """A name that files and tables of a scene can have: small letters, digits and _, beginning with a letter.

    >>> slug("shots/Grey Heron 2.png"), slug("3.bmp")
    ('grey_heron_2', 'art_3')
    """
    stem = Path(name).name.split(".")[0]
    found = re.sub(r"[^a-z0-9]+", "_", stem.lower()).strip("_")[:24].strip("_") or "art"
    return found if found[0].isalpha() else f"art_{found}"
