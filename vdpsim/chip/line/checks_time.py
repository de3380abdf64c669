"""What a chip's time table, its ports and its status must agree on with the rest of the chip.

Law: as in ``checks.py``, whose part this is: every check yields (place, message) and goes on. Only chips whose other tables
agree are asked.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Chip
from ..registers import registers
from .clients import buffered, timed_clients
from .places import cpu_places
from .rates import line_slots

Found = Iterator[tuple[tuple[str | int, ...], str]]


def check_time(chip: Chip) -> Found:
    """Every disagreement about time: places in the file and what is wrong there."""
    time = chip.time
    if time is None:
        return
    yield from _clients(chip)
    if chip.memory.accesses_per_dot is None:
        yield ("memory", "accesses_per_dot"), "must be given for a chip with a time table"
        return
    line = line_slots(chip)
    if not line.slots:
        yield ("memory", "accesses_per_dot"), "must give a line at least one slot"
        return
    reserved = reserved_slots(chip)
    if time.cpu.active == "reserved" and not reserved:
        yield ("time", "cpu", "at"), f"must reserve a slot of the active dots, {line.blank} to {line.slots - 1}"
    if time.refresh:
        left = (time.refresh.mask(line.slots) & ~reserved).bit_count()
        if time.refresh.slots > left:
            yield (
                ("time", "refresh", "slots"),
                f"must be at most the {left} that its pattern has on a line of the picture, got {time.refresh.slots}",
            )


def reserved_slots(chip: Chip) -> int:
    """Which slots of a line of the picture only the CPU may have, as an integer with a bit a slot."""
    assert chip.time is not None
    if chip.time.cpu.active != "reserved":
        return 0
    line = line_slots(chip)
    return chip.time.cpu.mask(line.slots) >> line.blank << line.blank


def _clients(chip: Chip) -> Found:
    assert chip.time is not None
    given, wanted = chip.time.clients, timed_clients(chip)
    at = ("time", "clients")
    for name in wanted:
        if name not in given:
            yield at, f"must say when {name} fetches; the clients are {', '.join(wanted)}"
    places = list(given)
    ahead = {one.name for one in chip.layers if buffered(chip, one)}
    for name, client in given.items():
        if name not in wanted:
            yield (*at, name), f"is no client of this chip; it has {', '.join(wanted)}"
            continue
        layer, _, what = name.partition(".")
        if what and client.when != "line before" and layer in ahead:
            yield (
                (*at, name, "when"),
                f"all clients of {layer} share its line buffer: must be line before, as another of them is, got {client.when}",
            )
        if client.when == "in time" and not what:
            yield (
                (*at, name, "when"),
                "sprites are prepared a line at a time: must be blanking or line before, got in time",
            )
        if client.keep and what != "cells":
            yield (*at, name, "keep"), f"is for cells, got {name}"
        cells = f"{layer}.cells"
        if what in {"pattern", "glyphs"} and cells in places and places.index(cells) > places.index(name):
            yield (*at, name), f"must stand after {cells}, whose cells say what to fetch"


def check_cpu(chip: Chip) -> Found:
    """Every disagreement of ports and status with the rest."""
    for number, port in enumerate(chip.ports):
        if port.target == "sprites" and (chip.sprites is None or chip.sprites.table != "chip"):
            yield ("ports", number, "target"), "needs a sprite table on the chip; one in memory is reached as memory"
        if port.target in [other.target for other in chip.ports[:number]]:
            yield ("ports", number, "target"), f"another port reaches the {port.target} already"
    status = chip.status
    if status and status.groups is not None and chip.collisions is None:
        yield ("status", "groups"), "needs a chip with collisions"
    for flag in ("dropped", "collision"):
        if status and getattr(status, flag) is not None and chip.sprites is None:
            yield ("status", flag), "needs a chip with sprites"
    taken: dict[int, str] = {}
    for name, register in registers(chip).items():
        taken |= dict.fromkeys(range(register.address, register.address + register.size), name)
    for place, what, first, count in cpu_places(chip):
        for address in range(first, first + count):
            if address in taken:
                yield place, f"byte 0x{address:02X} is taken by {taken[address]} already"
                break
            taken[address] = what
