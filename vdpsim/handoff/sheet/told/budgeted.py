"""The budget: does the chip fit, what gives way first, and the figures behind it; and the map of the scene's video memory.

Law: words and tables are those of ``budgets/told``, owners and holes of memory the budget's; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator

from ....budgets.budget import Budget
from ....budgets.memory import MemoryBudget
from ....budgets.told.sections import sections
from ....budgets.told.verdict import verdict_lines
from ....files.problems import hexadecimal
from ..drawn.memory import memory_drawn
from ..parts import Grid, Part, Picture, Points, Section, Words
from .wording import plain, size


def budgeted(found: Budget) -> Section:
    """The section."""
    return Section("Budget", tuple(_parts(found)))


def _parts(found: Budget) -> Iterator[Part]:
    yield Words(
        "As vdpsim budget tells it; its option --all lists every kind of line, and --explain has the formula of each figure."
    )
    if found.lines is not None:
        yield Words(f"Verdict: {found.verdict}")
    yield Points(tuple(verdict_lines(found)))
    for one in sections(found):
        if not one.title.startswith("Allotted"):
            wide = len(one.head)
            yield Grid(one.title, one.head, one.rows, tuple(range(wide - one.right, wide)))


def memory_map(memory: MemoryBudget, scene: str) -> Section:
    """The section; ``scene`` is the scene's name."""
    if not memory.allotted:
        return Section(
            "Memory map", (Words(f"The scene {scene} puts nothing into the {size(memory.size)} of video memory."),)
        )
    rows = tuple(
        (
            hexadecimal(row.first, memory.size),
            hexadecimal(row.last, memory.size),
            plain(row.bytes),
            row.owner or "(free)",
        )
        for row in memory.allotted
    )
    told = f"Video memory of {size(memory.size)} as the scene {scene} uses it; {plain(memory.free)} bytes are free."
    picture = Picture("memory", memory_drawn(memory), "The memory map, to scale; what is free is grey.")
    return Section(
        "Memory map",
        (Words(told), picture, Grid("Who owns which bytes", ("first", "last", "bytes", "owner"), rows, (0, 1, 2))),
    )
