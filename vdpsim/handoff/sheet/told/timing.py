"""The time of a line and of a frame: what follows what, in dots, lines, slots and microseconds.

Law: slots and rates are those of ``chip/line/rates.py``; who is served in which slot stands elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ....chip.line.rates import LineSlots, frame_rate, line_rate, line_slots
from ....chip.model import Chip
from ....chip.tables.basics import size_name
from ..drawn.frame import frame_drawn
from ..drawn.line import line_drawn
from ..parts import Grid, Part, Picture, Section
from .wording import cycles, micro, nano, plain, trimmed

FRAME = (
    "Picture, border and blanking, to scale. Line 0 and dot 0 are the picture's first: what stands above it are the last lines "
    "of the frame before, and a line's time begins with the right border of the line before."
)
"""What the drawing of a frame shows."""


@dataclass(frozen=True)
class Stretch:
    """A part of a line in dots or of a frame in lines; ``first`` is counted from the picture's first."""

    name: str
    first: int
    count: int


def line_parts(chip: Chip) -> list[Stretch]:
    """A line in order of time, from the end of the picture before on; what it has not is left out."""
    frame, border = chip.frame, chip.frame.border
    ahead = frame.dots_per_line - frame.width
    blank = ahead - border.left - border.right
    return _stretches(
        -ahead,
        (
            ("right border, of the line before", border.right),
            ("blanking", blank),
            ("left border", border.left),
            ("picture", frame.width),
        ),
    )


def frame_parts(chip: Chip) -> list[Stretch]:
    """A frame in order of time, from its first line on; what it has not is left out."""
    frame, border = chip.frame, chip.frame.border
    blank = frame.lines_per_frame - frame.height - border.top - border.bottom
    return _stretches(
        0,
        (("picture", frame.height), ("lower border", border.bottom), ("blanking", blank), ("upper border", border.top)),
    )


def _stretches(first: int, parts: tuple[tuple[str, int], ...]) -> list[Stretch]:
    found = []
    for name, count in parts:
        found += [Stretch(name, first, count)] if count else []
        first += count
    return found


def timing(chip: Chip) -> Section:
    """The section of frame and line."""
    return Section("Timing", tuple(_timing(chip)))


def _timing(chip: Chip) -> Iterator[Part]:
    yield Grid("Rates", ("what", "value"), tuple(_rates(chip)), (1,))
    yield Picture(
        "frame",
        frame_drawn(chip),
        FRAME,
    )
    slots = line_slots(chip) if chip.time is not None else None
    yield _line_grid(chip, slots)
    yield _frame_grid(chip)
    if len(chip.frame.every_size) > 1:
        yield _sizes(chip)
    if slots is not None:
        yield Picture("line", line_drawn(chip, line_parts(chip)), _caption(slots))


def _caption(slots: LineSlots) -> str:
    return (
        f"A line of the picture, to scale: {plain(slots.slots)} slots from the end of the picture on the line before, of which "
        f"{plain(slots.blank)} are over before dot 0. For each place of the time table: the slots in which its fetches may "
        "lie and, of what is fetched in time, those of one group of dots, which shows at their end."
    )


def _rates(chip: Chip) -> Iterator[tuple[str, str]]:
    frame, rate = chip.frame, chip.memory.accesses_per_dot
    yield "dot clock", cycles(frame.dot_clock)
    yield "a dot", nano(Fraction(1, frame.dot_clock))
    yield "line rate", cycles(line_rate(frame))
    yield "frame rate", f"{trimmed(frame_rate(frame))} Hz"
    if rate is not None:
        yield "accesses a dot", f"{rate}"
        yield "a slot", nano(1 / (frame.dot_clock * rate))
    if chip.cpu is not None:
        yield "CPU clock", cycles(chip.cpu.clock)
        yield "CPU cycles a byte, at least", plain(chip.cpu.cycles_per_byte)
    yield "meant for a display of", frame.display or "no kind that is named"


def _line_grid(chip: Chip, slots: LineSlots | None) -> Grid:
    clock = chip.frame.dot_clock
    parts = line_parts(chip)
    every = Stretch("whole line", parts[0].first, chip.frame.dots_per_line)
    head = ("part of a line", "from dot", "dots", "us", *(("from slot", "slots") if slots else ()))
    rows = [
        (one.name, plain(one.first), plain(one.count), micro(Fraction(one.count, clock)), *_in_slots(one, slots))
        for one in (*parts, every)
    ]
    return Grid("A line, in order of time", head, tuple(rows), tuple(range(1, len(head))))


def _in_slots(one: Stretch, slots: LineSlots | None) -> tuple[str, ...]:
    """The first slot that begins in a part, and how many do."""
    if slots is None:
        return ()
    first, end = (min(slots.from_dot(dot), slots.slots) for dot in (one.first, one.first + one.count))
    return plain(first), plain(end - first)


def _frame_grid(chip: Chip) -> Grid:
    line = 1 / line_rate(chip.frame)
    parts = [*frame_parts(chip), Stretch("whole frame", 0, chip.frame.lines_per_frame)]
    rows = tuple((one.name, plain(one.first), plain(one.count), micro(one.count * line)) for one in parts)
    return Grid("A frame, in order of time", ("part of a frame", "from line", "lines", "us"), rows, (1, 2, 3))


def _sizes(chip: Chip) -> Grid:
    head = ("number", "picture", "left", "right", "top", "bottom", *(("blank slots a line",) if chip.time else ()))
    rows = []
    for number, one in enumerate(chip.each_size):
        edge = one.frame.border
        blank = (plain(line_slots(one).blank),) if chip.time else ()
        sides = map(plain, (edge.left, edge.right, edge.top, edge.bottom))
        rows.append((plain(number), size_name((one.frame.width, one.frame.height)), *sides, *blank))
    return Grid(
        "Sizes of the picture, each with its border; all else here is of the largest",
        head,
        tuple(rows),
        tuple(range(2, len(head))),
    )
