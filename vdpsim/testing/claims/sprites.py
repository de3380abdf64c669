"""How many sprites a line has, and what becomes of one sprite.

Law: a sprite is its place in the table, whatever its record says at the time; what the log, the drops, the collisions and the
dots of the frame say is what is held.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

from ...door.given import one_of
from ...door.shown import named
from ..asked import MOST_TOLD, Asked
from ..failing import Begun, fail
from ..finding import Finding
from .counted import Counted

COUNTED = {"drawn": "sprites drawn", "found": "sprites found", "dropped": "sprites dropped"}
"""What can be counted of the sprites of a line."""

REASONS = ("count", "dots", "slots")


def assert_sprites(frame: Any, which: str = "drawn") -> Counted:
    """A check of how many sprites a line has: those that are ``"drawn"``, that are ``"found"`` to lie on it, or ``"dropped"``.

    In the whole frame a sprite counts once for each of its lines. Raises ValueError for another word.

    >>> assert_sprites(frame).on_every_line().at_most(12)
    """
    asked = Asked.of(frame)
    log, height = asked.frame.log, asked.frame.height
    numbers = {"drawn": log.drawn, "found": log.found, "dropped": log.dropped}[one_of("which", which, COUNTED)][:height]

    def detail(row: int) -> str:
        shown = sorted({int(one) for one in asked.frame.sprite[row] if one >= 0})
        lost = [f"{asked.sprite_short(number)} ({why})" for at, number, why in _drops(asked) if at == row]
        parts = [("shown:", list(map(asked.sprite_short, shown))), ("dropped:", lost)]
        return "; ".join(f"{what} {named(names, MOST_TOLD)}" for what, names in parts if names)

    return Counted(asked, COUNTED[which], numbers, detail)


def _drops(asked: Asked) -> Iterable[tuple[int, int, str]]:
    """Row, number and reason of each drop."""
    return ((line - asked.frame.first, number, reason) for line, number, reason in asked.frame.drops.tolist())


def assert_sprite(frame: Any, sprite: Any) -> OneSprite:
    """A check of one sprite: its name in the scene, or its place in the sprite table. Raises ValueError where there is none such.

    >>> assert_sprite(frame, "lapwing_12").dropped(lines=(30, 39), reason="count")
    """
    asked = Asked.of(frame)
    return OneSprite(asked, asked.sprite(sprite))


class OneSprite(Begun):
    """What becomes of one sprite; what is said one after the other is held one after the other.

    ``lines`` is one line, or the first and the last of some, of the frame's; a line that was not drawn is a ValueError.
    """

    def __init__(self, asked: Asked, number: int) -> None:
        self._asked, self._number = asked, number
        self._called = asked.sprite_called(number)
        self.begin(f"a check of {self._called}")

    def dropped(self, lines: Any = None, reason: str | None = None) -> OneSprite:
        """It is dropped on just these ``lines`` and on no other (None: on some line), each time for ``reason`` (None: any)."""
        __tracebackhide__ = True
        self.asked()
        if reason is not None:
            one_of("reason", reason, REASONS)
        wanted = np.zeros(self._asked.frame.height, np.bool_)
        wanted[self._asked.lines("lines", lines)] = True
        found = self._dropped_on()
        words = f"be dropped{self._on(lines)}" + (f" for {reason}" if reason else "")
        dropped = np.array([row in found for row in range(len(wanted))])
        for_it = np.array([reason in (None, *found.get(row, ())) for row in range(len(wanted))])
        wrong = wanted & ~dropped if lines is None else wanted != dropped
        if lines is None and dropped.any():
            wrong[:] = False
        self._hold(words, wrong | (dropped & ~for_it), self._told_drops(found))
        return self

    def never_dropped(self) -> OneSprite:
        """No line drops it."""
        __tracebackhide__ = True
        self.asked()
        found = self._dropped_on()
        wrong = np.array([row in found for row in range(self._asked.frame.height)])
        self._hold("be dropped on no line", wrong, self._told_drops(found))
        return self

    def shows(self, lines: Any = None) -> OneSprite:
        """At least a dot of it shows on each of ``lines`` (None: somewhere in the frame)."""
        __tracebackhide__ = True
        self.asked()
        rows = (self._asked.frame.sprite == self._number).any(axis=1)
        wanted = np.zeros(len(rows), np.bool_)
        wanted[self._asked.lines("lines", lines)] = True
        wrong = wanted & ~rows
        if lines is None and rows.any():
            wrong[:] = False
        self._hold(f"show{self._on(lines, 'somewhere')}", wrong, self._told_rows(rows))
        return self

    def hidden(self, lines: Any = None) -> OneSprite:
        """No dot of it shows on any of ``lines`` (None: in the whole frame)."""
        __tracebackhide__ = True
        self.asked()
        mine = self._asked.frame.sprite == self._number
        rows = np.zeros(len(mine), np.bool_)
        rows[self._asked.lines("lines", lines)] = True
        self._hold(
            f"be hidden{self._on(lines, 'everywhere')}", mine.any(axis=1) & rows, self._told_rows(mine.any(axis=1))
        )
        return self

    def collides(self, other: Any, lines: Any = None) -> OneSprite:
        """It collides with the sprite ``other`` on each of ``lines`` (None: on some line)."""
        __tracebackhide__ = True
        self.asked()
        number = self._asked.sprite(other)
        rows = self._collisions(number)
        wanted = np.zeros(len(rows), np.bool_)
        wanted[self._asked.lines("lines", lines)] = True
        wrong = wanted & ~rows
        if lines is None and rows.any():
            wrong[:] = False
        words = f"collide with {self._asked.sprite_called(number)}{self._on(lines)}"
        self._hold(words, wrong, self._told_rows(rows, "collides"))
        return self

    def collides_with_none(self) -> OneSprite:
        """It collides with no sprite. Raises ValueError where the frame does not list all its collisions."""
        __tracebackhide__ = True
        self.asked()
        left = self._asked.frame.collisions_left_out
        if left:
            raise ValueError(f"{self._asked.called} has {left} collisions that it does not list: none can be ruled out")
        rows = self._collisions(None)
        self._hold("collide with no sprite", rows, self._told_rows(rows, "collides"))
        return self

    def _collisions(self, other: int | None) -> npt.NDArray[np.bool_]:
        """On which rows it collides, with ``other`` or with any."""
        rows = np.zeros(self._asked.frame.height, np.bool_)
        for line, first, second, _ in self._asked.frame.collisions.tolist():
            if self._number in (first, second) and (other is None or {first, second} == {self._number, other}):
                rows[line - self._asked.frame.first] = True
        return rows

    def _dropped_on(self) -> dict[int, set[str]]:
        """The reasons for which it is dropped, by row."""
        found: dict[int, set[str]] = {}
        for row, number, reason in _drops(self._asked):
            if number == self._number:
                found.setdefault(row, set()).add(reason)
        return found

    def _on(self, lines: Any, without: str = "on some line") -> str:
        if lines is None:
            return f" {without}"
        rows = self._asked.lines("lines", lines)
        first, last = rows.start + self._asked.frame.first, rows.stop - 1 + self._asked.frame.first
        return f" on line {first}" if first == last else f" on lines {first} to {last}"

    def _told_drops(self, found: dict[int, set[str]]) -> str:
        if not found:
            return "no line drops it"
        reasons = sorted(set().union(*found.values()))
        return f"it is dropped on {self._runs(found)} ({', '.join(reasons)})"

    def _told_rows(self, rows: npt.NDArray[np.bool_], verb: str = "shows") -> str:
        return f"it {verb} on {self._runs(np.flatnonzero(rows).tolist())}" if rows.any() else f"it {verb} on no line"

    def _runs(self, rows: Iterable[int]) -> str:
        from ...handoff.verifying.told.words import runs  # noqa: PLC0415 - what fails alone needs words

        return runs("line", sorted(self._asked.frame.first + row for row in rows))

    def _hold(self, words: str, wrong: npt.NDArray[np.bool_], found: str) -> None:
        """Fail where some row is ``wrong``."""
        __tracebackhide__ = True
        if not wrong.any():
            return
        frame = self._asked.frame
        lines = self._runs(np.flatnonzero(wrong).tolist())
        where = np.broadcast_to(wrong[:, None], frame.source.shape)
        told = (f"otherwise on {lines}", found, *self._table())
        fail(Finding(frame, f"{self._asked.called}: {self._called} must {words}", told, where))

    def _table(self) -> list[str]:
        """Its record, where it is known."""
        from ..told.dot import records  # noqa: PLC0415 - what fails alone needs words

        fields = records(self._asked).get(self._number)
        told = ", ".join(f"{name} {value}" for name, value in fields.items()) if fields else ""
        return [f"its record as the frame begins: {told}"] if told else []
