"""Runs of patterns: which numbers they have, and which bytes from the address of number 0 on are theirs.

Law: a number tells where a pattern begins; which runs come upon each other, where the next is free and how far all of them reach
follows from their bytes, since sizes of sprites may count in steps of their own. Knows no file and no table.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.tables.pattern import SpritePattern
from ...door.shown import value as shown
from ..findings import Together, WrongError
from .dots import Dots


class PatternRun(NamedTuple):
    """Images (count, bytes) at pattern numbers ``first``, ``first + units`` ...; told by the table at ``place``.

    ``shape``: of a sprite's pattern how it lies, which may be side by side with others; None: one behind the other.
    """

    first: int
    units: int
    images: Dots
    place: tuple[str | int, ...]
    name: str | None = None
    shape: SpritePattern | None = None

    @property
    def last(self) -> int:
        """The number of the last image."""
        return self.number(len(self.images) - 1)

    @property
    def stop(self) -> int:
        """The number after the last one taken."""
        return self.last + (self.units if self.shape is None else -(-self.shape.extent // self.shape.step))

    def number(self, image: int) -> int:
        """The number of the run's image ``image``, from 0."""
        return self.first + (image * self.units if self.shape is None else self.shape.nth(image))

    def __str__(self) -> str:
        name = self.name or ".".join(map(str, self.place))
        return f"{name} ({self.first} to {self.stop - 1})"


class _Stretches(NamedTuple):
    """The bytes of a run: stretches of ``data`` (stretches, bytes), which begin at ``begins``, from number 0's address on."""

    begins: npt.NDArray[np.int64]
    data: Dots

    def meet(self, other: _Stretches) -> bool:
        """Whether a byte is in both."""
        begins = np.sort(other.begins)
        before = begins[np.searchsorted(begins, self.begins + self.data.shape[1]) - 1]
        return bool(((before < self.begins + self.data.shape[1]) & (before + other.data.shape[1] > self.begins)).any())


@dataclass(eq=False, repr=False)
class PatternSet:
    """All patterns of a target; ``owners`` are the controls that hold the addresses of number 0: one, or one for each plane.

    ``step``: bytes from a number to the next, where a run's shape does not say otherwise. ``top``: the largest number.
    """

    target: str
    owners: tuple[str, ...]
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
        """Take a run in. Raises WrongError where it cannot be."""
        self.check(run)
        self.runs.append(run)

    def check(self, run: PatternRun) -> None:
        """Raises WrongError where a number of the run or its name is taken already or cannot be named by any cell or sprite."""
        each = Together()
        if run.last > self.top:
            each.tell(f"numbers of {self.target} go from 0 to {self.top}, got {run.first} to {run.last}", "at")
        else:
            other = next((other for other in self.runs if self._meet(run, other)), None)
            if other is not None:
                each.tell(f"numbers {run.first} to {run.stop - 1} overlap {other}", "at")
        if run.name is not None and self.named(run.name) is not None:
            each.tell(f"{self.target} has patterns called {shown(run.name)} already", "name")
        each.done()

    def _meet(self, run: PatternRun, other: PatternRun) -> bool:
        """Whether two runs share a byte; looked at closely only where one begins before the other's end."""
        near = self.begin(run, 0) < self._end(other) and self.begin(other, 0) < self._end(run)
        return near and self._stretches(run).meet(self._stretches(other))

    def named(self, name: str) -> PatternRun | None:
        """The run that is called ``name``."""
        return next((run for run in self.runs if run.name == name), None)

    def begin(self, run: PatternRun, image: int) -> int:
        """Where image number ``image`` of the run begins, in bytes from number 0 on."""
        return run.number(image) * self.step_of(run.shape)

    def extent(self) -> tuple[int, int]:
        """First byte and the byte after the last one, counted from number 0, at each of its addresses."""
        return min(self.begin(run, 0) for run in self.runs), max(map(self._end, self.runs))

    def _end(self, run: PatternRun) -> int:
        last = int(run.images.shape[1]) // len(self.owners) if run.shape is None else run.shape.extent
        return self.begin(run, len(run.images) - 1) + last

    def fill(self, memory: Dots, loaded: npt.NDArray[np.bool_], base: int, owner: int = 0) -> None:
        """Write every run into ``memory`` where number 0 lies at ``base`` for owner number ``owner``, and mark it as loaded."""
        for run in self.runs:
            own = self._stretches(run, owner)
            for begin, data in zip(own.begins.tolist(), own.data, strict=True):
                memory[base + begin : base + begin + len(data)] = data
                loaded[base + begin : base + begin + len(data)] = True

    def _stretches(self, run: PatternRun, owner: int = 0) -> _Stretches:
        """The run's bytes as they lie at the address of owner number ``owner``."""
        images = run.images.reshape(len(run.images), len(self.owners), -1)[:, owner]
        count, size = images.shape
        stretches, each = (range(1), int(size)) if run.shape is None else run.shape.own
        if size == each == run.units * self.step_of(run.shape):  # they touch each other
            return _Stretches(np.array([self.begin(run, 0)]), images.reshape(1, -1))
        begins = np.array([self.begin(run, image) for image in range(count)])
        return _Stretches((begins[:, None] + np.array(stretches)).reshape(-1), images.reshape(-1, each))


def in_memory(shape: SpritePattern, images: Dots) -> bytes:
    """Images (count, bytes) as a file has them: packed, or side by side as they lie in memory, to the last byte of the last."""
    if shape.extent == shape.size_bytes:
        return images.tobytes()
    one = PatternSet("", ("",), shape.step, 0, [PatternRun(0, shape.units, images, (), shape=shape)])
    memory = np.zeros(one.extent()[1], np.uint8)
    one.fill(memory, np.zeros(len(memory), np.bool_), 0)
    return memory.tobytes()


def from_memory(shape: SpritePattern, data: Dots, what: str = "data") -> Dots:
    """The images (count, bytes) in the bytes of ``what``, a file as ``in_memory`` makes it; bytes between them are passed over.

    Raises WrongError where it does not end with a whole pattern, or with the bytes between those that lie side by side.
    """
    of_band, (stretches, each) = shape.band * shape.step, shape.own
    if len(stretches) == 1:
        of_band = each
    bands, rest = divmod(len(data), of_band)
    more, beyond = divmod(max(0, rest - stretches[-1]), each)
    if rest and (not more or (beyond and more < shape.beside)):
        told = f"{what} must be whole patterns of {shape.size_bytes} bytes"
        told += f", {shape.beside} side by side in {of_band} bytes" if shape.beside > 1 else ""
        raise WrongError(f"{told}, got {len(data)} bytes", "raw")
    if len(stretches) == 1:
        return data.reshape(-1, each)
    begins = np.array([shape.nth(place) * shape.step for place in range(bands * shape.beside + more)], np.int64)
    inside = (np.array(stretches)[:, None] + np.arange(each)).reshape(-1)
    found: Dots = data[begins[:, None] + inside]
    return found
