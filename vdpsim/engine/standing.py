"""Each source on its own: where it stands on the ladder at each dot, and what fed the dot.

Law: asked only by those who want to explain a picture. The source with the lowest rung at a dot is the one that shows there; what
stands behind it is what lies beneath. Changes nothing.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from .frame import ColoursOverTime, Fed, Plane, Standing
from .ladder import Sources
from .layers import LayerDots
from .layers.common import Ints
from .passes import Pass
from .plan import NO_RUNG, Plan
from .sprites.dots import Shown, front_most, rung_of
from .timeline import Timeline

NOTHING = -1
"""The address of what did not feed a dot."""


def planes(plan: Plan, timeline: Timeline, lying: Pass, sources: Sources) -> dict[str, Plane]:
    """Each source but the backdrop on its own, by its name: planes of lines, with what explains them."""
    found = {}
    for layer, dots in zip(plan.layers, lying.layers, strict=True):
        stands = layer_standing(plan, dots, layer.source, lying.ladder_of_row)
        from_where = dots.fed() if dots.fed else fed(plan, timeline, dots)
        found[layer.layer.name] = _plane(timeline, sources, layer.source, stands, from_where)
    if plan.sprite_source is not None:
        stands = sprite_standing(plan, timeline, lying.shown, lying.ladder_of_row)
        found[sources.names[plan.sprite_source]] = _plane(timeline, sources, plan.sprite_source, stands, None)
    return found


def _plane(timeline: Timeline, sources: Sources, number: int, stands: Standing, from_where: Fed | None) -> Plane:
    """Source ``number`` on its own, from planes of rows."""
    return Plane(
        entry=timeline.to_lines(sources.entry[number]),
        opaque=timeline.to_lines(sources.opaque[number]),
        rgb=timeline.to_lines(sources.colours(number)),
        standing=_in_lines(timeline, stands),
        fed=None if from_where is None else _in_lines(timeline, from_where),
    )


def _in_lines(timeline: Timeline, of_rows: Any) -> Any:
    """A Standing or Fed with planes of lines, from one with planes of rows."""
    found = {each.name: getattr(of_rows, each.name) for each in fields(of_rows)}
    return replace(of_rows, **{name: timeline.to_lines(rows) for name, rows in found.items() if rows is not None})


def layer_standing(plan: Plan, layer: LayerDots, source: int, ladder_of_row: Ints) -> Standing:
    """The first rung of a layer, whose number among the sources is ``source``, at each dot of the rows."""
    rung = np.full(layer.opaque.shape, NO_RUNG, np.uint8)
    for index, ladder in enumerate(plan.ladders):
        rows = np.flatnonzero(ladder_of_row == index)
        if not len(rows):
            continue
        here = rung[rows]
        for step in reversed(ladder):  # so that of several rungs the first is written last
            if step.source != source:
                continue
            shown: Any = layer.opaque[rows]
            if step.when is not None:
                met = layer.met[step.when]
                shown = shown & (met if isinstance(met, bool) else met[rows])
            here[shown] = step.number
        rung[rows] = here
    return Standing(np.ascontiguousarray(layer.entry), rung)


def sprite_standing(plan: Plan, timeline: Timeline, shown: Shown | None, ladder_of_row: Ints) -> Standing:
    """Of the sprites' dots the one that stands front-most on the ladder, or among sprites where they settle that first."""
    sprites = plan.chip.sprites
    shape = (len(timeline.line), plan.width)
    entry = np.zeros(shape, np.dtype(plan.entry_dtype))
    rung, sprite = np.full(shape, NO_RUNG, np.uint8), np.full(shape, -1, np.int16)
    if shown is None or sprites is None:
        return Standing(entry, rung, sprite)
    kept, dots = shown.kept, shown.dots
    at = timeline.in_rows(dots.place)
    own = rung_of(plan, kept)[ladder_of_row[at // plan.width], dots.item]
    if sprites.resolve == "before the ladder":
        seen = np.flatnonzero(dots.front)
    else:
        order = np.argsort(NO_RUNG - own, kind="stable")
        seen = order[front_most(at[order], rung.size)[0]]
    where = at[seen]
    entry.reshape(-1)[where], rung.reshape(-1)[where] = dots.entry[seen], own[seen]
    sprite.reshape(-1)[where] = kept.sprite[dots.item[seen]]
    return Standing(entry, rung, sprite)


def fed(plan: Plan, timeline: Timeline, layer: LayerDots) -> Fed:
    """What fed each dot of a layer on the timeline's rows."""
    shape = (len(timeline.line), plan.width)
    mode, cell, word, data = (np.full(shape, NOTHING, np.int64) for _ in range(4))
    for part in layer.parts:
        rows = np.arange(shape[0]) if part.chosen is None else part.chosen
        groups = part.drawn.groups()
        addresses = groups.addresses()
        group = (np.arange(plan.width) + groups.fine[:, None]) // groups.size
        inside = (group >= groups.first[:, None]) & (group <= groups.last[:, None])  # else a margin, or beyond an edge
        index = np.clip(group, 0, max(groups.across - 1, 0))

        def spread(values: npt.NDArray[Any], index: Ints = index, inside: Any = inside) -> Ints:
            found: Ints = np.where(inside, np.take_along_axis(values.astype(np.int64), index, axis=1), NOTHING)
            return found

        size = plan.chip.memory.size
        if groups.words is not None:
            each, within = (np.arange(plan.width) + groups.fine[:, None]) // (groups.size // groups.cells), groups.cells
            address = spread(addresses[0]) + (each - group * within) * groups.cell_bytes
            cell[rows] = np.where(inside, address % size, NOTHING)
            word[rows] = spread(groups.words, np.clip(each, 0, max(groups.across * within - 1, 0)))
        data[rows] = spread(addresses[-1] % size)
        mode[rows] = part.index
    return Fed(mode, cell, word, data)


def colours(tables: npt.NDArray[np.uint8], timeline: Timeline) -> ColoursOverTime:
    """The palette and the backdrop over the timeline's rows; ``tables`` uint8 (versions, entries, 3)."""
    version = np.zeros(len(timeline.line), np.int64) if timeline.palette_of_row is None else timeline.palette_of_row
    columns = [timeline.line, timeline.left, version, timeline.control("backdrop")]
    return ColoursOverTime(np.ascontiguousarray(tables), np.stack(columns, axis=1))
