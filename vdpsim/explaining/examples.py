"""An example of each key: the line of a shipped file that has it or, where none does, one that the schema allows.

Law: nothing is made up where a file shows it; chips come before scenes, and files in the alphabet's order.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from typing import Any, NamedTuple

from ..files.toml.places import places
from ..shipped.files import chips, scenes
from .keys import Key, Kind, every

LONGEST = 100
"""Characters of a line that is shown."""


OWN: dict[str, str] = {
    "at": "at = [4, 0]",
    "bytes": "bytes = [0x10, 0xFF]",
    "cell": 'cell = { pattern = "reeds", flip_x = 1 }',
    "colour": 'colour = "#1a2b3c"',
    "colours": 'colours = ["#000", "#fff", "#1a2b3c"]',
    "constants": 'constants = { "far.enable" = 1 }',
    "cell.bank": 'bank = "7:4"',
    "colours.fill": "fill = { foreground = 15, background = 0 }",
    "colours.rows": "rows = [[{ foreground = 15, background = 0 }]]",
    "fill": 'fill = { pattern = "reeds", bank = 1 }',
    "for": 'for = "far.tiles"',
    "frame.sizes": "sizes = [[288, 216], [256, 192]]",
    "key": 'key = { "#" = "reeds", "." = { pattern = 0, bank = 1 } }',
    "layers.modes.cell.turn": 'turn = "13"',
    "layers.modes.colours.cell.bank": 'bank = "7:4"',
    "layers.modes.ladder.when": 'when = "priority = 1"',
    "map": 'map = "far.tiles"',
    "maps.text": 'text = "#..#"',
    "patterns": "patterns = 2",
    "raw": 'raw = "art/reeds.bin"',
    "rows": 'rows = ["01", "10"]',
    "maps.rows": 'rows = [[1, "reeds+1", { pattern = 1, flip_x = 1 }]]',
    "set": "set = { x = 40, y = 16 }",
    "size": "size = [16, 16]",
    "sprite": 'sprite = "heron"',
    "sprites.size": "size = 1",
    "time.clients.at": "at = [0, 2, 4]",
    "time.refresh.at": "at = [0, 4]",
    "writes.set.size": "size = 1",
}
"""Examples of keys that no shipped file has, and that the schema has no plain value for: by whole place, or by the key."""


class Example(NamedTuple):
    """A line of a file, and which: the shipped name and the line's number; "" and 0 for one that the schema gives."""

    text: str
    name: str
    line: int


def example(key: Key) -> Example:
    """An example of ``key``."""
    return _shipped(key.kind).get(key.place) or Example(_allowed(key), "", 0)


@cache
def _shipped(kind: Kind) -> dict[str, Example]:
    """The first line of a shipped file for each place that one has."""
    found: dict[str, Example] = {}
    known = every(kind)
    for one in (chips() if kind == "chip" else scenes()).values():
        text = one.path.read_text(encoding="utf-8")
        lines = text.splitlines()
        for path, line in places(text).items():
            place = _plain(path, known)
            if place and place not in found:
                found[place] = Example(_short(lines[line - 1].strip()), one.name, line)
    return found


def _plain(path: tuple[str | int, ...], known: dict[str, tuple[Key, ...]]) -> str:
    """The place of a key without elements' numbers and names; "" for an element itself and for what lies within a value."""
    place, own = "", False
    for part in path:
        deeper = f"{place}.{part}" if place else str(part)
        own = deeper in known
        place = deeper if own else place
    return place if own else ""


def _short(line: str) -> str:
    return line if len(line) <= LONGEST else f"{line[: LONGEST - 4]} ..."


def _allowed(key: Key) -> str:
    """A line that the schema allows."""
    if key.place in OWN or key.name in OWN:
        return OWN.get(key.place, OWN.get(key.name, ""))
    return f"{key.name} = {json.dumps(next(_values(key.told), 1))}"


def _values(told: dict[str, Any]) -> Iterator[Any]:
    """Plain values of a key, those that its schema names first."""
    for word in ("const", "default", "minimum"):
        if told.get(word) is not None:
            yield told[word]
    yield from told.get("enum", [])[-1:]
    for one in told.get("anyOf", ()):
        yield from _values(one)
