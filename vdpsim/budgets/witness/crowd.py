"""Which sprites make as many accesses on a line as are wanted.

Law: sizes and their number alone; where the sprites stand and what they show is for ``dressing.py``. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import gcd
from typing import NamedTuple

from ...chip.line.clients import sprite_costs
from ...chip.line.slots import Server
from ...chip.model import Chip
from ...chip.tables.sprites import WIDEST
from ..line.line import Line
from ..reach import most_accesses

MOST_CHOICES = 20_000
"""Numbers of sprites of a size that are tried, at most, in search of some that make just as many accesses as are wanted."""


class SizeCost(NamedTuple):
    """A size of sprite by its number: how many ``dots`` across, and the accesses that one costs."""

    dots: int
    cost: int
    size: int


class Crowds:
    """Chooses sprites for lines of one chip; ``can``: the values that each control can have."""

    def __init__(self, chip: Chip, server: Server, can: dict[str, range]) -> None:
        self.chip, self.server, self.can = chip, server, can

    def sizes(self, line: Line) -> list[int] | None:
        """Sizes of sprites that make the accesses of ``line``; None where no choice of them does."""
        sprites = self.chip.sprites
        most, _, scan = most_accesses(self.chip)
        if sprites is None or not most or (not line.kind.picture and not self.server.sprites_ahead):
            return []
        beyond = line.sprites >= len(self.server.room(line.shape))  # all that ask for more are served the same
        if not line.sprites and not beyond and (0 in self.can["sprites.enable"] or self.nobody(line)):
            return []
        costs = sprite_costs(self.chip)
        by_width = {dots: SizeCost(dots, costs[size], size) for size, (dots, _) in enumerate(sprites.sizes)}
        number = min(sprites.count, sprites.per_line or sprites.count)
        limit = sprites.dots_per_line if sprites.dots_per_line is not None else WIDEST * number
        for wanted in range(most if beyond else line.sprites, line.sprites - 1, -1):
            found = choose(wanted - scan, list(by_width.values()), number=number, dots=limit)
            if found is not None:
                return found
        return None

    def nobody(self, line: Line) -> bool:
        """Whether sprites make no access although they cannot be switched off: after the picture's last line there are none."""
        scan = most_accesses(self.chip)[2]  # which every other line makes
        return bool(scan) and not line.sprites and self.server.sprites_ahead and 0 not in self.can["sprites.enable"]

    def reaches(self, target: int) -> bool:
        """Whether sprites can be put on line ``target`` of the picture, with one number of y to spare for those that are not.

        Where a sprite can be disabled, none has to be put elsewhere, and the last number does too.
        """
        sprites = self.chip.sprites
        assert sprites is not None
        last = sprites.fields.y.top - (sprites.fields.enable is None)
        return 0 <= target < self.chip.frame.height and target <= last


def choose(wanted: int, each: Sequence[SizeCost], *, number: int, dots: int) -> list[int] | None:
    """At most ``number`` sizes of ``each``, of at most ``dots`` dots together, that cost just ``wanted``; None if not found."""
    return _choice(wanted, each, number, dots, iter(range(MOST_CHOICES)))


def _choice(wanted: int, each: Sequence[SizeCost], number: int, dots: int, steps: Iterator[int]) -> list[int] | None:
    """The same, as far as the ``steps`` last."""
    if wanted == 0:
        return []
    if wanted < 0 or not each or not _may_cost(wanted, each, number, dots) or next(steps, None) is None:
        return None
    first, rest = each[0], each[1:]
    for count in range(min(number, dots // first.dots, wanted // first.cost), -1, -1):
        found = _choice(wanted - count * first.cost, rest, number - count, dots - count * first.dots, steps)
        if found is not None:
            return [first.size] * count + found
    return None


def _may_cost(wanted: int, each: Sequence[SizeCost], number: int, dots: int) -> bool:
    """Whether nothing that is plain speaks against sizes of ``each`` that cost ``wanted``."""
    if wanted > number * max(one.cost for one in each) or wanted % gcd(*(one.cost for one in each)):
        return False
    return any(wanted * one.dots <= dots * one.cost for one in each)
