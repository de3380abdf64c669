"""Values that may stand at a place of a file, as its JSON Schema tells them.

Law: a few of them, from one end of what is allowed to the other; the models have the last word on whether one is taken. Knows
no chip and no scene, and no data but what it is given.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import islice, zip_longest
from typing import Any

from pydantic import BaseModel

Loc = tuple[str | int, ...]
Schema = dict[str, Any]

TEXTS = (
    *(f"{bit + wide - 1}:{bit}" for wide in (8, 4, 3, 2) for bit in range(0, 40, wide)),
    *map(str, range(40)),
    *("1/2", "x", "y", "#000", "#ffffff", "0:1", "1:3", "priority = 0", "priority = 1"),
)
"""Texts of the kinds that files hold: bits, the most first, rates, names, colours, ranges, conditions."""

FARTHEST = 64
"""Where numbers end for which no largest is told."""

NEAR = 8
"""Multiples of it are tried beside a wrong number."""

SHORT, ROWS = 16, 16
"""Ranges of fewer numbers are tried whole; of tables no more than so many."""

KEPT = frozenset({"name", "kind"})
"""By these a table is known to others; they are kept where the rest of it is not."""


BITS = re.compile(r"([0-9]{1,4})(?::([0-9]{1,4}))?")
"""A run of bits, from its highest to its lowest, or one bit."""


def bits_in(value: Any) -> int | None:
    """How many bits ``value`` tells of; None where it tells of none."""
    run = BITS.fullmatch(value) if isinstance(value, str) else None
    return run and int(run[1]) - int(run[2] or run[1]) + 1


@cache
def schema_of(model: type[BaseModel]) -> Schema:
    """The JSON Schema of a file that is read as ``model``."""
    return model.model_json_schema()


class Allowed:
    """What may stand in a file that is read as ``model``."""

    def __init__(self, model: type[BaseModel]) -> None:
        self.whole = schema_of(model)
        self.tables = self.whole.get("$defs", {})

    def values(self, place: Loc, given: Any) -> list[Any]:
        """Values for ``place``, small numbers first, without ``given``, which stands there; a table keeps tables and lists."""
        found: list[Any] = []
        for one in self.at(place):
            for value in self._of(one, given):
                if value != given and value not in found:
                    found.append(value)
        return found

    def needs(self, place: Loc) -> bool:
        """Whether the key at ``place`` cannot be left out."""
        return not isinstance(place[-1], str) or any(
            place[-1] in one.get("required", ()) for one in self.at(place[:-1])
        )

    def keys(self, place: Loc) -> set[str]:
        """The keys of the tables that may stand at ``place``."""
        return {key for one in self.at(place) for key in one.get("properties", ())}

    def takes_table(self, place: Loc) -> bool:
        """Whether a table may stand at ``place``."""
        return any(one.get("type") == "object" for one in self.at(place))

    def at(self, place: Loc) -> list[Schema]:
        """The kinds of value that may stand at ``place``."""
        known = list(self._plain(self.whole))
        for part in place:
            known = [kind for one in known for step in _inside(one, part) for kind in self._plain(step)]
        return known

    def _plain(self, schema: Schema) -> Iterator[Schema]:
        """The kinds that ``schema`` stands for, out of its references and unions."""
        if "$ref" in schema:
            yield from self._plain(self.tables[schema["$ref"].rpartition("/")[2]])
        elif "anyOf" in schema or "oneOf" in schema:
            for one in schema.get("anyOf", []) + schema.get("oneOf", []):
                yield from self._plain(one)
        else:
            yield schema

    def _of(self, schema: Schema, given: Any) -> list[Any]:
        if "const" in schema or "enum" in schema:
            return [schema["const"]] if "const" in schema else list(schema["enum"])
        kind = schema.get("type")
        if kind == "object":
            return self._tables(schema, given if isinstance(given, dict) else {})
        if kind == "array":
            return self._lists(schema, given if isinstance(given, list) else [])
        if kind == "boolean":
            return [False, True]
        if kind in ("integer", "number"):
            return _numbers(schema, given)
        return _texts(schema) if kind == "string" else []

    def _lists(self, schema: Schema, given: list[Any]) -> list[Any]:
        """Lists of one element or as many as there must be, none at all, and ``given`` with an element less or more."""
        listed = schema.get("prefixItems") or [schema["items"]] * max(1, schema.get("minItems", 1))
        each = [[value for one in self._plain(item) for value in self._of(one, None)] for item in listed]
        found = [list(row) for row in _rows(each)] if all(each) else []
        if "items" in schema and given:
            found = [given[:-1], *found, given + given[-1:]]
        return found if schema.get("minItems") else [*found, []]

    def _tables(self, schema: Schema, given: dict[str, Any]) -> list[Any]:
        """Tables with other numbers and texts than ``given``, then those that have its name alone; with all that they need."""
        kinds = schema.get("properties", {}).get("kind", {})
        names = {key: given[key] for key in KEPT & given.keys() if key == "name"}
        alike = "const" not in kinds or given.get("kind") == kinds["const"]
        return [*(self._filled(schema, given) if alike else []), *(self._filled(schema, names) if given else [])]

    def _filled(self, schema: Schema, given: dict[str, Any]) -> list[Any]:
        needed = set(schema.get("required", ())) - given.keys()
        plain = {key for key, value in given.items() if not isinstance(value, dict | list)} - KEPT
        each: dict[str, list[Any]] = {}
        for place, key in enumerate(name for name in schema.get("properties", {}) if name in needed | plain):
            kinds = self._plain(schema["properties"][key])
            # The same text for each would have all of them at the same bits.
            values = [value for one in kinds for value in self._of(one, None)]
            each[key] = values[place:] + values[:place] if values and isinstance(values[0], str) else values
        if not each or not all(each.values()):
            return []
        return [{**given, **dict(zip(each, row, strict=True))} for row in islice(_rows(list(each.values())), ROWS)]


def _rows(each: list[list[Any]]) -> Iterator[list[Any]]:
    """The first of all lists, the second of all, to the end of the longest; a shorter one stays at its last."""
    for row in zip_longest(*each, fillvalue=_rows):
        yield [values[-1] if value is _rows else value for value, values in zip(row, each, strict=True)]


def _inside(schema: Schema, part: str | int) -> list[Schema]:
    """What may stand at a key or a number of what ``schema`` tells of."""
    if isinstance(part, int):
        listed = schema.get("prefixItems", [])
        return listed[part : part + 1] or ([schema["items"]] if isinstance(schema.get("items"), dict) else [])
    if part in schema.get("properties", {}):
        return [schema["properties"][part]]
    further = [schema.get("additionalProperties"), *schema.get("patternProperties", {}).values()]
    return [one for one in further if isinstance(one, dict)]


def _numbers(schema: Schema, given: Any) -> list[Any]:
    """The least number, powers of two, the largest, and those next to ``given``."""
    least, most = int(schema.get("minimum", 0)), int(schema.get("maximum", FARTHEST))
    step = schema.get("multipleOf", 1)
    found = {
        least,
        most,
        *(1 << power for power in range(most.bit_length())),
        *(range(least, most) if most - least < SHORT else ()),
    }
    if isinstance(given, int):
        found |= {given - 1, given + 1, given - given % NEAR, given - given % NEAR + NEAR}
    return sorted(one for one in found if least <= one <= most and one % step == 0)


def _texts(schema: Schema) -> list[Any]:
    pattern, room = schema.get("pattern", ""), schema.get("maxLength", FARTHEST)
    return [text for text in TEXTS if len(text) <= room and re.search(pattern, text)]
