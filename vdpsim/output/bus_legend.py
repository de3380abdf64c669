"""The legend of the picture of the line's time: who had how many of the frame's slots.

Law: the largest share comes first; clients with as many slots stay in the chip's order, and what nobody had is the last. It
stands below the slots, in as many columns as there is room for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from PIL import Image

from ..engine.frame import SlotLog
from ..images.paper import DIM, LETTER
from ..images.paper import LINE as ROW
from .bus_pen import Pen
from .bus_place import LATE, RIGHT, BusPlace
from .frame import Frame
from .roles import shades

IDLE_CLIENT = -1
"""The number of nobody."""


class Share(NamedTuple):
    """What an entry says, its client's number and its share of the slots."""

    text: str
    client: int
    share: float


@dataclass(frozen=True)
class Legend:
    """The ``shares`` of ``clients``, and ``notes`` in lines with their colours below them."""

    clients: tuple[str, ...]
    shares: tuple[Share, ...]
    notes: tuple[tuple[str, tuple[int, int, int]], ...]
    place: BusPlace

    @classmethod
    def of(cls, frame: Frame, slots: SlotLog, place: BusPlace) -> Legend:
        """The legend of ``frame``."""
        return cls(slots.clients, tuple(_shares(slots)), tuple(_notes(frame, place)), place)

    @property
    def _field(self) -> int:
        """Dots across of an entry."""
        return (28 + LETTER * max(len(share.text) for share in self.shares)) * self.place.letter

    @property
    def _columns(self) -> int:
        return max(1, (self.wide - LETTER * self.place.letter) // self._field)

    @property
    def _rows(self) -> int:
        return -(-len(self.shares) // self._columns)

    @property
    def wide(self) -> int:
        """Dots across of the whole picture."""
        unit = self.place.letter
        longest = max(len(text) for text, _ in self.notes)
        return max(self.place.right + RIGHT * unit, LETTER * unit + self._field, (2 + longest) * LETTER * unit)

    @property
    def bottom(self) -> int:
        """Lines of the whole picture."""
        return self.place.below + (12 + 18 + ROW * (self._rows + len(self.notes)) + 6) * self.place.letter

    def draw(self, pen: Pen) -> None:
        """Draw it below the slots: a bar of all shares as long as a line, the entries, the notes."""
        unit, top = pen.size, self.place.below + 12 * pen.size
        self._bar(pen, top)
        top += 18 * unit
        for number, share in enumerate(self.shares):
            column, row = divmod(number, self._rows)
            x, y = LETTER * unit + column * self._field, top + ROW * unit * row
            pen.box(x, y, x + 14 * unit - 1, y + 10 * unit - 1)
            self._swatch(pen, share.client, (x + unit, y + unit, 12 * unit, 8 * unit))
            pen.text(x + 19 * unit, y - unit, share.text)
        for number, (text, colour) in enumerate(self.notes):
            pen.text(LETTER * unit, top + ROW * unit * (self._rows + number) + unit, text, colour)

    def _bar(self, pen: Pen, top: int) -> None:
        unit, left = pen.size, self.place.x(0)
        wide, before = self.place.right - left, 0.0
        pen.text(LETTER * unit, top - unit, "share", DIM)
        pen.edge(left - 1, top - 1, left + wide, top + 10 * unit, DIM)
        for share in self.shares:
            start, end = round(before * wide), round((before + share.share) * wide)
            self._swatch(pen, share.client, (left + start, top, end - start, 10 * unit))
            before += share.share

    def _swatch(self, pen: Pen, client: int, box: tuple[int, int, int, int]) -> None:
        """The client's colour, with its dark rows, in a box of left, top, width and height."""
        left, top, wide, high = box
        if wide:
            rows = np.arange(high)[:, None] // self.place.scale + np.zeros((1, wide), int)
            dots = shades(self.clients, np.full((high, wide), client), rows)
            pen.picture.paste(Image.fromarray(dots), (left, top))


def _shares(slots: SlotLog) -> list[Share]:
    """All clients by their shares, and what nobody had."""
    total = max(slots.counts.shape[0] * slots.per_line, 1)
    used = [(count, client, name) for client, (name, count) in enumerate(slots.by_client.items())]
    used.sort(key=lambda one: -one[0])
    idle = (int(slots.idle.sum()), IDLE_CLIENT, "idle")
    return [
        Share(f"{name} {100 * count / total:.1f} %", client, count / total) for count, client, name in [*used, idle]
    ]


def _notes(frame: Frame, place: BusPlace) -> list[tuple[str, tuple[int, int, int]]]:
    """What stands below the entries."""
    told = f"shares of {place.lines} lines x {place.slots} slots of frame {frame.frame}"
    notes = [(told, DIM)]
    if place.shown and place.blank < place.slots:
        last = place.first + place.shown - 1
        told = f"in the box: dots 0 to {frame.width - 1} of lines {place.first} to {last}"
        notes.append((f"{told}, slots {place.blank} to {place.slots - 1}", DIM))
    if frame.missed.any():
        lines = int(frame.missed.any(axis=1).sum())
        told = f"{int(frame.missed.sum())} accesses missed, on {lines} lines (marked in red at the right)"
        notes.append((told, LATE))
    return notes
