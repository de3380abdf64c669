"""Fields of a chip file by their paths: where ``sprites.per_line`` or ``layers.near.modes.tiles.tile`` stands in its data.

Law: a path leads to one place or is refused with the keys that there are. What may stand at a place is asked of the model;
whether a value is right there is for the chip file's own checks to say. Plain Python.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, get_origin

from ..chip.controls import controls
from ..chip.model import Chip
from ..door.shown import value as shown
from ..files.toml import shape
from ..files.toml.tables import Loc

_PART = re.compile(r"""[ \t]*(?:"([^"]*)"|'([^']*)'|([^."'\s]+))[ \t]*""")
_ABSENT = object()


def parts_of(path: str) -> list[str]:
    """The parts of a dotted ``path``; a part with dots of its own may stand in quotes. Raises ValueError where it is none."""
    parts, at = [], 0
    while True:
        found = _PART.match(path, at)
        end = found.end() if found else at
        if found is None or (end < len(path) and path[end] != "."):
            raise ValueError(f"must be keys with dots between them, such as sprites.per_line, got {shown(path)}")
        parts.append(next(group for group in found.groups() if group is not None))
        if end == len(path):
            return parts
        at = end + 1


def place_of(path: str, data: Mapping[str, Any], chip: Chip) -> Loc:
    """Where ``path`` stands in ``data``, the data of a chip file that is right and is ``chip``.

    Elements of lists are named by number from 0 or, where they have names, by name. At each table the longest key that is
    known wins. A key that the file leaves out can be named where its table is there or needs no other key. Raises ValueError
    that says which keys there are.
    """
    parts = parts_of(path)
    place: list[str | int] = []
    here: Any = data
    kinds: list[Any] = [Chip]
    while parts:
        told = ".".join(map(str, place))
        if here is _ABSENT or isinstance(here, dict):
            key, used = _key(parts, here, kinds, told, chip)
            parts = parts[used:]
            place.append(key)
            kinds = _inside([kind for kind in kinds if _of_kind(kind, here)], key)
            here = here.get(key, _ABSENT) if isinstance(here, dict) else _ABSENT
        elif isinstance(here, list):
            number = _element(parts[0], here, told)
            parts = parts[1:]
            place.append(number)
            kinds = _inside(kinds, number)
            here = here[number]
        else:
            raise ValueError(f"{told} is a value and has no keys, got {shown(parts[0])}")
    return tuple(place)


def put(data: dict[str, Any], place: Loc, value: Any) -> None:
    """Set ``place`` of a chip file's data to ``value``; None leaves the key out. Tables on the way are made."""
    here: Any = data
    for part in place[:-1]:
        here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
    if value is None and isinstance(here, dict):
        here.pop(place[-1], None)
    else:
        here[place[-1]] = value


def plain_value(value: Any) -> Any:
    """``value`` as a chip file could hold it: numbers, texts, lists and tables. Raises ValueError for anything else."""
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float) and math.isfinite(value):
        return value
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, Mapping):
        return {str(key): plain_value(inner) for key, inner in value.items()}
    if isinstance(value, Sequence):
        return [plain_value(inner) for inner in value]
    if hasattr(value, "item") and not getattr(value, "shape", None):
        return plain_value(value.item())  # numpy's numbers
    raise ValueError(f"must be numbers, texts, lists or tables, as a chip file holds them, got {shown(value)}")


def _key(parts: Sequence[str], here: Any, kinds: Sequence[Any], told: str, chip: Chip) -> tuple[str, int]:
    """The key of this table that the path goes through, and how many of its parts that takes."""
    if here is _ABSENT and told == "registers":
        raise ValueError("the chip file has no registers, which gives it one for every control: write the table first")
    keys = [key for kind in kinds for key in _keys(kind, here)]
    for used in range(len(parts), 0, -1):
        key = ".".join(parts[:used])
        if key in keys:
            _reachable(here, kinds, key, told)
            return key, used
    new = ".".join(parts)
    if told in {"registers", "constants"} and new in controls(chip):
        return new, len(parts)
    where = told or "the chip file"
    has = f"{where} has the keys {', '.join(keys)}" if keys else f"{where} has no keys"
    raise ValueError(f"{has}; got {shown('.'.join(parts))}")


def _reachable(here: Any, kinds: Sequence[Any], key: str, told: str) -> None:
    """Refuse a key in a table that the file leaves out, where that key alone would not make the table."""
    if here is not _ABSENT:
        return
    needed = [
        name
        for kind in kinds
        if shape.is_table(kind)
        for name, info in kind.model_fields.items()
        if info.is_required() and name != key
    ]
    if needed:
        raise ValueError(
            f"the chip file has no {told}, which would also need {', '.join(needed)}: vary {told} as a whole"
        )


def _inside(kinds: Sequence[Any], part: str | int) -> list[Any]:
    """The types that may stand at ``part`` of what may be any of ``kinds``."""
    return [found for kind in kinds for step in shape.inside(kind, part) for found in shape.plain(step)]


def _element(part: str, here: list[Any], told: str) -> int:
    names = [element.get("name") if isinstance(element, dict) else None for element in here]
    if part in names:
        return names.index(part)
    if part.isascii() and part.isdigit() and int(part[:9]) < len(here):
        return int(part[:9])
    known = [str(name) for name in names if name is not None]
    called = f" called {', '.join(known)}" if known else ""
    raise ValueError(f"{told} has elements 0 to {len(here) - 1}{called}; got {shown(part)}")


def _keys(kind: Any, here: Any) -> Sequence[str]:
    """The keys that a table of this kind can have, where it is what stands ``here``."""
    if shape.is_table(kind):
        own, among = shape.keys(kind), here if isinstance(here, dict) else {}
        further = [key for key in among if key not in own and shape.inside(kind, key)]
        return [*further, *own] if _of_kind(kind, here) else ()
    return tuple(here) if get_origin(kind) is dict and here is not _ABSENT else ()


def _of_kind(kind: Any, here: Any) -> bool:
    """Whether a table that is told apart by its key ``kind`` is the one that stands ``here``."""
    tags = shape.tags(kind)
    return not tags or not isinstance(here, dict) or here.get("kind") in tags
