"""How many of something there may be: on every line, on some lines, or in the whole frame.

Law: numbers come in, one for each line of the frame; who counts what stands elsewhere. A range of lines without a line is a
mistake and no pass.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from ...door.given import whole_number
from ..asked import Asked
from ..failing import Begun, fail
from ..finding import Finding

Detail = Callable[[int], str]
"""What there is to say of one line, by its row in the frame's arrays; an empty text for nothing."""


class Counted(Begun):
    """Something that is counted on each line; say on which lines: ``on_every_line()``, ``on_lines(30, 39)``, ``in_the_frame()``.

    It holds nothing until it is also said how many there may be.
    """

    def __init__(self, asked: Asked, what: str, numbers: npt.NDArray[np.int64], detail: Detail) -> None:
        self._asked, self._what, self._numbers, self._detail = asked, what, numbers, detail
        self.begin(f"a check of {what}")

    def on_every_line(self) -> Many:
        """On each line of the frame by itself."""
        return self._many("on every line", slice(0, len(self._numbers)))

    def on_line(self, line: int) -> Many:
        """On that line. Raises ValueError for a line that the frame has not."""
        self.asked()
        return self._many(f"on line {line}", self._asked.lines("line", line))

    def on_lines(self, first: int, last: int) -> Many:
        """On each line from ``first`` to ``last`` by itself, both among them. Raises ValueError for others than the frame's."""
        self.asked()
        return self._many(f"on each of lines {first} to {last}", self._asked.lines("lines", (first, last)))

    def in_the_frame(self) -> Many:
        """On all lines together."""
        return self._many("in the frame", None)

    def _many(self, where: str, rows: slice | None) -> Many:
        self.asked()
        return Many(self._asked, f"{self._what} {where}", self._numbers, rows, self._detail)


class Many(Begun):
    """How many there may be: ``at_most(n)``, ``at_least(n)``, ``exactly(n)``; several may be said one after the other."""

    def __init__(
        self, asked: Asked, what: str, numbers: npt.NDArray[np.int64], rows: slice | None, detail: Detail
    ) -> None:
        self._asked, self._what, self._numbers, self._rows, self._detail = asked, what, numbers, rows, detail
        self.begin(f"a check of {what}")

    def at_most(self, count: int) -> Many:
        """No more than ``count``, which is 0 or more."""
        __tracebackhide__ = True
        return self._held("at most", count, lambda number: number <= count)

    def at_least(self, count: int) -> Many:
        """No fewer than ``count``, which is 0 or more."""
        __tracebackhide__ = True
        return self._held("at least", count, lambda number: number >= count)

    def exactly(self, count: int) -> Many:
        """Just ``count``, which is 0 or more."""
        __tracebackhide__ = True
        return self._held("exactly", count, lambda number: number == count)

    def _held(self, how: str, count: int, holds: Callable[[Any], Any]) -> Many:
        __tracebackhide__ = True
        self.asked()
        count = whole_number("count", count)
        rule = f"{self._asked.called}: {self._what}: must be {how} {count}"
        frame = self._asked.frame
        if self._rows is None:
            total = int(self._numbers.sum())
            if not holds(total):
                fail(Finding(frame, rule, (f"there are {total}",)))
            return self
        wrong = np.zeros(len(self._numbers), np.bool_)
        wrong[self._rows] = ~holds(self._numbers[self._rows])
        if wrong.any():
            where = np.broadcast_to(wrong[:, None], frame.source.shape)
            fail(Finding(frame, rule, tuple(self._told(wrong)), where))
        return self

    def _told(self, wrong: npt.NDArray[np.bool_]) -> list[str]:
        """What is wrong: how many lines, and the first of them with all that there is to say."""
        from ...handoff.verifying.told.words import runs  # noqa: PLC0415 - what fails alone needs words

        rows = np.flatnonzero(wrong)
        first, frame = int(rows[0]), self._asked.frame
        asked = len(self._numbers[self._rows]) if self._rows else 0
        lines = [frame.first + int(row) for row in rows]
        detail = self._detail(first)
        return [
            f"first on line {lines[0]}: {self._numbers[first]}" + (f": {detail}" if detail else ""),
            f"on {len(rows)} of {asked} lines: {runs('line', lines)}",
        ]
