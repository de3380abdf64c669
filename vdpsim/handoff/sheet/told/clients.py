"""The clients of the memory, in the order in which they are served: when each fetches, and what that costs.

Law: costs are those of ``chip/line/clients.py``; order and places are the chip's own.
"""

from __future__ import annotations

from collections.abc import Iterator

from ....chip.line.clients import KEPT, Place, costs_of, places, scan_of, sprite_costs
from ....chip.model import Chip, SlotPattern, TilesMode
from ..parts import Grid, Section, Words
from .wording import NONE, plain, some, yes

ABOUT = (
    "Slots go by in order, and a slot goes to the first in this table who asks for it. A group is what is fetched together; its "
    "dots are those of the picture. A lead says how many dots before a group shows its fetches may begin."
)
"""What the table of clients means."""

HEAD = (
    "order",
    "place",
    "mode",
    "when",
    "lead in dots",
    "dots a group",
    "accesses a group",
    "slots it may have",
    "kept from line to line",
)
"""The names of its columns."""


def clients(chip: Chip) -> Section:
    """The section of the clients, in the order in which they are served."""
    if chip.time is None:
        return Section(
            "Clients of the memory",
            (Words("The chip has no time table: its fetches are counted, but not placed in time."),),
        )
    scan = scan_of(chip).accesses
    told = f"To find its sprites, every line makes {plain(scan)} accesses to the table, before those for sprites that it shows."
    scanning = (Words(told),) if scan else ()
    return Section(
        "Clients of the memory",
        (
            Words(ABOUT),
            Grid("Clients and places, in the order in which they are served", HEAD, tuple(_served(chip)), (0, 4, 5, 6)),
            *scanning,
        ),
    )


def _served(chip: Chip) -> Iterator[tuple[str, ...]]:
    time = chip.time
    assert time is not None
    order = 0
    if time.cpu.active == "reserved":
        order += 1
        yield (
            f"{order}",
            "CPU",
            NONE,
            "in its own slots of the picture",
            NONE,
            NONE,
            NONE,
            pattern(time.cpu),
            NONE,
        )
    if time.refresh is not None:
        order += 1
        first = f"the first {plain(time.refresh.slots)}"
        which = first if time.refresh.every is None else f"{first} of {pattern(time.refresh)}"
        yield f"{order}", "refresh", NONE, "on every line", NONE, NONE, NONE, which, NONE
    for name, place in places(chip).items():
        order += 1
        timed = time.clients[name]
        for mode, cost in _of_place(chip, place):
            kept = yes(timed.keep) if place.what in KEPT else NONE
            told = (timed.when, plain(timed.lead), *cost, pattern(timed), kept)
            yield f"{order}", name, mode, *told
    if left := _left_over(chip):
        yield f"{order + 1}", "CPU", NONE, left, NONE, NONE, NONE, "all that are left there", NONE


def _of_place(chip: Chip, place: Place) -> Iterator[tuple[str, tuple[str, str]]]:
    """Each mode that is served at a place by name, with the dots of a group and the accesses for one."""
    if place.layer < 0:
        yield NONE, _sprite_cost(chip)
        return
    for number in place.modes:
        mode, cost = chip.layers[place.layer].modes[number], costs_of(chip)[place.layer][number]
        turns = place.what == "pattern" and isinstance(mode, TilesMode) and mode.cell.turn is not None
        turned = f", {plain(cost.turned)} of a turned tile" if turns else ""
        yield mode.name, (plain(cost.size), f"{plain(cost.costs[place.what])}{turned}")


def _sprite_cost(chip: Chip) -> tuple[str, str]:
    """Accesses for a sprite on a line."""
    each = sprite_costs(chip)
    told = f"{plain(min(each))} to {plain(max(each))}" if min(each) < max(each) else plain(min(each))
    return NONE, f"{told} a sprite"


def _left_over(chip: Chip) -> str:
    """When the CPU has what all others leave; nothing where that is never."""
    assert chip.time is not None
    cpu = chip.time.cpu
    told = [*(["in blanking"] if cpu.blanking else []), *(["while the picture shows"] if cpu.active == "free" else [])]
    return " and ".join(told)


def pattern(one: SlotPattern) -> str:
    """Which slots of a line somebody may have."""
    if one.every is None or one.at is None:
        return "any"
    return f"s with s mod {one.every} = {some(one.at)}"
