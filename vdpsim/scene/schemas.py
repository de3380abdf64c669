"""The chip file's and the scene file's shape as JSON Schema, for editors that complete and check.

Law: made from the same models that read the files; never written by hand. To what a field says of itself (what it is, in which
unit) its range and what it is where it is left out are added in words, where the model has them and the field does not say so.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import cache
from typing import Any, Literal

from pydantic import BaseModel

from ..chip.model import Chip
from ..door.given import text
from ..door.shown import value as shown
from .model import SceneFile

MODELS: dict[str, type[BaseModel]] = {"chip": Chip, "scene": SceneFile}

BOUNDS = (("minimum", "maximum", ""), ("minLength", "maxLength", " characters"), ("minItems", "maxItems", " of them"))
"""A schema's words for the least and the most of something, and what is counted."""


def schema(kind: Literal["chip", "scene"]) -> dict[str, Any]:
    """The JSON Schema (2020-12) of a chip file or a scene file. Raises KeyError for another kind.

    Every property has a ``description``.
    """
    if text("kind", kind) not in MODELS:
        raise KeyError(f"kind must be {' or '.join(MODELS)}, got {shown(kind)}")
    return deepcopy(_made(kind))


@cache
def _made(kind: str) -> dict[str, Any]:
    found = MODELS[kind].model_json_schema()
    for table in (found, *found.get("$defs", {}).values()):
        for name, described in table.get("properties", {}).items():
            if "description" in described:
                described["description"] = "; ".join(_words(described, optional=name not in table.get("required", ())))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found}


def _words(described: Mapping[str, Any], *, optional: bool) -> Iterator[str]:
    """What a property says of itself, its range, and what it is where it is left out."""
    said = described["description"]
    own, left_out, rest = said.partition("; left out")
    yield own
    yield from _range(described)
    if left_out:
        yield left_out.removeprefix("; ") + rest
    elif optional and described.get("default") is not None:
        default = described["default"]
        yield f"left out: {'none' if default in ([], {}) else json.dumps(default)}"


def _range(described: Mapping[str, Any]) -> Iterator[str]:
    """The range of a property that is of one kind, or of one kind or nothing."""
    kinds = [one for one in described.get("anyOf", [described]) if one.get("type") != "null"]
    if len(kinds) != 1 or "prefixItems" in kinds[0]:
        return
    for least, most, counted in BOUNDS:
        low, high = (kinds[0].get(bound) for bound in (least, most))
        if low is not None and high is not None:
            yield f"{low} to {high}{counted}"
        elif low is not None or high is not None:
            yield f"at most {high}{counted}" if low is None else f"{low} or more{counted}"
    if "enum" in kinds[0]:
        yield f"one of {', '.join(map(str, kinds[0]['enum']))}"
