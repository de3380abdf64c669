"""A chip's budget: does it fit, and what does it cost.

Law: a Budget is plain data; every figure in it has a formula in ``explain.py``. Without a scene it says what could happen at
worst; with one, also what happened in the frames that were drawn. Plain Python but for the scene, and for a verdict that wants
the bound or a witness.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from ..chip.line.clients import sprite_costs
from ..chip.line.displays import display_warnings
from ..chip.line.rates import frame_rate, line_rate
from ..chip.model import Chip, FrameTable
from ..chip.registers import at_sizes
from ..door.given import instance, items, whole_number
from ..door.lazy import by_notebook
from .cpu import CpuBudget, cpu_budget, worst_of
from .line.line import Line
from .line.lines import LineBudget, LinesBudget
from .memory import MemoryBudget, memory_budget
from .onchip import OnChip, on_chip
from .proof import How, Proof, Verdict, nearest, promised, prove
from .reach import most_accesses
from .seen import SeenFrames, seen_in
from .sizes import worst_kept, worst_proof

if TYPE_CHECKING:
    from ..scene import Scene
    from .witness.witness import Witness


@dataclass(frozen=True)
class SpritesBudget:
    """Sprites of a line: the most accesses that they ask for, ``asked``, and the fewest slots left for them, ``room``.

    ``room`` is proved; ``found`` is the fewest that a line was seen to leave, the same where every line was served, and
    ``line`` that line. ``size``: of the sprites that ask for most; ``fit``: how many of it find slots on the line that leaves
    fewest; ``more``: how many of these go beyond what the chip's own limits allow; below 0: so many of them find none.
    """

    asked: int
    room: int
    found: int
    line: Line
    size: tuple[int, int]
    limit: int
    fit: int
    promised: bool

    @property
    def more(self) -> int:
        """How many more would fit than the chip's limits allow."""
        return self.fit - self.limit

    @property
    def slack(self) -> int:
        """Slots before the first sprite is lost; below 0: so many accesses find none."""
        return self.room - self.asked


@dataclass(frozen=True)
class DisplayBudget:
    """Lines and frames a second, Hz, and what the display that the chip is meant for would not take."""

    line_rate: Fraction
    frame_rate: Fraction
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class First:
    """What gives way first: a ``client``, and the ``slots`` that it has before it does, on ``line``.

    ``proved``: slots that it has at least. The same as ``slots`` where every line was served. Below 0: nothing is known, or
    it does.
    """

    client: str
    slots: int
    proved: int
    line: Line


@dataclass(frozen=True, repr=False)
class Budget:
    """All figures of a chip.

    ``verdict``: *fits* where it is proved that on every line that the registers allow each layer's fetches come in time, and
    that the sprites that the chip's limits promise find slots; *does not fit* where a drawn scene, the ``witness``, shows that
    they do not, or where the frames of the scene that was asked for do; else *open*. ``how`` it was found: ``served``: every
    line was; ``bound``: by what holds for all; ``witness``; ``scene``; ``open``. Writes in mid-line are left out; ``cut`` are
    the registers whose writes there change what is fetched. ``first``: what gives way first, None where no one can.
    ``lines`` is None for a chip without a time table, whose verdict is then about memory alone (``how`` is ``memory``).
    ``sizes``: where registers let the picture have several sizes, the budget of the chip at each; every figure here is that of
    the size that is worst for it.
    """

    chip: Chip
    verdict: Verdict
    how: How
    cut: tuple[str, ...]
    first: First | None
    witness: Witness | None
    lines: LinesBudget | None
    sprites: SpritesBudget | None
    memory: MemoryBudget
    cpu: CpuBudget | None
    on_chip: tuple[OnChip, ...]
    display: DisplayBudget
    seen: SeenFrames | None = None
    sizes: tuple[Budget, ...] = ()

    def __repr__(self) -> str:
        return f"<Budget of {self.chip.name}: {self.verdict if self.lines else 'memory alone'}>"

    _repr_html_ = by_notebook("budgets", "budget_html")

    @property
    def fits(self) -> bool:
        """Whether it is proved that the chip fits."""
        return self.verdict == "fits"

    @property
    def worst_line(self) -> LineBudget:
        """The fullest kind of line: the one with most slots used. Raises ValueError for a chip without a time table."""
        if self.lines is None:
            raise ValueError(f"{self.chip.name} has no time table: no line of it has slots")
        return self.lines.fullest

    @property
    def free_slots(self) -> int:
        """Slots that the fullest line leaves, for the CPU or nobody."""
        return self.worst_line.free

    @property
    def chip_bits(self) -> int:
        """Bits kept on the chip, all together."""
        return sum(kept.bits for kept in self.on_chip)


def budget(chip: Chip, scene: Scene | None = None, frames: Iterable[int] | None = None) -> Budget:
    """The budget of ``chip``; with a ``scene`` of it also what its ``frames`` (None: all of them) really do.

    Raises ValueError for a scene of another chip.
    """
    instance("chip", chip, Chip)
    if frames is not None:
        frames = tuple(whole_number("frames", each) for each in items("frames", frames, "frames' numbers"))
    if scene is not None and _of(scene) != chip:
        raise ValueError(f"the scene is made for {scene.chip.name}; load it with chip={chip.name}")
    rows = [] if scene is None else [(row.start, row.end, row.owner) for row in scene.layout]
    chips = at_sizes(chip)
    alone = [_untimed(one, chip.frame, rows) for one in chips]
    found = replace(
        alone[0],
        chip=chip,
        on_chip=worst_kept(one.on_chip for one in alone),
        display=replace(alone[0].display, warnings=display_warnings(chip.frame)) if chips[1:] else alone[0].display,
        seen=None if scene is None else seen_in(scene, frames),
        sizes=tuple(alone) if chips[1:] else (),
    )
    return found if chip.time is None else _timed(found, chips)


