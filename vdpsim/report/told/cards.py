"""The verdict on a page: does it fit, what vanished, what collided, and what is left for the CPU, in a few words each.

Law: each card has a sign and a word beside its colour, and leads to the place that shows it. Words follow from figures that
others have worked out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ...budgets.budget import Budget
from ...budgets.told.section import plural
from .totals import Count, Place, Totals


class Card(NamedTuple):
    """``tone``: a verdict's word, or how its text is to be taken: ``good``, ``bad`` or ``plain``. ``to``: a dot or an anchor."""

    tone: str
    sign: str
    word: str
    text: str
    to: Place | str


FITS = {
    "fits": ("fits", "✓", "Fits"),
    "does not fit": ("does-not-fit", "✗", "Does not fit"),
    "open": ("open", "?", "Open"),
}
"""For each verdict its tone, sign and words."""

BUDGET, VANISHED, HAPPENED = "h-budget", "h-vanished", "h-happened"


def cards(found: Budget, totals: Totals) -> Iterator[Card]:
    """The cards, in the order of the questions."""
    yield _fit(found)
    yield _gone(totals)
    if found.lines is not None:
        yield _late(totals)
    if found.chip.collisions is not None:
        yield _collided(totals)
    if found.cpu is not None:
        yield _cpu(found, totals)


def _fit(found: Budget) -> Card:
    if found.lines is None:
        return Card("plain", "∅", "No time table", f"{found.chip.name}: memory is counted, slots are not", BUDGET)
    first = found.first
    told = "nothing is fetched"
    if first is not None and first.slots >= 0:
        told = f"tightest: {first.client}, {first.slots} {plural(first.slots, 'slot')} to spare"
    elif first is not None:
        told = f"worst: {first.client} lacks {-first.slots} {plural(-first.slots, 'slot')}"
    return Card(*FITS[found.verdict], told, BUDGET)


def _gone(totals: Totals) -> Card:
    gone = totals.gone
    if gone.first is None and totals.unread.first is not None:
        return Card("plain", "?", "None dropped", "what the sprite table was not read for is not found", VANISHED)
    if gone.first is None:
        return Card("good", "✓", "Nothing vanishes", f"every sprite shows, in {_frames(totals.frames)}", VANISHED)
    many = len(gone.who)
    why = ", ".join(f"{count} by {reason}" for reason, count in sorted(totals.reasons.items()))
    word = f"{many} {plural(many, 'sprite')} vanish{'es' if many == 1 else ''}"
    return Card("bad", "▼", word, f"on {_lines(gone)}{_of(gone, totals)}: {why}", gone.first)


def _late(totals: Totals) -> Card:
    late, unread = totals.late, totals.unread
    if late.first is None and unread.first is not None:
        told = f"accesses to the sprite table{_of(unread, totals)}; no sprite of those records is found"
        return Card("bad", "✗", f"{unread.number:,} not made", told, unread.first)
    if late.first is None:
        return Card("good", "✓", "Nothing late", "every fetch comes in time", HAPPENED)
    return Card(
        "bad",
        "✗",
        f"{late.number:,} too late",
        f"accesses{_of(late, totals)}; what they fetch does not show",
        late.first,
    )


def _collided(totals: Totals) -> Card:
    found = totals.collided
    if found.first is None:
        return Card("plain", "○", "No collisions", f"in {_frames(totals.frames)}", HAPPENED)
    pairs = len(found.who)
    return Card(
        "plain", "⊗", f"{pairs} {plural(pairs, 'pair')} collide", f"on {_lines(found)}{_of(found, totals)}", found.first
    )


def _cpu(found: Budget, totals: Totals) -> Card:
    cpu, lines, seen = found.cpu, found.lines, totals.seen
    assert cpu is not None
    assert lines is not None
    sure = "at least" if lines.complete else f"by the {lines.served:,} lines served"
    moved = f"{seen.cpu:,} at most" if seen is not None and seen.cpu else "none"
    return Card(
        "plain",
        "⇄",
        f"{cpu.bytes_per_frame:,} bytes a frame",
        f"for the CPU, {sure}; here it moves {moved}",
        BUDGET,
    )


def _lines(count: Count) -> str:
    return f"{count.number:,} {plural(count.number, 'line')}"


def _of(count: Count, totals: Totals) -> str:
    return "" if totals.frames == 1 else f" in {count.frames} of {_frames(totals.frames)}"


def _frames(number: int) -> str:
    return f"{number:,} {plural(number, 'frame')}"
