"""``vdpsim watch``: a local page that is redrawn when a file is saved."""

from __future__ import annotations

import argparse

import vdpsim

from ..files import SCENE_HELP, chip_asked, chip_file, scene_file
from ..parsing import frame_number, frame_range, number_within
from ..say import flush, say

ABOUT = """\
Serves the page of vdpsim report to a browser on this machine, and redraws it when the chip, the scene or its art is
saved. If a file is wrong, the mistake and its place show over the last good picture."""
EXAMPLES = """\
examples:
  vdpsim watch scenes/saltmarsh.scene.toml
  vdpsim watch scenes/dusk.scene.toml --frames 0:12 --port 8000
  vdpsim watch scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml

it listens on 127.0.0.1 only; stop it with Ctrl-C

exit status: 2 a file or an option is wrong, or the port cannot be used; 130 stopped
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scene", metavar="SCENE", type=scene_file, help=SCENE_HELP)
    parser.add_argument("--chip", metavar="CHIP", type=chip_file, help="a chip file to use instead of the scene's own")
    parser.add_argument(
        "--port", metavar="N", type=_port, default=0, help="which port, 1024 to 65535 (default: a free one)"
    )
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--frame", metavar="N", type=frame_number, default=0, help="which frame, from 0 (the default)")
    which.add_argument(
        "--frames", metavar="A:B", type=frame_range, help="frames A to B-1; A:B:STEP takes every STEP-th"
    )


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.report.server import PortError, serve  # noqa: PLC0415 - --help needs no server
    from vdpsim.report.watch import Watched  # noqa: PLC0415

    wanted = options.frames or range(options.frame, options.frame + 1)
    watched = Watched(options.scene, wanted, chip_asked(options.scene, options.chip))
    watched.start()
    try:
        serve(watched, options.port, _told)
    except PortError as error:
        told = f"port {options.port} cannot be used: {error.strerror or error}"
        raise vdpsim.InputError([vdpsim.Problem("vdpsim watch", 0, "--port", told)]) from None
    return 0


def _told(text: str) -> None:
    say(text)
    flush()


def _port(text: str) -> int:
    return number_within(text, 1024, 65535)
