"""Chips and scenes as TOML text.

Law: what is written reads back as the same data. Only what the two kinds of file hold can be written: texts, numbers, flags,
lists and tables. Knows no chip but for the data it is given.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from .chip.model import Chip
from .problems import InputError, Problem

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_HALF = re.compile(r"[\ud800-\udfff]")
_NOT_ASCII = re.compile(r"[^ -~]")


def key(name: str) -> str:
    """A key, in quotes where it needs them."""
    return name if _BARE.fullmatch(name) else _text(name)


def _text(given: str) -> str:
    """A text in quotes, all ASCII; JSON's escapes are TOML's but for characters above 0xFFFF.

    Raises InputError for halves of such characters, which stand for bytes of a file's name that are no text.
    """
    if _HALF.search(given):
        raise InputError([Problem(ascii(given), 0, "", "cannot stand in a chip or scene file, which is UTF-8 text")])
    return _NOT_ASCII.sub(_escaped, json.dumps(given, ensure_ascii=False))


def _escaped(one: re.Match[str]) -> str:
    code = ord(one[0])
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def value(given: Any) -> str:
    """A value on one line. Raises TypeError for what TOML cannot hold, InputError for a text that is none."""
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, int | float):
        return str(given)
    if isinstance(given, str):
        return _text(given)
    if isinstance(given, Mapping):
        return "{ " + ", ".join(f"{key(name)} = {value(one)}" for name, one in given.items()) + " }"
    if isinstance(given, Iterable):
        return "[" + ", ".join(map(value, given)) + "]"
    raise TypeError(f"TOML holds no {type(given).__name__}")


def table(head: str, data: Mapping[str, Any]) -> str:
    """A table with a head such as ``[frame]`` or ``[[maps]]``, each of its values on a line."""
    return "\n".join([head, *(f"{key(name)} = {value(one)}" for name, one in data.items())]) + "\n"


def chip_text(chip: Chip) -> str:
    """A chip as a chip file that loads as the same chip."""
    data = chip.model_dump(mode="json", exclude_unset=True, by_alias=True)
    plain = {name: one for name, one in data.items() if not isinstance(one, dict | list)}
    parts = ["\n".join(f"{key(name)} = {value(one)}" for name, one in plain.items()) + "\n"]
    for name, one in data.items():
        if isinstance(one, dict):
            parts.append(table(f"[{key(name)}]", one))
        elif isinstance(one, list):
            parts += [table(f"[[{key(name)}]]", each) for each in one]
    return "\n".join(parts)
