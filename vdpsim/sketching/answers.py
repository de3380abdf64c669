"""What is asked of somebody who begins a chip, and what may be answered.

Law: the one table of the questions; the command's options and its prompts are made from it. An answer is one of those allowed,
or a size in dots. Knows no chip.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from ..door.shown import value as shown

SIZES: Mapping[str, tuple[int, int]] = {"525 lines": (256, 208), "625 lines": (288, 216), "640x480": (320, 480)}
"""Displays, and the picture that is taken where no size is given."""

SIZE = re.compile(r"([1-9][0-9]{0,5})x([1-9][0-9]{0,5})")


class Answers(NamedTuple):
    """All answers, by the questions' names; ``size``: None for the display's own."""

    display: str = "625 lines"
    size: tuple[int, int] | None = None
    layers: int = 2
    colours: int = 64
    depth: int = 4
    sprites: int = 8
    memory: int = 64
    bus: int = 2
    speed: int = 1


class Question(NamedTuple):
    """A question: what it is ``about``, the answers ``allowed``, none for a size; ``unit`` stands behind the answers."""

    about: str
    allowed: tuple[Any, ...]
    unit: str = ""

    @property
    def told(self) -> str:
        """What may be answered, in words."""
        if not self.allowed:
            return "WxH, dots and lines, such as 288x216; - for what suits the display"
        return (
            ", ".join(map(str, self.allowed[:-1])) + f" or {self.allowed[-1]}" + (f" {self.unit}" if self.unit else "")
        )


QUESTIONS: Mapping[str, Question] = {
    "display": Question("what it is meant for: its lines and frames a second follow", tuple(SIZES)),
    "size": Question("the picture", ()),
    "layers": Question("layers of tiles that scroll, one before the other", (1, 2, 3)),
    "colours": Question("entries of the palette that all share", (16, 64, 256)),
    "depth": Question("bits of a dot of a tile or sprite: 2 are 4 colours a bank, 4 are 16", (2, 4)),
    "sprites": Question("how many sprites may lie on one line", (0, 4, 8, 16, 32)),
    "memory": Question("video memory", (16, 32, 64, 128), "KiB"),
    "bus": Question("bytes that one access of the memory brings", (1, 2, 4)),
    "speed": Question("accesses in the time of a dot", (1, 2)),
}
"""By name, in the order in which they are asked."""


def read(name: str, text: str) -> Any:
    """The answer ``text`` to the question called ``name``. Raises ValueError with what is allowed and what was given."""
    question = QUESTIONS[name]
    given = text.strip()
    if not question.allowed:
        if given == "-":
            return None
        found = SIZE.fullmatch(given)
        if found:
            return int(found[1]), int(found[2])
    for one in question.allowed:
        if given == str(one):
            return one
    raise ValueError(f"must be {question.told}, got {shown(text)}")


def said(answer: Any) -> str:
    """An answer as it is given."""
    if answer is None:
        return "-"
    return f"{answer[0]}x{answer[1]}" if isinstance(answer, tuple) else str(answer)
