"""Cases that are tried in processes of their own, under guard: none takes the soak down, whatever it does.

Law: a guard knows no target. It hands a worker one number after another; a case that uses ``CPU`` seconds of the processor in one
step, that waits longer than its target allows, that wants more memory than is left to it or that ends its process is a find like
any exception, and the worker is replaced. What a case leaves in its folder is there to be looked at when it is a find.
"""

from __future__ import annotations

import faulthandler
import os
import re
import resource
import shutil
import signal
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from importlib import import_module
from importlib.util import find_spec
from itertools import count, takewhile
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

CPU = 10.0
"""Seconds of the processor that one step of a case may take."""

PACKAGE = str(Path((find_spec("vdpsim") or __spec__).origin or "").parent)
"""Where the code lies that is under attack."""

_FRAME = re.compile(rf'File "({re.escape(PACKAGE)}[^"]*)", line (\d+) in (\S+)')
_STEP = ["begin"]
_TOOK = [0]


class FaultError(Exception):
    """What a case found wrong that raised nothing: ``kind`` tells such faults apart, ``told`` says the rest."""

    def __init__(self, kind: str, told: str = "") -> None:
        super().__init__(f"{kind}: {told}" if told else kind)
        self.kind = kind


@dataclass(frozen=True)
class Limits:
    """What a target's cases may take: seconds by the clock, and bytes beside what a fresh worker has; None: no limit."""

    wall: float = 120.0
    memory: int | None = 1 << 30


@dataclass
class Done:
    """What came of a case: ``end`` is "refused" or "drawn"; or it is a find of a ``kind``, which ``told`` in full."""

    number: int
    end: str = ""
    kind: str = ""
    told: str = ""
    seconds: float = 0.0
    memory: int = 0


@dataclass
class Tally:
    """A target's cases, counted; ``finds`` by their kind: the first of each, and how many there were."""

    cases: int = 0
    ends: Counter[str] = field(default_factory=Counter)
    finds: dict[str, list[Any]] = field(default_factory=dict)
    slowest: float = 0.0
    memory: int = 0


def step(name: str) -> None:
    """Begin a step of the case: it has ``CPU`` seconds of its own, and a find in it bears its name."""
    _STEP[0] = name
    signal.setitimer(signal.ITIMER_PROF, CPU if name else 0)


def took(memory: int) -> None:
    """Note the most memory of a process that the case has run."""
    _TOOK[0] = max(_TOOK[0], memory)


def kind_of(error: BaseException) -> str:
    """An exception's type, and the innermost line of the project that it came through; alike finds have the same."""
    if isinstance(error, FaultError):
        return error.kind
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if frame.filename.startswith(PACKAGE)] or frames
    where = f" in {Path(ours[-1].filename).name}:{ours[-1].lineno} {ours[-1].name}" if ours else ""
    return f"{type(error).__name__}{where}"


# The worker


def _peak() -> int:
    """The most memory that this process has held since it last asked, in bytes."""
    status = Path("/proc/self/status")
    if status.exists():
        found = re.search(r"VmHWM:\s+(\d+)", status.read_text(encoding="ascii"))
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
        if found:
            return int(found[1]) << 10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss << 10


def _held() -> int:
    status = Path("/proc/self/statm")
    return int(status.read_text(encoding="ascii").split()[0]) * resource.getpagesize() if status.exists() else 1 << 30


def work(pipe: Connection, target: str, seed: int, folder: str, trace: str) -> None:
    """A worker's whole life: number in, Done out. Ends when it is told None."""
    os.dup2(
        os.open(f"{trace}.err", os.O_CREAT | os.O_WRONLY | os.O_APPEND), 2
    )  # libraries in C tell it what they trip over
    module = import_module(target)
    with open(trace, "w", encoding="utf-8") as traced:
        faulthandler.enable(traced)
        faulthandler.register(signal.SIGPROF, traced)
        if module.LIMITS.memory is not None:
            most = _held() + module.LIMITS.memory
            resource.setrlimit(resource.RLIMIT_AS, (most, most))
        pipe.send("ready")
        while (number := pipe.recv()) is not None:
            pipe.send(tried(module.case, seed, number, Path(folder) / str(number)))


