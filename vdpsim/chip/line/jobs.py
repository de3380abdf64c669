"""What a layer's client has to do on a line: a job for each group, and in which slots it can be done.

Law: jobs follow from the chip's description and a stretch of a line's shape. Slots are numbered from the line's first; who
gets them is not known here.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from ..tables.time import ClientTime
from .clients import KEPT
from .costs import ModeCosts
from .rates import LineSlots
from .shapes import Stretch


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
