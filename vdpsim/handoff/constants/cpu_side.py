"""Constants of what the CPU sees: controls, fields, registers, ports and status.

Law: numbers as ``chip/`` has them, none worked out a second time. Knows no language.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...chip.controls import PICTURE_SIZE, controls
from ...chip.line.places import address_bytes, port_bytes
from ...chip.model import Chip, Port
from ...chip.registers import Register, field_names, fields, registers, rest_values
from .table import NONE, Constant, Item, Section, columns, constant, enumeration, layout, numbers

EFFECTS = ("at once", "next line", "next frame")
TARGETS = ("memory", "palette", "sprites")
FLAGS = ("line", "picture_end", "dropped", "collision")
REGISTER_BITS = 32
CONTROLS = (
    PICTURE_SIZE,
    "sprites.enable",
    "sprites.patterns",
    *(f"sprites.plane_{plane}" for plane in range(8)),
    "sprites.table",
    "line_flag",
)
"""The controls that are called alike on every chip that has them."""


def sections(chip: Chip) -> Iterator[Section]:
    """The sections of controls, fields, registers, ports and status."""
    yield Section("Controls", "What can be set; values are in the control's own unit.", tuple(_controls(chip)))
    yield Section(
        "Fields",
        "What sets controls: value = raw number x step, at most top.",
        tuple(_fields(chip)),
    )
    yield Section("Registers", "Words at addresses of the CPU, the low byte first.", tuple(_registers(chip)))
    yield Section("Ports", "Windows to memory, palette and sprites.", tuple(_ports(chip)))
    yield Section("Status", "Flags that the CPU reads.", tuple(_status(chip)))


def _controls(chip: Chip) -> Iterator[Item]:
    known, rest, setters = controls(chip), rest_values(chip), field_names(chip)
    names = {name: number for number, name in enumerate(fields(chip))}
    yield constant("controls", len(known), "controls")
    yield from enumeration("control", known, "numbers of the controls", CONTROLS)
    yield from columns(
        "controls",
        list(known.values()),
        (
            ("reset", "value at reset, of one that no field sets its value for good", lambda one: rest[one.name]),
            (
                "top",
                "largest value that it can get; a scroll position may get more than its surface has, and counts round",
                lambda one: setters[one.name].top if one.wraps and one.name in setters else one.top,
            ),
            (
                "field",
                "number of the field that sets it; -1: it is wired",
                lambda one: names[setters[one.name].name] if one.name in setters else None,
            ),
        ),
    )


def _fields(chip: Chip) -> Iterator[Item]:
    known = fields(chip)
    yield from enumeration("effect", EFFECTS, "from when a write counts")
    yield constant("fields", len(known), "fields")
    yield from enumeration("field", known, "numbers of the fields")
    yield from columns(
        "fields",
        list(known.values()),
        (
            ("bits", "bits of its raw number", lambda one: one.bits),
            ("step", "what one unit of the raw number is worth", lambda one: one.step),
            ("top", "largest value", lambda one: one.top),
            ("reset", "value at reset", lambda one: one.reset),
            ("effect", "EFFECT_ ...", lambda one: EFFECTS.index(one.effect)),
            ("split", "1: its bits stand in several registers", lambda one: one.split),
        ),
    )


def _registers(chip: Chip) -> Iterator[Item]:
    known = list(registers(chip).values())
    names = {name: number for number, name in enumerate(fields(chip))}
    yield constant("registers", len(known), "registers")
    yield from columns(
        "registers",
        known,
        (
            ("address", "its lowest address", lambda one: one.address),
            ("bits", "its bits", lambda one: one.bits),
            ("reset", "its bits at reset", lambda one: one.reset),
            ("readable", "1: the CPU reads what was written; 0: it reads 0", lambda one: one.access == "read-back"),
            ("waits", "1: bits of a field wait for the others (half_write)", lambda one: one.half_write == "waits"),
        ),
    )
    places = [_bits(one, names) for one in known]
    yield constant("register bits", REGISTER_BITS, "rows of a register in the two tables that follow")
    yield numbers(
        "registers bit field",
        (field for one in places for field, _ in one),
        "bit b of register r is at place r x 32 + b: the field that it belongs to; -1: none",
    )
    yield numbers(
        "registers bit of",
        (bit for one in places for _, bit in one),
        "the same place: which bit of the field's raw number it is",
    )
    yield from _back(places, len(names))
    for one in known:
        yield Constant(("register", one.name, "address"), one.address, f"{one.name}: its lowest address")
        yield Constant(("register", one.name, "bytes"), one.size, "")
        yield Constant(("register", one.name, "reset"), one.reset, "")
        for field, part in one.holds:
            yield from layout(("register", one.name, field.name), part.bits, f"{field.name} in {one.name}")


def _bits(register: Register, numbers_of: dict[str, int]) -> list[tuple[int, int]]:
    """For each of 32 bits the field and the bit of its raw number."""
    found = [(NONE, NONE)] * REGISTER_BITS
    for field, part in register.holds:
        here, there = _up(part.bits.parts), _up(part.of.parts)
        for bit, of in zip(here, there, strict=True):
            found[bit] = numbers_of[field.name], of
    return found


def _back(places: list[list[tuple[int, int]]], count: int) -> Iterator[Item]:
    """The same the other way round: for each of 32 bits of a field's raw number the register and the bit there."""
    found = [(NONE, NONE)] * (count * REGISTER_BITS)
    for register, bits in enumerate(places):
        for bit, (field, of) in enumerate(bits):
            if field != NONE:
                found[field * REGISTER_BITS + of] = register, bit
    yield numbers(
        "fields bit register",
        (register for register, _ in found),
        "bit i of the raw number of field f is at place f x 32 + i: the register in which it stands; -1: no such bit",
    )
    yield numbers("fields bit at", (bit for _, bit in found), "the same place: which bit of that register it is")


