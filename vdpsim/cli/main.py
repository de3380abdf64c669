"""What every command has in common: finding it, helping, and saying what is wrong.

Law: a command's file has ``ABOUT``, ``EXAMPLES``, ``arguments(parser)`` and ``run(options) -> int``; it is loaded only when it
is called. Exit status 0: done. 1: the input is right, and the verdict is that the chip does not fit; 2: the input or the command
line is wrong, or a file could not be read or written; the reasons stand on stderr and nothing has been written. 3: the
input is right, and neither has been proved. 130: interrupted.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import NoReturn

from .. import __version__
from ..telling import telling
from .waiting import Waiting

COMMANDS = {
    "render": "draw scenes into PNG files, with a log of every memory fetch",
    "report": "make a page that explains a scene's frames",
    "watch": "show that page in a browser, and draw it anew when a file is saved",
    "check": "say what is wrong with chip and scene files",
    "frame": "print a frame table that a common display takes",
    "budget": "say whether a chip fits its memory, and what it costs",
    "compare": "put chips side by side: descriptions, budgets, the same scene",
    "sweep": "try a chip with many values of its fields, and say which fit",
    "fit": "bring pictures, sprite sheets and fonts into what a chip allows",
    "map": "print where a scene puts everything in video memory",
    "schema": "print the JSON Schema of chip or scene files",
}
"""Commands by name, each with its purpose in a line; ``vdpsim/cli/NAME.py`` holds it."""

EXAMPLES = """\
start with:
  vdpsim render scenes/saltmarsh.scene.toml -o marsh.png --scale 3
  vdpsim check scenes/chips/*.chip.toml scenes/*.scene.toml
  vdpsim render --help
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line ``argv`` (left out: the process's own) and return the exit status."""
    if argv is None:
        _hasten()
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        options = _parser(words).parse_args(words)
    except SystemExit as end:  # argparse has printed its help or what is wrong
        return int(end.code or 0)
    try:
        return _run(options)
    except KeyboardInterrupt:
        print("vdpsim: interrupted", file=sys.stderr)
        return 130


def command() -> NoReturn:
    """The process's own command line: run it and leave with its exit status.

    Taking a process apart module by module takes longer than drawing several frames, so once the output is out the process
    ends at once. Nothing here leaves work to exit handlers.
    """
    status = main()
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            stream.flush()
    os._exit(status)


def _hasten() -> None:
    """What makes a process that lives for one command start sooner, and would be no library's business."""
    os.environ.setdefault(
        "PYDANTIC_DISABLE_PLUGINS", "__all__"
    )  # looking for plug-ins takes as long as drawing a frame
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # its threads wait for each other longer than they help
    gc.set_threshold(50_000)  # loading makes many objects that stay; looking through them again and again finds nothing


def _run(options: argparse.Namespace) -> int:
    try:
        with telling(Waiting()):
            status: int = options.run(options)
        sys.stdout.flush()
    except ValueError as error:
        problems = getattr(error, "problems", None)
        if problems is None:
            return _verdict(error)
        for problem in problems:
            print(problem, file=sys.stderr)
        return 2
    except BrokenPipeError:  # whoever read our output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 2
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        print(f"vdpsim: {where}{error.strerror or error}", file=sys.stderr)
        return 2
    return status


def _verdict(error: ValueError) -> int:
    """Say that a chip does not fit, where that is what ``error`` says; else it is a fault of our own and goes on."""
    from .. import NotInTimeError  # noqa: PLC0415 - loads the engine, which most commands do not need

    if not isinstance(error, NotInTimeError):
        raise error
    print(f"vdpsim: {error}", file=sys.stderr)
    return 1


def _parser(words: Sequence[str]) -> argparse.ArgumentParser:
    """The parser of everything, or, where ``words`` begin with a command, of that one."""
    parser = _described(
        "vdpsim", "Draws what a video chip on paper would show, and counts every memory fetch.", EXAMPLES
    )
    parser.add_argument("--version", action="version", version=f"vdpsim {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    chosen = words[0] if words and words[0] in COMMANDS else None
    for name, about in COMMANDS.items():
        if chosen in {None, name}:
            command = import_module(f".{name}", __package__)
            part = commands.add_parser(name, help=about)
            _describe(part, command.ABOUT, command.EXAMPLES)
            command.arguments(part)
            part.set_defaults(run=command.run)
    return parser


def _described(name: str, about: str, examples: str) -> argparse.ArgumentParser:
    return _describe(argparse.ArgumentParser(prog=name), about, examples)


def _describe(parser: argparse.ArgumentParser, about: str, examples: str) -> argparse.ArgumentParser:
    parser.description, parser.epilog = about, examples
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.allow_abbrev = False
    return parser
