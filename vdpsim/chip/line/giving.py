"""Free slots, as lists in order, and how jobs take of them.

Law: jobs are served in order; each has the first slots of its window that come after those of the job before it. Knows no
chip. Plain Python: a line has some hundreds of slots and a client takes few of them, for which arrays cost more than they save.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import chain, compress, count, islice, repeat

from .jobs import Job

NEVER = 1 << 60
"""A slot after all that there are."""

IS_SET = bytes.maketrans(b"01", b"\0\1")

SPARSE = 16
"""Slots that are as rare as one in so many are looked for in the others, in place of looking at each of those. Both this and what
``Within`` leaves out count on the longest lines, of which a budget takes a quarter of the time."""

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
    begin, end = bisect_left(free, taken[0]), bisect_left(free, taken[-1]) + 1
    if SPARSE * many < end - begin:
        return (*free[:begin], *chain.from_iterable(_between(free[begin:end], taken)), *free[end:])
    gone = set(taken)
    return (*free[:begin], *(slot for slot in free[begin:end] if slot not in gone), *free[end:])


def _between(free: Sequence[int], taken: Sequence[int]) -> Iterator[Sequence[int]]:
    """The stretches of ``free`` between those that are ``taken``."""
    at = 0
    for slot in taken:
        place = bisect_left(free, slot, at)
        yield free[at:place]
        at = place + 1


class Within:
    """The slots that a client may have: ``slots`` in order, and the same as ``among``."""

    slots: Sequence[int]
    among: frozenset[int]

    def __init__(self, slots: Sequence[int]) -> None:
        self.slots, self.among = slots, frozenset(slots)

    def enough(self, free: Sequence[int], jobs: Sequence[Job], ready: Sequence[int | None] | None) -> list[int]:
        """So many of the slots ``free`` that ``jobs`` are served as they would be from all of those that the client may have.

        None lies before all windows; once each job may begin, as many as all jobs take are enough.
        """
        if not jobs:
            return []
        first, latest = min(job.begin for job in jobs), max(job.begin for job in jobs)
        if SPARSE * len(self.slots) < len(free):
            here = self.slots[bisect_left(self.slots, first) :]
            return [slot for slot in here if free[bisect_left(free, slot, 0, len(free) - 1)] == slot]
        latest = max([latest, *(after + 1 for after in ready or () if after is not None)])
        begin, last = bisect_left(free, first), bisect_left(free, latest)
        some = [slot for slot in free[begin:last] if slot in self.among]
        further = (free[place] for place in range(last, len(free)) if free[place] in self.among)
        return [*some, *islice(further, sum(job.accesses for job in jobs))]


def numbers(mask: int) -> tuple[int, ...]:
    """The numbers of the bits that are set in ``mask``, in order."""
    return tuple(compress(count(), f"{mask:b}"[::-1].encode().translate(IS_SET)))
