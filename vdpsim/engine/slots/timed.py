"""The passes of a chip with a time table: every layer's dots, the sprites, and where in time their fetches lie.

Law: what a burst reads depends on its slot where memory changes meanwhile, and its slot may depend on what others read; so
passes are repeated, each with the slots that the one before gave out, until nothing changes. That ends: what is right up to
some slot makes the next slot right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...state.state import KeptCells, LineBuffer, State
from .. import layers as layer_room
from ..frame import SlotLog
from ..layers import LayerDots
from ..passes import After, Pass, in_order
from ..plan import Plan
from ..timeline import Program, Timeline, versions
from .ahead import Before, hold, incoming, kept_cells, lay_out
from .fetches import Fetches, Times
from .prepared import InSlots, TimedSprites
from .transfers import Landed, Queue

Ints = npt.NDArray[np.int64]


class NotInTimeError(ValueError):
    """A layer's fetch finds no slot before it is due: the chip does not fit its memory."""


@dataclass(eq=False, repr=False)
class _Try:
    """One pass: the layers' dots, their fetches in slots, the sprites prepared there, the bytes that landed.

    ``times``: when each burst read memory, where anybody asks. ``free``: nothing depends on the slots, so that no further pass
    could change anything.
    """

    drawn: list[LayerDots]
    fetches: Fetches
    sprites: InSlots
    landed: Landed
    times: Times | None
    free: bool

    def agrees(self, before: _Try | None) -> bool:
        """Whether the pass ``before`` it gave out the same slots, so that this one has read what it should."""
        return before is not None and self.landed.same(before.landed) and _same(self.times, before.times)


