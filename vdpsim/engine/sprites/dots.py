"""The dots of sprites: where they fall, who stands in front.

Law: the dots of sprites are few, so they are kept as a list of dots and not as planes. Dots stand in the list from the back
to the front, so that where two fall on one place the later one is in front. Knows no layer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.model import SpritesTable
from ..layers.common import opaque_dots, over
from ..plan import NO_RUNG, Plan
from .lines import LineSprites

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class SpriteDots:
    """Opaque dots inside the picture, from the back to the front: place = line x width + dot, entry, item of ``LineSprites``.

    ``front`` bool, no other dot stands before it; ``ahead`` the number of the dot that stands front-most at its place.
    """

    place: Ints
    entry: npt.NDArray[Any]
    item: Ints
    front: npt.NDArray[np.bool_]
    ahead: npt.NDArray[np.int32]


@dataclass(eq=False, repr=False)
class Shown:
    """The sprites of the lines to be drawn, and their dots."""

    kept: LineSprites
    dots: SpriteDots


def show_sprites(plan: Plan, kept: LineSprites, lines: int) -> Shown:
    """The opaque dots of everything kept, a size at a time and then put back into the order from back to front."""
    sprites = plan.chip.sprites
    assert sprites is not None
    if len(sprites.sizes) == 1:
        place, entry, item = _dots_of(plan, sprites, kept, 0)
    else:
        parts = []
        for size in range(len(sprites.sizes)):
            items = np.flatnonzero(kept.fields["size"] == size)
            place, entry, item = _dots_of(plan, sprites, _chosen(kept, items), size)
            parts.append((place, entry, items.take(item)))
        place, entry, item = (np.concatenate(columns) for columns in zip(*parts, strict=True))
        order = np.argsort(item, kind="stable")
        place, entry, item = place.take(order), entry.take(order), item.take(order)
    return Shown(kept, SpriteDots(place, entry, item, *front_most(place, lines * plan.width)))


def _chosen(kept: LineSprites, items: Ints) -> LineSprites:
    """Those of ``kept`` whose numbers are ``items``."""
    return LineSprites(
        line=kept.line.take(items),
        sprite=kept.sprite.take(items),
        row=kept.row.take(items),
        record=kept.record.take(items),
        place=kept.place.take(items, axis=0),
        fields={name: values.take(items) for name, values in kept.fields.items()},
    )


def _dots_of(plan: Plan, sprites: SpritesTable, kept: LineSprites, size: int) -> tuple[Ints, npt.NDArray[Any], Ints]:
    """The opaque dots of ``kept``, all of one size: place, entry, item of ``kept``."""
    field = kept.fields
    assert plan.sprite_rows is not None
    width = sprites.sizes[size][0]
    values = plan.sprite_rows.values(plan.store, kept.place, size)
    if "flip_x" in field:
        flipped = field["flip_x"].nonzero()[0]
        values[flipped] = values[flipped, ::-1]  # into the values themselves, which were gathered for this call
    x = field["x"] - field["x_bias"] * sprites.x_bias if "x_bias" in field else field["x"]
    edge = plan.width
    if sprites.wrap_x:
        x = x & sprites.fields.x.top
        edge = min(edge, sprites.fields.x.top + 1)  # a field may count around before the picture's right edge
    shown = opaque_dots(values, sprites.transparent)
    begins = kept.line * plan.width
    at = (begins + x)[:, None] + np.arange(width)
    leaning = ((x < 0) | (x > edge - width)).nonzero()[0]
    if len(leaning):  # the few that end or go around, alone: a look at all dots takes a fortieth of a frame
        dot = x.take(leaning)[:, None] + np.arange(width)
        if sprites.wrap_x:
            dot &= sprites.fields.x.top
        shown[leaning] &= (dot >= 0) & (dot < plan.width)
        at[leaning] = dot + begins.take(leaning)[:, None]
    base_entry, bank_step, value_step = plan.chip.entry_rule(sprites.entries)
    dtype = np.dtype(plan.entry_dtype)
    entry: npt.NDArray[Any] = values.astype(dtype, copy=False)
    if value_step != 1:
        entry = entry * dtype.type(value_step)
    if "bank" in field:
        entry = entry + (base_entry + field["bank"] * bank_step).astype(dtype)[:, None]
    else:
        entry = entry + dtype.type(base_entry)
    found = np.flatnonzero(shown)
    return at.reshape(-1).take(found), entry.reshape(-1).take(found), over(found, width)


def front_most(place: Ints, size: int) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int32]]:
    """Which dots of a list, ordered from back to front, have no dot in front of them, and who stands in front at their place.

    Places are below ``size``; the second array numbers dots of the list.
    """
    numbers = np.arange(len(place), dtype=np.int32)
    last = np.empty(size, np.int32)  # read only where it was written
    last[place] = numbers  # of several at one place the last stays; to sort by place would take a hundred times as long
    ahead = last.take(place)
    return ahead == numbers, ahead


def rung_of(plan: Plan, kept: LineSprites) -> npt.NDArray[np.uint8]:
    """uint8 (ladders, items): the first rung of each ladder that takes the sprite; ``NO_RUNG`` where none does."""
    source = len(plan.chip.source_names) - 1
    rungs = np.full((len(plan.ladders), len(kept.line)), NO_RUNG, np.uint8)
    for number, ladder in enumerate(plan.ladders):
        for step in reversed(ladder):
            if step.source != source:
                continue
            if step.when is None:
                rungs[number] = step.number
            else:
                rungs[number, step.when.holds(kept.fields[step.when.field])] = step.number
    return rungs
