"""Does each property of both schemas say what it is, how much it can be, and what it is where it is left out?"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

import vdpsim

Property = tuple[str, Mapping[str, Any], bool]


def properties(schema: Mapping[str, Any]) -> Iterator[Property]:
    """Every property of every table: its name, what the schema has for it, and whether it may be left out."""
    for table, described in (("", schema), *schema["$defs"].items()):
        for name, found in described.get("properties", {}).items():
            yield f"{table}.{name}", found, name not in described.get("required", ())


def numbers(found: Any) -> bool:
    """Whether a number can stand there, alone or in a list, but for one in a table of its own."""
    if isinstance(found, list):
        return any(map(numbers, found))
    if not isinstance(found, dict):
        return False
    if found.get("type") in {"integer", "number"}:
        return True
    return any(numbers(value) for key, value in found.items() if key != "default")


RANGE = re.compile(r"\d to \d|\d or more|at most \d|one of |up to |any whole number|below |which is \d")
"""The words that tell how much a number can be, by itself or by what else limits it."""


def wanting(one: Property) -> list[str]:
    """What a property does not say."""
    name, found, optional = one
    said = found.get("description", "")
    before, _, after = said.partition("left out")
    lacks = [
        ("what it is", bool(re.search("[a-z]{2}", before))),
        ("what it is where it is left out", not optional or bool(re.match(r"(, with [a-z]+)?: \S", after))),
        ("that it may not be left out", optional or not after),
        ("how much it can be", not numbers(found) or bool(RANGE.search(said))),
        ("itself in one line", "\n" not in said and "  " not in said and not said.endswith(".")),
    ]
    return [f"{name} does not say {what}" for what, says in lacks if not says]


@pytest.mark.parametrize("kind", ["chip", "scene"])
def test_every_property_says_what_it_is_its_range_and_what_leaving_it_out_means(kind):
    found = list(properties(vdpsim.schema(kind)))
    assert len(found) >= 100
    assert [lack for one in found for lack in wanting(one)] == []


@pytest.mark.parametrize(
    ("found", "optional", "lacks"),
    [
        ({"type": "integer", "description": "dots; 1 to 4"}, False, 0),
        ({"type": "integer", "description": "dots"}, False, 1),
        ({"type": "integer", "description": "dots; 1 to 4"}, True, 1),
        ({"type": "integer", "description": "dots; 1 to 4; left out: 2"}, False, 1),
        ({"type": "array", "items": {"type": "integer"}, "description": "dots; left out: none"}, True, 1),
        ({"$ref": "#/$defs/Some"}, False, 1),
        ({"type": "string", "description": "left out: none"}, True, 1),
        ({"type": "string", "description": "a name; left out: "}, True, 1),
        ({"type": "string", "description": "a name; left out: none"}, True, 0),
        ({"type": "string", "description": "a name.  Two"}, False, 1),
    ],
)
def test_the_checker_itself_finds_what_is_wanting(found, optional, lacks):
    assert len(wanting(("planted", found, optional))) == lacks


def test_range_and_default_in_words_are_those_of_the_schema():
    told = {
        name: found["description"] for kind in ("chip", "scene") for name, found, _ in properties(vdpsim.schema(kind))
    }
    assert told["Border.left"] == "dots before the picture; 0 to 256; left out: 0"
    assert told["BitmapMode.stride"] == "bytes from a line to the next; 1 to 8192; left out: packed"
    assert told["Port.target"].endswith("; one of memory, palette, sprites")
    assert told[".about"] == "why it exists, for people; at most 2000 characters; left out: nothing"
    assert told["CpuTime.blanking"].endswith("; left out: true")
    assert told[".maps"].endswith("; left out: none")
    assert told["WriteTable.entry"].endswith("; 0 or more; left out: another key says what is written")


@pytest.mark.parametrize("kind", ["chip", "scene"])
def test_all_bounds_that_a_property_has_stand_in_its_words(kind):
    for name, found, _ in properties(vdpsim.schema(kind)):
        kinds = [one for one in found.get("anyOf", [found]) if one.get("type") != "null"]
        if len(kinds) == 1 and "prefixItems" not in kinds[0]:
            for bound in ("minimum", "maximum", "minLength", "maxLength", "minItems", "maxItems"):
                assert bound not in kinds[0] or str(kinds[0][bound]) in found["description"], name
            assert all(str(value) in found["description"] for value in kinds[0].get("enum", ())), name


@pytest.mark.parametrize("kind", ["chip", "scene"])
def test_who_changes_a_schema_changes_it_for_nobody_else(kind):
    vdpsim.schema(kind)["properties"].clear()
    assert vdpsim.schema(kind)["properties"]
