"""How the bench measures: runs in turns, rounds that nobody interrupted, rows with targets.

Law: a row is a function that returns its value, entered in ``ROWS`` by its decorator. Every frame that is timed is read as a
user reads it: indices, rgb, source, log.total, drops, collisions.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import median

from bench_scenes import Bench

from vdpsim import Frame, Write

Run = Callable[[int], object]
"""Something to be timed; it is given the round's number. A run's attribute ``before``, if any, is called first, untimed."""

ROUNDS = 60

IN_A_ROW = 5
"""How often each side runs in its turn."""
PATIENCE = 8
"""How many times as many rounds are tried as are wanted."""

INTERRUPTED = 0.05
"""The share of a run's time that the processor may have spent on something else."""


@dataclass(frozen=True)
class Row:
    """One line of the bench: ``measure`` gives the value, which holds where it is at most ``target``."""

    name: str
    target: float
    unit: str
    measure: Callable[[], float]


ROWS: list[Row] = []


def row(name: str, target: float, unit: str = "x") -> Callable[[Callable[[], float]], Callable[[], float]]:
    """Make a function that measures into a row of the bench."""

    def add(measure: Callable[[], float]) -> Callable[[], float]:
        ROWS.append(Row(name, target, unit, measure))
        return measure

    return add


def times(runs: Iterable[Run], rounds: int = ROUNDS, *, inside: bool = True) -> list[list[float]]:
    """Seconds of each of ``runs``, called in turns with the round's number; the first two rounds are not counted.

    Runs ``inside`` this process take a turn of ``IN_A_ROW``, as frames are drawn one after the other: what each finds in the
    processor's caches is then mostly its own. A round counts when none of its runs was interrupted: the longer of two runs is
    interrupted more often, so that on a busy machine a ratio would shift without anything having become faster. Runs
    ``inside`` tell it by their CPU time; those that wait for other processes cannot, and all their rounds count. Where too
    few rounds count, stderr says so.
    """
    runs = list(runs)
    found: list[list[float]] = []
    for number in range(2 + rounds * (PATIENCE if inside else 1)):
        taken, clean = [], True
        for run in runs:
            spent = 0.0
            for again in range(IN_A_ROW if inside else 1):
                getattr(run, "before", str)(number * IN_A_ROW + again)
                start, cpu = time.perf_counter(), time.process_time()
                run(number * IN_A_ROW + again)
                wall = time.perf_counter() - start
                clean &= not inside or wall - (time.process_time() - cpu) < INTERRUPTED * wall
                spent += wall
            taken.append(spent)
        if number >= 2 and clean:
            found.append(taken)
        if len(found) == rounds:
            break
    if len(found) < rounds:
        print(f"busy machine: only {len(found)} of {rounds} rounds were not interrupted", file=sys.stderr)
    if not found:
        sys.exit("busy machine: nothing could be measured")
    return [list(column) for column in zip(*found, strict=True)]


def ratio(first: Run, second: Run, rounds: int = ROUNDS, *, inside: bool = True) -> float:
    """How many times as long ``first`` takes as ``second``: the median over the rounds."""
    return median(a / b for a, b in zip(*times([first, second], rounds, inside=inside), strict=True))


def read(frame: Frame) -> int:
    """Look at everything that a frame yields."""
    return (
        len(frame.indices)
        + len(frame.rgb)
        + len(frame.source)
        + frame.log.total
        + len(frame.drops)
        + len(frame.collisions)
    )


class Drawer:
    """Draws a frame, all of it; the timed writes are compiled once, and what moves from frame to frame is set untimed."""

    def __init__(self, made: Bench, writes: Iterable[Write] = ()) -> None:
        self.made, self.program = made, made.machine.compile(writes)

    def before(self, number: int) -> None:
        """Scroll, and move some sprites."""
        self.made.step(number % 64)

    def __call__(self, _number: int) -> int:
        """Draw and read."""
        return read(self.made.machine.frame(self.program))
