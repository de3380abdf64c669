"""Where the CPU finds a chip's ports and its status, and how far a port reaches.

Law: follows from the chip's tables alone. Registers are for others.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Chip, Port


def port_bytes(chip: Chip, port: Port) -> int:
    """How many bytes the port reaches."""
    if port.target == "memory":
        return chip.memory.size
    if port.target == "palette":
        return chip.palette.entries * entry_bytes(chip)
    return chip.sprites.count * chip.sprites.record_bytes if chip.sprites else 0


def entry_bytes(chip: Chip) -> int:
    """Bytes of a palette entry as the CPU sees it, the low byte first."""
    return (chip.palette.word_bits + 7) // 8


def address_bytes(chip: Chip, port: Port) -> int:
    """Bytes of the port's address."""
    return max(1, ((port_bytes(chip, port) - 1).bit_length() + 7) // 8)


def cpu_places(chip: Chip) -> Iterator[tuple[tuple[str | int, ...], str, int, int]]:
    """Everything but registers that the CPU has an address for: place in the file, what it is, first address, bytes."""
    for number, port in enumerate(chip.ports):
        at = ("ports", number)
        yield (*at, "address"), f"the address of the {port.target} port", port.address, address_bytes(chip, port)
        yield (*at, "data"), f"the data of the {port.target} port", port.data, 1
        if port.step is not None:
            yield (*at, "step"), f"the step of the {port.target} port", port.step, 1
    if chip.status:
        yield ("status", "address"), "status", chip.status.address, 1
        if chip.status.groups is not None:
            yield ("status", "groups"), "the collided groups", chip.status.groups, 1
