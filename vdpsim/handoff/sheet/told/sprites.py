"""The sprite engine and the limits of the chip.

Law: limits are the chip's own; what time allows is the budget's.
"""

from __future__ import annotations

from collections.abc import Iterator

from ....budgets.budget import Budget
from ....chip.line.clients import sprite_costs
from ....chip.line.rates import line_slots
from ....chip.model import Chip, SpritesTable
from ..parts import Grid, Part, Points, Section
from .features import depth
from .wording import by, plain, yes


def sprites(chip: Chip) -> tuple[Section, ...]:
    """The section of the sprite engine; none for a chip that has none."""
    return (Section("Sprites", tuple(_sprites(chip, chip.sprites))),) if chip.sprites is not None else ()


def _sprites(chip: Chip, table: SpritesTable) -> Iterator[Part]:
    yield Grid("The sprite engine", ("what", "value"), tuple(_engine(table)))
    costs = sprite_costs(chip)
    rows = tuple(
        (plain(number), by(one.size), by(one.tile), plain(one.size_bytes), plain(one.step), plain(costs[number]))
        for number, one in enumerate(table.patterns)
    )
    head = ("size", "dots", "tile", "bytes of its dots", "bytes from number to number", "accesses a line")
    yield Grid("Sizes, as the field size numbers them", head, rows, (0, 3, 4, 5))
    if chip.collisions is not None:
        yield from _collisions(chip)


def _engine(table: SpritesTable) -> Iterator[tuple[str, str]]:
    yield "records in the table", plain(table.count)
    yield "the table lies", "on the chip" if table.table == "chip" else "in video memory"
    yield "bytes of a record", plain(table.record_bytes)
    yield "dots", depth(table)
    yield "in front", f"the {table.front} of the table"
    yield "beyond a limit", f"those at the {table.dropped} are dropped"
    if table.fields.x_bias is not None:
        yield "x_bias moves to the left by", f"{plain(table.x_bias)} dots"
    for axis, wraps, field in (("x", table.wrap_x, table.fields.x), ("y", table.wrap_y, table.fields.y)):
        yield f"{axis} counts modulo {plain(field.top + 1)}", yes(wraps)


def _collisions(chip: Chip) -> Iterator[Part]:
    collisions = chip.collisions
    assert collisions is not None
    yield Grid(
        "Collision groups",
        ("group", "name"),
        tuple((plain(number), name) for number, name in enumerate(collisions.groups)),
        (0,),
    )
    hidden = "count too" if collisions.hidden_dots else "do not count"
    pairs = (f"{one} and {other} are told to collide." for one, other in collisions.pairs)
    yield Points((*pairs, f"Dots that a layer covers {hidden}."))


def limits(chip: Chip, found: Budget) -> Section:
    """The section of the limits; ``found`` says what there is time for."""
    return Section(
        "Limits", (Grid("The most that there can be", ("what", "at most"), tuple(_limits(chip, found)), (1,)),)
    )


def _limits(chip: Chip, found: Budget) -> Iterator[tuple[str, str]]:
    yield "bytes of video memory", plain(chip.memory.size)
    if chip.time is not None:
        yield "accesses a line", plain(line_slots(chip).slots)
    yield "palette entries", plain(chip.palette.entries)
    if chip.sprites is not None:
        yield "sprites of a frame", plain(chip.sprites.count)
        yield "sprites of a line", _limit(chip.sprites.per_line)
        yield "sprite dots of a line", _limit(chip.sprites.dots_per_line)
        yield "sprite patterns by number", plain(chip.sprites.fields.top_number + 1)
    if found.sprites is not None:
        size = by(found.sprites.size)
        yield f"sprites of {size} dots that find slots on any line", plain(found.sprites.fit)
    if found.cpu is not None:
        yield "bytes that the CPU gets into video memory in a frame, at worst", plain(found.cpu.bytes_per_frame)
    if chip.cpu is not None:
        yield "bytes in the queue", plain(chip.cpu.queue)
    yield "bits kept on the chip", plain(found.chip_bits)


def _limit(most: int | None) -> str:
    return "no limit" if most is None else plain(most)
