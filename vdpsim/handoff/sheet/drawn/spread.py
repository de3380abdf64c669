"""Labels moved apart as little as it takes for none to lie on another.

Law: whatever is asked for, each label has its own room. Knows no drawing.
"""

from __future__ import annotations

from collections.abc import Sequence


def spread(wanted: Sequence[float], room: Sequence[float], least: float, most: float) -> list[float]:
    """Middles for labels that want to stand at ``wanted``, in order, and take ``room`` each, between ``least`` and ``most``.

    A label that would lie on the one before goes behind it; those that then go beyond ``most`` move back, and others before them.
    Where all together have no room they begin at ``least`` and go beyond ``most``.
    """
    most = max(most, least + sum(room))
    found: list[float] = []
    end = least
    for at, size in zip(wanted, room, strict=True):
        found.append(max(at, end + size / 2))
        end = found[-1] + size / 2
    end = most
    for place in reversed(range(len(found))):
        found[place] = min(found[place], end - room[place] / 2)
        end = found[place] - room[place] / 2
    return found
