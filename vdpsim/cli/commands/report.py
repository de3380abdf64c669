"""``vdpsim report``: a page that explains a scene's frames."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import vdpsim
from vdpsim.door.shown import shown_path

from ..files import SCENE_HELP, chip_file, outputs, replace_argument, scene_file, scene_on
from ..parsing import frame_number, frame_range

ABOUT = """\
Makes one HTML file that explains frames of a scene. Point at a dot to see which source won, by which rung, what lay
beneath and where it came from; beside the picture stands who fetched on each line. It works offline and can be sent to
anyone."""
EXAMPLES = """\
examples:
  vdpsim report scenes/flock.scene.toml -o flock.html
  vdpsim report scenes/dusk.scene.toml --frames 0:48 -o dusk.html      with all frames to step through
  vdpsim report scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml -o ferry-dunlin.html

fetches that come too late are drawn as the damage that they would do, and counted

exit status: 0 written; 2 a file or an option is wrong, or a file cannot be written
"""

FEW = 10
"""Frames for which no progress is shown."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scene", metavar="SCENE", type=scene_file, help=SCENE_HELP)
    parser.add_argument("-o", "--output", metavar="FILE", required=True, help="FILE.html")
    parser.add_argument("--chip", metavar="CHIP", type=chip_file, help="a chip file to use instead of the scene's own")
    replace_argument(parser)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--frame", metavar="N", type=frame_number, default=0, help="which frame, from 0 (the default)")
    which.add_argument(
        "--frames", metavar="A:B", type=frame_range, help="frames A to B-1; A:B:STEP takes every STEP-th"
    )


def run(options: argparse.Namespace) -> int:
    """Do it."""
    if Path(options.output).suffix.lower() not in {".html", ".htm"}:
        told = f"must end in .html, got {shown_path(options.output)}"
        raise vdpsim.InputError([vdpsim.Problem("vdpsim report", 0, "-o", told)])
    scene = scene_on(options.scene, options.chip)
    wanted = options.frames or range(options.frame, options.frame + 1)
    with outputs(options, options.output) as written:
        written.add(options.output, _made(scene, wanted).encode())
    return 0


def _made(scene: vdpsim.Scene, wanted: range) -> str:
    if len(wanted) < FEW or not sys.stderr.isatty():
        return vdpsim.report_page(scene, wanted)
    from rich.console import Console  # noqa: PLC0415 - takes as long to load as a frame to draw
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("drawing", total=len(wanted))
        return vdpsim.report_page(scene, wanted, lambda done: progress.update(task, completed=done))
