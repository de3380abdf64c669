"""What fitting yields: art that can be saved as a scene.

Law: only fitting makes these. They add nothing to the data that they hold (``results.py``) but the way to a folder of files.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from .results import GlyphArt, LayerArt, SpriteArt


class Savable:
    """What has a ``save``."""

    def save(self, folder: str | Path, chip_file: str | Path | None = None) -> list[Path]:
        """Write scene, assets, report and pictures into ``folder``, all or none. See ``scene_out.save``."""
        from .scenes.scene_out import save  # noqa: PLC0415 - fitting alone reads and writes no scene

        assert isinstance(self, LayerArt | SpriteArt | GlyphArt)
        return save([self], folder, chip_file)


@dataclass(frozen=True, eq=False, repr=False)
class Fitted(Savable, LayerArt):
    """A picture fitted to a layer, at its top left."""


@dataclass(frozen=True, eq=False, repr=False)
class FittedSprites(Savable, SpriteArt):
    """A sheet of sprites, fitted."""


@dataclass(frozen=True, eq=False, repr=False)
class FittedGlyphs(Savable, GlyphArt):
    """A font's glyphs for a text mode."""
