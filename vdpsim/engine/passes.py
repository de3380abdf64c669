"""A pass over the lines to be drawn: what lies on them before the ladder decides, and what they leave behind for the next.

Law: without a time table a pass follows from the state and the writes, and one is enough; ``timed.py`` has the others. Here
stands what both kinds answer. The state is as it was until drawing has succeeded; then it is settled, once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.registers import field_names
from ..state.enact import begin_frame, enact_columns, put_bytes, set_field
from ..state.state import Ahead, KeptCells, LineBuffer, State
from . import layers as layer_room
from .frame import DROPS, TRANSFERS, SlotLog
from .layers import LayerDots
from .plan import Plan
from .slots.transfers import Landed, Queue
from .sprites.dots import Shown, show_sprites
from .sprites.lines import prepare
from .sprites.walk import Asked
from .timeline import Change, Program, Timeline

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class Pass:
    """What lies on the picture's lines, before the ladder decides.

    ``ladder_of_row`` int64 (rows,): the number of the ladder that holds there. ``counts``, ``missed`` int64 (lines, clients):
    accesses made, and those that found no slot in time. ``found``, ``drawn`` int64 (lines,): sprites; ``drops`` as DROPS;
    ``shown`` is None on a chip without sprites. With a time table: ``slots``, ``transfers`` as TRANSFERS, ``trace`` as TRACE
    where it was asked for, and ``after``, what is left for the next line.
    """

    layers: list[LayerDots]
    ladder_of_row: Ints
    counts: Ints
    found: Ints
    drawn: Ints
    drops: npt.NDArray[Any]
    shown: Shown | None
    missed: Ints
    slots: SlotLog | None = None
    transfers: npt.NDArray[Any] = field(default_factory=lambda: np.empty(0, TRANSFERS))
    trace: npt.NDArray[Any] | None = None
    after: After | None = None


@dataclass(eq=False, repr=False)
class After:
    """What is left for the next line: bytes that landed, transfers that wait, what was prepared ahead, cells that are kept."""

    queue: Queue
    landed: Landed
    ahead: Ahead | None
    buffers: dict[int, LineBuffer]
    kept: dict[int, KeptCells]


def untimed(plan: Plan, timeline: Timeline, *, fields: bool) -> Pass:
    """The pass of a chip without a time table."""
    plan.store.use(timeline.memory.bytes, timeline.memory.size)
    counts = np.zeros((len(plan.clients), len(timeline.line)), np.int64)
    modes_of, ladder_of_row = layer_room.show(plan, layer_room.asked(plan, timeline))
    layers = [
        layer_room.draw(plan, timeline, layer, modes, counts, fields=fields)
        for layer, modes in zip(plan.layers, modes_of, strict=True)
    ]
    if not timeline.whole:
        counts = np.add.reduceat(counts, timeline.row_of_line, axis=1)
    found = drawn = np.zeros(timeline.lines, np.int64)
    drops, shown = np.empty(0, DROPS), None
    if plan.chip.sprites is not None:
        at = timeline.row_of_line
        prepared = prepare(plan, timeline, Asked(timeline.line[at], at, timeline.line[at]))
        found, drawn, drops = prepared.found, prepared.drawn, prepared.drops
        shown = show_sprites(plan, prepared.kept, timeline.lines)
        for name, made in (("sprites.table", prepared.of_table), ("sprites.pattern", prepared.pattern)):
            if name in plan.column:
                counts[plan.column[name]] = made
    missed = np.zeros((timeline.lines, len(plan.clients)), np.int64)
    return Pass(layers, ladder_of_row, counts.T, found, drawn, drops, shown, missed)


def in_order(landed: list[Change], written: list[Change]) -> list[Change]:
    """All of it in order of time; what landed in the last slot of a line comes before what is written at the next."""
    return sorted([*landed, *written], key=lambda change: change[0]) if landed else written


def settle(plan: Plan, state: State, program: Program, lying: Pass, last: int) -> None:
    """Leave ``state`` as the program leaves it before line ``last``; at the frame's end, before line 0 of the next frame."""
    enact_columns(state, program.registers[2:], program.palette[2:], program.sprites[2:])
    for write in program.waiting:
        set_field(state, field_names(plan.chip)[write.name], write.value, plan.waits)
    # And 1: a port's byte in mid-line was put off to the next line, before which the state stands from now on.
    changes, after = program.changes(plan.per_line, last + 1), lying.after
    if after is not None:
        changes = in_order(after.landed.changes(), changes)
        after.queue.settle(state, after.landed)
        state.ahead, state.buffers, state.kept = after.ahead, after.buffers, after.kept
    for _, address, data in changes:
        put_bytes(state.memory, address, data)
    state.line = last
    if last == plan.chip.frame.lines_per_frame:
        begin_frame(state)
