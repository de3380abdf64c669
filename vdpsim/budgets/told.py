"""A budget in words and numbers: sections of rows for people, one tree for programs.

Law: says what stands in the Budget and works nothing out. The same budget gives the same text.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from fractions import Fraction
from typing import Any

from ..door.given import instance
from ..door.plain import plain as plain_data
from .budget import Budget
from .cpu import CpuBudget
from .explain import EXPLAIN
from .line.lines import LineBudget, LinesBudget, merged
from .line.where import SHORT, where
from .line.worst import Spare
from .memory import Capacity
from .verdict import verdict, verdict_lines

__all__ = ["budget_data", "budget_json", "plain", "sections", "verdict", "verdict_lines"]

KINDS_TOLD = 8
"""Kinds of line that are told of, the fullest first, and those beyond without which a mode would not be told of."""

Row = tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """A table with a title: ``head`` names its columns, ``rows`` are texts; the last ``right`` columns are numbers.

    ``explained``: the figures in it, by their names in EXPLAIN. ``beside``: whether it stands in the second of two columns.
    """

    title: str
    head: Row
    rows: tuple[Row, ...]
    right: int
    explained: tuple[str, ...]
    beside: bool = False


def sections(budget: Budget, *, everything: bool = False) -> Iterator[Section]:
    """Everything that is told, a section after the other; ``everything``: each kind of line."""
    if budget.lines is not None:
        yield _kinds(budget, budget.lines, everything=everything)
        yield _clients(budget, budget.lines)
        yield from _sprites(budget)
        yield from _seen(budget, budget.lines)
    yield from _memory(budget)
    yield from _cpu(budget)
    rows = tuple((kept.name, f"{kept.bits:,}", kept.formula) for kept in budget.on_chip)
    total = ("together", f"{budget.chip_bits:,}", f"{budget.chip_bits / 8192:.2f} KiB")
    yield Section("On the chip", ("kept", "bits", "formula"), (*rows, total), 0, ("bits",), beside=True)
    display = budget.display
    rates = f"{float(display.line_rate):,.2f} lines a second, {float(display.frame_rate):.4f} frames a second"
    told = tuple((warning,) for warning in display.warnings) or (("its display takes that",),)
    yield Section("Display", (rates,), told, 0, ("line rate", "frame rate"), beside=True)


def _kinds(budget: Budget, lines: LinesBudget, *, everything: bool) -> Section:
    head = ("kind of line", "used", "free", "CPU", "sprites ask", "room", "slack")
    alike = [(line, 1) for line in lines.kinds] if everything else merged(lines.kinds)
    told = alike if everything else _chosen(alike)
    rows = [_kind(line, count) for line, count in told]
    hidden = sum(count for _, count in alike) - sum(count for _, count in told)
    if hidden:
        rows.append((f"({hidden} more kind{'s' if hidden > 1 else ''}: --all)", *[""] * (len(head) - 1)))
    rows.append(_kind(lines.below, 1))
    title = f"Time: {lines.slots} slots a line{_floored(budget)}, {lines.blank} of them blank; each figure at its worst"
    title += "" if lines.complete else f" of the {lines.served:,} lines served, not all that can be"
    names = ("slots a line", "blank slots", "used", "free", "cpu", "room", "slack")
    return Section(title, head, tuple(rows), 6, names)


def _kind(line: LineBudget, alike: int) -> Row:
    more = f", and {alike - 1} alike" if alike > 1 else ""
    room, slack = ["" if one is None else f"{one}" for one in (line.room, line.slack)]
    asked = f"{line.sprites}" if line.room is not None else ""
    return (
        line.name + more,
        f"{line.used}",
        f"{line.free}",
        f"{line.cpu}",
        asked,
        room,
        "late" if line.missed else slack,
    )


def _chosen(alike: list[tuple[LineBudget, int]]) -> list[tuple[LineBudget, int]]:
    """The fullest, those that are late, and whatever else it takes to tell of each mode."""
    found, seen = [], set[tuple[int, int]]()
    for place, (line, count) in enumerate(alike):
        modes = {(number, mode) for number, mode in enumerate(line.kind.modes) if mode is not None}
        if place < KINDS_TOLD or line.missed or modes - seen:
            found.append((line, count))
            seen |= modes
    return found


def _clients(budget: Budget, lines: LinesBudget) -> Section:
    """Each client: the most that it asks for, and the least slack of all lines, with where that is."""
    rows = []
    for name, spare in lines.spare.items():
        least = lines.least(name)
        if spare.missed:
            slack = f"misses {spare.missed}"
        elif least == spare.slots:
            slack = f"{least}"
        else:
            slack = f"{least} to {spare.slots}" if least >= 0 else f"{spare.slots}, not proved"
        slots = f"slot {spare.slot} of {spare.last}" if spare.slot >= 0 else ""
        rows.append(
            (name, f"{lines.most[name]}", slack, slots, where(budget.chip, spare.line, client=name, words=SHORT))
        )
    if lines.most["refresh"]:
        rows.append(("refresh", f"{lines.most['refresh']}", "", "", ""))
    head = ("client", "asks at most", "slots to spare", "its last", "where (n/m: scrolled by n of m dots)")
    every = "all" if lines.complete else "not all that can be, but"
    title = f"Clients, in the order in which they are served; the least over {every} {lines.served:,} lines"
    return Section(title, head, tuple(rows), 0, ("asks at most", "slack"))


def _sprites(budget: Budget) -> Iterator[Section]:
    sprites = budget.sprites
    if sprites is None:
        return
    counts = (sprites.asked, sprites.room, sprites.fit, sprites.limit, sprites.more)
    row = (
        f"{sprites.size[0]}x{sprites.size[1]}",
        *(f"{number}" for number in counts),
        where(budget.chip, sprites.line, client="sprites", words=SHORT),
    )
    head = ("of", "ask at most", "slots at least", "find slots", "limits allow", "more", "where")
    yield Section("Sprites of a line", head, (row,), 0, ("sprites asked", "sprites that fit"))


def _seen(budget: Budget, lines: LinesBudget) -> Iterator[Section]:
    seen = budget.seen
    if seen is None:
        return
    by_client = ", ".join(f"{name} {count}" for name, count in seen.by_client.items() if count)
    dropped = ", ".join(f"{count} for {why}" for why, count in sorted(seen.dropped.items())) or "none"
    rows = (
        ("fullest line", f"frame {seen.frame} line {seen.line}: {seen.used} of {lines.slots} slots"),
        ("by client", by_client),
        ("too late", f"{seen.missed} accesses"),
        ("sprites dropped", dropped),
        ("CPU", f"{seen.cpu} bytes in a frame at most"),
    )
    title = f"In the scene, {seen.frames} frame{'s' if seen.frames != 1 else ''} drawn"
    yield Section(title, ("what", "how much"), rows, 0, ())


def _floored(budget: Budget) -> str:
    """What is lost where a line's dots do not hold a whole number of accesses."""
    dots, rate = budget.chip.frame.dots_per_line, budget.chip.memory.accesses_per_dot
    exact = dots * (rate or 0)
    return "" if exact == int(exact) else f" ({dots} dots x {rate} are {float(exact):.2f}; the part of a slot is lost)"


