"""The CPU's address space: what stands at each address of it, in words.

Law: follows from the chip alone. Knows no state: what a byte holds, and what writing it does, is for those who have one.
"""

from __future__ import annotations

from typing import NamedTuple

from .line.places import cpu_places
from .model import Chip
from .registers import Register, registers


class Place(NamedTuple):
    """``what`` stands at addresses ``first`` to ``last``.

    ``read``: the CPU can read it, and it gives more than a mere 0; ``written``: writing it does something.
    """

    first: int
    last: int
    what: str
    read: bool
    written: bool

    def __str__(self) -> str:
        """The addresses in hex and what stands there."""
        span = f"0x{self.first:02X}" if self.first == self.last else f"0x{self.first:02X} to 0x{self.last:02X}"
        return f"{span} {self.what}"


def places(chip: Chip) -> tuple[Place, ...]:
    """Everything that the CPU has an address for, in the order of addresses: registers, ports, status."""
    found = [
        Place(one.address, one.address + one.size - 1, _said(one), one.access == "read-back", written=True)
        for one in registers(chip).values()
    ]
    cleared_by_writing = chip.status is not None and chip.status.cleared == "write"
    for place, what, first, count in cpu_places(chip):
        port = place[0] == "ports"
        found.append(
            Place(
                first,
                first + count - 1,
                what,
                read=not port or place[-1] == "data",
                written=port or cleared_by_writing,
            )
        )
    return tuple(sorted(found, key=lambda one: one.first))


def _said(register: Register) -> str:
    """A register by name, with its fields where they have other names, and how it is read where that is not as written."""
    held = [f"{field.name} {part.bits}" for field, part in register.holds]
    known = register.name in {field.name for field, _ in register.holds}
    told = [] if known else held
    told += ["write-only"] if register.access == "write-only" else []
    return f"{register.name} ({', '.join(told)})" if told else register.name


def readable(chip: Chip) -> str:
    """Every address that can be read, in words; for messages."""
    return ", ".join(str(one) for one in places(chip) if one.read)


def writable(chip: Chip) -> str:
    """Every address where a write does something, in words; for messages."""
    return ", ".join(str(one) for one in places(chip) if one.written)


def listens(chip: Chip, address: int) -> bool:
    """Whether a write to ``address`` does anything."""
    return any(one.first <= address <= one.last for one in places(chip) if one.written)
