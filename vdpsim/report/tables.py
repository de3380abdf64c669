"""A scene's budget as a page tells it: that of its chip, with what the scene puts into memory and was seen to do.

Law: the words are ``budgets.told``'s; nothing is worked out here. What is proved of a chip is kept while scenes change.
"""

from __future__ import annotations

from typing import Any

from ..budgets.budget import Budget, budget, in_scene
from ..budgets.seen import SeenFrames
from ..budgets.told.explain import EXPLAIN
from ..budgets.told.sections import sections
from ..budgets.told.verdict import verdict
from ..chip.model import Chip
from ..scene import Scene

_LATEST: list[tuple[Chip, Budget]] = []
"""The chip asked for last, and its budget: a scene changes more often than its chip."""


def scene_budget(scene: Scene, seen: SeenFrames | None = None) -> Budget:
    """The budget of the scene, of whose frames that was ``seen``."""
    if not (_LATEST and _LATEST[0][0] == scene.chip):
        _LATEST[:] = [(scene.chip, budget(scene.chip))]
    return in_scene(_LATEST[0][1], scene, seen)


def budget_tables(found: Budget) -> dict[str, Any]:
    """The verdict's word, empty without a time table; the verdict in sentences; each section: title, head, rows, formulas."""
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
            for section in sections(found, everything=True)
        ],
    }
