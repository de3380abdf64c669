"""What all commands that write files have in common: the option that gives up what is there, and the door."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from pathlib import Path

from vdpsim.files import Guard, Outputs

from .say import flush, tell


def replace_argument(parser: argparse.ArgumentParser) -> None:
    """Declare ``--replace``."""
    parser.add_argument(
        "--replace",
        action="store_true",
        help="overwrite files that vdpsim did not write, or that were changed since; never one that the command reads",
    )


def outputs(options: argparse.Namespace, *places: str | Path | None) -> Outputs:
    """The files that a command writes. Raises OSError where one of ``places``, files to be, is there and is no file."""
    made = Outputs(Guard(options.replace, _told))
    for place in places:
        if place is not None:
            made.expect(place)
    return made


def say_first(written: Outputs, say: Callable[[], None]) -> None:
    """Have ``say`` print what the command has to say just before the files are there.

    Where nobody can hear it the command fails, and a command that fails writes nothing.
    """

    def said() -> None:
        say()
        flush()

    written.last(said)


def is_folder(place: str) -> bool:
    """Whether ``place`` names a folder for results: by the / at its end, or because it is one."""
    return place.endswith("/") or os.path.isdir(place)  # noqa: PTH112 - Path.is_dir() raises where a name is too long


def _told(text: str) -> None:
    tell(f"vdpsim: {text}")
