"""The sprites of a chip with a time table: prepared in the slots of the lines to be drawn.

Law: sprites that are prepared a line ahead come to the first line out of the state, and those of the line after the last go
back into it; all others are prepared on the line on which they show. Knows no layer but the slots that layers leave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...state.state import Ahead, State
from ..frame import DROPS
from ..plan import Plan
from ..sprites.dots import show_sprites
from ..sprites.lines import LineSprites, Prepared, prepare
from ..sprites.walk import Asked
from ..timeline import UNIT, Program, Timeline
from .ahead import as_ahead
from .fetches import Fetches

Ints = npt.NDArray[np.int64]

LARGEST_ROW = 64
"""Bytes; no row of a sprite takes more: 64 dots of 8 bits."""


@dataclass(eq=False, repr=False)
class PreparedLines:
    """Lines whose sprites were asked for, what came of it, and the timeline that they were prepared from."""

    asked: Asked
    prepared: Prepared
    timeline: Timeline


@dataclass(eq=False, repr=False)
class InSlots:
    """What is prepared in the slots of the lines to be drawn: for lines among them, and for the line after the last."""

    here: PreparedLines | None = None
    next: PreparedLines | None = None

    def each(self) -> list[PreparedLines]:
        """Those that there are."""
        return [lines for lines in (self.here, self.next) if lines is not None]


class TimedSprites:
    """The sprites over the lines from ``state.line`` up to but not including ``last``; ``incoming``: those of the first."""

    def __init__(
        self, plan: Plan, state: State, timeline: Timeline, program: Program, last: int, incoming: Ahead | None
    ) -> None:
        assert plan.server is not None
        self.plan, self.state, self.timeline, self.program = plan, state, timeline, program
        self.first, self.last, self.incoming = state.line, last, incoming
        self.ahead = plan.server.sprites_ahead
        rows = [row.ljust(LARGEST_ROW, b"\0") for *_, row in incoming.kept] if incoming else []
        # Whole units, like memory and its versions: of all that stands there the store makes tables of whole tiles.
        self.tail = b"".join(rows) + bytes(-len(rows) * LARGEST_ROW % UNIT)
        """The rows of the first line's sprites, to stand behind the memory: they were read a line ago."""

    def prepare(self, fetches: Fetches) -> InSlots:
        """Prepare sprites in the slots that ``fetches`` leave them."""
        if self.plan.chip.sprites is None:
            return InSlots()
        rows = self.timeline.row_of_line
        lines = self.timeline.line[rows]
        if not self.ahead:
            return InSlots(self._prepared(fetches, self.timeline, lines, rows, lines))
        here = self._prepared(fetches, self.timeline, lines[1:], rows[:-1], lines[:-1])
        return InSlots(here, self._next(fetches))

    def _next(self, fetches: Fetches) -> PreparedLines | None:
        """The sprites of the line that follows, where that is one of the picture."""
        frame, line = self.plan.chip.frame, self.last - 1
        target = self.last % frame.lines_per_frame
        if target >= frame.height or self.last == self.first:
            return None
        timeline = self.timeline
        if line >= frame.height:
            timeline = Timeline(self.plan, self.state, self.program, line, self.last)
            timeline.memory = self.timeline.memory
        return self._prepared(fetches, timeline, np.array([target]), timeline.row_of_line[-1:], np.array([line]))

    def _prepared(
        self, fetches: Fetches, timeline: Timeline, lines: Ints, rows: Ints, slot_lines: Ints
    ) -> PreparedLines:
        """The sprites of ``lines``, as of the timeline's ``rows``, in the slots of ``slot_lines``."""
        asked = Asked(lines, rows, slot_lines, fetches.rooms(), fetches.of_line[slot_lines - self.first])
        return PreparedLines(asked, prepare(self.plan, timeline, asked), timeline)

    def made(self, found: InSlots) -> Ints:
        """int64 (lines, 2): accesses of the table and of patterns, in the slots of each line."""
        made = np.zeros((self.last - self.first, 2), np.int64)
        for lines in found.each():
            at = lines.asked.slot_lines - self.first
            made[at, 0] += lines.prepared.of_table
            made[at, 1] += lines.prepared.pattern
        return made

    def unread(self, found: InSlots) -> Ints | None:
        """int64 (lines,): accesses of the scan that found no slot on each line; None without a table in memory."""
        sprites = self.plan.chip.sprites
        if sprites is None or sprites.table != "memory":
            return None
        unread = np.zeros(self.last - self.first, np.int64)
        for lines in found.each():
            unread[lines.asked.slot_lines - self.first] += lines.prepared.unread
        return unread

    def outgoing(self, found: InSlots) -> Ahead | None:
        """The sprites of the line that follows, as the state holds them."""
        if self.ahead and self.last == self.first:
            return self.state.ahead
        return as_ahead(self.plan, found.next.prepared) if found.next else None

    def shown(self, found: InSlots) -> dict[str, Any]:
        """What a Pass says of the sprites that show on these lines, by its fields' names."""
        if found.here is None or not self.timeline.lines:
            none = np.zeros(self.timeline.lines, np.int64)
            return {"found": none, "drawn": none, "drops": np.empty(0, DROPS), "shown": None}
        here, first = found.here.prepared, self.incoming
        counts, drawn, drops, kept = here.found, here.drawn, here.drops, here.kept
        if first is not None:
            dropped = [(self.first, sprite, reason) for sprite, reason in first.drops]
            counts = np.append(first.found, counts)
            drawn = np.append(len(first.kept), drawn)
            drops = np.append(np.array(dropped, DROPS), drops)
            kept = self._with_first(first, kept)
        shown = show_sprites(self.plan, kept, self.timeline.lines)
        return {"found": counts, "drawn": drawn, "drops": drops, "shown": shown}

    def _with_first(self, first: Ahead, kept: LineSprites) -> LineSprites:
        """``kept`` with the first line's sprites, whose rows stand behind the memory."""
        sprites, of_rows = self.plan.chip.sprites, self.plan.sprite_rows
        assert sprites is not None
        assert of_rows is not None
        if not first.kept:
            return kept
        numbers, records, rows, _ = zip(*first.kept, strict=True)
        behind = len(self.timeline.memory.bytes) - len(self.tail)
        own = np.array(records, np.uint64).view(np.int64)  # a record of eight bytes may be above what int64 takes
        layout, record = sprites.fields.layout, _joined(own, kept.record)
        size = layout["size"].get(own) if "size" in layout else np.zeros(len(own), np.int64)
        return LineSprites(
            line=_joined([0] * len(rows), kept.line),
            sprite=_joined(numbers, kept.sprite),
            row=_joined(rows, kept.row),
            record=record,
            place=_joined(of_rows.places(behind + LARGEST_ROW * np.arange(len(rows)), size), kept.place),
            fields={name: bits.get(record) for name, bits in layout.items()},
        )


def _joined(own: Sequence[int] | Ints, others: Ints) -> Ints:
    return np.concatenate([np.array(own, np.int64), others])
