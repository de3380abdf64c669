"""What a budget tells of time on the line: kinds of line, clients, sprites, and what a scene's frames really did.

Law: says what stands in the Budget and works nothing out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from ..budget import Budget, SpritesBudget
from ..line.line import Spare
from ..line.lines import LineBudget, LinesBudget, merged
from ..seen import SeenFrames
from .section import Section, TextRow, plural
from .where import SHORT, where

KINDS_TOLD = 8
"""Kinds of line that are told of, the fullest first, and those beyond without which a mode would not be told of."""


def _number(value: int | None) -> str:
    return "" if value is None else f"{value}"


KIND_COLUMNS: dict[str, Callable[[LineBudget], str]] = {
    "used": lambda line: f"{line.used}",
    "free": lambda line: f"{line.free}",
    "CPU": lambda line: f"{line.cpu}",
    "sprites ask": lambda line: f"{line.sprites}" if line.room is not None else "",
    "room": lambda line: _number(line.room),
    "slack": lambda line: "late" if line.missed else _number(line.slack),
}
"""What is told of a kind of line beside its name."""

SPRITE_COLUMNS: dict[str, Callable[[SpritesBudget], str]] = {
    "of": lambda sprites: f"{sprites.size[0]}x{sprites.size[1]}",
    "ask at most": lambda sprites: f"{sprites.asked}",
    "slots at least": lambda sprites: f"{sprites.room}",
    "find slots": lambda sprites: f"{sprites.fit}",
    "limits allow": lambda sprites: f"{sprites.limit}",
    "more": lambda sprites: f"{sprites.more}",
}


def time_sections(budget: Budget, lines: LinesBudget, *, everything: bool) -> Iterator[Section]:
    """The sections of a chip with a time table; ``everything``: each kind of line."""
    yield _kinds(budget, lines, everything=everything)
    yield _clients(budget, lines)
    if budget.sprites is not None:
        yield _sprites(budget, budget.sprites)
    if budget.seen is not None:
        yield _seen(budget.seen, lines)


def _kinds(budget: Budget, lines: LinesBudget, *, everything: bool) -> Section:
    alike = [(line, 1) for line in lines.kinds] if everything else merged(lines.kinds)
    told = alike if everything else _chosen(alike)
    rows = [_kind(line, count) for line, count in told]
    hidden = sum(count for _, count in alike) - sum(count for _, count in told)
    if hidden:
        rows.append((f"({hidden} more {plural(hidden, 'kind')}: --all)", *[""] * len(KIND_COLUMNS)))
    rows.append(_kind(lines.below, 1))
    title = f"Time: {lines.slots} slots a line{_floored(budget)}, {lines.blank} of them blank; each figure at its worst"
    title += "" if lines.complete else f" of the {lines.served:,} lines served, not all that can be"
    names = ("slots a line", "blank slots", "used", "free", "cpu", "room", "slack")
    return Section(title, ("kind of line", *KIND_COLUMNS), tuple(rows), len(KIND_COLUMNS), names)


def _kind(line: LineBudget, alike: int) -> TextRow:
    name = line.name if alike == 1 else f"{line.name}, and {alike - 1} alike"
    return name, *(told(line) for told in KIND_COLUMNS.values())


def _chosen(alike: Sequence[tuple[LineBudget, int]]) -> list[tuple[LineBudget, int]]:
    """The fullest, those that are late, and whatever else it takes to tell of each mode."""
    found, seen = [], set[tuple[int, int]]()
    for place, (line, count) in enumerate(alike):
        modes = {(number, mode) for number, mode in enumerate(line.kind.modes) if mode is not None}
        if place < KINDS_TOLD or line.missed or modes - seen:
            found.append((line, count))
            seen |= modes
    return found


def _floored(budget: Budget) -> str:
    """What is lost where a line's dots do not hold a whole number of accesses."""
    dots, rate = budget.chip.frame.dots_per_line, budget.chip.memory.accesses_per_dot
    exact = dots * (rate or 0)
    return "" if exact == int(exact) else f" ({dots} dots x {rate} are {float(exact):.2f}; the part of a slot is lost)"


def _clients(budget: Budget, lines: LinesBudget) -> Section:
    """Each client: the most that it asks for, and the least slack of all lines, with where that is."""
    rows = [_client(budget, lines, spare) for spare in lines.spare.values()]
    if lines.most["refresh"]:
        rows.append(("refresh", f"{lines.most['refresh']}", "", "", ""))
    head = ("client", "asks at most", "slots to spare", "its last", "where (n/m: scrolled by n of m dots)")
    every = "all" if lines.complete else "not all that can be, but"
    title = f"Clients, in the order in which they are served; the least over {every} {lines.served:,} lines"
    return Section(title, head, tuple(rows), 0, ("asks at most", "slack"))


def _client(budget: Budget, lines: LinesBudget, spare: Spare) -> TextRow:
    name = spare.client
    slot = f"slot {spare.slot} of {spare.last}" if spare.slot >= 0 else ""
    at = where(budget.chip, spare.line, client=name, words=SHORT)
    return name, f"{lines.most[name]}", _slack(lines.least(name), spare), slot, at


def _slack(proved: int, spare: Spare) -> str:
    """The slots that a client has to spare: what was found, and what is proved where that is less."""
    if spare.missed:
        return f"misses {spare.missed}"
    if proved == spare.slots:
        return f"{proved}"
    return f"{proved} to {spare.slots}" if proved >= 0 else f"{spare.slots}, not proved"


def _sprites(budget: Budget, sprites: SpritesBudget) -> Section:
    at = where(budget.chip, sprites.line, client="sprites", words=SHORT)
    row = (*(told(sprites) for told in SPRITE_COLUMNS.values()), at)
    names = ("sprites asked", "sprites that fit")
    return Section("Sprites of a line", (*SPRITE_COLUMNS, "where"), (row,), 0, names)


def _seen(seen: SeenFrames, lines: LinesBudget) -> Section:
    by_client = ", ".join(f"{name} {count}" for name, count in seen.by_client.items() if count)
    dropped = ", ".join(f"{count} for {why}" for why, count in sorted(seen.dropped.items())) or "none"
    unread = (("table not read", f"{seen.unread} accesses"),) if seen.unread else ()
    rows = (
        ("fullest line", f"frame {seen.frame} line {seen.line}: {seen.used} of {lines.slots} slots"),
        ("by client", by_client),
        ("too late", f"{seen.missed} accesses"),
        ("sprites dropped", dropped),
        *unread,
        ("CPU", f"{seen.cpu} bytes in a frame at most"),
    )
    title = f"In the scene, {seen.frames} {plural(seen.frames, 'frame')} drawn"
    return Section(title, ("what", "how much"), rows, 0, ())
