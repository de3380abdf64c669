"""What the CPU sees: registers and the fields in them, ports, flags.

Law: addresses, bits and resets are those of ``chip/registers.py`` and ``chip/line/places.py``; what a field does is what its
controls say.
"""

from __future__ import annotations

from collections.abc import Iterator

from ....chip.controls import controls, name_of
from ....chip.line.places import address_bytes, port_bytes
from ....chip.model import Chip, Status
from ....chip.registers import Register, RegisterField, field_names, fields, registers, rest_values
from ....chip.tables.bits import Bits
from ...drawing.bits import Held, bit_diagram
from ..parts import Grid, Part, Picture, Section, Words
from .wording import NONE, address, plain

EFFECTS = (
    "A field takes effect at once: from the dot written; with the next line: from dot 0 of the line after the one in which it is "
    "written; or with the next frame: from dot 0 of line 0 of the frame after."
)
"""When a write counts."""


def register_map(chip: Chip) -> Section:
    """The section of registers, fields, and what is wired."""
    return Section("Registers", tuple(_registers(chip)))


def _registers(chip: Chip) -> Iterator[Part]:
    known = registers(chip)
    yield Words(f"The low byte of a register stands at its address, the next at the address after it. {EFFECTS}")
    head = ("address", "register", "bits", "access", "reset", "half write", "fields")
    yield Grid("Registers, in their order", head, tuple(_register(one) for one in known.values()), (0, 2, 4))
    head = ("field", "bits in its register", "unit", "largest", "reset", "takes effect", "what it sets")
    yield Grid(
        "Fields", head, tuple(_field(chip, one, list(known.values())) for one in fields(chip).values()), (2, 3, 4)
    )
    held = field_names(chip)
    wired = tuple(
        (name, _named(one.names, rest_values(chip)[name]), one.about)
        for name, one in controls(chip).items()
        if name not in held
    )
    if wired:
        yield Grid("Wired: no register sets these", ("control", "value", "what it is"), wired, (1,))


def _register(one: Register) -> tuple[str, ...]:
    held = sorted(one.holds, key=lambda each: -each[1].bits.highest)
    told = ", ".join(f"{field.name} {part.bits}" for field, part in held) or NONE
    digits = -(-one.bits // 4)
    halves = one.size > 1 or any(field.split for field, _ in one.holds)
    waits = one.half_write if halves else NONE
    return address(one.address), one.name, plain(one.bits), one.access, f"0x{one.reset:0{digits}X}", waits, told


def _field(chip: Chip, one: RegisterField, known: list[Register]) -> tuple[str, ...]:
    about = "; ".join(dict.fromkeys(controls(chip)[name].about for name in one.controls))
    sets = "" if one.controls == (one.name,) else f"{', '.join(one.controls)}: "
    names = f" ({', '.join(f'{number} {name}' for number, name in enumerate(one.names))})" if one.names else ""
    where = "; ".join(_part(one, known[part.register].name, part.bits, part.of) for part in one.parts)
    return (
        one.name,
        where,
        plain(one.step),
        plain(one.top),
        _named(one.names, one.reset),
        one.effect,
        f"{sets}{about}{names}",
    )


def _part(field: RegisterField, register: str, bits: Bits, of: Bits) -> str:
    """Where a part of a field stands; a part of several says which of the field's bits it has."""
    own = f", its bits {of}" if field.split else ""
    return f"{bits} of {register}{own}" if field.split or register != field.name else f"{bits}"


def _named(names: tuple[str, ...], value: int) -> str:
    return f"{plain(value)} ({name_of(names, value)})" if names else plain(value)


def ports(chip: Chip) -> tuple[Section, ...]:
    """The section of ports and status; none for a chip that has neither."""
    parts = [*_ports(chip), *(_status(chip.status) if chip.status else ())]
    return (Section("Ports and status", tuple(parts)),) if parts else ()


def _ports(chip: Chip) -> Iterator[Part]:
    if not chip.ports:
        return
    head = ("port to", "reaches bytes", "address at", "bytes of the address", "data at", "step at", "step at reset")
    rows = tuple(
        (
            port.target,
            plain(port_bytes(chip, port)),
            address(port.address),
            plain(address_bytes(chip, port)),
            address(port.data),
            NONE if port.step is None else address(port.step),
            plain(port.advance),
        )
        for port in chip.ports
    )
    yield Words(
        "A port's byte address, the low byte first, counts on by its step with each byte of data that is read or written."
    )
    yield Grid("Ports", head, rows, tuple(range(1, len(head))))


def _status(status: Status) -> Iterator[Part]:
    held = [Held(name, Bits(((bit, bit),))) for name, bit in status.bits.items()]
    cleared = "by reading" if status.cleared == "read" else "by writing 1 to it"
    told = f"The flags are read at {address(status.address)}; a flag is cleared {cleared}."
    if status.groups is not None:
        told += f" Which groups have collided is read at {address(status.groups)}, a bit each."
    yield Words(told)
    yield Picture("status", bit_diagram("Status", 8, held), f"The byte at {address(status.address)}.")
    keys = Status.model_fields
    says = {name: (keys[name].description or "").partition("; left out")[0] for name in status.bits}
    rows = tuple((plain(bit), name, says[name]) for name, bit in sorted(status.bits.items(), key=lambda one: -one[1]))
    if rows:
        yield Grid("Flags", ("bit", "flag", "when"), rows, (0,))
