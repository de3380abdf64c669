"""One point of a sweep: from a chip file's data with some fields set to its row of figures and a small picture.

Law: takes and gives plain data, so that it runs in any process on any machine that has vdpsim and the scene's files. A point
never raises: what is wrong with it is its row's error. The same point gives the same row wherever it runs.
"""

from __future__ import annotations

import json
import pickle
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from ..budgets.budget import budget
from ..chip.load import chip_from
from ..chip.model import Chip
from ..files import Outcome, Reads, once
from ..files.problems import InputError
from ..files.toml.tables import Loc, Source
from .fields import put
from .rows import ERROR, PointRow, figures

if TYPE_CHECKING:
    from ..output.frame import Frame
    from ..scene import Scene

PICTURE = (168, 144)
"""Dots across and lines down that a point's small picture has at most."""

MOST_TOLD = 4
"""Mistakes of one point that are told in its row."""

UNSEEN: tuple[Loc, ...] = (
    ("name",),
    ("about",),
    ("ladder",),
    ("cpu",),
    ("time",),
    ("memory", "accesses_per_dot"),
    ("sprites", "per_line"),
    ("sprites", "dots_per_line"),
    ("sprites", "front"),
    ("sprites", "dropped"),
    ("sprites", "resolve"),
)
"""Fields of a chip that the making of a scene does not ask for, but for whether there is a time table at all."""

Changes = tuple[tuple[Loc, Any], ...]
"""A point: the places of a chip file that are set, and to what."""


@dataclass(frozen=True)
class Task:
    """What all points share: the chip file's ``name``, ``text`` and ``data``; the scene's path, and its ``frame``.

    ``scene`` is absolute, ``scene_name`` is for messages, ``scene_key`` changes with the scene's files, and ``files`` are
    these as they were read, by real paths: a point does not see what is saved while others are worked out.
    """

    name: str
    text: str
    data: dict[str, Any]
    scene: str | None = None
    scene_name: str = ""
    scene_key: str = ""
    frame: int = 0
    files: Mapping[str, Outcome] = field(default_factory=dict)


class PointResult(NamedTuple):
    """What a point gave: its figures, or an error; a small PNG of its frame where one was wanted and drawn.

    ``sure``: the same would come of it again; an error that is not foreseen may have come of the machine.
    """

    figures: PointRow
    picture: bytes | None
    sure: bool


def run(task: Task, wanted: Sequence[tuple[Changes, bool]]) -> list[PointResult]:
    """Each of the points ``wanted`` in turn; the truth beside it says whether its small picture is wanted too."""
    source = _source(task.text, task.name)
    return [_result(task, source, changes, pictured=pictured) for changes, pictured in wanted]


@lru_cache(1)
def _source(text: str, name: str) -> Source:
    """The chip file, which says on which line a mistake stands; read once. Its data is each point's own."""
    return Source(text, name)


def _result(task: Task, source: Source, changes: Changes, *, pictured: bool) -> PointResult:
    """A point's; one that has opened a file which is not the task's own is not sure: nobody has its bytes."""
    with once(task.files) as reads:
        found = _tried(task, source, changes, pictured=pictured)
        return found if _has_all(task, reads) else found._replace(sure=False)


def _has_all(task: Task, reads: Reads) -> bool:
    """Whether the task has every file that was opened."""
    return reads.outcomes.keys() <= task.files.keys()


def _tried(task: Task, source: Source, changes: Changes, *, pictured: bool) -> PointResult:
    try:
        return _point(task, source, changes, pictured=pictured)
    except InputError as error:
        told = [str(problem) for problem in error.problems[:MOST_TOLD]]
        more = len(error.problems) - len(told)
        text = "; ".join([*told, *([f"and {more} more"] if more else [])])
        return PointResult({ERROR: text}, None, sure=True)
    except Exception as error:  # noqa: BLE001 - whatever a point fails of, the others go on and its row says what it was
        return PointResult({ERROR: f"{type(error).__name__}: {error}"}, None, sure=False)


def _point(task: Task, read: Source, changes: Changes, *, pictured: bool) -> PointResult:
    source = copy(read)  # its own, for another thread may be at another point of the same file
    source.data = pickle.loads(pickle.dumps(task.data, -1))  # noqa: S301 - a copy, in a tenth of deepcopy's time
    for place, value in changes:
        put(source.data, place, value)
    chip = chip_from(source)
    if task.scene is None:
        return PointResult(figures(budget(chip)), None, sure=True)
    from ..machine.machine import render  # noqa: PLC0415 - points without a scene need no engine

    scene = _scene(task, chip, source.data)
    found = budget(chip, scene, [task.frame])
    frame = render(scene, task.frame, damage=True)
    return PointResult(figures(found, frame), small_png(frame) if pictured else None, sure=True)


def small_png(frame: Frame) -> bytes:
    """The frame as a PNG of at most ``PICTURE``: so many dots into one, or each dot so many times as large."""
    from ..images.png import png_bytes  # noqa: PLC0415

    image = frame.image().convert("RGB")
    shrink = max(-(-image.width // PICTURE[0]), -(-image.height // PICTURE[1]))
    grow = min(PICTURE[0] // image.width, PICTURE[1] // image.height) if shrink == 1 else 1
    small = image.reduce(shrink) if shrink > 1 else image.resize((image.width * grow, image.height * grow), 0)
    return png_bytes(small)


_KEPT: list[tuple[str, Scene]] = []
"""The scene that was loaded last in this process, by all that it was made from."""


def _scene(task: Task, chip: Chip, data: dict[str, Any]) -> Scene:
    """The scene on ``chip``; as it was loaded last, where it was made from the same. Raises InputError."""
    from ..scene.load import scene_from  # noqa: PLC0415

    assert task.scene is not None
    key = f"{task.scene}\n{task.scene_key}\n{made_from(data)}"
    kept = _KEPT[0] if _KEPT else None
    if kept is not None and kept[0] == key:
        return _on(kept[1], chip)
    with once() as reads:
        source = Source.read(task.scene)
        source.name = task.scene_name
        scene = scene_from(source, Path(task.scene), chip)
        _KEPT[:] = [(key, scene)] if _has_all(task, reads) else []
    return scene


def made_from(data: dict[str, Any]) -> str:
    """All of a chip file's data that the making of a scene asks for, as text."""
    left = {key: dict(inner) if isinstance(inner, dict) else inner for key, inner in data.items()}
    for place in UNSEEN:
        put(left, place, None) if place[0] in left else None
    return json.dumps([left, "time" in data])


def _on(scene: Scene, chip: Chip) -> Scene:
    """The scene on another chip that differs in nothing that the making of a scene asks for."""
    from ..scene import Scene  # noqa: PLC0415

    parts = scene._parts  # noqa: SLF001 - a scene of the very same parts; making them anew takes longer than drawing
    return Scene(
        name=scene.name,
        about=scene.about,
        chip=chip,
        frames=scene.frames,
        path=scene.path,
        layout=scene.layout,
        sprite_names=tuple(scene.sprite_names.items()),
        parts=parts._replace(start=replace(parts.start, chip=chip)),
        warnings=scene.warnings,
    )
