"""Colour sets packed into the fewest banks, and what no packing can go below.

Law: a *set* is what one tile needs, a *page* is a bank; every set lies whole in one page, and a page holds no more symbols than
it has room for. As many like pages are used as it takes; unlike ones are the matter of ``place``. The same sets and seed give the
same answer on any machine: work is bounded by counts, never by the clock. Each bound has its proof beside it. Knows no colour and
no chip.

The problem is bin packing with overlapping items, or pagination: A. Grange, I. Kacem, S. Martin, "Algorithms for the bin packing
problem with overlapping items", Computers & Industrial Engineering 115 (2018), arXiv:1605.00558. It is strongly NP-complete.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...door.arrays import several_symbols, symbols
from ...door.given import whole_number
from .exact import exact
from .search import MUCH, PackingProblem, as_matrix, search, without_a_page

Matrix = npt.NDArray[np.bool_]

FIRST_STEPS = 1600
"""Moves that are tried for each number of pages, with each of ``STARTS`` starts ..."""

STARTS = 3

FAR = 9
"""... but no further one where the best of the first had more symbols too many than this ..."""

MORE_STEPS = 8000

NEAR = 2
"""... and many more moves where it had no more than this."""

NODES = 1_500
"""Places in the tree that the exact search looks at, once nothing else has found a way."""


def bound(matrix: npt.NDArray[np.bool_], capacity: int) -> int:
    """Pages that every packing of the sets (sets, symbols) has at least."""
    return max(1, _symbols(matrix, capacity), _apart(matrix, capacity))


def _symbols(matrix: npt.NDArray[np.bool_], capacity: int) -> int:
    """Every symbol lies in a page at least, and a page holds ``capacity`` of them."""
    return -(-int(matrix.any(axis=0).sum()) // capacity)


def _apart(matrix: npt.NDArray[np.bool_], capacity: int) -> int:
    """Sets of which no two fit into a page together lie in as many pages.

    Such sets are looked for greedily, from each set on; and k of them that together leave room for few of the other symbols need
    more: what is over has to lie in further pages.
    """
    whole = matrix.astype(np.float32)  # of integers the product below takes 24 times as long
    sizes = whole.sum(axis=1)
    clash = sizes[:, None] + sizes[None, :] - whole @ whole.T > capacity
    best = 1
    degree = clash.sum(axis=1)
    for start in np.argsort(-degree, kind="stable")[:60].tolist():
        chosen, able = [start], clash[start].copy()
        while able.any():
            following = np.where(able, (clash & able).sum(axis=1), -1).argmax()
            chosen.append(int(following))
            able &= clash[following]
        covered = int(matrix[chosen].any(axis=0).sum())
        room = sum(capacity - int(sizes[one]) for one in chosen)
        over = int(matrix.any(axis=0).sum()) - covered - room
        best = max(best, len(chosen) + max(0, -(-over // capacity)))
    return best


@dataclass(frozen=True)
class Packing:
    """``pages``: the numbers of the sets in each page, ascending; ``bound``: proved, no packing needs fewer.

    ``proved``: there are as few pages as can be.
    """

    pages: tuple[tuple[int, ...], ...]
    bound: int

    @property
    def proved(self) -> bool:
        """Whether no packing has fewer pages."""
        return len(self.pages) == self.bound


def pack(
    sets: Sequence[Collection[int]], capacity: int, *, shared: Collection[int] = frozenset(), seed: int = 0
) -> Packing:
    """Pack ``sets`` into the fewest pages of ``capacity`` symbols; those of ``shared`` are in every page and take no room.

    Raises TypeError for what is no set of whole numbers, ValueError for a capacity below 1, or a set that is larger.
    """
    capacity, seed = whole_number("capacity", capacity, 1), whole_number("seed", seed)
    common = symbols("shared", shared)
    kept = [one - common for one in several_symbols("sets", sets)]
    for number, one in enumerate(kept):
        if len(one) > capacity:
            raise ValueError(f"set {number} has {len(one)} symbols, more than a page's {capacity}")
    if not kept:
        return Packing((), 0)
    whole, home = reduced(kept)
    matrix = as_matrix(whole)
    capacity = min(capacity, matrix.shape[1] + 1)  # more room than for every symbol is no use
    least = bound(matrix, capacity)
    found = _greedy(matrix, capacity)
    count = int(found.max()) + 1
    if len(whole) > 1 and count > least:
        found, least = _improved(matrix, capacity, found, least, seed)
    count = int(found.max()) + 1
    pages: list[list[int]] = [[] for _ in range(count)]
    for number, place_ in enumerate(home):
        pages[int(found[place_])].append(number)
    return Packing(tuple(map(tuple, sorted(pages))), least)


def _improved(
    matrix: Matrix, capacity: int, found: npt.NDArray[np.int64], least: int, seed: int
) -> tuple[npt.NDArray[np.int64], int]:
    """A packing with fewer pages than ``found``, as far as one is found, and a bound that may be higher than ``least``."""
    random = np.random.default_rng(seed)
    while (count := int(found.max()) + 1) > least:
        problem = PackingProblem.alike(matrix, capacity, count - 1)
        better, near = None, MUCH
        for number in range(STARTS):
            # By turns from what was found, less a page, and from anywhere.
            start = without_a_page(problem, found) if number % 2 == 0 else None
            better, away = search(problem, FIRST_STEPS, random, start)
            near = min(near, away)
            if better is not None or near > FAR:
                break
        if better is None and near <= NEAR:
            better, _ = search(problem, MORE_STEPS, random, without_a_page(problem, found))
        if better is None:
            better, proved = exact(matrix, capacity, count - 1, NODES)
            if better is None:
                return found, count if proved else least
        found = better
    return found, least


def reduced(sets: Sequence[frozenset[int]]) -> tuple[list[frozenset[int]], list[int]]:
    """The sets that lie in no other, the first of equals, and for each of ``sets`` the number of one that holds it."""
    order = sorted(range(len(sets)), key=lambda number: (-len(sets[number]), number))
    distinct = list(dict.fromkeys(sets[number] for number in order))
    matrix = as_matrix(distinct).astype(np.float32)  # as in ``_apart``
    sizes = matrix.sum(axis=1)
    holds = (matrix @ matrix.T) == sizes[None, :]  # [i, j]: i holds j
    first = holds.argmax(axis=0)  # the earliest, so the largest, that holds each
    kept = sorted(set(first.tolist()))
    number = {old: new for new, old in enumerate(kept)}
    where = {one: number[int(first[place_])] for place_, one in enumerate(distinct)}
    return [distinct[old] for old in kept], [where[one] for one in sets]


def _greedy(matrix: Matrix, capacity: int) -> npt.NDArray[np.int64]:
    """The page of each set: a page is filled with whatever adds least to it until nothing fits, then the next."""
    left = np.ones(len(matrix), np.bool_)
    found = np.zeros(len(matrix), np.int64)
    sizes = matrix.sum(axis=1)
    common = matrix.sum(axis=0)
    page = 0
    while left.any():
        first = int(np.where(left, sizes, -1).argmax())
        present = np.zeros(matrix.shape[1], np.bool_)
        take = first
        while True:
            present |= matrix[take]
            found[take], left[take] = page, False
            more = matrix & ~present
            adds = more.sum(axis=1)
            fits = left & (present.sum() + adds <= capacity)
            if not fits.any():
                break
            # much shared, little added, and of that what few others have
            rare = (more / common).sum(axis=1)
            score = np.where(fits, (sizes - adds) / sizes - 0.3 * adds / capacity + 0.05 * rare, -np.inf)
            take = int(score.argmax())
        page += 1
    return found
