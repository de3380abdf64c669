"""Who works out the points of a sweep: this process, processes of its own, or somebody else's executor.

Law: points go out in small groups and come back in any order, each as soon as it is known. Where one group fails, no more go
out, and those under way are awaited. Knows nothing of what a point is but that ``run`` works it out.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from itertools import islice
from multiprocessing import get_all_start_methods, get_context, parent_process
from types import ModuleType
from typing import Any, NamedTuple

from .points import Changes, PointResult, Task, run

LARGEST_GROUP = 4
"""Points that go out together: few enough that little is lost where they do not come back."""

FAR = 64
"""Groups that are under way at once on somebody else's executor, which may have many workers."""


class SweepStoppedError(RuntimeError):
    """The executor has failed, not a point: a worker died or the cluster is gone. Finished points are in the journal."""


class WantedPoint(NamedTuple):
    """A point to be worked out: its ``number``, what it sets, and whether its small picture is wanted."""

    number: int
    changes: Changes
    pictured: bool


Worked = Iterator[tuple[WantedPoint, PointResult]]
"""Points, each with what it gave."""


def worked(task: Task, left: Sequence[WantedPoint], jobs: int | None, executor: Executor | None) -> Worked:
    """Work out the points that are ``left``; each as soon as it is known. Raises SweepStoppedError."""
    if executor is not None:
        yield from _Sending(executor, task, FAR).sent(_groups(left, FAR))
        return
    processes = min(cores() if jobs is None else jobs, len(left))
    if processes <= 1:
        for point in left:
            yield point, run(task, _asked([point]))[0]
        return
    # Processes that begin anew hold none of this one's locks, whatever threads it has; where there is a server it forks them.
    method = "forkserver" if "forkserver" in get_all_start_methods() else "spawn"
    pool = _Pool(processes, mp_context=get_context(method), initializer=_left_alone)
    try:
        yield from _Sending(pool, task, 2 * processes).sent(_groups(left, processes))
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


class _Pool(ProcessPoolExecutor):
    """Processes that do not run the caller's script again, as new ones else do: they need nothing of it.

    So a script need not be guarded against that, and may come from a terminal or a pipe. Processes begin as work is sent.
    """

    def submit(self, work: Callable[..., Any], /, *words: Any, **named: Any) -> Future[Any]:
        """Send work out."""
        script = sys.modules["__main__"]
        sys.modules["__main__"] = ModuleType("__main__")
        try:
            return super().submit(work, *words, **named)
        finally:
            sys.modules["__main__"] = script


def _left_alone() -> None:
    """In a worker of our own: an interruption from the keyboard is for the process that has the others; we end with it."""
    import gc  # noqa: PLC0415 - only here
    import signal  # noqa: PLC0415
    from threading import Thread  # noqa: PLC0415

    # as for a command's own process: what a point makes goes by itself, and looking for more finds nothing
    gc.set_threshold(50_000)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Where the process that has the others is ended by force, its workers would wait for work for ever."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _groups(left: Sequence[WantedPoint], workers: int) -> Iterator[Sequence[WantedPoint]]:
    """What is left in groups, the last ones of a single point, so that no worker waits long for another."""
    at = 0
    while at < len(left):
        size = max(1, min(LARGEST_GROUP, (len(left) - at) // (4 * workers)))
        yield left[at : at + size]
        at += size


class _Sending:
    """Sends groups of points to an ``executor``, at most ``most`` at once.

    ``failed``: why no more go out, once a group has not come back.
    """

    def __init__(self, executor: Executor, task: Task, most: int) -> None:
        self.executor, self.task, self.most = executor, task, most
        self.waiting: dict[Future[list[PointResult]], Sequence[WantedPoint]] = {}
        self.failed: BaseException | None = None

    def sent(self, groups: Iterator[Sequence[WantedPoint]]) -> Worked:
        """Each point of ``groups`` as it comes back. Raises SweepStoppedError, once those under way are back."""
        try:
            self._send(groups)
            while self.waiting:
                done, _ = wait(self.waiting, return_when=FIRST_COMPLETED)
                for future in done:
                    yield from self._came_back(future)
                self._send(groups)
        finally:
            for future in self.waiting:
                future.cancel()
        if self.failed is not None:
            told = f"the sweep has stopped: {type(self.failed).__name__}: {self.failed}"
            raise SweepStoppedError(told) from self.failed

    def _send(self, groups: Iterator[Sequence[WantedPoint]]) -> None:
        """Send out as many as may be under way."""
        try:
            for group in islice(groups, self.most - len(self.waiting) if self.failed is None else 0):
                self.waiting[self.executor.submit(run, self.task, _asked(group))] = group
        except Exception as error:  # noqa: BLE001 - executors differ in what they raise where they are broken
            self.failed = error

    def _came_back(self, future: Future[list[PointResult]]) -> Worked:
        group = self.waiting.pop(future)
        wrong = RuntimeError("cancelled") if future.cancelled() else future.exception()
        if wrong is None:
            yield from zip(group, future.result(), strict=True)
        else:
            self.failed = self.failed or wrong


def _asked(group: Sequence[WantedPoint]) -> list[tuple[Changes, bool]]:
    """The group as a worker is asked for it: a worker needs no number."""
    return [(point.changes, point.pictured) for point in group]
