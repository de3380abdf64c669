"""The shape of a file as its models tell it: which tables and values may stand at a place.

Law: answers come from the models' annotations alone; keys are those that a file writes. Where several tables may stand at one
place there are several answers. Knows no data, no chip and no scene.
"""

from __future__ import annotations

from collections.abc import Iterable
from types import UnionType
from typing import Annotated, Any, TypeGuard, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, Tag
from pydantic.fields import FieldInfo


def is_table(kind: Any) -> TypeGuard[type[BaseModel]]:
    """Whether ``kind`` is a model."""
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def plain(kind: Any) -> list[Any]:
    """The types that ``kind`` stands for, out of its field, annotations and unions."""
    if isinstance(kind, FieldInfo):
        return plain(kind.annotation)
    origin = get_origin(kind)
    if origin is Annotated:
        return plain(get_args(kind)[0])
    if origin in {Union, UnionType}:
        return [found for member in get_args(kind) for found in plain(member)]
    return [kind]


def tagged(kind: Any, part: str | int) -> list[Any]:
    """The member of the union ``kind`` that has ``part`` for a tag, which no file writes; none for any other part."""
    if isinstance(kind, FieldInfo):
        return tagged(kind.annotation, part)
    members = get_args(kind)
    if get_origin(kind) is Annotated:
        if any(isinstance(extra, Tag) and extra.tag == part for extra in members[1:]):
            return [members[0]]
        return tagged(members[0], part)
    return [one for member in members for one in tagged(member, part)] if get_origin(kind) in {Union, UnionType} else []


def keys(kind: Any) -> list[str]:
    """The keys of a model; a table whose keys are anybody's choice has none."""
    return [info.alias or name for name, info in kind.model_fields.items()] if is_table(kind) else []


def inside(kind: Any, part: str | int) -> list[Any]:
    """What may stand at a key of the table ``kind`` or at a number of the list ``kind``: field infos and types."""
    if is_table(kind):
        named = [info for name, info in kind.model_fields.items() if part == (info.alias or name)]
        return named or _further(kind, part)
    members = get_args(kind)
    if get_origin(kind) is tuple and isinstance(part, int):
        return [members[0]] if members[-1] is Ellipsis else list(members[part : part + 1])
    return [members[1]] if get_origin(kind) is dict and isinstance(part, str) else []


def elements(known: Iterable[Any]) -> int | None:
    """How many elements each list among what may stand at a place has; None where that is open."""
    lists = [get_args(one) for kind in known for one in plain(kind) if get_origin(one) is tuple]
    counts = {None if members[-1] is Ellipsis else len(members) for members in lists}
    return counts.pop() if len(counts) == 1 else None


def _further(kind: type[BaseModel], part: str | int) -> list[Any]:
    """What may stand at a key that is anybody's choice, where the table ``kind`` has such keys."""
    if kind.model_config.get("extra") != "allow" or not isinstance(part, str):
        return []
    return [get_args(get_type_hints(kind)["__pydantic_extra__"])[1]]


def tags(kind: Any) -> tuple[Any, ...]:
    """The words of the key ``kind`` by which tables of a union are told apart; empty where ``kind`` has no such key."""
    field = kind.model_fields.get("kind") if is_table(kind) else None
    return () if field is None else get_args(field.annotation)
