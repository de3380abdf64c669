"""What was prepared for the first line to be drawn, and what is prepared for the one after the last.

Law: sprites and layers that are fetched a line ahead come to their line with the state that the lines before left. Where
nothing was prepared, they are prepared from the state as it stands, as though an empty line below the picture had gone before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...state.state import Ahead, KeptCells, LineBuffer, State
from .. import layers as layer_room
from ..layers import LayerDots
from ..plan import Plan
from ..sprites.lines import Prepared, prepare
from ..sprites.walk import Asked
from ..timeline import Program, Timeline
from .buffers import hold
from .fetches import Fetches

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class Incoming:
    """What was prepared for the first line: its sprites, its line buffers, the cells that the buffers' layers keep."""

    ahead: Ahead | None
    buffers: dict[int, LineBuffer]
    kept: dict[int, KeptCells]


def incoming(plan: Plan, state: State, timeline: Timeline) -> Incoming:
    """What was prepared for the timeline's first line; where nothing was, as though an empty line had gone before."""
    server = plan.server
    assert server is not None
    if not timeline.lines or not (server.sprites_ahead or server.layers_ahead):
        return Incoming(None, {}, {})
    if (state.ahead is not None or not server.sprites_ahead) and len(state.buffers) == len(server.layers_ahead):
        return Incoming(state.ahead, state.buffers, state.kept)
    first, nothing = timeline.first, Program(plan, ())
    alone, none = Timeline(plan, state, nothing, first, first + 1), np.zeros(1, np.int64)
    plan.store.use(alone.memory.bytes, alone.memory.size)
    asked = layer_room.asked(plan, alone)
    shown = layer_room.show(plan, asked)[0]
    ours = [modes if number in server.layers_ahead else modes[:0] for number, modes in enumerate(shown)]
    empty = Timeline(plan, state, nothing, first, first)
    layers = [
        layer_room.draw(plan, alone if len(modes) else empty, layer, modes, _counted(plan, modes), fields=False)
        for layer, modes in zip(plan.layers, ours, strict=True)
    ]
    fetches = Fetches(plan, empty, alone, layers, first, first + 1)
    ahead, made = None, 0
    if server.sprites_ahead:
        line = np.array([first])
        prepared = prepare(plan, alone, Asked(line, none, line, fetches.rooms(), fetches.of_line))
        ahead, made = as_ahead(plan, prepared), int(prepared.of_table[0] + prepared.pattern[0])
    fetches.serve(none + made)
    fetches.hide_lost()
    missed = dict(zip(plan.clients, fetches.missed()[0].tolist(), strict=False))
    ahead_layers = {number: layers[number] for number in server.layers_ahead}
    return Incoming(ahead, hold(plan, ahead_layers, asked, shown, missed), kept_cells(ahead_layers, alone))


def _counted(plan: Plan, modes: Ints) -> Ints:
    """Room for fetches that nobody will ask for."""
    return np.zeros((len(plan.clients), len(modes)), np.int64)


def as_ahead(plan: Plan, prepared: Prepared) -> Ahead:
    """A line's sprites, ready to be kept until it is drawn."""
    sprites, of_rows = plan.chip.sprites, plan.sprite_rows
    assert sprites is not None
    assert of_rows is not None
    kept, bytes_ = prepared.kept, plan.store.bytes()
    size = kept.fields.get("size", np.zeros(len(kept.sprite), np.int64))
    columns = (kept.sprite, kept.record, kept.row, kept.place, size)
    rows = [
        (sprite, record & (1 << 8 * sprites.record_bytes) - 1, row, of_rows.bytes(bytes_, place, number))
        for sprite, record, row, place, number in zip(*(column.tolist() for column in columns), strict=True)
    ]
    drops = tuple((sprite, reason) for _, sprite, reason in prepared.drops.tolist())
    return Ahead(int(prepared.found[0]), drops, tuple(rows))


def kept_cells(layers: Mapping[int, LayerDots], timeline: Timeline) -> dict[int, KeptCells]:
    """The cells of the timeline's last row, of each layer that keeps them there."""
    row = len(timeline.line) - 1
    found = {}
    for number, dots in layers.items():
        for part in dots.parts:
            place = row if part.chosen is None else int(np.searchsorted(part.chosen, row))
            shows = part.chosen is None or (place < len(part.chosen) and part.chosen[place] == row)
            kept = part.kept
            if kept is None or not shows or timeline.left[row] > 0 or kept.row[place] < 0:
                continue
            groups = part.drawn.groups()
            assert groups.words is not None
            first, end = int(groups.first[place]), int(groups.last[place]) + 1
            words = groups.words[place, first * groups.cells : end * groups.cells].tolist()
            address, map_row, scroll = (int(values[place]) for values in (kept.address, kept.row, kept.scroll))
            found[number] = KeptCells(part.index, address, map_row, scroll, tuple(words), dots.opaque.shape[1])
    return found
