"""A line's slots to scale: what shows, who has slots of its own, and in which slots each place of the time table is served.

Law: a row for each, from the first slot to the last, with what it is above it. Slots are those of ``chip/line``. Of what there
are too many to draw each, all are drawn as one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple, Protocol

from ....chip.line.checks_time import reserved_slots
from ....chip.line.clients import Place, costs_of, places
from ....chip.line.rates import LineSlots, line_slots
from ....chip.line.serving import numbers
from ....chip.line.slots import Server
from ....chip.model import Chip, ClientTime
from ...drawing.svg import Drawing, Tone, width_of
from .spread import spread

WIDE, HIGH, LINE, GAP = 700.0, 16.0, 18.0, 10.0
"""Width of all slots, height of a bar and of a line of text, and what lies between rows."""

MOST_RUNS = 250
"""Runs of slots that are drawn one by one."""


class Span(Protocol):
    """A part of a line."""

    @property
    def name(self) -> str:
        """What it is."""

    @property
    def first(self) -> int:
        """Its first dot, counted from the picture's first."""

    @property
    def count(self) -> int:
        """Its dots."""


class _Run(NamedTuple):
    """Slots ``first`` to ``end`` - 1, and how they are filled."""

    first: int
    end: int
    tone: Tone


class _Row(NamedTuple):
    """Runs of slots that do not overlap, and what they are; at the slot ``shows`` what a window's fetches are for shows."""

    text: str
    runs: tuple[_Run, ...]
    shows: int | None = None


def line_drawn(chip: Chip, parts: Sequence[Span]) -> str:
    """The drawing of a chip with a time table; ``parts`` of a line in order of time."""
    made, line, rows = Drawing(), line_slots(chip), list(_rows(chip))
    _dots(made, line, parts)
    for row in rows:
        _row(made, line, row)
    _numbers(made, line)
    return made.svg(f"A line of {line.slots} slots: {'; '.join(row.text for row in rows)}")


def _dots(made: Drawing, line: LineSlots, parts: Sequence[Span]) -> None:
    """The parts of a line as dots, each with its name and dots at the end of a line from it, the last part's the lowest."""
    top = made.bottom + LINE * len(parts) + 4
    for place, one in enumerate(parts):
        across = one.count * WIDE / line.dots
        x = made.edge + (line.ahead + one.first) * WIDE / line.dots
        made.box(x, top, across, HIGH, "" if one.name == "picture" else "still" if one.name == "blanking" else "mark")
        base = top - LINE * (len(parts) - 1 - place) - 10
        made.line((x + across / 2, top), (x + across / 2, base - 4), (x + across / 2 + 5, base - 4))
        made.text(x + across / 2 + 8, base, f"{one.name}, {one.count} dots")


def _row(made: Drawing, line: LineSlots, row: _Row) -> None:
    top = made.bottom + GAP + LINE
    made.text(made.edge, top - 6, row.text)
    for first, end, tone in row.runs:
        made.box(made.edge + first * WIDE / line.slots, top, (end - first) * WIDE / line.slots, HIGH, tone)
    made.line((made.edge, top + HIGH), (made.edge + WIDE, top + HIGH))
    if row.shows is not None:
        x = made.edge + row.shows * WIDE / line.slots
        made.line((x, top), (x, top + HIGH + 4))


def _numbers(made: Drawing, line: LineSlots) -> None:
    """A scale of slots below all rows: the first, the first that is not blank, and the one after the last."""
    top = made.bottom + 8
    slots = sorted({0, line.blank, line.slots})
    at = [made.edge + slot * WIDE / line.slots for slot in slots]
    texts = [f"slot {slot}" for slot in slots]
    places = spread(at, [width_of(text) + 10 for text in texts], made.edge, made.edge + WIDE)
    made.line((made.edge, top), (made.edge + WIDE, top))
    for x, place, text in zip(at, places, texts, strict=True):
        made.line((x, top - 4), (x, top + 4))
        if abs(x - place) > width_of(text) / 2 + 6:
            made.line((x, top + 4), (place, top + 12))
        made.text(place, top + 22, text, middle=True)


# The rows


def _rows(chip: Chip) -> Iterator[_Row]:
    server, line = Server(chip), line_slots(chip)
    _, refresh = server.fresh(picture=True)
    if refresh:
        yield _Row(f"refresh: {len(refresh)} slots", _runs(refresh, "more"))
    own = numbers(reserved_slots(chip))
    if own:
        yield _Row(f"CPU: {len(own)} slots of its own", _runs(own, "more"))
    for name, place in places(chip).items():
        yield _place(chip, line, name, place)


def _runs(slots: Sequence[int], tone: Tone) -> tuple[_Run, ...]:
    """Slots that follow one another as one; all from the first to the last as one where there are too many such runs."""
    found: list[list[int]] = []
    for slot in slots:
        if found and found[-1][1] == slot:
            found[-1][1] = slot + 1
        else:
            found.append([slot, slot + 1])
    if len(found) > MOST_RUNS:
        found = [[found[0][0], found[-1][1]]]
    return tuple(_Run(first, end, tone) for first, end in found)


def _place(chip: Chip, line: LineSlots, name: str, place: Place) -> _Row:
    assert chip.time is not None
    timed = chip.time.clients[name]
    if timed.lead is None:
        end, told = (line.blank, "in blanking") if timed.when == "blanking" else (line.slots, "for the next line")
        return _Row(f"{name}: {told}", _runs(range(end), "mark"))
    return _in_time(chip, line, f"{name}: in time, {timed.lead} dots ahead", place, timed)


def _in_time(chip: Chip, line: LineSlots, text: str, place: Place, timed: ClientTime) -> _Row:
    """From the first slot for what shows first to the last for what shows last, and the window of a group near the middle."""
    assert timed.lead is not None
    size = costs_of(chip)[place.layer][place.modes[0]].size
    dot = chip.frame.width // 2 // size * size
    first, end = line.from_dot(-timed.lead), line.before(chip.frame.width - 1)
    begin, due = line.from_dot(dot - timed.lead), line.before(dot)
    if begin >= due:  # a lead shorter than a slot
        runs = [_Run(first, end, "mark")]
        return _Row(f"{text}; for dot {dot}: no slot", tuple(run for run in runs if run.first < run.end), due)
    runs = [_Run(first, begin, "mark"), _Run(begin, due, "more"), _Run(due, end, "mark")]
    return _Row(
        f"{text}; for dot {dot}: slots {begin} to {due - 1}", tuple(run for run in runs if run.first < run.end), due
    )
