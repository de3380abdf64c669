"""``vdpsim explain``: what a key, a client or a word means, and what it costs."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vdpsim.door.shown import clipped

from ..completing.table import offers
from ..say import listed, say

if TYPE_CHECKING:
    from vdpsim.explaining.asked import Told

ABOUT = """\
Says what a key of a chip or scene file means: its unit and range, what it is if it is left out, an example, and where it
enters the budget. Also explains clients of the memory, words, and controls. Without a WORD it lists what there is."""
EXAMPLES = """\
examples:
  vdpsim explain sprites.per_line
  vdpsim explain layers.near.modes.tiles.tile     tables and keys with dots; names of your own may stand between
  vdpsim explain registers.fields                 a table with its keys
  vdpsim explain lead keep                        the end of a place is enough
  vdpsim explain near.cells slack scroll_x        a client, a word, a control
  vdpsim explain

W is memory.bytes_per_access, D frame.dots_per_line, a memory.accesses_per_dot
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    words = parser.add_argument(
        "words", metavar="WORD", nargs="*", help="a key, with dots; a client, a word, a control"
    )
    offers(words, _names)


def _names() -> list[str]:
    from vdpsim.explaining.asked import names  # noqa: PLC0415 - --help needs no schema

    return names()


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.explaining.asked import UnknownWordError, contents, told  # noqa: PLC0415 - --help needs no schema
    from vdpsim.files.problems import InputError, Problem  # noqa: PLC0415

    found: list[Told] = []
    problems = []
    for word in options.words:
        try:
            found += told(word)
        except UnknownWordError as error:
            problems.append(Problem(clipped(word), 0, "", f"{error}; vdpsim explain lists what there is"))
    if problems:
        raise InputError(problems)
    say("\n\n".join(map(_text, found or contents())))
    return 0


def _text(one: Told) -> str:
    return f"{one.title}\n{listed(one.rows)}"
