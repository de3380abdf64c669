"""A scene as material for the hardware side: one folder that says what goes in and what is to come out.

Law: the order of work, and the table of parts. A frame is drawn, written and forgotten; nothing but the files grows with
the number of frames. All files appear together or none does.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple, Protocol

from ..chip.controls import once
from ..chip.load import chip_text
from ..chip.model import Chip
from ..door.given import flag, instance, items
from ..door.given import path as path_of
from ..door.shown import value as shown
from ..engine import Plan
from ..files import Outputs
from ..files.writing import GrowingFile
from ..machine.machine import check_traced
from ..machine.reached import reached
from ..scene import Scene
from ..scene.schemas import schema
from ..state.state import State
from .constants.files import constants_files
from .drawn import Drawn, drawn
from .parts import OF_FRAMES, PARTS, available
from .readme import readme
from .records.index import NAME
from .registers import register_files
from .sheet.files import sheet_files
from .told import Told
from .vectors.images import image_files
from .vectors.vectors import Vectors
from .waves.waves import Waves, check_lines

README = "README.md"

LAST_FRAME = 99_999
"""The last frame that can be exported."""

Pieces = Iterator[tuple[str, bytes]]
"""Paths within the folder, each with bytes that are added to that file."""


class Part(Protocol):
    """Makes the files of a part: what comes before the first frame, and what each frame adds.

    ``counted``: how many records of each kind the frame had that came last.
    """

    counted: dict[str, int]

    def begin(self) -> Pieces:
        """What is there before any frame."""

    def frame(self, one: Drawn) -> Pieces:
        """What a frame adds."""


class Still:
    """A part whose files are the same whatever is drawn."""

    def __init__(self, files: Iterable[tuple[str, bytes]]) -> None:
        self.files, self.counted = files, dict[str, int]()

    def begin(self) -> Pieces:
        """All of it."""
        yield from self.files

    def frame(self, _one: Drawn) -> Pieces:
        """Nothing."""
        yield from ()


class Wanted(NamedTuple):
    """What is wanted of a scene: which frames, what the first begins with, which lines of the waveform (None: it chooses)."""

    frames: range
    start: State
    lines: range | None


MAKERS: Mapping[str, Callable[[Scene, Wanted], Part]] = {
    "memory": lambda _scene, wanted: Still(image_files(wanted.start)),
    "vectors": lambda scene, _wanted: Vectors(scene.chip),
    "waves": lambda scene, wanted: Waves(scene.chip, wanted.frames, wanted.lines),
    "constants": lambda scene, _wanted: Still(of_chip(scene.chip, constants_files)),
    "registers": lambda scene, _wanted: Still(of_chip(scene.chip, register_files)),
    "sheet": lambda scene, _wanted: Still(sheet_files(scene)),
}
"""Who makes each part of a scene's frames."""


def export(
    scene: Scene,
    folder: str | Path,
    *,
    frames: range = range(1),
    only: Iterable[str] | None = None,
    lines: range | None = None,
    damage: bool = False,
) -> None:
    """Write the folder ``folder`` with what the hardware side needs to check ``frames`` of ``scene`` against the model.

    ``frames``: A to B - 1 as ``range(A, B)``, within 0 to 99,999. ``only`` names the parts that are wanted, of
    ``memory``, ``vectors``, ``waves``, ``constants``, ``registers``, ``sheet``; left out: all, but ``waves`` where
    pyvcd is not installed. README.md, index.json and the chip's file are always there. ``lines``: those of each frame
    that the waveform shows, A to B - 1 of 0 to ``lines_per_frame`` - 1; left out: the line of the first frame with most
    slots used (the first of such; without a time table that with most fetches), the one before and the one after it.
    ``damage``: what comes too late shows, as ``render`` has it. All files are written, or none.

    Raises ValueError where frames, parts or lines are none of these, or a frame of vectors or waveform has more than
    2,097,152 slots; NotInTimeError, a ValueError, where a fetch of such a frame comes too late and ``damage`` was not
    asked for; InputError where names of the chip would be one in a language of its constants or of its registers, or
    the waveform is asked for by name and pyvcd is not installed; OSError where a file cannot be written.
    """
    with Outputs() as written:
        export_into(written, scene, folder, frames=frames, only=only, lines=lines, damage=damage)


