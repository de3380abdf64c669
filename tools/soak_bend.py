"""Ways to bend what is right: values and tables, a little or a lot.

Law: every way draws all its chances from the one ``Random`` that it is given, so that a case follows from a seed. Knows no file
format but TOML, in which bent data are written.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from random import Random
from typing import Any

Place = tuple[Any, Any]
"""A dict or list and a key or index in it."""

NUMBERS = (0, 1, -1, 2, 3, 7, 8, 15, 16, 63, 64, 255, 256, 257, 1023, 4096, 65535, 65536, 1 << 24, 1 << 31, 1 << 32)
HUGE = (1 << 63, (1 << 64) - 1, 1 << 64, -(1 << 63), -(1 << 64), 10**30, -(10**30), 10**400, 1 << 20_000)
FLOATS = (0.5, -0.0, 1.0, 1e308, -1e308, 1e-320, math.nan, math.inf, -math.inf)
TEXTS = (
    "",
    " ",
    "a",
    "0",
    "-1",
    "1/0",
    "0/1",
    "3/2",
    "999999/1",
    "1/999999",
    "31:0",
    "0:0",
    "7:8",
    "true",
    "nan",
    ".",
    "..",
    "/",
    "../x",
    "/dev/zero",
    "/proc/self/mem",
    "art",
    "x" * 300,
    "y" * 70_000,
    "\0",
    "a\nb",
    "\x1b[31mred",
    "\x7f",
    "\x85",
    "\u2028",
    "\u202eright to left",
    "\ufeff",
    "\U0001f426",
    "e\u0301",
    "\u0130",
    "\u00df",
    "%s %d {0} {x}",
    "{{}}",
    "</script><b>",
    "a.b.c",
    "[red]",
    "'\"\\",
    "#fff",
    "#1234567",
    "#ff",
    "\uff11\u0662",
)
DATES = (dt.date(1979, 5, 27), dt.time(7, 32), dt.datetime(1979, 5, 27, 7, 32))  # noqa: DTZ001 - TOML has them


def odd(random: Random, limits: tuple[int, ...] = ()) -> Any:
    """A value that few expect."""
    kind = random.randrange(12)
    if kind < 4:
        return random.choice(NUMBERS + tuple(limits)) + random.choice((-1, 0, 0, 0, 1))
    if kind < 5:
        return random.choice(HUGE)
    if kind < 6:
        return random.choice(FLOATS)
    if kind < 9:
        return random.choice(TEXTS)
    if kind < 10:
        return random.choice((True, False, *DATES))
    if kind < 11:
        return random.choice(([], {}, [[]], [{}], {"": 0}, [0] * 2000, ["a", 1, None][:2], [[[[[[1]]]]]]))
    deep: Any = 1
    for _ in range(random.choice((5, 40, 90))):
        deep = [deep] if random.randrange(2) else {"a": deep}
    return deep


def near(random: Random, value: Any, limits: tuple[int, ...] = ()) -> Any:
    """A value of the same type, and as a rule not far away."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        step = random.choice((1, 1, 1, 2, 8, 16, 256))
        return random.choice(
            (
                value + step,
                value - step,
                value * 2,
                value // 2,
                -value,
                0,
                value ^ 1,
                1 << max(value, 0).bit_length(),
                random.choice(limits or NUMBERS) + random.choice((-1, 0, 1)),
            )
        )
    if isinstance(value, float):
        return random.choice((value * 2, value / 2, -value, value + 1))
    if isinstance(value, str) and value:
        at = random.randrange(len(value))
        return random.choice(
            (
                value[:at],
                value[at:],
                value[:at] + random.choice("0123456789:/abc.-_ #") + value[at + 1 :],
                value * 2,
                value.upper(),
                value[::-1],
                value + random.choice("0123456789 x"),
            )
        )
    if isinstance(value, list) and value:
        shorter, one = list(value), random.choice(value)
        return random.choice((shorter[:-1], [*shorter, one], shorter[::-1], shorter[:1], [one] * len(value)))
    return odd(random, limits)


def places(data: Any) -> Iterator[Place]:
    """Every place of nested dicts and lists, however deep they go, those near the top first; each owner once."""
    owners, seen = [data] if isinstance(data, dict | list) else [], {id(data)}
    for owner in owners:
        inside = owner.items() if isinstance(owner, dict) else enumerate(owner)
        for key, value in inside:
            yield owner, key
            if isinstance(value, dict | list) and id(value) not in seen:
                seen.add(id(value))
                owners.append(value)


def bend_data(random: Random, data: Any, limits: tuple[int, ...] = (), *, gently: bool = False) -> None:
    """Change ``data``, a file's nested dicts and lists, at one place."""
    found = list(places(data))
    if not found:
        return
    owner, key = random.choice(found)
    kind = 99 if gently else random.randrange(20)
    if kind < 2:
        del owner[key]
    elif kind < 4:
        _doubled(random, owner, key)
    elif kind < 6:
        other, place = random.choice(found)
        owner[key], other[place] = other[place], owner[key]
    elif kind < 7 and isinstance(owner, dict):
        names = [name for _, name in found if isinstance(name, str)]
        owner[random.choice([*names, *TEXTS])] = owner.pop(key)
    elif kind < 8 and isinstance(owner, dict):
        owner[random.choice([name for _, name in found if isinstance(name, str)] or ["a"])] = odd(random, limits)
    elif kind < 12:
        owner[key] = odd(random, limits)
    elif kind < 15:
        other, place = random.choice(found)
        owner[key] = other[place]
    else:
        owner[key] = near(random, owner[key], limits)


def stretch(random: Random, data: Any, limits: tuple[int, ...]) -> None:
    """Make one number of ``data`` as large as some limit."""
    found = [(owner, key) for owner, key in places(data) if type(owner[key]) is int]
    if found:
        owner, key = random.choice(found)
        owner[key] = random.choice([one for one in limits if one > owner[key]] or [owner[key] * 2])


def _doubled(random: Random, owner: Any, key: Any) -> None:
    if isinstance(owner, list):
        owner[key:key] = [owner[key]] * random.choice((1, 1, 2, 40))
    else:
        owner[f"{key}{random.choice(('2', '_', ' ', ''))}"] = owner[key]


# TOML


def toml(data: dict[str, Any]) -> str:
    """``data`` as TOML text, each of its keys on a line; whatever Python's own reader gives can be written."""
    return "\n".join(f"{_text(str(key))} = {_toml(value)}" for key, value in data.items()) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_text(str(key))} = {_toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**1000 else hex(value)
    return value.isoformat() if isinstance(value, dt.date | dt.time) else repr(value)


def _text(text: str) -> str:
    plain = {'"': '\\"', "\\": "\\\\"}
    return (
        '"'
        + "".join(plain.get(one, one if one >= " " and one != "\x7f" else f"\\u{ord(one):04x}") for one in text)
        + '"'
    )
