"""The script for zsh.

Law: made of the table alone, in the words of zsh's own ``_arguments`` and ``_describe``.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence

from .table import Command, Option, Value

SCRIPT = """\
#compdef vdpsim
# vdpsim for zsh, after compinit: eval "$(vdpsim completion zsh)"
_vdpsim_chip() {{ _alternative {chips} 'files:file:_files -g "*.chip.toml"' }}
_vdpsim_scene() {{ _alternative {scenes} 'files:file:_files -g "*.scene.toml"' }}
_vdpsim() {{
    local curcontext=$curcontext state
    local -a commands=({commands})
    _arguments -C '1:command:->command' '*::argument:->argument' && return
    case $state in
    command) _describe command commands ;;
    argument)
        case $words[1] in
{cases}
        esac ;;
    esac
}}
compdef _vdpsim vdpsim
"""
ACTIONS = {"chip": "_vdpsim_chip", "scene": "_vdpsim_scene", "file": "_files", "folder": "_files -/"}


def script(commands: Sequence[Command], names: Mapping[str, Sequence[str]]) -> str:
    """The script; ``names``: the shipped ones by their kind, chip and scene."""
    return SCRIPT.format(
        chips=_named("chip", names["chip"]),
        scenes=_named("scene", names["scene"]),
        commands=" ".join(shlex.quote(f"{one.name}:{one.about}") for one in commands),
        cases="\n".join(f"        {one.name}) _arguments {' '.join(_specs(one))} ;;" for one in commands),
    )


def _named(kind: str, names: Sequence[str]) -> str:
    return shlex.quote(f"{kind}s:shipped {kind}:compadd {' '.join(names)}")


def _specs(command: Command) -> Iterator[str]:
    """What ``_arguments`` takes: a text for each name of an option, then the words."""
    for option in command.options:
        for name in option.names:
            yield shlex.quote(f"*{name}[{_plain(option)}]{_value(option.value)}")
    if command.words:
        yield shlex.quote(f"*{_value(command.words[0]) or ': : '}")


def _plain(option: Option) -> str:
    """What an option is about, without what ends it in the script."""
    return option.about.replace("[", "(").replace("]", ")").replace(":", ";")


def _value(value: Value | None) -> str:
    if value is None:
        return ""
    if value.kind == "words":
        return f":value:({' '.join(one.replace(' ', chr(92) + ' ') for one in value.choices)})"
    return f":{value.kind or 'value'}:{ACTIONS.get(value.kind, ' ')}"
