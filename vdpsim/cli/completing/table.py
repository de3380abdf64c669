"""What can stand on a command line, from the parser itself.

Law: nothing is listed here by hand but which kinds of value there are; a command, an option and a choice that the parser has is
in the table, and no other. What a command ``offers`` besides choices is asked of it when the table is made. Knows no shell.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from typing import NamedTuple

from ..files import chip_file, own_scene_file, scene_file

KINDS = {chip_file: "chip", scene_file: "scene", own_scene_file: "scene"}
"""What a value is, by how it is read."""

FILES, FOLDERS = ("FILE", "PLACE", "PICTURE", "CAPTURE"), ("DIR", "FOLDER")
"""Parts of the words that stand for a value in a help: what is a file, what a folder."""


def offers(action: argparse.Action, words: Callable[[], Iterable[str]]) -> None:
    """Have shells offer ``words`` for an argument that takes others too, or is looked at later."""
    vars(action)["offers"] = words


class Value(NamedTuple):
    """What may be given: one of ``choices``, or what ``kind`` says.

    ``kind``: chip, scene, file, folder; "words" for choices; "" where nothing can be completed.
    """

    kind: str
    choices: tuple[str, ...] = ()


class Option(NamedTuple):
    """An option: its ``names``, the short one first, what it is ``about``, and its ``value``; None for a flag."""

    names: tuple[str, ...]
    about: str
    value: Value | None


class Command(NamedTuple):
    """A command: its ``name``, what it is ``about``, its ``options``, and its words in order, the last of which may repeat."""

    name: str
    about: str
    options: tuple[Option, ...]
    words: tuple[Value, ...]


def command_of(name: str, about: str, actions: Iterable[argparse.Action]) -> Command:
    """The command called ``name``, of the ``actions`` of its parser."""
    declared = [one for one in actions if one.help != argparse.SUPPRESS]
    options = tuple(
        Option(tuple(one.option_strings), " ".join((one.help or "").split()), None if one.nargs == 0 else _value(one))
        for one in declared
        if one.option_strings
    )
    return Command(name, about, options, tuple(_value(one) for one in declared if not one.option_strings))


def _value(action: argparse.Action) -> Value:
    words = tuple(map(str, action.choices or vars(action).get("offers", tuple)()))
    if words:
        return Value("words", words)
    kind = next((name for read, name in KINDS.items() if action.type is read), "")
    shown = str(action.metavar or "")
    if not kind and any(word in shown for word in FILES):
        kind = "file"
    if not kind and any(word in shown for word in FOLDERS):
        kind = "folder"
    return Value(kind)
