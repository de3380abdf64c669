"""How many bytes of the CPU's the chip holds, over a frame's time.

Law: when a byte is at hand is the engine's to say; here it is only counted. A byte is held from then until the slot begins in
which it lands. Moments are in dots from where the frame's slots begin.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from itertools import accumulate
from typing import Any

import numpy as np
import numpy.typing as npt

from ...engine import Plan, Program
from ...engine.ports import decode
from ...engine.slots.transfers import Queue
from ...state.state import State
from ...state.writes import Write

Held = list[tuple[Fraction, int]]
"""Moments, in order, and how many bytes are held from each on."""


def held(plan: Plan, start: State, writes: Iterable[Write], trace: npt.NDArray[Any]) -> Held:
    """The bytes that are held in a frame that begins with ``start``, has these ``writes`` in time and this ``trace``."""
    plan = plan.of(start)
    assert plan.server is not None
    slots = plan.server.line
    queue = Queue(plan, start, _decoded(plan, start, writes), 0, plan.chip.frame.lines_per_frame)
    records = trace[trace["client"] == len(plan.clients) + 1]
    lines, places = records["line"].astype(np.int64), records["slot"].astype(np.int64)
    more = Counter(queue.at_hand((lines * slots.slots + places).tolist()))
    for line, place in zip(lines.tolist(), places.tolist(), strict=True):
        more[line * slots.dots + Fraction(place) / slots.rate] -= 1
    moments = sorted(more)
    return list(zip(moments, accumulate(more[moment] for moment in moments), strict=True))


def _decoded(plan: Plan, start: State, writes: Iterable[Write]) -> Program:
    """The writes with the transfers that bytes through a port make."""
    program = Program(plan, writes)
    ports = [list(port) for port in start.ports]
    found, _ = decode(plan.chip, start, ports, dict(start.held), program.writes)
    return Program(plan, found)
