"""A search among lines for one that misses: where there are too many to serve, and the bound does not settle it.

Law: from many beginnings, always on to a neighbour that comes nearer to a miss: another way of a layer, another mode, another
number of sprites, a cell turned. What it serves is kept by ``Worst`` as any line is. Chance has a seed and work is bounded by
counts, so that the same chip gives the same answer. That nothing is found proves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from random import Random

from ...chip.line.serving import Stretch
from ...chip.model import Chip, TilesMode
from ..line.kinds import LineKind, Modes
from ..line.line import Line
from ..line.worst import Worst

MOST_TRIED = 1_500
"""Lines that are served for one search, of chips of a few hundred slots a line; fewer where serving takes longer."""

FEWEST_TRIED = 50
"""Lines that are served in any case: enough to have each mode of each layer once."""

PATIENCE = 40
"""Neighbours that are tried in vain before a new beginning."""

Score = tuple[int, int, int]
"""Accesses missed, below 0; the least slack; the sum of all slack. Less is nearer to a miss."""


@dataclass(frozen=True)
class _Candidate:
    """A line of the search: the mode and the way of each layer, and the accesses of sprites."""

    modes: Modes
    layers: tuple[Stretch | None, ...]
    sprites: int


class MissSearch:
    """Looks for a miss on the lines of the picture, or on the last line below it; ``left``: lines that it may still serve."""

    def __init__(self, worst: Worst, *, picture: bool) -> None:
        self.worst, self.picture, self.ways = worst, picture, worst.ways
        self.chip: Chip = worst.chip
        self.order = worst.order
        self.beside = worst.beside(picture=picture)
        self.left = 0
        self.random = Random(1)  # noqa: S311 - a choice of examples, the same each time

    def run(self) -> Line | None:
        """The first line found on which an access is missed, None where none was."""
        heavy = max(1, self.worst.server.line.slots * len(self.worst.server.order) // 4_000)
        self.left = max(FEWEST_TRIED, MOST_TRIED // heavy)
        for beginning in self._beginnings(self.left):
            place, score = self._descended(beginning)
            if score[0] < 0:
                for other in self._of_each_mode():  # those that were not met yet, so that each mode is told of
                    self._score(other)
                return Line(LineKind(place.modes, self.picture), place.layers, place.sprites)
            if self.left <= 0:
                return None
        return None

    def _descended(self, place: _Candidate) -> tuple[_Candidate, Score]:
        """On from neighbour to neighbour, never to a worse one, to a miss or until patience is at its end."""
        score, vain = self._score(place), 0
        self.left -= 1
        while score[0] == 0 and vain < PATIENCE and self.left > 0:
            other = self._neighbour(place)
            found = self._score(other)
            self.left -= 1
            vain = 0 if found < score else vain + 1
            if found <= score:  # to equals too, that it may get around them; they use up patience all the same
                place, score = other, found
        return place, score

    def _score(self, place: _Candidate) -> Score:
        spares = self.worst.serve_one(place.modes, place.layers, place.sprites, picture=self.picture)
        missed = sum(spare.missed for spare in spares)
        slots = [spare.slots for spare in spares]
        return -missed, min(slots, default=self.worst.server.line.slots), sum(slots)

    # Places

    def _beginnings(self, most: int) -> Iterator[_Candidate]:
        """Everything at its fullest, then each mode of each layer once, then anything."""
        yield from self._of_each_mode()
        for _ in range(most):
            yield self._any()

    def _of_each_mode(self) -> Iterator[_Candidate]:
        first = self._fullest()
        yield first
        for number in self.order:
            for mode in self.ways.modes(number):
                yield self._to_mode(first, number, mode)

    def _fullest(self) -> _Candidate:
        """Each layer in its first mode, with most groups; the most sprites."""
        modes: tuple[int | None, ...] = ()
        for _ in self.order:
            modes = (*modes, self.beside.next(modes)[0])
        return self._with(modes, first=True)

    def _any(self) -> _Candidate:
        modes: tuple[int | None, ...] = ()
        for _ in self.order:
            offers = self.beside.next(modes)
            shown = [mode for mode in offers if mode is not None]
            modes = (*modes, self.random.choice(shown if shown and self.random.random() < 0.9 else offers))
        return self._with(modes, first=False)

    def _with(self, ordered: Sequence[int | None], *, first: bool) -> _Candidate:
        """A place in these modes, which stand in the order of the walk."""
        modes = tuple(ordered[self.order.index(number)] for number in range(len(self.order)))
        layers = []
        for number, mode in enumerate(modes):
            offers = self._ways(number, mode)
            layers.append(offers[0] if first else self.random.choice(offers))
        counts = self.worst.counts(picture=self.picture)
        return _Candidate(modes, tuple(layers), counts[-1] if first else self.random.choice(counts))

    def _ways(self, number: int, mode: int | None) -> Sequence[Stretch | None]:
        return [None] if mode is None else self.ways.of(number, mode, picture=self.picture) or [None]

    def _neighbour(self, place: _Candidate) -> _Candidate:
        """A place that is unlike in one thing."""
        counts = self.worst.counts(picture=self.picture)
        number = self.random.randrange(len(self.order) + (len(counts) > 1))
        if number == len(self.order):
            return replace(place, sprites=self.random.choice(counts))
        if self.random.random() < 0.2:
            return self._to_mode(place, number, self.random.choice(self.ways.modes(number)))
        way = self.random.choice(self._ways(number, place.modes[number]))
        now = place.layers[number]
        if now is not None and self._turns(number, place.modes[number]) and self.random.random() < 0.7:
            way = self._turned(now)
        return replace(place, layers=(*place.layers[:number], way, *place.layers[number + 1 :]))

    def _turns(self, number: int, mode: int | None) -> bool:
        """Whether cells of the layer can be turned one by one in this mode."""
        of = None if mode is None else self.chip.layers[number].modes[mode]
        return isinstance(of, TilesMode) and of.cell.turn is not None

    def _turned(self, way: Stretch) -> Stretch:
        """The way with a run of its cells turned, or turned back."""
        marks = bytearray(way.turned or bytes(way.last + 1))
        first = self.random.randrange(len(marks))
        last = min(len(marks), first + self.random.choice([1, 1, 2, 4, 16, 64]))
        mark = 1 - marks[first]
        marks[first:last] = bytes([mark]) * (last - first)
        return way._replace(turned=bytes(marks) if any(marks) else b"")

    def _to_mode(self, place: _Candidate, number: int, mode: int | None) -> _Candidate:
        """One layer in ``mode``, if it can be; the others stay in theirs where they can beside it."""
        modes: tuple[int | None, ...] = ()
        order = self.order
        for depth, layer in enumerate(order):
            offers = self.beside.next(modes)
            wanted = mode if layer == number else place.modes[layer]
            if number in order[depth + 1 :] and mode is not None:  # whoever comes before leaves it room
                offers = [one for one in offers if self._leaves((*modes, one), number, mode)] or offers
            modes = (*modes, wanted if wanted in offers else offers[0])
        other = self._with(modes, first=False)
        layers = tuple(
            old if mode == was else new
            for old, new, mode, was in zip(place.layers, other.layers, other.modes, place.modes, strict=True)
        )
        return replace(other, layers=layers, sprites=place.sprites)

    def _leaves(self, modes: Modes, number: int, mode: int) -> bool:
        """Whether layer ``number`` can still be in ``mode`` after these."""
        for layer in self.order[len(modes) :]:
            offers = self.beside.next(modes)
            if layer == number:
                return mode in offers
            modes = (*modes, None if None in offers else offers[0])
        return True
