"""``vdpsim map``: where a scene puts everything in video memory."""

from __future__ import annotations

import argparse

import vdpsim

from ..say import say

ABOUT = "Prints where a scene puts everything in video memory: who owns which bytes, in hex, and what is free."
EXAMPLES = """\
examples:
  vdpsim map scenes/saltmarsh.scene.toml
  vdpsim map scenes/ferry.scene.toml --chip scenes/chips/dunlin.chip.toml
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("scene", metavar="SCENE", help="a scene file (*.scene.toml)")
    parser.add_argument("--chip", metavar="FILE", help="use this chip file instead of the scene's own")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    chip = vdpsim.load_chip(options.chip) if options.chip else None
    say(vdpsim.load_scene(options.scene, chip=chip).memory_map().rstrip("\n"))
    return 0