def _up(parts: tuple[tuple[int, int], ...]) -> list[int]:
    """The bits of a layout from the one that counts least."""
    return [bit for high, low in reversed(parts) for bit in range(low, high + 1)]


def _ports(chip: Chip) -> Iterator[Item]:
    yield from enumeration("target", TARGETS, "what a port reaches")
    yield constant("ports", len(chip.ports), "ports")
    yield from columns(
        "ports",
        chip.ports,
        (
            ("target", "TARGET_ ...", lambda port: TARGETS.index(port.target)),
            ("address", "where the byte address is written, the low byte first", lambda port: port.address),
            ("address bytes", "bytes of that address", lambda port: address_bytes(chip, port)),
            ("data", "where bytes are written and read", lambda port: port.data),
            ("step", "where the step is written; -1: nowhere", lambda port: port.step),
            ("advance", "the step at reset", lambda port: port.advance),
            ("reach", "bytes that it reaches", lambda port: port_bytes(chip, port)),
        ),
    )
    by_target: dict[str, Port] = {port.target: port for port in chip.ports}
    for target in TARGETS:
        for part in ("address", "data", "step"):
            at = getattr(by_target.get(target), part, None)
            told = f"the {part} of the {target} port; -1: nowhere"
            yield Constant(("port", target, part), NONE if at is None else at, told)


def _status(chip: Chip) -> Iterator[Item]:
    status = chip.status
    yield constant("status address", status.address if status else NONE, "where the flags are read; -1: there are none")
    for flag in FLAGS:
        bit = getattr(status, flag, None)
        yield constant(f"status {flag}", NONE if bit is None else bit, f"bit of the flag {flag}; -1: there is none")
    line = list(controls(chip)).index("line_flag") if "line_flag" in controls(chip) else NONE
    yield constant(
        "status line control", line, "number of the control with the line of the flag line; -1: there is none"
    )
    groups = status.groups if status else None
    yield constant(
        "status groups", NONE if groups is None else groups, "where the collided groups are read; -1: nowhere"
    )
    yield constant(
        "status cleared by read",
        bool(status and status.cleared == "read"),
        "1: reading clears; 0: writing 1 to a bit does",
    )
