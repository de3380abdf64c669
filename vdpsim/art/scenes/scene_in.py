"""The palette of a scene that is there already, for art that has to get along with it.

Law: the entries that a scene's file gives colours, and what its chip shows for them at the start; nothing else of it counts here.
"""

from __future__ import annotations

from pathlib import Path

from ...chip.model import Chip
from ...door.given import path as path_of
from ...files import once
from ...files.toml.tables import Source
from ...scene.contents.assets import Assets
from ...scene.load import load_scene
from ...scene.model import SceneFile
from ..arrays import Colour
from .encode import shown_colour


@once()
def entries_of(scene: str | Path, chip: Chip | None = None) -> dict[int, Colour]:
    """The 8-bit colours, by entry, of the palette that the scene's file sets.

    Raises InputError where the scene has any mistake, or where it cannot be loaded for ``chip``.
    """
    scene = path_of("scene", scene)
    loaded = load_scene(scene, chip)
    source = Source.read(scene)
    assets = Assets(Path(scene).parent)
    entries: set[int] = set()
    for table in source.validate(SceneFile).palette:
        if table.colours is not None:
            count = len(table.colours)
        else:
            assert table.png is not None
            count = len(assets.picture(table.png, "png").colours) - table.first if table.count is None else table.count
        entries.update(range(table.at, table.at + count))
    words = loaded.state(0).palette
    return {entry: shown_colour(loaded.chip.palette, int(words[entry])) for entry in sorted(entries)}
