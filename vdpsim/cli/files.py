"""Files on a command line: chips and scenes by path or shipped name, and what is common to all commands that write files.

Law: what exists and is no folder is a path; so is what has a / or ends in .toml. Any other word is a shipped name, CHIP or
CHIP:SCENE. What is wrong with a name is kept with the word, and all such are told at once, before the command begins. A path
costs nothing. What a command writes goes through the one door of ``files/``, which is loaded when there is something to write.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Self

from ..door.shown import clipped
from ..files.problems import Problem
from .say import flush, tell

if TYPE_CHECKING:
    from vdpsim import Chip, Scene

    from ..files import Outputs


RULE = "a word that is no file here, without / and .toml, is a shipped name: see vdpsim list"

CHIP_HELP, SCENE_HELP = "a chip file (*.chip.toml), or a shipped name", "a scene file (*.scene.toml), or a shipped name"


class Named(str):  # noqa: SLOT000 - slots and annotations exclude each other
    """A path to a shipped file, for the name that was given.

    ``name``: as it was given. ``chip``: the chip file that it asks for where that is not the scene's own. ``wrong``: what is
    wrong with the name, "" for nothing; then it is the name itself and no path.
    """

    name: str
    chip: str | None
    wrong: str

    def __new__(cls, path: object, name: str, chip: str | None = None, wrong: str = "") -> Self:
        """A word that is ``path``, and knows what it was."""
        made = super().__new__(cls, path)
        made.name, made.chip, made.wrong = name, chip, wrong
        return made


def is_path(word: str) -> bool:
    """Whether ``word`` is a path by itself, or because something of its name exists that is no folder."""
    if "/" in word or os.sep in word or word.endswith(".toml"):
        return True
    return os.path.lexists(word) and not os.path.isdir(word)  # noqa: PTH112 - Path.is_dir() raises where a name is too long


def chip_file(word: str) -> str:
    """The chip file that ``word`` names."""
    return _named(word, "chip")


def scene_file(word: str) -> str:
    """The scene file that ``word`` names; of a shipped name with the chip that it asks for."""
    return _named(word, "scene")


def own_scene_file(word: str) -> str:
    """The scene file that ``word`` names, where the command says by itself which chips it is for."""
    found = _named(word, "scene")
    if isinstance(found, Named) and found.chip is not None:
        return Named(
            word, word, wrong="names another chip than the scene's own: here the command says which chips draw it"
        )
    return found


def either_file(word: str) -> str:
    """The chip or scene file that ``word`` names."""
    return _named(word, "either")


def _named(word: str, kind: str) -> str:
    if not word or "\0" in word or is_path(word):
        return word
    from ..shipped.files import UnknownNameError, chip_named, chips, scene_named  # noqa: PLC0415 - a path needs none of it

    try:
        if kind == "chip" or (kind == "either" and word in chips()):
            return Named(chip_named(word).path, word)
        scene, chip = scene_named(word)
        return Named(scene.path, word, str(chip.path) if chip else None)
    except UnknownNameError as error:
        return Named(word, word, wrong=f"{error}; {RULE}")


def chip_asked(scene: str, chip: str | None) -> str | None:
    """The chip file for ``scene``: ``chip`` where it is given, else the one that a shipped name asks for; None for its own."""
    return chip or (scene.chip if isinstance(scene, Named) else None)


def scene_on(scene: str, chip: str | None) -> Scene:
    """The scene on the chip that is asked for. Raises InputError."""
    import vdpsim  # noqa: PLC0415 - --help needs no scene

    asked = chip_asked(scene, chip)
    own: Chip | None = vdpsim.load_chip(asked) if asked else None
    return vdpsim.load_scene(scene, chip=own)


def wrong_names(options: argparse.Namespace) -> list[Problem]:
    """What is wrong with the names on a command line."""
    return [Problem(clipped(one.name), 0, "", one.wrong) for one in _each(options) if one.wrong]


def _each(options: argparse.Namespace) -> Iterator[Named]:
    for value in vars(options).values():
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, Named):
                yield one


def replace_argument(parser: argparse.ArgumentParser) -> None:
    """Declare ``--replace``."""
    parser.add_argument(
        "--replace",
        action="store_true",
        help="overwrite files that vdpsim did not write, or that were changed since; never one that the command reads",
    )


def outputs(options: argparse.Namespace, *places: str | Path | None) -> Outputs:
    """The files that a command writes. Raises OSError where one of ``places``, files to be, is there and is no file."""
    from ..files import Guard, Outputs  # noqa: PLC0415 - many commands write nothing

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
