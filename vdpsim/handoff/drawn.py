"""Frames of a scene drawn one after the other, with all that hardware has to be told of them.

Law: a frame is drawn and handed on, and no other is held but what it begins with and leaves. Writes that come when a frame's
last slot is over change nothing of that frame: what they do is told with the beginning of the next.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..chip.model import Chip
from ..engine import Plan, Program, draw
from ..engine.frame import Result
from ..machine.reached import reached, remember
from ..scene import Scene
from ..state.state import State
from ..state.writes import Write


@dataclass(frozen=True, eq=False, repr=False)
class Drawn:
    """A frame: ``chip`` at its size, the state that it begins with, its writes in time, what was drawn, the state that it leaves.

    ``left`` stands before the next frame's line 0, without what later writes than ``writes`` do; ``before`` is the same of the
    frame before, None for the first.
    """

    chip: Chip
    before: State | None
    start: State
    writes: tuple[Write, ...]
    result: Result
    left: State


def drawn(scene: Scene, frames: range, *, damage: bool, traced: bool) -> Iterator[Drawn]:
    """The ``frames`` of ``scene``, with their trace where ``traced`` says so. Raises NotInTimeError as drawing does."""
    plan, before = Plan(scene.chip), None
    for number in frames:
        state = reached(plan, scene, number)
        start, chip = state.copy(), plan.of(state).chip
        every = scene.writes(number)
        writes = tuple(write for write in every if in_time(write, chip))
        result = draw(plan, state, Program(plan, every), damage=damage, trace=traced)
        remember(scene, state)
        left = state
        if len(writes) < len(every):
            left = start.copy()
            draw(plan, left, Program(plan, writes), damage=damage)
        yield Drawn(chip, before, start, writes, result, left)
        before = left


def in_time(write: Write, chip: Chip) -> bool:
    """Whether a write comes before its frame's last slot is over; ``chip`` is at the frame's size."""
    return write.line < chip.frame.lines_per_frame - 1 or write.dot < chip.frame.width
