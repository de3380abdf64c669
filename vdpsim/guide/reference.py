"""The reference of both formats: every key of chip and scene files, table by table.

Law: made from the schemas, which are made from the models that read the files; nothing of a format is written here by hand.
What a key says of itself has its unit, its range and what leaving it out means.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any, Literal, NamedTuple

from ..scene.schemas import schema

Tree = Mapping[str, Any]

KINDS = {"integer": "whole number", "number": "number", "string": "text", "boolean": "true or false", "object": "table"}
"""A schema's words for kinds of value, and the guide's."""


class _Place(NamedTuple):
    """A table of a file: where it stands, as keys with dots; whether in a list; its kind or that of one around; its schema."""

    where: str
    listed: bool
    kind: str
    tree: Tree


def format_reference(kind: Literal["chip", "scene"], intro: str) -> str:
    """``intro`` and a section for each table of the format, in the order in which a reader of a file meets them."""
    tables = list(_tables(schema(kind)))
    many = Counter((one.where, one.listed) for one in tables)
    sections = ("\n".join(_section(one, alone=many[one.where, one.listed] == 1)) for one in tables)
    return "\n\n".join((intro.rstrip("\n"), *sections))


def _tables(root: Tree) -> Iterator[_Place]:
    """The file itself, then each table below it, once, before those below that one."""
    seen: set[str] = set()

    def walk(place: _Place) -> Iterator[_Place]:
        yield place
        for key, described in {**place.tree.get("properties", {}), **_free(place.tree)}.items():
            for where, listed, name in _references(described, f"{place.where}.{key}".lstrip("."), listed=False):
                if name not in seen:
                    seen.add(name)
                    tree = root["$defs"][name]
                    yield from walk(_Place(where, listed, _told_apart(tree) or place.kind, tree))

    yield from walk(_Place("", False, "", root))  # noqa: FBT003 - named right above


def _told_apart(tree: Tree) -> str:
    """The word by which a table is told from others that may stand in its place; empty where none may."""
    return str(tree.get("properties", {}).get("kind", {}).get("const", ""))


def _references(described: Any, where: str, *, listed: bool) -> Iterator[tuple[str, bool, str]]:
    """The tables that may stand at a key: where, whether in a list, and under which name the schema has them."""
    if isinstance(described, list):
        for each in described:
            yield from _references(each, where, listed=listed)
    elif isinstance(described, dict):
        if "$ref" in described:
            yield where, listed, described["$ref"].rpartition("/")[2]
        for key in ("anyOf", "oneOf"):
            yield from _references(described.get(key), where, listed=listed)
        for key in ("items", "prefixItems"):
            yield from _references(described.get(key), where, listed=True)
        for key, inside in _free(described).items():
            yield from _references(inside, f"{where}.{key}", listed=False)


def _free(tree: Tree) -> Tree:
    """What may stand at keys of one's own choice, of which NAME stands for one."""
    inside = tree.get("additionalProperties") or next(iter(tree.get("patternProperties", {}).values()), None)
    return {"NAME": inside} if isinstance(inside, dict) else {}


def _section(place: _Place, *, alone: bool) -> Iterator[str]:
    yield f"## {_heading(place, alone=alone)}\n"
    if place.where and "description" in place.tree:
        yield f"{_plain(place.tree['description'])}\n"
    needed = place.tree.get("required", ())
    for key, described in place.tree.get("properties", {}).items():
        must = ", needed" if key in needed else ""
        yield f"- `{key}` ({_kind(described)}{must}): {_plain(described.get('description', ''))}"


def _heading(place: _Place, *, alone: bool) -> str:
    """Where it stands and, where it is not ``alone`` there, what it is known by: its kind, else its first key."""
    if not place.where:
        return "The file itself"
    name = f"`[[{place.where}]]`" if place.listed else f"`[{place.where}]`"
    if alone:
        return name
    return f"{name} of kind `{place.kind}`" if place.kind else f"{name} with `{next(iter(place.tree['properties']))}`"


def _kind(described: Tree) -> str:
    """What kind of value a key takes, in words."""
    choices = described.get("anyOf") or described.get("oneOf")
    if choices:
        return " or ".join(dict.fromkeys(_kind(one) for one in choices if one.get("type") != "null"))
    if "$ref" in described:
        return "table"
    if "const" in described or "enum" in described:
        values = [described["const"]] if "const" in described else described["enum"]
        return "text" if all(isinstance(value, str) for value in values) else "whole number"
    if described.get("type") == "array":
        return f"list of {_many(described)}"
    return KINDS.get(described.get("type", ""), "any value")


def _many(described: Tree) -> str:
    """What a list has, in the plural."""
    inside = described.get("items") or described.get("prefixItems") or {}
    kinds = {_kind(one) for one in (inside if isinstance(inside, list) else [inside])}
    return " and ".join(sorted(re.sub(r"\b(list|number|text|table|value)\b", r"\1s", kind, count=1) for kind in kinds))


def _plain(said: str) -> str:
    """A schema's sentences as Markdown: only what stands between two backquotes means something."""
    return re.sub(r"([*_<>\[\]])", r"\\\1", said.replace("``", "`")) if "`" not in said else said.replace("``", "`")
