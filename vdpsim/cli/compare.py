"""``vdpsim compare``: chips side by side, in figures and in pictures."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import vdpsim
from vdpsim.files import Outputs

if TYPE_CHECKING:
    from vdpsim.budgets.compare import Comparison

ABOUT = """\
Puts chips side by side: what their files say differently, all figures of their budgets with the better one marked,
and the same scene drawn by each, with a picture of the difference."""
EXAMPLES = """\
examples:
  vdpsim compare scenes/chips/curlew.chip.toml scenes/chips/dunlin.chip.toml
  vdpsim compare scenes/chips/curlew.chip.toml scenes/chips/dunlin.chip.toml --scene scenes/ferry.scene.toml -o out/
  vdpsim compare scenes/chips/*.chip.toml --scene scenes/ferry.scene.toml --frame 40 --scale 2 -o out/
  vdpsim compare scenes/chips/*.chip.toml --json

a scene that one of the chips cannot load is told, and does no harm: the others draw it
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("chips", metavar="CHIP", nargs="+", help="two to eight chip files (*.chip.toml)")
    parser.add_argument("--scene", metavar="SCENE", help="a scene file that each of them draws")
    parser.add_argument("--frame", metavar="N", type=_frame, default=0, help="which frame of it, from 0 (the default)")
    parser.add_argument("-o", "--output", metavar="DIR/", help="a folder for NAME-compare.png and NAME-compare.json")
    parser.add_argument(
        "--scale", metavar="N", type=_scale, default=1, help="each dot becomes N x N, 1 to 8 (default 1)"
    )
    parser.add_argument("--json", action="store_true", help="everything as JSON instead of a table")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.budgets.compare import MOST  # noqa: PLC0415 - --help needs no chip

    wrong = []
    if not 2 <= len(options.chips) <= MOST:
        wrong.append(("CHIP", f"2 to {MOST} chips are compared, got {len(options.chips)}"))
    if options.output and not options.scene:
        wrong.append(("-o", "a picture needs --scene"))
    if options.output and Path(options.output).suffix and not Path(options.output).is_dir():
        wrong.append(("-o", f"must be a folder, DIR/, got {options.output}"))
    if wrong:
        raise vdpsim.InputError([vdpsim.Problem("vdpsim compare", 0, place, message) for place, message in wrong])
    found = vdpsim.compare(_load(options.chips), options.scene, options.frame)
    data = json.dumps(comparison_data(found), indent=2) + "\n"
    if options.output:
        name = Path(options.scene).name.removesuffix(".toml").removesuffix(".scene")
        with Outputs() as outputs:
            outputs.add(Path(options.output) / f"{name}-compare.json", data.encode())
            if any(one.frame is not None for one in found.shown):
                image = vdpsim.side_by_side(found, options.scale)
                outputs.add(Path(options.output) / f"{name}-compare.png", vdpsim.png_bytes(image))
    if options.json:
        print(data, end="")
    elif sys.stdout.isatty():
        _rich(found)
    else:
        print(_plain(found), end="")
    return 0


def _load(paths: list[str]) -> list[vdpsim.Chip]:
    """The chips. Raises InputError with the mistakes of all of them."""
    chips: list[vdpsim.Chip] = []
    problems: list[vdpsim.Problem] = []
    for path in paths:
        try:
            chips.append(vdpsim.load_chip(path))
        except vdpsim.InputError as error:
            problems += error.problems
    if problems:
        raise vdpsim.InputError(problems)
    return chips


def comparison_data(found: Comparison) -> dict[str, Any]:
    """The comparison as plain data."""
    return {
        "chips": list(found.names),
        "description": [{"field": field.path, "values": list(field.values)} for field in found.fields],
        "figures": [
            {"name": one.name, "values": list(one.values), "better": one.better, "best": list(one.best)}
            for one in found.figures
        ],
        "scene": [
            {
                "drawn": one.frame is not None,
                "problems": list(one.problems),
                "dots_differ": one.differ,
                "largest": one.largest,
                "mean": round(one.mean, 3),
            }
            for one in found.shown
        ],
    }


def _tables(found: Comparison) -> list[tuple[str, list[tuple[str, ...]]]]:
    """What is told, as titled rows; the first row of each names its columns."""
    figures = [("figure", *found.names)]
    for one in found.figures:
        values = map(_value, one.values)
        figures.append(
            (one.name, *(f"{value} *" if at in one.best else f"{value}  " for at, value in enumerate(values)))
        )
    described = [("field", *found.names), *((field.path, *map(_short, field.values)) for field in found.fields)]
    return [("Figures; * is the better one", figures), ("Their files say differently", described)]


def _value(value: float | str | None) -> str:
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:,}" if isinstance(value, int | float) else str(value)


def _short(value: str) -> str:
    return value if len(value) <= 44 else f"{value[:41]}..."


def _problems(found: Comparison) -> list[str]:
    """What kept chips from loading the scene, the first few of each."""
    lines = []
    for name, one in zip(found.names, found.shown, strict=False):
        if one.problems:
            lines.append(f"{name} cannot load the scene: {len(one.problems)} mistakes")
            lines += [f"  {problem}" for problem in one.problems[:3]]
    return lines


def _plain(found: Comparison) -> str:
    lines = []
    for title, rows in _tables(found):
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        lines.append(title)
        lines += [
            "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in rows
        ]
        lines.append("")
    return "\n".join([*lines, *_problems(found)]).rstrip() + "\n"


def _rich(found: Comparison) -> None:
    from rich.console import Console  # noqa: PLC0415 - only for a person at a terminal
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    console = Console()
    for title, rows in _tables(found):
        console.print(Text(title, style="bold"))
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
        for at, name in enumerate(rows[0]):
            table.add_column(Text(name), justify="right" if at and title.startswith("Figures") else "left")
        for row in rows[1:]:
            table.add_row(*map(Text, row))
        console.print(table)
        console.print()
    for line in _problems(found):
        console.print(Text(line))


def _frame(text: str) -> int:
    return _number(text, 0, 99_999)


def _scale(text: str) -> int:
    return _number(text, 1, 8)


def _number(text: str, least: int, most: int) -> int:
    if not (text.isascii() and text.isdigit() and least <= int(text[:9]) <= most):
        raise argparse.ArgumentTypeError(f"must be {least} to {most}, got {text!r}")
    return int(text)
