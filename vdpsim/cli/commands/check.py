"""``vdpsim check``: the mistakes in chip and scene files, and no picture."""

from __future__ import annotations

import argparse

import vdpsim
from vdpsim.door.shown import printable, shown_path

from ..files import Named, either_file, scene_on
from ..say import say, tell

ABOUT = """\
Checks chip files (*.chip.toml) and scene files (*.scene.toml) with all files that they name. Prints one line for each
correct file, which tells of a chip also the value of each mode and of sprites that shows nothing, and the mistakes in the
others. Warns of some things in a chip that can never come about (a rung that never shows, a client that finds no slot), of a
raw file that is shorter than what it is for, and if a chip's rates, border or blanking do not suit its display: the one in
frame.display or, if that is left out, any of "525 lines", "625 lines" and "640x480"."""
EXAMPLES = """\
examples:
  vdpsim check scenes/chips/curlew.chip.toml
  vdpsim check scenes/chips/*.chip.toml scenes/*.scene.toml

a warning is not a mistake; of a display it names the standard. With frame.display = "other" the display is not checked

exit status: 0 all files are correct, with or without warnings; 2 there are mistakes
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="a chip file or a scene file, or a shipped name")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    status = 0
    for path in map(either_file, options.files):
        try:
            told, warnings = _told(path)
            say(f"OK {printable(path)}: {told}")
            for warning in warnings:
                tell(f"warning: {warning}")
        except vdpsim.InputError as error:
            status = 2
            for problem in error.problems:
                tell(problem)
    return status


def _told(path: str) -> tuple[str, tuple[vdpsim.Problem, ...]]:
    """What the file at ``path`` describes, in a line, and what there is to warn of."""
    if path.endswith(".chip.toml"):
        from vdpsim.files.toml.tables import Source  # noqa: PLC0415 - what reads a file is not for those who only ask for help

        chip = vdpsim.load_chip(path)
        frame = chip.frame
        rate = float(vdpsim.frame_rate(frame))
        sizes = " or ".join(f"{width} x {height}" for width, height in frame.every_size)
        told = f"{chip.name}, {sizes} dots, {rate:.3f} frames a second, {chip.memory.size} bytes"
        told += f"; transparent: {', '.join(f'{name} {value}' for name, value in chip.transparency.items())}"
        found = [vdpsim.Problem(path, 0, "frame", warning) for warning in vdpsim.display_warnings(frame)]
        source = Source.read(path)
        return told, (*found, *(source.problem(place, warning) for place, warning in vdpsim.design_warnings(chip)))
    if path.endswith(".scene.toml"):
        scene = scene_on(path, None)
        told = f"{scene.name} on {scene.chip.name}, {scene.frames} frame{'s' if scene.frames != 1 else ''}"
        return told, scene.warnings
    as_name = f"; as a shipped name: {path.wrong}" if isinstance(path, Named) else ""
    told = f"the name must end in .chip.toml or .scene.toml{as_name}"
    raise vdpsim.InputError([vdpsim.Problem(shown_path(path), 0, "", told)])
