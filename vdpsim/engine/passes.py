"""One pass over the lines to be drawn: every layer's dots, the sprites, and where in time their fetches lie.

Law: without a time table a pass follows from the state and the writes, and one is enough. With one, what a burst reads depends
on its slot where memory changes meanwhile, and its slot may depend on what others read; so passes are repeated, each with the
slots that the one before gave out, until nothing changes. That ends: what is right up to some slot makes the next slot right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from ..memory import Ahead, KeptCells, State
from . import layers as layer_room
from .fetches import Fetches, Times
from .frame import DROPS, TRANSFERS, SlotLog
from .layers import LayerDots
from .plan import Plan
from .sprite_dots import Shown, show_sprites
from .sprites import Asked, Kept, Prepared, prepare
from .timeline import UNIT, Change, Program, Timeline, versions
from .transfers import Landed, Queue

Ints = npt.NDArray[np.int64]

LARGEST_ROW = 64
"""Bytes; no row of a sprite takes more."""


class NotInTimeError(ValueError):
    """A layer's fetch finds no slot before it is due: the chip does not fit its memory."""


@dataclass(eq=False, repr=False)
class Pass:
    """What lies on the picture's lines, before the ladder decides.

    ``counts``, ``missed`` int64 (lines, clients); ``found``, ``drawn`` int64 (lines,). ``memory`` is what the lines leave
    behind them.
    """

    layers: list[LayerDots]
    ladder_of_row: Ints
    counts: Ints
    found: Ints
    drawn: Ints
    drops: npt.NDArray[Any]
    shown: Shown | None
    missed: Ints
    slots: SlotLog | None = None
    transfers: npt.NDArray[Any] = field(default_factory=lambda: np.empty(0, TRANSFERS))
    trace: npt.NDArray[Any] | None = None
    after: After | None = None


@dataclass(eq=False, repr=False)
class After:
    """What is left for the next line: bytes that landed, transfers that wait, sprites prepared ahead, cells that are kept."""

    queue: Queue
    landed: Landed
    ahead: Ahead | None
    kept: dict[int, KeptCells]


def untimed(plan: Plan, timeline: Timeline, *, fields: bool) -> Pass:
    """The pass of a chip without a time table."""
    plan.store.use(timeline.memory.bytes, timeline.memory.size)
    counts = np.zeros((len(plan.clients), len(timeline.line)), np.int64)
    layers, ladder_of_row = _layers(plan, timeline, counts, {}, None, fields=fields)
    if not timeline.whole:
        counts = np.add.reduceat(counts, timeline.row_of_line, axis=1)
    found = drawn = np.zeros(timeline.lines, np.int64)
    drops, shown = np.empty(0, DROPS), None
    if plan.chip.sprites is not None:
        at = timeline.row_of_line
        prepared = prepare(plan, timeline, Asked(timeline.line[at], at, timeline.line[at]))
        found, drawn, drops = prepared.found, prepared.drawn, prepared.drops
        shown = show_sprites(plan, prepared.kept, timeline.lines)
        for name, made in (("sprites.attribute", prepared.attribute), ("sprites.pattern", prepared.pattern)):
            if name in plan.column:
                counts[plan.column[name]] = made
    missed = np.zeros((timeline.lines, len(plan.clients)), np.int64)
    return Pass(layers, ladder_of_row, counts.T, found, drawn, drops, shown, missed)


def _layers(
    plan: Plan, timeline: Timeline, counts: Ints, kept: dict[int, KeptCells], times: Times | None, *, fields: bool
) -> tuple[list[LayerDots], Ints]:
    modes, ladder_of_row = layer_room.show(plan, timeline)
    drawn = [
        layer_room.draw(
            plan,
            timeline,
            layer,
            mode,
            counts,
            fields=fields,
            kept=kept.get(n),
            times=None if times is None else times[n],
        )
        for n, (layer, mode) in enumerate(zip(plan.layers, modes, strict=True))
    ]
    return drawn, ladder_of_row


