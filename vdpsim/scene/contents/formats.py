"""How the patterns of a target look, and their bytes in memory.

Law: a target is LAYER.MODE or ``sprites``; its format follows from the chip alone, and for sprites from one of their sizes. Dots
and bytes are each other's, both ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ...chip.model import SpritesTable, TextMode, TilesMode
from ...chip.tables.pattern import Planes, Raster, SpritePattern
from ...door.shown import value as shown
from ..findings import Findings, WrongError, one_of
from .dots import Dots, lay, read_back, tiled, untiled
from .runs import from_memory, in_memory


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

    @cached_property
    def raster(self) -> Raster:
        """How the rows of a pattern lie in memory, or those of a tile of a sprite; a glyph's row takes a whole byte."""
        if self.shape is not None:
            return Raster(*self.shape.tile, self.bits, self.planes)
        across = (self.width + 7) // 8 * 8 if self.text else self.width
        return Raster(across, self.height, self.bits, self.planes)

    @property
    def tiles(self) -> int:
        """Of how many tiles a sprite is made; 1 for all others."""
        return 1 if self.shape is None else self.shape.run * self.shape.runs

    @property
    def size_bytes(self) -> int:
        """Bytes of one pattern, at all base addresses together."""
        return self.raster.bases * self.raster.size * self.tiles

    def packed(self, dots: Dots) -> Dots:
        """Patterns (count, height, width) as bytes (count, size_bytes), what lies at the first base address before the others.

        There those of sprites lie tile by tile.
        """
        raster = self.raster
        parts = np.pad(dots, ((0, 0), (0, 0), (0, raster.across - self.width))) if self.text else dots
        parts = parts if self.shape is None else tiled(dots, self.shape)
        images = lay(parts, raster, self.first_dot).reshape(len(dots), self.tiles, raster.bases, raster.size)
        return images.transpose(0, 2, 1, 3).reshape(len(dots), -1)

    def unpacked(self, images: Dots) -> Dots:
        """Patterns (count, height, width) of bytes (count, size_bytes): ``packed`` the other way round."""
        raster = self.raster
        parts = images.reshape(len(images), raster.bases, self.tiles, raster.size).transpose(0, 2, 1, 3)
        dots = read_back(parts.reshape(-1, raster.bases, raster.size), raster, self.first_dot)
        return dots[:, :, : self.width] if self.shape is None else untiled(dots, self.shape)

    def in_memory(self, images: Dots) -> bytes:
        """Bytes of patterns (count, size_bytes) as they lie in memory: of planes apart, all of plane 0, then of plane 1 ..."""
        parts = images.reshape(len(images), self.raster.bases, -1).transpose(1, 0, 2)
        return b"".join(part.tobytes() if self.shape is None else in_memory(self.shape, part) for part in parts)

    def from_memory(self, data: Dots, what: str = "data") -> Dots:
        """``in_memory`` the other way round: (count, size_bytes) of the bytes of ``what``. Raises WrongError for half ones."""
        bases = self.raster.bases
        if self.shape is not None and not len(data) % bases:
            parts = [from_memory(self.shape, part, what) for part in data.reshape(bases, -1)]
            return np.concatenate(parts, axis=1)
        if len(data) % self.size_bytes:
            raise WrongError(f"{what} must be whole patterns of {self.size_bytes} bytes, got {len(data)} bytes", "raw")
        return data.reshape(bases, -1, self.raster.size).transpose(1, 0, 2).reshape(-1, self.size_bytes)


def format_of(mode: TilesMode | TextMode) -> Format:
    """How patterns of a tiles mode, or glyphs of a text mode, look."""
    if isinstance(mode, TextMode):
        return Format(*mode.glyph, 1, mode.first_dot, text=True)
    return Format(*mode.tile, mode.bits_per_dot, mode.first_dot, planes=mode.planes)


def sprite_format(sprites: SpritesTable, size: tuple[int, int]) -> Format:
    """How sprite patterns of ``size`` look, one of the chip's."""
    shape = sprites.patterns[sprites.sizes.index(size)]
    return Format(*size, sprites.bits_per_dot, sprites.first_dot, planes=sprites.planes, shape=shape)


def tile_format(sprites: SpritesTable) -> Format:
    """How the tiles look of which sprites of the first size are made, as they lie in memory."""
    return Format(*sprites.patterns[0].tile, sprites.bits_per_dot, sprites.first_dot, planes=sprites.planes)


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
