"""``vdpsim budget``: whether a chip fits its memory, and what it costs."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from vdpsim.door.shown import printable, shown_path

from ..files import CHIP_HELP, chip_file, outputs, own_scene_file, replace_argument, say_first
from ..say import console, say, tell

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.text import Text

    from vdpsim.budgets.budget import Budget
    from vdpsim.budgets.told.section import Section
    from vdpsim.files import Outputs

TWO_COLUMNS, APART = 160, 3
"""Characters of a terminal that is wide enough for two columns, and between these."""

STATUS = {"fits": 0, "does not fit": 1, "open": 3}
STYLE = {"fits": "bold green", "does not fit": "bold red", "open": "bold yellow"}

ABOUT = """\
Says whether a chip fits its memory: proved for every line that its registers allow, refuted by a scene that was drawn,
or open. Also says which client is closest to being late, what fits into memory, how much the CPU can move, and how many
bits the chip itself has to hold."""
EXAMPLES = """\
examples:
  vdpsim budget scenes/chips/curlew.chip.toml
  vdpsim budget scenes/chips/curlew.chip.toml --all          all kinds of line
  vdpsim budget scenes/chips/curlew.chip.toml --explain      with the formula of each figure
  vdpsim budget scenes/chips/curlew.chip.toml --witness tightest.scene.toml
  vdpsim render tightest.scene.toml --damage -o tightest.png
  vdpsim budget scenes/chips/dunlin.chip.toml --scene scenes/ferry.scene.toml
  vdpsim budget scenes/chips/curlew.chip.toml --json | python3 -m json.tool

exit status: 0 it fits, 1 it does not, 2 a file is wrong or cannot be written, 3 open: neither proved nor refuted
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("chip", metavar="CHIP", type=chip_file, help=CHIP_HELP)
    parser.add_argument(
        "--scene", metavar="SCENE", type=own_scene_file, help="a scene file: also report what happens in its frames"
    )
    parser.add_argument(
        "--witness",
        metavar="FILE",
        help="write a scene that misses or, if none is known, one that comes nearest; if the chip file lies elsewhere, "
        "a copy of it goes beside the scene",
    )
    replace_argument(parser)
    parser.add_argument("--all", action="store_true", help="list every kind of line, not only the fullest")
    parser.add_argument("--explain", action="store_true", help="add the formula of each figure")
    parser.add_argument("--json", action="store_true", help="print everything as JSON")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.budgets.budget import budget  # noqa: PLC0415 - --help needs no chip
    from vdpsim.chip.load import load_chip  # noqa: PLC0415

    written = outputs(options, options.witness)
    chip, scene = load_chip(options.chip), None
    if options.scene:
        from vdpsim.scene import load_scene  # noqa: PLC0415 - a budget without a scene needs none of this

        scene = load_scene(options.scene, chip=chip)
    found = budget(chip, scene)
    if options.witness:
        _write_witness(found, options, written)
    else:
        _print(found, options)
    return STATUS[found.verdict]


def _write_witness(found: Budget, options: argparse.Namespace, written: Outputs) -> None:
    """Write the scene and, where it lies elsewhere, the chip's file beside it, and print the budget first.

    Raises InputError where there is none to write.
    """
    from vdpsim.budgets.budget import witness_of  # noqa: PLC0415 - only here
    from vdpsim.files import read  # noqa: PLC0415
    from vdpsim.files.problems import InputError, Problem  # noqa: PLC0415
    from vdpsim.files.toml.tables import LARGEST  # noqa: PLC0415

    chip, target = Path(options.chip), Path(options.witness)
    witness = witness_of(found)
    if witness is None:
        message = f"no scene was found that shows it; the verdict is: {found.verdict}"
        raise InputError([Problem(shown_path(target), 0, "--witness", message)])
    folder = target.parent.resolve()
    inside = chip.resolve().is_relative_to(folder)
    name = chip.resolve().relative_to(folder).as_posix() if inside else chip.name
    with written:
        say_first(written, lambda: _print(found, options))
        written.add(target, witness.text(name).encode())
        if not inside:
            written.add(target.parent / name, read(chip, LARGEST))
    shown = printable(target)
    tell(f"{shown}: {witness.about} To see it: vdpsim render {shown} --damage")


def _print(found: Budget, options: argparse.Namespace) -> None:
    from vdpsim.budgets.told.data import budget_json  # noqa: PLC0415 - --help needs none of this
    from vdpsim.budgets.told.plain import plain  # noqa: PLC0415

    if options.json:
        say(budget_json(found), end="")
    elif sys.stdout.isatty():
        _rich(found, explain=options.explain, everything=options.all)
    else:
        say(plain(found, explain=options.explain, everything=options.all), end="")


def _rich(found: Budget, *, explain: bool, everything: bool) -> None:
    """For a person at a terminal: two columns of tables where there is room, so that all of it can be seen at once."""
    from rich.table import Table  # noqa: PLC0415 - only here
    from rich.text import Text  # noqa: PLC0415

    from vdpsim.budgets.told.sections import sections  # noqa: PLC0415
    from vdpsim.budgets.told.verdict import verdict_lines  # noqa: PLC0415

    screen = console()
    first, *others = verdict_lines(found)
    screen.print(Text(printable(first), style=STYLE[found.verdict]))
    screen.print(*(Text(printable(one)) for one in others), "", sep="\n")
    beside: tuple[list[Section], list[Section]] = ([], [])
    for section in sections(found, everything=everything):
        beside[section.beside].append(section)
    if screen.width < TWO_COLUMNS:
        screen.print(*_parts([*beside[0], *beside[1]], screen.width, explain=explain), sep="\n")
        return
    both, half = Table.grid(padding=(0, APART)), (screen.width - APART) // 2
    both.add_row(*(Text("\n").join(_parts(some, half, explain=explain)) for some in beside))
    screen.print(both)


def _parts(some: list[Section], width: int, *, explain: bool) -> Iterator[Text]:
    """Sections' titles, tables and formulas."""
    from rich.text import Text  # noqa: PLC0415

    from vdpsim.budgets.told.explain import EXPLAIN  # noqa: PLC0415
    from vdpsim.door.columns import blocks  # noqa: PLC0415

    for section in some:
        yield Text(section.title, style="bold")
        for number, block in enumerate(blocks([section.head, *section.rows], width, right=section.right)):
            yield from [Text("")] * bool(number)
            yield from (Text(printable(line), style="dim") for line in block.head)
            yield from (Text(printable(line)) for line in block.rows)
        for name in section.explained if explain else ():
            yield Text(f"  {name} = {EXPLAIN[name]}", style="dim")
        yield Text("")