class Timed:
    """The passes of a chip with a time table over the lines from ``state.line`` up to but not including ``last``."""

    def __init__(self, plan: Plan, state: State, timeline: Timeline, program: Program, last: int) -> None:
        assert plan.server is not None
        self.plan, self.state, self.timeline, self.program = plan, state, timeline, program
        self.first, self.last, self.server = state.line, last, plan.server
        self.queue = Queue(plan, state, program, self.first, last)
        self.incoming = self._incoming()
        rows = [row.ljust(LARGEST_ROW, b"\0") for *_, row in self.incoming.kept] if self.incoming else []
        self.tail = b"".join(rows) + bytes(-len(rows) * LARGEST_ROW % UNIT)

    def run(self, *, fields: bool, damage: bool, traced: bool) -> Pass:
        """Repeat passes until they agree. Raises NotInTimeError where a fetch is missed, unless ``damage`` is to be shown."""
        times: Times | None = None
        landed: Landed | None = None
        while True:
            written = self.program.changes(self.plan.per_line, self.last)
            changes = in_order(landed.changes() if landed else [], written)
            self.timeline.memory = versions(self.state.memory, changes, self.tail)
            self.plan.store.use(self.timeline.memory.bytes, self.timeline.memory.size)
            counts = np.zeros((len(self.plan.clients), len(self.timeline.line)), np.int64)
            layers, ladder_of_row = _layers(self.plan, self.timeline, counts, self.state.kept, times, fields=fields)
            fetches = Fetches(self.plan, self.timeline, layers, self.first, self.last)
            parts = list(self._sprites(fetches))
            fetches.serve(self._made(parts).sum(axis=1))
            now = self.queue.land(fetches)
            hot = self.timeline.memory.hot is not None or len(now.instants) > 0
            after = fetches.times() if hot or traced else None
            if not hot or (now.same(landed) and _same(after, times)):
                break
            times, landed = after, now
        slot_counts = self._slot_counts(fetches, parts, now)
        missed = fetches.missed()[: self.timeline.lines, : len(self.plan.clients)]
        if not damage:
            _refuse_missed(self.plan, self.timeline.first, missed)
        fetches.hide_lost()
        return Pass(
            layers=layers,
            ladder_of_row=ladder_of_row,
            counts=slot_counts[: self.timeline.lines, : len(self.plan.clients)],
            missed=missed,
            slots=SlotLog(self.server.names, slot_counts, self.plan.per_line, self.first),
            transfers=self.queue.records(now),
            trace=self._trace(fetches, times or after, parts, now) if traced else None,
            after=After(self.queue, now, self._outgoing(parts), self._kept(layers)),
            **self._shown(parts),
        )

    # Sprites

    def _incoming(self) -> Ahead | None:
        """The sprites of the first line, where a line's sprites are prepared a line ahead."""
        if not self.server.sprites_ahead or not self.timeline.lines:
            return None
        if self.state.ahead is not None:
            return self.state.ahead
        alone = Timeline(self.plan, self.state, Program(self.plan, ()), self.first, self.first + 1)
        self.plan.store.use(alone.memory.bytes, alone.memory.size)
        line, none = np.array([self.first]), np.zeros(1, np.int64)
        return _ahead(self.plan, prepare(self.plan, alone, Asked(line, none, line, [self.server.room(())], none)))

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
        """int64 (lines, 2): accesses of sprites for attributes and for patterns, in the slots of each line."""
        made = np.zeros((self.last - self.first, 2), np.int64)
        for part in parts:
            at = part.asked.slot_lines - self.first
            made[at, 0] += part.prepared.attribute
            made[at, 1] += part.prepared.pattern
        return made

    def _outgoing(self, parts: Sequence[Part]) -> Ahead | None:
        if not self.server.sprites_ahead:
            return None
        if self.last == self.first:
            return self.state.ahead
        return _ahead(self.plan, parts[1].prepared) if len(parts) > 1 else None

    def _shown(self, parts: Sequence[Part]) -> dict[str, Any]:
        """What the Pass says of the sprites that show on these lines."""
        found = drawn = np.zeros(self.timeline.lines, np.int64)
        drops, shown = np.empty(0, DROPS), None
        if parts and self.timeline.lines:
            prepared = parts[0].prepared
            found, drawn, drops, kept = prepared.found, prepared.drawn, prepared.drops, prepared.kept
            if self.incoming is not None:
                before = [(self.first, sprite, reason) for sprite, reason in self.incoming.drops]
                found = np.concatenate([[self.incoming.found], found])
                drawn = np.concatenate([[len(self.incoming.kept)], drawn])
                drops = np.concatenate([np.array(before, DROPS), drops])
                kept = self._with_incoming(self.incoming, kept)
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
        for number, name in enumerate(("sprites.attribute", "sprites.pattern")):
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
        found = {}
        if self.last == self.first:
            return dict(self.state.kept)
        if self.last > self.timeline.last or self.last == self.plan.chip.frame.lines_per_frame:
            return {}
        row = len(self.timeline.line) - 1
        for number, layer in enumerate(layers):
            for part in layer.parts:
                place = row if part.chosen is None else int(np.searchsorted(part.chosen, row))
                shows = part.chosen is None or (place < len(part.chosen) and part.chosen[place] == row)
                kept = part.kept
                if kept is None or not shows or self.timeline.left[row] > 0 or kept.row[place] < 0:
                    continue
                groups = part.drawn.groups()
                assert groups.words is not None
                words = groups.words[place, : int(groups.last[place]) + 1].tolist()
                found[number] = KeptCells(
                    part.index, int(kept.address[place]), int(kept.row[place]), int(kept.scroll[place]), tuple(words)
                )
        return found


def in_order(landed: list[Change], written: list[Change]) -> list[Change]:
    """All of it in order of time; what landed in the last slot of a line comes before what is written at the next."""
    return sorted([*landed, *written], key=lambda change: change[0]) if landed else written


@dataclass(eq=False, repr=False)
class Part:
    """Sprites that were asked for, what came of it, and the timeline that they were prepared from."""

    asked: Asked
    prepared: Prepared
    timeline: Timeline


def _ahead(plan: Plan, prepared: Prepared) -> Ahead:
    """A line's sprites, ready to be kept until it is drawn."""
    sprites = plan.chip.sprites
    assert sprites is not None
    kept, bytes_ = prepared.kept, plan.store.bytes()
    size = kept.fields.get("size", np.zeros(len(kept.sprite), np.int64))
    rows = []
    for item, (sprite, record, row) in enumerate(
        zip(kept.sprite.tolist(), kept.record.tolist(), kept.row.tolist(), strict=True)
    ):
        place = int(kept.place[item])
        data = bytes_[place : place + sprites.row_bytes(int(size[item]))].tobytes()
        rows.append((sprite, record & (1 << 8 * sprites.record_bytes) - 1, row, data))
    drops = tuple((sprite, reason) for _, sprite, reason in prepared.drops.tolist())
    return Ahead(int(prepared.found[0]), drops, tuple(rows))


def _same(one: Times | None, other: Times | None) -> bool:
    """Whether two passes read at the same instants."""
    if one is None or other is None:
        return False
    return all(
        mine.keys() == theirs.keys()
        and all(np.array_equal(a, b) for mode in mine for a, b in zip(mine[mode], theirs[mode], strict=True))
        for mine, theirs in zip(one, other, strict=True)
    )


def _refuse_missed(plan: Plan, first: int, missed: Ints) -> None:
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
