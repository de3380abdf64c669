"""What every command has in common: finding it, helping, and saying how it ended.

Law: a command's file has ``ABOUT``, ``EXAMPLES``, ``arguments(parser)`` and ``run(options) -> int``; it is loaded only when it
is called, and prints through ``say``. Every end has its status, in a process as in Python, and says why on stderr:

0   done, or the verdict is that the chip fits
1   the input is right, and the verdict is against it
2   the input or the command line is wrong, or something could not be read or written; no file has been written
3   the input is right, and neither has been proved
70  a fault of the program's own, told in one line; with VDPSIM_DEBUG=1 in the environment where it happened
129, 130, 143  ended by SIGHUP, SIGINT, SIGTERM, with nothing half written
"""

from __future__ import annotations

import argparse
import errno
import os
import sys
import traceback
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from ..door.shown import clipped, shown_path
from ..door.telling import telling
from ..files.problems import InputError
from ..version import __version__
from .files import wrong_names
from .parsing import LONGEST, WRONG, Fitted, Parser
from .running import FramesToGo, LinesToGo, WorkToDo, hasten, status_of, the_run
from .say import OutputError, flush, open_streams, say, tell

if TYPE_CHECKING:
    from .completing.table import Command

FITS_NOT, FAULT = 1, 70

COMMANDS = {
    "new": "make a folder with a chip of your own, a scene, art and a test",
    "explain": "say what a key, a client or a word means, and what it costs",
    "list": "list the chips and scenes that come with vdpsim",
    "render": "draw scenes into PNG files, with a log of every memory fetch",
    "report": "make a page that explains a scene's frames",
    "watch": "show that page in a browser, and draw it again when a file is saved",
    "check": "say what is wrong with chip and scene files",
    "frame": "print a [frame] table for a common display",
    "budget": "say whether a chip fits its memory, and what it costs",
    "compare": "put chips side by side: descriptions, budgets, the same scene",
    "sweep": "try a chip with many values of its fields, and say which fit",
    "fit": "convert pictures, sprite sheets and fonts to what a chip allows",
    "export": "write what a hardware design is checked with: memory images, stimulus, expected records",
    "verify": "compare what a hardware design printed with an exported folder",
    "map": "print where a scene puts everything in video memory",
    "schema": "print the JSON Schema of chip or scene files",
    "completion": "print what makes a shell complete vdpsim's words",
    "guide": "show the guide: from an idea to the hardware side, recipes, reference, words",
}
"""Commands by name, each with its purpose in a line; ``vdpsim/cli/commands/NAME.py`` holds it, or one in ``FOLDERS``."""

FOLDERS = {
    "new": "starting",
    "completion": "starting",
    "list": "starting",
    "explain": "starting",
    "export": "hardware",
    "verify": "hardware",
}
"""The folder of a command that does not stand in ``commands/``."""

EXAMPLES = """\
start with:
  vdpsim new mychip/ --ask
  vdpsim render curlew:saltmarsh -o marsh.png --scale 3
  vdpsim check scenes/chips/*.chip.toml scenes/*.scene.toml
  vdpsim render --help
"""


FIRST = """\
vdpsim draws what a video chip on paper would show, and counts every memory fetch.

try:
  vdpsim render curlew:saltmarsh -o marsh.png --scale 2    draw a shipped scene
  vdpsim new mychip/ --ask                                 a chip of your own, from a few questions
  vdpsim explain sprites.per_line                          what a key of a chip or scene file means

help:
  vdpsim --help              all commands
  vdpsim COMMAND --help      one of them, with examples
  vdpsim guide               from the idea to the hardware side
"""
"""What is said to somebody who says nothing."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line ``argv`` (left out: the process's own) and return the exit status. Raises nothing."""
    if argv is None:
        hasten()
    try:
        status = _run(list(sys.argv[1:] if argv is None else argv))
        flush()
    except KeyboardInterrupt as end:
        tell("vdpsim: interrupted")
        return status_of(end)
    except Exception as error:  # noqa: BLE001 - whatever it is, it ends with a status of its own and a line that says so
        return _ended(error)
    return status


