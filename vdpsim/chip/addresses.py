"""The CPU's address space: what stands at each address of it, in words.

Law: follows from the chip alone. Knows no state: what a byte holds, and what writing it does, is for those who have one.
"""

from __future__ import annotations

from dataclasses import dataclass

from .controls import registers
from .line.checks_time import cpu_places
from .model import Chip


@dataclass(frozen=True)
class Place:
    """``what`` stands at addresses ``first`` to ``last``.

    ``read``: the CPU can read it; ``written``: writing it does something.
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
        Place(one.address, one.address + (one.bits + 7) // 8 - 1, name, read=True, written=True)
        for name, one in registers(chip).items()
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


def readable(chip: Chip) -> str:
    """Every address that can be read, in words; for messages."""
    return ", ".join(str(one) for one in places(chip) if one.read)


def writable(chip: Chip) -> str:
    """Every address where a write does something, in words; for messages."""
    return ", ".join(str(one) for one in places(chip) if one.written)


def listens(chip: Chip, address: int) -> bool:
    """Whether a write to ``address`` does anything."""
    return any(one.first <= address <= one.last for one in places(chip) if one.written)
