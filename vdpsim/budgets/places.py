"""Places in memory: at how many addresses a thing can lie, and how many of one size lie at them at once.

Law: a thing lies whole in a free stretch, never across the end of memory, and no two share a byte. Addresses are progressions,
so that nothing here goes through them one by one. Plain Python; knows no chip.

Why the lowest address first is best: whatever choice there is of things of one size, its first can be put at the lowest
address at which one fits, without reaching further than before, and so for the second, and so on; none is lost by it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import gcd
from typing import NamedTuple

Free = Sequence[tuple[int, int]]
"""Free stretches of memory, none touching another: the first byte of each, and the byte after its last."""


def up_to(addresses: range, last: int) -> range:
    """Those of the addresses that are at most ``last``."""
    return range(addresses.start, min(addresses.stop, last + 1), addresses.step)


def shifted(addresses: range, by: int) -> range:
    """The addresses, each ``by`` bytes further."""
    return range(addresses.start + by, addresses.stop + by, addresses.step)


def distinct(addresses: Sequence[range]) -> int:
    """How many addresses there are in progressions of one step, each counted once."""
    total = 0
    counted: dict[int, int] = {}
    for run in sorted(filter(None, addresses), key=lambda run: run.start):
        rest = run.start % run.step
        end = run[-1] + run.step
        total += max(0, end - max(run.start, counted.get(rest, 0))) // run.step
        counted[rest] = max(end, counted.get(rest, 0))
    return total


def disjoint(addresses: Sequence[range], each: int, free: Free) -> int:
    """The most things of ``each`` bytes that lie at once at addresses of these progressions, which have one step."""
    runs = [run for run in addresses if run]
    return sum(_in_stretch(runs, each, low, high) for low, high in free)


def _in_stretch(runs: Sequence[range], each: int, low: int, high: int) -> int:
    """Things put into one stretch, the lowest address first.

    Between two ends of progressions the addresses repeat with their step. So once a thing lies where another did, but for a
    number of steps, all comes again in the same way, and rounds are counted rather than made.
    """
    edges = sorted({edge for run in runs for edge in (run.start, run[-1] + 1)})
    count, at, seen, edge = 0, low, dict[int, tuple[int, int]](), low
    while True:
        here = min((found for run in runs if (found := _from(run, at)) is not None), default=high)
        if here + each > high:
            return count
        if here >= edge:
            edge, seen = min((one for one in edges if one > here), default=high), {}
        rest = here % runs[0].step
        if rest in seen:
            before, had = seen[rest]
            rounds = (min(edge, high - each + 1) - 1 - here) // (here - before)
            here, count, seen = here + rounds * (here - before), count + rounds * (count - had), {}
        seen[rest] = here, count
        count, at = count + 1, here + each


def _from(run: range, at: int) -> int | None:
    """The first address of ``run`` that is ``at`` or above; None where there is none."""
    place = max(0, -((run.start - at) // run.step))
    return run[place] if place < len(run) else None


class Numbered(NamedTuple):
    """Things that are told by a number from 0 to ``top``: number n begins n x ``step`` bytes after the base address.

    ``each``: bytes from one's first to its last, which may be more than the step; then a thing takes the room of several
    numbers. Of things that are not in one piece, ``beside`` lie in each other's gaps, ``units`` numbers apart (None: as their
    bytes tell), and the next such ``apart`` numbers further.
    """

    step: int
    top: int
    each: int
    beside: int = 1
    units: int | None = None
    apart: int | None = None

    @property
    def every(self) -> int:
        """Numbers from one to the next."""
        return max(1, -(-self.each // self.step)) if self.units is None else self.units

    @property
    def band(self) -> int:
        """Numbers from things that lie in each other's gaps to the next such."""
        return self.every if self.apart is None else self.apart

    @property
    def numbers(self) -> int:
        """How many numbers there are of which no two share a byte."""
        return self._within(self.top)

    def _within(self, span: int) -> int:
        """How many have numbers from one on up to ``span`` above it, laid out in their order."""
        return span // self.band * self.beside + min(self.beside, span % self.band // self.every + 1)

    def from_base(self, base: int, free: Free) -> int:
        """The most of them that lie at once in the free stretches, by numbers from ``base`` on."""
        found = 0
        for low, high in free:
            first = max(0, -((base - low) // self.step))
            last = min(self.top, (high - self.each - base) // self.step)
            if first <= last:
                found += self._within(last - first)
        return found

    def from_any(self, bases: range, free: Free) -> int:
        """The most that lie at once in the free stretches by numbers from one of ``bases``; 0 without any.

        Bases of one remainder modulo the step see the same places; those of a remainder that has too few are left out.
        """
        apart = self.step // gcd(bases.step, self.step)
        classes = [bases[first::apart] for first in range(min(apart, len(bases)))]
        endless = self._replace(top=1 << 40)
        by_bound = sorted(
            ((min(self.numbers, endless.from_base(one.start - (self.step << 30), free)), one) for one in classes),
            key=lambda pair: -pair[0],
        )
        best = 0
        for bound, one in by_bound:
            if bound <= best:
                break
            best = max(best, *(self.from_base(base, free) for base in self._worth_a_look(one, free)))
        return best

    def _worth_a_look(self, bases: range, free: Free) -> Iterator[int]:
        """Bases among which the best of ``bases`` is, all of one remainder.

        A base between stretches loses nothing by moving up to the next. One within a stretch, moved down by a ``band`` or a
        multiple of that, gains as many things before it as it can lose at its last number. So the best is the last base at or
        before a stretch's beginning, one of the ``band`` after it, or at an end of all bases.
        """
        turns = {bases.start, bases[-1], *(low for low, _ in free)}
        places = set[int]()
        for turn in turns:
            at = (turn - bases.start) // bases.step
            places.update(range(max(0, at), min(len(bases), at + self.band + 1)))
        return (bases[place] for place in sorted(places))


def congruent(bases: range, to: int, step: int) -> range:
    """Those of ``bases`` that are ``to`` but for a number of steps."""
    common = gcd(bases.step, step)
    if (to - bases.start) % common:
        return bases[:0]
    apart = step // common
    first = (to - bases.start) // common * pow(bases.step // common, -1, apart) % apart
    return bases[first::apart]


def at_least(bases: range, least: int) -> range:
    """Those of ``bases`` that are ``least`` or above."""
    return bases[max(0, -((bases.start - least) // bases.step)) :]
