"""A scene's budget as tables of text.

Law: the words are ``budgets.told``'s; nothing is worked out here.
"""

from __future__ import annotations

from typing import Any

from ..budgets.budget import budget
from ..budgets.told.explain import EXPLAIN
from ..budgets.told.sections import sections
from ..budgets.told.verdict import verdict
from ..chip.model import Chip
from ..scene import Scene

_LATEST: list[tuple[Chip, dict[str, Any]]] = []
"""The chip asked for last, and its tables: a scene changes more often than its chip."""


def budget_tables(scene: Scene) -> dict[str, Any]:
    """The verdict's word, empty without a time table; the verdict in sentences; each section: title, head, rows, formulas."""
    if not (_LATEST and _LATEST[0][0] == scene.chip):
        _LATEST[:] = [(scene.chip, _tables(scene.chip))]
    return _LATEST[0][1]


def _tables(chip: Chip) -> dict[str, Any]:
    found = budget(chip)
    return {
        "verdict": found.verdict if found.lines else "",
        "told": verdict(found),
        "sections": [
            {
                "title": section.title,
                "head": list(section.head),
                "rows": [list(row) for row in section.rows],
                "right": section.right,
                "formulas": [[name, EXPLAIN[name]] for name in section.explained],
            }
            for section in sections(found)
        ],
    }
