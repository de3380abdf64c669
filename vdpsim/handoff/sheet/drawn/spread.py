"""Labels moved apart as little as it takes for none to lie on another.

Law: whatever is asked for, each label has its own room. Knows no drawing.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise


def spread(wanted: Sequence[float], room: Sequence[float], least: float, most: float) -> list[float]:
    """Middles for labels that want to stand at ``wanted``, in order, and take ``room`` each, between ``least`` and ``most``.

    Of all ways to keep them in order and off one another it is the one with the least sum of squares of their moves (isotonic
    regression, by pooling neighbours that stand in each other's way). Where all together have no room they begin at ``least``
    and go beyond ``most``.
    """
    if not wanted:
        return []
    apart = list(accumulate(((one + other) / 2 for one, other in pairwise(room)), initial=0.0))
    pools: list[
        tuple[float, int]
    ] = []  # the mean of what neighbours want, their rooms taken out, and how many they are
    for at, away in zip(wanted, apart, strict=True):
        mean, count = at - away, 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean, count = (before * many + mean * count) / (many + count), many + count
        pools.append((mean, count))
    first = least + room[0] / 2
    last = max(first, most - room[-1] / 2 - apart[-1])
    means = [min(max(mean, first), last) for mean, count in pools for _ in range(count)]
    return [mean + away for mean, away in zip(means, apart, strict=True)]
