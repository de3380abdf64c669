"""What a chip's time table, its ports and its status must agree on with the rest of the chip.

Law: as in ``checks.py``, whose part this is: every check yields (place, message) and goes on. Only chips whose other tables
agree are asked.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...door.shown import meant
from ..model import Chip
from ..registers import registers
from .clients import KEPT, Place, buffered, of_mode, place_of, places, places_of, timed_clients
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
    at, known = ("time", "clients"), places(chip)
    wanted = timed_clients(chip)
    yield from _wanting(chip, wanted)
    for name in chip.time.clients:
        if name in known:
            yield from _place(chip, name, known)
        elif name in wanted:
            yield (*at, name), f"nothing is left for it: each of the layer's modes has {_own(chip, name)} of its own"
        else:
            alone = ", or one of a mode alone as LAYER.MODE.CLIENT" if chip.layers else ""
            yield (*at, name), f"is no client of this chip; it has {', '.join(wanted)}{alone}{meant(name, wanted)}"


def _own(chip: Chip, name: str) -> str:
    """What a client is called where a mode has it for itself: each such name of the layer."""
    layer, _, what = name.partition(".")
    names = [one for one in places_of(chip, chip.layer(layer)) if one.endswith(f".{what}")]
    return " or ".join(names)


def _wanting(chip: Chip, wanted: tuple[str, ...]) -> Found:
    """Modes for which the table has no place."""
    assert chip.time is not None
    given = chip.time.clients
    asked = {name: (layer, modes) for layer in chip.layers for name, modes in places_of(chip, layer).items()}
    for name in wanted:
        layer, modes = asked.get(name, (None, []))
        if name in given or (layer is None and name != "sprites"):
            continue
        which = ""
        if layer is not None and len(modes) < sum(name.rpartition(".")[2] in of_mode(mode) for mode in layer.modes):
            which = f" in {' and '.join(layer.modes[mode].name for mode in modes)}"
        yield ("time", "clients"), f"must say when {name} fetches{which}; the clients are {', '.join(wanted)}"


def _place(chip: Chip, name: str, known: dict[str, Place]) -> Found:
    """What is wrong with a place that somebody is served at."""
    assert chip.time is not None
    at, client, place = ("time", "clients", name), chip.time.clients[name], known[name]
    if place.layer < 0:
        if client.when == "in time":
            yield (*at, "when"), "sprites are prepared a line at a time: must be blanking or line before, got in time"
    elif client.when != "line before" and buffered(chip, chip.layers[place.layer]):
        layer = chip.layers[place.layer].name
        told = f"all clients of {layer} share its line buffer: must be line before, as another of them is, got {client.when}"
        yield (*at, "when"), told
    if client.keep and place.what not in KEPT:
        yield (*at, "keep"), f"is for cells and colours, got {name}"
    if place.what in {"pattern", "glyphs"}:
        order = list(known)
        cells = dict.fromkeys(place_of(chip, chip.layers[place.layer], mode, "cells") for mode in place.modes)
        for one in cells:
            if one in known and order.index(one) > order.index(name):
                yield at, f"must stand after {one}, whose cells say what to fetch"


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