def in_scene(found: Budget, scene: Scene, seen: SeenFrames | None) -> Budget:
    """The budget that is ``found`` of a chip alone, with what a ``scene`` of it puts into memory and was ``seen`` to do.

    The same as ``budget`` gives for both, without proving again what holds for every scene. ``seen`` None: no time table.
    """
    rows = [(row.start, row.end, row.owner) for row in scene.layout]
    verdict, how = _as_seen(found.verdict, found.how, seen)
    return replace(found, memory=memory_budget(found.chip, rows), seen=seen, verdict=verdict, how=how)


def _as_seen(verdict: Verdict, how: How, seen: SeenFrames | None) -> tuple[Verdict, How]:
    """The verdict on a chip of which frames were seen too: whatever is known, one that misses something does not fit."""
    if seen is not None and not seen.fits and verdict != "does not fit":
        return "does not fit", "scene"
    return verdict, how


def _untimed(chip: Chip, whole: FrameTable, rows: Sequence[tuple[int, int, str]]) -> Budget:
    """What follows from one size of the picture without a time table; ``rows`` of memory are a scene's.

    ``whole``: the frame with all its sizes, as the file has it.
    """
    frame = chip.frame
    return Budget(
        chip=chip,
        verdict="fits",
        how="memory",
        cut=(),
        first=None,
        witness=None,
        lines=None,
        sprites=None,
        memory=memory_budget(chip, rows),
        cpu=None,
        on_chip=on_chip(chip),
        display=DisplayBudget(line_rate(frame), frame_rate(frame), display_warnings(whole, frame.number)),
    )


def _of(scene: Scene) -> Chip:
    from ..scene import Scene  # noqa: PLC0415 - most budgets are asked for without a scene

    chip: Chip = instance("scene", scene, Scene, "a Scene or None").chip
    return chip


def _timed(found: Budget, chips: Sequence[Chip]) -> Budget:
    """The budget with all that a time table brings, at every size of the picture; ``chips`` are the chip at each."""
    proofs = [prove(one, found.chip) for one in chips]
    shares = [cpu_budget(one, proof.lines) for one, proof in zip(chips, proofs, strict=True)]
    each = zip(found.sizes, proofs, shares, strict=True) if found.sizes else ()
    sizes = tuple(_proved(one, proof, share) for one, proof, share in each)
    return replace(_proved(found, worst_proof(chips, proofs), worst_of(shares)), sizes=sizes)


def _proved(found: Budget, proof: Proof, cpu: CpuBudget) -> Budget:
    """The budget with what was proved of its lines, and with the CPU's share of them."""
    lines = proof.lines
    verdict, how = _as_seen(proof.verdict, proof.how, found.seen)
    sprites = _sprites(found.chip, lines)
    return replace(
        found,
        verdict=verdict,
        how=how,
        cut=proof.cut,
        first=_first(lines, sprites),
        witness=proof.witness,
        lines=lines,
        sprites=sprites,
        cpu=cpu,
    )


def witness_of(found: Budget) -> Witness | None:
    """The scene that shows the verdict: what is missed or, of a chip that is not known to miss, the line that comes nearest.

    None where none could be made: for a chip without a time table, or of which no layer and no sprite is ever shown.
    """
    if instance("found", found, Budget).witness is not None or found.lines is None:
        return found.witness
    return nearest(found.chip, found.lines)


def _sprites(chip: Chip, lines: LinesBudget) -> SpritesBudget | None:
    sprites = chip.sprites
    asked, chosen, scan = most_accesses(chip)
    if sprites is None or not chosen or lines.room is None:
        return None
    size, _ = chosen[0]
    each = sprite_costs(chip)[size]
    room = lines.room.slots if lines.room_at_least is None else lines.room_at_least
    number = min(sprites.count, sprites.per_line or sprites.count)
    if sprites.dots_per_line is not None:
        number = min(number, sprites.dots_per_line // sprites.sizes[size][0])
    return SpritesBudget(
        asked=asked,
        room=room,
        found=lines.room.slots,
        line=lines.room.line,
        size=sprites.sizes[size],
        limit=number,
        fit=max(0, room - scan) // each,
        promised=promised(chip),
    )


def _first(lines: LinesBudget, sprites: SpritesBudget | None) -> First | None:
    """What gives way first: what misses most, else the least slack that is proved; a layer's client before sprites."""
    if lines.late:
        late = lines.late[0]
        return First(late.client, -late.missed, -late.missed, late.line)
    found = [First(name, spare.slots, lines.least(name), spare.line) for name, spare in lines.spare.items()]
    if sprites and sprites.promised:
        found.append(First("sprites", sprites.found - sprites.asked, sprites.slack, sprites.line))
    return min(found, key=lambda one: (one.proved, one.slots), default=None)
