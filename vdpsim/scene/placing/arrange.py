"""Parts into free stretches of memory: from the cheapest way to the search, and why there is no way.

Law: the order given is tried first, so that a layout changes only where that one has no room; then the strictest step and
the most bytes first; then the search. What is said to be impossible is proved. Numbers alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from .parts import Part, Stretch, lowest, without

Why = Literal["placed", "too few bytes", "no place alone", "all tried", "not found"]
"""``placed``: all parts. Proved that there is no layout: more bytes than are free; a part has no place even without the
others; all orders were tried. ``not found``: the bound was reached, or a part has a hole."""


class Arranged(NamedTuple):
    """``bases``: an address for each part or, where not all are ``placed``, what the order given comes to, None for no room."""

    bases: tuple[int | None, ...]
    why: Why


def arrange(parts: Sequence[Part], free: Sequence[Stretch], looks: int | None = None) -> Arranged:
    """A place for each of ``parts`` in the stretches ``free``; at most ``looks`` looks in the search, or its own bound."""
    first = in_turn(parts, range(len(parts)), free)
    if None not in first:
        return Arranged(first, "placed")
    strict = sorted(range(len(parts)), key=lambda number: (-parts[number].step, -parts[number].size))
    second = in_turn(parts, strict, free)
    if None not in second:
        return Arranged(second, "placed")
    if sum(part.size for part in parts) > sum(end - start for start, end in free):
        return Arranged(first, "too few bytes")
    if any(lowest(part, free) is None for part in parts):
        return Arranged(first, "no place alone")
    from .search import MOST_LOOKS, search  # noqa: PLC0415 - most scenes fit in one of the two orders

    found = search(parts, free, MOST_LOOKS if looks is None else looks)
    if found.bases is not None:
        return Arranged(found.bases, "placed")
    return Arranged(first, "all tried" if found.all_tried else "not found")


def in_turn(parts: Sequence[Part], order: Sequence[int], free: Sequence[Stretch]) -> tuple[int | None, ...]:
    """The address of each part where they are placed in ``order``, each as low as it can; None for one without room."""
    bases: list[int | None] = [None] * len(parts)
    for number in order:
        base = bases[number] = lowest(parts[number], free)
        if base is not None:
            free = without(free, parts[number], base)
    return tuple(bases)
