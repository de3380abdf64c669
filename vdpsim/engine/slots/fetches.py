"""The layers' fetches on every line, placed in slots.

Law: what each layer drew says which groups it fetches; lines that fetch alike have one shape and are served together. What
comes out says who had which slot, which groups were lost, and at which instant each burst read memory. Knows no sprite but
the number of accesses that they ask for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.line.shapes import BELOW, Shape, Stretch, remembered
from ...chip.line.slots import Served
from ..layers import LayerDots, Part
from ..layers.common import Groups
from ..plan import Plan
from ..timeline import Timeline

Ints = npt.NDArray[np.int64]
Times = list[dict[int, list[Ints]]]
"""For each layer, by mode: the instants of its clients' bursts, int64 (rows of the part, groups)."""

BITS = (11, 11, 11, 11, 1, 1, 3)
"""Bits of fine, first, last, left, skip, kept and mode in a row's code."""


@dataclass(eq=False, repr=False)
class _LayerRows:
    """A layer's rows: a code for what each fetches (0: nothing), which cells are turned, its part and its place there.

    ``timeline`` has the rows. ``row_of_line`` int64 (lines,): the first row that is fetched in a line's slots; -1 for none.
    """

    timeline: Timeline
    row_of_line: Ints
    code: Ints
    turned: Ints
    part: Ints
    place: Ints
    groups: list[Groups]


class Bursts(NamedTuple):
    """One client's bursts for a stretch of a line: the ``groups`` that they are for, int64 (bursts,), and their slots.

    ``first`` int64 (bursts,): the slot of each burst's first access. For every access, int64 (accesses,): ``burst``, its
    place in ``groups``; ``number``, how many of its burst come before it; ``slots``.
    """

    layer: int
    stretch: int
    client: int
    groups: Ints
    first: Ints
    burst: Ints
    number: Ints
    slots: Ints


def _bursts(served: Served) -> list[Bursts]:
    """The bursts of a line as arrays."""
    found = []
    for layer, stretch, client, bursts in served.bursts:
        groups = np.array([group for group, _ in bursts], np.int64)
        counts = np.array([len(slots) for _, slots in bursts])
        burst = np.repeat(np.arange(len(bursts)), counts)
        number = np.arange(len(burst)) - (np.cumsum(counts) - counts)[burst]
        slots = np.array([slot for _, slots in bursts for slot in slots], np.int64)
        found.append(Bursts(layer, stretch, client, groups, slots[number == 0], burst, number, slots))
    return found


def distinct(values: Ints) -> tuple[Ints, Ints]:
    """Where each distinct value stands first, and which of them each value is, numbered in the order of the values.

    What ``numpy.unique`` would give; that one loads masked arrays, which take longer than a frame.
    """
    order = np.argsort(values, kind="stable")
    in_order = values[order]
    fresh = np.ones(len(values), np.bool_)
    fresh[1:] = in_order[1:] != in_order[:-1]
    number = np.empty(len(values), np.int64)
    number[order] = np.cumsum(fresh) - 1
    return order[fresh], number


class Placed(NamedTuple):
    """Bursts on all ``lines`` of their kind: of which mode, by which of its clients; its groups, the lines' places there."""

    bursts: Bursts
    mode: int
    client: int
    groups: Groups
    places: Ints
    lines: Ints


