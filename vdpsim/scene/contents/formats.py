"""How the patterns of a target look, and their bytes in memory.

Law: a target is LAYER.MODE or ``sprites``; its format follows from the chip alone, and for sprites from one of their sizes. Dots
and bytes are each other's, both ways.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...chip.model import SpritesTable, TextMode, TilesMode
from ...chip.tables.pattern import SpritePattern
from ...chip.tables.planes import Planes, Raster
from ...door.shown import value as shown
from ..findings import Findings, WrongError, one_of
from .dots import Dots, lay, read_back


@dataclass(frozen=True)
class Format:
    """How a target's patterns look: dots across and down, bits a dot; ``shape``: how those of sprites lie in memory."""

    width: int
    height: int
    bits: int
    first_dot: str
    text: bool = False
    planes: Planes | None = None
    shape: SpritePattern | None = None

    @property
    def raster(self) -> Raster:
        """How the rows lie in memory; a glyph's row takes a whole byte, however narrow it is."""
        across = (self.width + 7) // 8 * 8 if self.text else self.width
        return Raster(across, self.height, self.bits, self.planes)

    @property
    def size_bytes(self) -> int:
        """Bytes of one pattern, at all base addresses together."""
        return self.raster.bases * self.raster.size

    def packed(self, dots: Dots) -> Dots:
        """Patterns (count, height, width) as bytes (count, size_bytes), what lies at the first base address before the others."""
        raster = self.raster
        dots = np.pad(dots, ((0, 0), (0, 0), (0, raster.across - self.width)))
        return lay(dots, raster, self.first_dot).reshape(len(dots), -1)

    def unpacked(self, images: Dots) -> Dots:
        """Patterns (count, height, width) of bytes (count, size_bytes): ``packed`` the other way round."""
        raster = self.raster
        parts = images.reshape(len(images), raster.bases, raster.size)
        return read_back(parts, raster, self.first_dot)[:, :, : self.width]

    def in_memory(self, images: Dots) -> bytes:
        """Bytes of patterns (count, size_bytes) as they lie in memory: of planes apart, all of plane 0, then of plane 1 ..."""
        parts = images.reshape(len(images), self.raster.bases, self.raster.size)
        return parts.transpose(1, 0, 2).tobytes()

    def from_memory(self, data: Dots) -> Dots:
        """``in_memory`` the other way round: (count, size_bytes) of whole patterns' bytes."""
        parts = data.reshape(self.raster.bases, -1, self.raster.size)
        return parts.transpose(1, 0, 2).reshape(-1, self.size_bytes)


def format_of(mode: TilesMode | TextMode) -> Format:
    """How patterns of a tiles mode, or glyphs of a text mode, look."""
    if isinstance(mode, TextMode):
        return Format(*mode.glyph, 1, mode.first_dot, text=True)
    return Format(*mode.tile, mode.bits_per_dot, mode.first_dot, planes=mode.planes)


def sprite_format(sprites: SpritesTable, size: tuple[int, int]) -> Format:
    """How sprite patterns of ``size`` look, one of the chip's."""
    shape = sprites.patterns[sprites.sizes.index(size)]
    return Format(*size, sprites.bits_per_dot, sprites.first_dot, shape=shape)


def formats(findings: Findings, target: str, size: tuple[int, int] | None) -> Format:
    """How patterns of ``target`` look. Raises WrongError for an unknown target or a size that the chip has not."""
    sprites = findings.chip.sprites
    if target == "sprites" and sprites:
        return sprite_format(sprites, sprite_size(sprites, size))
    known = findings.targets("tiles", "text") + (["sprites"] if sprites else [])
    if target not in known:
        raise WrongError(
            f"{one_of(known, f'what patterns of {findings.chip.name} are for')}, got {shown(target)}", "for"
        )
    if size is not None:
        raise WrongError("only goes with patterns for sprites", "size")
    mode = findings.mode(target, "tiles", "text")
    assert isinstance(mode, TilesMode | TextMode)
    return format_of(mode)


def sprite_size(sprites: SpritesTable, size: tuple[int, int] | None) -> tuple[int, int]:
    """One of the chip's sprite sizes: ``size``, or the first. Raises WrongError where the chip has no such size."""
    if size is None:
        return sprites.sizes[0]
    if size not in sprites.sizes:
        known = (f"{across}x{down}" for across, down in sprites.sizes)
        raise WrongError(f"{one_of(known, 'one of the sizes')}, got {size[0]}x{size[1]}", "size")
    return size
