"""``vdpsim guide``: the guide, on the terminal or as pages."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

import vdpsim
from vdpsim.door.shown import meant
from vdpsim.door.shown import value as value_shown

from ..completing.table import offers
from ..files import outputs, replace_argument
from ..say import console, say

ABOUT = """\
Shows the guide: the road from an idea to the hardware side, recipes, the reference of both file formats, the model's
exact text, the words. Without a page's name it lists the pages."""
EXAMPLES = """\
examples:
  vdpsim guide
  vdpsim guide idea
  vdpsim guide registers | less
  vdpsim guide --html guide/          all pages, for a browser: start with guide/index.html
  vdpsim guide status-strip --files strip/     the chip and scene files of a page, as they stand at its end

exit status: 0 shown or written; 2 there is no such page, or a file cannot be written
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    page = parser.add_argument("page", metavar="PAGE", nargs="?", help="a page's name (default: the list of all)")
    offers(page, _names)
    parser.add_argument("--html", metavar="FOLDER", help="write all pages as HTML into this folder")
    parser.add_argument("--files", metavar="FOLDER", help="write the page's chip and scene files into this folder")
    replace_argument(parser)


def _names() -> Iterable[str]:
    from vdpsim.guide.pages import NAMES  # noqa: PLC0415 - --help needs none of this

    return NAMES


def run(options: argparse.Namespace) -> int:
    """Do it."""
    _refuse(options)
    from vdpsim.guide import files_of, site  # noqa: PLC0415 - --help needs none of this

    if options.html is not None:
        _write(options, options.html, site())
    elif options.files is not None:
        _write(options, options.files, files_of(options.page))
    else:
        _show(options.page)
    return 0


def _refuse(options: argparse.Namespace) -> None:
    """Raise InputError with what is wrong with the command line."""
    from vdpsim.guide.pages import NAMES, START  # noqa: PLC0415 - --help needs none of this

    writes = options.html is not None or options.files is not None
    problems = []
    if options.html is not None and options.page is not None:
        problems.append(("--html", "writes all pages: leave out the page's name"))
    if options.html is not None and options.files is not None:
        problems.append(("--files", "goes with a page's name and without --html"))
    if options.files is not None and options.page is None and options.html is None:
        problems.append(("--files", "needs the name of a page"))
    if options.page not in {None, START, *NAMES}:
        got = f"got {value_shown(options.page)}{meant(options.page, NAMES)}"
        problems.append(("PAGE", f"must be one of {', '.join(NAMES)}, {got}"))
    if options.replace and not writes:
        problems.append(("--replace", "needs --html or --files: nothing else is written"))
    if problems:
        raise vdpsim.InputError([vdpsim.Problem("vdpsim guide", 0, place, told) for place, told in problems])


def _write(options: argparse.Namespace, place: str, files: Mapping[str, bytes]) -> None:
    folder = Path(place)
    with outputs(options, *(folder / name for name in files)) as written:
        for name, data in files.items():
            written.add(folder / name, data)


def _show(name: str | None) -> None:
    from vdpsim.guide.as_text import plain_text, shown_on  # noqa: PLC0415 - as above
    from vdpsim.guide.pages import START, page  # noqa: PLC0415

    text = page(name or START)
    if sys.stdout.isatty():
        shown_on(console(), text)
    else:
        say(plain_text(text), end="")
