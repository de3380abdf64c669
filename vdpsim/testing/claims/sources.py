"""Who shows at a dot, or at all dots of a part of the picture.

Law: who wins is what the frame says. Where a source stands on the ladder is what its planes say: a frame that was drawn without
them is drawn again where it is one of a scene.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from ...door.given import text, whole_number
from ...door.shown import value as shown
from ..asked import Asked
from ..failing import Begun, fail
from ..finding import Finding

OFF = 255
"""The rung of a source that has none at a dot."""


def assert_source(frame: Any, line: Any = None, dot: Any = None) -> Shown:
    """A check of who shows at a dot, or at each of some: ``line`` and ``dot`` are a number, or the first and the last.

    Left out: every line, every dot. Raises ValueError for what the frame has not.

    >>> assert_source(frame, line=35, dot=16).shows("sprites").before("far")
    """
    asked = Asked.of(frame)
    return Shown(asked, asked.lines("line", line), asked.dots("dot", dot))


class Shown(Begun):
    """What shows at the dots; what is said one after the other is held one after the other, each at every dot."""

    def __init__(self, asked: Asked, rows: slice, columns: slice) -> None:
        self._asked, self._rows, self._columns = asked, rows, columns
        self.begin(f"a check of who shows at {self._place()}")

    def shows(self, source: str) -> Shown:
        """A dot of ``source`` shows: a layer's name, ``sprites`` or ``backdrop``. Raises ValueError where there is none such."""
        __tracebackhide__ = True
        self.asked()
        number = self._asked.source("source", source)
        self._hold(f"{source} must show", self._asked.frame.source != number)
        return self

    def never_shows(self, source: str) -> Shown:
        """No dot of ``source`` shows."""
        __tracebackhide__ = True
        self.asked()
        number = self._asked.source("source", source)
        self._hold(f"{source} must not show", self._asked.frame.source == number)
        return self

    def shows_sprite(self, sprite: Any) -> Shown:
        """A dot of this sprite shows: its name in the scene, or its place in the table."""
        __tracebackhide__ = True
        self.asked()
        number = self._asked.sprite(sprite)
        self._hold(f"{self._asked.sprite_called(number)} must show", self._asked.frame.sprite != number)
        return self

    def before(self, source: str) -> Shown:
        """What shows stands before ``source``, which has a dot there that would show if the others were not.

        Raises ValueError where the frame's planes are not known: draw it with ``planes=True``.
        """
        __tracebackhide__ = True
        self.asked()
        number = self._asked.source("source", source)
        frame = self._asked.explained()
        if frame is None:
            raise ValueError(f"{self._asked.called} must be drawn with planes=True to say what stands before {source}")
        hidden = np.ones(frame.source.shape, np.bool_)
        if source != "backdrop":
            plane = frame.planes[source]
            rung = plane.standing.rung if plane.standing else np.full(frame.source.shape, OFF, np.uint8)
            hidden = plane.opaque & (rung < OFF)
        self._hold(f"what shows must stand before a dot of {source}", (frame.source == number) | ~hidden)
        return self

    def has_entry(self, entry: int) -> Shown:
        """The palette's ``entry`` shows."""
        __tracebackhide__ = True
        self.asked()
        entry = whole_number("entry", entry)
        self._hold(f"entry 0x{entry:03x} must show", self._asked.frame.indices != entry)
        return self

    def has_colour(self, colour: str) -> Shown:
        """The colour shows: ``#rrggbb``, as the chip's own grid has it."""
        __tracebackhide__ = True
        self.asked()
        digits = text("colour", colour).removeprefix("#")
        try:
            channels = bytes.fromhex(digits)
        except ValueError:
            channels = b""
        if len(channels) != 3 or len(digits) != 6:
            raise ValueError(f"colour must be written as #rrggbb, got {shown(colour)}")
        wanted = np.frombuffer(channels, np.uint8)
        self._hold(f"#{digits.lower()} must show", (self._asked.frame.rgb != wanted).any(axis=2))
        return self

    def _place(self) -> str:
        first = self._asked.frame.first
        lines = _span("line", self._rows.start + first, self._rows.stop - 1 + first)
        return f"{lines}, {_span('dot', self._columns.start, self._columns.stop - 1)}"

    def _hold(self, words: str, wrong: npt.NDArray[np.bool_]) -> None:
        """Fail where a dot of the part is ``wrong``, which is told of the whole frame."""
        __tracebackhide__ = True
        found = np.argwhere(wrong[self._rows, self._columns])
        if not len(found):
            return
        from ..told.dot import dot_told  # noqa: PLC0415 - what fails alone needs words

        frame = self._asked.frame
        line, dot = int(found[0][0]) + self._rows.start + frame.first, int(found[0][1]) + self._columns.start
        many = wrong[self._rows, self._columns].size
        head = (
            f"first at line {line}, dot {dot}; at {len(found)} of {many} dots"
            if many > 1
            else f"line {line}, dot {dot}"
        )
        where = np.zeros(wrong.shape, np.bool_)
        where[self._rows, self._columns] = wrong[self._rows, self._columns]
        told = (head, *dot_told(self._asked, line, dot))
        fail(Finding(frame, f"{self._asked.called}, {self._place()}: {words}", told, where))


def _span(what: str, first: int, last: int) -> str:
    return f"{what} {first}" if first == last else f"{what}s {first} to {last}"
