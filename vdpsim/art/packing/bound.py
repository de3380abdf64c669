"""What no packing can go below.

Law: each bound has its proof beside it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt


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
    whole = matrix.astype(np.int32)
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
