"""How long it will take to reach a frame, said on stderr before a person has waited for long.

Law: says nothing where it takes no longer than a few seconds; a terminal also sees how far it has come. Knows no scene but by
its name.
"""

from __future__ import annotations

import sys
from time import monotonic

from ..door.shown import printable
from .say import tell, tell_over

MEASURED = 0.5
"""Seconds after which it is known how long a frame takes."""

SHORT = 3.0
"""Seconds for which nothing is said."""

APART = 1.0
"""Seconds from one word on how far it has come to the next."""


class FramesToGo:
    """Is told of every frame that is drawn on the way: see ``vdpsim.door.telling``."""

    def __init__(self) -> None:
        self.way: tuple[str, int] | None = None
        self.begun, self.first, self.said = 0.0, 0, 0.0

    def __call__(self, scene: str, frame: int, wanted: int) -> None:
        """Frame ``frame`` of ``scene`` is drawn next, on the way to ``wanted``."""
        now = monotonic()
        if self.way != (scene, wanted):
            self.way, self.begun, self.first, self.said = (scene, wanted), now, frame, 0.0
        passed, left = now - self.begun, wanted - frame
        if passed < MEASURED or frame == self.first or now - self.said < APART:
            return
        seconds = passed / (frame - self.first) * left
        if not self.said and seconds >= SHORT:
            tell(
                f"{printable(scene)}: the frames before {wanted} must be drawn first, as the CPU moves bytes in them: "
                f"up to {left:,} more, about {seconds:,.0f} s"
            )
            self.said = now
        elif self.said and sys.stderr.isatty():
            tell_over(f"{printable(scene)}: frame {frame:,}, about {seconds:,.0f} s more ")
            self.said = now


class LinesToGo:
    """Is told of the lines of a frame that is drawn in cuts, and says once how long such a frame takes."""

    def __init__(self) -> None:
        self.frame, self.begun, self.first, self.said = -1, 0.0, 0, False

    def __call__(self, frame: int, line: int, end: int) -> None:
        """Lines from ``line`` on of ``frame``, which go up to ``end``, are drawn next."""
        now = monotonic()
        if frame != self.frame or line <= self.first:
            self.frame, self.begun, self.first = frame, now, line
        passed = now - self.begun
        if self.said or line == self.first or passed < MEASURED:
            return
        seconds = passed / (line - self.first) * (end - line)
        if seconds >= SHORT:
            tell(
                f"frame {frame}: very many dots of sprites may lie on its lines: about {seconds:,.0f} s more for this frame"
            )
            self.said = True


class WorkToDo:
    """Is told how much of some other work than drawing is done, and says how far it has come."""

    def __init__(self) -> None:
        self.what, self.begun, self.first, self.said = "", 0.0, 0, 0.0

    def __call__(self, what: str, done: int, wanted: int) -> None:
        """Of ``what``, ``done`` of ``wanted`` parts are done."""
        now = monotonic()
        if self.what != what or done < self.first:
            self.what, self.begun, self.first, self.said = what, now, done, 0.0
        passed = now - self.begun
        if passed < MEASURED or done == self.first or now - self.said < APART:
            return
        seconds = passed / (done - self.first) * (wanted - done)
        if not self.said and seconds >= SHORT:
            tell(f"{what}: about {seconds:,.0f} s more")
            self.said = now
        elif self.said and sys.stderr.isatty():
            tell_over(f"{what}: {100 * done // wanted} % done, about {seconds:,.0f} s more ")
            self.said = now
