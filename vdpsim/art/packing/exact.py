"""Whether sets fit into so many pages, by looking at every way: for small cases.

Law: sets are placed one after the other, the one with the fewest pages left for it next; a set goes into every page that it
fits into, and into one empty page, since empty pages are alike. Where the tree is done and nothing was found, there is nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

NEW_PAGE = 99
"""Symbols that an empty page counts for when pages are tried in order: it comes after most that hold something."""


def exact(
    matrix: npt.NDArray[np.bool_], capacity: int, pages: int, nodes: int
) -> tuple[npt.NDArray[np.int64] | None, bool]:
    """A page for each set where all fit into ``pages``, else None; and whether that is proved by ``nodes`` places looked at."""
    tree = _Tree([_bits(row) for row in matrix], capacity, pages, nodes)
    order = sorted(range(len(matrix)), key=lambda number: -tree.sets[number].bit_count())
    end = tree.complete(order, 0)
    return (np.array(tree.page, np.int64), True) if end else (None, end is False)


def _bits(row: npt.NDArray[np.bool_]) -> int:
    """A set as a whole number, one bit a symbol: a union of two is then one operation of the machine, not an array's."""
    return int("".join("1" if one else "0" for one in row), 2)


class _Tree:
    """Sets on their way into pages: the ``page`` of each set, the ``union`` of each page, and how many places are ``left``."""

    def __init__(self, sets: Sequence[int], capacity: int, pages: int, nodes: int) -> None:
        self.sets, self.capacity, self.left = sets, capacity, nodes
        self.page = [0] * len(sets)
        self.union = [0] * pages

    def complete(self, todo: Sequence[int], used: int) -> bool | None:
        """Place the sets ``todo`` beside those in the first ``used`` pages.

        True: done. False: proved that there is no way. None: given up, as no place is left to look at.
        """
        if not todo:
            return True
        self.left -= 1
        if self.left < 0:
            return None
        place, pages = self._narrowest(todo, used)
        number = todo[place]
        rest = [*todo[:place], *todo[place + 1 :]]
        for page in sorted(pages, key=lambda page: self._grows(number, page) if page < used else NEW_PAGE):
            before = self.union[page]
            self.union[page] |= self.sets[number]
            self.page[number] = page
            below = self.complete(rest, max(used, page + 1))
            if below is not False:  # None too: with a branch given up, nothing is proved by the others
                return below
            self.union[page] = before
        return False

    def _narrowest(self, todo: Sequence[int], used: int) -> tuple[int, list[int]]:
        """The place in ``todo`` of the set with the fewest pages, of equals the largest, then the first; and its pages."""
        best: tuple[int, list[int]] | None = None
        least = (0, 0)
        for place, number in enumerate(todo):
            pages = self._pages(self.sets[number], used)
            rank = (len(pages), -self.sets[number].bit_count())
            if best is None or rank < least:
                best, least = (place, pages), rank
            if len(pages) < 2:  # none can have fewer that still leave something to do
                break
        assert best is not None
        return best

    def _pages(self, symbols: int, used: int) -> list[int]:
        """The pages that ``symbols`` fit into: one alone where they all lie there already, as nothing is lost by that."""
        fits = []
        for page in range(used):
            union = self.union[page] | symbols
            if union.bit_count() <= self.capacity:
                if union == self.union[page]:
                    return [page]
                fits.append(page)
        return [*fits, used] if used < len(self.union) else fits

    def _grows(self, number: int, page: int) -> int:
        """Symbols that a set would add to a page."""
        return (self.sets[number] & ~self.union[page]).bit_count()
