"""The passes of a chip with a time table: every layer's dots, the sprites, and where in time their fetches lie.

Law: what a burst reads depends on its slot where memory changes meanwhile, and its slot may depend on what others read; so
passes are repeated, each with the slots that the one before gave out, until nothing changes. That ends: what is right up to
some slot makes the next slot right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...state.state import Ahead, KeptCells, LineBuffer, State
from .. import layers as layer_room
from ..frame import DROPS, SlotLog
from ..layers import LayerDots
from ..passes import After, Pass, in_order
from ..plan import Plan
from ..sprites.dots import show_sprites
from ..sprites.lines import Asked, Kept, Prepared, prepare
from ..timeline import UNIT, Program, Timeline, versions
from .buffers import Before, hold, lay_out
from .fetches import Fetches, Times
from .incoming import as_ahead, incoming, kept_cells
from .transfers import Landed, Queue

Ints = npt.NDArray[np.int64]

LARGEST_ROW = 64
"""Bytes; no row of a sprite takes more."""


class NotInTimeError(ValueError):
    """A layer's fetch finds no slot before it is due: the chip does not fit its memory."""


class Timed:
    """The passes of a chip with a time table over the lines from ``state.line`` up to but not including ``last``."""

    def __init__(self, plan: Plan, state: State, timeline: Timeline, program: Program, last: int) -> None:
        assert plan.server is not None
        self.plan, self.state, self.timeline, self.program = plan, state, timeline, program
        self.first, self.last, self.server = state.line, last, plan.server
        self.queue = Queue(plan, state, program, self.first, last)
        self._find_modes()
        self.incoming = incoming(plan, state, timeline)
        ahead = self.incoming.ahead
        rows = [row.ljust(LARGEST_ROW, b"\0") for *_, row in ahead.kept] if ahead else []
        self.tail = b"".join(rows) + bytes(-len(rows) * LARGEST_ROW % UNIT)

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
        times: Times | None = None
        landed: Landed | None = None
        shown, ladder_of_row = self._shown_layers()
        while True:
            written = self.program.changes(self.plan.per_line, self.last)
            changes = in_order(landed.changes() if landed else [], written)
            self.timeline.memory = versions(self.state.memory, changes, self.tail)
            self.plan.store.use(self.timeline.memory.bytes, self.timeline.memory.size)
            drawn = self._draw_layers(shown, times, fields=fields)
            fetches = Fetches(self.plan, self.timeline, self.before, drawn, self.first, self.last)
            parts = list(self._sprites(fetches))
            fetches.serve(self._made(parts).sum(axis=1))
            now = self.queue.land(fetches)
            hot = self.timeline.memory.hot is not None or len(now.instants) > 0
            after = fetches.times() if hot or traced else None
            if not hot or (now.same(landed) and _same(after, times)):
                break
            times, landed = after, now
        slot_counts = self._slot_counts(fetches, parts, now)
        missed, buffers = self._missed(fetches), self._buffers(drawn, fetches)
        if not damage:
            refuse_missed(self.plan, self.timeline.first, missed)
        return Pass(
            layers=self._laid_out(drawn, shown, fields=fields),
            ladder_of_row=ladder_of_row,
            counts=slot_counts[: self.timeline.lines, : len(self.plan.clients)],
            missed=missed,
            slots=SlotLog(self.server.names, slot_counts, self.plan.per_line, self.first),
            transfers=self.queue.records(now),
            trace=self._trace(fetches, times or after, parts, now) if traced else None,
            after=After(self.queue, now, self._outgoing(parts), buffers, self._kept(drawn)),
            **self._shown(parts),
        )

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
        for number in self.server.layers_ahead if lines else ():
            names = {column for mode in self.plan.layers[number].modes for column in mode.columns}
            for column in names:
                late[:, column] = np.append(0, found[: lines - 1, column])
            for name, count in self.incoming.buffers[number].missed:
                late[0, self.plan.column[name]] = count
        return late

    def _buffers(self, drawn: Sequence[LayerDots], fetches: Fetches) -> dict[int, LineBuffer]:
        """What the line buffers hold for the line after these, once lost groups are taken away."""
        fetches.hide_lost()
        if self.last == self.first:
            return dict(self.state.buffers)
        if self.before is None or not self._fills():
            return {}
        missed = dict(zip(self.plan.clients, fetches.missed()[-1].tolist(), strict=False))
        layers = {number: drawn[number] for number in self.server.layers_ahead}
        return hold(self.plan, layers, self.asked_before, self.shown_before, missed)

    def _fills(self) -> bool:
        """Whether the last of these lines is one in whose slots a line buffer is filled."""
        assert self.before is not None
        return bool(len(self.before.slot_line)) and int(self.before.slot_line[-1]) == self.last - 1

    # Sprites

    def _sprites(self, fetches: Fetches) -> Iterator[Part]:
        """The sprites that are prepared in the slots of these lines; those of the line that comes after them last."""
        if self.plan.chip.sprites is None:
            return
        timeline, rooms = self.timeline, fetches.rooms()
        rows = timeline.row_of_line
        lines = timeline.line[rows]
        if not self.server.sprites_ahead:
            asked = Asked(lines, rows, lines, rooms, fetches.of_line[: len(lines)])
            yield Part(asked, prepare(self.plan, timeline, asked), timeline)
            return
        asked = Asked(lines[1:], rows[:-1], lines[:-1], rooms, fetches.of_line[: max(len(lines) - 1, 0)])
        yield Part(asked, prepare(self.plan, timeline, asked), timeline)
        frame = self.plan.chip.frame
        target = self.last % frame.lines_per_frame
        if target < frame.height and self.last > self.first:
            line = self.last - 1
            if line >= frame.height:
                timeline = Timeline(self.plan, self.state, self.program, line, self.last)
                timeline.memory = self.timeline.memory
            row = timeline.row_of_line[-1:]
            asked = Asked(np.array([target]), row, np.array([line]), rooms, fetches.of_line[-1:])
            yield Part(asked, prepare(self.plan, timeline, asked), timeline)

    def _made(self, parts: Sequence[Part]) -> Ints:
        """int64 (lines, 2): accesses of sprites of the table and of patterns, in the slots of each line."""
        made = np.zeros((self.last - self.first, 2), np.int64)
        for part in parts:
            at = part.asked.slot_lines - self.first
            made[at, 0] += part.prepared.of_table
            made[at, 1] += part.prepared.pattern
        return made

    def _outgoing(self, parts: Sequence[Part]) -> Ahead | None:
        if not self.server.sprites_ahead:
            return None
        if self.last == self.first:
            return self.state.ahead
        return as_ahead(self.plan, parts[1].prepared) if len(parts) > 1 else None

    def _shown(self, parts: Sequence[Part]) -> dict[str, Any]:
        """What the Pass says of the sprites that show on these lines."""
        found = drawn = np.zeros(self.timeline.lines, np.int64)
        drops, shown = np.empty(0, DROPS), None
        if parts and self.timeline.lines:
            prepared = parts[0].prepared
            found, drawn, drops, kept = prepared.found, prepared.drawn, prepared.drops, prepared.kept
            incoming = self.incoming.ahead
            if incoming is not None:
                before = [(self.first, sprite, reason) for sprite, reason in incoming.drops]
                found = np.concatenate([[incoming.found], found])
                drawn = np.concatenate([[len(incoming.kept)], drawn])
                drops = np.concatenate([np.array(before, DROPS), drops])
                kept = self._with_incoming(incoming, kept)
            shown = show_sprites(self.plan, kept, self.timeline.lines)
        return {"found": found, "drawn": drawn, "drops": drops, "shown": shown}

    def _with_incoming(self, incoming: Ahead, kept: Kept) -> Kept:
        """``kept`` with the first line's sprites, whose rows stand behind the memory."""
        sprites = self.plan.chip.sprites
        assert sprites is not None
        count = len(incoming.kept)
        if not count:
            return kept
        sprite, row = (np.array([one[at] for one in incoming.kept], np.int64) for at in (0, 2))
        record = np.array([one[1] for one in incoming.kept], np.uint64).view(np.int64)
        behind = len(self.timeline.memory.bytes) - len(self.tail)
        place = behind + LARGEST_ROW * np.arange(count)
        own = (np.zeros(count, np.int64), sprite, row, record, place)
        theirs = (kept.line, kept.sprite, kept.row, kept.record, kept.place)
        line, sprite, row, record, place = (np.concatenate(pair) for pair in zip(own, theirs, strict=True))
        fields = {name: bits.get(record) for name, bits in sprites.fields.layout.items()}
        return Kept(line, sprite, row, record, place, fields)

    # Logs

    def _slot_counts(self, fetches: Fetches, parts: Sequence[Part], landed: Landed) -> Ints:
        """int64 (lines, slot clients)."""
        counts = fetches.counts()
        made = self._made(parts)
        for number, name in enumerate(("sprites.table", "sprites.pattern")):
            if name in self.plan.column:
                counts[:, self.plan.column[name]] = made[:, number]
        lines = landed.instants // self.plan.per_line - self.first
        counts[:, -1] = np.bincount(lines, minlength=self.last - self.first)
        return counts

    def _trace(self, fetches: Fetches, times: Times | None, parts: Sequence[Part], landed: Landed) -> npt.NDArray[Any]:
        from .trace import Tracer, trace  # noqa: PLC0415 - most frames are drawn without

        tracer = Tracer(self.plan, self.timeline)
        records = [*tracer.layers(fetches, times or []), *tracer.others(fetches, landed)]
        for part in parts:
            records += tracer.sprites(part.asked, part.prepared, part.timeline)
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


@dataclass(eq=False, repr=False)
class Part:
    """Sprites that were asked for, what came of it, and the timeline that they were prepared from."""

    asked: Asked
    prepared: Prepared
    timeline: Timeline


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
        f"(each line has {plan.per_line} slots); ask for the damage to see what would show"
    )
