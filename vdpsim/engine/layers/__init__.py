"""A layer's dots and fetches on every row: each mode draws the rows on which it shows.

Law: a kind of layer is one file with one function, ``draw(rows) -> Drawn``, and one line in ``KINDS``. A layer that is
disabled or switched off by an exclusive mode shows nothing and fetches nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.condition import Condition
from ..plan import LayerPlan, Plan
from ..timeline import Timeline
from . import bitmap, text, tiles
from .common import Drawn, Rows

KINDS: dict[str, Callable[[Rows], Drawn]] = {"tiles": tiles.draw, "bitmap": bitmap.draw, "text": text.draw}

OFF = -1
"""The mode of a row on which a layer does not show."""


@dataclass(eq=False, repr=False)
class LayerDots:
    """A layer on all rows: ``entry`` and ``opaque`` (rows, width), for each condition where it is met, the cells' fields."""

    entry: npt.NDArray[Any]
    opaque: npt.NDArray[np.bool_]
    met: dict[Condition, Any]
    fields: dict[str, npt.NDArray[Any]] = field(default_factory=dict)


def show(plan: Plan, timeline: Timeline) -> tuple[list[npt.NDArray[np.int64]], npt.NDArray[np.int64]]:
    """Which mode of each layer shows on each row (``OFF``: none), and which ladder holds there.

    Layers are asked in the chip's order. One that is enabled and not yet switched off has its say: its exclusive mode
    switches other layers off, and the first such mode with a ladder of its own sets the ladder.
    """
    count = len(timeline.line)
    modes = []
    off = np.zeros((len(plan.layers), count), np.bool_)
    ladder = np.full(count, OFF, np.int64)
    for number, layer in enumerate(plan.layers):
        name = layer.layer.name
        mode = np.zeros(count, np.int64)
        if len(layer.modes) > 1:
            above = timeline.line < timeline.control(f"{name}.split")
            mode = np.where(above, timeline.control(f"{name}.mode"), timeline.control(f"{name}.below"))
        enabled = timeline.control(f"{name}.enable") == 1
        for index, mode_plan in enumerate(layer.modes):
            if mode_plan.hides is None:
                continue
            says = enabled & ~off[number] & (mode == index)
            for hidden in mode_plan.hides:
                off[hidden] |= says
            if mode_plan.ladder is not None:
                ladder[says & (ladder == OFF)] = mode_plan.ladder
        modes.append(np.where(enabled, mode, OFF))
    shown = [np.where(off[number], OFF, mode) for number, mode in enumerate(modes)]
    return shown, np.maximum(ladder, 0)


def draw(
    plan: Plan,
    timeline: Timeline,
    layer: LayerPlan,
    shown: npt.NDArray[np.int64],
    counts: npt.NDArray[np.int64],
    *,
    fields: bool,
) -> LayerDots:
    """One layer's dots on all rows; adds its fetches to ``counts`` (clients, rows). ``fields``: with the cells' fields."""
    rows = len(shown)
    found: list[tuple[Any, int, Drawn]] = []
    for index, mode in enumerate(layer.modes):
        here = shown == index
        if not here.any():
            continue
        chosen = None if here.all() else np.flatnonzero(here)
        lines = timeline.line if chosen is None else timeline.line[chosen]
        top: Any = 0
        if mode.mode.origin == "zone" and len(layer.modes) > 1:
            split = timeline.control(f"{layer.layer.name}.split")
            split = split if chosen is None else split[chosen]
            top = np.where(lines < split, 0, split)
        drawn = KINDS[mode.mode.kind](Rows(plan, timeline, mode, chosen, lines - top, layer.conditions, fields))
        fetches = drawn.fetches
        if not timeline.whole:
            fetches = fetches - _carried(timeline, chosen, drawn, rows)
        for column, counted in zip(mode.columns, fetches, strict=True):
            counts[column, slice(None) if chosen is None else chosen] += counted
        found.append((chosen, index, drawn))
    if len(found) == 1 and found[0][0] is None:
        only = found[0][2]
        return LayerDots(only.entry, only.opaque, only.met, only.fields)
    return _assembled(plan, layer, found, rows, fields=fields)


def _carried(timeline: Timeline, chosen: Any, drawn: Drawn, rows: int) -> npt.NDArray[np.int64]:
    """Fetches that a row need not make since the row before, on the same line and in the same mode, ended on the same key."""
    chosen = np.arange(rows) if chosen is None else chosen
    first_key, last_key, first_cost = drawn.ends()
    same = np.zeros(len(chosen), np.bool_)
    same[1:] = (chosen[1:] == chosen[:-1] + 1) & (timeline.left[chosen[1:]] > 0)
    same[1:] &= (first_key[:, 1:] == last_key[:, :-1]).all(axis=0)
    carried: npt.NDArray[np.int64] = np.where(same, first_cost, 0)
    return carried


def _assembled(
    plan: Plan, layer: LayerPlan, found: list[tuple[Any, int, Drawn]], rows: int, *, fields: bool
) -> LayerDots:
    shape = (rows, plan.width)
    entry, opaque = np.zeros(shape, np.dtype(plan.entry_dtype)), np.zeros(shape, np.bool_)
    met: dict[Condition, Any] = {when: np.zeros(shape, np.bool_) for when in layer.conditions}
    names = {name for _, _, drawn in found for name in drawn.fields} if fields else set()
    planes = {name: np.zeros(shape, np.int64) for name in names}
    for chosen, _, drawn in found:
        entry[chosen], opaque[chosen] = drawn.entry, drawn.opaque
        for when, where in drawn.met.items():
            met[when][chosen] = where
        for name, plane in drawn.fields.items():
            planes[name][chosen] = plane
    return LayerDots(entry, opaque, met, planes)
