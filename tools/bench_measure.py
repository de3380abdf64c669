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


class NotMeasured(Exception):  # noqa: N818 - nothing went wrong: there is no value
    """Raised by a row that cannot be measured here; says why, in words."""


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
    """One line of the bench: ``measure`` gives the value, which holds where it is at most ``target``.

    It raises NotMeasured where it cannot say: then nothing holds.
    """

    name: str
    target: float
    unit: str
    measure: Callable[[], float]


@dataclass(frozen=True)
class Told:
    """What became of a row: its ``value``, or None and ``why`` there is none."""

    row: Row
    value: float | None
    why: str = ""

    @property
    def holds(self) -> bool | None:
        """Whether the value is at most the target; None where nothing was measured."""
        return None if self.value is None else self.value <= self.row.target

    def line(self) -> str:
        """The row in the table."""
        name, unit, target = self.row.name, self.row.unit, f"at most {self.row.target:<5g}"
        if self.value is None:
            return f"{name:<72} {'-':>8} {unit}  {target} NOT MEASURED: {self.why}"
        return f"{name:<72} {self.value:8.3f} {unit}  {target} {'holds' if self.holds else 'DOES NOT HOLD'}"

    def record(self) -> dict[str, str | float | bool | None]:
        """The row in the JSON; ``value`` and ``holds`` are null where nothing was measured."""
        value = None if self.value is None else round(self.value, 3)
        return {
            "name": self.row.name,
            "value": value,
            "target": self.row.target,
            "holds": self.holds,
            "unit": self.row.unit,
        }


def tell(each: Row) -> Told:
    """Measure a row."""
    try:
        return Told(each, each.measure())
    except NotMeasured as error:
        return Told(each, None, str(error))


def status(found: Iterable[Told]) -> int:
    """0 where all rows hold, 1 where one does not, 3 where none failed but some were not measured."""
    held = [each.holds for each in found]
    return 1 if False in held else 3 if None in held else 0


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
        raise NotMeasured("the machine is busy: every round was interrupted")
    return [list(column) for column in zip(*found, strict=True)]


def ratio(first: Run, second: Run, rounds: int = ROUNDS, *, inside: bool = True) -> float:
    """How many times as long ``first`` takes as ``second``: the median over the rounds."""
    return float(median(a / b for a, b in zip(*times([first, second], rounds, inside=inside), strict=True)))


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
