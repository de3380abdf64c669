"""Timed writes as a scene runs: what is written in which frame, and the bytes that come of it.

Law: what was resolved and checked when the scene was loaded gives its drafts for a frame, in the order of its lines. A sprite's
record is written whole, with what the scene has made of the sprite by then, so its bytes are only known once the writes
before it have acted. Knows no file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd
from typing import NamedTuple

from ..state.writes import MemoryWrite, PortWrite, SpriteWrite, Transfer, Write
from .contents.sprites import Fields, SpriteMaker


@dataclass(frozen=True, eq=False, repr=False)
class SpriteDraft:
    """Sprite ``number`` gets ``changes``, and its whole record is written, before ``line``."""

    line: int
    number: int
    changes: tuple[tuple[str, int], ...]
    dot: int = 0


Draft = Write | SpriteDraft


class TimedWrite(NamedTuple):
    """Drafts for the lines of a frame: ``drafts`` one for each of ``lines``, or a list that goes round.

    In the frames of ``frames`` (None: all), line number i gets entry (i + frame x advance) of the list. All of them are of one
    kind and write to one place, so that what is written last leaves nothing of what was written before; not so where it
    ``follows`` from what is there what a write makes.
    """

    lines: Sequence[int]
    drafts: tuple[Draft, ...]
    frames: range | None
    advance: int = 0
    follows: bool = False

    def last_before(self, frame: int) -> int | None:
        """The last frame before ``frame`` in which it writes; None where there is none."""
        if self.frames is None:
            return frame - 1 if frame else None
        before = range(self.frames.start, min(frame, self.frames.stop), self.frames.step)
        return before[-1] if before else None

    def first_from(self, frame: int) -> int | None:
        """The first frame from ``frame`` on in which it writes; None where there is none."""
        if self.frames is None:
            return frame
        start, stop, step = self.frames.start, self.frames.stop, self.frames.step
        since = range(max(start, frame + (start - frame) % step), stop, step)
        return since[0] if since else None

    def rhythm(self, end: int) -> tuple[int, int]:
        """From which frame on, and after how many, it does the same again, as far as the frames before ``end`` go."""
        turn = len(self.drafts) // gcd(len(self.drafts), self.advance)
        if self.frames is None:
            return 0, turn
        if not self.frames or self.frames.start >= end:
            return 0, 1
        if self.frames[-1] + self.frames.step < end:
            return self.frames.stop, 1
        return self.frames.start, self.frames.step * turn

    @property
    def moves(self) -> bool:
        """Whether the CPU moves bytes, or parts of what it sets, so that what comes of it follows from drawing."""
        return self.follows or isinstance(self.drafts[0], Transfer | PortWrite)

    @property
    def of_sprite(self) -> bool:
        """Whether it sets a sprite's fields."""
        return isinstance(self.drafts[0], SpriteDraft)

    def at(self, frame: int) -> list[Draft]:
        """What is written in ``frame``."""
        if self.frames is not None and frame not in self.frames:
            return []
        start, count = frame * self.advance, len(self.drafts)
        return [_on(self.drafts[(start + place) % count], line) for place, line in enumerate(self.lines)]

    def last_at(self, frame: int) -> Draft:
        """What is left at the end of a frame in which it writes: what it writes last."""
        place = len(self.lines) - 1
        return _on(self.drafts[(frame * self.advance + place) % len(self.drafts)], self.lines[place])


def _on(draft: Draft, line: int) -> Draft:
    """The draft as it is written on ``line``.

    Its values were checked when it was made, and ``dataclasses.replace`` would check them again: of a frame of the scene dusk,
    which has 1,153 writes, that takes a fifth of the time.
    """
    found: Draft = object.__new__(type(draft))
    vars(found).update(vars(draft), line=line)
    return found


def settled(
    drafts: Sequence[Draft], fields: dict[int, Fields], maker: SpriteMaker | None, table: int | None
) -> list[Write]:
    """The writes of ``drafts`` in the order of time; ``fields`` of the sprites are brought up to their end.

    ``table`` is the address of the sprite table; None where it lies on the chip.
    """
    found: list[Write] = []
    # A sort that is stable: of two writes at one instant the one that the file tells later acts later.
    for draft in sorted(drafts, key=lambda draft: (draft.line, draft.dot)):
        if not isinstance(draft, SpriteDraft):
            found.append(draft)
            continue
        assert maker is not None
        fields[draft.number].update(draft.changes)
        record = maker.record(fields[draft.number])
        offset = draft.number * maker.sprites.record_bytes
        if table is None:
            found.append(SpriteWrite(draft.line, offset, record))
        else:
            found.append(MemoryWrite(draft.line, table + offset, record))
    return found
