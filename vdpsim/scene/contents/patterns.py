"""Patterns of a scene: which numbers are there, what bytes they are, and what they are called.

Law: a target (LAYER.MODE or ``sprites``) has one set of patterns; a set is runs of consecutive numbers that never
overlap. A sprite's image may take several numbers (its bytes / the chip's step from number to number). Whether a number
is loaded is asked of memory once addresses are known, so that two modes may share one set by sharing its address.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from ...chip.controls import address_names
from ...chip.model import TextMode, TilesMode
from ...door.shown import value as shown
from ..findings import Findings, WrongError, one_of
from ..tables.contents import PatternsTable
from ..tables.values import PATTERN_NAME
from .assets import Assets
from .dots import Dots, cut, digits, lowered
from .font import FIRST_CHARACTER, glyphs
from .formats import Format, formats


@dataclass(frozen=True, eq=False, repr=False)
class PatternRun:
    """Images (count, bytes) at pattern numbers ``first``, ``first + units`` ...; told by the table at ``place``."""

    first: int
    units: int
    images: Dots
    place: tuple[str | int, ...]
    name: str | None = None

    @property
    def stop(self) -> int:
        """The number after the last one taken."""
        return self.first + self.units * len(self.images)

    def __str__(self) -> str:
        name = self.name or ".".join(map(str, self.place))
        return f"{name} ({self.first} to {self.stop - 1})"


@dataclass(eq=False, repr=False)
class PatternSet:
    """All patterns of a target; ``owners`` are the controls that hold the addresses of number 0: one, or one for each plane."""

    target: str
    owners: tuple[str, ...]
    step: int
    top: int
    runs: list[PatternRun] = field(default_factory=list)

    @property
    def next(self) -> int:
        """The number after all that are taken."""
        return max((run.stop for run in self.runs), default=0)

    def add(self, run: PatternRun) -> None:
        """Take a run in. Raises WrongError where a number is taken already or cannot be named by any cell or sprite."""
        last = run.stop - run.units
        if last > self.top:
            raise WrongError(f"numbers of {self.target} go from 0 to {self.top}, got {run.first} to {last}", "at")
        for other in self.runs:
            if run.first < other.stop and other.first < run.stop:
                raise WrongError(f"numbers {run.first} to {run.stop - 1} overlap {other}", "at")
            if run.name is not None and run.name == other.name:
                raise WrongError(f"{self.target} has patterns called {shown(run.name)} already", "name")
        self.runs.append(run)

    def named(self, name: str) -> PatternRun | None:
        """The run that is called ``name``."""
        return next((run for run in self.runs if run.name == name), None)

    def extent(self) -> tuple[int, int]:
        """First byte and the byte after the last one, counted from number 0, at each of the owners' addresses."""
        low = min(run.first * self.step for run in self.runs)
        return low, max(run.first * self.step + self._size(run) for run in self.runs)

    def _size(self, run: PatternRun) -> int:
        count, size = run.images.shape
        return run.units * self.step * (int(count) - 1) + int(size) // len(self.owners)

    def fill(self, memory: Dots, loaded: npt.NDArray[np.bool_], base: int, owner: int = 0) -> None:
        """Write every run into ``memory`` where number 0 lies at ``base`` for owner number ``owner``, and mark it as loaded."""
        for run in self.runs:
            parts = run.images.reshape(len(run.images), len(self.owners), -1)[:, owner]
            count, size = parts.shape
            stride = run.units * self.step
            start = base + run.first * self.step
            padded = np.zeros((count, stride), np.uint8)
            padded[:, :size] = parts
            mark = np.zeros((count, stride), np.bool_)
            mark[:, :size] = True
            end = start + self._size(run)
            memory[start:end] = padded.reshape(-1)[: end - start]
            loaded[start:end] = mark.reshape(-1)[: end - start]


