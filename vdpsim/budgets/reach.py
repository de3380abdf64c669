"""What a chip's registers let happen on a line of the picture.

Law: a value is reachable where a register can hold it, or where it is wired; nothing is taken from a scene. Knows no slot, and no
layer's ways to fetch.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import gcd
from operator import itemgetter
from typing import cast

from ..chip.controls import controls
from ..chip.line.clients import scan_of, sprite_costs
from ..chip.model import Chip
from ..chip.registers import field_names, rest_values
from ..chip.tables.sprites import WIDEST

MOST_SUMS = 50_000
"""Sums of accesses that are worked out; beyond, every number up to the most is taken to come about."""


MOST_STEPS = 300_000
"""Steps of the dearest choice of sprites that are made without arrays: beyond, loading numpy is the quicker way."""


def reachable(chip: Chip) -> dict[str, range]:
    """For every control the values that it can have, in its own units."""
    listed, rest = field_names(chip), rest_values(chip)
    found = {}
    for name in controls(chip):
        register = listed.get(name)
        found[name] = range(0, register.top + 1, register.step) if register else range(rest[name], rest[name] + 1)
    return found


def most_accesses(chip: Chip) -> tuple[int, tuple[tuple[int, int], ...], int]:
    """The most accesses that a line's sprites can ask for within ``count``, ``per_line`` and ``dots_per_line``.

    Gives the accesses, (size number, how many) of the sprites that ask for them, and of the accesses those of the scan, which
    a table in memory costs before any sprite is found.
    """
    sprites = chip.sprites
    if sprites is None or 1 not in reachable(chip)["sprites.enable"]:
        return 0, (), 0
    scan, costs = scan_of(chip).accesses, sprite_costs(chip)
    dearest: dict[int, int] = {}
    for size, (width, _) in enumerate(sprites.sizes):
        dearest.setdefault(width, size)
    cost = {width: costs[size] for width, size in dearest.items()}
    number = min(sprites.count, sprites.per_line or sprites.count)
    dots = sprites.dots_per_line if sprites.dots_per_line is not None else number * max(cost)
    best, chosen = _fill(tuple(sorted(cost.items(), reverse=True)), number, dots)
    return scan + best, tuple((dearest[width], count) for width, count in chosen), scan


def sprite_accesses(chip: Chip) -> list[int]:
    """The numbers of accesses that a line's sprites can ask for, in order; where there are too many, none is wanting."""
    most, _, scan = most_accesses(chip)
    sprites = chip.sprites
    if sprites is None or not most:
        return [0]
    each = {(dots, cost) for (dots, _), cost in zip(sprites.sizes, sprite_costs(chip), strict=True)}
    number = min(sprites.count, sprites.per_line or sprites.count)
    limit = sprites.dots_per_line if sprites.dots_per_line is not None else number * WIDEST
    if number * most * len(each) > MOST_SUMS:
        found = set(range(scan, most + 1))
    else:
        found, dots_for = {scan}, {scan: 0}
        for _ in range(number):
            more: dict[int, int] = {}
            for asked, dots in dots_for.items():
                for wide, cost in each:
                    if dots + wide < more.get(asked + cost, limit + 1):
                        more[asked + cost] = dots + wide
            dots_for = more
            found |= more.keys()
    if 0 in reachable(chip)["sprites.enable"]:
        found.add(0)
    return sorted(found)


@lru_cache(4_096)
def _fill(costs: tuple[tuple[int, int], ...], number: int, dots: int) -> tuple[int, tuple[tuple[int, int], ...]]:
    """The dearest choice of at most ``number`` items and ``dots`` dots, from (dots, cost) of each kind of item, wide ones first.

    Line by line ``best`` has the most that one item more can cost, for each number of dots; of equals the narrowest kinds win.
    """
    widths = [width for width, _ in costs]
    unit, widest = gcd(*widths), max(widths)
    if dots >= number * widest:
        width, cost = max(reversed(costs), key=itemgetter(1))
        return number * cost, ((width, number),) if number else ()
    room = dots // unit
    best = _table([(width // unit, cost) for width, cost in costs], min(number, dots // min(widths)), room)
    chosen = Counter[int]()
    left, items = room, len(best) - 1
    while best[items][left]:
        for width, cost in reversed(costs):
            step = width // unit
            if items and step <= left and best[items - 1][left - step] + cost == best[items][left]:
                chosen[width] += 1
                left -= step
                break
        items -= 1
    return int(best[-1][room]), tuple((width, chosen[width]) for width in widths if chosen[width])


def _table(costs: Sequence[tuple[int, int]], items: int, room: int) -> Sequence[Sequence[int]]:
    """The most that 0 to ``items`` items cost, a row each, in 0 to ``room`` units, from (units, cost) of each kind of item."""
    if items * room * len(costs) > MOST_STEPS:
        import numpy as np  # noqa: PLC0415 - to load it takes a fifth of a common chip's budget; without it this takes a minute

        table = np.zeros((items + 1, room + 1), np.int32)
        for before, row in pairwise(table):
            row[:] = before
            for step, cost in costs:
                np.maximum(row[step:], before[:-step] + cost, out=row[step:])
        return cast("Sequence[Sequence[int]]", table)
    best = [[0] * (room + 1)]
    for _ in range(items):
        more = best[-1]
        for step, cost in costs:
            more = more[:step] + [max(one, other + cost) for one, other in zip(more[step:], best[-1], strict=False)]
        best.append(more)
    return best
