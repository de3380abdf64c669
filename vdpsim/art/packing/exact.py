"""Whether sets fit into so many pages, by looking at every way: for small cases.

Law: sets are placed one after the other, the one with the fewest pages left for it next; a set goes into every page that it
fits into, and into one empty page, since empty pages are alike. Where the tree is done and nothing was found, there is nothing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt


def exact(
    matrix: npt.NDArray[np.bool_], capacity: int, pages: int, nodes: int
) -> tuple[npt.NDArray[np.int64] | None, bool]:
    """A page for each set where all fit into ``pages``, else None; and whether that is proved by ``nodes`` places looked at."""
    sets = [int("".join("1" if one else "0" for one in row), 2) for row in matrix]
    count = len(sets)
    found = [0] * count
    union = [0] * pages
    left = nodes

    def go(todo: list[int], used: int) -> bool | None:
        """True: found; False: proved that there is none below here; None: given up."""
        nonlocal left
        if not todo:
            return True
        left -= 1
        if left < 0:
            return None
        best: tuple[int, int] | None = None
        ways: list[int] = []
        free = used < pages
        for place, number in enumerate(todo):
            one = sets[number]
            fits = [page for page in range(used) if (union[page] | one).bit_count() <= capacity]
            held = next((page for page in fits if not one & ~union[page]), None)
            if held is not None:  # it lies in a page already: nothing is lost by putting it there
                fits, options = [held], 1
            else:
                options = len(fits) + free
            if options == 0:
                return False
            if (
                best is None
                or options < best[0]
                or (options == best[0] and one.bit_count() > sets[todo[best[1]]].bit_count())
            ):
                best, ways = (options, place), fits if held is not None or not free else [*fits, used]
                if options == 1:
                    break
        assert best is not None
        number = todo[best[1]]
        rest = todo[: best[1]] + todo[best[1] + 1 :]
        ways.sort(key=lambda page: (sets[number] & ~union[page]).bit_count() if page < used else 99)
        sure = True
        for page in ways:
            before = union[page]
            union[page] |= sets[number]
            found[number] = page
            below = go(rest, max(used, page + 1))
            if below:
                return True
            union[page] = before
            if below is None:
                sure = False
                if left < 0:
                    return None
        return False if sure else None

    order = sorted(range(count), key=lambda number: -sets[number].bit_count())
    end = go(order, 0)
    if end:
        return np.array(found, np.int64), True
    return None, end is False
