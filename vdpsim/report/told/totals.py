"""What happened in all frames of a page together: what vanished, came too late and collided, and where it did first.

Law: sums up what single frames tell, and draws nothing. A place is a frame, a line and a dot of it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from ...budgets.seen import SeenFrames, seen_too
from ...output.frame import Frame

Json = dict[str, Any]


class Place(NamedTuple):
    """A dot of a frame."""

    frame: int
    line: int
    dot: int


@dataclass
class Count:
    """Something that happens: in how many ``frames``, to whom, how often in all, and its ``first`` place."""

    frames: int = 0
    who: set[Any] = field(default_factory=set)
    number: int = 0
    first: Place | None = None

    def more(self, who: set[Any], number: int, place: Place) -> None:
        """It happened in one more frame."""
        self.frames += 1
        self.who |= who
        self.number += number
        self.first = self.first or place


@dataclass
class Totals:
    """All frames: sprites ``gone`` on lines (and why), fetches that came ``late`` on lines, pairs that ``collided`` on lines.

    ``unread``: accesses to the sprite table for which lines had no slot. ``seen``: what a budget wants to know of them; None on
    a chip without a time table.
    """

    frames: int = 0
    gone: Count = field(default_factory=Count)
    reasons: Counter[str] = field(default_factory=Counter)
    late: Count = field(default_factory=Count)
    unread: Count = field(default_factory=Count)
    collided: Count = field(default_factory=Count)
    seen: SeenFrames | None = None

    def add(self, frame: Frame, told: Json) -> Json:
        """One more frame, and what is told of it. Gives its own numbers: sprites gone, accesses late or left unread, pairs."""
        self.frames += 1
        if frame.slots is not None:
            self.seen = seen_too(self.seen, frame)
        gone = {number for _, number, _ in told["drops"]}
        if gone:
            line, number, _ = told["drops"][0]
            self.gone.more(gone, len(told["drops"]), Place(frame.frame, line, _column(frame, told, number)))
            self.reasons.update(reason for _, _, reason in told["drops"])
        late = sum(told["missed"])
        if late:
            line = next(at for at, count in enumerate(told["missed"]) if count)
            self.late.more(set(), late, Place(frame.frame, line, 0))
        unread = sum(count for count, _ in told["unread"].values())
        if unread:
            line = min(*told["unread"], frame.height - 1)
            self.unread.more(set(told["unread"]), unread, Place(frame.frame, line, 0))
        pairs = {(one, other) for _, one, other, _ in told["collisions"]}
        if pairs:
            line, _, _, dot = told["collisions"][0]
            number = len(told["collisions"]) + told["moreCollisions"]
            self.collided.more(pairs, number, Place(frame.frame, line, dot))
        return {"gone": len(gone), "late": late, "unread": unread, "pairs": len(pairs)}


def _column(frame: Frame, told: Json, number: int) -> int:
    """A dot of the sprite's box that the picture has, the leftmost; 0 where its record does not tell one."""
    x = next((one["x"] for one in told["sprites"] if one["number"] == number), 0)
    return min(max(x, 0), frame.width - 1)
