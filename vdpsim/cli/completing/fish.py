"""The script for fish.

Law: made of the table alone; one line of fish's own ``complete`` for each command, option and set of words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from .table import Command, Value

HEAD = """\
# vdpsim for fish: vdpsim completion fish | source
complete -c vdpsim -f
"""


def script(commands: Sequence[Command], names: Mapping[str, Sequence[str]]) -> str:
    """The script; ``names``: the shipped ones by their kind, chip and scene."""
    return HEAD + "\n".join(line for command in commands for line in _lines(command, names)) + "\n"


def _lines(command: Command, names: Mapping[str, Sequence[str]]) -> Iterator[str]:
    yield f"complete -c vdpsim -n __fish_use_subcommand -a {_quoted(command.name)} -d {_quoted(command.about)}"
    within = f"complete -c vdpsim -n '__fish_seen_subcommand_from {command.name}'"
    for option in command.options:
        shown = " ".join(f"-l {name[2:]}" if name.startswith("--") else f"-s {name[1:]}" for name in option.names)
        yield f"{within} {shown}{_value(option.value, names)} -d {_quoted(option.about)}"
    if command.words:
        yield f"{within}{_words(command.words[0], names)}"


def _value(value: Value | None, names: Mapping[str, Sequence[str]]) -> str:
    return "" if value is None else f" -r{_words(value, names)}"


def _words(value: Value, names: Mapping[str, Sequence[str]]) -> str:
    """What stands in the place of a value: files, names, words."""
    listed = value.choices or names.get(value.kind, ())
    files = " -F" if value.kind in {"chip", "scene", "file", "folder"} else ""
    return files + (f" -a {_quoted(' '.join(map(_escaped, listed)))}" if listed else "")


def _escaped(word: str) -> str:
    return word.replace(" ", "\\ ")


def _quoted(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"
