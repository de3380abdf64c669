"""Random scene files for the twin: the kit's own, each written to a file and loaded from it.

Law: where all parts together find no room in memory, the scene is refused and the caller takes another chip.
"""

from __future__ import annotations

from pathlib import Path
from random import Random

from vdpsim import InputError, load_scene
from vdpsim.chip.model import Chip
from vdpsim.scene.scene import Scene
from vdpsim.testing.strategies.made.scenes import NO_ROOM, SceneWriter


def make_scene(random: Random, chip: Chip, folder: Path) -> tuple[Scene, set[str]] | None:
    """A scene of up to three frames for ``chip`` and what its file says; None where its parts find no room in memory."""
    path, writer = folder / "random.scene.toml", SceneWriter(random, chip)
    path.write_text(writer.text(), "utf-8")
    try:
        return load_scene(path, chip), writer.says()
    except InputError as error:
        if all(any(words in problem.message for words in NO_ROOM) for problem in error.problems):
            return None
        raise
