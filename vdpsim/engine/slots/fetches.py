"""The layers' fetches on every line, placed in slots.

Law: lines of one shape are served together. What comes out says who had which slot, which groups were lost, and at which
instant each burst read memory. Knows no sprite but the number of accesses that they ask for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.line.serving import remembered
from ...chip.line.slots import Served
from ..layers import LayerDots
from ..layers.common import Groups
from ..plan import Plan
from ..timeline import Timeline
from .shapes import LayerRows, distinct, line_shapes

Ints = npt.NDArray[np.int64]
Times = list[dict[int, list[Ints]]]
"""For each layer, by mode: the instants of its clients' bursts, int64 (rows of the part, groups)."""

ACCESSES = 1 << 20
"""More than a line has: it has 8,192 dots x 64 slots at most."""


class BurstArrays(NamedTuple):
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


def _bursts(served: Served) -> list[BurstArrays]:
    """The bursts of a line as arrays."""
    found = []
    for layer, stretch, client, bursts in served.bursts:
        groups = np.array([group for group, _ in bursts], np.int64)
        counts = np.array([len(slots) for _, slots in bursts])
        burst = np.repeat(np.arange(len(bursts)), counts)
        number = np.arange(len(burst)) - (np.cumsum(counts) - counts)[burst]
        slots = np.array([slot for _, slots in bursts for slot in slots], np.int64)
        found.append(BurstArrays(layer, stretch, client, groups, slots[number == 0], burst, number, slots))
    return found


class PlacedBursts(NamedTuple):
    """Bursts on all ``lines`` of their kind: of which mode, by which of its clients; its groups, the lines' places there."""

    bursts: BurstArrays
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
        self._rows = []
        for number, layer in enumerate(layers):
            rows_of = before if before and number in self.server.layers_ahead else timeline
            self._rows.append(LayerRows.of(layer.parts, rows_of, first, last))
        self.shapes, self.of_line = line_shapes(timeline, before, self._rows, first, last)
        self.served: list[Served] = []
        self.served_of_line = self.of_line

    def rooms(self) -> list[tuple[int, ...]]:
        """For each shape the slots that sprites can have."""
        return [self.server.room(shape) for shape in self.shapes]

    def serve(self, sprites: Ints) -> None:
        """Give out the slots; ``sprites`` int64 (lines,): accesses that the sprites make among each line's slots."""
        key = self.of_line * ACCESSES + sprites
        lines, self.served_of_line = distinct(key)
        kinds = (divmod(kind, ACCESSES) for kind in key[lines].tolist())
        self.served = [self.server.serve(self.shapes[shape], made) for shape, made in kinds]

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
                row = int(rows[0])  # lines of one shape have one fine scroll: the group begins at the same dot on all
                groups = of_layer.groups[of_layer.part[row]]
                begin = group * groups.size - int(groups.fine[of_layer.place[row]])
                if not dots.owned:
                    dots.opaque, dots.owned = dots.opaque.copy(), True
                dots.opaque[rows, max(begin, 0) : max(begin + groups.size, 0)] = False

    def _bursts_of(self, kind: int) -> list[BurstArrays]:
        return remembered(self.plan.bursts, _bursts, self.served[kind])

    def placed(self, kind: int) -> Iterator[PlacedBursts]:
        """The bursts of ``served[kind]`` on all lines of its kind."""
        lines = self.lines_of(kind)
        for bursts in self._bursts_of(kind):
            of_layer = self._rows[bursts.layer]
            rows = self._row_of(bursts.layer, lines, bursts.stretch)
            part = int(of_layer.part[rows[0]])
            mode = self.layers[bursts.layer].parts[part].index
            client = self.plan.layers[bursts.layer].modes[mode].columns.index(bursts.client)
            yield PlacedBursts(bursts, mode, client, of_layer.groups[part], of_layer.place[rows], lines)

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
                    for times in found[number][part.index]:  # in order: the row before may have taken it over itself
                        times[place, groups.first[place]] = times[place - 1, groups.last[place - 1]]
