"""A line's work: what its layers fetch, the jobs that this is for their clients, and how jobs take of the free slots.

Law: a shape says which groups each layer fetches, and neither where they lie in memory nor which line it is; lines that fetch
alike are served once. Jobs follow from the chip's description and a stretch of a shape, one for each group, with the slots in
which it can be done, numbered from the line's first. They are served in order; each has the first slots of its window that come
after those of the job before it. Who comes first is not known here. Plain Python: a line has some hundreds of slots and a client
takes few of them, for which arrays cost more than they save.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import chain, compress, count, islice, repeat
from typing import Any, NamedTuple, TypeVar

from ..tables.time import ClientTime
from .clients import KEPT, ModeCosts
from .rates import LineSlots

MOST_KEPT = 20_000
"""Keys for which something is kept; then all is forgotten and worked out anew as it is asked for."""

Found = TypeVar("Found")

NEVER = 1 << 60
"""A slot after all that there are."""

IS_SET = bytes.maketrans(b"01", b"\0\1")

SPARSE = 16
"""Slots that are as rare as one in so many are looked for in the others, in place of looking at each of those. Both this and what
``Within`` leaves out count on the longest lines, of which a budget takes a quarter of the time."""

FEW_RUNS = 16
"""Up to so many runs of taken slots are cut out where they lie: of 131,072 slots in a fifth of the time of looking at each."""


class Stretch(NamedTuple):
    """What a layer fetches for a stretch of a line: groups ``first`` to ``last`` of its mode.

    Group k begins at dot k x size - ``fine``, and shows from there or from ``left``, the stretch's first dot. ``skip``: the
    first was fetched by the stretch before. ``kept``: the cells are there already. ``turned``: a byte a group from 0, 1 where
    its cell is turned.
    """

    mode: int
    fine: int
    first: int
    last: int
    left: int
    skip: bool
    kept: bool
    turned: bytes


class Shape(NamedTuple):
    """What the layers fetch in the slots of a line: for each its stretches, None where it shows nothing.

    ``picture``: the line belongs to the picture. A layer that is held in a line buffer has the one stretch of the line after
    it; on a line below the picture such layers alone can have any.
    """

    picture: bool
    layers: tuple[tuple[Stretch | None, ...], ...]


BELOW = Shape(picture=False, layers=())
"""A line below the picture in whose slots no layer fetches."""


def remembered(known: dict[Any, Found], make: Callable[..., Found], *key: Any) -> Found:
    """What ``make(*key)`` gives, out of ``known`` where it stands there."""
    found = known.get(key)
    if found is None:
        if len(known) >= MOST_KEPT:
            known.clear()
        found = known[key] = make(*key)
    return found


class Job(NamedTuple):
    """What a client has to do for a group: so many ``accesses`` in slots from ``begin`` up to but not including ``end``."""

    begin: int
    end: int
    accesses: int


def jobs_of(line: LineSlots, client: ClientTime, what: str, mode: ModeCosts, stretch: Stretch) -> tuple[Job, ...]:
    """The jobs of a layer's ``client`` that fetches ``what`` for a stretch, one a group from the first that is not skipped.

    There is none at all where the mode does not ask for it, or has its cells already.
    """
    if what not in mode.costs or (what in KEPT and stretch.kept):
        return ()
    groups = range(stretch.first + stretch.skip, stretch.last + 1)
    if client.lead is None:
        end = line.blank if client.when == "blanking" else line.slots
        jobs = (Job(0, end, mode.costs[what]),) * len(groups)
    else:
        first = line.ahead - stretch.fine
        starts = range(first + groups.start * mode.size, first + groups.stop * mode.size, mode.size)
        shown = line.ahead + stretch.left
        jobs = _in_time(starts, shown, client.lead, line.rate.numerator, line.rate.denominator, mode.costs[what])
    if what == "pattern" and stretch.turned:
        return tuple(_turned(jobs, [stretch.turned[group] for group in groups], mode.turned))
    return jobs


def _turned(jobs: Sequence[Job], turned: Sequence[int], accesses: int) -> list[Job]:
    """``jobs`` in which the cells that are turned (1 in ``turned``) take other ``accesses``."""
    return [job._replace(accesses=accesses) if turn else job for job, turn in zip(jobs, turned, strict=True)]


@lru_cache(4_096)
def _in_time(starts: range, shown: int, lead: int, over: int, under: int, accesses: int) -> tuple[Job, ...]:
    """The jobs of groups that begin at ``starts``, none of which shows before ``shown``, at most ``lead`` dots before they show.

    In dots from a line's first slot, ``over / under`` slots a dot. Many chips that differ a little have the same.
    """
    dues = [max(start, shown) for start in starts]
    return tuple(Job(max(0, -((lead - due) * over // under)), due * over // under, accesses) for due in dues)


def ends(jobs: Sequence[Job], slots: Sequence[Sequence[int]]) -> list[int | None]:
    """The slot in which each job ended; None for one that did not have all of its accesses."""
    return [taken[-1] if len(taken) == job.accesses else None for job, taken in zip(jobs, slots, strict=True)]


class Cells(NamedTuple):
    """A stretch's cells: the jobs that fetch them, and the slot in which each ended; None for one that is missed."""

    jobs: Sequence[Job]
    ends: Sequence[int | None]


def one_queue(stretches: Sequence[Sequence[Job]], cells: Sequence[Cells | None]) -> tuple[list[Job], list[int]]:
    """A client's jobs for all ``stretches`` of a line, and for each the slot after which it may begin.

    ``cells``: those that a stretch's jobs wait for; None where they wait for none. Where one is missed, its job stays in the
    queue until then: an empty window there holds up what comes behind. (Within a stretch nothing could go before, since its
    cells are a queue as well; the cells of another stretch may have a place of their own, and be there long before.)
    """
    jobs: list[Job] = []
    ready: list[int] = []
    for own, of in zip(stretches, cells, strict=True):
        if of is None:
            jobs += own
            ready += [-1] * len(own)
            continue
        for job, cell, end in zip(own, of.jobs, of.ends, strict=True):
            jobs.append(Job(cell.end, cell.end, job.accesses) if end is None else job)
            ready.append(-1 if end is None else end)
    return jobs, ready


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
