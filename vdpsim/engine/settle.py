"""What the lines that were drawn leave behind for the next.

Law: the one place that changes a state's controls, tables and memory; called once, when drawing has succeeded. Draws nothing.
"""

from __future__ import annotations

import numpy as np

from ..state.state import State
from .passes import Pass, in_order
from .plan import Plan
from .timeline import Program


def settle(plan: Plan, state: State, program: Program, lying: Pass, last: int) -> None:
    """Leave ``state`` as the program leaves it before line ``last``; at the frame's end, before line 0 of the next frame."""
    registers, later, after = program.registers, program.next_frame, lying.after
    state.controls[registers[2]] = registers[3]
    state.next_frame.update(zip(later[2].tolist(), later[3].tolist(), strict=True))
    state.palette[program.palette[2]] = program.palette[3].astype(np.uint32)
    state.sprites.reshape(-1)[program.sprites[2]] = program.sprites[3].astype(np.uint8)
    changes = program.changes(plan.per_line, last + 1)
    if after is not None:
        changes = in_order(after.landed.changes(), changes)
        after.queue.settle(state, after.landed)
        state.ahead, state.buffers, state.kept = after.ahead, after.buffers, after.kept
    for _, address, data in changes:
        state.memory[address : address + len(data)] = np.frombuffer(data, np.uint8)
    state.line = last
    if last == plan.chip.frame.lines_per_frame:
        state.frame, state.line = state.frame + 1, 0
        for number, value in state.next_frame.items():
            state.controls[number] = value
        state.next_frame.clear()
