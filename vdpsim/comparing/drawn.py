"""The same scene drawn by each of several chips, and how far the pictures are apart.

Law: frames are those of ``render``. A chip that cannot load the scene is a result like any other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..chip.model import Chip
from ..files.problems import InputError

if TYPE_CHECKING:
    from ..output.frame import Frame


@dataclass(frozen=True, eq=False)
class SceneOnChip:
    """The scene on one chip, of ``bytes_per_access``: its ``frame``, or the ``problems`` for which there is none.

    Against the first chip that could draw it: ``differ`` dots of another colour (None: it is the first, or the pictures have
    different sizes, ``other_size``), which is a ``share`` of them, 0 to 1; over the dots that differ the largest difference of
    a channel and the mean of all three channels, 0 to 255.
    """

    frame: Frame | None
    bytes_per_access: int
    problems: tuple[str, ...] = ()
    differ: int | None = None
    largest: int = 0
    mean: float = 0.0
    other_size: bool = False

    @property
    def share(self) -> float:
        """Which part of the picture's dots differ."""
        return 0.0 if self.frame is None or not self.differ else self.differ / self.frame.indices.size


def drawn(chips: Sequence[Chip], path: str | Path, frame: int) -> tuple[SceneOnChip, ...]:
    """The scene at ``path`` on each of ``chips``. Raises InputError where it loads neither on one of them nor on its own."""
    from ..machine.machine import render  # noqa: PLC0415 - a comparison without a scene needs no engine
    from ..scene import load_scene  # noqa: PLC0415

    found: list[SceneOnChip] = []
    first: Frame | None = None
    for chip in chips:
        width = chip.memory.bytes_per_access
        try:
            scene = load_scene(path, chip=chip)
        except InputError as error:
            found.append(SceneOnChip(None, width, tuple(map(str, error.problems))))
            continue
        picture = render(scene, frame, damage=True)
        found.append(_against(first, picture, width))
        first = first or picture
    if first is None:
        load_scene(path)  # a scene that is wrong even on its own chip is no chip's failure
    return tuple(found)


def _against(first: Frame | None, drawn: Frame, width: int) -> SceneOnChip:
    """``drawn`` against the ``first`` picture."""
    if first is None:
        return SceneOnChip(drawn, width)
    if first.rgb.shape != drawn.rgb.shape:
        return SceneOnChip(drawn, width, other_size=True)
    apart = abs(first.rgb.astype(int) - drawn.rgb.astype(int))
    other = apart.any(axis=2)
    count = int(other.sum())
    mean = float(apart[other].mean()) if count else 0.0
    return SceneOnChip(drawn, width, differ=count, largest=int(apart.max(initial=0)), mean=mean)
