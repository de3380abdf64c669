"""Values at places of a file's data: looked up, put and left out.

Law: a place that leads nowhere holds nothing, and nothing can be put there. Knows no model.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

from .allowed import Loc

EACH = "*"
"""In the place of a cause: each number of a list; with a name behind it those of the tables of that name."""


LEFT_OUT: Any = object()
"""Stands for no value."""


def get_at(data: Any, place: Loc) -> Any:
    """What stands at ``place``; LEFT_OUT where nothing does."""
    for part in place:
        inside = part in data if isinstance(data, dict) else isinstance(data, list) and part in range(len(data))
        if not inside:
            return LEFT_OUT
        data = data[part]
    return data


def each_at(data: Any, place: Loc, at: Loc = ()) -> Iterator[Loc]:
    """The places that ``place`` stands for: ``EACH`` in it is each number of a list, with a name those of tables so named."""
    end = next((at for at, part in enumerate(place) if str(part).startswith(EACH)), None)
    if end is None:
        yield (*at, *place)
        return
    listed, name = get_at(data, place[:end]), str(place[end]).removeprefix(EACH)
    for number, one in enumerate(listed if isinstance(listed, list) else ()):
        if name in ("", get_at(one, ("name",))):
            yield from each_at(one, place[end + 1 :], (*at, *place[:end], number))


def put_at(data: Any, place: Loc, value: Any) -> None:
    """Have ``value`` stand at ``place``; nothing happens where there is no table or list around it."""
    around, key = get_at(data, place[:-1]), place[-1]
    if isinstance(around, dict):
        if value is LEFT_OUT:
            around.pop(key, None)
        else:
            around[key] = deepcopy(value)
    elif isinstance(around, list) and isinstance(key, int) and value is not LEFT_OUT:
        around[key : key + 1] = [deepcopy(value)]