def export_into(
    written: Outputs,
    scene: Scene,
    folder: str | Path,
    *,
    frames: range = range(1),
    only: Iterable[str] | None = None,
    lines: range | None = None,
    damage: bool = False,
) -> None:
    """The same as files of a run; see ``export``."""
    parts = check(scene, frames, only, lines)
    flag("damage", damage)
    files = _Folder(written, path_of("folder", folder))
    start = reached(Plan(scene.chip), scene, frames[0])
    makers = [MAKERS[name](scene, Wanted(frames, start, lines)) for name in parts]
    told = Told(scene, parts, start)
    for maker in makers:
        files.add(maker.begin())
    wanted = frames if OF_FRAMES.intersection(parts) else range(0)
    for one in drawn(scene, wanted, damage=damage, traced=scene.chip.time is not None):
        for maker in makers:
            files.add(maker.frame(one))
        told.frame(one, {kind: count for maker in makers for kind, count in maker.counted.items()})
    files.add(of_chip(scene.chip, chip_files))
    index = told.index(sorted([*files.files, README, NAME]))
    files.add([(NAME, index.text()), (README, readme(scene, index))])


def check(scene: Scene, frames: range, only: Iterable[str] | None, lines: range | None = None) -> tuple[str, ...]:
    """The parts asked for, in the table's order. Raises TypeError or ValueError where they, frames or lines cannot be had."""
    instance("scene", scene, Scene)
    instance("frames", frames, range)
    if frames.step != 1 or not frames or frames.start < 0 or frames[-1] > LAST_FRAME:
        told = f"range(A, B), A below B, with frames from 0 to {LAST_FRAME:,}"
        raise ValueError(f"frames must be {told}, got {shown(frames)}")
    asked = available() if only is None else items("only", only, "names of parts")
    wrong = [one for one in asked if one not in PARTS]
    if wrong or not asked:
        raise ValueError(f"only must name parts, of {', '.join(PARTS)}, got {', '.join(map(shown, wrong)) or 'none'}")
    check_lines(scene.chip, lines)
    if lines is not None and "waves" not in asked:
        raise ValueError(f"lines are those of the waveform: only must name waves too, got {', '.join(asked)}")
    if scene.chip.time is not None and OF_FRAMES.intersection(asked):
        check_traced(scene.chip)
    return tuple(part for part in PARTS if part in asked)


def of_chip(chip: Chip, make: Callable[[Chip], Pieces]) -> Sequence[tuple[str, bytes]]:
    """The files that a chip alone decides: made once, however many of its scenes and frames are exported."""
    return once(chip, f"_{make.__name__}", lambda: tuple(make(chip)))


def chip_files(chip: Chip) -> Pieces:
    """The chip's own file, which loads as the same chip, and what its keys are."""
    yield "chip.toml", chip_text(chip).encode()
    yield "chip.schema.json", _chip_schema()


@cache  # it says the same of every chip, and takes as long as three frames
def _chip_schema() -> bytes:
    return (json.dumps(schema("chip"), indent=1) + "\n").encode()


class _Folder:
    """The files of a folder, added to as their bytes come."""

    def __init__(self, written: Outputs, top: Path) -> None:
        self.written, self.top = written, top
        self.files: dict[str, GrowingFile] = {}

    def add(self, pieces: Iterable[tuple[str, bytes]]) -> None:
        """Add each piece to its file."""
        for name, data in pieces:
            if name not in self.files:
                self.files[name] = self.written.grow(self.top / name)
            self.files[name].write(data)
