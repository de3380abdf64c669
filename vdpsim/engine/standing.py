"""Each source on its own: where it stands on the ladder at each dot, and what fed the dot.

Law: asked only by those who want to explain a picture. The source with the lowest rung at a dot is the one that shows there; what
stands behind it is what lies beneath. Changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from .frame import Colours, Fed, Standing
from .layers import LayerDots
from .layers.common import Ints
from .plan import NO_RUNG, Plan
from .sprites.dots import Shown, front_most, rung_of
from .timeline import Timeline

NOTHING = -1
"""The address of what did not feed a dot."""


def layer_standing(plan: Plan, layers: Sequence[LayerDots], number: int, ladder_of_row: Ints) -> Standing:
    """Layer ``number``'s first rung at each dot of the rows."""
    layer = layers[number]
    rung = np.full(layer.opaque.shape, NO_RUNG, np.uint8)
    for index, ladder in enumerate(plan.ladders):
        rows = np.flatnonzero(ladder_of_row == index)
        if not len(rows):
            continue
        here = rung[rows]
        for step in reversed(ladder):
            if step.source != number + 1:
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
        seen = order[front_most(plan, at[order], rung.size)[0]]
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
        inside = (group >= 0) & (group < groups.across)
        if groups.words is not None and groups.across:  # a margin stands beside the columns of a text
            inside &= group <= np.maximum(groups.last, groups.first)[:, None]
        inside &= (groups.last >= groups.first)[:, None]
        index = np.clip(group, 0, max(groups.across - 1, 0))

        def spread(values: npt.NDArray[Any], index: Ints = index, inside: Any = inside) -> Ints:
            found: Ints = np.where(inside, np.take_along_axis(values.astype(np.int64), index, axis=1), NOTHING)
            return found

        size = plan.chip.memory.size
        if groups.words is not None:
            cell[rows], word[rows] = spread(addresses[0] % size), spread(groups.words)
        data[rows] = spread(addresses[-1] % size)
        mode[rows] = part.index
    return Fed(mode, cell, word, data)


def colours(tables: npt.NDArray[np.uint8], timeline: Timeline) -> Colours:
    """The palette and the backdrop over the timeline's rows; ``tables`` uint8 (versions, entries, 3)."""
    version = np.zeros(len(timeline.line), np.int64) if timeline.palette_of_row is None else timeline.palette_of_row
    columns = [timeline.line, timeline.left, version, timeline.control("backdrop")]
    return Colours(np.ascontiguousarray(tables), np.stack(columns, axis=1))
