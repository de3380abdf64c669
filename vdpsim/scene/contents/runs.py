"""Runs of patterns: which numbers they have, and which bytes from the address of number 0 on are theirs.

Law: a number tells where a pattern begins; which runs come upon each other, where the next is free and how far all of them reach
follows from their bytes, since sizes of sprites may count in steps of their own. Knows no file and no table.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from ...chip.tables.pattern import SpritePattern
from ...door.shown import value as shown
from ..findings import WrongError
from .dots import Dots


@dataclass(frozen=True, eq=False, repr=False)
class PatternRun:
    """Images (count, bytes) at pattern numbers ``first``, ``first + units`` ...; told by the table at ``place``.

    ``shape``: of a sprite's pattern how it lies; None: number by number, as the set counts.
    """

    first: int
    units: int
    images: Dots
    place: tuple[str | int, ...]
    name: str | None = None
    shape: SpritePattern | None = None

    @property
    def stop(self) -> int:
        """The number after the last one taken."""
        return self.first + self.units * len(self.images)

    def number(self, image: int) -> int:
        """The number of the run's image ``image``, from 0."""
        return self.first + image * self.units

    def __str__(self) -> str:
        name = self.name or ".".join(map(str, self.place))
        return f"{name} ({self.first} to {self.stop - 1})"


@dataclass(eq=False, repr=False)
class PatternSet:
    """All patterns of a target; ``owner`` is the control that holds the address of number 0.

    ``step``: bytes from a number to the next, where a run's shape does not say otherwise. ``top``: the largest number.
    """

    target: str
    owner: str
    step: int
    top: int
    runs: list[PatternRun] = field(default_factory=list)

    def next(self, shape: SpritePattern | None = None) -> int:
        """The first number whose pattern, one of ``shape``, lies behind all that are taken."""
        return -(-max((self._end(run) for run in self.runs), default=0) // self.step_of(shape))

    def step_of(self, shape: SpritePattern | None) -> int:
        """Bytes from a number of patterns of ``shape`` to the next."""
        return self.step if shape is None else shape.step

    def add(self, run: PatternRun) -> None:
        """Take a run in. Raises WrongError where a number is taken already or cannot be named by any cell or sprite."""
        last = run.stop - run.units
        if last > self.top:
            raise WrongError(f"numbers of {self.target} go from 0 to {self.top}, got {run.first} to {last}", "at")
        for other in self.runs:
            if self.begin(run, 0) < self._end(other) and self.begin(other, 0) < self._end(run):
                raise WrongError(f"numbers {run.first} to {run.stop - 1} overlap {other}", "at")
            if run.name is not None and run.name == other.name:
                raise WrongError(f"{self.target} has patterns called {shown(run.name)} already", "name")
        self.runs.append(run)

    def named(self, name: str) -> PatternRun | None:
        """The run that is called ``name``."""
        return next((run for run in self.runs if run.name == name), None)

    def begin(self, run: PatternRun, image: int) -> int:
        """Where image number ``image`` of the run begins, in bytes from number 0 on."""
        return run.number(image) * self.step_of(run.shape)

    def extent(self) -> tuple[int, int]:
        """First byte and the byte after the last one, counted from number 0."""
        return min(self.begin(run, 0) for run in self.runs), max(map(self._end, self.runs))

    def _end(self, run: PatternRun) -> int:
        count, size = run.images.shape
        return self.begin(run, int(count) - 1) + int(size)

    def fill(self, memory: Dots, loaded: npt.NDArray[np.bool_], base: int) -> None:
        """Write every run into ``memory`` where number 0 lies at ``base``, and mark its bytes as loaded."""
        for run in self.runs:
            for begin, image in self._placed(run):
                memory[base + begin : base + begin + len(image)] = image
                loaded[base + begin : base + begin + len(image)] = True

    def _placed(self, run: PatternRun) -> Iterator[tuple[int, Dots]]:
        """The run's images as they lie, each with where it begins; those that touch each other as one."""
        if run.images.shape[1] == run.units * self.step_of(run.shape):
            yield self.begin(run, 0), run.images.reshape(-1)
        else:
            yield from ((self.begin(run, number), image) for number, image in enumerate(run.images))
