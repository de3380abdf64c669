"""The figures that are compared, and which way each is the better.

Law: a figure is taken from a Budget or a Frame as it stands there. More of what a chip can do is better, and so is less of what
it costs; of what only says how it is made, neither. Nothing is marked where all are alike, or where a chip has no such figure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from ..budgets.budget import Budget

if TYPE_CHECKING:
    from ..output.frame import Frame
    from .drawn import SceneOnChip

Better = Literal["more", "less", ""]

NEVER = "never"
"""The lines of a refill whose last byte never lands."""

VERDICT = "verdict"
"""The figure that says whether a chip fits."""

OTHER_SIZE = "other size"
"""What stands where two pictures cannot be subtracted."""

VERDICTS = {"does not fit": 0, "open": 1, "fits": 2}
"""What is neither proved nor refuted is better than what a scene shows to miss."""

Value = int | float | str | None


@dataclass(frozen=True)
class Figure:
    """A figure of every chip, in the ``section`` to which it belongs; None where a chip has no such figure.

    ``better`` says which way it is good, and ``best`` whose it is: none where all are alike.
    """

    section: str
    name: str
    values: tuple[Value, ...]
    better: Better
    best: tuple[int, ...]


def figure_of(section: str, name: str, better: Better, values: Sequence[Any]) -> Figure:
    """The figure ``name`` of every chip; the best is the largest or smallest number, or the best verdict, where they differ."""
    known = [value for value in map(_weight, values) if value is not None]
    best: tuple[int, ...] = ()
    if better and len(set(known)) > 1:
        wanted = max(known) if better == "more" else min(known)
        best = tuple(at for at, value in enumerate(values) if _weight(value) == wanted)
    return Figure(section, name, tuple(values), better, best)


def _weight(value: Any) -> int | float | None:
    """The number that a value is held against others by; None for a text that is no verdict, and where there is none."""
    return value if isinstance(value, int | float) else VERDICTS.get(value)


def of_budgets(budgets: Sequence[Budget]) -> Iterator[Figure]:
    """All figures of budgets, section by section."""
    for section, rows in SECTIONS.items():
        for name, better, ask in rows:
            yield figure_of(section, name, better, [ask(one) for one in budgets])
        for name, (better, values) in _listed(section, budgets).items():
            yield figure_of(section, name, better, values)


def of_frames(shown: Sequence[SceneOnChip]) -> Iterator[Figure]:
    """All figures of the scene as each chip draws it."""
    for name, better, ask in SEEN:
        yield figure_of(SCENE, name, better, [ask(one) for one in shown])


def _listed(section: str, budgets: Sequence[Budget]) -> dict[str, tuple[Better, list[Value]]]:
    """The figures that chips have a list of, by name: what one of them lacks is None there."""
    better, ask = LISTED.get(section, ("", lambda _: {}))
    told = [ask(one) for one in budgets]
    names = dict.fromkeys(name for each in told for name in each)
    return {name: (better, [each.get(name) for each in told]) for name in names}


def _limit(name: str) -> Callable[[Budget], Any]:
    return lambda one: one.chip.sprites and getattr(one.chip.sprites, name)


def _share(part: int, whole: int) -> float:
    return round(100 * part / whole, 1)


def _rounded(value: Any) -> float | None:
    return None if value is None else round(float(value), 4)


def _refills(one: Budget) -> dict[str, Value]:
    """Named with their bytes: only refills of as many bytes are held against each other."""
    return {
        f"refill of {each.name}, {each.bytes:,} bytes: lines": NEVER if each.lines is None else each.lines
        for each in (one.cpu.refills if one.cpu else ())
    }


FigureRow = tuple[str, Better, Callable[[Any], Any]]

SECTIONS: dict[str, tuple[FigureRow, ...]] = {
    "Time on the line": (
        (VERDICT, "more", lambda one: one.lines and one.verdict),
        ("first to give way, slack proved", "more", lambda one: one.first and one.first.proved),
        ("clients with an access too late", "less", lambda one: one.lines and len(one.lines.late)),
        ("slots a line", "", lambda one: one.lines and one.lines.slots),
        ("blank slots of them", "", lambda one: one.lines and one.lines.blank),
        ("kinds of line", "", lambda one: one.lines and len(one.lines.kinds)),
        ("fullest line, slots used", "", lambda one: one.lines and one.worst_line.used),
        ("fullest line, slots free", "more", lambda one: one.lines and one.free_slots),
        (
            "fullest line, share used %",
            "less",
            lambda one: one.lines and _share(one.worst_line.used, one.lines.slots),
        ),
    ),
    "Sprites of a line": (
        ("accesses asked for at most", "", lambda one: one.sprites and one.sprites.asked),
        ("slots at least", "more", lambda one: one.sprites and one.sprites.room),
        ("slots to spare", "more", lambda one: one.sprites and one.sprites.room - one.sprites.asked),
        ("of the dearest size, the limits allow", "more", lambda one: one.sprites and one.sprites.limit),
        ("of the dearest size, find slots", "more", lambda one: one.sprites and one.sprites.fit),
        ("sprites at most", "more", _limit("per_line")),
        ("dots at most", "more", _limit("dots_per_line")),
        ("sprites in the table", "more", _limit("count")),
    ),
    "CPU": (
        ("bytes a frame", "more", lambda one: one.cpu and one.cpu.bytes_per_frame),
        ("bytes a frame in blank slots", "", lambda one: one.cpu and one.cpu.bytes_in_blanking),
        ("slots a frame in the picture", "more", lambda one: one.cpu and one.cpu.active),
        ("slots a frame beside it", "more", lambda one: one.cpu and one.cpu.beside),
        ("slots a frame below it", "more", lambda one: one.cpu and one.cpu.below),
        ("bytes a second of the CPU itself", "more", lambda one: one.cpu and _rounded(one.cpu.speed)),
    ),
    "Memory": (("bytes", "less", lambda one: one.memory.size),),
    "On the chip": (("bits together", "less", lambda one: one.chip_bits),),
    "Palette and display": (
        ("palette entries", "more", lambda one: one.chip.palette.entries),
        ("bits of a colour", "more", lambda one: sum(bits.width for bits in one.chip.palette.layout.values())),
        ("lines a second", "", lambda one: _rounded(one.display.line_rate)),
        ("frames a second", "", lambda one: _rounded(one.display.frame_rate)),
        ("warnings of its display", "less", lambda one: len(one.display.warnings)),
    ),
}
"""The figures that every budget has: their names, which way is better, where they stand in it."""

LISTED: dict[str, tuple[Better, Callable[[Budget], dict[str, Any]]]] = {
    "CPU": ("less", _refills),
    "Memory": ("more", lambda one: {f"{each.name}, most at once": each.most for each in one.memory.capacities}),
    "On the chip": ("less", lambda one: {f"{kept.name}, bits": kept.bits for kept in one.on_chip}),
}
"""The figures that follow those of a section, one for each thing that a chip has."""

SCENE = "In the scene"


def _of_frame(ask: Callable[[Frame], Any]) -> Callable[[SceneOnChip], Any]:
    return lambda one: None if one.frame is None else ask(one.frame)


def _dropped(reason: str) -> Callable[[SceneOnChip], Any]:
    return _of_frame(lambda frame: int((frame.drops["reason"] == reason).sum()))


def _against(ask: Callable[[SceneOnChip], Any]) -> Callable[[SceneOnChip], Any]:
    return lambda one: OTHER_SIZE if one.other_size else None if one.differ is None else ask(one)


def _fullest(frame: Frame) -> int | None:
    return None if frame.slots is None else int(frame.slots.used.max())


def _colours(frame: Frame) -> int:
    import numpy as np  # noqa: PLC0415 - a comparison without a scene needs no arrays

    from ..colour.numbers import numbers_of  # noqa: PLC0415 - nor these

    return len(np.unique(numbers_of(frame.rgb)))


def _unread(frame: Frame) -> int | None:
    return None if frame.slots is None or frame.slots.unread is None else int(frame.slots.unread.sum())


SEEN: tuple[FigureRow, ...] = (
    ("drawn", "", lambda one: one.frame is not None),
    ("accesses fetched", "", _of_frame(lambda frame: frame.log.total)),
    ("bytes fetched", "less", lambda one: one.frame and one.frame.log.total * one.bytes_per_access),
    ("fullest line, slots used with the CPU's", "", _of_frame(_fullest)),
    (
        "fullest line, share used %",
        "less",
        _of_frame(lambda frame: frame.slots and _share(_fullest(frame) or 0, frame.slots.per_line)),
    ),
    ("accesses too late", "less", _of_frame(lambda frame: int(frame.missed.sum()))),
    ("accesses to the sprite table without a slot", "less", _of_frame(_unread)),
    ("sprites drawn, over all lines", "more", _of_frame(lambda frame: int(frame.log.drawn.sum()))),
    ("dropped for count", "less", _dropped("count")),
    ("dropped for dots", "less", _dropped("dots")),
    ("dropped for slots", "less", _dropped("slots")),
    ("colours", "more", _of_frame(_colours)),
    ("dots unlike the first picture", "", _against(lambda one: one.differ)),
    ("dots unlike it, share %", "", _against(lambda one: round(100 * one.share, 1))),
    ("largest difference of a channel, of 255", "", _against(lambda one: one.largest)),
    ("mean difference of a channel over these dots", "", _against(lambda one: round(one.mean, 1))),
)
"""The figures of the scene's frame: their names, which way is better, where they stand."""
