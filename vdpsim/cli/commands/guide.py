"""``vdpsim guide``: the guide, on the terminal or as pages."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import vdpsim
from vdpsim.door.shown import value as value_shown

from ..say import console, say
from ..writing import outputs, replace_argument

ABOUT = """\
Shows the guide: the road from an idea to the hardware side, recipes, the reference of both file formats, the model's
exact text, the words. Without a page's name it lists the pages."""
EXAMPLES = """\
examples:
  vdpsim guide
  vdpsim guide idea
  vdpsim guide registers | less
  vdpsim guide --html guide/          all pages, for a browser: start with guide/index.html

exit status: 0 shown or written; 2 there is no such page, or a file cannot be written
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("page", metavar="PAGE", nargs="?", help="a page's name (default: the list of all)")
    parser.add_argument("--html", metavar="FOLDER", help="write all pages as HTML into this folder")
    replace_argument(parser)


def run(options: argparse.Namespace) -> int:
    """Do it."""
    _refuse(options)
    if options.html is not None:
        _write(options)
    else:
        _show(options.page)
    return 0


def _refuse(options: argparse.Namespace) -> None:
    """Raise InputError with what is wrong with the command line."""
    from vdpsim.guide.pages import NAMES, START  # noqa: PLC0415 - --help needs none of this

    problems = []
    if options.html is not None and options.page is not None:
        told = "writes all pages: leave out the page's name"
        problems.append(vdpsim.Problem("vdpsim guide", 0, "--html", told))
    if options.page not in {None, START, *NAMES}:
        told = f"must be one of {', '.join(NAMES)}, got {value_shown(options.page)}"
        problems.append(vdpsim.Problem("vdpsim guide", 0, "PAGE", told))
    if options.replace and options.html is None:
        problems.append(vdpsim.Problem("vdpsim guide", 0, "--replace", "needs --html: nothing else is written"))
    if problems:
        raise vdpsim.InputError(problems)


def _write(options: argparse.Namespace) -> None:
    from vdpsim.guide import site  # noqa: PLC0415 - as above

    folder = Path(options.html)
    with outputs(options, folder / "index.html") as written:
        for name, data in site().items():
            written.add(folder / name, data)


def _show(name: str | None) -> None:
    from vdpsim.guide.as_text import plain_text, shown_on  # noqa: PLC0415 - as above
    from vdpsim.guide.pages import START, page  # noqa: PLC0415

    text = page(name or START)
    if sys.stdout.isatty():
        shown_on(console(), text)
    else:
        say(plain_text(text), end="")
