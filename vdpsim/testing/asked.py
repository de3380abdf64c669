"""What a check is asked about, found by its name: a frame's lines, clients, sources and sprites.

Law: what is named must be there. A name that nothing has, a line that was not drawn and a frame of the wrong kind are told at
once as ValueError or TypeError, with all that could have been meant: they are mistakes in a test, and no finding of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

import numpy as np

from ..door.given import instance, is_whole, text, whole_number
from ..door.shown import named
from ..door.shown import value as shown
from ..engine.frame import Result
from ..machine.reached import Origin
from ..output.frame import Frame

if TYPE_CHECKING:
    from ..scene import Scene

MOST_TOLD = 400
"""Characters of a list of names in a message."""


@dataclass(frozen=True)
class Asked:
    """A frame that a check is about, with what it was drawn from."""

    frame: Frame
    origin: Origin | None

    @classmethod
    def of(cls, frame: Any) -> Asked:
        """The ``frame`` as a check needs it. Raises TypeError where it is none, ValueError where it has no line."""
        if isinstance(frame, Result) and not isinstance(frame, Frame):
            frame = Frame.of(frame)
        instance("frame", frame, Frame, "a Frame")
        if not frame.height:
            raise ValueError("a check needs a line of the picture at least; this frame's lines all lie in blanking")
        return cls(frame, frame.origin if isinstance(frame.origin, Origin) else None)

    @property
    def scene(self) -> Scene | None:
        """The scene that it is a frame of."""
        return self.origin.scene if self.origin else None

    @property
    def called(self) -> str:
        """The frame in words."""
        number = self.frame.frame
        if self.scene is not None:
            return f"frame {number} of {self.scene.name} on {self.scene.chip.name}"
        return f"frame {number}" + (f" of {self.origin.chip.name}" if self.origin else "")

    @property
    def sources(self) -> tuple[str, ...]:
        """The sources by number."""
        return self.frame.sources

    @property
    def rungs(self) -> tuple[str, ...]:
        """The rungs by number."""
        return self.frame.rungs

    @property
    def sprites(self) -> dict[str, int]:
        """The sprites' places in the table by name; none but of a scene."""
        return self.scene.sprite_names if self.scene else {}

    def lines(self, name: str, lines: Any) -> slice:
        """Rows of the frame's arrays for ``lines``: one line, or the first and the last. None: every line."""
        if lines is None:
            return slice(0, self.frame.height)
        first, last = self._span(name, lines, self.frame.first, self.frame.first + self.frame.height - 1, "lines")
        return slice(first - self.frame.first, last - self.frame.first + 1)

    def dots(self, name: str, dots: Any) -> slice:
        """Columns of the frame's arrays for ``dots``: one dot, or the first and the last. None: every dot."""
        if dots is None:
            return slice(0, self.frame.width)
        first, last = self._span(name, dots, 0, self.frame.width - 1, "dots")
        return slice(first, last + 1)

    def _span(self, name: str, given: Any, least: int, most: int, what: str) -> tuple[int, int]:
        """A number, or the first and the last of some, within what was drawn."""
        if isinstance(given, range):
            if given.step != 1 or not len(given):
                raise ValueError(f"{name} must be a range of {what} one after the other, got {shown(given)}")
            given = (given.start, given.stop - 1)
        pair = (given, given) if is_whole(given) else given
        if not isinstance(pair, tuple | list) or len(pair) != 2:
            raise TypeError(f"{name} must be a number, or the first and the last of some {what}, got {shown(given)}")
        first, last = (whole_number(name, one, least, most) for one in pair)
        if last < first:
            raise ValueError(f"{name} must be the first and then the last of some {what}, got {first} and {last}")
        return first, last

    def clients(self, pattern: Any) -> list[int]:
        """Columns of the fetch log whose names ``pattern`` matches, such as ``near.*``. Raises ValueError where none does."""
        known, wanted = self.frame.log.clients, text("client", pattern)
        found = [number for number, name in enumerate(known) if fnmatchcase(name, wanted)]
        if not found:
            told = named(list(known), MOST_TOLD) or "none at all"
            raise ValueError(f"client must match one of the frame's clients, which are {told}; got {shown(wanted)}")
        return found

    def source(self, name: str, source: Any) -> int:
        """The number of a source. Raises ValueError where there is none of that name."""
        known, wanted = self.frame.sources, text(name, source)
        if wanted not in known:
            raise ValueError(f"{name} must be one of {named(list(known), MOST_TOLD)}, got {shown(wanted)}")
        return known.index(wanted)

    def sprite(self, sprite: Any) -> int:
        """A sprite's place in the table, from its name or that number. Raises ValueError where there is none such."""
        if "sprites" not in self.frame.sources:
            raise ValueError(f"{self.called} is of a chip without sprites, got sprite {shown(sprite)}")
        if is_whole(sprite):
            count = self.origin.chip.sprites.count if self.origin and self.origin.chip.sprites else None
            return whole_number("sprite", sprite, 0, None if count is None else count - 1)
        wanted = instance("sprite", sprite, str, "a name, or a place in the sprite table")
        if self.scene is None:
            raise ValueError(f"sprites of a frame without a scene have numbers alone, got {shown(wanted)}")
        if wanted not in self.sprites:
            told = named(list(self.sprites), MOST_TOLD) or "none at all"
            raise ValueError(f"sprite must be one of the scene's, which are {told}; got {shown(wanted)}")
        return self.sprites[wanted]

    def sprite_short(self, number: int) -> str:
        """A sprite by its name alone, by its number where it has none."""
        return next((name for name, place in self.sprites.items() if place == number), f"sprite {number}")

    def sprite_called(self, number: int) -> str:
        """A sprite by its name and place, as told everywhere."""
        from ..handoff.verifying.told.words import sprite_name  # noqa: PLC0415 - what fails alone needs words

        return sprite_name(self, number)

    def explained(self) -> Frame | None:
        """The frame with each source alone, drawn again where it must be; None where that cannot be, or is another picture."""
        if self.frame.planes:
            return self.frame
        origin, scene = self.origin, self.scene
        if origin is None or scene is None:
            return None
        from ..machine.machine import render  # noqa: PLC0415 - few checks need it

        again = render(scene, origin.number, origin.rule, planes=True, damage=True)
        return again if _alike(again, self.frame) else None


def _alike(again: Frame, frame: Frame) -> bool:
    """Whether a frame drawn anew shows what the other does."""
    return (again.first, again.size) == (frame.first, frame.size) and all(
        np.array_equal(getattr(again, name), getattr(frame, name)) for name in ("indices", "source", "sprite", "rgb")
    )
