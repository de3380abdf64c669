"""Free slots, as lists in order, and how jobs take of them.

Law: jobs are served in order; each has the first slots of its window that come after those of the job before it. Knows no
chip. Plain Python: a line has some hundreds of slots and a client takes few of them, for which arrays cost more than they save.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import compress, repeat

from .jobs import Job

NEVER = 1 << 60
"""A slot after all that there are."""

FEW_RUNS = 16
"""Up to so many runs of taken slots are cut out where they lie: of 131,072 slots in a fifth of the time of looking at each."""


def give(
    free: Sequence[int], jobs: Sequence[Job], ready: Sequence[int | None] | None = None
) -> tuple[list[int], list[Sequence[int]]]:
    """Serve ``jobs`` from the slots ``free``: the slots that are left, and each job's slots.

    Where a job's window ends too soon it has those slots that there are. ``ready``: for each job the slot after which it may
    begin; None where it has nothing to begin with.
    """
    left = [*free, NEVER]
    stays = bytearray(b"\1") * len(left)  # slots that are taken go all at once at the end, so that none moves twice
    found: list[Sequence[int]] = []
    at = 0
    for (begin, end, accesses), after in zip(jobs, repeat(-1) if ready is None else ready, strict=False):
        if after is None:
            found.append(())
            continue
        low = begin if begin > after else after + 1
        if left[at] < low:
            at = bisect_left(left, low, at)
        if (
            accesses == 1 and left[at] < end
        ):  # as most are: serving cells takes 0.6 of the time that it takes without this
            found.append((left[at],))
            stays[at] = 0
            at += 1
            continue
        stop = at + accesses
        if stop >= len(left) or left[stop - 1] >= end:
            stop = bisect_left(left, end, at)
        found.append(left[at:stop])
        stays[at:stop] = bytes(stop - at)
        at = stop
    left.pop()
    return _staying(left, stays), found


def _staying(slots: list[int], stays: bytearray) -> list[int]:
    """Those of ``slots``, which may be changed, that have a 1 in ``stays``."""
    runs: list[slice] = []
    begin = stays.find(0)
    while begin >= 0 and len(runs) <= FEW_RUNS:
        end = stays.find(1, begin)
        runs.append(slice(begin, end))
        begin = stays.find(0, end)
    if len(runs) > FEW_RUNS:
        return list(compress(slots, stays))
    for run in reversed(runs):
        del slots[run]
    return slots


def without(free: Sequence[int], taken: Sequence[int]) -> tuple[int, ...]:
    """The slots of ``free`` that are not among ``taken``, which are some of them; both in order."""
    many = len(taken)
    if not many or taken[-1] == free[many - 1]:  # then they are the first, as sprites take them
        return tuple(free[many:])
    gone = set(taken)
    return tuple(slot for slot in free if slot not in gone)


def numbers(mask: int) -> tuple[int, ...]:
    """The numbers of the bits that are set in ``mask``, in order."""
    return tuple(place for place, bit in enumerate(reversed(f"{mask:b}")) if bit == "1")
