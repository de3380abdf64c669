"""What a chip tells the CPU: flags that are raised while it draws, and cleared by the CPU.

Law: what is raised follows from the lines drawn; raises and clears act in order of time, and of the two at one instant the
raise comes after. Draws nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ..chip.model import Chip
from ..state.state import State
from .frame import RAISED, Result
from .plan import Plan
from .timeline import Program, Timeline

Touched = Callable[[], npt.NDArray[np.int64]]


class Clear(NamedTuple):
    """At ``line``, ``dot`` the CPU clears these bits of the status and of the collided groups."""

    line: int
    dot: int
    status: int
    groups: int


def raised(plan: Plan, state: State, program: Program, result: Result, touched: Touched, last: int) -> npt.NDArray[Any]:
    """The flags raised on the lines from ``state.line`` up to but not including ``last``, as RAISED.

    ``touched()`` int64 (n, 3): line, dot and bits of the groups that collide there, in order.
    """
    status = plan.chip.status
    if status is None or state.line >= last:
        return np.empty(0, RAISED)
    lines = np.arange(state.line, last)
    found: dict[str, list[tuple[int, int]]] = {}
    if status.line is not None:
        timeline = Timeline(plan, state, program, state.line, last)
        wanted = timeline.control("line_flag")[timeline.row_of_line]
        found["line"] = [(int(line), 0) for line in lines[wanted == lines]]
    end = plan.height % plan.chip.frame.lines_per_frame
    found["picture_end"] = [(end, 0)] if state.line <= end < last else []
    found["dropped"] = [(int(line), 0) for line in sorted(set(result.drops["line"].tolist()))]
    places = touched()
    leftmost = np.unique(places[:, 0], return_index=True)[1]
    found["collision"] = [(line, dot) for line, dot, _ in places[leftmost].tolist()]
    order = [(line, dot, bit, name) for name, bit in status.bits.items() for line, dot in found[name]]
    return np.array([(line, dot, name) for line, dot, _, name in sorted(order)], RAISED)


def settle_flags(chip: Chip, state: State, result: Result, touched: Touched, clears: Sequence[Clear]) -> None:
    """Bring ``state.status`` and ``state.collision_flags`` up to the end of the lines drawn; ``touched`` as for ``raised``."""
    events: list[tuple[int, int, int, int, int]] = [
        (clear.line, clear.dot, 0, clear.status, clear.groups) for clear in clears
    ]
    bits = chip.status.bits if chip.status else {}
    events += [(line, dot, 1, 1 << bits[flag], 0) for line, dot, flag in result.raised.tolist()]
    if not clears:
        state.collision_flags |= result.collision_flags
    else:
        events += [(line, dot, 1, 0, groups) for line, dot, groups in touched().tolist()]
    for _, _, rises, status, groups in sorted(events):
        if rises:
            state.status |= status
            state.collision_flags |= groups
        else:
            state.status &= ~status
            state.collision_flags &= ~groups
