"""What came of a capture in words: what was compared, by which shifts, what is not there, and the first differences.

Law: everything said follows from the result and from the folder; a name is told where the index has one, and its number
elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from ....door.shown import clipped, counted, named
from ...records.index import Index
from ..found import Found
from ..outcome import BESIDE, EXTRA, MISSING, TWICE, UNLIKE, Difference, Outcome, Row
from ..shift import OFFSET, Shift, step_of
from .why import fetched, landed

NOUNS: Mapping[str, str] = {
    "dot": "dots",
    "access": "accesses",
    "fetches": "counts of fetches",
    "missed": "counts of missed accesses",
    "sprites": "counts of sprites",
    "drop": "drops",
    "collision": "collisions",
    "flag": "flags",
    "left": "states of the status",
}
"""Records of each kind, in plain words."""

SORT_WORDS: Mapping[str, str] = {
    UNLIKE: "other than expected",
    MISSING: "missing",
    EXTRA: "not expected",
    TWICE: "at a place that has another",
    BESIDE: "beside the picture that show neither the backdrop nor one thing alone",
}

REASONS = ("count", "dots", "slots")
BASE_16 = {"entry": 3, "colour": 6, "address": 6, "value": 1, "status": 2, "groups": 2}
"""Columns that are told in hexadecimal, with their digits at least."""


def told(result: Found) -> str:
    """All of it, several lines."""
    return "".join(f"{line}\n" for line in _lines(result))


def _lines(result: Found) -> Iterator[str]:
    constant = " but for a constant shift" if result.shifts or result.renumbered else ""
    verdict = f"the same{constant}" if result.same else "differs"
    part = (
        ", as far as it goes"
        if result.same and (result.absent or any(one.absent for one in result.outcomes.values()))
        else ""
    )
    yield f"{result.capture} against {result.folder}: {verdict}{part}"
    for kind, one in result.outcomes.items():
        yield f"  {NOUNS[kind]}: {counted_of(one)}"
    yield from (f"  signal {role} is {clipped(path)}: {why}" for role, path, why in result.taken)
    yield from (f"  not compared: signal {doubt}" for doubt in result.doubts)
    yield from (f"  {line}" for line in shifts_of(result))
    yield from (f"  {line}" for line in left_out(result))
    for number, (kind, first) in enumerate(_firsts(result)):
        head = "first difference" if number == 0 else f"first of the {NOUNS[kind]} that differ"
        yield f"{head}: {where(kind, first.frame, first.line, first.step)}"
        yield from (f"  {line}" for line in difference(result, kind, first))


def _firsts(result: Found) -> list[tuple[str, Difference]]:
    """The first difference of each kind, that of all first."""
    found = [(kind, one.first) for kind, one in result.outcomes.items() if one.first is not None]
    return sorted(found, key=lambda each: each[1].when[:3])


def counted_of(one: Outcome) -> str:
    """How many were compared, and what came of it."""
    seen = f"{one.seen:,} compared"
    if not one.wrong:
        return f"{seen}, all the same" if one.seen else seen
    sorts = ", ".join(f"{count:,} {SORT_WORDS[sort]}" for sort, count in sorted(one.counts.items()) if count)
    lines = [int(line) for line in one.lines.nonzero()[0]]
    places = f"on {runs('line', lines)} " if lines else ""
    return f"{seen}; {sorts}; {places}of {runs('frame', one.frames)}"


def runs(what: str, numbers: Sequence[int]) -> str:
    """Numbers in order as runs: ``lines 3, 5 to 9``."""
    parts: list[list[int]] = []
    for number in numbers:
        if parts and number == parts[-1][-1] + 1:
            parts[-1][1:] = [number]
        else:
            parts.append([number])
    shown = [str(part[0]) if len(part) == 1 else f"{part[0]} to {part[-1]}" for part in parts]
    return f"{what}{'' if len(numbers) == 1 else 's'} {named(shown, 100)}"


def shifts_of(result: Found) -> Iterator[str]:
    """The constant shifts, in sentences."""
    if result.renumbered:
        yield f"frame N of the capture is frame N {result.renumbered:+d} of the folder"
    for kind, shift in result.shifts.items():
        without, left = result.unshifted[kind], result.outcomes[kind].wrong
        by = "all" if not left else "most"
        yield f"{by} {NOUNS[kind]} come {shift_words(kind, shift)}: without that {without:,} would differ, with it {left:,} do"
        others = result.others.get(kind, ())
        yield from (f"that is {cause}" for cause in causes(result, kind, shift))
        if others:
            few = "; ".join(shift_words(kind, each) for each in others[:3])
            yield f"of the shifts that fit the frames looked at this is the smallest; others are: {few}"


CAUSES: Mapping[tuple[str, str], str] = {
    ("dot", "time"): "a latency, if it was built so, or a fault that moves all that shows, as a wrong scroll does",
    ("access", "time"): "a latency, if it was built so, or a fault that makes every access in another slot",
    ("dot", "offset"): "another base of the palette, if it was built so, or a fault that shows all in another bank",
    ("access", "offset"): "another base in memory, if it was built so, or a fault in every address",
}
"""What a constant may be: kinds that follow the dots say nothing of their own."""


def causes(result: Found, kind: str, shift: Shift) -> Iterator[str]:
    """What the constant of a kind may be, and what of the capture speaks for which."""
    for sort, there in (("time", shift.steps or shift.lines), ("offset", shift.offset)):
        if there and (kind, sort) in CAUSES:
            yield CAUSES[kind, sort] + (_tells_apart(result) if (kind, sort) == ("dot", "time") else "")


def _tells_apart(result: Found) -> str:
    """What the accesses say of dots that come late: what is fetched from elsewhere has other addresses."""
    accesses = result.outcomes.get("access")
    if accesses is None or not accesses.seen:
        return "; accesses, which this capture has not, would tell these apart"
    if accesses.wrong:
        return "; accesses differ too, which speaks for a fault"
    return "; all accesses are the same, so that no scroll is wrong by a group of dots or more"


def shift_words(kind: str, shift: Shift) -> str:
    """A shift as ``2 dots late and 1 line early``."""
    step = step_of(kind) or "dot"
    parts = [
        f"{counted(abs(number), what)} {'late' if number > 0 else 'early'}"
        for number, what in ((shift.steps, step), (shift.lines, "line"))
        if number
    ]
    if shift.offset:
        more = "more" if shift.offset > 0 else "less"
        parts.append(f"with {OFFSET[kind]} 0x{abs(shift.offset):x} {more} than expected")
    return " and ".join(parts) or "in time"


def left_out(result: Found) -> Iterator[str]:
    """What is not in the capture, or of no use in it."""
    parts = [_many(one.absent, kind) for kind, one in result.outcomes.items() if one.absent]
    parts += [f"{_many(many, kind)} (none of that kind)" for kind, many in result.absent.items()]
    if parts:
        yield f"not in the capture, and not compared: {', '.join(parts)}"
    beside = result.outcomes["dot"].outside if "dot" in result.outcomes else 0
    if beside:
        yield f"beside the picture, and not compared: {counted(beside, 'dot')} of the capture"
    if result.strange:
        yield f"not in the folder: {runs('frame', [each - result.renumbered for each in result.strange])} of the capture"
    if result.unplaced:
        yield f"without a place that is known, and not compared: {counted(result.unplaced, 'record')}"


def _many(count: int, kind: str) -> str:
    """So many records of a kind."""
    head, of, rest = NOUNS[kind].partition(" of ")
    one = {"accesses": "access"}.get(head, head.removesuffix("s"))
    return f"{count:,} {one if count == 1 else head}{of}{rest}"


def where(kind: str, frame: int, line: int, step: int) -> str:
    """A place in words."""
    at = [
        f"frame {frame}",
        *([f"line {line}"] if line >= 0 else []),
        *([f"{step_of(kind)} {step}"] if step >= 0 else []),
    ]
    return ", ".join(at)


def difference(result: Found, kind: str, one: Difference) -> Iterator[str]:
    """What was expected and why, and what came."""
    index = result.index
    yield f"expected {_rows(index, kind, one.expected) or 'nothing'}"
    if kind == "dot" and one.expected:
        yield from drawn_by(index, one.expected[0])
        yield from fetched(result.folder, index, one)
    yield f"came {_rows(index, kind, one.came) or 'nothing'}"
    if kind == "access" and one.expected and one.came:
        yield from landed(result.folder, index, one)


class Named(Protocol):
    """Whoever knows what the numbers of sources, rungs and sprites are called."""

    @property
    def sources(self) -> Sequence[str]:
        """Sources by number."""

    @property
    def rungs(self) -> Sequence[str]:
        """Rungs by number."""

    @property
    def sprites(self) -> Mapping[str, int]:
        """Places in the sprite table by name."""


def drawn_by(index: Named, row: Row) -> Iterator[str]:
    """Who drew a dot, and why."""
    source, rung, sprite = (row[name] or 0 for name in ("source", "rung", "sprite"))
    who = _name(index.sources, source)
    if sprite >= 0 and row["sprite"] is not None:
        who = sprite_name(index, sprite)
    yield f"drawn by {who}, which wins at rung {rung}: {_name(index.rungs, rung)}"


def sprite_name(index: Named, number: int) -> str:
    """A sprite by its name and place in the table."""
    name = next((name for name, place in index.sprites.items() if place == number), None)
    return f"sprite {number}" if name is None else f"sprite {clipped(name)} ({number} in the table)"


def _name(names: Sequence[str], number: int) -> str:
    return clipped(names[number]) if 0 <= number < len(names) else f"number {number}"


def _rows(index: Index, kind: str, rows: Sequence[Row]) -> str:
    return "; ".join(row_words(index, kind, each) for each in rows)


def row_words(index: Index, kind: str, row: Row) -> str:
    """A record's columns beside its place, in words."""
    step = {"line", step_of(kind)} if kind in {"dot", "access"} else {"line"}
    skipped = step | ({"source", "rung", "sprite"} if kind == "dot" else set())
    return ", ".join(_column(index, kind, name, number) for name, number in row.items() if name not in skipped)


def _column(index: Index, kind: str, name: str, number: int | None) -> str:
    if number is None:
        return f"{name} not known (x)"
    if name == "colour":
        return f"colour #{number:06x}"
    if name in BASE_16:
        return f"{name} 0x{number & (1 << 64) - 1:0{BASE_16[name]}x}"
    if name == "client":
        return f"client {_name(index.clients, number)}"
    if name == "reason":
        return f"dropped for {_name(REASONS, number)}"
    if name in {"sprite", "first", "second"} and kind in {"drop", "collision"}:
        return f"{'' if name == 'sprite' else f'{name} '}{sprite_name(index, number)}"
    return f"{name} {number}"
