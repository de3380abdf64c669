"""Layers that a line buffer holds: fetched in the slots of the line before, shown from the buffer.

Law: such a layer's dots of a line follow from what is in force at dot 0 of the line before. They become a layer like any
other here, row by row, and nothing after this module asks where they came from. What is switched off while the line shows is
switched off all the same; what was switched off when it was to be fetched is not there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ...state.state import LineBuffer, State
from ..frame import Fed
from ..layers import OFF, LayerDots
from ..plan import LayerPlan, Plan
from ..standing import NOTHING, fed
from ..timeline import Program, Timeline

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
