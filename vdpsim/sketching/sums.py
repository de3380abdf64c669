"""The sums of a sketch, as they are shown to who asked for it.

Law: every figure is the budget's; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..budgets.told.plain import table_lines
from ..budgets.told.sections import sections
from ..budgets.told.verdict import verdict_lines
from ..door.columns import folded
from .answers import QUESTIONS, Answers, said
from .fitting import Sketch, need

SHOWN = ("Clients", "Sprites of a line", "On the chip")
"""Which of a budget's sections are shown, by how their titles begin."""


def sums(sketch: Sketch, width: int) -> Iterator[str]:
    """Lines of at most ``width`` columns: the answers, what was given up, the verdict, slots, memory, bits on the chip."""
    for one in _told(sketch):
        yield from folded(one, width)
    for section in sections(sketch.budget):
        if section.title.startswith(SHOWN):
            yield ""
            yield section.title
            yield from table_lines(section, width)
    parts = need(sketch.answers, sketch.budget)
    yield ""
    yield f"Memory: {sketch.budget.memory.size:,} bytes, {sum(size for _, size in parts):,} of them needed"
    yield from (f"  {name}: {size:,}" for name, size in parts)


def _told(sketch: Sketch) -> Iterator[str]:
    yield f"answers: {', '.join(options(sketch.answers))}"
    yield from (f"given up: {one}" for one in sketch.given_up)
    yield ""
    yield from verdict_lines(sketch.budget)


def options(answers: Answers) -> Iterator[str]:
    """The answers as options of a command line."""
    for name in QUESTIONS:
        text = said(getattr(answers, name))
        if text != "-":
            yield f'--{name} "{text}"' if " " in text else f"--{name} {text}"