def _memory(budget: Budget) -> Iterator[Section]:
    memory = budget.memory
    scene = bool(memory.allotted)
    head = ("what", "bytes", "can be told by", "most at once", *(("left",) if scene else ()))
    rows = tuple(
        (
            one.name,
            f"{one.bytes:,}",
            _told_by(one, memory.size),
            f"{one.most:,}",
            *((f"{one.left:,}",) if one.left is not None else ()),
        )
        for one in memory.capacities
    )
    yield Section(
        f"Memory: {memory.size:,} bytes, {memory.free:,} free",
        head,
        rows,
        len(head) - 1,
        ("bytes", "most", "left"),
        beside=True,
    )
    if scene:
        digits = len(f"{memory.size - 1:X}")
        allotted = tuple(
            (f"0x{row.first:0{digits}X}", f"0x{row.last:0{digits}X}", f"{row.bytes:,}", row.owner or "(free)")
            for row in memory.allotted
        )
        shared = tuple((one, other, f"{count:,}", "overlap") for one, other, count in memory.overlaps)
        title = f"Allotted in the scene: {len(memory.holes)} hole{'s' if len(memory.holes) != 1 else ''}, "
        title += f"{len(shared)} overlap{'s' if len(shared) != 1 else ''}"
        yield Section(title, ("first", "last", "bytes", "owner"), (*allotted, *shared), 0, (), beside=True)


def _told_by(one: Capacity, size: int) -> str:
    """How many numbers or addresses there are for a thing; any, where each byte of memory is one."""
    if one.numbers >= size:
        return f"any {one.by}"
    ending = "" if one.numbers == 1 else "es" if one.by == "address" else "s"
    return f"{one.numbers:,} {one.by}{ending}"


