"""What chips say of themselves, field by field, and where they say different things.

Law: a field is found by its path in the chip file; tables in a list that have a name, or a target, are found by it and not by
their place, so that a mode more in one chip moves nothing. A field with a usual value has it whether the file says so or not.
Where it matters who stands before whom, the order is told as a field of its own. No list and an empty one are the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..chip.controls import controls, name_of, number_of
from ..chip.model import Chip
from ..chip.registers import field_names

MISSING = "-"
"""What stands for a field that a chip does not have."""

ORDER = " (order)"
"""What the path of an order ends in: ``time.clients (order)``."""

SERVED = "time.clients"
"""The table in which the first is served first; of registers, those without an address get one in their order."""


@dataclass(frozen=True)
class Field:
    """A field that chips fill differently: its ``path``, and what each says, as texts."""

    path: str
    values: tuple[str, ...]


def described(chip: Chip) -> dict[str, str]:
    """Every field of ``chip``, by path, with what it is where the file leaves it out; lists without names are one value."""
    return fields_of(_data(chip))


def differing(chips: Sequence[Chip]) -> tuple[Field, ...]:
    """Where the descriptions differ, in the order in which the first chip that has the field says it; then the orders.

    An order differs where the names that all who have the list share stand in another order.
    """
    return differing_data([_data(chip) for chip in chips])


def differing_data(told: Sequence[Mapping[str, Any]]) -> tuple[Field, ...]:
    """The same of chip files' data."""
    fields, orders = [fields_of(data) for data in told], [orders_of(data) for data in told]
    rows = [
        Field(path, tuple(each.get(path, MISSING) for each in fields))
        for path in dict.fromkeys(path for each in fields for path in each)
    ]
    found = [row for row in rows if len({MISSING if value == "[]" else value for value in row.values}) > 1]
    for path in dict.fromkeys(path for each in orders for path in each):
        names = [each[path] for each in orders if path in each]
        shared = set.intersection(*map(set, names))
        if len({tuple(name for name in each if name in shared) for each in names}) > 1:
            found.append(
                Field(path + ORDER, tuple(", ".join(each[path]) if path in each else MISSING for each in orders))
            )
    return tuple(found)


def fields_of(data: Mapping[str, Any]) -> dict[str, str]:
    """Every field of a chip file's data, by path."""
    return dict(_fields("", data))


def orders_of(data: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """By the paths of lists and tables whose order matters: the names in their order."""
    return dict(_orders("", data))


def _data(chip: Chip) -> dict[str, Any]:
    """The chip's description as data; a control's value that has a name stands there by its name."""
    data, known = chip.model_dump(mode="json", exclude_none=True), controls(chip)
    for name, value in data.get("constants", {}).items():
        data["constants"][name] = _by_name(known[name].names, value)
    held, listed = field_names(chip), data.get("registers", {})
    for table in [listed] if isinstance(listed, dict) else [one.get("fields", {}) for one in listed]:
        for name, one in table.items():
            if isinstance(one, dict) and "reset" in one:
                one["reset"] = _by_name(held[name].names, one["reset"])
    for table in [mode for layer in data["layers"] for mode in layer["modes"]] + [data.get("sprites")]:
        if table is not None:
            table.setdefault("transparent", "none")  # left out where it is None, which a file calls none
    return data


def _by_name(names: Sequence[str], value: int | str) -> int | str:
    return name_of(names, number_of(names, value))


def _fields(path: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _fields(_joined(path, name), inner)
    elif _tables(value):
        for place, one in enumerate(value):
            inner = {key: each for key, each in one.items() if key not in {"name", "target"}}
            alone = path == "registers" and "others" in one  # not a register, but a word about all others
            yield from _fields(path if alone else _joined(path, _name(one, place)), inner)
    else:
        yield path, _text(value)


def _orders(path: str, value: Any) -> Iterator[tuple[str, tuple[str, ...]]]:
    if isinstance(value, Mapping):
        if path == SERVED:
            yield path, tuple(value)
        if path == "registers":
            yield path, tuple(name for name, one in value.items() if isinstance(one, Mapping) and "address" not in one)
        for name, inner in value.items():
            yield from _orders(_joined(path, name), inner)
    elif _tables(value):
        names = tuple(_name(one, place) for place, one in enumerate(value))
        if path == "registers":
            yield path, tuple(one["name"] for one in value if "name" in one and "address" not in one)
        elif all("name" in one for one in value):
            yield path, names
        for name, one in zip(names, value, strict=True):
            yield from _orders(_joined(path, name), one)


def _tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _name(table: Mapping[str, Any], place: int) -> str:
    return str(table.get("name") or table.get("target") or place)


def _joined(path: str, name: str) -> str:
    shown = f'"{name}"' if "." in name else name
    return f"{path}.{shown}" if path else shown


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(map(_text, value))}]"
    return str(value)
