"""Chips side by side: what their files say differently, their budgets, and the same scene drawn by each.

Law: figures are those of ``budget``, frames those of ``render``; here they are only put beside each other. What a chip cannot
load is a result like any other. Plain Python but for the scene.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..budgets.budget import Budget, budget
from ..chip.model import Chip
from ..door.given import instance, items, whole_number
from ..door.given import path as path_of
from ..door.lazy import by_notebook
from .described import Field, differing
from .drawn import SceneOnChip, drawn
from .weighed import Figure, of_budgets, of_frames

MOST = 8
"""Chips that are compared at once."""


@dataclass(frozen=True, eq=False, repr=False)
class Comparison:
    """``chips`` side by side; every tuple has an item a chip. ``shown`` is empty without a scene.

    ``fields``: where the descriptions differ. ``figures``: those of the budgets, then those of the scene's frame.
    """

    chips: tuple[Chip, ...]
    budgets: tuple[Budget, ...]
    fields: tuple[Field, ...]
    figures: tuple[Figure, ...]
    shown: tuple[SceneOnChip, ...]

    def __repr__(self) -> str:
        return f"<Comparison of {', '.join(self.names)}: {len(self.fields)} fields differ>"

    _repr_html_ = by_notebook("budgets", "comparison_html")

    @property
    def names(self) -> tuple[str, ...]:
        """The chips' names, with a number where two are called alike."""
        names = [chip.name for chip in self.chips]
        return tuple(f"{name} ({at + 1})" if names.count(name) > 1 else name for at, name in enumerate(names))

    @property
    def first(self) -> int | None:
        """Which chip's picture the others are held against: the first that could draw the scene; None where none could."""
        return next((at for at, one in enumerate(self.shown) if one.frame is not None), None)


def compare(chips: Sequence[Chip], scene: str | Path | None = None, frame: int = 0) -> Comparison:
    """Compare 2 to 8 ``chips``; with the path of a ``scene``, draw its ``frame``, from 0, on each.

    What comes too late is drawn as it would show. Raises ValueError for another number of chips or a negative frame;
    InputError where neither one of the chips nor the scene's own can load it.
    """
    chips = [instance("each of chips", chip, Chip) for chip in items("chips", chips, f"2 to {MOST} chips")]
    scene = None if scene is None else path_of("scene", scene)
    frame = whole_number("frame", frame)
    if not 2 <= len(chips) <= MOST:
        raise ValueError(f"chips: 2 to {MOST} chips are compared, got {len(chips) or 'none'}")
    budgets = tuple(map(budget, chips))
    shown = () if scene is None else drawn(chips, scene, frame)
    figures = (*of_budgets(budgets), *(of_frames(shown) if shown else ()))
    return Comparison(tuple(chips), budgets, differing(chips), figures, shown)
