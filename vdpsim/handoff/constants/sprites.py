"""Constants of the sprite engine: records, sizes, patterns, limits and collision groups.

Law: numbers as ``chip/`` has them, none worked out a second time; a chip without sprites has the same names, so that a design may
hold the engine all the same. Knows no language.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

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

Row = tuple[str, int, str, Callable[[SpritesTable], int]]
"""A constant of sprites: its name, the number of a chip that has none, what it says, and how it is found."""


def _limit(most: int | None) -> int:
    return NONE if most is None else most


ENGINE: Sequence[Row] = (
    ("in memory", 0, "1: the table lies in video memory; 0: on the chip", lambda one: one.table == "memory"),
    ("per line", NONE, "most sprites of a line; -1: no limit", lambda one: _limit(one.per_line)),
    ("dots per line", NONE, "most dots of a line's sprites; -1: no limit", lambda one: _limit(one.dots_per_line)),
    ("front first", 0, "1: the first of the table stands in front", lambda one: one.front == "first"),
    (
        "back dropped",
        0,
        "1: beyond a limit those at the back give way; 0: those in front",
        lambda one: one.dropped == "back",
    ),
    ("bias dots", 0, "dots that the bit x_bias moves a sprite to the left", lambda one: one.x_bias),
    ("wrap x", 0, "1: x counts modulo 2^bits of its field", lambda one: one.wrap_x),
    ("wrap y", 0, "1: y counts modulo 2^bits of its field", lambda one: one.wrap_y),
    ("rung by rung", 0, "0: sprites settle before the ladder", lambda one: one.resolve == "rung by rung"),
)
"""Of the engine as a whole."""

DOTS: Sequence[Row] = (
    ("bits per dot", 0, "bits of a dot's value", lambda one: one.bits_per_dot),
    ("planes", NONE, "PLANES_ ...", lambda one: PLANES.index(one.planes)),
    ("first dot low", 0, "1: the leftmost dot is in a byte's low bits", lambda one: one.first_dot == "low"),
    ("transparent", NONE, "value that shows nothing; -1: none", lambda one: _limit(one.transparent)),
)
"""Of the dots of patterns."""


def sections(chip: Chip) -> Iterator[Section]:
    """The sections of sprites and collisions."""
    yield Section("Sprites", "Widths in dots, heights in lines.", tuple(_engine(chip)))
    yield Section("Sprite records", "A record is one word in the memory's byte order.", tuple(_record(chip.sprites)))
    yield Section("Sprite patterns", "Tables have a number for each size.", tuple(_patterns(chip)))
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
    yield from _told(sprites, ENGINE)


def _told(sprites: SpritesTable | None, rows: Sequence[Row]) -> Iterator[Item]:
    """A constant for each of ``rows``."""
    for name, without, about, find in rows:
        yield constant(f"sprites {name}", without if sprites is None else find(sprites), about)


def _client(chip: Chip, name: str) -> int:
    names = clients(chip)
    return names.index(name) if name in names else NONE


def _record(sprites: SpritesTable | None) -> Iterator[Item]:
    fields = sprites.fields.layout if sprites else {}
    yield constant("sprites record bytes", sprites.record_bytes if sprites else 0, "bytes of a record")
    yield constant("sprites field bits", FIELD_BITS, "places of each table of this section")
    for field in RECORD_FIELDS:
        bits = fields.get(field)
        yield constant(
            f"sprites {field} bits", bits.width if bits else 0, f"bits of the field {field}; 0: there is none"
        )
        yield numbers(
            f"sprites {field} places",
            bit_places(bits, FIELD_BITS),
            "bit i of it stands in this bit of the record; -1: no such bit",
        )
    for field in RECORD_FIELDS:
        yield from layout(("sprite", field), fields.get(field), f"{field} in a sprite's record")


def _patterns(chip: Chip) -> Iterator[Item]:
    sprites, order = chip.sprites, {name: number for number, name in enumerate(controls(chip))}
    yield from _told(sprites, DOTS)
    rule = chip.entry_rule(sprites.entries) if sprites else (NONE, NONE, NONE)
    for name, value in zip(("base", "bank step", "value step"), rule, strict=True):
        yield constant(
            f"sprites {name}", value, "entry = base + bank x bank step + value x value step" if name == "base" else ""
        )
    bases = [order[name] for name in sprite_addresses(sprites)] if sprites else []
    yield numbers(
        "sprites bases",
        (*bases, *[NONE] * (MOST_PLANES - len(bases))),
        "plane p: number of the control with the address of pattern 0; -1: none",
    )
    sizes = sprites.patterns if sprites else ()
    yield constant("sprite sizes", len(sizes), "sizes of sprites, as the field size numbers them")
    yield from columns(
        "sprite sizes",
        sizes,
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
