"""What the lines that were drawn leave behind for the next.

Law: called once, when drawing has succeeded; until then the state is as it was. Draws nothing.
"""

from __future__ import annotations

from ..chip.registers import field_names
from ..state.enact import begin_frame, enact_columns, put_bytes, set_field
from ..state.state import State
from .passes import Pass, in_order
from .plan import Plan
from .timeline import Program


def settle(plan: Plan, state: State, program: Program, lying: Pass, last: int) -> None:
    """Leave ``state`` as the program leaves it before line ``last``; at the frame's end, before line 0 of the next frame."""
    enact_columns(state, program.registers[2:], program.palette[2:], program.sprites[2:])
    for write in program.waiting:
        set_field(state, field_names(plan.chip)[write.name], write.value, plan.waits)
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
