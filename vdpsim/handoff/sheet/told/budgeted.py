"""The budget: does the chip fit, what gives way first, and the figures behind it.

Law: words and tables are those of ``budgets/told``; nothing is worked out here. The scene's memory has a section of its own.
"""

from __future__ import annotations

from collections.abc import Iterator

from ....budgets.budget import Budget
from ....budgets.told.sections import sections
from ....budgets.told.verdict import verdict_lines
from ..parts import Grid, Part, Points, Section, Words


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
