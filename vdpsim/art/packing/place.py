"""Colour sets placed in banks as they are found: unlike in room, with symbols that lie there anyway, not open to all.

Law: few pages are used, lower ones first; where that is not found, every page there is, and then the search is as strong as it
gets. None means *not found*: there may be a way. The same sets and seed give the same answer on any machine: work is bounded by
counts, never by the clock. Knows no colour and no chip.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...door.arrays import several_symbols, symbols
from ...door.given import instance, items, whole_number
from ...door.shown import value as shown
from .fill import filled
from .search import PackingProblem, as_matrix, search

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

QUICK_STEPS = 800
"""Moves that are tried for each number of pages but the last."""
STARTS = 20
"""How often all pages are filled anew, ..."""
STEPS = 1600
"""... and the moves that are tried after each filling."""
FAR = 40
"""After filling number ``FEW``, counted from 0, no other is tried if none came nearer than so many symbols too many, ..."""
FEW = 4
WORK = 1_000_000
"""... nor where sets times symbols times fillings are more than this, but for the first two."""
GROWN = (8, 16, 32, 64)
"""Ways in which each page is filled, of which the best is taken: more of them the longer nothing is found."""


@dataclass(frozen=True)
class Page:
    """A bank as it is found: symbols that it can take beyond those that are ``fixed`` there anyway."""

    room: int
    fixed: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        """Raise TypeError or ValueError for a room below 0, or symbols that are no whole numbers."""
        object.__setattr__(self, "room", whole_number("room", self.room))
        object.__setattr__(self, "fixed", symbols("fixed", self.fixed))


def place(
    sets: Sequence[Collection[int]],
    pages: Sequence[Page],
    reach: Sequence[Collection[int]] | None = None,
    *,
    seed: int = 0,
) -> tuple[int, ...] | None:
    """The page of each set, or None where no way was found; ``reach`` are the pages that each may use, left out, all.

    Few pages are used, lower ones first. Raises ValueError where a set reaches no page, or one that is not there; TypeError
    for what is no set of whole numbers or no Page.
    """
    wanted, seed = several_symbols("sets", sets), whole_number("seed", seed)
    pages = [instance("each of pages", one, Page) for one in items("pages", pages, "several Pages")]
    ways = None if reach is None else several_symbols("reach", reach)
    if ways is not None and len(ways) != len(wanted):
        raise ValueError(f"reach must hold pages for each of {len(wanted)} sets, got {shown(reach)}")
    if not wanted:
        return ()
    problem, home = _stated(wanted, pages, ways)
    random = np.random.default_rng(seed)
    for last in range(1, len(pages) + 1):
        now = PackingProblem(problem.sets, problem.fixed[:last], problem.room[:last], problem.allowed[:, :last])
        if not now.allowed.any(axis=1).all() or now.hopeless():
            continue
        found = _searched(now, random, STARTS if last == len(pages) else 1)
        if found is not None:
            return tuple(found[home].tolist())
    return None


def _searched(problem: PackingProblem, random: np.random.Generator, starts: int) -> Ints | None:
    """A page for each set, from as many fillings."""
    nearest = FAR
    for number in range(min(starts, max(2, WORK // max(1, problem.sets.size)))):
        grown = GROWN[min(number // 3, len(GROWN) - 1)]
        start = filled(problem, random, grown, shuffled=number % 2 == 1)
        found, away = search(problem, QUICK_STEPS if starts == 1 else STEPS, random, start)
        if found is not None:
            return found
        nearest = min(nearest, away)
        if number >= FEW and nearest >= FAR:
            return None
    return None


def _stated(
    sets: Sequence[frozenset[int]], pages: Sequence[Page], reach: Sequence[frozenset[int]] | None
) -> tuple[PackingProblem, Ints]:
    """The sets that matter, as a problem, and for each of ``sets`` the number of the one that it goes with."""
    allowed = np.ones((len(sets), len(pages)), np.bool_)
    for number, one in enumerate(reach or ()):
        if not one or not all(0 <= page < len(pages) for page in one):
            raise ValueError(f"set {number} must reach pages 0 to {len(pages) - 1}, got {shown(sorted(one))}")
        allowed[number] = False
        allowed[number, list(one)] = True
    keyed: dict[tuple[frozenset[int], bytes], int] = {}
    home = [keyed.setdefault((one, allowed[number].tobytes()), len(keyed)) for number, one in enumerate(sets)]
    whole = [one for one, _ in keyed]
    known = sorted(frozenset().union(*whole, *(page.fixed for page in pages)))
    matrix = as_matrix(whole, known)
    fixed = as_matrix([page.fixed for page in pages], known)
    room = np.array([min(page.room, len(known)) for page in pages], np.int64)
    # Products of floats go through BLAS, of integers they take 24 times as long; numbers below 2**24 are exact.
    brings = matrix.astype(np.float32) @ (~fixed).T.astype(np.float32)
    able = np.array([np.frombuffer(way, np.bool_) for _, way in keyed]) & (brings <= room)
    kept, goes = _mattering(matrix, able)
    return PackingProblem(matrix[kept], fixed, room, able[kept]), goes[np.array(home, np.int64)]


def _mattering(matrix: Bools, able: Bools) -> tuple[Ints, Ints]:
    """Sets that lie in no other whose pages they may all use; and for each set the place among those of one that takes it in."""
    sizes, ways = matrix.sum(axis=1), able.sum(axis=1)
    order = np.lexsort((np.arange(len(matrix)), ways, -sizes))
    whole, open_ = matrix[order].astype(np.float32), able[order].astype(np.float32)
    inside = whole @ whole.T == whole.sum(axis=1)[:, None]  # [i, j]: i lies in j
    follows = open_ @ open_.T == open_.sum(axis=1)[None, :]  # [i, j]: wherever j may go, i may
    first = (inside & follows).argmax(axis=1)  # the earliest, itself at the latest
    kept = np.unique(first)
    goes = np.empty(len(matrix), np.int64)
    goes[order] = np.searchsorted(kept, first)
    return order[kept], goes
