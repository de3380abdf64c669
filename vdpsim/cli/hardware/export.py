"""``vdpsim export``: a scene as material for the hardware side."""

from __future__ import annotations

import argparse
from pathlib import Path

import vdpsim
from vdpsim.door.shown import printable, shown_path, value
from vdpsim.handoff.parts import PARTS, available

from ..completing.table import offers
from ..files import SCENE_HELP, chip_file, outputs, replace_argument, scene_file, scene_on
from ..parsing import frame_range, line_range
from ..say import tell

_NAMES = ", ".join(PARTS)

ABOUT = f"""\
Writes a folder with what a design in a hardware description language is checked with: memory images for $readmemh,
every write that is done to the chip, and every dot, access, dropped sprite, collision and flag that is to come out of it, as
plain text; and the time of some lines as a waveform (VCD), which needs pyvcd: pip install 'vdpsim[handoff]'.
Its README.md says what each file and column is and how a test bench uses them. Parts: {_NAMES}."""
EXAMPLES = """\
examples:
  vdpsim export scenes/saltmarsh.scene.toml -o marsh/                   the first frame
  vdpsim export scenes/dusk.scene.toml --frames 0:48 -o dusk/           48 frames, one after the other
  vdpsim export scenes/flock.scene.toml --only memory -o flock/         the memory images alone
  vdpsim export scenes/tideline.scene.toml --only waves --lines 40:60 -o tideline/
  vdpsim export scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml -o small/

a frame of 288 x 216 dots takes some 5 MB of text

exit status: 0 written; 1 a fetch comes too late, the chip does not fit (--damage exports it anyway); 2 an error
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scene", metavar="SCENE", type=scene_file, help=SCENE_HELP)
    parser.add_argument("-o", "--output", metavar="FOLDER", required=True, help="the folder for the files")
    parser.add_argument("--frames", metavar="A:B", type=frame_range, help="frames A to B-1 (default 0:1, the first)")
    offers(parser.add_argument("--only", metavar="PART,...", help=f"these parts alone, of {_NAMES}"), lambda: PARTS)
    parser.add_argument(
        "--lines",
        metavar="A:B",
        type=line_range,
        help="lines A to B-1 of each frame in the waveform (default: the first frame's fullest line and its neighbours)",
    )
    parser.add_argument("--chip", metavar="CHIP", type=chip_file, help="use this chip file instead of the scene's own")
    parser.add_argument(
        "--writes",
        metavar="FILE.csv",
        help="also write these recorded bytes to the chip's addresses: rows of frame,line,dot,address,value",
    )
    parser.add_argument(
        "--damage", action="store_true", help="export even if fetches come too late, with what that does"
    )
    replace_argument(parser)


def run(options: argparse.Namespace) -> int:
    """Do it."""
    frames = range(1) if options.frames is None else options.frames
    only = available() if options.only is None else tuple(options.only.split(","))
    _refuse(options, frames, only)
    scene = scene_on(options.scene, options.chip)
    if options.writes:
        scene = scene.driven(options.writes)
    from vdpsim.handoff.export import check, export_into  # noqa: PLC0415 - --help needs no engine

    try:
        check(scene, frames, only, options.lines)
    except ValueError as error:
        raise vdpsim.InputError([vdpsim.Problem(printable(options.scene), 0, "", str(error))]) from None
    with outputs(options, Path(options.output) / "README.md") as written:
        export_into(
            written, scene, options.output, frames=frames, only=only, lines=options.lines, damage=options.damage
        )
    if options.only is None and len(only) < len(PARTS):
        tell("vdpsim: waves.vcd is left out: it needs pyvcd, which is not installed: pip install 'vdpsim[handoff]'")
    if frames[-1] >= scene.frames:
        told = f"is meant to run {scene.frames} frames, of which {frames[-1]} is none: later ones are what it would go on to show"
        tell(f"vdpsim: {printable(options.scene)}: {told}")
    return 0


def _refuse(options: argparse.Namespace, frames: range, only: tuple[str, ...]) -> None:
    """Raise InputError with what is wrong with the command line."""
    problems = []
    if frames.step != 1:
        problems.append(
            (
                "--frames",
                f"must be A:B, as every frame begins with what the one before left, got a step of {frames.step}",
            )
        )
    problems += [("--only", f"must name parts, of {_NAMES}, got {value(one)}") for one in only if one not in PARTS]
    if Path(options.output).exists() and not Path(options.output).is_dir():
        problems.append(("-o", f"must be a folder, {shown_path(options.output)} is a file"))
    if problems:
        raise vdpsim.InputError([vdpsim.Problem("vdpsim export", 0, place, message) for place, message in problems])