class Patterns:
    """Every target's patterns. ``bases`` and ``loaded`` are set once memory is laid out."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.sets: dict[str, PatternSet] = {}
        self.bases: dict[str, int] = {}
        self.loaded = np.zeros(findings.chip.memory.size + 1, np.int64)
        for target in findings.targets("tiles", "text"):
            mode = findings.mode(target, "tiles", "text")
            if isinstance(mode, TilesMode):
                self.sets[target] = PatternSet(
                    target, address_names(target, mode), mode.pattern_bytes, mode.cell.pattern.top
                )
            elif isinstance(mode, TextMode):
                self.sets[target] = PatternSet(
                    target, address_names(target, mode), mode.pattern_bytes, mode.cell.character.top
                )
        sprites = findings.chip.sprites
        if sprites:
            self.sets["sprites"] = PatternSet(
                "sprites", ("sprites.patterns",), sprites.step_bytes, sprites.fields.pattern.top
            )

    def settle(self, bases: dict[str, int], memory: Dots) -> None:
        """Write the patterns into ``memory``; ``bases`` has every control's address."""
        loaded = np.zeros(len(memory), np.bool_)
        self.bases = bases
        for one in self.sets.values():
            for number, owner in enumerate(one.owners if one.runs else ()):
                if owner in bases and bases[owner] + one.extent()[1] <= len(memory):
                    one.fill(memory, loaded, bases[owner], number)
        self.loaded = np.concatenate([[0], np.cumsum(loaded)])

    def has(self, target: str, number: int, size: int) -> bool:
        """Whether all ``size`` bytes of the target's pattern ``number``, at each of its addresses, are loaded."""
        one = self.sets[target]
        starts = [self.bases.get(owner, 0) + number * one.step for owner in one.owners]
        return all(
            start + size < len(self.loaded) and int(self.loaded[start + size] - self.loaded[start]) == size
            for start in starts
        )

    def known(self, target: str) -> str:
        """What is loaded for ``target``, in words."""
        runs = sorted(self.sets[target].runs, key=lambda run: run.first)
        return ", ".join(map(str, runs[:20])) + (", ..." if len(runs) > 20 else "") if runs else "none"

    def number(self, target: str, ref: int | str, *sub: str | int) -> int | None:
        """The target's number for a number or ``name+more``; None where it is unknown only because a table has failed.

        A name of another target counts where its patterns lie at a whole number of this one's. Raises WrongError otherwise.
        """
        if isinstance(ref, int):
            return ref
        if not PATTERN_NAME.fullmatch(ref):  # where any text may stand, such as the ends of a motion
            raise WrongError(f'must be a pattern\'s name such as "reeds" or "reeds+3", got {shown(ref)}', *sub)
        name, _, more = ref.partition("+")
        own = self.sets[target]
        run = own.named(name)
        if run is not None:
            return self._within(run, ref, int(more or 0), sub)
        for other in self.sets.values():
            run = other.named(name)
            found = None if run is None else self._shared(own, other, self._within(run, ref, int(more or 0), sub))
            if found is not None:
                return found
        if "patterns" in self.findings.muted:
            return None
        names = [run.name for run in own.runs if run.name]
        raise WrongError(f"{one_of(names, f'the name of patterns for {target}')}, got {shown(ref)}", *sub)

    def _shared(self, own: PatternSet, other: PatternSet, number: int) -> int | None:
        """The number that ``other``'s pattern ``number`` has among ``own``, where it lies at one: in every plane at the same."""
        if len(own.owners) != len(other.owners) or not all(owner in self.bases for owner in own.owners + other.owners):
            return None
        away = {
            self.bases[theirs] + other.step * number - self.bases[ours]
            for ours, theirs in zip(own.owners, other.owners, strict=True)
        }
        one = away.pop()
        if away or one < 0 or one % own.step or one // own.step > own.top:
            return None
        return one // own.step

    def _within(self, run: PatternRun, ref: str, more: int, sub: tuple[str | int, ...]) -> int:
        if more >= len(run.images):
            raise WrongError(f"{run.name} goes to {run.name}+{len(run.images) - 1}, got {shown(ref)}", *sub)
        return run.first + more * run.units


def collect(findings: Findings, assets: Assets, tables: Iterable[tuple[int, PatternsTable]]) -> Patterns:
    """The patterns of all ``tables``; mistakes become problems."""
    patterns = Patterns(findings)
    for index, table in tables:
        with findings.table("patterns", index):
            look = formats(findings, table.target, table.size)
            one = patterns.sets[table.target]
            images = _images(assets, table, look)
            units = -(-look.raster.size // one.step)
            first = table.at
            if first is None:
                first = FIRST_CHARACTER if table.font else one.next
            elif table.font:
                first += FIRST_CHARACTER
            one.add(PatternRun(first, units, images, ("patterns", index), table.name))
    return patterns


def _images(assets: Assets, table: PatternsTable, look: Format) -> Dots:
    """The table's patterns (count, bytes)."""
    if table.font:
        return look.packed(_font(look))
    if table.raw is not None:
        data = np.frombuffer(assets.raw(table.raw, "raw", table.offset, table.length), np.uint8)
        if len(data) % look.size_bytes:
            raise WrongError(
                f"{table.raw} must be whole patterns of {look.size_bytes} bytes, got {len(data)} bytes", "raw"
            )
        return look.from_memory(data)
    if table.rows is not None:
        return look.packed(inline(table.rows, look))
    assert table.png is not None
    indices = assets.picture(table.png, "png").indices
    parts = cut(indices, look.width, look.height, table.png)
    if table.count is not None:
        if table.count > len(parts):
            size = f"{look.width}x{look.height}"
            raise WrongError(
                f"must be at most the patterns of {size} in {table.png}, {len(parts)}, got {table.count}", "count"
            )
        parts = parts[: table.count]
        indices = _without(indices, look, table.count, table.subtract)
    if look.text:
        return look.packed((parts != 0).astype(np.uint8))
    values = lowered(indices, table.subtract, (1 << look.bits) - 1, table.png)
    return look.packed(cut(values, look.width, look.height, table.png)[: len(parts)])


def inline(rows: Sequence[str], look: Format) -> Dots:
    """Patterns (count, height, width) from rows of digits. Raises WrongError where they are not whole."""
    dots = digits(rows, look.bits, look.width)
    if len(dots) % look.height:
        raise WrongError(f"must be whole patterns of {look.height} rows, got {len(dots)}", "rows")
    return dots.reshape(-1, look.height, look.width)


def _font(look: Format) -> Dots:
    if not (look.text and 6 <= look.width <= 8 and 8 <= look.height <= 16):
        raise WrongError("is for text modes with glyphs of 6 to 8 dots across and 8 to 16 down", "font")
    return glyphs(look.width, look.height)


def _without(indices: Dots, look: Format, count: int, value: int) -> Dots:
    """The picture with ``value`` in the dots of all patterns from number ``count`` on: what is not taken cannot be wrong."""
    kept = indices.copy()
    down, across = indices.shape[0] // look.height, indices.shape[1] // look.width
    tiles = kept.reshape(down, look.height, across, look.width)
    beyond = np.arange(count, down * across)
    tiles[beyond // across, :, beyond % across, :] = value
    return kept
