"""Parts that need a place in memory, the free stretches between what lies there, and the lowest place that a part fits.

Law: numbers alone, in bytes. A part's address is a multiple of its step up to its top; its bytes are stretches counted from
that address. Knows no chip, no scene and no order in which parts are placed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

Stretch = tuple[int, int]
"""A first byte, and the byte after the last one."""


class Part(NamedTuple):
    """What one register places: ``spans``, in order and apart, counted from its address, a multiple of ``step`` up to ``top``."""

    name: str
    spans: tuple[Stretch, ...]
    step: int
    top: int

    @property
    def low(self) -> int:
        """Its first byte, counted from its address."""
        return self.spans[0][0]

    @property
    def high(self) -> int:
        """The byte after its last one, counted from its address."""
        return self.spans[-1][1]

    @property
    def size(self) -> int:
        """How many bytes are its own."""
        return sum(high - low for low, high in self.spans)

    def at(self, base: int) -> list[Stretch]:
        """Where its bytes lie for the address ``base``."""
        return [(base + low, base + high) for low, high in self.spans]


def union(spans: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """The same bytes as stretches in order that neither touch nor overlap; empty ones are left out."""
    found: list[Stretch] = []
    for low, high in sorted(spans):
        if found and low <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], high)
        elif low < high:
            found.append((low, high))
    return tuple(found)


def gaps(taken: Iterable[Stretch], size: int) -> list[Stretch]:
    """The free stretches of ``size`` bytes around those that are ``taken``, in order."""
    found, free = [], 0
    for start, end in sorted(taken):
        if start > free:
            found.append((free, start))
        free = max(free, end)
    if free < size:
        found.append((free, size))
    return found


def lowest(part: Part, free: Sequence[Stretch]) -> int | None:
    """The lowest address at which all of ``part`` lies in ``free``; None where there is none."""
    base, settled = 0, False
    while not settled:
        settled = True
        for low, high in part.spans:
            moved = _for_span(low, high, part.step, base, free)
            if moved is None or moved > part.top:
                return None
            settled, base = settled and moved == base, moved
    return base


def _for_span(low: int, high: int, step: int, base: int, free: Sequence[Stretch]) -> int | None:
    """The lowest address from ``base`` on, a multiple of ``step``, at which bytes ``low`` to ``high`` are free."""
    for start, end in free:
        at = max(base, -((low - start) // step) * step)
        if at + high <= end:
            return at
    return None


def without(free: Sequence[Stretch], part: Part, base: int) -> list[Stretch]:
    """``free`` after ``part`` was put at ``base``, where it fits."""
    left = list(free)
    for start, end in part.at(base):
        place = next(place for place, gap in enumerate(left) if gap[0] <= start < gap[1])
        rest = [(left[place][0], start), (end, left[place][1])]
        left[place : place + 1] = [gap for gap in rest if gap[0] < gap[1]]
    return left
