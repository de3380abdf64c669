"""A chip's budget: does it fit, and what does it cost.

Law: a Budget is plain data; every figure in it has a formula in ``explain.py``. Without a scene it says what could happen at
worst; with one, also what happened in the frames that were drawn. Plain Python but for the scene.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from ..chip.displays import display_warnings
from ..chip.model import Chip
from ..chip.timing import frame_rate, line_rate
from .cpu import CpuBudget, cpu_budget
from .line import LineBudget, LinesBudget, lines_budget
from .memory import MemoryBudget, memory_budget
from .onchip import Kept, on_chip
from .reach import most_accesses, scan_costs
from .seen import Seen, seen_in

if TYPE_CHECKING:
    from ..scene import Scene


@dataclass(frozen=True)
class SpritesBudget:
    """Sprites of a line: the most accesses that they ask for, ``asked``, and the fewest slots left for them, ``room``.

    ``size``: of the sprites that ask for most; ``fit``: how many of it find slots on the line that leaves fewest; ``more``:
    how many of these go beyond what the chip's own limits allow; below 0: so many of them find none.
    """

    asked: int
    room: int
    size: tuple[int, int]
    limit: int
    fit: int

    @property
    def more(self) -> int:
        """How many more would fit than the chip's limits allow."""
        return self.fit - self.limit


@dataclass(frozen=True)
class DisplayBudget:
    """Lines and frames a second, Hz, and what the display that the chip is meant for would not take."""

    line_rate: Fraction
    frame_rate: Fraction
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Budget:
    """All figures of a chip.

    ``fits``: on every kind of line each layer's fetches come in time, and the sprites that the chip's limits promise find
    slots; with a scene, in its frames too. ``proved``: no line without writes in mid-line can be worse than what was looked
    through. ``first``: what gives way first. ``lines`` is None for a chip without a time table, whose verdict is then about
    memory alone.
    """

    chip: Chip
    fits: bool
    proved: bool
    first: str
    lines: LinesBudget | None
    sprites: SpritesBudget | None
    memory: MemoryBudget
    cpu: CpuBudget | None
    on_chip: tuple[Kept, ...]
    display: DisplayBudget
    seen: Seen | None = None

    @property
    def worst_line(self) -> LineBudget:
        """The line with most slots used. Raises ValueError for a chip without a time table."""
        if self.lines is None:
            raise ValueError(f"{self.chip.name} has no time table: no line of it has slots")
        return self.lines.worst

    @property
    def free_slots(self) -> int:
        """Slots that the worst line leaves, for the CPU or nobody."""
        return self.worst_line.free

    @property
    def chip_bits(self) -> int:
        """Bits kept on the chip, all together."""
        return sum(kept.bits for kept in self.on_chip)


def budget(chip: Chip, scene: Scene | None = None, frames: Iterable[int] | None = None) -> Budget:
    """The budget of ``chip``; with a ``scene`` of it also what its ``frames`` (None: all of them) really do.

    Raises ValueError for a scene of another chip, or for a chip with more choices of modes than are looked through.
    """
    if scene is not None and scene.chip != chip:
        raise ValueError(f"the scene is made for {scene.chip.name}; load it with chip={chip.name}")
    rows = [] if scene is None else [(row.start, row.end, row.owner) for row in scene.layout]
    memory = memory_budget(chip, rows)
    seen = None if scene is None else seen_in(scene, frames)
    frame = chip.frame
    display = DisplayBudget(line_rate(frame), frame_rate(frame), tuple(display_warnings(frame)))
    if chip.time is None:
        return Budget(
            chip=chip,
            fits=True,
            proved=True,
            first="",
            lines=None,
            sprites=None,
            memory=memory,
            cpu=None,
            on_chip=on_chip(chip),
            display=display,
            seen=seen,
        )
    lines = lines_budget(chip)
    sprites = _sprites(chip, lines)
    short = sprites is not None and _promised(chip) and sprites.asked > sprites.room
    fits = not lines.late and not short and (seen is None or seen.fits)
    return Budget(
        chip,
        fits,
        lines.proved,
        _first(lines, sprites, promised=_promised(chip)),
        lines,
        sprites,
        memory,
        cpu_budget(chip, lines),
        on_chip(chip),
        display,
        seen,
    )


def _promised(chip: Chip) -> bool:
    """Whether the chip file says how many sprites a line takes; without that, slots are the limit."""
    sprites = chip.sprites
    return sprites is not None and (sprites.per_line is not None or sprites.dots_per_line is not None)


def _sprites(chip: Chip, lines: LinesBudget) -> SpritesBudget | None:
    sprites = chip.sprites
    asked, chosen, scan = most_accesses(chip)
    if sprites is None or not chosen:
        return None
    size, _ = chosen[0]
    each = max(1, sprites.row_bytes(size) // chip.memory.bytes_per_access) + scan_costs(chip)[1]
    room = min(lines.least_room, lines.below.room) if lines.below.sprites else lines.least_room
    number = min(sprites.count, sprites.per_line or sprites.count)
    if sprites.dots_per_line is not None:
        number = min(number, sprites.dots_per_line // sprites.sizes[size][0])
    return SpritesBudget(asked, room, sprites.sizes[size], number, max(0, room - scan) // each)


def _first(lines: LinesBudget, sprites: SpritesBudget | None, *, promised: bool) -> str:
    """What gives way first, in words."""
    if lines.late:
        line = lines.late[0]
        client, count = max(line.missed.items(), key=lambda item: item[1])
        return f"{client} comes too late for {count} accesses where {line.name} show"
    if sprites and promised and sprites.asked > sprites.room:
        short = sprites.asked - sprites.room
        return f"sprites: {sprites.asked} accesses are promised to them and {short} of those find no slot on the fullest line"
    close = [(slack, client, line.name) for line in lines.kinds for client, slack in line.slack.items()]
    text = ""
    if close:
        slack, client, name = min(close)
        text = f"{client}, {slack} slot{'s' if slack != 1 else ''} before it would be late, where {name} show"
    if sprites and promised and (not close or sprites.room - sprites.asked < min(close)[0]):
        text = f"sprites, {sprites.room - sprites.asked} slots before they would lose one"
    return text
