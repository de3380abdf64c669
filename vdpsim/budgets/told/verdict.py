"""The verdict in sentences: whether it is proved, where it is nearest to failing, and what is left out.

Law: says what stands in the Budget and works nothing out.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..budget import Budget, First
from ..line.lines import LinesBudget
from .section import plural
from .where import where


def verdict(budget: Budget) -> str:
    """Whether the chip fits, in a few sentences."""
    return " ".join(verdict_lines(budget))


def verdict_lines(budget: Budget) -> list[str]:
    """The same on lines of their own: the verdict, where it is tightest or what is missed most, what is left out."""
    chip, lines = budget.chip.name, budget.lines
    if lines is None:
        return [f"{chip} has no time table: this covers its memory, but no slots."]
    if budget.verdict == "fits":
        told = f"{chip} fits: {_proof(budget, lines)}"
    elif budget.verdict == "open":
        told = f"{chip} is open, neither proved to fit nor refuted: {_doubt(budget, lines)}"
    else:
        told = f"{chip} does not fit: {_against(budget)}"
    return [told, *_first(budget), _left_out(budget)]


def _proof(budget: Budget, lines: LinesBudget) -> str:
    every = "every line that its registers allow, at every scroll position and with any number of sprites"
    if budget.chip.sprites is None:
        every = "every line that its registers allow, at every scroll position"
    how = (
        f"all {lines.served:,} that differ were served"
        if budget.how == "served"
        else "by a bound that holds for all of them"
    )
    return f"proved for {every} ({how})."


def _against(budget: Budget) -> str:
    seen, witness = budget.seen, budget.witness
    if witness is None:
        assert seen is not None
        slots = seen.dropped.get("slots", 0)
        unread = f", and {seen.unread} accesses to the sprite table find none" if seen.unread else ""
        return f"in the scene {seen.missed} accesses come too late, and {slots} sprites find no slot{unread}."
    return (
        f"on line {witness.line} of a scene that was drawn for it{witness.at} there is no slot in time for {witness.what} "
        "(--witness FILE writes that scene)."
    )


def _doubt(budget: Budget, lines: LinesBudget) -> str:
    """Between which bounds it lies, and what would settle it."""
    late = [f"{one.client} would miss {one.missed}" for one in lines.late]
    if late:
        return (
            f"on lines that were served {', '.join(late)}, but no scene was found that brings such a line about. To settle it, "
            "find one that does, or let registers hold less."
        )
    return (
        f"none of the {lines.served:,} lines served misses anything, but these are not all lines; by the bound "
        f"{'; '.join(_doubts(budget, lines))}. To settle it, give it that many more slots (a longer lead, a faster memory), or "
        "fewer lines to serve (modes, scroll positions, cells that turn)."
    )


def _doubts(budget: Budget, lines: LinesBudget) -> Iterator[str]:
    """What the bound cannot exclude, beside the worst of it on the lines that were served."""
    for name, spare in lines.spare.items():
        late = -lines.least(name)
        if late > 0:
            yield f"{name} may be up to {late} {plural(late, 'slot')} late (served: at least {spare.slots} to spare)"
    sprites = budget.sprites
    if sprites and sprites.promised and sprites.slack < 0:
        lacked = max(0, sprites.asked - sprites.found)
        yield f"sprites may lack {-sprites.slack} {plural(-sprites.slack, 'slot')} (served: at most {lacked})"


def _first(budget: Budget) -> list[str]:
    first = budget.first
    if first is None or first.slots < 0 or budget.verdict == "does not fit":
        return [] if first is None else [_late(budget, first)]
    slots = f"{first.slots} {plural(first.slots, 'slot')}"
    if first.proved != first.slots:
        slots = f"at least {max(0, first.proved)}, at most {slots}"
    told = where(budget.chip, first.line, client=first.client)
    return [f"First to give way: {first.client}, {slots} to spare ({told})."]


def _late(budget: Budget, first: First) -> str:
    if first.slots >= 0:
        return f"Closest of the others: {first.client}, {first.slots} to spare."
    lacks = "misses" if first.client != "sprites" else "lack slots for"
    told = where(budget.chip, first.line, client=first.client)
    return f"Worst: {first.client} {lacks} {-first.slots} accesses ({told})."


def _left_out(budget: Budget) -> str:
    if not budget.cut:
        return "Writes in mid-line change nothing that is fetched: none of its registers takes effect at once there."
    named = ", ".join(budget.cut[:4])
    more = f" and {len(budget.cut) - 4} more" if len(budget.cut) > 4 else ""
    return f"Not covered: writes in mid-line to {named}{more}, which take effect at once."
