"""What chips say of themselves, field by field, and where they say different things.

Law: a field is found by its path in the chip file; tables in a list that have a name, or a target, are found by it and not by
their place, so that a mode more in one chip moves nothing. A field with a usual value has it whether the file says so or not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ..chip.model import Chip

MISSING = "-"
"""What stands for a field that a chip does not have."""


@dataclass(frozen=True)
class Field:
    """A field that chips fill differently: its ``path``, and what each says, as texts."""

    path: str
    values: tuple[str, ...]


def described(chip: Chip) -> dict[str, str]:
    """Every field of ``chip``, by path, with what it is where the file leaves it out; lists without names are one value."""
    return dict(_fields("", chip.model_dump(mode="json", exclude_none=True)))


def differing(chips: Sequence[Chip]) -> tuple[Field, ...]:
    """Where the descriptions differ, in the order in which the first chip that has the field says it."""
    told = [described(chip) for chip in chips]
    paths = dict.fromkeys(path for each in told for path in each)
    rows = (Field(path, tuple(each.get(path, MISSING) for each in told)) for path in paths)
    return tuple(row for row in rows if len(set(row.values)) > 1)


def _fields(path: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _fields(_joined(path, name), inner)
    elif isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        for place, one in enumerate(value):
            name = one.get("name") or one.get("target") or str(place)
            inner = {key: each for key, each in one.items() if key not in {"name", "target"}}
            yield from _fields(_joined(path, str(name)), inner)
    else:
        yield path, _text(value)


def _joined(path: str, name: str) -> str:
    shown = f'"{name}"' if "." in name else name
    return f"{path}.{shown}" if path else shown


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(map(_text, value))}]"
    return str(value)
