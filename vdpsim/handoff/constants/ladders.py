"""Constants of the ladders: their rungs, and the conditions under which these hold.

Law: rungs are numbered through, ladder after ladder, the chip's own first, as the engine and the records number them. Knows no
language.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate

from ...chip.model import Chip, Rung
from ...chip.tables.table import RELATIONS
from .cells import CELL_BITS, CELL_FIELDS
from .layers import OneMode, all_modes
from .table import Item, Section, columns, constant, enumeration, numbers
from .table import places as bit_places

RELATION_NAMES = ("always", "equal", "unequal", "below", "at most", "above", "at least")
CONDITIONS = ("always", *RELATIONS)
RECORD_FIELD_BITS = 32
FIELDS = (*CELL_FIELDS, "size", "group", "enable", "x_bias", "x", "y", "pattern_bank")
"""Every field that a condition can name: of cells, and after them those that only records have."""


def sections(chip: Chip) -> Iterator[Section]:
    """The section of the ladders."""
    told = "Rungs are numbered through: the chip's ladder, then those of modes."
    yield Section("Ladders", told, tuple(_ladders(chip, all_modes(chip))))


def _ladders(chip: Chip, known: list[OneMode]) -> Iterator[Item]:
    sources = chip.source_names
    yield from enumeration("source", sources, "who shows at a dot", ("sprites",))
    own = [one for one in known if one.mode.ladder is not None]
    ladders: list[tuple[Rung, ...]] = [chip.ladder, *(one.mode.ladder for one in own if one.mode.ladder is not None)]
    firsts = list(accumulate(map(len, ladders), initial=0))
    yield constant("ladders", len(ladders), "ladders; 0 is the chip's")
    yield numbers("ladders first", firsts[:-1], "number of its first rung, the front-most")
    yield numbers("ladders rungs", map(len, ladders), "how many rungs it has")
    yield numbers(
        "modes ladder",
        (own.index(one) + 1 if one in own else None for one in known),
        "number of the mode's ladder; -1: it has none",
    )
    yield from enumeration("test", RELATION_NAMES, "conditions of rungs")
    rungs = [rung for ladder in ladders for rung in ladder]
    yield constant("rungs", len(rungs), "rungs of all ladders; this number itself is the backdrop's")
    yield from columns(
        "rungs",
        rungs,
        (
            ("source", "SOURCE_ ...", lambda rung: sources.index(rung.source)),
            (
                "field",
                "place among the fields that conditions ask, CONDITION_ ...; -1: always",
                lambda rung: rung.when and FIELDS.index(rung.when.field),
            ),
            ("test", "TEST_ ...", lambda rung: CONDITIONS.index(rung.when.relation if rung.when else "always")),
            ("number", "the number that the field is held against", lambda rung: rung.when.number if rung.when else 0),
        ),
    )
    yield from enumeration("condition", FIELDS, "fields that conditions ask, of a cell or a sprite's record")
    yield from _asked(chip, known)


def _asked(chip: Chip, known: list[OneMode]) -> Iterator[Item]:
    """Where the fields stand that conditions ask, by the numbers that rungs have for them."""
    layouts = [one.mode.asked for one in known]
    yield numbers(
        "conditions cell places",
        (bit for field in FIELDS for one in layouts for bit in bit_places(one.get(field), CELL_BITS)),
        "bit i of field n (CONDITION_ ...) for mode m is at place (n x MODES + m) x 16 + i: the bit of the cell in which it "
        "stands; -1: no such bit, it counts as 0",
    )
    record = chip.sprites.fields.layout if chip.sprites else {}
    yield numbers(
        "conditions record places",
        (bit for field in FIELDS for bit in bit_places(record.get(field), RECORD_FIELD_BITS)),
        "bit i of field n is at place n x 32 + i: the bit of a sprite's record in which it stands; -1: no such bit, it "
        "counts as 0; of a field that records lack no rung asks",
    )
