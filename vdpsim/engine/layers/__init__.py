"""A layer's dots and fetches on every row: each mode draws the rows on which it shows.

Law: a kind of layer is one file with two functions, ``draw(rows) -> DrawnRows`` and ``kept_key(rows)``, and a line in ``KINDS``;
it is loaded when a mode of the kind first shows. A layer that is disabled or switched off by an exclusive mode shows nothing and
fetches nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.tables.table import Condition
from ...state.state import KeptCells
from ..frame import Fed
from ..plan import LayerPlan, ModePlan, Plan
from ..timeline import Timeline
from .common import DrawnRows, KeptRows, Rows

KINDS = {"tiles": ".tiles", "bitmap": ".bitmap", "text": ".text"}
"""The module of each kind of layer."""

OFF = -1
"""The mode of a row on which a layer does not show."""


@dataclass(eq=False, repr=False)
class ModePart:
    """The rows on which one mode of a layer shows: ``chosen`` of the timeline's (None: all), the mode's number, its answer.

    ``skips`` bool (rows of the part,): the row's first group was fetched by the row before.
    """

    chosen: Any
    index: int
    drawn: DrawnRows
    kept: KeptRows | None
    skips: npt.NDArray[np.bool_] | None


@dataclass(eq=False, repr=False)
class LayerDots:
    """A layer on all rows: ``entry`` and ``opaque`` (rows, width), for each condition where it is met, the cells' fields.

    ``parts``: what each of its modes drew, for those who place its fetches in time; ``owned`` says that ``opaque`` may be
    changed. ``fed`` says what fed each dot, where that does not follow from the parts.
    """

    entry: npt.NDArray[Any]
    opaque: npt.NDArray[np.bool_]
    met: dict[Condition, Any]
    fields: dict[str, npt.NDArray[Any]] = field(default_factory=dict)
    parts: list[ModePart] = field(default_factory=list)
    owned: bool = False
    fed: Callable[[], Fed] | None = None


def asked(plan: Plan, timeline: Timeline) -> list[npt.NDArray[np.int64]]:
    """Which mode of each layer would show on each row if none switched another off (``OFF``: it is disabled)."""
    count = len(timeline.line)
    modes = []
    for layer in plan.layers:
        name = layer.layer.name
        mode = np.zeros(count, np.int64)
        if len(layer.modes) > 1:
            above = timeline.line < timeline.control(f"{name}.split")
            mode = np.where(above, timeline.control(f"{name}.mode"), timeline.control(f"{name}.below"))
        modes.append(np.where(timeline.control(f"{name}.enable") == 1, mode, OFF))
    return modes


def show(
    plan: Plan, modes: Sequence[npt.NDArray[np.int64]]
) -> tuple[list[npt.NDArray[np.int64]], npt.NDArray[np.int64]]:
    """Which of the ``modes`` that are asked for shows on each row (``OFF``: none), and which ladder holds there.

    Layers are asked in the chip's order. One that is enabled and not yet switched off has its say: its exclusive mode
    switches other layers off, and the first such mode with a ladder of its own sets the ladder.
    """
    count = len(modes[0])
    off = np.zeros((len(plan.layers), count), np.bool_)
    ladder = np.full(count, OFF, np.int64)
    for number, layer in enumerate(plan.layers):
        for index, mode_plan in enumerate(layer.modes):
            if mode_plan.hides is None:
                continue
            # A layer after this one may switch it off: it has had its say all the same.
            says = ~off[number] & (modes[number] == index)
            for hidden in mode_plan.hides:
                off[hidden] |= says
            if mode_plan.ladder is not None:
                ladder[says & (ladder == OFF)] = mode_plan.ladder
    shown = [np.where(off[number], OFF, mode) for number, mode in enumerate(modes)]
    return shown, np.maximum(ladder, 0)  # the chip's own has number 0


def draw(
    plan: Plan,
    timeline: Timeline,
    layer: LayerPlan,
    shown: npt.NDArray[np.int64],
    counts: npt.NDArray[np.int64],
    *,
    fields: bool,
    kept: KeptCells | None = None,
    times: Mapping[int, Sequence[npt.NDArray[np.int64]]] | None = None,
) -> LayerDots:
    """One layer's dots on all rows; adds its fetches to ``counts`` (clients, rows). ``fields``: with the cells' fields.

    ``kept``: the cells that the layer has from the line before; ``times``: by mode, the instants of its clients' bursts.
    """
    rows = len(shown)
    parts: list[ModePart] = []
    for index, mode in enumerate(layer.modes):
        here = shown == index
        if not here.any():
            continue
        chosen = None if here.all() else np.flatnonzero(here)
        asked = Rows(plan, timeline, mode, chosen, _mode_lines(timeline, layer, mode, chosen), layer.conditions, fields)
        if mode.keeps:
            asked.kept = _kept(asked, index, kept)
        if times is not None:
            asked.times = times.get(index)
        drawn: DrawnRows = _of_kind(mode.mode.kind).draw(asked)
        fetches, skips = drawn.fetches, None
        if not timeline.whole:
            skips, carried = _carried(timeline, chosen, drawn, rows)
            fetches = fetches - carried
        for column, counted in zip(mode.columns, fetches, strict=True):
            counts[column, slice(None) if chosen is None else chosen] += counted
        parts.append(ModePart(chosen, index, drawn, asked.kept, skips))
    if len(parts) == 1 and parts[0].chosen is None:  # as in most frames: its planes are taken as they are, uncopied
        only = parts[0].drawn
        return LayerDots(only.entry, only.opaque, only.met, only.fields, parts)
    return _assembled(plan, layer, parts, rows, fields=fields)


@cache
def _of_kind(kind: str) -> Any:
    return import_module(KINDS[kind], __package__)


def _mode_lines(timeline: Timeline, layer: LayerPlan, mode: ModePlan, chosen: Any) -> npt.NDArray[np.int64]:
    """The mode's own line on each of the ``chosen`` rows: counted from its zone's top where it begins anew there."""
    rows = slice(None) if chosen is None else chosen
    lines = timeline.line[rows]
    if mode.mode.origin != "zone" or len(layer.modes) == 1:
        return lines
    split = timeline.control(f"{layer.layer.name}.split")[rows]
    return np.where(lines < split, lines, lines - split)


def _kept(rows: Rows, index: int, before: KeptCells | None) -> KeptRows:
    """Which rows have the cells of the line before them: both uncut, in the same mode, with the same cells."""
    address, row, scroll = key = _of_kind(rows.mode.mode.kind).kept_key(rows)
    whole = (rows.left == 0) & (rows.right == rows.plan.width)  # a write in mid-line may have moved what was fetched
    same = np.zeros(rows.count, np.bool_)
    same[1:] = whole[1:] & whole[:-1] & (rows.line[1:] == rows.line[:-1] + 1) & (row[1:] >= 0)
    for values in key:
        same[1:] &= values[1:] == values[:-1]
    words = None
    first = (index, int(address[0]), int(row[0]), int(scroll[0]), rows.plan.width)
    follows = rows.line[0] == rows.timeline.first > 0 and whole[0] and row[0] >= 0
    if before and follows and (before.mode, before.address, before.row, before.scroll, before.width) == first:
        same[0], words = True, before.words
    return KeptRows(address, row, scroll, same, words)


def _carried(
    timeline: Timeline, chosen: Any, drawn: DrawnRows, rows: int
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int64]]:
    """Which rows begin where the row before on the same line, in the same mode, ended; the fetches that this saves."""
    chosen = np.arange(rows) if chosen is None else chosen
    first_key, last_key, first_cost = drawn.ends()
    same = np.zeros(len(chosen), np.bool_)
    same[1:] = (chosen[1:] == chosen[:-1] + 1) & (timeline.left[chosen[1:]] > 0)
    same[1:] &= (first_key[:, 1:] == last_key[:, :-1]).all(axis=0)
    same &= (first_cost > 0).any(axis=0)  # a margin that goes on was not fetched at all
    carried: npt.NDArray[np.int64] = np.where(same, first_cost, 0)
    return same, carried


def _assembled(plan: Plan, layer: LayerPlan, parts: list[ModePart], rows: int, *, fields: bool) -> LayerDots:
    shape = (rows, plan.width)
    entry, opaque = np.zeros(shape, np.dtype(plan.entry_dtype)), np.zeros(shape, np.bool_)
    met: dict[Condition, Any] = {when: np.zeros(shape, np.bool_) for when in layer.conditions}
    names = {name for part in parts for name in part.drawn.fields} if fields else set()
    planes = {name: np.zeros(shape, np.int64) for name in names}
    for part in parts:
        chosen, drawn = part.chosen, part.drawn
        entry[chosen], opaque[chosen] = drawn.entry, drawn.opaque
        for when, where in drawn.met.items():
            met[when][chosen] = where
        for name, plane in drawn.fields.items():
            planes[name][chosen] = plane
    return LayerDots(entry, opaque, met, planes, parts)