def command() -> NoReturn:
    """The process's own command line: run it and leave with its exit status.

    Taking a process apart module by module takes longer than drawing several frames, so once the output is out the process
    ends at once. Nothing here leaves work to exit handlers.
    """
    open_streams()
    status = main()
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            stream.flush()
    os._exit(status)


def _run(words: list[str]) -> int:
    if not words:
        say(FIRST, end="")
        return 0
    try:
        options = _parser(words).parse_args(words)
    except SystemExit as end:  # argparse has printed its help or what is wrong
        return int(end.code or 0)
    wrong = wrong_names(options)
    if wrong:
        raise InputError(wrong)
    with the_run(), telling(FramesToGo(), LinesToGo(), WorkToDo()):
        status: int = options.run(options)
    return status


def _ended(error: Exception) -> int:
    """Say why a command came to no end of its own, and the status for it."""
    if isinstance(error, InputError):
        for problem in error.problems:
            tell(problem)
        return WRONG
    if isinstance(error, OutputError):
        if error.errno != errno.EPIPE:  # else whoever read our output has seen enough
            tell(f"vdpsim: standard output cannot be written: {error.strerror}")
        return WRONG
    if isinstance(error, OSError):
        where = f"{shown_path(os.fsdecode(error.filename))}: " if _has_name(error) else ""
        tell(f"vdpsim: {where}{clipped(error.strerror or error, LONGEST)}")
        return WRONG
    if isinstance(error, MemoryError):
        tell("vdpsim: not enough memory: use a smaller --scale, or fewer scenes, frames or views at once")
        _debugged(error)
        return WRONG
    return _verdict(error)


def _has_name(error: OSError) -> bool:
    return isinstance(error.filename, str | bytes | os.PathLike) and bool(error.filename)


def _verdict(error: Exception) -> int:
    """Say that a chip does not fit, where that is what ``error`` says; else it is a fault of our own."""
    from .. import NotInTimeError  # noqa: PLC0415 - loads the engine, which most commands do not need

    if isinstance(error, NotInTimeError):
        tell(f"vdpsim: {clipped(error, LONGEST)}")
        return FITS_NOT
    steps = traceback.extract_tb(error.__traceback__)
    place = f" ({Path(steps[-1].filename).name}:{steps[-1].lineno})" if steps else ""
    tell(
        f"vdpsim: a fault of vdpsim itself, please report it: {type(error).__name__}: {clipped(error, 200)}{place}; send the "
        f"command line, the version ({__version__}) and what it prints with VDPSIM_DEBUG=1 in the environment"
    )
    _debugged(error)
    return FAULT


def _debugged(error: Exception) -> None:
    """Say where it happened, for those who asked."""
    if os.environ.get("VDPSIM_DEBUG") == "1":
        tell("".join(traceback.format_exception(error)).rstrip("\n"))


def _parser(words: Sequence[str]) -> Parser:
    """The parser of everything, or, where ``words`` begin with a command, of that one."""
    parser = _described(
        "vdpsim", "Draws what a video chip on paper would show, and counts every memory fetch.", EXAMPLES
    )
    parser.add_argument("--version", action="version", version=f"vdpsim {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    chosen = words[0] if words and words[0] in COMMANDS else None
    for name, about in COMMANDS.items():
        if chosen in {None, name}:
            command = import_module(f".{FOLDERS.get(name, 'commands')}.{name}", __package__)
            part = parser.parts[name] = commands.add_parser(name, help=about)
            _describe(part, command.ABOUT, command.EXAMPLES)
            command.arguments(part)
            part.set_defaults(run=command.run)
    return parser


def command_table() -> tuple[Command, ...]:
    """Every command with its options and words, for who completes them."""
    from .completing.table import command_of  # noqa: PLC0415 - only for that

    return tuple(command_of(name, COMMANDS[name], part.declared) for name, part in _parser([]).parts.items())


def _described(name: str, about: str, examples: str) -> Parser:
    parser = Parser(prog=name)
    _describe(parser, about, examples)
    return parser


def _describe(parser: argparse.ArgumentParser, about: str, examples: str) -> argparse.ArgumentParser:
    parser.description, parser.epilog = about, examples
    parser.formatter_class = Fitted
    parser.allow_abbrev = False
    return parser
