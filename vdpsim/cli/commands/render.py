"""``vdpsim render``: scenes into pictures and logs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import vdpsim
from vdpsim.door.given import picture_scale
from vdpsim.door.shown import printable, shown_path
from vdpsim.files import Outputs

from ..numbers import frame_number, frame_range, number_within
from ..say import say, tell
from ..writing import is_folder, outputs, replace_argument, say_first

if TYPE_CHECKING:
    from vdpsim import Frame, Scene
    from vdpsim.files import Outputs

ABOUT = """\
Draws scenes: a PNG of each, a log of every memory fetch, each source alone, and who had which slot of the line's time.
Files appear whole, or none does."""
EXAMPLES = """\
examples:
  vdpsim render scenes/saltmarsh.scene.toml -o marsh.png --log marsh.csv --scale 3
  vdpsim render scenes/*.scene.toml -o out/ --log .json         a PNG and a log of each scene, in out/
  vdpsim render scenes/dusk.scene.toml --frames 0:50 -o dusk/   dusk-0000.png to dusk-0049.png
  vdpsim render scenes/dusk.scene.toml --frames 0:100 -o dusk.png   one animated PNG; .gif and .webp move too
  vdpsim render scenes/flock.scene.toml --frame 7 --log flock.csv
  vdpsim render scenes/saltmarsh.scene.toml --views views/      each layer and the sprites alone, and who shows where
  vdpsim render scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml -o small.png
  vdpsim render scenes/slipway.scene.toml --trace slipway.npz --busmap slipway-bus.png

the log: .csv has a row a line (line, fetches of each client, total, sprites found, drawn and dropped; on a chip with
a time table also refresh, cpu, idle and missed); .json has a summary, the lines, drops, collisions and flags raised,
and there the slots of every line of the frame, what was missed, and the CPU's transfers

an animation is looked at for flashes by the definition of WCAG 2.3.1; what is found is told, and that nothing was
found does not say that it is safe for everybody

the trace: a numpy file with an element for each slot that was used: line, slot, client, address, value

exit status: 0 drawn; 1 a fetch comes too late, so the chip does not fit (--damage draws it); 2 something is wrong
"""
LOGS = (".csv", ".json")
MOVING = (".png", ".gif", ".webp")
FEW = 10
"""Frames for which no progress is shown."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scenes", metavar="SCENE", nargs="+", help="a scene file (*.scene.toml)")
    parser.add_argument(
        "-o",
        "--output",
        metavar="PLACE",
        help="FILE.png, or DIR/ for a PNG of each scene and frame; with --frames FILE.png, .gif or .webp is animated",
    )
    parser.add_argument("--log", metavar="FILE", help="FILE.csv or FILE.json; just .csv or .json: one beside each PNG")
    parser.add_argument("--views", metavar="DIR", help="put each source alone and the source map into DIR")
    parser.add_argument(
        "--trace", metavar="PLACE", help="FILE.npz with every access, or DIR/ for one of each scene and frame"
    )
    parser.add_argument(
        "--busmap", metavar="PLACE", help="FILE.png, a picture of who had which slot, or DIR/ for NAME-bus.png of each"
    )
    parser.add_argument(
        "--damage", action="store_true", help="draw although a fetch comes too late, and say what was missed"
    )
    parser.add_argument(
        "--scale", metavar="N", type=_scale, default=1, help="each dot becomes N x N, 1 to 16 (default 1)"
    )
    parser.add_argument("--border", action="store_true", help="with the border around the picture")
    parser.add_argument("--chip", metavar="FILE", help="a chip file to use instead of the scene's own")
    replace_argument(parser)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--frame", metavar="N", type=frame_number, default=0, help="which frame, from 0 (the default)")
    which.add_argument(
        "--frames",
        metavar="A:B",
        type=frame_range,
        help="frames A to B-1, numbered PNGs or one animation; A:B:STEP leaves some out",
    )


def run(options: argparse.Namespace) -> int:
    """Do it."""
    _refuse(_misused(options))
    scenes = _load(options.scenes, options.chip)
    _refuse(_untimed(options, scenes))
    _refuse(_too_large(options, scenes))
    several = options.frames is not None
    wanted = options.frames if several else range(options.frame, options.frame + 1)
    damaged: list[str] = []
    drawn = _progress(_drawn(scenes, wanted, options), len(scenes) * len(wanted))
    files = [place for place in (options.output, options.trace, options.busmap) if place and not is_folder(place)]
    if options.log and options.log not in LOGS:
        files.append(options.log)
    with outputs(options, *files) as written:
        noted = _noted(written, options, drawn, damaged, several=several)
        if _moves(options):
            chip = next(iter(scenes.values())).chip
            _animate(written, options, (frame for _, frame in noted), chip)
        else:
            for name, frame in noted:
                picture = _place(options.output, f"{name}.png") if options.output else None
                if picture:
                    written.add(picture, frame.png(options.scale, options.border))
    for line in damaged:
        tell(printable(line))
    return 0


def _noted(
    written: Outputs,
    options: argparse.Namespace,
    drawn: Iterable[tuple[str, Frame]],
    damaged: list[str],
    *,
    several: bool,
) -> Iterator[tuple[str, Frame]]:
    """The frames by their names, each with all that is asked for but its picture."""
    for stem, frame in drawn:
        name = f"{stem}-{frame.frame:04}" if several else stem
        _put(written, options, name, frame)
        if frame.missed.any():
            damaged.append(f"{name}: {_missed(frame)}")
        if frame.collisions_left_out and (options.log or "").endswith(".json"):
            damaged.append(f"{name}: {_left_out(frame)}")
        yield name, frame


def _moves(options: argparse.Namespace) -> bool:
    """Whether one animated file is asked for."""
    return bool(options.output and options.frames is not None and not is_folder(options.output))


def _animate(written: Outputs, options: argparse.Namespace, drawn: Iterator[Frame], chip: vdpsim.Chip) -> None:
    """Write the animation, and tell how long its frames last and what was found in it."""
    path = Path(options.output)
    made = vdpsim.animation(
        drawn, chip, path.suffix.lower(), step=options.frames.step, scale=options.scale, border=options.border
    )
    written.add(path, made.data)
    say_first(written, lambda: _say_animation(printable(path), made))


def _say_animation(shown: str, made: vdpsim.Animation) -> None:
    say(f"{shown}: {made.frames} frames, {made.timing}")
    if made.flashes.passes:
        say(f"{shown}: {made.flashes.told()}; that does not say that it is safe for everybody")
    else:
        tell(f"{shown}: CAUTION: flashing pictures can cause seizures: {made.flashes.told()} (WCAG 2.3.1)")


def _missed(frame: Frame) -> str:
    """How many accesses came too late, and where."""
    lines = [line for line, late in enumerate(frame.missed.tolist(), frame.first) if any(late)]
    clients = frame.missed.sum(axis=0).tolist()
    each = ", ".join(f"{count} of {name}" for name, count in zip(frame.log.clients, clients, strict=True) if count)
    return f"{sum(clients)} accesses missed on {len(lines)} lines from line {lines[0]} to line {lines[-1]}: {each}"


def _left_out(frame: Frame) -> str:
    """What the log does not list."""
    listed, more = len(frame.collisions), frame.collisions_left_out
    return f"the log lists the first {listed:,} of {listed + more:,} collisions; flags are those of all"


def _put(written: Outputs, options: argparse.Namespace, name: str, frame: Frame) -> None:
    """Everything but the picture that the options ask of one frame, under ``name``."""
    picture = _place(options.output, f"{name}.png") if options.output else None
    if options.log:
        path = picture.with_suffix(options.log) if picture and options.log in LOGS else Path(options.log)
        written.add(path, vdpsim.log_text(frame, path.suffix).encode())
    if options.views:
        from vdpsim.output.frame import each_view  # noqa: PLC0415 - --help needs no engine

        for view, image in each_view(frame, options.scale):
            written.add(Path(options.views) / f"{name}-{view}.png", vdpsim.png_bytes(image))
    if options.trace:
        written.add(_place(options.trace, f"{name}.npz"), vdpsim.trace_npz(frame))
    if options.busmap:
        shown = vdpsim.png_bytes(vdpsim.bus_map(frame, options.scale))
        written.add(_place(options.busmap, f"{name}-bus.png"), shown)


def _drawn(scenes: dict[str, Scene], wanted: range, options: argparse.Namespace) -> Iterator[tuple[str, Frame]]:
    traced = bool(options.trace or options.busmap)
    planes = options.views is not None
    for stem, scene in scenes.items():
        drawn = vdpsim.frames(scene, wanted, planes=planes, damage=options.damage, trace=traced)
        done = 0
        try:
            for frame in drawn:
                done += 1
                yield stem, frame
        except vdpsim.NotInTimeError as error:
            raise vdpsim.NotInTimeError(f"{stem}, frame {wanted[done]}: {error}") from None


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
    moves = _moves(options) and len(options.scenes) == 1
    if not (options.output or options.log or options.views or options.trace or options.busmap):
        ways = "--log FILE, --views DIR, --trace FILE.npz or --busmap FILE.png"
        wrong.append(("-o", f"nothing is asked for: give -o FILE.png or DIR/, {ways}"))
    places = (
        ("-o", "output", ".png", "pictures"),
        ("--trace", "trace", ".npz", "traces"),
        ("--busmap", "busmap", ".png", "pictures"),
    )
    for word, name, ending, things in places:
        place = getattr(options, name)
        if place and not is_folder(place):
            if name == "output" and moves:
                if Path(place).suffix.lower() not in MOVING:
                    wrong.append(
                        (
                            word,
                            f"an animation must end in {', '.join(MOVING)}, or in / for a folder, got {shown_path(place)}",
                        )
                    )
            elif many:
                wrong.append((word, f"several {things} need a folder, DIR/, got {shown_path(place)}"))
            elif Path(place).suffix.lower() != ending:
                wrong.append((word, f"must end in {ending}, or in / for a folder, got {shown_path(place)}"))
    if options.log:
        beside = options.log in LOGS
        if not beside and Path(options.log).suffix not in LOGS:
            wrong.append(("--log", f"must end in .csv or .json, got {shown_path(options.log)}"))
        elif beside and not options.output:
            wrong.append(("--log", f"{options.log} puts a log beside each PNG, which needs -o"))
        elif moves:
            wrong.append(
                (
                    "--log",
                    f"logs of several frames need a folder of pictures, -o DIR/, got {shown_path(options.output)}",
                )
            )
        elif many and not beside:
            wrong.append(
                ("--log", f"several logs need just .csv or .json, one beside each PNG, got {shown_path(options.log)}")
            )
    files = [place for place in (options.output, options.busmap) if place and not is_folder(place)]
    if len(files) == 2 and Path(files[0]) == Path(files[1]):
        wrong.append(("--busmap", f"must be another file than the picture's, got {shown_path(options.busmap)}"))
    if options.views and options.frames is not None:
        wrong.append(("--views", "shows one frame: give --frame N instead of --frames"))
    stems = [_stem(path) for path in options.scenes]
    twice = sorted({stem for stem in stems if stems.count(stem) > 1})
    wrong += [("SCENE", f"two scenes would have the same file name, {stem}.png") for stem in twice]
    return [vdpsim.Problem("vdpsim render", 0, place, message) for place, message in wrong]


def _untimed(options: argparse.Namespace, scenes: dict[str, Scene]) -> list[vdpsim.Problem]:
    """What cannot be shown of scenes on chips without a time table."""
    return [
        vdpsim.Problem(
            "vdpsim render", 0, word, f"needs a chip with a time table; {scene.chip.name}, of {stem}, has none"
        )
        for word, asked in (("--trace", options.trace), ("--busmap", options.busmap))
        for stem, scene in scenes.items()
        if asked and scene.chip.time is None
    ]


def _too_large(options: argparse.Namespace, scenes: dict[str, Scene]) -> list[vdpsim.Problem]:
    """Where ``--scale`` makes more dots of a picture than there may be: told before anything is drawn."""
    from vdpsim.chip.line.rates import line_slots  # noqa: PLC0415 - --help needs no engine
    from vdpsim.machine.machine import check_traced  # noqa: PLC0415
    from vdpsim.output.frame import LARGEST_SCALE  # noqa: PLC0415

    found = []
    for stem, scene in scenes.items():
        frame, edge = scene.chip.frame, scene.chip.frame.border
        wide, high = frame.width, frame.height
        if options.border:
            wide, high = wide + edge.left + edge.right, high + edge.top + edge.bottom
        chip, word = scene.chip, "--scale"
        try:
            if options.output or options.views:
                picture_scale(options.scale, LARGEST_SCALE, wide, high)
            if options.busmap:
                picture_scale(options.scale, LARGEST_SCALE, line_slots(chip).slots, frame.lines_per_frame)
            if options.busmap or options.trace:
                word = "--busmap" if options.busmap else "--trace"
                check_traced(chip)
        except ValueError as error:
            found.append(vdpsim.Problem("vdpsim render", 0, word, f"{error}, for {stem}"))
    return found


def _refuse(problems: list[vdpsim.Problem]) -> None:
    if problems:
        raise vdpsim.InputError(problems)


def _progress(work: Iterable[tuple[str, Frame]], total: int) -> Iterable[tuple[str, Frame]]:
    if total < FEW or not sys.stderr.isatty():
        return work
    from rich.console import Console  # noqa: PLC0415 - takes as long to load as a frame to draw
    from rich.progress import track  # noqa: PLC0415

    return track(work, "drawing", total, console=Console(stderr=True), transient=True)


def _place(asked: str, name: str) -> Path:
    """The file that was asked for, or the file ``name`` in the folder that was."""
    return Path(asked) / name if is_folder(asked) else Path(asked)


def _stem(path: str) -> str:
    return Path(path).name.removesuffix(".toml").removesuffix(".scene")


def _scale(text: str) -> int:
    return number_within(text, 1, 16)
