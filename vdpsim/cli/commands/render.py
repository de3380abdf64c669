"""``vdpsim render``: scenes into pictures and logs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import vdpsim
from vdpsim.door.shown import printable

from ..files import SCENE_HELP, chip_asked, chip_file, outputs, replace_argument, say_first, scene_file
from ..parsing import frame_number, frame_range, number_within
from ..rendering import RenderRequest, of_words, place, refuse, stem_of, too_large, untimed
from ..say import say, tell

if TYPE_CHECKING:
    from vdpsim import Frame, Scene
    from vdpsim.files import Outputs

ABOUT = """\
Draws scenes as PNG files. It can also write a log of every memory fetch, each source alone, and a picture of which
client had which slot of each line. Either all files are written or none."""
EXAMPLES = """\
examples:
  vdpsim render scenes/saltmarsh.scene.toml -o marsh.png --log marsh.csv --scale 3
  vdpsim render scenes/*.scene.toml -o out/ --log .json         a PNG and a log of each scene, in out/
  vdpsim render scenes/dusk.scene.toml --frames 0:50 -o dusk/   dusk-0000.png to dusk-0049.png
  vdpsim render scenes/dusk.scene.toml --frames 0:100 -o dusk.png   one animated PNG; .gif and .webp move too
  vdpsim render scenes/flock.scene.toml --frame 7 --log flock.csv
  vdpsim render scenes/saltmarsh.scene.toml --views views/      each layer and the sprites alone, and who shows where
  vdpsim render scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml -o small.png
  vdpsim render scenes/saltmarsh.scene.toml --writes writes.csv -o p.png   driven by a recorded list of bus writes
  vdpsim render scenes/slipway.scene.toml --trace slipway.npz --busmap slipway-bus.png

log: .csv has one row per line: line, fetches of each client, total, sprites found, drawn and dropped; with a time
table also refresh, cpu, idle and missed. .json has a summary, the lines, drops, collisions and flags raised; with a
time table also the slots of every line, the missed accesses and the CPU's transfers

animations are checked for flashes as WCAG 2.3.1 defines them. Finding none does not prove that an animation is safe
for everybody

trace: a numpy file with one element per used slot: line, slot, client, address, value

exit status: 0 drawn; 1 a fetch comes too late, the chip does not fit (use --damage to draw it anyway); 2 an error
"""
FEW = 10
"""Frames for which no progress is shown."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scenes", metavar="SCENE", nargs="+", type=scene_file, help=SCENE_HELP)
    parser.add_argument(
        "-o",
        "--output",
        metavar="PLACE",
        help="FILE.png, or DIR/ for one PNG per scene and frame; with --frames, FILE.png, .gif or .webp is an animation",
    )
    parser.add_argument(
        "--log", metavar="FILE", help="FILE.csv or FILE.json; just .csv or .json writes one beside each PNG"
    )
    parser.add_argument("--views", metavar="DIR", help="write each source alone, and the source map, to DIR")
    parser.add_argument(
        "--trace", metavar="PLACE", help="FILE.npz with every access, or DIR/ for one per scene and frame"
    )
    parser.add_argument(
        "--busmap",
        metavar="PLACE",
        help="FILE.png, a picture of which client had which slot, or DIR/ for one NAME-bus.png each",
    )
    parser.add_argument(
        "--damage", action="store_true", help="draw even if fetches come too late, and say what was missed"
    )
    parser.add_argument(
        "--scale", metavar="N", type=_scale, default=1, help="each dot becomes N x N, 1 to 16 (default 1)"
    )
    parser.add_argument("--border", action="store_true", help="draw the border too")
    parser.add_argument("--chip", metavar="CHIP", type=chip_file, help="use this chip file instead of the scene's own")
    parser.add_argument(
        "--writes",
        metavar="FILE.csv",
        help="also write these recorded bytes to the chip's addresses: rows of frame,line,dot,address,value",
    )
    replace_argument(parser)
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--frame", metavar="N", type=frame_number, default=0, help="which frame, counted from 0 (default 0)"
    )
    which.add_argument(
        "--frames",
        metavar="A:B",
        type=frame_range,
        help="frames A to B-1, as numbered PNGs or one animation; A:B:STEP takes every STEP-th",
    )


def run(options: argparse.Namespace) -> int:
    """Do it."""
    request = RenderRequest.of(options)
    refuse(of_words(request))
    scenes = _load(request)
    refuse(untimed(request, scenes))
    refuse(too_large(request, scenes))
    _tell_beyond(request, scenes)
    damaged: list[str] = []
    with outputs(options, *request.files) as written:
        frames = _written(written, request, _drawn(scenes, request), damaged)
        if request.animates:
            _animate(written, request, (frame for _, frame in frames), next(iter(scenes.values())).chip)
        else:
            for name, frame in frames:
                picture = request.picture(name)
                if picture:
                    written.add(picture, frame.png(request.scale, request.border))
    for line in damaged:
        tell(printable(line))
    return 0


def _load(request: RenderRequest) -> dict[str, Scene]:
    """The scenes by the names that their files get. Raises InputError with the mistakes of all of them."""
    chips = {path: vdpsim.load_chip(path) for path in {chip_asked(one, request.chip) for one in request.scenes} if path}
    scenes: dict[str, Scene] = {}
    problems: list[vdpsim.Problem] = []
    for path in request.scenes:
        try:
            asked = chip_asked(path, request.chip)
            scene = vdpsim.load_scene(path, chip=chips[asked] if asked else None)
            scenes[stem_of(path)] = scene.driven(request.writes) if request.writes else scene
        except vdpsim.InputError as error:
            problems += error.problems
    if problems:
        raise vdpsim.InputError(problems)
    return scenes


def _tell_beyond(request: RenderRequest, scenes: dict[str, Scene]) -> None:
    """Say which scenes are drawn beyond the frames that they are meant to run."""
    last = request.frames[-1]
    for stem, scene in scenes.items():
        if last >= scene.frames:
            meant = "1 frame" if scene.frames == 1 else f"{scene.frames:,} frames"
            tell(f"{printable(stem)}: frame {last} is beyond the {meant} of the scene, which goes on as its file says")


def _drawn(scenes: dict[str, Scene], request: RenderRequest) -> Iterable[tuple[str, Frame]]:
    """The frames with their scenes' names, one after the other as they are drawn."""
    return _progress(_each_frame(scenes, request), len(scenes) * len(request.frames))


def _each_frame(scenes: dict[str, Scene], request: RenderRequest) -> Iterator[tuple[str, Frame]]:
    traced, planes = bool(request.trace or request.busmap), request.views is not None
    for stem, scene in scenes.items():
        drawn = vdpsim.frames(scene, request.frames, planes=planes, damage=request.damage, trace=traced)
        done = 0
        try:
            for frame in drawn:
                done += 1
                yield stem, frame
        except vdpsim.NotInTimeError as error:
            raise vdpsim.NotInTimeError(f"{stem}, frame {request.frames[done]}: {error}") from None


def _written(
    written: Outputs, request: RenderRequest, drawn: Iterable[tuple[str, Frame]], damaged: list[str]
) -> Iterator[tuple[str, Frame]]:
    """The frames by their names, each once all but its picture is written; what was missed of it goes to ``damaged``."""
    for stem, frame in drawn:
        name = request.name(stem, frame.frame)
        _write_beside(written, request, name, frame)
        if frame.missed.any():
            damaged.append(f"{name}: {_missed(frame)}")
        if frame.collisions_left_out and (request.log or "").endswith(".json"):
            damaged.append(f"{name}: {_left_out(frame)}")
        yield name, frame


def _write_beside(written: Outputs, request: RenderRequest, name: str, frame: Frame) -> None:
    """Everything but the picture that is asked of the frame ``name``."""
    log = request.log_file(name)
    if log:
        written.add(log, vdpsim.log_text(frame, log.suffix).encode())
    if request.views:
        from vdpsim.output.frame import each_view  # noqa: PLC0415 - --help needs no engine

        for view, image in each_view(frame, request.scale):
            written.add(Path(request.views) / f"{name}-{view}.png", vdpsim.png_bytes(image))
    if request.trace:
        written.add(place(request.trace, f"{name}.npz"), vdpsim.trace_npz(frame))
    if request.busmap:
        shown = vdpsim.png_bytes(vdpsim.bus_map(frame, request.scale))
        written.add(place(request.busmap, f"{name}-bus.png"), shown)


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


def _animate(written: Outputs, request: RenderRequest, drawn: Iterator[Frame], chip: vdpsim.Chip) -> None:
    """Write the animation, and tell how long its frames last and what was found in it."""
    path = Path(request.output or "")
    made = vdpsim.animation(
        drawn, chip, path.suffix.lower(), step=request.frames.step, scale=request.scale, border=request.border
    )
    written.add(path, made.data)
    say_first(written, lambda: _say_animation(printable(path), made))


def _say_animation(shown: str, made: vdpsim.Animation) -> None:
    say(f"{shown}: {made.frames} frames, {made.timing}")
    if made.flashes.passes:
        say(f"{shown}: {made.flashes.told()}; that does not say that it is safe for everybody")
    else:
        tell(f"{shown}: CAUTION: flashing pictures can cause seizures: {made.flashes.told()} (WCAG 2.3.1)")


def _progress(work: Iterable[tuple[str, Frame]], total: int) -> Iterable[tuple[str, Frame]]:
    if total < FEW or not sys.stderr.isatty():
        return work
    from rich.console import Console  # noqa: PLC0415 - takes as long to load as a frame to draw
    from rich.progress import track  # noqa: PLC0415

    return track(work, "drawing", total, console=Console(stderr=True), transient=True)


def _scale(text: str) -> int:
    return number_within(text, 1, 16)
