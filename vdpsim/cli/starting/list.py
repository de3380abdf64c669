"""``vdpsim list``: the chips and scenes that come with vdpsim."""

from __future__ import annotations

import argparse

from vdpsim.door.columns import folded

from ..say import as_json, listed, say, wide

ABOUT = """\
Lists the chips and scenes that come with vdpsim. Every command that takes a chip or scene file takes one of these names."""
EXAMPLES = """\
examples:
  vdpsim list
  vdpsim render curlew:flock -o flock.png        a scene on its own chip
  vdpsim render dunlin:ferry -o ferry.png        on another chip, if it has what the scene asks for
  vdpsim budget curlew

a word that is no file, without / and .toml, is such a name: CHIP or CHIP:SCENE
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("--json", action="store_true", help="print everything as JSON, with the files' paths")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.shipped.files import chips, scenes  # noqa: PLC0415 - --help needs none of it

    found = {"chips": [*chips().values()], "scenes": [*scenes().values()]}
    if options.json:
        say(as_json({kind: [one._asdict() for one in some] for kind, some in found.items()}), end="")
        return 0
    for kind, some in found.items():
        say(f"{kind}:")
        say(listed([(one.name, one.about) for one in some]))
    said = folded("a word like these stands for the file, as in: vdpsim render curlew:flock -o flock.png", wide())
    say("\n".join(["", *said]))
    return 0
