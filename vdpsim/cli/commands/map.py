"""``vdpsim map``: where a scene puts everything in video memory."""

from __future__ import annotations

import argparse

from ..files import SCENE_HELP, chip_file, scene_file, scene_on
from ..say import say, wide

ABOUT = "Prints where a scene puts everything in video memory: who owns which bytes, in hex, and what is free."
EXAMPLES = """\
examples:
  vdpsim map scenes/saltmarsh.scene.toml
  vdpsim map scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scene", metavar="SCENE", type=scene_file, help=SCENE_HELP)
    parser.add_argument("--chip", metavar="CHIP", type=chip_file, help="use this chip file instead of the scene's own")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    say(scene_on(options.scene, options.chip).memory_map(max(40, wide())).rstrip("\n"))
    return 0
