"""The walk over the sprites of each line: who is dropped, and which accesses are made for the others.

Law: the sprites that lie on a line are taken one after the other, in the order in which the chip does. Those beyond its count
or its dots are dropped; the others ask for their accesses, and one of them that finds no slot drops its sprite. All lines are
worked out together. Knows no record and no dot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.line.clients import Scan, scan_of, sprite_costs
from ..plan import Plan

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(eq=False, repr=False)
class Asked:
    """The lines whose sprites are wanted, and when they are prepared; arrays of one item a line.

    ``lines`` on which they show; ``at`` the timeline's rows whose controls and table hold for them; ``slot_lines`` in whose
    slots they ask. ``rooms`` gives for each shape of a line, which ``shape`` names, the slots that the sprites can have
    there, in order; None: as many as they like.
    """

    lines: Ints
    at: Ints
    slot_lines: Ints
    rooms: Sequence[tuple[int, ...]] | None = None
    shape: Ints | None = None

    def known(self, scan: Scan, count: int) -> Ints | None:
        """Of how many of ``count`` records each line has the slots for a whole ``scan``; None: of all of them, on every line."""
        room = self.room()
        if room is None or not scan.words:
            return None
        known: Ints = room // len(scan.words)
        return None if (known >= count).all() else known

    def room(self) -> Ints | None:
        """How many accesses the sprites can have on each line; None: as many as they like."""
        if self.rooms is None:
            return None
        found: Ints = np.array([len(room) for room in self.rooms], np.int64)[self.shape]
        return found


class SpriteSlots:
    """In which slots of their lines the sprites' accesses are made."""

    def __init__(self, asked: Asked) -> None:
        assert asked.rooms is not None
        assert asked.shape is not None
        self._shape = asked.shape
        self._most = max((len(room) for room in asked.rooms), default=0)
        # A column more than the longest room has, which stays -1: whatever comes after a room's end is looked up there.
        self._slots = np.full((len(asked.rooms), self._most + 1), -1, np.int64)
        for slots, room in zip(self._slots, asked.rooms, strict=True):
            slots[: len(room)] = room

    def of(self, line: Ints, number: Ints) -> Ints:
        """The slot of access ``number`` of each ``line``, an index into the lines asked for; -1 where there is none."""
        return self._slots[self._shape[line], np.minimum(number, self._most)]


@dataclass(eq=False, repr=False)
class SpriteWalk:
    """The walk over the sprites of each line, one item a sprite: who is dropped (and of those why), who asks for accesses.

    ``start``: accesses of its line before its own, of which the first ``rest`` are its record's and ``cost`` its pattern's.
    By line: accesses ``made``, and those among them of the table.
    """

    dropped: Bools
    reason: npt.NDArray[Any]
    asking: Bools
    start: Ints
    rest: int
    cost: Ints
    made: Ints
    of_table: Ints


class _PerLine:
    """Sums over the sprites that were found, one item each, by the ``line`` on which it lies."""

    def __init__(self, line: Ints, lines: int) -> None:
        self.line, self.lines = line, lines
        found = np.bincount(line, minlength=lines)
        self._begin = np.cumsum(found) - found

    def place(self) -> Ints:
        """How many stand before each in its line's walk."""
        found: Ints = np.arange(len(self.line)) - self._begin[self.line]
        return found

    def before(self, values: Ints) -> Ints:
        """What the ``values`` of all that stand before each in its line's walk come to."""
        sums = np.concatenate([[0], np.cumsum(values)])
        found: Ints = sums[:-1] - sums[self._begin][self.line]  # sprites of a line stand together, lines in order
        return found

    def total(self, values: Ints) -> Ints:
        """What the ``values`` of each line come to, int64 (lines,)."""
        return np.bincount(self.line, weights=values, minlength=self.lines).astype(np.int64)


def walk_of(plan: Plan, asked: Asked, line: Ints, size: Ints, enabled: Bools) -> SpriteWalk:
    """Walk over the sprites found on each line: ``line`` and ``size`` of each, in the order of the walk.

    ``enabled`` bool (lines,): whether the line's sprites are looked for at all.
    """
    per_line = _PerLine(line, len(asked.lines))
    over_count, over_dots = _over_limits(plan, per_line, size)
    asking = ~(over_count | over_dots)

    _, scan, rest = scan_of(plan.chip)
    cost = np.array(sprite_costs(plan.chip)).take(size)
    # Who is over the limits asks for nothing; who finds no slot has asked all the same, so that all after it find none.
    own = cost * asking
    start = per_line.before(own) + scan
    made = enabled * scan + per_line.total(own)  # the scan is made on lines that no sprite lies on, too
    over_slots: Bools = np.zeros(len(line), np.bool_)
    room = asked.room()
    if room is not None:
        made = np.minimum(made, room)
        over_slots = asking & (start + own > room[line])
    of_table = np.minimum(made, enabled * scan)
    if rest:
        of_table = of_table + per_line.total(np.clip(made[line] - start, 0, rest) * asking)
    dropped = ~asking | over_slots
    return SpriteWalk(
        dropped=dropped,
        reason=np.where(over_count[dropped], "count", np.where(over_dots[dropped], "dots", "slots")),
        asking=asking,
        start=start,
        rest=rest,
        cost=cost - rest,
        made=made,
        of_table=of_table,
    )


def _over_limits(plan: Plan, per_line: _PerLine, size: Ints) -> tuple[Bools, Bools]:
    """Which sprites are more than a line takes, and which have more dots than are left of those that it takes."""
    sprites = plan.chip.sprites
    assert sprites is not None
    over_count = over_dots = np.zeros(len(size), np.bool_)
    if sprites.per_line is not None:
        over_count = per_line.place() >= sprites.per_line
    if sprites.dots_per_line is not None:
        widths = np.array([width for width, _ in sprites.sizes])[size]
        over_dots = per_line.before(widths) + widths > sprites.dots_per_line
    return over_count, over_dots
