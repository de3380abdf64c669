"""``vdpsim budget``: whether a chip fits its memory, and what it costs."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from .again import again

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import RenderableType

    from vdpsim.budgets.budget import Budget
    from vdpsim.budgets.told import Section

TWO_COLUMNS = 132
"""Characters of a terminal that is wide enough for two columns."""

ABOUT = """\
Says whether a chip fits: every kind of line is served slot by slot, at every scroll position. With it: what fits
into memory, what the CPU can move, what has to be kept on the chip."""
EXAMPLES = """\
examples:
  vdpsim budget scenes/chips/curlew.chip.toml
  vdpsim budget scenes/chips/curlew.chip.toml --explain      the formula of each figure
  vdpsim budget scenes/chips/dunlin.chip.toml --scene scenes/ferry.scene.toml
  vdpsim budget scenes/chips/curlew.chip.toml --json | python3 -m json.tool

exit status: 0 it fits, 1 it does not, 2 a file is wrong
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("chip", metavar="CHIP", help="a chip file (*.chip.toml)")
    parser.add_argument("--scene", metavar="SCENE", help="a scene file: also what its frames really do")
    parser.add_argument("--explain", action="store_true", help="with the formula of each figure")
    parser.add_argument("--json", action="store_true", help="everything as JSON")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    if options.scene or (sys.stdout.isatty() and not options.json):
        found = _found(options)
        _print(found, options)
        return 0 if found.fits else 1
    words = ["budget", *(word for word in ("explain", "json") if getattr(options, word))]
    status, text = again(words, [options.chip], lambda: _answer(options))
    print(text, end="")
    return status


def _answer(options: argparse.Namespace) -> tuple[int, str]:
    found = _found(options)
    return 0 if found.fits else 1, _text(found, options)


def _found(options: argparse.Namespace) -> Budget:
    from vdpsim.budgets.budget import budget  # noqa: PLC0415 - an answer that is known needs none of this
    from vdpsim.chip.load import load_chip  # noqa: PLC0415
    from vdpsim.problems import InputError, Problem  # noqa: PLC0415

    chip, scene = load_chip(options.chip), None
    if options.scene:
        from vdpsim.scene import load_scene  # noqa: PLC0415 - a budget without a scene needs none of this

        scene = load_scene(options.scene, chip=chip)
    try:
        return budget(chip, scene)
    except ValueError as error:  # more choices of modes than are looked through
        raise InputError([Problem(options.chip, 0, "layers", str(error))]) from None


def _text(found: Budget, options: argparse.Namespace) -> str:
    from vdpsim.budgets import told  # noqa: PLC0415

    return told.budget_json(found) if options.json else told.plain(found, explain=options.explain)


def _print(found: Budget, options: argparse.Namespace) -> None:
    if sys.stdout.isatty() and not options.json:
        _rich(found, explain=options.explain)
    else:
        print(_text(found, options), end="")


def _rich(found: Budget, *, explain: bool) -> None:
    """For a person at a terminal: two columns of tables where there is room, so that all of it can be seen at once."""
    from rich.console import Console, Group  # noqa: PLC0415 - only here
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    from vdpsim.budgets import told  # noqa: PLC0415

    console = Console()
    console.print(Text(told.verdict(found), style="bold green" if found.fits else "bold red"))
    columns: tuple[list[Group], list[Group]] = ([], [])
    for section in told.sections(found):
        columns[section.beside].append(Group(*_parts(section, explain=explain)))
    if console.width < TWO_COLUMNS:
        console.print(*columns[0], *columns[1], sep="\n")
        return
    both = Table.grid(padding=(0, 3))
    both.add_row(Group(*columns[0]), Group(*columns[1]))
    console.print(both)


def _parts(section: Section, *, explain: bool) -> Iterator[RenderableType]:
    """A section's title, table and formulas."""
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    from vdpsim.budgets.explain import EXPLAIN  # noqa: PLC0415

    yield Text(section.title, style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for place, name in enumerate(section.head):
        table.add_column(Text(name), justify="right" if place >= len(section.head) - section.right else "left")
    for row in section.rows:
        table.add_row(*map(Text, row))
    yield table
    for name in section.explained if explain else ():
        yield Text(f"  {name} = {EXPLAIN[name]}", style="dim")
    yield Text("")
