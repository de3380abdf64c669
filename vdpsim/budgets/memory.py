"""What fits into video memory: what is allotted, what is free, and how many of everything there is room for.

Law: sizes come from the chip's description; who owns which bytes comes from a scene's map, where one is given. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..chip.controls import field_top
from ..chip.model import BitmapMode, Chip, TextMode, TilesMode


@dataclass(frozen=True)
class Capacity:
    """Things of one kind: ``bytes`` of each, how many numbers the chip has for them, and how many memory has room for.

    ``room``: in a memory with nothing else in it. ``left``: in what a scene leaves free, in whole stretches; None without a
    scene.
    """

    name: str
    bytes: int
    numbers: int
    room: int
    left: int | None = None

    @property
    def most(self) -> int:
        """How many distinct ones there can be at once."""
        return min(self.numbers, self.room)


@dataclass(frozen=True)
class Allotted:
    """Bytes ``first`` to ``last`` of video memory belong to ``owner``; ``free`` where they belong to nobody."""

    first: int
    last: int
    owner: str
    free: bool = False

    @property
    def bytes(self) -> int:
        """How many they are."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class MemoryBudget:
    """Video memory of ``size`` bytes: what each kind of thing takes, and what a scene has put there, in order of address.

    ``overlaps``: pairs of owners that share bytes, and how many.
    """

    size: int
    capacities: tuple[Capacity, ...]
    allotted: tuple[Allotted, ...] = ()
    overlaps: tuple[tuple[str, str, int], ...] = ()

    @property
    def free(self) -> int:
        """Bytes that nobody owns; the whole size without a scene."""
        return sum(row.bytes for row in self.allotted if row.free) if self.allotted else self.size

    @property
    def holes(self) -> tuple[Allotted, ...]:
        """Free stretches that have owned bytes on both sides."""
        return tuple(row for row in self.allotted[1:-1] if row.free)


def memory_budget(chip: Chip, rows: Sequence[tuple[int, int, str]] = ()) -> MemoryBudget:
    """The budget of ``chip``'s memory; ``rows``: (first byte, byte after the last, owner) of a scene."""
    size = chip.memory.size
    allotted = tuple(_allotted(rows, size)) if rows else ()
    free = [row.bytes for row in allotted if row.free]
    found = []
    for name, each, numbers in _things(chip):
        left = sum(stretch // each for stretch in free) if rows else None
        found.append(Capacity(name, each, numbers, size // each, left))
    overlaps = [
        (one[2], other[2], min(one[1], other[1]) - max(one[0], other[0]))
        for number, one in enumerate(rows)
        for other in rows[:number]
        if one[0] < other[1] and other[0] < one[1]
    ]
    return MemoryBudget(size, tuple(found), allotted, tuple(overlaps))


def _allotted(rows: Sequence[tuple[int, int, str]], size: int) -> Iterator[Allotted]:
    free = 0
    for first, end, owner in sorted(rows):
        if first > free:
            yield Allotted(free, first - 1, "", free=True)
        yield Allotted(first, end - 1, owner)
        free = max(free, end)
    if free < size:
        yield Allotted(free, size - 1, "", free=True)


def _things(chip: Chip) -> Iterator[tuple[str, int, int]]:
    """Each kind of thing that lies in memory: its name, its bytes, and how many numbers or addresses there are for it."""
    size = chip.memory.size
    for layer in chip.layers:
        for mode in layer.modes:
            name = f"{layer.name}.{mode.name}"
            if isinstance(mode, BitmapMode):
                yield f"{name} bitmap", mode.map_bytes, size
                continue
            yield f"{name} map", mode.map_bytes, size
            if isinstance(mode, TilesMode):
                if mode.pages != (1, 1):
                    yield f"{name} page", mode.page[0] * mode.page[1] * mode.cell_bytes, size
                yield f"{name} tile", mode.pattern_bytes, mode.cell.pattern.top + 1
            elif isinstance(mode, TextMode):
                yield f"{name} glyph", mode.pattern_bytes, mode.cell.character.top + 1
    sprites = chip.sprites
    if sprites is None:
        return
    if sprites.table == "memory":
        yield "sprite table", sprites.count * sprites.record_bytes, size
    seen = set()
    for number, (across, down) in enumerate(sprites.sizes[: 1 + field_top(sprites.fields.size)]):
        if (across, down) not in seen:
            seen.add((across, down))
            each = sprites.row_bytes(number) * down
            every = max(1, -(-each // sprites.step_bytes))
            yield f"sprite {across}x{down}", each, (sprites.fields.pattern.top + every) // every
