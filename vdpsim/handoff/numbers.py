"""The numbers of a folder in tables: the chip's time, what records' numbers mean, registers and fields.

Law: says what the index and the chip say. Nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..chip.model import Chip
from ..chip.registers import fields, registers, rest_values
from .markdown import shown, table
from .records.index import Index


def numbers(chip: Chip, index: Index) -> Iterator[str]:
    """Lines of Markdown."""
    yield "## Numbers\n"
    yield from table(("what", "number"), _time(chip, index))
    for name, what in (("sources", "source"), ("rungs", "rung"), ("clients", "client")):
        yield f"\n### {name.capitalize()}\n"
        yield from table(("number", what), list(enumerate(map(shown, getattr(index, name)))))
    yield from _registers(chip)
    yield from _fields(chip)


def _time(chip: Chip, index: Index) -> Iterator[Sequence[object]]:
    over, under = index.dots_per_slot
    yield "picture, w x h", f"{index.width} x {index.height}"
    yield "dots of a line, D", index.dots_per_line
    yield "lines of a frame, L", index.lines_per_frame
    yield "dots a second", chip.frame.dot_clock
    if index.slots_per_line:
        yield "slots of a line, S", index.slots_per_line
        yield "of these blank, before dot 0 of a picture of the width above", index.blank_slots
        yield "dots of a slot", f"{over}/{under}"


def _registers(chip: Chip) -> Iterator[str]:
    yield "\n### Registers\n"
    rows = [
        (one.number, shown(one.name), f"0x{one.address:04x}", one.bits, one.half_write, one.access)
        for one in registers(chip).values()
    ]
    yield from table(("number", "register", "address", "bits", "`half_write`", "access"), rows)


def _fields(chip: Chip) -> Iterator[str]:
    known = fields(chip)
    count = {name: number for number, name in enumerate(known)}
    yield "\n### Fields\n"
    yield "Bits of a register are bits of the field's raw number; its value is raw x step, and at most the largest.\n"
    rows = [
        (
            count[field.name],
            shown(field.name),
            shown(", ".join(field.controls)),
            shown(one.name),
            part.bits,
            part.of,
            field.step,
            field.top,
            field.effect,
        )
        for one in registers(chip).values()
        for field, part in one.holds
    ]
    columns = ("number", "field", "sets", "register", "its bits", "bits of raw", "step", "largest", "effect")
    yield from table(columns, rows)
    set_ = {name for field in known.values() for name in field.controls}
    wired = [(shown(name), value) for name, value in rest_values(chip).items() if name not in set_]
    if wired:
        yield "\n### Controls that no register sets\n"
        yield from table(("control", "value"), wired)
