"""On which line of a TOML text each key stands.

Law: a light scan beside the real parser, for messages only; where it cannot tell, it leaves a key out. Keys are tuples of
names and positions, ``("layers", 0, "modes", 1, "name")``.
"""

from __future__ import annotations

import re

_HEADER = re.compile(r"^\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"""^\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*=""")
_PART = re.compile(r""""([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+)""")


def places(text: str) -> dict[tuple[str | int, ...], int]:
    """Line numbers, counted from 1, by key path."""
    found: dict[tuple[str | int, ...], int] = {}
    counts: dict[tuple[str | int, ...], int] = {}
    here: tuple[str | int, ...] = ()
    for number, line in enumerate(text.splitlines(), 1):
        header = _HEADER.match(line)
        if header and "=" not in header[2]:
            here = ()
            names = _names(header[2])
            for depth, name in enumerate(names):
                here = (*here, name)
                last = depth == len(names) - 1
                if last and header[1] == "[[":
                    counts[here] = counts.get(here, -1) + 1
                if here in counts:
                    found.setdefault(here, number)
                    here = (*here, counts[here])
            found.setdefault(here, number)
            continue
        key = _KEY.match(line)
        if key:
            path = here
            for name in _names(key[1]):
                path = (*path, name)
                found.setdefault(path, number)
    return found


def _names(dotted: str) -> list[str]:
    return [first or second or bare for first, second, bare in _PART.findall(dotted)]
