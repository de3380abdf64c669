"""Chips side by side: what their files say differently, their budgets, and the same scene drawn by each.

Law: figures are those of ``budget``, frames those of ``render``; here they are only put beside each other. What a chip cannot
load is a result like any other. Plain Python but for the scene.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..chip.model import Chip
from ..given import instance, items, whole_number
from ..given import path as path_of
from ..problems import InputError
from .budget import Budget, budget
from .described import Field, differing
from .weighed import Figure, of_budgets, of_frames

if TYPE_CHECKING:
    from ..picture import Frame

MOST = 8
"""Chips that are compared at once."""


@dataclass(frozen=True, eq=False)
class Shown:
    """The scene on one chip, of ``bytes_per_access``: its ``frame``, or the ``problems`` for which there is none.

    Against the first chip that could draw it: ``differ`` dots of another colour (None: it is the first, or the pictures have
    different sizes, ``other_size``), which is a ``share`` of them, 0 to 1; over the dots that differ the largest difference of
    a channel and the mean of all three channels, 0 to 255.
    """

    frame: Frame | None
    bytes_per_access: int
    problems: tuple[str, ...] = ()
    differ: int | None = None
    largest: int = 0
    mean: float = 0.0
    other_size: bool = False

    @property
    def share(self) -> float:
        """Which part of the picture's dots differ."""
        return 0.0 if self.frame is None or not self.differ else self.differ / self.frame.indices.size


@dataclass(frozen=True, eq=False)
class Comparison:
    """``chips`` side by side; every tuple has an item a chip. ``shown`` is empty without a scene.

    ``fields``: where the descriptions differ. ``figures``: those of the budgets, then those of the scene's frame.
    """

    chips: tuple[Chip, ...]
    budgets: tuple[Budget, ...]
    fields: tuple[Field, ...]
    figures: tuple[Figure, ...]
    shown: tuple[Shown, ...]

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
    shown = () if scene is None else _shown(chips, scene, frame)
    figures = (*of_budgets(budgets), *(of_frames(shown) if shown else ()))
    return Comparison(tuple(chips), budgets, differing(chips), figures, shown)


def _shown(chips: Sequence[Chip], path: str | Path, frame: int) -> tuple[Shown, ...]:
    from ..machine import render  # noqa: PLC0415 - a comparison without a scene needs no engine
    from ..scene import load_scene  # noqa: PLC0415

    found: list[Shown] = []
    first: Frame | None = None
    for chip in chips:
        width = chip.memory.bytes_per_access
        try:
            scene = load_scene(path, chip=chip)
        except InputError as error:
            found.append(Shown(None, width, tuple(map(str, error.problems))))
            continue
        drawn = render(scene, frame, damage=True)
        found.append(_against(first, drawn, width))
        first = first or drawn
    if first is None:
        load_scene(path)  # a scene that is wrong even on its own chip is no chip's failure
    return tuple(found)


def _against(first: Frame | None, drawn: Frame, width: int) -> Shown:
    """``drawn`` against the ``first`` picture."""
    if first is None:
        return Shown(drawn, width)
    if first.rgb.shape != drawn.rgb.shape:
        return Shown(drawn, width, other_size=True)
    apart = abs(first.rgb.astype(int) - drawn.rgb.astype(int))
    other = apart.any(axis=2)
    count = int(other.sum())
    mean = float(apart[other].mean()) if count else 0.0
    return Shown(drawn, width, differ=count, largest=int(apart.max(initial=0)), mean=mean)