def tried(case: Callable[[int, int, Path], str], seed: int, number: int, folder: Path, *, keep: bool = False) -> Done:
    """One case in this process, with ``folder`` to itself; that stays where the case is a find, or is to be kept."""
    folder.mkdir(parents=True)
    _peak()
    begin, done, _TOOK[0] = time.monotonic(), Done(number), 0
    step("begin")
    try:
        done.end = case(seed, number, folder)
    except KeyboardInterrupt:
        raise
    except BaseException as error:  # noqa: BLE001 - whatever a case raises is what the soak is there to find
        done.kind, done.told = kind_of(error), f"{error!r:.400} in the step {_STEP[0]!r}\n{traceback.format_exc()}"
    step("")
    done.seconds, done.memory = time.monotonic() - begin, max(_TOOK[0], _peak())
    if not done.kind and not keep:
        shutil.rmtree(folder, ignore_errors=True)
    return done


# The guard


class Worker:
    """One worker process, as the guard sees it."""

    def __init__(self, target: str, seed: int, folder: Path) -> None:
        context = get_context("spawn")
        self.folder, self.target = folder, target
        self.pipe, theirs = context.Pipe()
        handle, self.trace = tempfile.mkstemp(dir=folder, suffix=".trace")
        os.close(handle)
        self.process = context.Process(target=work, args=(theirs, target, seed, str(folder), self.trace), daemon=False)
        self.process.start()
        theirs.close()
        self.number: int | None = None
        self.until = time.monotonic() + 60
        self.begun = 0.0
        self.ready = False

    def give(self, number: int, wall: float) -> None:
        """Let it try the case ``number``."""
        self.number, self.begun = number, time.monotonic()
        self.until = self.begun + wall
        self.pipe.send(number)

    def lost(self) -> Done | None:
        """What became of its case where it will not answer any more, else None."""
        assert self.number is not None
        told = Path(self.trace).read_text(encoding="utf-8", errors="replace")
        late = time.monotonic() > self.until
        if self.process.is_alive() and not told and not late:
            return None
        if late and not told and self.process.pid:
            os.kill(self.process.pid, signal.SIGPROF)  # to say where it stands
            time.sleep(0.3)
        self.end()
        told = Path(self.trace).read_text(encoding="utf-8", errors="replace")
        code = self.process.exitcode or 0
        what = (
            "waits too long" if late else "takes too long" if code == -signal.SIGKILL else f"process ended by {-code}"
        )
        frame = _FRAME.search(told) or re.search(r'File "([^"]*)", line (\d+) in (\S+)', told)
        where = f" in {Path(frame[1]).name}:{frame[2]} {frame[3]}" if frame else ""
        return Done(self.number, "", f"{what}{where}", told or what, time.monotonic() - self.begun)

    def end(self) -> None:
        """End the process: this one and no other."""
        self.process.kill()
        self.process.join()
        self.pipe.close()

    def rest(self) -> None:
        """Let it go home."""
        if self.process.is_alive():
            self.pipe.send(None)
            self.process.join(10)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()


def cases(target: str, seed: int, numbers: Iterator[int], jobs: int, folder: Path, wall: float) -> Iterator[Done]:
    """The cases of a target as they are done, until ``numbers`` has no more."""
    workers = [Worker(target, seed, folder) for _ in range(jobs)]
    try:
        while workers:
            wait([one.pipe for one in workers], 0.2)
            for place, one in reversed(list(enumerate(workers))):
                done = _heard(one)
                if done is not None:
                    yield done
                if done is not None and not one.process.is_alive():
                    workers[place] = Worker(target, seed, folder)
                elif one.ready and one.number is None:
                    number = next(numbers, None)
                    if number is None:
                        one.rest()
                        del workers[place]
                    else:
                        one.give(number, wall)
    finally:
        for one in workers:
            one.end()


def _heard(worker: Worker) -> Done | None:
    """What a worker has to say, if anything. Raises RuntimeError for one that cannot even begin."""
    try:
        if worker.pipe.poll():
            said = worker.pipe.recv()
            worker.ready, worker.number = True, None
            return said if isinstance(said, Done) else None
    except (EOFError, OSError):
        pass
    if worker.ready and worker.number is not None:
        return worker.lost()
    if not worker.process.is_alive() or time.monotonic() > worker.until:
        raise RuntimeError(f"a worker for {worker.target} could not begin")
    return None


def until(end: float, most: int | None) -> Iterator[int]:
    """Numbers from 0 on: ``most`` of them or, where that is None, until the clock says ``end``."""
    return takewhile(lambda number: time.monotonic() < end if most is None else number < most, count())
