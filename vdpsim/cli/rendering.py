"""What a command line of ``vdpsim render`` asks for, the names of the files that it leads to, and what is wrong with it.

Law: each check looks at one thing and yields the option and what is wrong with it; all mistakes are told at once, before anything
is drawn. Nothing is drawn here, nothing is written.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import vdpsim
from vdpsim.door.given import picture_scale
from vdpsim.door.shown import shown_path

from .files import is_folder

if TYPE_CHECKING:
    from vdpsim import Scene


LOGS = (".csv", ".json")
"""Endings of logs; one of them alone, as ``--log``, puts a log beside each PNG."""


Mistake = tuple[str, str]
"""An option, and what is wrong with it."""

MOVING = (".png", ".gif", ".webp")
"""Endings of animations."""


class RenderRequest(NamedTuple):
    """The words of the command line; ``frames``: those of each scene, and ``numbered``: they were asked for with --frames."""

    scenes: Sequence[str]
    chip: str | None
    frames: range
    numbered: bool
    output: str | None
    log: str | None
    views: str | None
    trace: str | None
    busmap: str | None
    scale: int
    border: bool
    damage: bool
    writes: str | None

    @classmethod
    def of(cls, options: argparse.Namespace) -> RenderRequest:
        """The request of parsed ``options``."""
        numbered = options.frames is not None
        same = ("scenes", "chip", "output", "log", "views", "trace", "busmap", "scale", "border", "damage", "writes")
        return cls(
            frames=options.frames if numbered else range(options.frame, options.frame + 1),
            numbered=numbered,
            **{name: getattr(options, name) for name in same},
        )

    @property
    def several(self) -> bool:
        """Whether there can be more than one frame."""
        return len(self.scenes) > 1 or self.numbered

    @property
    def animates(self) -> bool:
        """Whether one animated file is asked for."""
        return bool(self.output and self.numbered and not is_folder(self.output))

    @property
    def log_beside(self) -> bool:
        """Whether each log goes beside its PNG."""
        return self.log in LOGS

    @property
    def files(self) -> list[str]:
        """The files that it names, folders left out."""
        named = [place for place in (self.output, self.trace, self.busmap) if place and not is_folder(place)]
        return [*named, self.log] if self.log and not self.log_beside else named

    def name(self, stem: str, frame: int) -> str:
        """What the files of a scene's frame are called."""
        return f"{stem}-{frame:04}" if self.numbered else stem

    def picture(self, name: str) -> Path | None:
        """The PNG of the frame ``name``; None where none is asked for."""
        return place(self.output, f"{name}.png") if self.output else None

    def log_file(self, name: str) -> Path | None:
        """The log of the frame ``name``; None where none is asked for."""
        if not self.log:
            return None
        picture = self.picture(name)
        return picture.with_suffix(self.log) if picture and self.log_beside else Path(self.log)


def place(asked: str, name: str) -> Path:
    """The file that was asked for, or the file ``name`` in the folder that was."""
    return Path(asked) / name if is_folder(asked) else Path(asked)


def stem_of(path: str) -> str:
    """What the files of the scene at ``path`` are called."""
    return Path(path).name.removesuffix(".toml").removesuffix(".scene")


def refuse(mistakes: Iterable[Mistake]) -> None:
    """Raise InputError where there are any."""
    problems = [vdpsim.Problem("vdpsim render", 0, option, message) for option, message in mistakes]
    if problems:
        raise vdpsim.InputError(problems)


def of_words(request: RenderRequest) -> Iterator[Mistake]:
    """What is wrong with the command line in itself."""
    for check in (_nothing, _pictures, _traces, _bus_maps, _log, _same_file, _views, _names):
        yield from check(request)


def _nothing(request: RenderRequest) -> Iterator[Mistake]:
    if not (request.output or request.log or request.views or request.trace or request.busmap):
        ways = "--log FILE, --views DIR, --trace FILE.npz or --busmap FILE.png"
        yield "-o", f"nothing is asked for: give -o FILE.png or DIR/, {ways}"


def _pictures(request: RenderRequest) -> Iterator[Mistake]:
    if not (request.animates and len(request.scenes) == 1):
        yield from _file(request, "-o", request.output, ".png", "pictures")
    elif request.output and Path(request.output).suffix.lower() not in MOVING:
        ways = f"{', '.join(MOVING)}, or in / for a folder"
        yield "-o", f"an animation must end in {ways}, got {shown_path(request.output)}"


