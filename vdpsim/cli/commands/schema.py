"""``vdpsim schema``: the JSON Schema of the two kinds of file."""

from __future__ import annotations

import argparse

import vdpsim

from ..say import as_json, say

ABOUT = "Prints the JSON Schema of chip files or scene files, for editors that complete and check TOML."
EXAMPLES = """\
examples:
  vdpsim schema chip > chip.schema.json
  vdpsim schema scene > scene.schema.json
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("kind", choices=("chip", "scene"), help="which kind of file")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    say(as_json(vdpsim.schema(options.kind)), end="")
    return 0
