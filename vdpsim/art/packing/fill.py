"""A first way to place sets in pages: page after page is grown to what it holds, several times, and the best growth stays.

Law: no page is overfilled while it is grown. Of several growths of a page the one that took in the most counts: the sets of a
bank that somebody planned lie closer together than those of any mixture. What no page took goes where it overfills least.
Chances come from the generator given; whole numbers are held exactly, and a chance is added to part equals.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .search import PackingProblem

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]


def filled(problem: PackingProblem, random: np.random.Generator, growths: int, *, shuffled: bool = False) -> Ints:
    """The page of each set. Pages that few sets may use come first, then those with little room; ``shuffled``: about so."""
    growing = _Growing(problem)
    order = problem.allowed.sum(axis=0) + problem.room / 100
    order = order + random.random(len(order)) * (len(problem.sets) / 10 if shuffled else 0.001)
    page = np.full(len(problem.sets), -1, np.int64)
    present, size = problem.fixed.copy(), np.zeros(len(problem.room), np.int64)
    for at in np.argsort(order, kind="stable").tolist():
        able = (page < 0) & problem.allowed[:, at]
        grown = [growing.grow(at, able, random, wild=number > 0) for number in range(growths)]
        taken, present[at] = max(grown, key=growing.worth)
        page[taken] = at
        size[at] = int((present[at] & ~problem.fixed[at]).sum())
    for one in np.flatnonzero(page < 0).tolist():
        adds = (problem.sets[one] & ~present).sum(axis=1)
        over = np.maximum(size + adds - problem.room, 0)
        to = int(np.where(problem.allowed[one], 1000 * over + adds, np.inf).argmin())
        page[one] = to
        size[to] += adds[to]
        present[to] |= problem.sets[one]
    return page


@dataclass(eq=False)
class _Growing:
    """A problem, and what is asked of its sets again and again."""

    problem: PackingProblem

    def __post_init__(self) -> None:
        self.sets: Floats = self.problem.sets.astype(np.float64)
        self.sizes: Floats = np.maximum(self.sets.sum(axis=1), 1)
        self.rarity: Floats = np.round(50_000 / np.maximum(self.sets.sum(axis=0), 1))  # in millionths of a part
        self.bound: Floats = 1 - self.problem.allowed.sum(axis=1) / len(
            self.problem.room
        )  # how few pages a set may use
        self.worths: Floats = self.sizes * (1 + 2 * self.bound)

    def worth(self, grown: tuple[Bools, Bools]) -> float:
        """How good a growth is: the sizes of what it took in, more where that has few other pages."""
        return float(self.worths[grown[0]].sum())

    def grow(self, at: int, able: Bools, random: np.random.Generator, *, wild: bool) -> tuple[Bools, Bools]:
        """The sets that page ``at`` takes in, of those that are ``able``, and the symbols that it then has."""
        problem = self.problem
        room, present = float(problem.room[at]), problem.fixed[at].copy()
        adds = self.sets @ ~present
        rare = (self.sets * ~present) @ self.rarity
        taken = able & (adds == 0)
        able = able & ~taken
        while (fits := able & (adds <= room)).any():
            chance = random.random(len(able))
            if present.any():
                # much shared, little added, and of that what few others have
                shared = (self.sizes - adds) / self.sizes - 0.3 * adds / problem.room[at]
                score = shared + rare / 1e6 + 0.2 * self.bound + (0.1 if wild else 1e-6) * chance
            else:
                score = self.sizes + 4 * self.bound + (30 if wild else 0.01) * chance
            new = np.flatnonzero(problem.sets[int(np.where(fits, score, -np.inf).argmax())] & ~present)
            present[new] = True
            room -= len(new)
            adds = adds - self.sets[:, new].sum(axis=1)
            rare = rare - self.sets[:, new] @ self.rarity[new]
            taken |= able & (adds == 0)
            able = able & ~taken
        return taken, present