def _cpu(budget: Budget) -> Iterator[Section]:
    cpu = budget.cpu
    if cpu is None:
        return
    speed = f"{float(cpu.speed):,.0f} bytes a second" if cpu.speed else "as fast as the slots"
    slots = (f"{cpu.active:,}", f"{cpu.beside:,}", f"{cpu.below:,}", speed)
    active = cpu.bytes_per_frame - cpu.bytes_in_blanking
    title = f"CPU: {cpu.bytes_per_frame:,} bytes a frame, {cpu.bytes_in_blanking:,} in blanking and {active:,} in active lines"
    if budget.lines is not None and not budget.lines.complete:
        title += f", if no line is worse than the {budget.lines.served:,} served"
    head = ("slots in the picture", "beside it", "below it", "the CPU is")
    yield Section(
        title, head, (slots,), 4, ("active slots", "blank beside", "below", "bytes a frame", "cpu speed"), beside=True
    )
    rows = tuple(
        (
            one.name,
            f"{one.bytes:,}",
            *(("never", "") if one.lines is None else (f"{one.lines:,}", _milliseconds(one.seconds))),
        )
        for one in cpu.refills
    )
    yield Section(
        "Refills, from the end of the picture on", ("of", "bytes", "lines", "time"), rows, 3, ("refill",), beside=True
    )


def _milliseconds(seconds: Fraction | None) -> str:
    return "" if seconds is None else f"{float(seconds * 1000):.2f} ms"


def plain(budget: Budget, *, explain: bool = False, everything: bool = False) -> str:
    """The whole budget as plain text; ``everything``: each kind of line."""
    lines = [*verdict_lines(budget), ""]
    for section in sections(budget, everything=everything):
        widths = [max(map(len, column)) for column in zip(section.head, *section.rows, strict=True)]
        lines.append(section.title)
        for row in (section.head, *section.rows):
            cells = [
                cell.rjust(width) if place >= len(row) - section.right else cell.ljust(width)
                for place, (cell, width) in enumerate(zip(row, widths, strict=True))
            ]
            lines.append(f"  {'  '.join(cells)}".rstrip())
        if explain:
            lines += [f"    {name} = {EXPLAIN[name]}" for name in section.explained]
        lines.append("")
    if explain:
        lines += [f"{name} = {EXPLAIN[name]}" for name in VERDICTS]
    return "\n".join(lines).rstrip() + "\n"


VERDICTS = ("fits", "does not fit", "open", "first to give way")
"""What is explained of the verdict itself."""


def budget_data(budget: Budget) -> dict[str, Any]:
    """The budget as plain data, for JSON: fractions are texts such as ``"15625"`` or ``"2000000/7"``."""
    lines, chip = instance("budget", budget, Budget).lines, budget.chip

    def spare(one: Spare) -> dict[str, Any]:
        found = {"slots": one.slots, "missed": one.missed, "slot": one.slot, "last": one.last}
        return {**found, "where": where(chip, one.line, client=one.client)}

    def line(one: LineBudget) -> dict[str, Any]:
        data = {each.name: getattr(one, each.name) for each in fields(one) if each.name not in {"kind", "spare"}}
        return {**data, "slack": one.slack, "clients": {name: spare(each) for name, each in one.spare.items()}}

    first, witness, sprites = budget.first, budget.witness, budget.sprites
    found: dict[str, Any] = plain_data({
        "chip": chip.name,
        "verdict": budget.verdict,
        "how": budget.how,
        "fits": budget.fits,
        "cut": list(budget.cut),
        "first": first and {
            "client": first.client, "slots": first.slots, "proved": first.proved, "where": where(chip, first.line),
        },
        "witness": witness and {
            name: getattr(witness, name) for name in ("frame", "line", "missed", "dropped", "total", "about")
        },
        "slots": lines and lines.slots,
        "blank": lines and lines.blank,
        "served": lines and lines.served,
        "complete": lines and lines.complete,
        "worst_line": lines and line(lines.worst),
        "clients": lines and {
            name: {"most": lines.most[name], "proved": lines.least(name), **spare(one)} for name, one in lines.spare.items()
        },
        "kinds": lines and [line(one) for one in lines.kinds],
        "below": lines and line(lines.below),
        "sprites": sprites and {
            **{each.name: getattr(sprites, each.name) for each in fields(sprites) if each.name != "line"},
            "more": sprites.more,
            "where": where(chip, sprites.line, client="sprites"),
        },
        "memory": {**asdict(budget.memory), "free": budget.memory.free},
        "cpu": budget.cpu and _cpu_data(budget.cpu),
        "on_chip": [asdict(kept) for kept in budget.on_chip],
        "chip_bits": budget.chip_bits,
        "display": asdict(budget.display),
        "seen": budget.seen and asdict(budget.seen),
    })  # fmt: skip
    return found


def _cpu_data(cpu: CpuBudget) -> dict[str, Any]:
    data = {one.name: getattr(cpu, one.name) for one in fields(cpu) if one.name != "landing"}
    return {**data, "refills": [asdict(one) for one in cpu.refills]}


def budget_json(budget: Budget) -> str:
    """``budget_data`` as JSON text."""
    return json.dumps(budget_data(budget), indent=2).replace("\x7f", "\\u007f") + "\n"
