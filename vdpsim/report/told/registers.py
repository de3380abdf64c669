"""A chip's registers and ports while a frame is drawn: what each holds at its beginning, and what changes it when.

Law: bytes are decoded by the engine's own rule; a value counts from the line and dot at which the model lets it. Nothing here
is HTML, and the state is left as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from ...chip.controls import told as value_told
from ...chip.line.places import port_bytes
from ...chip.model import Chip
from ...chip.registers import RegisterField, fields, registers
from ...engine import Plan
from ...engine.ports import decode
from ...state.state import State
from ...state.writes import RegisterWrite, Write

MOST_CHANGES = 2000
"""Changes of a frame that are told one by one."""

LARGE = 256
"""From here on a value is told in hexadecimal too."""

Json = dict[str, Any]
Moment = tuple[int, int]


def register_rows(chip: Chip) -> list[Json]:
    """Where each field stands: its name, its register's name and address, and when a write to it counts."""
    first = {
        field.name: register for register in reversed(list(registers(chip).values())) for field, _ in register.holds
    }
    return [
        {
            "name": field.name,
            "register": first[field.name].name,
            "address": first[field.name].address,
            "effect": field.effect,
        }
        for field in fields(chip).values()
    ]


def port_rows(chip: Chip) -> list[str]:
    """What each port is called."""
    return [f"{port.target} port at 0x{port.address:02X}" for port in chip.ports]


def registers_told(plan: Plan, state: State, writes: Sequence[Write]) -> Json:
    """Values at line 0, dot 0 by the rows of ``register_rows`` and ``port_rows``; and their changes: line, dot, row, value.

    ``more``: changes that are left out. Values are told by name where they have one; a port's is its address and step.
    """
    chip = plan.chip
    ports = [list(port) for port in state.ports]
    moved: list[tuple[int, int, int, str]] = []
    ordered = sorted(writes, key=lambda write: (write.line, write.dot))
    decoded, _ = decode(chip, state, ports, dict(state.held), _watched(chip, ports, ordered, moved))
    rows = {field.name: number for number, field in enumerate(fields(chip).values())}
    sets = list(_sets(plan, rows, decoded))
    return {
        "values": [_told(field, state.value(field.controls[0])) for field in fields(chip).values()],
        "ports": [_port_told(chip, number, port) for number, port in enumerate(state.ports)],
        "sets": sets[:MOST_CHANGES],
        "moves": moved[:MOST_CHANGES],
        "more": max(0, len(sets) - MOST_CHANGES) + max(0, len(moved) - MOST_CHANGES),
    }


def _told(field: RegisterField, value: int) -> str:
    """A value by its name where it has one; a large one, which may be an address, in hexadecimal too."""
    return f"{value}, 0x{value:04X}" if value >= LARGE else value_told(field.names, value)


def _port_told(chip: Chip, number: int, port: Sequence[int]) -> str:
    return f"at 0x{port[0] % port_bytes(chip, chip.ports[number]):04X}, step {port[1]}"


def _watched(
    chip: Chip, ports: list[list[int]], writes: Iterable[Write], moved: list[tuple[int, int, int, str]]
) -> Iterator[Write]:
    """The writes, one after the other; after each what it has made of the ``ports`` goes into ``moved``."""
    for write in writes:
        before = [list(port) for port in ports]
        yield write
        for number, (old, new) in enumerate(zip(before, ports, strict=True)):
            if old != new:
                moved.append((write.line, write.dot, number, _port_told(chip, number, new)))


def _sets(plan: Plan, rows: dict[str, int], decoded: Iterable[Write]) -> Iterator[tuple[int, int, int, str]]:
    """What comes into force within the frame, from when, in which row. A value that waits for a frame is not told of."""
    known = {name: field for field in fields(plan.chip).values() for name in (field.name, *field.controls)}
    changes = []
    for write in decoded:
        if not isinstance(write, RegisterWrite):
            continue
        field = known[write.name]
        if field.effect != "next frame":
            changes.append((*_from(field, write), rows[field.name], _told(field, write.value)))
    yield from sorted(changes, key=lambda change: change[:2])


def _from(field: RegisterField, write: RegisterWrite) -> Moment:
    """When the write counts."""
    return (write.line + 1, 0) if field.effect == "next line" else (write.line, write.dot)
