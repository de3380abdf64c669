"""The script for bash.

Law: made of the table alone. A shipped name has a colon, at which bash breaks words: what is completed is cut there as
bash has it.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Mapping, Sequence

from .table import Command, Value

SCRIPT = """\
# vdpsim for bash: eval "$(vdpsim completion bash)"
_vdpsim_options() {{
    case $1 in
{options}
    esac
}}
_vdpsim_kind() {{  # of the value of an option, or of the words of a command
    case $1 in
{kinds}
    esac
}}
_vdpsim_files() {{  # pattern
    local one
    while IFS= read -r one; do
        if [[ -d $one ]]; then printf '%q/\\n' "$one"; elif [[ $one == $1 ]]; then printf '%q\\n' "$one"; fi
    done < <(compgen -f -- "$word")
}}
_vdpsim_values() {{  # kind
    case $1 in
{values}
    file) _vdpsim_files '*' ;;
    folder) _vdpsim_files '/' ;;
    esac
}}
_vdpsim() {{
    local line=${{COMP_LINE:0:COMP_POINT}} word command='' before='' one prefix
    word=${{line##*[[:space:]]}}
    local -a all found=()
    read -r -a all <<< "${{line%"$word"}}"
    (( ${{#all[@]}} > 1 )) && command=${{all[1]}}
    (( ${{#all[@]}} > 1 )) && before=${{all[${{#all[@]}}-1]}}
    if [[ -z $command ]]; then
        mapfile -t found < <(compgen -W {commands} -- "$word")
    elif [[ $(_vdpsim_kind "$command $before") ]]; then
        mapfile -t found < <(_vdpsim_values "$(_vdpsim_kind "$command $before")")
    elif [[ $word == -* ]]; then
        mapfile -t found < <(compgen -W "$(_vdpsim_options "$command")" -- "$word")
    else
        mapfile -t found < <(_vdpsim_values "$(_vdpsim_kind "$command")")
    fi
    prefix=${{word%"${{word##*:}}"}}
    COMPREPLY=()
    for one in "${{found[@]}}"; do COMPREPLY+=("${{one#"$prefix"}}"); done
    if (( ${{#COMPREPLY[@]}} == 1 )) && [[ ${{COMPREPLY[0]}} == */ ]]; then compopt -o nospace 2>/dev/null; fi
}}
complete -F _vdpsim vdpsim
"""


def script(commands: Sequence[Command], names: Mapping[str, Sequence[str]]) -> str:
    """The script; ``names``: the shipped ones by their kind, chip and scene."""
    return SCRIPT.format(
        commands=shlex.quote(" ".join(one.name for one in commands)),
        options="\n".join(_case(one.name, " ".join(_options(one))) for one in commands),
        kinds="\n".join(_case(f"{key}", kind) for one in commands for key, kind in _kinds(one)),
        values="\n".join(_values(commands, names)),
    )


def _case(key: str, text: str) -> str:
    return f"    {shlex.quote(key)}) echo {shlex.quote(text)} ;;"


def _options(command: Command) -> Iterable[str]:
    return (name for option in command.options for name in option.names)


def _kinds(command: Command) -> Iterator[tuple[str, str]]:
    """The kind of each option that takes a value, with the command before it, and of the command's words."""
    for option in command.options:
        for name in option.names if option.value is not None else ():
            yield f"{command.name} {name}", _kind(command, name, option.value)
    if command.words:
        yield command.name, _kind(command, "", command.words[0])


def _kind(command: Command, name: str, value: Value | None) -> str:
    assert value is not None
    return f"words {command.name}{name}" if value.kind == "words" else value.kind or "nothing"


def _values(commands: Sequence[Command], names: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """A case for each set of words, and for the kinds that are names or files."""
    for kind, some in names.items():
        yield f"    {kind}) compgen -W {shlex.quote(' '.join(some))} -- \"$word\"; _vdpsim_files '*.{kind}.toml' ;;"
    for command in commands:
        values = [("", command.words[0])] if command.words else []
        values += [(name, one.value) for one in command.options for name in one.names if one.value is not None]
        for name, value in values:
            if value.kind == "words":
                words = " ".join(one.replace(" ", "\\ ") for one in value.choices)
                yield f"    'words {command.name}{name}') compgen -W {shlex.quote(words)} -- \"$word\" | sed 's/ /\\\\ /g' ;;"
