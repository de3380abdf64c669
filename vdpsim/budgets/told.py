"""A budget in words and numbers: sections of rows for people, one tree for programs.

Law: says what stands in the Budget and works nothing out. The same budget gives the same text.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from fractions import Fraction
from typing import Any

from .budget import Budget
from .cpu import CpuBudget
from .explain import EXPLAIN
from .line import LineBudget
from .memory import Capacity

KINDS_TOLD = 6
"""Kinds of line that are told of, the fullest first."""

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


def verdict(budget: Budget) -> str:
    """Whether the chip fits, in a sentence."""
    chip = budget.chip.name
    if budget.lines is None:
        return f"{chip} has no time table: its memory is told of here, but no slots."
    kinds = (
        "each kind of line with each scroll position"
        if budget.proved
        else f"{budget.lines.ways} lines, not all that can be,"
    )
    if not budget.lines.sure:
        kinds += (
            " some of which may never come about," if kinds.endswith(",") else ", some of which may never come about,"
        )
    if budget.fits:
        served = f"{kinds[0].upper()}{kinds[1:]} was served, without writes in mid-line"
        return f"{chip} fits. {served}. First to give way: {budget.first}."
    seen = budget.seen
    if seen is not None and not seen.fits and not budget.lines.late:
        slots = seen.dropped.get("slots", 0)
        return (
            f"{chip} does not fit: in the scene {seen.missed} accesses come too late, and {slots} sprites find no slot."
        )
    return f"{chip} does not fit: {budget.first}."


def sections(budget: Budget) -> Iterator[Section]:
    """Everything that is told, a section after the other."""
    yield from _time(budget)
    yield from _memory(budget)
    yield from _cpu(budget)
    rows = tuple((kept.name, f"{kept.bits:,}", kept.formula) for kept in budget.on_chip)
    total = ("together", f"{budget.chip_bits:,}", f"{budget.chip_bits / 8192:.2f} KiB")
    yield Section("On the chip", ("kept", "bits", "formula"), (*rows, total), 0, ("bits",))
    display = budget.display
    rates = f"{float(display.line_rate):,.2f} lines a second, {float(display.frame_rate):.4f} frames a second"
    told = tuple((warning,) for warning in display.warnings) or (("its display takes that",),)
    yield Section("Display", (rates,), told, 0, ("line rate", "frame rate"))


def _time(budget: Budget) -> Iterator[Section]:
    lines = budget.lines
    if lines is None:
        return
    head = ("kind of line", "used", "free", "CPU", "sprites ask", "room")
    told = [*lines.kinds[:KINDS_TOLD], lines.below]
    rows = tuple(
        (line.name, *(f"{number}" for number in (line.used, line.free, line.cpu, line.sprites, line.room)))
        for line in told
    )
    title = f"Time: {lines.slots} slots a line{_floored(budget)}, {lines.blank} of them blank"
    yield Section(title, head, rows, 5, ("slots a line", "blank slots", "used", "free", "cpu", "room"))
    yield _by_client(f"The fullest line, {lines.worst.name}: {lines.worst.used} of {lines.slots}", lines.worst)
    sprites = budget.sprites
    if sprites:
        size = f"{sprites.size[0]}x{sprites.size[1]}"
        row = (
            size,
            *(f"{number}" for number in (sprites.asked, sprites.room, sprites.fit, sprites.limit, sprites.more)),
        )
        head = ("of", "ask at most", "slots at least", "find slots", "limits allow", "more")
        yield Section("Sprites of a line", head, (row,), 5, ("sprites asked", "sprites that fit"))
    seen = budget.seen
    if seen:
        rows = (
            ("fullest line", f"frame {seen.frame} line {seen.line}: {seen.used} of {lines.slots} slots"),
            ("by client", _clients(seen.by_client)),
            ("too late", f"{seen.missed} accesses"),
            (
                "sprites dropped",
                ", ".join(f"{count} for {why}" for why, count in sorted(seen.dropped.items())) or "none",
            ),
            ("CPU", f"{seen.cpu} bytes in a frame at most"),
        )
        yield Section(
            f"In the scene, {seen.frames} frame{'s' if seen.frames != 1 else ''} drawn",
            ("what", "how much"),
            rows,
            0,
            (),
        )


def _floored(budget: Budget) -> str:
    """What is lost where a line's dots do not hold a whole number of accesses."""
    dots, rate = budget.chip.frame.dots_per_line, budget.chip.memory.accesses_per_dot
    exact = dots * (rate or 0)
    return "" if exact == int(exact) else f" ({dots} dots x {rate} are {float(exact):.2f}; the part of a slot is lost)"


def _clients(by_client: dict[str, int]) -> str:
    return ", ".join(f"{name} {count}" for name, count in by_client.items() if count)


def _by_client(title: str, line: LineBudget) -> Section:
    rows = tuple(
        (name, f"{count}", f"{line.slack[name]} before late" if name in line.slack else "")
        for name, count in line.by_client.items()
        if count
    )
    return Section(title, ("client", "slots", "slack"), rows, 2, ("gives way first",), beside=True)


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
    head = ("slots in the picture", "beside it", "below it", "the CPU is")
    yield Section(title, head, (slots,), 4, ("active slots", "blank beside", "below", "bytes a frame", "cpu speed"))
    rows = tuple(
        (
            one.name,
            f"{one.bytes:,}",
            *(("never", "") if one.lines is None else (f"{one.lines:,}", _milliseconds(one.seconds))),
        )
        for one in cpu.refills
    )
    yield Section("Refills, from the end of the picture on", ("of", "bytes", "lines", "time"), rows, 3, ("refill",))


def _milliseconds(seconds: Fraction | None) -> str:
    return "" if seconds is None else f"{float(seconds * 1000):.2f} ms"


def plain(budget: Budget, *, explain: bool = False) -> str:
    """The whole budget as plain text."""
    lines = [verdict(budget), ""]
    for section in sections(budget):
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
        lines += [f"{name} = {EXPLAIN[name]}" for name in ("fits", "proved")]
    return "\n".join(lines).rstrip() + "\n"


def budget_data(budget: Budget) -> dict[str, Any]:
    """The budget as plain data, for JSON: fractions are texts such as ``"15625"`` or ``"2000000/7"``."""
    lines = budget.lines

    def line(one: LineBudget) -> dict[str, Any]:
        return {key: value for key, value in asdict(one).items() if key not in {"kind", "shape"}}

    return {
        "chip": budget.chip.name,
        "fits": budget.fits,
        "proved": budget.proved,
        "first": budget.first,
        "slots": lines and lines.slots,
        "blank": lines and lines.blank,
        "worst_line": lines and line(lines.worst),
        "kinds": lines and [line(one) for one in lines.kinds],
        "below": lines and line(lines.below),
        "sprites": budget.sprites and {**asdict(budget.sprites), "more": budget.sprites.more},
        "memory": {**asdict(budget.memory), "free": budget.memory.free},
        "cpu": budget.cpu and _cpu_data(budget.cpu),
        "on_chip": [asdict(kept) for kept in budget.on_chip],
        "chip_bits": budget.chip_bits,
        "display": asdict(budget.display),
        "seen": budget.seen and asdict(budget.seen),
    }


def _cpu_data(cpu: CpuBudget) -> dict[str, Any]:
    data = {one.name: getattr(cpu, one.name) for one in fields(cpu) if one.name != "landing"}
    return {**data, "refills": [asdict(one) for one in cpu.refills]}


def budget_json(budget: Budget) -> str:
    """``budget_data`` as JSON text."""
    return json.dumps(budget_data(budget), indent=2, default=str) + "\n"
