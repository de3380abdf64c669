"""A search for a way to place sets in pages: moves of one set at a time, of which the last few are not taken back.

Law: what is made small is the number of symbols that pages have too many of, all together; at 0 a way is found. A set that was
moved does not go back where it came from for some moves (tabu search: F. Glover, "Tabu Search, Part I", ORSA Journal on
Computing 1(3), 1989). Chances come from the generator given, so that a seed fixes all. Numbers are small whole ones, held
exactly, with a chance of less than one added to part equals.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Singles = npt.NDArray[np.float32]

MUCH = 1 << 20
"""More than any number of symbols that are too many."""

ALL_ROWS = 5
"""Every so many moves, sets of all pages may move, not only those of overfull ones."""


@dataclass(eq=False)
class PackingProblem:
    """Sets bool (sets, symbols), what is ``fixed`` in each page bool (pages, symbols), the ``room`` beyond, who may go where."""

    sets: Bools
    fixed: Bools
    room: Ints
    allowed: Bools

    @classmethod
    def alike(cls, sets: Bools, capacity: int, pages: int) -> PackingProblem:
        """``pages`` empty pages of ``capacity``, open to all."""
        return cls(
            sets,
            np.zeros((pages, sets.shape[1]), np.bool_),
            np.full(pages, capacity, np.int64),
            np.ones((len(sets), pages), np.bool_),
        )

    def hopeless(self) -> bool:
        """Whether there are more symbols than room: no way is left then."""
        free = self.sets.any(axis=0) & ~self.fixed.any(axis=0)
        return int(free.sum()) > int(self.room.sum())


def as_matrix(sets: Sequence[Collection[int]], symbols: Sequence[int] | None = None) -> Bools:
    """Bool (sets, symbols): which set has which symbol."""
    known = sorted(frozenset().union(*sets)) if symbols is None else symbols
    column = {symbol: number for number, symbol in enumerate(known)}
    matrix = np.zeros((len(sets), len(known)), np.bool_)
    for row, one in enumerate(sets):
        matrix[row, [column[symbol] for symbol in one]] = True
    return matrix


def search(
    problem: PackingProblem, steps: int, random: np.random.Generator, start: Ints | None = None
) -> tuple[Ints | None, int]:
    """The page of each set, or None where none was found in ``steps`` moves; and how many symbols were too many at best."""
    placed = _Placement(problem, _start(problem, random) if start is None else start.copy())
    tabu = _Tabu(problem, random)
    every = np.arange(len(problem.sets))
    best = MUCH
    for step in range(steps):
        over = placed.over()
        total = int(over.sum())
        best = min(best, total)
        if total == 0:
            return placed.page, 0
        # sets of overfull pages are what has to go; now and then one of another page makes room for them
        rows = np.flatnonzero(over[placed.page] > 0) if step % ALL_ROWS else every
        change, value = placed.costs(rows, over, tabu.noise(step))
        # What is forbidden may be done all the same where fewer are too many then than ever before.
        value += tabu.forbidden(rows, step) * (total + change >= best) * np.float32(MUCH // 2)
        at, to = divmod(int(value.argmin()), len(problem.room))
        one = int(rows[at])
        tabu.leave(one, int(placed.page[one]), step, total)
        placed.move(one, to)
    return None, best


class _Tabu:
    """Which moves are not taken back for a while, and the small chances that decide between part equals.

    Chances are drawn beforehand, in numbers of steps that are primes, so that they do not repeat in step with anything.
    """

    def __init__(self, problem: PackingProblem, random: np.random.Generator) -> None:
        pages = len(problem.room)
        self._until = np.zeros((len(problem.sets), pages), np.int32)
        self._noise = random.random((61, pages)).astype(np.float32)
        self._hold = random.integers(0, 9, 997)

    def noise(self, step: int) -> Singles:
        """A chance below 1 for each page."""
        found: Singles = self._noise[step % len(self._noise)]
        return found

    def forbidden(self, rows: Ints, step: int) -> Bools:
        """Bool (rows, pages): where the sets ``rows`` must not go back to yet."""
        found: Bools = self._until[rows] > step
        return found

    def leave(self, one: int, page: int, step: int, total: int) -> None:
        """Set ``one`` leaves ``page``, for longer the more symbols are too many."""
        self._until[one, page] = step + 5 + self._hold[step % len(self._hold)] + min(total, 20)


class _Placement:
    """The ``page`` of each set, and what follows from it, kept up to date move by move: a move touches two pages alone.

    ``size``: symbols of each page beyond the fixed ones. ``counts`` (pages, symbols): how many sets of a page have a symbol.
    ``adds`` (sets, pages): symbols that a set would bring. ``takes`` (sets,): symbols that would go with a set.
    """

    def __init__(self, problem: PackingProblem, page: Ints) -> None:
        self.page = page
        self.sets = problem.sets.astype(np.float32)
        self.symbols = [np.flatnonzero(row) for row in problem.sets]
        self.room = problem.room.astype(np.float32)
        self.blocked = np.where(problem.allowed, 0, 64 * MUCH).astype(np.float32)  # far beyond staying where it is
        self.beyond = ~problem.fixed
        # 16 bits will do: to hold 32,768 sets against each other, as is done before, would take 4 GB.
        self.counts = np.zeros((len(self.room), self.sets.shape[1]), np.int16)
        np.add.at(self.counts, page, problem.sets.astype(np.int16))
        self.counts += problem.fixed
        self.size = ((self.counts > 0) & self.beyond).sum(axis=1).astype(np.float32)
        self.adds = self.sets @ (self.counts == 0).astype(np.float32).T
        alone = problem.sets & (self.counts == 1)[page] & self.beyond[page]
        self.takes = alone.sum(axis=1).astype(np.float32)

    def over(self) -> Singles:
        """Of each page the symbols that are too many."""
        found: Singles = np.maximum(self.size - self.room, 0)
        return found

    def costs(self, rows: Ints, over: Singles, noise: Singles) -> tuple[Singles, Singles]:
        """Of each move of the sets ``rows`` to each page: how many more symbols are too many then, and what it costs.

        Symbols too many count most, then what the page shares with the set. A move to its own page is none.
        """
        own, size, room, takes = self.page[rows], self.size, self.room, self.takes[rows]
        gain = over[own] - np.maximum(size[own] - takes - room[own], 0)
        brings = self.adds[rows]
        change = np.maximum(size - room + brings, 0) - over - gain[:, None]
        value = 16 * change + brings - takes[:, None] + self.blocked[rows] + noise
        value[np.arange(len(rows)), own] = MUCH
        return change, value

    def move(self, one: int, to: int) -> None:
        """Set ``one`` goes to the page ``to``."""
        old = int(self.page[one])
        self._count(one, old, -1)
        self._count(one, to, 1)
        self.page[one] = to
        for page in (old, to):
            here = np.flatnonzero(self.page == page)
            lonely = ((self.counts[page] == 1) & self.beyond[page]).astype(np.float32)
            self.takes[here] = self.sets[here] @ lonely

    def _count(self, one: int, page: int, sign: int) -> None:
        """The symbols of set ``one`` are once more (``sign`` 1) or once less (-1) in ``page``."""
        line, symbols = self.counts[page], self.symbols[one]
        line[symbols] += sign
        flipped = symbols[line[symbols] == (0 if sign < 0 else 1)]  # those that the page lost, or has got
        if len(flipped):
            self.size[page] += sign * int(self.beyond[page, flipped].sum())
            self.adds[:, page] -= sign * self.sets[:, flipped].sum(axis=1)


def without_a_page(problem: PackingProblem, page: Ints) -> Ints:
    """``page``, of one page more than the problem has, with that page's sets spread over the others: the one that costs least."""
    sizes = np.bincount(page, weights=problem.sets.sum(axis=1), minlength=len(problem.room) + 1)
    gone = int(sizes.argmin())
    left = np.where(page > gone, page - 1, page)
    present = np.zeros((len(problem.room), problem.sets.shape[1]), np.bool_)
    for one in np.flatnonzero(page != gone).tolist():
        present[left[one]] |= problem.sets[one]
    for one in np.flatnonzero(page == gone).tolist():
        adds = (problem.sets[one] & ~present).sum(axis=1)
        over = np.maximum(present.sum(axis=1) + adds - problem.room, 0)
        to = int((100 * over + adds).argmin())
        left[one] = to
        present[to] |= problem.sets[one]
    return left


def _start(problem: PackingProblem, random: np.random.Generator) -> Ints:
    """Each set, the larger first, into the page of those open to it that grows least beyond its room, then least at all."""
    present = problem.fixed.copy()
    size = np.zeros(len(problem.room), np.int64)
    page = np.zeros(len(problem.sets), np.int64)
    sizes = problem.sets.sum(axis=1) + random.random(len(problem.sets)) * 2
    for one in np.argsort(-sizes, kind="stable").tolist():
        adds = (problem.sets[one] & ~present).sum(axis=1)
        over = np.maximum(size + adds - problem.room, 0)
        score = np.where(problem.allowed[one], 1000 * over + 10 * adds + random.random(len(size)) * 5, np.inf)
        to = int(score.argmin())
        page[one] = to
        size[to] += adds[to]
        present[to] |= problem.sets[one]
    return page