class TimedPasses:
    """The passes of a chip with a time table over the lines from ``state.line`` up to but not including ``last``."""

    def __init__(self, plan: Plan, state: State, timeline: Timeline, program: Program, last: int) -> None:
        assert plan.server is not None
        self.plan, self.state, self.timeline, self.program = plan, state, timeline, program
        self.first, self.last, self.server = state.line, last, plan.server
        self.queue = Queue(plan, state, program, self.first, last)
        self._find_modes()
        self.incoming = incoming(plan, state, timeline)
        self.sprites = TimedSprites(plan, state, timeline, program, last, self.incoming.ahead)

    def _find_modes(self) -> None:
        """Which mode of each layer shows on each row; of those that a line buffer holds, what is to be fetched for it."""
        self.before = (
            Before(self.plan, self.state, self.program, self.first, self.last) if self.server.layers_ahead else None
        )
        self.asked = layer_room.asked(self.plan, self.timeline)
        if self.before:
            self.asked_before = layer_room.asked(self.plan, self.before)
            self.shown_before = layer_room.show(self.plan, self.asked_before)[0]

    def run(self, *, fields: bool, damage: bool, traced: bool) -> Pass:
        """Repeat passes until they agree. Raises NotInTimeError where a fetch is missed, unless ``damage`` is to be shown."""
        shown, ladder_of_row = self._shown_layers()
        before, now = None, self._try(shown, None, fields=fields, traced=traced)
        while not (now.free or now.agrees(before)):
            before, now = now, self._try(shown, now, fields=fields, traced=traced)
        slot_counts = self._slot_counts(now)
        missed, buffers = self._missed(now.fetches), self._buffers(now)
        if not damage:
            refuse_missed(self.plan, self.timeline.first, missed)
        return Pass(
            layers=self._laid_out(now.drawn, shown, fields=fields),
            ladder_of_row=ladder_of_row,
            counts=slot_counts[: self.timeline.lines, : len(self.plan.clients)],
            missed=missed,
            slots=SlotLog(
                self.server.names, slot_counts, self.plan.per_line, self.first, self.sprites.unread(now.sprites)
            ),
            transfers=self.queue.records(now.landed),
            trace=self._trace(now) if traced else None,
            after=After(self.queue, now.landed, self.sprites.outgoing(now.sprites), buffers, self._kept(now.drawn)),
            **self.sprites.shown(now.sprites),
        )

    def _try(self, shown: Sequence[Ints], before: _Try | None, *, fields: bool, traced: bool) -> _Try:
        """One pass, with bytes and bursts in the slots that the pass ``before`` gave them (None: at the lines' beginnings)."""
        written = self.program.changes(self.plan.per_line, self.last)
        changes = in_order(before.landed.changes() if before else [], written)
        memory = self.timeline.memory = versions(self.state.memory, changes, self.sprites.tail)
        self.plan.store.use(memory.bytes, memory.size)
        drawn = self._draw_layers(shown, before.times if before else None, fields=fields)
        fetches = Fetches(self.plan, self.timeline, self.before, drawn, self.first, self.last)
        sprites = self.sprites.prepare(fetches)
        fetches.serve(self.sprites.made(sprites).sum(axis=1))
        landed = self.queue.land(fetches)
        free = memory.hot is None and not len(landed.instants)  # as in most frames: one pass is enough
        return _Try(drawn, fetches, sprites, landed, None if free and not traced else fetches.times(), free)

    # Layers

    def _shown_layers(self) -> tuple[list[Ints], Ints]:
        """Which mode of each layer shows on each row, and the ladder; of a line buffer's, what the buffer was filled for."""
        modes = list(self.asked)
        row = self.timeline.line - self.timeline.first
        for number in self.server.layers_ahead if self.timeline.lines else ():
            held = self.incoming.buffers[number].mode
            modes[number] = np.append(held, self.asked_before[number])[row]
        return layer_room.show(self.plan, modes)

    def _draw_layers(self, shown: Sequence[Ints], times: Times | None, *, fields: bool) -> list[LayerDots]:
        """Every layer's dots; of those that a line buffer holds, on the rows of ``before``."""
        found = []
        if self.before:
            self.before.memory = self.timeline.memory
        for number, layer in enumerate(self.plan.layers):
            timeline, modes, kept = self.timeline, shown[number], self.state.kept
            if self.before and number in self.server.layers_ahead:
                timeline, modes, kept = self.before, self.shown_before[number], self.incoming.kept
            counts = np.zeros((len(self.plan.clients), len(timeline.line)), np.int64)
            time = None if times is None else times[number]
            found.append(
                layer_room.draw(
                    self.plan, timeline, layer, modes, counts, fields=fields, kept=kept.get(number), times=time
                )
            )
        return found

    def _laid_out(self, drawn: Sequence[LayerDots], shown: Sequence[Ints], *, fields: bool) -> list[LayerDots]:
        """The layers on the timeline's rows."""
        layers = list(drawn)
        if self.before is None or not self.timeline.lines:
            return layers
        for number in self.server.layers_ahead:
            held, own = self.incoming.buffers[number], drawn[number]
            layers[number] = lay_out(
                self.plan, self.timeline, self.before, number, own, held, shown[number], fields=fields
            )
        return layers

    def _missed(self, fetches: Fetches) -> Ints:
        """int64 (lines, clients): accesses that came too late, on the line that they were for."""
        found = fetches.missed()[:, : len(self.plan.clients)]
        lines = self.timeline.lines
        late = found[:lines].copy()
        for number in self.server.layers_ahead if lines else ():  # counted where the slots are, a line too early
            names = {column for mode in self.plan.layers[number].modes for column in mode.columns}
            for column in names:
                late[:, column] = np.append(0, found[: lines - 1, column])
            for name, count in self.incoming.buffers[number].missed:
                late[0, self.plan.column[name]] = count
        return late

    def _buffers(self, now: _Try) -> dict[int, LineBuffer]:
        """What the line buffers hold for the line after these, once lost groups are taken away."""
        now.fetches.hide_lost()
        if self.last == self.first:
            return dict(self.state.buffers)
        if self.before is None or not self._fills():
            return {}
        missed = dict(zip(self.plan.clients, now.fetches.missed()[-1].tolist(), strict=False))
        layers = {number: now.drawn[number] for number in self.server.layers_ahead}
        return hold(self.plan, layers, self.asked_before, self.shown_before, missed)

    def _fills(self) -> bool:
        """Whether the last of these lines is one in whose slots a line buffer is filled."""
        assert self.before is not None
        return bool(len(self.before.slot_line)) and int(self.before.slot_line[-1]) == self.last - 1

    # Logs

    def _slot_counts(self, now: _Try) -> Ints:
        """int64 (lines, slot clients)."""
        counts = now.fetches.counts()
        for name, made in zip(("sprites.table", "sprites.pattern"), self.sprites.made(now.sprites).T, strict=True):
            if name in self.plan.column:
                counts[:, self.plan.column[name]] = made
        lines = now.landed.instants // self.plan.per_line - self.first
        counts[:, self.server.number["cpu"]] = np.bincount(lines, minlength=self.last - self.first)
        return counts

    def _trace(self, now: _Try) -> npt.NDArray[Any]:
        from .trace import Tracer, trace  # noqa: PLC0415 - most frames are drawn without

        tracer = Tracer(self.plan, self.timeline)
        records = [*tracer.layers(now.fetches, now.times or []), *tracer.others(now.fetches, now.landed)]
        for lines in now.sprites.each():
            records += tracer.sprites(lines)
        return trace(self.plan.per_line, records)

    def _kept(self, layers: Sequence[LayerDots]) -> dict[int, KeptCells]:
        """The cells that the line after these may go on with."""
        if self.last == self.first:
            return dict(self.state.kept)
        over = self.last > self.timeline.last or self.last == self.plan.chip.frame.lines_per_frame
        plain, held = {}, {}
        for number, layer in enumerate(layers):
            if number in self.server.layers_ahead:
                held[number] = layer
            else:
                plain[number] = layer
        found = {} if over else kept_cells(plain, self.timeline)
        return found | kept_cells(held, self.before) if self.before and self._fills() else found


def _same(one: Times | None, other: Times | None) -> bool:
    """Whether two passes read at the same instants."""
    if one is None or other is None:
        return False
    return all(
        mine.keys() == theirs.keys()
        and all(np.array_equal(a, b) for mode in mine for a, b in zip(mine[mode], theirs[mode], strict=True))
        for mine, theirs in zip(one, other, strict=True)
    )


def refuse_missed(plan: Plan, first: int, missed: Ints) -> None:
    """Raise NotInTimeError where anything is missed, with the first place and how much there is."""
    lines, clients = np.nonzero(missed)
    if not len(lines):
        return
    line, client = int(lines[0]), int(clients[0])
    raise NotInTimeError(
        f"{plan.chip.name} does not fit: on line {first + line} {plan.clients[client]} finds no slot in time for "
        f"{int(missed[line, client])} of its accesses; {int(missed.sum())} are missed on {len(set(lines.tolist()))} lines in all "
        f"(each line has {plan.per_line} slots); draw it with damage (--damage) to see what would show"
    )
