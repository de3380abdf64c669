"""A budget as tables of texts, a section after the other.

Law: says what stands in the Budget and works nothing out. The same budget gives the same text.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..budget import Budget
from ..cpu import CpuBudget, Refill
from ..memory import Capacity, MemoryBudget
from .section import Section, TextRow, plural
from .sizes import sizes_section
from .time import time_sections


def sections(budget: Budget, *, everything: bool = False) -> Iterator[Section]:
    """Everything that is told, a section after the other; ``everything``: each kind of line."""
    yield from sizes_section(budget)
    if budget.lines is not None:
        yield from time_sections(budget, budget.lines, everything=everything)
    yield _capacities(budget.memory)
    if budget.memory.allotted:
        yield _allotted(budget.memory)
    if budget.cpu is not None:
        yield _cpu(budget, budget.cpu)
        yield _refills(budget.cpu)
    yield _on_chip(budget)
    yield _display(budget)


def _capacities(memory: MemoryBudget) -> Section:
    """What memory has room for; with a scene, also in what that leaves."""
    scene = bool(memory.allotted)
    head = ("what", "bytes", "can be told by", "most at once", *(("left",) if scene else ()))
    title = f"Memory: {memory.size:,} bytes, {memory.free:,} free"
    rows = tuple(_capacity(one, memory.size) for one in memory.capacities)
    return Section(title, head, rows, len(head) - 1, ("bytes", "most", "left"), beside=True)


def _capacity(one: Capacity, size: int) -> TextRow:
    left = () if one.left is None else (f"{one.left:,}",)
    return one.name, f"{one.bytes:,}", _told_by(one, size), f"{one.most:,}", *left


def _told_by(one: Capacity, size: int) -> str:
    """How many numbers or addresses there are for a thing; any, where each byte of memory is one."""
    if one.numbers >= size:
        return f"any {one.by}"
    ending = "" if one.numbers == 1 else "es" if one.by == "address" else "s"
    return f"{one.numbers:,} {one.by}{ending}"


def _allotted(memory: MemoryBudget) -> Section:
    """Who owns which bytes in the scene, and who shares some."""
    digits = len(f"{memory.size - 1:X}")
    rows = [
        (f"0x{row.first:0{digits}X}", f"0x{row.last:0{digits}X}", f"{row.bytes:,}", row.owner or "(free)")
        for row in memory.allotted
    ]
    rows += [(one, other, f"{count:,}", "overlap") for one, other, count in memory.overlaps]
    holes, shared = len(memory.holes), len(memory.overlaps)
    title = f"Allotted in the scene: {holes} {plural(holes, 'hole')}, {shared} {plural(shared, 'overlap')}"
    return Section(title, ("first", "last", "bytes", "owner"), tuple(rows), 0, (), beside=True)


def _cpu(budget: Budget, cpu: CpuBudget) -> Section:
    speed = f"{float(cpu.speed):,.0f} bytes a second" if cpu.speed else "as fast as the slots"
    slots = (f"{cpu.active:,}", f"{cpu.beside:,}", f"{cpu.below:,}", speed)
    active = cpu.bytes_per_frame - cpu.bytes_in_blanking
    title = f"CPU: {cpu.bytes_per_frame:,} bytes a frame, {cpu.bytes_in_blanking:,} in blanking and {active:,} in active lines"
    title += ", as long as the picture keeps its size" if budget.sizes else ""
    if budget.lines is not None and not budget.lines.complete:
        title += f", if no line is worse than the {budget.lines.served:,} served"
    head = ("slots in the picture", "beside it", "below it", "the CPU is")
    names = ("active slots", "blank beside", "below", "bytes a frame", "cpu speed")
    return Section(title, head, (slots,), len(head), names, beside=True)


def _refills(cpu: CpuBudget) -> Section:
    rows = tuple((one.name, f"{one.bytes:,}", *_until(one)) for one in cpu.refills)
    head = ("of", "bytes", "lines", "time")
    return Section("Refills, from the end of the picture on", head, rows, 3, ("refill",), beside=True)


def _until(one: Refill) -> TextRow:
    """After how many lines the last byte has landed, and how long that takes."""
    return ("never", "") if one.lines is None else (f"{one.lines:,}", _milliseconds(one.seconds))


def _milliseconds(seconds: Fraction | None) -> str:
    return "" if seconds is None else f"{float(seconds * 1000):.2f} ms"


def _on_chip(budget: Budget) -> Section:
    rows = [(kept.name, f"{kept.bits:,}", kept.formula) for kept in budget.on_chip]
    rows.append(("together", f"{budget.chip_bits:,}", f"{budget.chip_bits / 8192:.2f} KiB"))
    return Section("On the chip", ("kept", "bits", "formula"), tuple(rows), 0, ("bits",), beside=True)


def _display(budget: Budget) -> Section:
    display = budget.display
    rates = f"{float(display.line_rate):,.2f} lines a second, {float(display.frame_rate):.4f} frames a second"
    rows = tuple((warning,) for warning in display.warnings) or (("its display takes that",),)
    return Section("Display", (rates,), rows, 0, ("line rate", "frame rate"), beside=True)
