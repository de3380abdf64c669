"""``vdpsim check``: every mistake in chip and scene files, and no picture."""

from __future__ import annotations

import argparse
import sys

import vdpsim

ABOUT = """\
Reads chip files (*.chip.toml) and scene files (*.scene.toml) with all that they name; prints a line for each that is
right, and every mistake in the others."""
EXAMPLES = """\
examples:
  vdpsim check scenes/chips/curlew.chip.toml
  vdpsim check scenes/chips/*.chip.toml scenes/*.scene.toml

exit status: 0 all right, 2 something is wrong
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="a chip file or a scene file")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    status = 0
    for path in options.files:
        try:
            print(f"OK {path}: {_told(path)}")
        except vdpsim.InputError as error:
            status = 2
            for problem in error.problems:
                print(problem, file=sys.stderr)
    return status


def _told(path: str) -> str:
    """What the file at ``path`` describes, in a line."""
    if path.endswith(".chip.toml"):
        chip = vdpsim.load_chip(path)
        frame = chip.frame
        rate = float(vdpsim.frame_rate(frame))
        return f"{chip.name}, {frame.width} x {frame.height} dots, {rate:.3f} frames a second, {chip.memory.size} bytes"
    if path.endswith(".scene.toml"):
        scene = vdpsim.load_scene(path)
        return f"{scene.name} on {scene.chip.name}, {scene.frames} frame{'s' if scene.frames != 1 else ''}"
    raise vdpsim.InputError([vdpsim.Problem(path, 0, "", "the name must end in .chip.toml or .scene.toml")])
