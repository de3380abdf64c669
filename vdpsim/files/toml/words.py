"""pydantic's findings as plain sentences.

Law: a sentence says what is allowed and what was given: "must be 64 to 1024, got 2000". What is allowed is looked up in
the model itself. Knows no chip and no scene.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ...door import shown
from ...door.shown import PLAIN, clipped, meant, named
from ..problems import LONGEST, WhereMissing
from . import shape

_KINDS = {
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "int_parsing": "must be a whole number",
    "float_type": "must be a number",
    "finite_number": "must be a finite number",
    "string_type": "must be a text",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list",
    "list_type": "must be a list",
    "dict_type": "must be a table",
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "int_parsing_size": "must be a number of at most 64 bits",
}
_LIMITS = {
    "too_short": "must have at least {min_length} elements",
    "too_long": "must have at most {max_length} elements",
    "string_too_short": "must have at least {min_length} characters",
    "string_too_long": "must have at most {max_length} characters",
    "string_pattern_mismatch": "must match {pattern}",
    "literal_error": "must be {expected}",
    "union_tag_invalid": "must be one of {expected_tags}",
}
_ENDS = {"greater_than_equal", "less_than_equal", "greater_than", "less_than"}
_PATTERNS = {
    r"^[a-z][a-z0-9_]*$": "must be a name of small letters, digits and _ that begins with a letter",
    PLAIN: "must be a text of one line, without control characters",
}


def sentence(finding: Mapping[str, Any], model: type[BaseModel]) -> str:
    """What the finding says, for a file that should have been a ``model``."""
    kind, given, context = finding["type"], finding.get("input"), finding.get("ctx", {})
    loc: Sequence[str | int] = finding["loc"]
    if kind == "value_error":
        return clipped(finding["msg"].removeprefix("Value error, "), LONGEST)
    if kind == "extra_forbidden":
        known = _keys(_at(model, loc[:-1]))
        listed = f"; known are {', '.join(known)}" if known else ""
        return f"is not a known key{listed}{meant(loc[-1], known)}"
    if kind in {"missing", "union_tag_not_found"}:
        extras = (extra for known in _at(model, loc) for extra in _metadata(known))
        return next((extra.told for extra in extras if isinstance(extra, WhereMissing)), "is missing")
    if kind in _ENDS:
        text = f"must be {_range(_bounds(model, loc), context)}"
    elif kind == "string_pattern_mismatch" and context.get("pattern") in _PATTERNS:
        text = _PATTERNS[context["pattern"]]
    elif kind in _LIMITS:
        text = (
            _LIMITS[kind]
            .format(**context)
            .replace(" 1 elements", " 1 element")
            .replace(" 1 characters", " 1 character")
        )
    else:
        text = _KINDS.get(kind, f"is wrong: {finding['msg'][:1].lower()}{finding['msg'][1:]}")
    if kind == "tuple_type" and (count := shape.elements(_at(model, loc))):
        text += f" of {count} elements"
    return f"{text}, got {_tag(context) or _shown(given)}"


def without_echoes(findings: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The findings without those that merely follow from another: a list that is short because its elements are wrong."""
    listed = list(findings)
    above = {place[:end] for place in (tuple(one["loc"]) for one in listed) for end in range(len(place))}
    return [one for one in listed if one["type"] != "too_short" or tuple(one["loc"]) not in above]


def _tag(context: Mapping[str, Any]) -> str:
    """Which kind of table was named where none such is known, or nothing."""
    return clipped(context["tag"]) if context.get("tag") else ""


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return f"a table with {named(value) or 'no keys'}"
    return shown.value(value)


def _range(bounds: dict[str, Any], context: Mapping[str, Any]) -> str:
    bounds = {**bounds, **{name: context[name] for name in ("ge", "le", "gt", "lt") if name in context}}
    if "ge" in bounds and "le" in bounds:
        return f"{bounds['ge']} to {bounds['le']}"
    words = {"ge": "at least", "le": "at most", "gt": "more than", "lt": "less than"}
    return " and ".join(f"{words[name]} {bound}" for name, bound in bounds.items())


def _bounds(model: type[BaseModel], loc: Sequence[str | int]) -> dict[str, Any]:
    found = {}
    for known in _at(model, loc):
        for extra in _metadata(known):
            found.update({name: getattr(extra, name) for name in ("ge", "le", "gt", "lt") if hasattr(extra, name)})
    return found


def _metadata(known: Any) -> list[Any]:
    if isinstance(known, FieldInfo):
        return [*known.metadata, *_metadata(known.annotation)]
    if get_origin(known) is Annotated:
        extras = get_args(known)[1:]
        return [part for extra in extras for part in (extra.metadata if isinstance(extra, FieldInfo) else [extra])]
    if get_origin(known) in {Union, UnionType}:
        return [part for member in get_args(known) for part in _metadata(member)]
    return []


def _keys(known: Iterable[Any]) -> list[str]:
    """The keys of the tables among what may stand at a place."""
    return [key for kind in known for table in shape.plain(kind) for key in shape.keys(table)]


def _at(model: Any, loc: Sequence[str | int]) -> list[Any]:
    """What may stand at ``loc`` of a ``model``: field infos and types; nothing where the model does not say."""
    known = [model]
    for part in loc:
        if chosen := [member for kind in known for member in shape.tagged(kind, part)]:
            known = chosen
            continue
        tables = [table for kind in known for table in shape.plain(kind)]
        steps = [step for table in tables for step in shape.inside(table, part)]
        # A part that leads nowhere is a union's tag, which names one of its tables: stay with the tables of that kind.
        known = steps or [table for table in tables if part in shape.tags(table)]
    return known
