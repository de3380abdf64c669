"""``vdpsim new``: a folder with a chip of one's own, a scene, a little art and a test."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vdpsim.door.shown import printable, shown_path
from vdpsim.sketching.answers import QUESTIONS, SIZES, Answers, read, said

from ..completing.table import offers
from ..files import outputs, say_first
from ..say import flush, say, tell, wide

if TYPE_CHECKING:
    from vdpsim.sketching.fitting import Sketch

ABOUT = """\
Makes a folder with a chip of your own, a scene for it, a little art and a test: all of it draws at once. The chip fits:
its budget proves it. Change its numbers from there. The folder must be empty, or not be there yet."""
_ANSWERS = "\n".join(f"  --{name:<9} {one.told}: {one.about}" for name, one in QUESTIONS.items())
EXAMPLES = f"""\
examples:
  vdpsim new mychip/
  vdpsim new mychip/ --ask                                a few questions first; the sums are shown
  vdpsim new mychip/ --layers 3 --bus 4 --sprites 16
  vdpsim new mychip/ --display 640x480 --memory 128

answers:
{_ANSWERS}

what gives way if it does not fit, each with the sum that says why: sprites that find no slots, by halves; for a layer
that is late or for memory that is short half the bits of a dot, then a layer, then the sprites

exit status: 0 written; 2 an answer is wrong, no chip of these answers fits, or the folder cannot be written
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("folder", metavar="FOLDER", help="the folder; its name becomes the chip's")
    parser.add_argument("--ask", action="store_true", help="ask for each answer that no option gives")
    default = Answers()
    for name, one in QUESTIONS.items():
        told = (
            f"{one.about} (default {said(getattr(default, name))})" if one.allowed else f"{one.about}, dots and lines"
        )
        added = parser.add_argument(
            f"--{name}",
            metavar=name.upper() if one.allowed else "WxH",
            type=_answer(name),
            choices=one.allowed or None,
            help=told,
        )
        if not one.allowed:
            offers(added, lambda: map(said, SIZES.values()))
    parser.set_defaults(replace=False)


def run(options: argparse.Namespace) -> int:
    """Do it."""
    from vdpsim.sketching.fitting import sketch  # noqa: PLC0415 - --help needs no chip
    from vdpsim.sketching.folder import files_of, title_of  # noqa: PLC0415

    folder = Path(options.folder)
    _refuse_full(options.folder, folder)
    name = Path(os.path.abspath(folder)).name  # noqa: PTH100 - a link keeps the name that was given
    asked = {one: getattr(options, one) for one in QUESTIONS if getattr(options, one) is not None}
    made = sketch(_answers(options, asked), title_of(name))
    files = files_of(made, name)
    with outputs(options) as written:
        say_first(written, lambda: _say(made, folder, [str(one) for one in files], sums=options.ask or bool(asked)))
        for place, data in files.items():
            written.add(folder / place, data)
    return 0


def _refuse_full(given: str, folder: Path) -> None:
    """Raise InputError where the folder has things in it, or is none."""
    from vdpsim.files.problems import InputError, Problem  # noqa: PLC0415 - as above

    told = ""
    if os.path.lexists(folder) and not os.path.isdir(folder):  # noqa: PTH112 - Path.is_dir() raises where a name is too long
        told = "must be a folder, and is something else"
    elif os.path.isdir(folder):  # noqa: PTH112
        there = sorted(one for one in os.listdir(folder) if not one.startswith(".vdpsim-"))  # noqa: PTH208 - as above
        told = f"must be an empty folder, or none yet; it has {printable(there[0])} in it" if there else ""
    if told:
        raise InputError([Problem(shown_path(given), 0, "", told)])


def _answers(options: argparse.Namespace, given: dict[str, Any]) -> Answers:
    """The answers of the options, of who is asked, and the defaults."""
    if options.ask and not sys.stdin.isatty():
        tell("vdpsim: nobody can be asked, as the input is no terminal: options and defaults are taken")
    elif options.ask:
        for name in QUESTIONS:
            if name not in given:
                given[name] = _asked(name, Answers(**given))
    return Answers(**given)


def _asked(name: str, known: Answers) -> Any:
    """The answer of a person, who is asked until it goes with those ``known``. Raises InputError at the input's end."""
    from vdpsim.files.problems import InputError, Problem  # noqa: PLC0415 - only here
    from vdpsim.sketching.fitting import misfit  # noqa: PLC0415 - as above

    question, default = QUESTIONS[name], getattr(known, name)
    tell(f"\n{name}: {question.about}")
    while True:
        say(f"  {question.told} [{said(default)}]: ", end="")
        flush()
        line = sys.stdin.readline()
        if not line:
            raise InputError([Problem("vdpsim new", 0, f"--{name}", "the input ended before it was answered")])
        if not line.strip():
            return default
        try:
            answer = read(name, line)
        except ValueError as error:
            tell(f"  {error}")
            continue
        wrong = misfit(answer, known.display) if name == "size" else ""
        if not wrong:
            return answer
        tell(f"  {wrong}")


def _say(made: Sketch, folder: Path, files: list[str], *, sums: bool) -> None:
    """What there is, what it comes to, and what to do next."""
    from vdpsim.sketching.sums import sums as sums_of  # noqa: PLC0415 - as above

    if sums:
        say("\n".join(map(printable, sums_of(made, wide()))))
        say("")
    place = str(folder)
    say(f"{printable(place)}/: {', '.join(files)}")
    scene = next(one for one in files if one.endswith(".scene.toml"))
    chip = next(one for one in files if one.endswith(".chip.toml"))
    say("next:")
    for words in (
        f"render {_quoted(place, scene)} -o first.png --scale 2",
        f"watch {_quoted(place, scene)}",
        f"budget {_quoted(place, chip)}",
    ):
        say(f"  vdpsim {words}")


def _quoted(folder: str, name: str) -> str:
    """A path as a shell takes it."""
    import shlex  # noqa: PLC0415 - only here

    return printable(shlex.quote(str(Path(folder) / name)))


def _answer(name: str) -> Callable[[str], Any]:
    def answer(text: str) -> Any:
        try:
            return read(name, text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return answer
