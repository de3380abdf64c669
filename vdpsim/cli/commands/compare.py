"""``vdpsim compare``: chips side by side, in figures and in pictures."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import vdpsim
from vdpsim.door.shown import printable, shown_path

from ..files import CHIP_HELP, chip_file, is_folder, outputs, own_scene_file, replace_argument, say_first
from ..parsing import frame_number, number_within
from ..say import console, say

if TYPE_CHECKING:
    from vdpsim.comparing.compare import Comparison

ABOUT = """\
Puts chips side by side: where their files differ, all figures of their budgets with the better one marked, and the
same scene drawn by each, with a picture of the difference."""
EXAMPLES = """\
examples:
  vdpsim compare scenes/chips/curlew.chip.toml scenes/chips/dunlin.chip.toml
  vdpsim compare scenes/chips/curlew.chip.toml scenes/chips/dunlin.chip.toml --scene scenes/ferry.scene.toml -o out/
  vdpsim compare scenes/chips/*.chip.toml --scene scenes/ferry.scene.toml --frame 40 --scale 2 -o out/
  vdpsim compare scenes/chips/*.chip.toml --json

the better figure has a * beside it; how each figure is worked out: vdpsim budget CHIP --explain

if one of the chips cannot load the scene, the output says so and the others still draw it. Fetches that come too late
are drawn as the damage that they would do, and counted

exit status: 0 compared, whatever the verdicts; 2 a file or an option is wrong, or a file cannot be written
"""


STYLES = {"fits": "bold green", "does not fit": "bold red", "open": "bold yellow"}
"""How a verdict's sentence is shown at a terminal; the word itself stands in it."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("chips", metavar="CHIP", nargs="+", type=chip_file, help=f"two to eight: each {CHIP_HELP}")
    parser.add_argument("--scene", metavar="SCENE", type=own_scene_file, help="a scene file for each of them to draw")
    parser.add_argument(
        "--frame", metavar="N", type=frame_number, default=0, help="which frame of the scene, from 0 (the default)"
    )
    parser.add_argument("-o", "--output", metavar="DIR/", help="a folder for NAME-compare.png and NAME-compare.json")
    parser.add_argument(
        "--scale", metavar="N", type=_scale, default=1, help="each dot becomes N x N, 1 to 8 (default 1)"
    )
    replace_argument(parser)
    parser.add_argument("--json", action="store_true", help="print everything as JSON instead of tables")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.comparing import compared  # noqa: PLC0415 - --help needs no chip

    problems = _misused(options)
    if problems:
        raise vdpsim.InputError(problems)
    found = vdpsim.compare(_load(options.chips), options.scene, options.frame)
    data = compared.comparison_json(found)
    if options.output:
        _write(found, data, options)
    else:
        _say(found, data, options)
    return 0


def _misused(options: argparse.Namespace) -> list[vdpsim.Problem]:
    """What is wrong with the command line as a whole."""
    from vdpsim.comparing.compare import MOST  # noqa: PLC0415 - --help needs no chip

    wrong = []
    if not 2 <= len(options.chips) <= MOST:
        wrong.append(("CHIP", f"2 to {MOST} chips are compared, got {len(options.chips)}"))
    if options.output and not options.scene:
        wrong.append(("-o", "a picture needs --scene"))
    if options.output and Path(options.output).suffix and not is_folder(options.output):
        wrong.append(("-o", f"must be a folder, DIR/, got {shown_path(options.output)}"))
    return [vdpsim.Problem("vdpsim compare", 0, place, message) for place, message in wrong]


def _write(found: Comparison, data: str, options: argparse.Namespace) -> None:
    """Put the figures and the picture into their folder, together, and say first what there is."""
    name = Path(options.scene).name.removesuffix(".toml").removesuffix(".scene")
    with outputs(options) as written:
        say_first(written, lambda: _say(found, data, options))
        written.add(Path(options.output) / f"{name}-compare.json", data.encode())
        if any(one.frame is not None for one in found.shown):
            image = vdpsim.side_by_side(found, options.scale)
            written.add(Path(options.output) / f"{name}-compare.png", vdpsim.png_bytes(image))


def _say(found: Comparison, data: str, options: argparse.Namespace) -> None:
    from vdpsim.comparing import compared  # noqa: PLC0415 - --help needs no chip

    if options.json:
        say(data, end="")
    elif sys.stdout.isatty():
        _rich(found)
    else:
        say(compared.plain(found), end="")


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


def _rich(found: Comparison) -> None:
    from rich.text import Text  # noqa: PLC0415 - only for a person at a terminal

    from vdpsim.comparing import compared  # noqa: PLC0415

    screen = console()
    for told, budget in zip(compared.verdicts(found), found.budgets, strict=True):
        screen.print(Text(printable(told), style=STYLES[budget.verdict]))
    for part, blocks in compared.laid_out(found, screen.width):
        screen.print()
        screen.print(Text(part.title, style="bold"))
        for number, block in enumerate(blocks):
            screen.print("\n" * bool(number), Text("\n".join(map(printable, block.head)), style="dim"), sep="")
            screen.print(Text("\n".join(map(printable, block.rows))))
    for line in compared.notes(found):
        screen.print(Text(printable(line)))


def _scale(text: str) -> int:
    return number_within(text, 1, 8)
