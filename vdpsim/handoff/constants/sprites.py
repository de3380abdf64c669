"""Constants of the sprite engine: records, sizes, patterns, limits and collision groups.

Law: numbers as ``chip/`` has them, none worked out a second time; a chip without sprites has a count of 0, so that a design may
hold the engine all the same. Knows no language.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...chip.controls import controls, sprite_addresses
from ...chip.line.clients import clients
from ...chip.model import Chip, SpritesTable
from ...chip.tables.pattern import SpritePattern
from .layers import MOST_PLANES, PLANES
from .table import NONE, Item, Section, columns, constant, enumeration, layout, numbers
from .table import places as bit_places

RECORD_FIELDS = (
    "x",
    "y",
    "pattern",
    "pattern_bank",
    "flip_x",
    "flip_y",
    "bank",
    "priority",
    "size",
    "group",
    "enable",
    "x_bias",
)
FIELD_BITS = 32
MOST_GROUPS = 8


def sections(chip: Chip) -> Iterator[Section]:
    """The sections of sprites and collisions."""
    yield Section("Sprites", "Widths in dots, heights in lines.", tuple(_engine(chip)))
    if chip.sprites is not None:
        yield Section(
            "Sprite records", "A record is one word in the memory's byte order.", tuple(_record(chip.sprites))
        )
        yield Section("Sprite patterns", "Tables have a number for each size.", tuple(_patterns(chip, chip.sprites)))
    yield Section("Collisions", "Groups are numbered as the field group has them.", tuple(_collisions(chip)))


def _engine(chip: Chip) -> Iterator[Item]:
    sprites, order = chip.sprites, {name: number for number, name in enumerate(controls(chip))}
    yield constant("sprites count", sprites.count if sprites else 0, "records of the table; 0: the chip has no sprites")
    for name, about in (("enable", "enables them"), ("table", "has the address of their table in memory")):
        yield constant(
            f"sprites {name}", order.get(f"sprites.{name}", NONE), f"number of the control that {about}; -1: none"
        )
    for what in ("table", "pattern"):
        told = f"number of the client that fetches their {what}s in records; -1: there is none"
        yield constant(f"sprites {what} client", _client(chip, f"sprites.{what}"), told)
    if sprites is None:
        return
    yield constant("sprites in memory", sprites.table == "memory", "1: the table lies in video memory; 0: on the chip")
    yield constant("sprites per line", _limit(sprites.per_line), "most sprites of a line; -1: no limit")
    yield constant(
        "sprites dots per line", _limit(sprites.dots_per_line), "most dots of a line's sprites; -1: no limit"
    )
    yield constant("sprites front first", sprites.front == "first", "1: the first of the table stands in front")
    yield constant(
        "sprites back dropped",
        sprites.dropped == "back",
        "1: beyond a limit those at the back give way; 0: those in front",
    )
    yield constant("sprites bias dots", sprites.x_bias, "dots that the bit x_bias moves a sprite to the left")
    yield constant("sprites wrap x", sprites.wrap_x, "1: x counts modulo 2^bits of its field")
    yield constant("sprites wrap y", sprites.wrap_y, "1: y counts modulo 2^bits of its field")
    yield constant("sprites rung by rung", sprites.resolve == "rung by rung", "0: sprites settle before the ladder")


def _client(chip: Chip, name: str) -> int:
    names = clients(chip)
    return names.index(name) if name in names else NONE


def _limit(most: int | None) -> int:
    return NONE if most is None else most


def _record(sprites: SpritesTable) -> Iterator[Item]:
    yield constant("sprites record bytes", sprites.record_bytes, "bytes of a record")
    yield constant("sprites field bits", FIELD_BITS, "places of each table of this section")
    for field in RECORD_FIELDS:
        bits = sprites.fields.layout.get(field)
        yield constant(
            f"sprites {field} bits", bits.width if bits else 0, f"bits of the field {field}; 0: there is none"
        )
        yield numbers(
            f"sprites {field} places",
            bit_places(bits, FIELD_BITS),
            "bit i of it stands in this bit of the record; -1: no such bit",
        )
    for name, bits in sprites.fields.layout.items():
        yield from layout(("sprite", name), bits, f"{name} in a sprite's record")


def _patterns(chip: Chip, sprites: SpritesTable) -> Iterator[Item]:
    order = {name: number for number, name in enumerate(controls(chip))}
    bases = [order[name] for name in sprite_addresses(sprites)]
    yield constant("sprites bits per dot", sprites.bits_per_dot, "bits of a dot's value")
    yield constant("sprites planes", PLANES.index(sprites.planes), "PLANES_ ...")
    yield constant("sprites first dot low", sprites.first_dot == "low", "1: the leftmost dot is in a byte's low bits")
    yield constant("sprites transparent", _limit(sprites.transparent), "value that shows nothing; -1: none")
    for name, value in zip(("base", "bank step", "value step"), chip.entry_rule(sprites.entries), strict=True):
        yield constant(
            f"sprites {name}", value, "entry = base + bank x bank step + value x value step" if name == "base" else ""
        )
    yield numbers(
        "sprites bases",
        (*bases, *[NONE] * (MOST_PLANES - len(bases))),
        "plane p: number of the control with the address of pattern 0; -1: none",
    )
    yield constant("sprite sizes", len(sprites.sizes), "sizes of sprites, as the field size numbers them")
    yield from columns(
        "sprite sizes",
        sprites.patterns,
        (
            ("width", "dots across", lambda one: one.size[0]),
            ("height", "lines", lambda one: one.size[1]),
            ("step", "bytes from a pattern number to the next", lambda one: one.step),
            ("tile x", "dots of a tile; of a sprite not made of tiles its own", lambda one: one.tile[0]),
            ("tile y", "lines of a tile", lambda one: one.tile[1]),
            ("right", "bytes from a tile to the one at its right", lambda one: _away(one, 0, 1)),
            ("below", "bytes from a tile to the one below", lambda one: _away(one, 1, 0)),
            ("row bytes", "R: bytes of a tile's row that lie together", lambda one: one.row_bytes),
            ("row step", "S: bytes from a tile's row to the next", lambda one: one.raster.step),
            (
                "row accesses",
                "accesses of a tile's row",
                lambda one: one.raster.row_accesses(chip.memory.bytes_per_access),
            ),
        ),
    )


def _away(pattern: SpritePattern, down: int, across: int) -> int:
    """Bytes from a sprite's first tile to the one so many rows and columns away; 0 where there is none."""
    offsets = pattern.offsets
    return offsets[down][across] if down < len(offsets) and across < len(offsets[0]) else 0


def _collisions(chip: Chip) -> Iterator[Item]:
    collisions = chip.collisions
    groups = collisions.groups if collisions else ()
    yield constant("groups", len(groups), "groups; sprites of a larger number collide with none")
    yield from enumeration("group", groups, "numbers of the groups")
    yield constant("most groups", MOST_GROUPS, "rows of a group in the table that follows")
    yield numbers(
        "groups collide",
        (
            int(bool(collisions and collisions.collide(one, other)))
            for one in range(MOST_GROUPS)
            for other in range(MOST_GROUPS)
        ),
        "1 at place a x 8 + b: sprites of group a and of group b are told to collide",
    )
    yield constant(
        "collisions hidden dots", bool(collisions and collisions.hidden_dots), "1: dots behind layers count too"
    )
