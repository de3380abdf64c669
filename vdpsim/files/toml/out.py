"""Data as TOML text.

Law: what is written reads back as the same data, or is refused. Only what the two kinds of file hold can be written: texts of
whole characters, numbers, flags, lists and tables. Knows no chip and no scene.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from ...door.shown import HARMFUL
from ...door.shown import value as shown
from ..problems import InputError, Problem

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPED = re.compile(f'["\\\\\\t\\n{HARMFUL}]')
_SHORT = {'"': '\\"', "\\": "\\\\", "\t": "\\t", "\n": "\\n", "\r": "\\r"}

LARGEST_BITS = 8_000
"""Bits of a whole number that is written in decimal digits: Python reads no more than 4,300 of those."""


def key(name: str) -> str:
    """A key, in quotes where it needs them."""
    return name if _BARE.fullmatch(name) else _text(name)


def value(given: Any) -> str:
    """A value on one line; every number, ``inf`` and ``nan`` too, reads back as itself.

    Raises TypeError for what is no value of TOML, and InputError for a text with half characters, such as those that stand for
    the bytes of a file's name that are no UTF-8.
    """
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, int):
        if given.bit_length() <= LARGEST_BITS:
            return str(given)
        if given > 0:
            return hex(given)
        raise _unwritable(f"no number below 0 of {given.bit_length()} bits")
    if isinstance(given, float):
        return repr(float(given))
    if isinstance(given, str):
        return _text(given)
    if isinstance(given, Mapping):
        return "{ " + ", ".join(f"{key(name)} = {value(one)}" for name, one in given.items()) + " }"
    if isinstance(given, Iterable):
        return "[" + ", ".join(map(value, given)) + "]"
    raise TypeError(f"TOML holds no {type(given).__name__}")


def _text(given: str) -> str:
    """A text in quotes; everything that a terminal would obey is an escape."""
    try:
        given.encode()
    except UnicodeEncodeError:
        raise _unwritable(f"no text with half characters, got {shown(given)}") from None
    return f'"{_ESCAPED.sub(_escape, given)}"'


def _unwritable(told: str) -> InputError:
    return InputError([Problem("TOML that is to be written", 0, "", f"can hold {told}")])


def _escape(found: re.Match[str]) -> str:
    return _SHORT.get(found[0]) or f"\\u{ord(found[0]):04X}"


def table(head: str, data: Mapping[str, Any]) -> str:
    """A table with a head such as ``[frame]`` or ``[[maps]]``, each of its values on a line."""
    return "\n".join([head, *(f"{key(name)} = {value(one)}" for name, one in data.items())]) + "\n"


def document(data: Mapping[str, Any]) -> str:
    """A whole file: its plain values, its tables, and its lists of tables, each in their order."""
    heads = {name: one for name, one in data.items() if not _tables(one)}
    parts = [table("", heads).lstrip("\n")]
    for name, one in data.items():
        if isinstance(one, Mapping):
            parts.append(table(f"[{key(name)}]", one))
        elif _tables(one):
            parts += [table(f"[[{key(name)}]]", each) for each in one]
    return "\n".join(parts)


def _tables(given: Any) -> bool:
    """Whether a value of a file is a table, or a list of nothing but tables."""
    if isinstance(given, list | tuple) and given:
        return all(isinstance(one, Mapping) for one in given)
    return isinstance(given, Mapping)
