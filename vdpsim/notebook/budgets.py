"""A budget, a comparison and a sweep in a notebook.

Law: the words are those of ``budgets/told/`` and ``comparing/``; nothing is worked out here.
"""

from __future__ import annotations

from ..budgets.budget import Budget
from ..budgets.told.section import TextRow
from ..budgets.told.sections import sections
from ..budgets.told.verdict import verdict_lines
from ..comparing.beside import side_by_side
from ..comparing.compare import Comparison
from ..comparing.compared import notes, parts, verdicts
from ..images.png import png_bytes
from ..sweeping.swept import Swept
from .pieces import heading, line, picture, table

MOST_TABLES, MOST_ROWS = 2, 12
"""Tables of a budget or of a comparison that are shown, from the first on, and rows of each; the other tables are named."""


def budget_html(found: Budget) -> str:
    """The verdict and the first tables."""
    first, *more = verdict_lines(found)
    told = [(one.title, one.head, one.rows, one.right) for one in sections(found)]
    return heading(first) + "".join(line(one) for one in more if one) + _tables(told, "vdpsim budget")


def comparison_html(found: Comparison) -> str:
    """The verdicts, the frames beside each other where there are any, and the first tables."""
    shown = "".join(map(line, (*verdicts(found), *notes(found))))
    if found.first is not None:
        shown += picture(png_bytes(side_by_side(found)), "the scene on each chip, and how far they are apart")
    return (
        heading(" and ".join(found.names))
        + shown
        + _tables(
            [(one.title, one.head, one.rows, len(found.chips) if one.numbers else 0) for one in parts(found)],
            "vdpsim compare",
        )
    )


def _tables(told: list[tuple[str, TextRow, tuple[TextRow, ...], int]], command: str) -> str:
    """The first tables, and the names of those that are left out."""
    shown = ""
    for title, head, rows, right in told[:MOST_TABLES]:
        shown += heading(title) + (table(head, rows, right=right, most=MOST_ROWS) if rows else "")
    left = [title.partition(":")[0] for title, *_ in told[MOST_TABLES:]]
    return shown + (line(f"{command} tells more: {', '.join(left)}") if left else "")


def sweep_html(found: Swept) -> str:
    """The first rows."""
    told = f"{found.chip}: {len(found.rows):,} points of {', '.join(found.vary)}"
    varied = [name for name in found.columns if name in found.vary]
    rest = [name for name in found.columns if name not in found.vary]
    head = [*varied, *rest]
    rows = [["" if row[name] is None else row[name] for name in head] for row in found.rows]
    return heading(told) + table(head, rows)
