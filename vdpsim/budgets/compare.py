"""Chips side by side: what their files say differently, their budgets, and the same scene drawn by each.

Law: figures are those of ``budget``, frames those of ``render``; here they are only put beside each other. Which way a figure
is the better stands in the tables below. What a chip cannot load is a result like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ..chip.model import Chip
from ..problems import InputError
from .budget import Budget, budget
from .described import Field, differing

if TYPE_CHECKING:
    from ..picture import Frame

MOST = 8
"""Chips that are compared at once."""

Better = Literal["more", "less", ""]


@dataclass(frozen=True)
class Figure:
    """A figure of every chip; ``better`` says which way it is good, and ``best`` whose it is: none where all are alike."""

    name: str
    values: tuple[int | float | str | None, ...]
    better: Better
    best: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Shown:
    """The scene on one chip: its ``frame``, or the ``problems`` for which there is none.

    Against the first chip that could draw it: ``differ`` dots of another colour (None: it is the first, or the pictures have
    different sizes), the largest and the mean difference of a channel over these dots, 0 to 255.
    """

    frame: Frame | None
    problems: tuple[str, ...]
    differ: int | None = None
    largest: int = 0
    mean: float = 0.0


@dataclass(frozen=True, eq=False)
class Comparison:
    """``chips`` side by side; every tuple has an item a chip. ``shown`` is empty without a scene."""

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


def compare(chips: Sequence[Chip], scene: str | Path | None = None, frame: int = 0) -> Comparison:
    """Compare 2 to 8 ``chips``; with the path of a ``scene``, draw its ``frame`` on each.

    Raises ValueError for another number of chips, and InputError where the scene file cannot be read at all.
    """
    if not 2 <= len(chips) <= MOST:
        raise ValueError(f"2 to {MOST} chips are compared, got {len(chips)}")
    budgets = tuple(budget(chip) for chip in chips)
    shown = () if scene is None else _shown(chips, scene, frame)
    figures = [figure_of(name, better, [ask(one) for one in budgets]) for name, better, ask in FIGURES]
    figures += [figure_of(name, better, [ask(one) for one in shown]) for name, better, ask in SEEN] if shown else []
    return Comparison(tuple(chips), budgets, differing(chips), tuple(figures), shown)


def figure_of(name: str, better: Better, values: Sequence[Any]) -> Figure:
    """The figure ``name`` of every chip; the best is the largest or the smallest number, where they are not all alike."""
    known = [value for value in values if isinstance(value, int | float)]
    best: tuple[int, ...] = ()
    if better and len(set(known)) > 1:
        wanted = max(known) if better == "more" else min(known)
        best = tuple(at for at, value in enumerate(values) if value == wanted)
    return Figure(name, tuple(values), better, best)


def _limit(name: str) -> Callable[[Budget], Any]:
    return lambda one: one.chip.sprites and getattr(one.chip.sprites, name)


def _share(one: Budget) -> float | None:
    return round(100 * one.worst_line.used / one.lines.slots, 1) if one.lines else None


FIGURES: tuple[tuple[str, Better, Callable[[Budget], Any]], ...] = (
    ("fits", "more", lambda one: one.lines and one.fits),
    ("slots a line", "", lambda one: one.lines and one.lines.slots),
    ("fullest line, slots used", "", lambda one: one.lines and one.worst_line.used),
    ("fullest line, slots free", "more", lambda one: one.lines and one.free_slots),
    ("fullest line, share used %", "less", _share),
    ("sprites of a line, slots to spare", "more", lambda one: one.sprites and one.sprites.room - one.sprites.asked),
    ("sprites of a line, at most", "more", _limit("per_line")),
    ("sprite dots of a line, at most", "more", _limit("dots_per_line")),
    ("sprites in the table", "more", _limit("count")),
    ("CPU bytes a frame", "more", lambda one: one.cpu and one.cpu.bytes_per_frame),
    ("CPU slots a frame in the picture", "more", lambda one: one.cpu and one.cpu.active),
    ("memory, bytes", "less", lambda one: one.memory.size),
    ("bits on the chip", "less", lambda one: one.chip_bits),
    ("palette entries", "more", lambda one: one.chip.palette.entries),
    ("bits of a colour", "more", lambda one: sum(bits.width for bits in one.chip.palette.layout.values())),
    ("lines a second", "", lambda one: round(float(one.display.line_rate), 2)),
    ("frames a second", "", lambda one: round(float(one.display.frame_rate), 4)),
)
"""The figures that are compared: their names, which way is better, where they stand in a budget."""


def _of_frame(ask: Callable[[Any], Any]) -> Callable[[Shown], Any]:
    return lambda one: None if one.frame is None else ask(one.frame)


def _dropped(reason: str) -> Callable[[Shown], Any]:
    return _of_frame(lambda frame: int((frame.drops["reason"] == reason).sum()))


SEEN: tuple[tuple[str, Better, Callable[[Shown], Any]], ...] = (
    ("in the scene: fetches", "less", _of_frame(lambda frame: frame.log.total)),
    ("in the scene: fullest line, slots", "", _of_frame(lambda frame: frame.slots and int(frame.slots.used.max()))),
    ("in the scene: accesses too late", "less", _of_frame(lambda frame: int(frame.missed.sum()))),
    ("in the scene: sprites drawn, over all lines", "more", _of_frame(lambda frame: int(frame.log.drawn.sum()))),
    ("in the scene: dropped for count", "less", _dropped("count")),
    ("in the scene: dropped for dots", "less", _dropped("dots")),
    ("in the scene: dropped for slots", "less", _dropped("slots")),
    ("in the scene: colours", "more", _of_frame(lambda frame: _colours(frame.rgb))),
    ("in the scene: dots unlike the first chip's", "", lambda one: one.differ),
)


def _colours(rgb: Any) -> int:
    import numpy as np  # noqa: PLC0415 - a comparison without a scene needs no arrays

    return len(np.unique(rgb.reshape(-1, 3), axis=0))


def _shown(chips: Sequence[Chip], path: str | Path, frame: int) -> tuple[Shown, ...]:
    from ..machine import render  # noqa: PLC0415 - a comparison without a scene needs no engine
    from ..scene import load_scene  # noqa: PLC0415

    Path(path).read_bytes()  # what cannot be read at all is no chip's failure
    found: list[Shown] = []
    first: Frame | None = None
    for chip in chips:
        try:
            scene = load_scene(path, chip=chip)
        except InputError as error:
            found.append(Shown(None, tuple(str(problem) for problem in error.problems)))
            continue
        drawn = render(scene, frame, damage=True)
        found.append(Shown(drawn, (), *_against(first, drawn)))
        first = first or drawn
    return tuple(found)


def _against(first: Frame | None, drawn: Frame) -> tuple[int | None, int, float]:
    """Dots of other colours than ``first``'s, the largest and the mean difference of a channel over these."""
    if first is None or first.rgb.shape != drawn.rgb.shape:
        return None, 0, 0.0
    apart = abs(first.rgb.astype(int) - drawn.rgb.astype(int))
    other = apart.any(axis=2)
    count = int(other.sum())
    return count, int(apart.max(initial=0)), float(apart[other].mean()) if count else 0.0
