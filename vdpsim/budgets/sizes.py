"""Budgets of one chip at several sizes of its picture, as one: each figure at the size that is worst for it.

Law: a frame has one size from beginning to end, and what is fetched in its slots follows from that size alone, be it for line 0
of a frame of another. So what holds of every line at each size holds of every line. Lines say at which size they are. Works
out nothing but which is worst.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from ..chip.model import Chip
from ..chip.tables.basics import size_name
from .line.line import Spare
from .line.lines import LineBudget, LinesBudget
from .onchip import OnChip
from .proof import How, Proof, Verdict

if TYPE_CHECKING:
    from .witness.witness import Witness

VERDICTS: tuple[Verdict, ...] = ("does not fit", "open", "fits")
"""From the worst to the best."""

HOWS: tuple[How, ...] = ("witness", "open", "bound", "served", "memory")
"""Of proofs with one verdict the one that proves least stands for all."""


def worst_proof(chips: Sequence[Chip], proofs: Sequence[Proof]) -> Proof:
    """The proofs of one chip at several sizes, as one: it fits where it does at each.

    Where it does not, what is shown of it is the line that misses most; of several such that of the first size.
    """
    if len(proofs) == 1:
        return proofs[0]
    worst = min(proofs, key=lambda one: (VERDICTS.index(one.verdict), HOWS.index(one.how), -_lost(one.witness)))
    return replace(worst, lines=_all_lines(chips, [one.lines for one in proofs]))


def _lost(witness: Witness | None) -> int:
    """Accesses that the witness misses on its line, those to the sprite table too, and sprites that find no slot there."""
    return 0 if witness is None else sum(witness.missed.values()) + witness.dropped + witness.unread


def worst_kept(found: Iterable[Sequence[OnChip]]) -> tuple[OnChip, ...]:
    """Of each thing that is kept on the chip the most bits at any size."""
    most: dict[str, OnChip] = {}
    for each in found:
        for kept in each:
            if kept.name not in most or kept.bits > most[kept.name].bits:
                most[kept.name] = kept
    return tuple(most.values())


def _all_lines(chips: Sequence[Chip], each: Sequence[LinesBudget]) -> LinesBudget:
    """The lines of all sizes, the worst of each figure."""
    told = [_told(chip, lines) for chip, lines in zip(chips, each, strict=True)]
    complete = all(lines.complete for lines in each)
    first = told[0]
    rooms = [lines.room for lines in told if lines.room is not None]
    proved = [
        lines.room.slots if lines.room_at_least is None else lines.room_at_least
        for lines in told
        if lines.room is not None
    ]
    return LinesBudget(
        slots=first.slots,
        blank=min(lines.blank for lines in told),
        kinds=tuple(sorted((kind for lines in told for kind in lines.kinds), key=lambda line: -line.used)),
        below=max((lines.below for lines in told), key=lambda line: line.used),
        spare={
            name: min((lines.spare[name] for lines in told if name in lines.spare), key=_nearness)
            for name in _names(told)
        },
        room=min(rooms, key=lambda room: room.slots, default=None),
        complete=complete,
        served=sum(lines.served for lines in told),
        bound=max(lines.bound for lines in told),
        most={name: max(lines.most[name] for lines in told) for name in first.most},
        at_least={} if complete else {name: min(_least(told, name)) for name in _names(told)},
        room_at_least=None if complete else min(proved, default=None),
        cpu=tuple(dict.fromkeys(slots for lines in told for slots in lines.cpu)),
        cpu_last=tuple(dict.fromkeys(slots for lines in told for slots in lines.cpu_last)),
        cpu_empty=first.cpu_empty,
    )


def _names(each: Sequence[LinesBudget]) -> Sequence[str]:
    """The clients of layers that fetch at some size, in the order in which they are served."""
    longest = max(each, key=lambda lines: len(lines.spare))
    return list(dict.fromkeys([*longest.spare, *(name for lines in each for name in lines.spare)]))


def _least(each: Sequence[LinesBudget], name: str) -> list[int]:
    """The slack of a client that is proved at each size at which it fetches."""
    return [lines.least(name) for lines in each if name in lines.spare or name in lines.at_least]


def _nearness(spare: Spare) -> tuple[int, int]:
    return spare.nearness


def _told(chip: Chip, lines: LinesBudget) -> LinesBudget:
    """The lines with the size of ``chip`` in each."""
    size = chip.frame.number

    def spares(found: dict[str, Spare]) -> dict[str, Spare]:
        return {name: one._replace(line=one.line._replace(size=size)) for name, one in found.items()}

    def kind(one: LineBudget) -> LineBudget:
        name = f"{size_name((chip.frame.width, chip.frame.height))}: {one.name}"
        return replace(one, name=name, spare=spares(one.spare))

    return replace(
        lines,
        kinds=tuple(map(kind, lines.kinds)),
        below=kind(lines.below),
        spare=spares(lines.spare),
        room=lines.room and lines.room._replace(line=lines.room.line._replace(size=size)),
    )