class Fetches:
    """The fetches in the slots of the lines from ``first`` up to but not including ``last``.

    The timeline has the picture's lines among them, and ``before`` the lines that line buffers are filled with there.
    ``of_line`` int64 (lines,): each line's number in ``shapes``.
    """

    def __init__(
        self,
        plan: Plan,
        timeline: Timeline,
        before: Timeline | None,
        layers: Sequence[LayerDots],
        first: int,
        last: int,
    ) -> None:
        assert plan.server is not None
        self.plan, self.server, self.timeline, self.layers = plan, plan.server, timeline, layers
        self.first, self.last, self.before = first, last, before
        self._rows = [
            self._of_layer(layer.parts, before if before and number in self.server.layers_ahead else timeline)
            for number, layer in enumerate(layers)
        ]
        self.shapes: list[Shape] = []
        self.of_line = np.zeros(last - first, np.int64)
        self._find_shapes()
        self.served: list[Served] = []
        self.served_of_line = self.of_line

    def _of_layer(self, parts: Sequence[Part], timeline: Timeline) -> _LayerRows:
        rows = len(timeline.line)
        row_of_line = np.full(self.last - self.first, -1, np.int64)
        row_of_line[timeline.slot_line[timeline.row_of_line] - self.first] = timeline.row_of_line
        code, turned, part_of, place = np.zeros((4, rows), np.int64)
        found = []
        for number, part in enumerate(parts):
            chosen = slice(None) if part.chosen is None else part.chosen
            groups = part.drawn.groups()
            found.append(groups)
            count = len(groups.first)
            left = timeline.left[chosen]
            skip: Any = 0 if part.skips is None else part.skips.astype(np.int64)
            kept: Any = 0 if part.kept is None else part.kept.rows.astype(np.int64)
            fields = (groups.fine + 1024, groups.first, groups.last + 1, left, skip, kept, part.index)
            packed: Any = 0
            for field, bits in zip(fields, BITS, strict=True):
                packed = (packed << bits) + field
            if groups.turned is not None:
                known: dict[bytes, int] = {}
                marks = [row.tobytes() for row in groups.turned != 0]
                turned[chosen] = [known.setdefault(mark, len(known)) for mark in marks]
            code[chosen] = np.where(groups.last >= groups.first, packed + 1, 0)
            part_of[chosen], place[chosen] = number, np.arange(count)
        return _LayerRows(timeline, row_of_line, code, turned, part_of, place, found)

    def _codes(self) -> Ints:
        """int64 (codes, rows): what tells the timeline's rows apart; of a line buffer's at the first row of each line."""
        timeline, found = self.timeline, [self.timeline.left]
        lines = slice(timeline.first - self.first, timeline.last - self.first)
        for rows in self._rows:
            for each in (rows.code, rows.turned):
                if not each.any():
                    continue
                code = each
                if rows.timeline is not timeline:
                    code = np.zeros(len(timeline.line), np.int64)
                    at = rows.row_of_line[lines]
                    code[timeline.row_of_line] = np.where(at >= 0, each[np.maximum(at, 0)], 0)
                found.append(code)
        return np.stack(found[1:] or found)

    def _find_shapes(self) -> None:
        """Number the lines' shapes."""
        timeline = self.timeline
        if self.last > timeline.last or not timeline.lines:
            self.shapes.append(BELOW)
        blank = len(self.shapes)
        codes = self._codes()
        known: dict[Any, int] = {}
        of_line = np.zeros(timeline.lines, np.int64)
        if timeline.whole:
            numbers = lines = np.zeros(timeline.lines, np.int64)
            for code in codes:
                lines, numbers = distinct(distinct(code)[1] + numbers * len(code))
            of_line = numbers + blank
            self.shapes += [self._shape(line + timeline.first, line, line + 1) for line in lines.tolist()]
        else:
            ends = np.append(timeline.row_of_line[1:], len(timeline.line))
            for line, (begin, end) in enumerate(zip(timeline.row_of_line.tolist(), ends.tolist(), strict=True)):
                key = codes[:, begin:end].tobytes()
                if key not in known:
                    known[key] = len(self.shapes)
                    self.shapes.append(self._shape(line + timeline.first, begin, end))
                of_line[line] = known[key]
        at = max(timeline.first - self.first, 0)
        self.of_line[at : at + timeline.lines] = of_line
        for line in [] if self.before is None else self.before.slot_line.tolist():
            if not timeline.first <= line < timeline.last:
                self.of_line[line - self.first] = len(self.shapes)
                self.shapes.append(self._shape(line, 0, 0))

    def _shape(self, line: int, begin: int, end: int) -> Shape:
        """The shape of a line whose rows of the timeline are those from ``begin`` up to but not including ``end``."""
        found = []
        for layer, rows in enumerate(self._rows):
            if rows.timeline is self.timeline:
                found.append(tuple(self._stretch(layer, row) for row in range(begin, end)))
            else:
                found.append((self._stretch(layer, int(rows.row_of_line[line - self.first])),))
        return Shape(self.timeline.first <= line < self.timeline.last, tuple(found))

    def _stretch(self, layer: int, row: int) -> Stretch | None:
        rows = self._rows[layer]
        if row < 0 or not rows.code[row]:
            return None
        part, groups = self.layers[layer].parts[rows.part[row]], rows.groups[rows.part[row]]
        place = int(rows.place[row])
        turned = b"" if groups.turned is None else (groups.turned[place] != 0).tobytes()
        return Stretch(
            part.index,
            int(groups.fine[place]),
            int(groups.first[place]),
            int(groups.last[place]),
            int(rows.timeline.left[row]),
            bool(part.skips is not None and part.skips[place]),
            bool(part.kept is not None and part.kept.rows[place]),
            turned if 1 in turned else b"",
        )

    def rooms(self) -> list[tuple[int, ...]]:
        """For each shape the slots that sprites can have."""
        return [self.server.room(shape) for shape in self.shapes]

    def serve(self, sprites: Ints) -> None:
        """Give out the slots; ``sprites`` int64 (lines,): accesses that the sprites make among each line's slots."""
        key = self.of_line * (1 << 20) + sprites
        lines, self.served_of_line = distinct(key)
        kinds = key[lines].tolist()
        self.served = [self.server.serve(self.shapes[kind >> 20], kind & (1 << 20) - 1) for kind in kinds]

    def counts(self) -> Ints:
        """int64 (lines, slot clients): slots that each has."""
        return self._of_lines([served.counts for served in self.served])

    def missed(self) -> Ints:
        """int64 (lines, slot clients): accesses that found no slot in time."""
        return self._of_lines([served.missed for served in self.served])

    def _of_lines(self, numbers: Sequence[tuple[int, ...]]) -> Ints:
        table = np.array(numbers, np.int64).reshape(-1, len(self.server.names))
        found: Ints = table[self.served_of_line]
        return found

    def lines_of(self, kind: int) -> Ints:
        """The lines, as the frame numbers them, whose slots are given out as ``served[kind]``."""
        return np.flatnonzero(self.served_of_line == kind) + self.first

    def _row_of(self, layer: int, lines: Ints, stretch: int) -> Ints:
        """The layer's rows of a stretch that is fetched in the slots of ``lines``."""
        return self._rows[layer].row_of_line[lines - self.first] + stretch

    def hide_lost(self) -> None:
        """Take the dots of lost groups away from the layers, on all their lines."""
        for kind, served in enumerate(self.served):
            for layer, stretch, group in served.lost:
                rows = self._row_of(layer, self.lines_of(kind), stretch)
                dots, of_layer = self.layers[layer], self._rows[layer]
                row = int(rows[0])
                groups = of_layer.groups[of_layer.part[row]]
                begin = group * groups.size - int(groups.fine[of_layer.place[row]])
                if not dots.owned:
                    dots.opaque, dots.owned = dots.opaque.copy(), True
                dots.opaque[rows, max(begin, 0) : max(begin + groups.size, 0)] = False

    def _bursts_of(self, kind: int) -> list[Bursts]:
        return remembered(self.plan.bursts, _bursts, self.served[kind])

    def placed(self, kind: int) -> Iterator[Placed]:
        """The bursts of ``served[kind]`` on all lines of its kind."""
        lines = self.lines_of(kind)
        for bursts in self._bursts_of(kind):
            of_layer = self._rows[bursts.layer]
            rows = self._row_of(bursts.layer, lines, bursts.stretch)
            part = int(of_layer.part[rows[0]])
            mode = self.layers[bursts.layer].parts[part].index
            client = self.plan.layers[bursts.layer].modes[mode].columns.index(bursts.client)
            yield Placed(bursts, mode, client, of_layer.groups[part], of_layer.place[rows], lines)

    def times(self) -> Times:
        """At which instant each burst reads memory; slot 0 of its line for one that is not made."""
        found: Times = []
        per_line = self.timeline.per_line
        for layer, of_layer in zip(self.layers, self._rows, strict=True):
            by_mode = {}
            for part, groups in zip(layer.parts, of_layer.groups, strict=True):
                own = of_layer.timeline.slot_line
                lines = own if part.chosen is None else own[part.chosen]
                plain = np.repeat(lines[:, None] * per_line, groups.across, axis=1)
                by_mode[part.index] = [plain.copy() for _ in part.drawn.fetches]
            found.append(by_mode)
        for kind in range(len(self.served)):
            for one in self.placed(kind):
                times = found[one.bursts.layer][one.mode][one.client]
                times[one.places[:, None], one.bursts.groups] = (one.lines * per_line)[:, None] + one.bursts.first
        self._carry_times(found)
        return found

    def _carry_times(self, found: Times) -> None:
        """A group that goes on from the stretch before was read when that one read it."""
        for number, layer in enumerate(self.layers):
            for part, groups in zip(layer.parts, self._rows[number].groups, strict=True):
                if part.skips is None:
                    continue
                for place in np.flatnonzero(part.skips).tolist():
                    for times in found[number][part.index]:
                        times[place, groups.first[place]] = times[place - 1, groups.last[place - 1]]
