"""``vdpsim render``: scenes into pictures and logs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import vdpsim
from vdpsim.files import Outputs

if TYPE_CHECKING:
    from vdpsim import Frame, Scene

ABOUT = (
    "Draws scenes: a PNG of each, a log of every memory fetch, and each source alone. Files appear whole, or none does."
)
EXAMPLES = """\
examples:
  vdpsim render scenes/saltmarsh.scene.toml -o marsh.png --log marsh.csv --scale 3
  vdpsim render scenes/*.scene.toml -o out/ --log .json         a PNG and a log of each scene, in out/
  vdpsim render scenes/dusk.scene.toml --frames 0:50 -o dusk/   dusk-0000.png to dusk-0049.png
  vdpsim render scenes/flock.scene.toml --frame 7 --log flock.csv
  vdpsim render scenes/saltmarsh.scene.toml --views views/      each layer and the sprites alone, and who shows where
  vdpsim render scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml -o small.png

the log: .csv has a row a line (line, fetches of each client, total, sprites found, drawn and dropped);
.json has a summary, the lines, the drops and the collisions
"""
LOGS = (".csv", ".json")
LAST_FRAME = 99_999
FEW = 10
"""Frames for which no progress is shown."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scenes", metavar="SCENE", nargs="+", help="a scene file (*.scene.toml)")
    parser.add_argument("-o", "--output", metavar="PLACE", help="FILE.png, or DIR/ for a PNG of each scene and frame")
    parser.add_argument("--log", metavar="FILE", help="FILE.csv or FILE.json; just .csv or .json: one beside each PNG")
    parser.add_argument("--views", metavar="DIR", help="put each source alone and the source map into DIR")
    parser.add_argument(
        "--scale", metavar="N", type=_scale, default=1, help="each dot becomes N x N, 1 to 16 (default 1)"
    )
    parser.add_argument("--border", action="store_true", help="with the border around the picture")
    parser.add_argument("--chip", metavar="FILE", help="a chip file to use instead of the scene's own")
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--frame", metavar="N", type=_frame, default=0, help="which frame, from 0 (the default)")
    which.add_argument(
        "--frames", metavar="A:B", type=_frames, help="frames A to B-1, numbered PNGs; A:B:STEP leaves some out"
    )


def run(options: argparse.Namespace) -> int:
    """Do it."""
    _refuse(_misused(options))
    scenes = _load(options.scenes, options.chip)
    several = options.frames is not None
    wanted = options.frames if several else range(options.frame, options.frame + 1)
    with Outputs() as outputs:
        for stem, frame in _progress(
            _drawn(scenes, wanted, views=options.views is not None), len(scenes) * len(wanted)
        ):
            name = f"{stem}-{frame.frame:04}" if several else stem
            _put(outputs, options, name, frame)
    return 0


def _put(outputs: Outputs, options: argparse.Namespace, name: str, frame: Frame) -> None:
    """Everything that the options ask of one frame, under ``name``."""
    picture = _picture_path(options.output, name) if options.output else None
    if picture:
        outputs.add(picture, frame.png(options.scale, options.border))
    if options.log:
        path = picture.with_suffix(options.log) if picture and options.log in LOGS else Path(options.log)
        outputs.add(path, vdpsim.log_text(frame, path.suffix).encode())
    if options.views:
        for view, image in vdpsim.views(frame, options.scale).items():
            outputs.add(Path(options.views) / f"{name}-{view}.png", vdpsim.png_bytes(image))


def _drawn(scenes: dict[str, Scene], wanted: range, *, views: bool) -> Iterator[tuple[str, Frame]]:
    for stem, scene in scenes.items():
        if views:
            yield stem, vdpsim.render(scene, frame=wanted.start, planes=True)
        else:
            for frame in vdpsim.frames(scene, wanted):
                yield stem, frame


def _load(paths: list[str], chip_path: str | None) -> dict[str, Scene]:
    """The scenes by the names that their files get. Raises InputError with the mistakes of all of them."""
    chip = vdpsim.load_chip(chip_path) if chip_path else None
    scenes: dict[str, Scene] = {}
    problems: list[vdpsim.Problem] = []
    for path in paths:
        try:
            scenes[_stem(path)] = vdpsim.load_scene(path, chip=chip)
        except vdpsim.InputError as error:
            problems += error.problems
    _refuse(problems)
    return scenes


def _misused(options: argparse.Namespace) -> list[vdpsim.Problem]:
    """What is wrong with the command line as a whole."""
    wrong = []
    many = len(options.scenes) > 1 or options.frames is not None
    if not (options.output or options.log or options.views):
        wrong.append(("-o", "nothing is asked for: give -o FILE.png or DIR/, --log FILE or --views DIR"))
    if options.output and not _is_folder(options.output):
        if many:
            wrong.append(("-o", f"several pictures need a folder, DIR/, got {options.output}"))
        elif Path(options.output).suffix.lower() != ".png":
            wrong.append(("-o", f"must end in .png, or in / for a folder, got {options.output}"))
    if options.log:
        beside = options.log in LOGS
        if not beside and Path(options.log).suffix not in LOGS:
            wrong.append(("--log", f"must end in .csv or .json, got {options.log}"))
        elif beside and not options.output:
            wrong.append(("--log", f"{options.log} puts a log beside each PNG, which needs -o"))
        elif many and not beside:
            wrong.append(("--log", f"several logs need just .csv or .json, one beside each PNG, got {options.log}"))
    if options.views and options.frames is not None:
        wrong.append(("--views", "shows one frame: give --frame N instead of --frames"))
    stems = [_stem(path) for path in options.scenes]
    twice = sorted({stem for stem in stems if stems.count(stem) > 1})
    wrong += [("SCENE", f"two scenes would have the same file name, {stem}.png") for stem in twice]
    return [vdpsim.Problem("vdpsim render", 0, place, message) for place, message in wrong]


def _refuse(problems: list[vdpsim.Problem]) -> None:
    if problems:
        raise vdpsim.InputError(problems)


def _progress(work: Iterable[tuple[str, Frame]], total: int) -> Iterable[tuple[str, Frame]]:
    if total < FEW or not sys.stderr.isatty():
        return work
    from rich.console import Console  # noqa: PLC0415 - takes as long to load as a frame to draw
    from rich.progress import track  # noqa: PLC0415

    return track(work, "drawing", total, console=Console(stderr=True), transient=True)


def _picture_path(output: str, name: str) -> Path:
    return Path(output) / f"{name}.png" if _is_folder(output) else Path(output)


def _is_folder(path: str) -> bool:
    return path.endswith("/") or Path(path).is_dir()


def _stem(path: str) -> str:
    return Path(path).name.removesuffix(".toml").removesuffix(".scene")


def _number(text: str, least: int, most: int) -> int:
    if not (text.isascii() and text.isdigit() and least <= int(text[:9]) <= most):
        raise argparse.ArgumentTypeError(f"must be {least} to {most}, got {text!r}")
    return int(text)


def _scale(text: str) -> int:
    return _number(text, 1, 16)


def _frame(text: str) -> int:
    return _number(text, 0, LAST_FRAME)


def _frames(text: str) -> range:
    parts = [_number(part, 0, LAST_FRAME + 1) for part in text.split(":")]
    if len(parts) not in {2, 3} or parts[0] >= parts[1] or parts[2:] == [0]:
        raise argparse.ArgumentTypeError(f"must be A:B or A:B:STEP with A below B and a STEP from 1, got {text!r}")
    return range(*parts)
