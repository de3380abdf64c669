"""What is fetched a line ahead: layers that a line buffer holds, and sprites, for the first line to be drawn and after the last.

Law: such a layer's dots of a line follow from what is in force at dot 0 of the line before. They become a layer like any
other here, row by row, and nothing after this module asks where they came from. What is switched off while the line shows is
switched off all the same; what was switched off when it was to be fetched is not there. Layers and sprites come to the first line
with the state that the lines before left. Where nothing was prepared, they are prepared from the state as it stands, as though an
empty line below the picture had gone before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...state.state import Ahead, KeptCells, LineBuffer, State
from .. import layers as layer_room
from ..frame import Fed
from ..layers import OFF, LayerDots
from ..plan import LayerPlan, Plan
from ..sprites.lines import Prepared, prepare
from ..sprites.walk import Asked
from ..standing import NOTHING, fed
from ..timeline import Program, Timeline
from .fetches import Fetches

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


class Before(Timeline):
    """The lines that are fetched in the slots of the lines from ``first`` up to but not including ``last``, a row each.

    ``line`` is the line that is fetched and ``slot_line`` the one in whose slots; what counts at dot 0 of that one counts here.
    """

    def __init__(self, plan: Plan, state: State, program: Program, first: int, last: int) -> None:
        super().__init__(plan, state, program, first, last, cut=False)
        frame = plan.chip.frame
        follows = (self.line + 1) % frame.lines_per_frame
        there = follows < frame.height
        self.slot_line, self.line = self.line[there], follows[there]
        self.left, self.right = self.left[there], self.right[there]
        self.row_of_line = np.arange(len(self.line))
        self._controls = {number: values[there] for number, values in self._controls.items()}
        self.first = int(self.line[0]) if len(self.line) else first
        self.lines = len(self.line)


def hold(
    plan: Plan,
    layers: Mapping[int, LayerDots],
    asked: Sequence[Ints],
    shown: Sequence[Ints],
    missed: Mapping[str, int],
) -> dict[int, LineBuffer]:
    """The last row of each of ``layers`` as its buffer.

    ``asked``, ``shown``: which mode each layer of the chip asks for there and which it shows.
    """
    found = {}
    for number, layer in layers.items():
        of_plan = plan.layers[number]
        names = [plan.clients[column] for column in sorted({each for mode in of_plan.modes for each in mode.columns})]
        lost = tuple((name, missed[name]) for name in names if missed.get(name))
        mode = int(shown[number][-1])
        dots: tuple[int, ...] = ()
        fields: tuple[tuple[str, tuple[int, ...]], ...] = ()
        if mode != OFF:
            opaque = layer.opaque[-1]
            dots = tuple(np.where(opaque, layer.entry[-1].astype(np.int64), -1).tolist())
            fields = tuple(_fields(of_plan, mode, layer, opaque))
        found[number] = LineBuffer(int(asked[number][-1]), dots, fields, lost)
    return found


def _fields(of_plan: LayerPlan, index: int, layer: LayerDots, opaque: Bools) -> list[tuple[str, tuple[int, ...]]]:
    """The cell's fields of each dot of the last row, 0 where nothing shows."""
    asked = of_plan.modes[index].mode.asked
    if not asked:
        return []
    groups = next(part for part in layer.parts if part.index == index).drawn.groups()
    assert groups.words is not None
    cell = (np.arange(len(opaque)) + groups.fine[-1]) // (groups.size // groups.cells)
    group = cell // groups.cells
    told = opaque & (group >= groups.first[-1]) & (group <= groups.last[-1])  # an edge may show what no cell says
    words = groups.words[-1][cell]
    return [(name, tuple((bits.get(words) * told).tolist())) for name, bits in asked.items()]


def lay_out(
    plan: Plan,
    timeline: Timeline,
    before: Timeline,
    number: int,
    dots: LayerDots,
    held: LineBuffer,
    shown: Ints,
    *,
    fields: bool,
) -> LayerDots:
    """The layer on the timeline's rows: its first line from ``held``, the others from the rows of ``dots``, of ``before``.

    ``shown`` int64 (rows,): its mode where no other switches it off, else ``OFF``.
    """
    lines = _on_lines(plan, number, dots, held, timeline.lines, fields=fields)
    off, row = shown == OFF, timeline.line - timeline.first

    def of_lines() -> Fed:
        """What fed the dots: of the first line nobody knows any more."""
        found = fed(plan, before, dots)
        none = np.full(plan.width, NOTHING, np.int64)
        planes = (_below(none, plane)[row] for plane in (found.mode, found.cell, found.word, found.data))
        return Fed(*(np.where(off[:, None], NOTHING, plane) for plane in planes))

    lines.fed = of_lines
    if timeline.whole and not off.any():
        return lines
    return LayerDots(
        lines.entry[row],
        lines.opaque[row] & ~off[:, None],
        {when: where[row] for when, where in lines.met.items()},
        {name: plane[row] for name, plane in lines.fields.items()},
        fed=of_lines,
    )


def _on_lines(plan: Plan, number: int, dots: LayerDots, held: LineBuffer, lines: int, *, fields: bool) -> LayerDots:
    """The layer on so many ``lines``: the first from ``held``, the others from the rows of ``dots``."""
    width, rows = plan.width, len(dots.opaque)
    first = _wide(held.dots, width, -1)
    opaque = _below(first >= 0, dots.opaque)[:lines]
    entry = _below(np.maximum(first, 0).astype(dots.entry.dtype), dots.entry)[:lines] * opaque
    none = np.zeros(width, np.int64)
    of_first = {name: _wide(values, width, 0) for name, values in held.fields}
    met = {}
    for when in plan.layers[number].conditions:
        held_meets = np.broadcast_to(when.holds(of_first.get(when.field, none)), width)
        met[when] = _below(held_meets, np.broadcast_to(dots.met.get(when, False), (rows, width)))[:lines]
    planes = {}
    for name in sorted({*of_first, *dots.fields}) if fields else ():
        others = dots.fields.get(name, np.broadcast_to(none, (rows, width)))
        planes[name] = _below(of_first.get(name, none), others)[:lines] * opaque
    return LayerDots(entry, opaque, met, planes)


def _wide(dots: Sequence[int], width: int, beyond: int) -> Ints:
    """``dots`` as a line of ``width``: of a frame that was wider the first, behind those of one that was narrower ``beyond``."""
    line = np.full(width, beyond, np.int64)
    line[: len(dots)] = dots[:width]
    return line


def _below(line: npt.NDArray[Any], lines: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """``lines`` (n, width) with ``line`` (width,) before them, (n + 1, width)."""
    return np.concatenate([line[None], lines])


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
        # a record of eight bytes is read as a signed number; a state has it as the bits that it is
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
            place = row if part.chosen is None else int(np.searchsorted(part.chosen, row))  # if it is there
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
