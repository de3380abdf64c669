"""Why a part finds no room, in words: what was tried, what is short, and what would help.

Law: numbers and names in, sentences out. An address that is offered lies free of all that is fixed; that the others find
room elsewhere is said to be open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ...files.problems import hexadecimal
from .arrange import Arranged
from .parts import Part, Stretch, lowest

MOST_SHOWN = 4
"""Addresses and names that one sentence lists."""


def no_room(part: Part, free: Sequence[Stretch], size: int) -> str:
    """That ``part`` finds no room in memory of ``size`` bytes, of which the stretches ``free`` are left at its turn."""
    shown = [f"{hexadecimal(a, size)} to {hexadecimal(b - 1, size)}" for a, b in free[:MOST_SHOWN]]
    stretches = ", ".join([*shown, *(["..."] if len(free) > MOST_SHOWN else [])]) or "nothing"
    short = _short(part, free)
    return (
        f"{part.name} finds no room for {part.size} bytes at a multiple of 0x{part.step:X} "
        f"up to {hexadecimal(part.top, size)}; free: {stretches}{f', {short} bytes too few' if short else ''}"
    )


def _short(part: Part, free: Sequence[Stretch]) -> int | None:
    """By how many bytes the best of the stretches is too short; None where none has an address for the part."""
    length, found = part.high - part.low, []
    for start, end in free:
        base = lowest(Part("", ((part.low, part.low + 1),), part.step, part.top), [(start, end)])
        if base is not None:
            found.append(length - (end - base - part.low))
    return min((short for short in found if short > 0), default=None)


def tried(arranged: Arranged, parts: Sequence[Part], free: Sequence[Stretch]) -> str:
    """What was tried for all ``parts`` in the stretches that are ``free`` beside what is fixed, and what that proves."""
    wanted, room = sum(part.size for part in parts), sum(end - start for start, end in free)
    alone = ", ".join([part.name for part in parts if lowest(part, free) is None][:MOST_SHOWN])
    orders = f"no order of the {len(parts)} parts that choose their own address has room for all"
    return {
        "placed": "",
        "too few bytes": (
            f"impossible: the parts that choose their own address need {wanted} bytes and {room} are free, "
            f"{wanted - room} too few"
        ),
        "no place alone": f"impossible: even without the parts that can lie elsewhere there is no room for {alone}",
        "all tried": f"impossible: {orders}; every one was tried",
        "not found": f"not found: {orders} of those that were tried; there may be one",
    }[arranged.why]


def by_hand(part: Part, fixed_free: Sequence[Stretch], others: Mapping[str, Sequence[Stretch]], size: int) -> str:
    """Which addresses would do for ``part`` if some of the ``others`` moved, those that move fewest bytes first."""
    edges = {0, *(end for spans in others.values() for _, end in spans), *(start for start, _ in fixed_free)}
    found = {}
    for edge in sorted(edges):
        left = [(max(start, edge), end) for start, end in fixed_free if end > edge]
        base = lowest(part, left)
        if base is not None:
            moved = [name for name, spans in others.items() if _meet(part.at(base), spans)]
            found[base] = sum(end - start for name in moved for start, end in others[name]), moved
    best = sorted(found, key=lambda base: (found[base][0], base))[:MOST_SHOWN]
    told = [f"{hexadecimal(base, size)} if {_names(found[base][1])} moved" for base in best]
    return f"given by hand would do: {'; '.join(told)}" if told else ""


def freed(found: Mapping[str, int], given: Sequence[str], size: int) -> str:
    """That there is room where registers do not give ``given``, and where all would lie."""
    places = [f"{name} at {hexadecimal(base, size)}" for name, base in found.items()]
    more = ", ..." if len(places) > 2 * MOST_SHOWN else ""
    return f"there is room if registers leave out {_names(given)}: {', '.join(places[: 2 * MOST_SHOWN])}{more}"


def _names(names: Sequence[str]) -> str:
    return ", ".join(names[:MOST_SHOWN]) + (" and others" if len(names) > MOST_SHOWN else "")


def _meet(some: Sequence[Stretch], others: Sequence[Stretch]) -> bool:
    return any(start < end and begin < stop for begin, end in some for start, stop in others)
