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

MUCH = 1 << 20


@dataclass(eq=False)
class Problem:
    """Sets bool (sets, symbols), what is ``fixed`` in each page bool (pages, symbols), the ``room`` beyond, who may go where."""

    sets: Bools
    fixed: Bools
    room: Ints
    allowed: Bools

    @classmethod
    def alike(cls, sets: Bools, capacity: int, pages: int) -> Problem:
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
    problem: Problem, steps: int, random: np.random.Generator, start: Ints | None = None
) -> tuple[Ints | None, int]:
    """The page of each set, or None where none was found in ``steps`` moves; and how many symbols were too many at best."""
    sets = problem.sets.astype(np.float32)
    count, pages = len(sets), len(problem.room)
    page = _start(problem, random) if start is None else start.copy()
    counts = np.zeros((pages, sets.shape[1]), np.int16)
    np.add.at(counts, page, problem.sets.astype(np.int16))
    counts += problem.fixed
    beyond = ~problem.fixed
    room = problem.room.astype(np.float32)
    size = ((counts > 0) & beyond).sum(axis=1).astype(np.float32)
    adds = sets @ (counts == 0).astype(np.float32).T  # (sets, pages): symbols that a set would bring
    takes = (
        (problem.sets & (counts == 1)[page] & beyond[page]).sum(axis=1).astype(np.float32)
    )  # symbols that go with a set
    until = np.zeros((count, pages), np.int32)
    blocked = np.where(problem.allowed, 0, 64 * MUCH).astype(np.float32)  # far beyond staying where it is
    noise = random.random((61, pages)).astype(np.float32)
    hold = random.integers(0, 9, 997)
    where = [np.flatnonzero(row) for row in problem.sets]
    best = MUCH
    for step in range(steps):
        over = np.maximum(size - room, 0)
        total = int(over.sum())
        best = min(best, total)
        if total == 0:
            return page, 0
        rows = np.flatnonzero(over[page] > 0) if step % 5 else np.arange(count)
        own = page[rows]
        # what the page that a set leaves gains, and the page that it goes to loses; then what it shares, as the smaller matter
        gain = over[own] - np.maximum(size[own] - takes[rows] - room[own], 0)
        brings = adds[rows]
        change = np.maximum(size - room + brings, 0) - over - gain[:, None]
        value = 16 * change + brings - takes[rows][:, None] + blocked[rows] + noise[step % 61]
        value[np.arange(len(rows)), own] = MUCH
        value += ((until[rows] > step) & (total + change >= best)) * np.float32(MUCH // 2)
        at, to = divmod(int(value.argmin()), pages)
        one, old = int(rows[at]), int(own[at])
        until[one, old] = step + 5 + hold[step % 997] + min(total, 20)
        symbols = where[one]
        for place, sign in ((old, -1), (to, 1)):
            line = counts[place]
            line[symbols] += sign
            flipped = symbols[line[symbols] == (0 if sign < 0 else 1)]
            if len(flipped):
                size[place] += sign * int(beyond[place, flipped].sum())
                adds[:, place] -= sign * sets[:, flipped].sum(axis=1)
        page[one] = to
        for place in (old, to):
            here = np.flatnonzero(page == place)
            lonely = ((counts[place] == 1) & beyond[place]).astype(np.float32)
            takes[here] = sets[here] @ lonely
    return None, best


def without_a_page(problem: Problem, page: Ints) -> Ints:
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


def _start(problem: Problem, random: np.random.Generator) -> Ints:
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
