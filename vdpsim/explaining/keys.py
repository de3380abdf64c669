"""The keys of chip and scene files, found by a dotted place.

Law: what a key says of itself comes from the file's schema and from nowhere else. A place is written as people write it: tables
and keys with dots between, an element of a list by its number or its name, or not at all. Knows no chip: ``layers.near.modes``
and ``layers.modes`` are one place.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any, Literal, NamedTuple

from ..door.shown import nearest
from ..scene.schemas import schema

Kind = Literal["chip", "scene"]
KINDS: tuple[Kind, Kind] = ("chip", "scene")

DEEPEST = 12
"""Parts of a place that are looked at."""


class Key(NamedTuple):
    """A key of a file: of which ``kind`` of file, its ``place`` without elements' names.

    ``table``: the schema's name of the table that it stands in. ``told``: what the schema says of it. ``inside``: names of the
    tables that may stand there; none for a plain value.
    """

    kind: Kind
    place: str
    table: str
    told: dict[str, Any]
    inside: tuple[str, ...]

    @property
    def name(self) -> str:
        """The key itself."""
        return self.place.rpartition(".")[2]

    @property
    def about(self) -> str:
        """What it is, its range, and what it is where it is left out."""
        return str(self.told.get("description", ""))


@cache
def shape(kind: Kind) -> dict[str, dict[str, Any]]:
    """The tables of a kind of file by their names; the whole file is ``Chip`` or ``SceneFile``."""
    found = schema(kind)
    return {found["title"]: found, **found["$defs"]}


@cache
def every(kind: Kind) -> dict[str, tuple[Key, ...]]:
    """All keys of a kind of file by place, in the schema's order; a place has several where tables of several kinds have it."""
    found: dict[str, list[Key]] = {}
    root = schema(kind)["title"]
    for key in _below(kind, root, "", ()):
        found.setdefault(key.place, []).append(key)
    return {place: tuple(keys) for place, keys in found.items()}


def _below(kind: Kind, table: str, place: str, above: tuple[str, ...]) -> Iterator[Key]:
    for name, told in shape(kind)[table].get("properties", {}).items():
        here = f"{place}.{name}" if place else name
        inside = tuple(dict.fromkeys(_inside(kind, told)))
        yield Key(kind, here, table, told, inside)
        for below in inside:
            if below not in above:
                yield from _below(kind, below, here, (*above, table))


def _inside(kind: Kind, told: Any) -> Iterator[str]:
    """The names of the tables that may stand where ``told`` does; of a table by names that too which each name has."""
    for table in _tables(told):
        yield table
        yield from _tables(shape(kind)[table].get("additionalProperties"))


def _tables(told: Any) -> Iterator[str]:
    """The names of the tables that may stand where ``told`` does, in a list or by any name too."""
    if isinstance(told, list):
        for one in told:
            yield from _tables(one)
    elif isinstance(told, dict):
        if "$ref" in told:
            yield told["$ref"].rpartition("/")[2]
        for word in ("anyOf", "oneOf", "items", "prefixItems", "additionalProperties"):
            yield from _tables(told.get(word))
        yield from _tables([*told.get("patternProperties", {}).values()])


def keys_at(word: str) -> tuple[Key, ...]:
    """The keys that ``word`` names: a whole place, or the end of one; with elements' names or numbers in it."""
    parts = [part.strip('"') for part in word.replace("[", ".").replace("]", "").split(".") if part]
    if not parts or len(parts) > DEEPEST:
        return ()
    exact = tuple(key for kind in KINDS for key in _walked(kind, parts))
    end = f".{'.'.join(parts)}"
    ends = (keys for kind in KINDS for place, keys in every(kind).items() if f".{place}".endswith(end))
    return exact or tuple(key for keys in ends for key in keys)


def _walked(kind: Kind, parts: Sequence[str]) -> tuple[Key, ...]:
    """The keys at a whole place; a part that is no key there names an element."""
    known, place = every(kind), ""
    for number, part in enumerate(parts):
        deeper = f"{place}.{part}" if place else part
        if deeper in known:
            place = deeper
            continue
        if not place or not _has_elements(known[place]) or (number == len(parts) - 1 and _slip(place, part)):
            return ()
    return known.get(place, ())


def _has_elements(keys: tuple[Key, ...]) -> bool:
    """Whether what stands there has elements with names or numbers: a list of tables, or a table by names."""
    named = ("items", "additionalProperties", "patternProperties")
    told = [one for key in keys for one in (*_each(key.told), *(shape(key.kind)[table] for table in key.inside))]
    return any(one.get(word) for one in told for word in named)


def _each(told: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield told
    for word in ("anyOf", "oneOf"):
        for one in told.get(word, ()):
            yield from _each(one)


def _slip(place: str, part: str) -> bool:
    """Whether ``part`` rather looks like a slip in a key of the tables at ``place`` than like an element's name."""
    below = (one.removeprefix(f"{place}.") for kind in KINDS for one in every(kind) if one.startswith(f"{place}."))
    return bool(nearest(part, (one for one in below if "." not in one)))