def _traces(request: RenderRequest) -> Iterator[Mistake]:
    return _file(request, "--trace", request.trace, ".npz", "traces")


def _bus_maps(request: RenderRequest) -> Iterator[Mistake]:
    return _file(request, "--busmap", request.busmap, ".png", "pictures")


def _file(request: RenderRequest, option: str, place: str | None, ending: str, things: str) -> Iterator[Mistake]:
    """A place for ``things``: a file of one frame, or a folder."""
    if not place or is_folder(place):
        return
    if request.several:
        yield option, f"several {things} need a folder, DIR/, got {shown_path(place)}"
    elif Path(place).suffix.lower() != ending:
        yield option, f"must end in {ending}, or in / for a folder, got {shown_path(place)}"


def _log(request: RenderRequest) -> Iterator[Mistake]:
    if not request.log:
        return
    if not request.log_beside and Path(request.log).suffix not in LOGS:
        yield "--log", f"must end in .csv or .json, got {shown_path(request.log)}"
    elif request.log_beside and not request.output:
        yield "--log", f"{request.log} puts a log beside each PNG, which needs -o"
    elif request.output and request.animates and len(request.scenes) == 1:
        told = "logs of several frames need a folder of pictures, -o DIR/"
        yield "--log", f"{told}, got {shown_path(request.output)}"
    elif request.several and not request.log_beside:
        told = "several logs need just .csv or .json, one beside each PNG"
        yield "--log", f"{told}, got {shown_path(request.log)}"


def _same_file(request: RenderRequest) -> Iterator[Mistake]:
    files = [Path(one) for one in (request.output, request.busmap) if one and not is_folder(one)]
    if request.busmap and len(files) == 2 and files[0] == files[1]:
        yield "--busmap", f"must be another file than the picture's, got {shown_path(request.busmap)}"


def _views(request: RenderRequest) -> Iterator[Mistake]:
    if request.views and request.numbered:
        yield "--views", "shows one frame: use --frame N instead of --frames"


def _names(request: RenderRequest) -> Iterator[Mistake]:
    stems = [stem_of(path) for path in request.scenes]
    for stem in sorted({stem for stem in stems if stems.count(stem) > 1}):
        yield "SCENE", f"two scenes would have the same file name, {stem}.png"


def untimed(request: RenderRequest, scenes: Mapping[str, Scene]) -> Iterator[Mistake]:
    """Slots are asked for, of a chip without a time table."""
    for option, asked in (("--trace", request.trace), ("--busmap", request.busmap)):
        for stem, scene in scenes.items():
            if asked and scene.chip.time is None:
                yield option, f"needs a chip with a time table; {scene.chip.name}, of {stem}, has none"


def too_large(request: RenderRequest, scenes: Mapping[str, Scene]) -> Iterator[Mistake]:
    """Pictures with more dots than there may be, and traces of more slots: told before anything is drawn."""
    for stem, scene in scenes.items():
        option = "--scale"
        try:
            _check_dots(request, scene)
            option = "--busmap" if request.busmap else "--trace"
            _check_slots(request, scene)
        except ValueError as error:
            yield option, f"{error}, for {stem}"


def _check_dots(request: RenderRequest, scene: Scene) -> None:
    """Raise ValueError where ``--scale`` makes too many dots of a picture or of a bus map."""
    from vdpsim.chip.line.rates import line_slots  # noqa: PLC0415 - --help needs no engine
    from vdpsim.output.frame import LARGEST_SCALE  # noqa: PLC0415

    frame, edge = scene.chip.frame, scene.chip.frame.border
    wide, high = frame.width, frame.height
    if request.border:
        wide, high = wide + edge.left + edge.right, high + edge.top + edge.bottom
    if request.output or request.views:
        picture_scale(request.scale, LARGEST_SCALE, wide, high)
    if request.busmap:
        picture_scale(request.scale, LARGEST_SCALE, line_slots(scene.chip).slots, frame.lines_per_frame)


def _check_slots(request: RenderRequest, scene: Scene) -> None:
    """Raise ValueError where a frame has more slots than a trace holds."""
    from vdpsim.machine.machine import check_traced  # noqa: PLC0415 - as above

    if request.busmap or request.trace:
        check_traced(scene.chip)
