"""Flashes counted: two opposing changes of a dot are one, and more than three a second over enough of a field are too many.

Law: more than three flashes within one second, over more than a quarter of a visual field of ten degrees, are too many. The
field is the definition's estimate, 341 x 256 of 1024 x 768 dots: a third of the picture each way, as though it filled the
display. Where the definition leaves room the stricter reading is taken: flashes of one frame count together wherever they lie in
the field, and so do those of one dot over several frames. Knows changes, no pictures.
"""

from __future__ import annotations

from collections import deque
from fractions import Fraction

import numpy as np

from .changes import Bools, Changes, Floats, Ints

ALLOWED = 3
"""Flashes within one second that are not too many."""

SHARE = Fraction(1, 4)
"""Of a field of ten degrees: flashes over no more than this do not count."""

PERIOD = Fraction(1)
"""Seconds."""

TINY = 1e-9
"""Of a second: what rounding may take away."""


class FlashCount:
    """Flashes of one kind, dot by dot, and as events: flashes that end on one frame over more than a quarter of some field."""

    def __init__(self, kind: str, changes: Changes, shape: tuple[int, int]) -> None:
        self.kind, self.changes, self.shape = kind, changes, shape
        self.field = (max(1, shape[0] // 3), max(1, shape[1] // 3))
        self.enough = SHARE * self.field[0] * self.field[1]
        dots = shape[0] * shape[1]
        self.open = np.full(dots, np.nan)
        """When the change that waits for its opposite was made, seconds; nan where none waits."""
        self.starts = np.full((ALLOWED + 1, dots), -np.inf)
        """When the last flashes of each dot began, the latest last."""
        self.events: deque[float] = deque()
        """When the flashes of the last events began, of each the latest."""
        self.too_many: list[int] = []
        self.where = (0, 0, self.field[1], self.field[0])

    def look(self, number: int, time: float, at: Ints, light: Floats) -> None:
        """Take in the dots ``at`` that are others in frame ``number``, which shows from ``time`` on."""
        done, begun = self._flashed(self.changes.turned(at, light), at, time)
        if not len(done):
            return
        since = time - float(PERIOD) - TINY
        place = self._often(done, since)
        event = self._event(done, float(begun.max()), since)
        if place is None:
            place = event
        if place is not None:
            if not self.too_many:
                self.where = (place[1], place[0], self.field[1], self.field[0])
            self.too_many.append(number)

    def _flashed(self, turned: Bools, at: Ints, time: float) -> tuple[Ints, Floats]:
        """The dots whose flash ends now, and when each began; changes without an opposite wait for one."""
        dots = at[turned]
        opens = np.isnan(self.open[dots])
        done = dots[~opens]
        begun = self.open[done]
        self.open[dots[opens]] = time
        self.open[done] = np.nan
        self.starts[:-1, done] = self.starts[1:, done]
        self.starts[-1, done] = begun
        return done, begun

    def _event(self, done: Ints, begun: float, since: float) -> tuple[int, int] | None:
        """The field where flashes end on this frame, where that makes too many such events; None where it does not."""
        area, place = self._fullest(done)
        if area <= self.enough:
            return None
        self.events.append(begun)
        while self.events and self.events[0] < since:
            self.events.popleft()
        return place if len(self.events) > ALLOWED else None

    def _often(self, done: Ints, since: float) -> tuple[int, int] | None:
        """The field where enough dots have had too many flashes each since then; None where there is none."""
        area, place = self._fullest(done[self.starts[0, done] >= since])
        return place if area > self.enough else None

    def _fullest(self, dots: Ints) -> tuple[int, tuple[int, int]]:
        """The most of ``dots`` in any field, and the upper left dot (line, dot) of the first such field."""
        if not len(dots):
            return 0, (0, 0)
        marks = np.zeros(self.shape[0] * self.shape[1], np.int64)
        marks[dots] = 1
        total = np.zeros((self.shape[0] + 1, self.shape[1] + 1), np.int64)
        total[1:, 1:] = marks.reshape(self.shape).cumsum(axis=0).cumsum(axis=1)
        down, across = self.field
        inside = total[down:, across:] - total[:-down, across:] - total[down:, :-across] + total[:-down, :-across]
        at = int(inside.argmax())
        line, dot = divmod(at, inside.shape[1])
        return int(inside.reshape(-1)[at]), (line, dot)
