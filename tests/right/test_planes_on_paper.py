"""Dots in planes, worked out on paper: where each bit lies, what a row costs, in which order it is fetched, and what is missed.

The chips are those of ``paper.py``: 64 dots of 80, so that 16 dots of blanking stand before dot 0; 16 entries, each its own
number, with value 0 to 15 entry 0 to 15.
"""

from __future__ import annotations

from typing import Any

import pytest
from paper import BITMAP, SPRITES, TILES, Json, both, holding, small_chip, sprite

from vdpsim.budgets.budget import budget
from vdpsim.chip.controls import controls
from vdpsim.chip.line.clients import mode_costs, sprite_costs
from vdpsim.chip.load import chip_text, parse_chip
from vdpsim.chip.model import Chip
from vdpsim.chip.tables.pattern import Raster
from vdpsim.state.state import State

ROOMY = {"size": 4096, "accesses_per_dot": 8}
WIDE = {"entries": 256, "bank_size": 256, "red": "11:8", "green": "7:4", "blue": "3:0"}
CELLS = {"when": "blanking"}


def tiles(bits: int, planes: str | None, access: int = 1, **more: Any) -> Chip:
    """A chip of one layer of tiles."""
    mode = {**TILES, "bits_per_dot": bits, **({"planes": planes} if planes else {}), **more}
    return small_chip(mode, memory={**ROOMY, "bytes_per_access": access}, palette=WIDE)


def bitmap(bits: int, planes: str | None, access: int = 1, **more: Any) -> Chip:
    """A chip of one bitmap."""
    mode = {**BITMAP, "bits_per_dot": bits, **({"planes": planes} if planes else {}), **more}
    return small_chip(mode, memory={**ROOMY, "bytes_per_access": access}, palette=WIDE)


def timed(chip: Chip, **clients: Json) -> Chip:
    """``chip`` with a time table for the clients of its layer a."""
    plan = chip.model_dump(mode="json", exclude_unset=True)
    plan["time"] = {"clients": {f"a.{name}": client for name, client in clients.items()}}
    return Chip.model_validate(plan, strict=False)


# What a row costs

TILE_ROWS = {
    # bits, planes: accesses of a row of 8 dots on memory of 1, 2 and 4 bytes an access
    (4, None): (4, 2, 1),
    (4, "by row"): (4, 2, 1),
    (4, "by pattern"): (4, 4, 4),
    (4, "apart"): (4, 4, 4),
    (2, None): (2, 1, 1),
    (2, "by row"): (2, 1, 1),
    (2, "by pattern"): (2, 2, 2),
    (2, "apart"): (2, 2, 2),
    (1, None): (1, 1, 1),
    (1, "by pattern"): (1, 1, 1),
    (8, "by row"): (8, 4, 2),
    (8, "apart"): (8, 8, 8),
}


@pytest.mark.parametrize(("how", "each"), TILE_ROWS.items(), ids=str)
def test_a_row_of_a_tile_costs_what_its_bytes_lie_together(how, each):
    """8 dots of 4 bits are 4 bytes. Packed, or plane after plane of one row, they lie together: 4 accesses of a byte, 2 of two,
    1 of four. Planes of whole patterns are a byte each, 8 bytes apart: 4 accesses, however wide they are. A line of 64 dots
    that stands still shows 8 tiles.
    """
    bits, planes = how
    for access, cost in zip((1, 2, 4), each, strict=True):
        chip = tiles(bits, planes, access)
        assert mode_costs(chip, chip.layers[0].modes[0]).costs["pattern"] == cost
        counts = both(State.at_reset(chip), last=16).counts
        assert {line["a.pattern"] for line in counts} == {8 * cost}


BITMAP_LINES = {
    # bits, planes: dots of a group and accesses for it on memory of 1, 2 and 4 bytes an access, and those of a line of 64 dots
    (4, None): ((2, 1, 32), (4, 1, 16), (8, 1, 8)),
    (4, "by row"): ((8, 4, 32), (16, 4, 16), (32, 4, 8)),
    (4, "by pattern"): ((8, 4, 32), (16, 4, 16), (32, 4, 8)),
    (4, "apart"): ((8, 4, 32), (16, 4, 16), (32, 4, 8)),
    (3, "by row"): ((8, 3, 24), (16, 3, 12), (32, 3, 6)),
    (5, "apart"): ((8, 5, 40), (16, 5, 20), (32, 5, 10)),
}


@pytest.mark.parametrize(("how", "each"), BITMAP_LINES.items(), ids=str)
def test_a_line_of_a_bitmap_costs_as_much_in_planes_but_in_larger_groups(how, each):
    """64 dots of 4 bits are 32 bytes: 32, 16 or 8 accesses, packed or in planes. Packed an access has 2, 4 or 8 dots and is
    a group; in planes it has a bit each of 8, 16 or 32 dots, and a group is one of each plane. 3 bits are 24 bytes.
    """
    bits, planes = how
    for access, (size, cost, line) in zip((1, 2, 4), each, strict=True):
        chip = bitmap(bits, planes, access)
        costs = mode_costs(chip, chip.layers[0].modes[0])
        assert (costs.size, costs.costs["bitmap"]) == (size, cost)
        assert {counts["a.bitmap"] for counts in both(State.at_reset(chip), last=16).counts} == {line}


@pytest.mark.parametrize("planes", [None, "by row", "by pattern", "apart"])
@pytest.mark.parametrize("access", [1, 2, 4])
def test_a_budget_of_tiles_says_the_same(planes, access):
    """A line that scrolls touches 9 tiles: 9 accesses for cells, a byte each, and 9 x the row's for patterns."""
    row = TILE_ROWS[4, planes][(1, 2, 4).index(access)]
    told = budget(timed(tiles(4, planes, access), cells=CELLS, pattern=CELLS))
    assert told.verdict == "fits"
    assert told.lines is not None
    assert told.lines.most == {"a.cells": 9, "a.pattern": 9 * row, "refresh": 0}
    assert told.lines.bound == 9 + 9 * row


@pytest.mark.parametrize(
    ("planes", "access", "line"),
    [
        (None, 1, 33), (None, 2, 17), (None, 4, 9),
        ("by row", 1, 36), ("by row", 2, 20), ("by row", 4, 12),
        ("apart", 1, 36), ("apart", 2, 20), ("apart", 4, 12),
    ],
)  # fmt: skip
def test_a_budget_of_a_bitmap_counts_the_groups_that_a_scrolled_line_touches(planes, access, line):
    """64 dots that begin within a group touch one more than 64 / its dots: packed 33, 17 or 9 accesses; in planes 9, 5 or 3
    groups of 4 accesses. Of 64 dots a line in memory the last group is the first again, and is fetched again.
    """
    told = budget(timed(bitmap(4, planes, access), bitmap=CELLS))
    assert told.lines is not None
    assert told.lines.most["a.bitmap"] == line


@pytest.mark.parametrize(
    ("bits", "planes", "access", "tile", "each"),
    [
        (4, None, 2, 8, 1),
        (4, "by row", 1, 8, 4), (4, "by row", 2, 8, 2), (4, "by row", 4, 8, 1),
        (4, "by row", 1, 16, 4), (4, "by row", 2, 16, 4), (4, "by row", 4, 16, 2),
        (4, "by pattern", 4, 8, 4), (3, "apart", 8, 16, 3),
    ],
)  # fmt: skip
def test_a_dot_of_a_turned_tile_costs_the_accesses_that_hold_its_bits(bits, planes, access, tile, each):
    """Of a turned tile's row each dot comes from another row of the pattern. Its bits lie in one byte of each plane: by row
    these stand side by side for 8 dots, and 2 bytes apart for 16, so that an access of 4 bytes has two of them.
    """
    cell = {"pattern": "2:0", "turn": "7"}
    chip = tiles(bits, planes, access, tile=tile, cell=cell)
    assert mode_costs(chip, chip.layers[0].modes[0]).turned == tile * each
    state = holding(chip, {0: b"\x80" * 128}, **{f"a__t__{name}": 1024 for name in names(chip)})
    assert both(state, last=16).counts[0]["a.pattern"] == 64 // tile * tile * each


def names(chip: Chip) -> list[str]:
    """The ends of the names of the controls that say where the dots lie."""
    known = (name.rpartition(".")[2] for name in controls(chip))
    return [name for name in known if name in {"patterns", "bitmap"} or name.startswith("plane_")]


# Where each bit lies

BYTES = [0b1100_0000, 0b1010_0000, 0b0000_0001]
"""Planes 0, 1 and 2 of a row of 8 dots, its leftmost in the top bit: values 3, 1, 2, 0, 0, 0, 0, 4."""

VALUES = [3, 1, 2, 0, 0, 0, 0, 4]


@pytest.mark.parametrize(
    ("planes", "memory", "bases"),
    [
        ("by row", {512 + 2 * 24 + 3 * 3: bytes(BYTES)}, {"patterns": 512}),
        (
            "by pattern",
            {512 + 2 * 24 + 8 * plane + 3: bytes([byte]) for plane, byte in enumerate(BYTES)},
            {"patterns": 512},
        ),
        (
            "apart",
            {at + 2 * 8 + 3: bytes([byte]) for at, byte in zip((512, 1024, 768), BYTES, strict=True)},
            {"plane_0": 512, "plane_1": 1024, "plane_2": 768},
        ),
    ],
)
@pytest.mark.parametrize("first_dot", ["high", "low"])
def test_bit_p_of_a_value_is_in_plane_p(planes, memory, bases, first_dot):
    """Pattern 2, row 3, of 3 bits: 24 bytes a pattern, or 8 of each plane where planes lie apart, each at its own address."""
    chip = tiles(3, planes, first_dot=first_dot)
    assert names(chip) == list(bases)
    state = holding(chip, {0: b"\2", **memory}, **{f"a__t__{name}": at for name, at in bases.items()})
    wanted = VALUES if first_dot == "high" else VALUES[::-1]
    assert both(state, last=8).indices[3][:8] == wanted


@pytest.mark.parametrize(
    ("planes", "memory", "more"),
    [
        ("by row", {2 * 24 + 8 * plane + 1: bytes([byte]) for plane, byte in enumerate(BYTES)}, {}),
        ("by row", {2 * 26 + 8 * plane + 1: bytes([byte]) for plane, byte in enumerate(BYTES)}, {"stride": 26}),
        ("by pattern", {16 * 8 * plane + 2 * 8 + 1: bytes([byte]) for plane, byte in enumerate(BYTES)}, {}),
        (
            "by pattern",
            {16 * 10 * plane + 2 * 10 + 1: bytes([byte]) for plane, byte in enumerate(BYTES)},
            {"stride": 10},
        ),
    ],
)
def test_a_line_of_a_bitmap_has_its_planes_one_after_another_or_far_apart(planes, memory, more):
    """64 dots are 8 bytes a plane, 16 lines. By row: line 2 begins at 2 x 24, with a stride of 26 at 2 x 26, each plane 8 bytes
    after the one before. By pattern: plane p begins at p x 16 lines of 8 bytes, or of the stride.
    """
    state = holding(bitmap(3, planes, **more), memory)
    row = both(state, last=8).indices[2]
    assert row == [0] * 8 + VALUES + [0] * 48


def test_planes_of_a_bitmap_that_lie_apart_have_a_register_each():
    chip = bitmap(3, "apart")
    bases = dict(zip(names(chip), (100, 2000, 300), strict=True))
    memory = {at + 2 * 8 + 1: bytes([byte]) for at, byte in zip(bases.values(), BYTES, strict=True)}
    state = holding(chip, memory, **{f"a__b__{name}": at for name, at in bases.items()})
    assert both(state, last=4).indices[2][8:16] == VALUES


def test_a_pattern_that_lies_across_the_end_of_memory_goes_on_at_its_beginning():
    """24 bytes a pattern: number 1 from 4080 on begins at 4104, which is 8; row 3 of number 0, by pattern, has plane 1 at
    4080 + 8 + 3 = 4091, plane 2 at 4099, which is 3.
    """
    state = holding(
        tiles(3, "by pattern"), {4083: b"\xc0", 4091: b"\xa0", 3: b"\x01"}, a__t__patterns=4080, a__t__map=256
    )
    assert both(state, last=5).indices[3][:8] == VALUES


def test_addresses_are_multiples_of_a_pattern_as_far_as_it_is_a_power_of_two():
    """4 bits of 8 x 8 dots are 32 bytes; 3 bits are 24, a multiple of 8; a plane apart is 8 bytes, of 16 x 16 dots 32."""
    step = {name: each.step for name, each in controls(tiles(4, "by row")).items()}["a.t.patterns"]
    three = controls(tiles(3, "by pattern"))["a.t.patterns"]
    apart = controls(tiles(3, "apart", tile=16))
    assert (step, three.step, three.top) == (32, 8, 4088)
    assert [apart[f"a.t.plane_{plane}"].step for plane in range(3)] == [32] * 3
    assert "a.t.patterns" not in apart
    assert "a.t.plane_3" not in apart


# In which order


@pytest.mark.parametrize(
    ("planes", "addresses"),
    [
        ("by row", [512 + 16, 512 + 18]),
        ("by pattern", [512 + 4, 512 + 12, 512 + 20, 512 + 28]),
        ("apart", [1024 + 4, 768 + 4, 512 + 4, 256 + 4]),
    ],
)
def test_a_row_is_fetched_by_address_within_a_plane_and_plane_by_plane(planes, addresses):
    """Row 4 of pattern 0, of 4 planes on memory of two bytes: by row 4 bytes from 16 on; else byte 4 of each plane, in the
    access that begins at 4.
    """
    chip = timed(tiles(4, planes, 2), cells=CELLS, pattern=CELLS)
    bases = (512,) if len(names(chip)) == 1 else (1024, 768, 512, 256)
    state = holding(chip, **{f"a__t__{name}": at for name, at in zip(names(chip), bases, strict=True)})
    read = [address for line, _, client, address, _ in both(state, last=6).trace if (line, client) == (4, "a.pattern")]
    assert read == addresses * 8


def test_a_group_of_a_bitmap_is_fetched_plane_by_plane():
    """Line 1, dots 8 to 15, of 2 planes by row: 16 bytes a line, plane 0 from 16, plane 1 from 24; byte 1 of each."""
    chip = timed(bitmap(2, "by row"), bitmap=CELLS)
    read = [address for line, _, _, address, _ in both(State.at_reset(chip), last=3).trace if line == 1]
    assert read[:6] == [16, 24, 17, 25, 18, 26]


def test_a_turned_row_is_fetched_dot_by_dot_each_plane_by_plane():
    """Line 0 of a turned tile shows the leftmost column from the bottom up: rows 7, 6, ... of two planes by pattern."""
    chip = timed(tiles(2, "by pattern", cell={"pattern": "2:0", "turn": "7"}), cells=CELLS, pattern=CELLS)
    state = holding(chip, {0: b"\x80"}, a__t__patterns=512)
    read = [address for line, _, client, address, _ in both(state, last=2).trace if (line, client) == (0, "a.pattern")]
    assert read[:16] == [512 + 8 * plane + row for row in range(7, -1, -1) for plane in (0, 1)]


# What is missed


@pytest.mark.parametrize(("lead", "late"), [(4, False), (3, True)])
def test_a_group_of_which_a_plane_is_missed_shows_nothing(lead, late):
    """One access a dot; a group of 8 dots of a bitmap has 4 accesses, which begin at most ``lead`` dots before it shows. With
    3 dots the fourth plane finds no slot: the group shows nothing, and an access is missed for each of 8 groups.
    """
    mode = {**BITMAP, "bits_per_dot": 4, "planes": "apart", "scroll": False}
    memory = {"size": 4096, "bytes_per_access": 1, "accesses_per_dot": 1}
    chip = small_chip(mode, memory=memory, time={"clients": {"a.bitmap": {"when": "in time", "lead": lead}}})
    planes = {f"a__b__plane_{plane}": 1024 * plane for plane in range(4)}
    twin = both(holding(chip, {0: b"\xff" * 128}, **planes), damage=True, last=1)
    assert twin.missed[0]["a.bitmap"] == (8 if late else 0)
    assert set(twin.indices[0]) == ({0} if late else {1})
    assert set(twin.source[0]) == ({0} if late else {1})


@pytest.mark.parametrize(("bits", "fits"), [(4, True), (5, False)])
def test_both_sides_of_what_a_line_has_room_for(bits, fits):
    """In blanking, 16 dots of 2 accesses: 32 slots. A bitmap of 64 dots that stands still has 8 groups: 4 planes are 32
    accesses and fit, 5 are 40 and do not.
    """
    mode = {**BITMAP, "bits_per_dot": bits, "planes": "by row", "scroll": False}
    memory = {"size": 4096, "bytes_per_access": 1, "accesses_per_dot": 2}
    chip = small_chip(mode, memory=memory, time={"clients": {"a.bitmap": CELLS}}, palette=WIDE)
    told = budget(chip)
    assert told.verdict == ("fits" if fits else "does not fit")
    assert both(State.at_reset(chip), damage=True, last=1).missed[0]["a.bitmap"] == (0 if fits else 8)


# What there is room for


def test_memory_that_planes_take():
    """4,096 bytes: a tile of 3 planes is 24 bytes; apart each plane is a thing of its own, 8 bytes. A bitmap of 64 x 16 dots of
    3 planes is 384 bytes, apart 128 each.
    """
    found = {one.name: one.bytes for one in budget(tiles(3, "by pattern")).memory.capacities}
    assert found == {"a.t map": 128, "a.t tile": 24}
    found = {one.name: one.bytes for one in budget(tiles(3, "apart")).memory.capacities}
    assert found == {"a.t map": 128, **{f"a.t tile, plane {plane}": 8 for plane in range(3)}}
    assert [one.bytes for one in budget(bitmap(3, "by row")).memory.capacities] == [384]
    assert [(one.bytes, one.room) for one in budget(bitmap(3, "apart")).memory.capacities] == [(128, 32)] * 3


def test_a_raster_in_numbers():
    """16 x 8 dots of 3 bits by pattern: 2 bytes a row of a plane, 16 a plane, 48 in all; by row 6 bytes a row."""
    spread, rows = Raster(16, 8, 3, "by pattern"), Raster(16, 8, 3, "by row")
    assert (spread.row_bytes, spread.step, spread.size, spread.bases) == (2, 2, 48, 1)
    assert [piece.offset for piece in spread.pieces] == [0, 16, 32]
    assert (rows.row_bytes, rows.size, rows.pieces) == (6, 48, ((0, 0),))
    assert [piece.offset for piece in rows.bit_places] == [0, 2, 4]
    assert Raster(16, 8, 3, "apart").size == 16
    assert Raster(16, 8, 3, "apart").bases == 3
    assert (spread.row_fault(4), rows.row_fault(2), rows.row_fault(1)) == (None, None, None)
    assert rows.row_fault(4) == (
        "the bytes of a row that lie together must be whole accesses of 4 bytes, or an even part of one, got 6"
    )
    assert Raster(12, 8, 3, "by row").row_fault(1) == "rows must be whole bytes, got 12 dots of each plane"
    assert Raster(12, 8, 2).row_fault(1) is None
    assert Raster(12, 8, 1).row_fault(1) == "rows must be whole bytes, got 12 dots of 1 bits a dot"


@pytest.mark.parametrize("planes", ["by row", "by pattern", "apart"])
def test_a_chip_with_planes_is_written_as_a_file_that_reads_back(planes):
    chip = tiles(4, planes)
    assert parse_chip(chip_text(chip)) == chip


# Sprites

SPRITE = {**SPRITES, "bits_per_dot": 4, "transparent": 0, "count": 2, "sizes": [[16, 4]]}


def with_sprites(planes: str | None, access: int = 1, **more: Any) -> Chip:
    """A chip with a bitmap of value 0 and sprites of 16 x 4 dots of 4 bits."""
    sprites = {**SPRITE, "fields": {**SPRITE["fields"]}, **({"planes": planes} if planes else {}), **more}
    memory = {"size": 4096, "bytes_per_access": access, "accesses_per_dot": 4}
    time = {"clients": {"a.bitmap": CELLS, "sprites": {"when": "line before"}}}
    ladder = [{"source": "sprites"}, {"source": "a"}]
    mode = {**BITMAP, "scroll": False}
    return small_chip(mode, sprites=sprites, memory=memory, time=time, palette=WIDE, ladder=ladder)


SPRITE_ROWS = {
    # planes, dots of a tile across: accesses of a row of 16 dots on memory of 1, 2 and 4 bytes an access
    (None, 16): (8, 4, 2),
    ("by row", 16): (8, 4, 2),
    ("by pattern", 16): (8, 4, 4),
    ("apart", 16): (8, 4, 4),
    (None, 8): (8, 4, 2),
    ("by row", 8): (8, 4, 2),
    ("by pattern", 8): (8, 8, 8),
    ("apart", 8): (8, 8, 8),
}


@pytest.mark.parametrize(("how", "each"), SPRITE_ROWS.items(), ids=str)
def test_a_row_of_a_sprite_costs_what_its_bytes_lie_together(how, each):
    """16 dots of 4 bits are 8 bytes; a plane of them is 2. Of tiles 8 dots wide a plane is a byte in each of two tiles."""
    planes, wide = how
    for access, cost in zip((1, 2, 4), each, strict=True):
        tiled = {"tiles": {"size": [8, 4]}} if wide == 8 else {}
        chip = with_sprites(planes, access, **tiled)
        assert sprite_costs(chip) == (cost,)
        twin = both(holding(chip, table=[sprite(8, 2), sprite(9, 60)]), last=16)
        assert [counts["sprites.pattern"] for counts in twin.slots[:7]] == [0, cost, cost, cost, cost, 0, 0]


ROW_OF_SPRITE = [[0b1100_0000, 1], [0b1010_0000, 1], [0b0000_0001, 0], [0, 0x80]]
"""Two bytes of each plane: values 3, 1, 2, 0, 0, 0, 0, 4, then 8, 0, 0, 0, 0, 0, 0, 3."""

SPRITE_DOTS = [3, 1, 2, 0, 0, 0, 0, 4, 8, 0, 0, 0, 0, 0, 0, 3]


@pytest.mark.parametrize(
    ("planes", "memory", "tiles", "addresses"),
    [
        ("by row", {512 + 32 + 8 + 2 * p: bytes(row) for p, row in enumerate(ROW_OF_SPRITE)}, {}, range(552, 560)),
        (
            "by pattern",
            {512 + 32 + 8 * p + 2: bytes(row) for p, row in enumerate(ROW_OF_SPRITE)},
            {},
            [546, 547, 554, 555, 562, 563, 570, 571],
        ),
        (
            "apart",
            {(512, 2048, 1024, 3072)[p] + 8 + 2: bytes(row) for p, row in enumerate(ROW_OF_SPRITE)},
            {},
            [522, 523, 2058, 2059, 1034, 1035, 3082, 3083],
        ),
        (
            "by pattern",
            {512 + 16 + 16 * t + 4 * p + 1: bytes([row[t]]) for p, row in enumerate(ROW_OF_SPRITE) for t in (0, 1)},
            {"tiles": {"size": [8, 4]}},
            [529, 533, 537, 541, 545, 549, 553, 557],
        ),
    ],
)
@pytest.mark.parametrize("flipped", [False, True])
def test_a_sprite_shows_its_planes_and_fetches_them_tile_by_tile(planes, memory, tiles, addresses, flipped):
    """Row 1 of pattern 1, on line 11. 64 bits a row: by row 8 bytes, 32 a pattern; by pattern a plane has 2 bytes a row and 8 in
    all; apart a pattern has 8 of each plane. Of tiles of 8 x 4 dots number 1 begins with the second tile, 16 bytes on, and a
    tile's four planes come before the next tile's.
    """
    fields = {**SPRITES["fields"], "flip_x": "21"}
    chip = with_sprites(planes, fields=fields, **tiles)
    names = [f"sprites__plane_{plane}" for plane in range(4)] if planes == "apart" else ["sprites__patterns"]
    bases = dict(zip(names, (512, 2048, 1024, 3072), strict=False))
    record = (int.from_bytes(sprite(8, 10, 1), "little") | flipped << 21).to_bytes(3, "little")
    twin = both(holding(chip, memory, [record, sprite(0, 60)], a__b__bitmap=1536, **bases), last=16)
    assert twin.indices[11][8:24] == (SPRITE_DOTS[::-1] if flipped else SPRITE_DOTS)
    assert [at for line, _, client, at, _ in twin.trace if (line, client) == (10, "sprites.pattern")] == list(addresses)


@pytest.mark.parametrize(("slots", "dropped"), [(8, False), (7, True)])
def test_a_sprite_of_which_a_plane_finds_no_slot_is_dropped(slots, dropped):
    """In blanking, 8 slots of one access a dot: 16 dots of 4 planes on memory of a byte are 8 accesses, and fit just."""
    sprites = {**SPRITE, "planes": "apart", "count": 1}
    memory = {"size": 4096, "bytes_per_access": 1, "accesses_per_dot": 1}
    time = {"clients": {"sprites": CELLS, "a.bitmap": CELLS}, "refresh": {"slots": 16 - slots}}
    mode = {**BITMAP, "scroll": False}
    chip = small_chip(mode, sprites=sprites, memory=memory, time=time)
    twin = both(holding(chip, table=[sprite(8, 10)], a__enable=0), damage=True)
    assert [line for line, _, reason in twin.drops if reason == "slots"] == ([10, 11, 12, 13] if dropped else [])


def test_planes_of_sprites_that_lie_apart_have_a_register_each_and_room_of_their_own():
    """16 x 4 dots are 8 bytes a plane, at multiples of a row's 2; 4 bits packed are 32 bytes, at multiples of 8."""
    apart, packed = (controls(with_sprites(planes)) for planes in ("apart", None))
    assert [apart[f"sprites.plane_{plane}"].step for plane in range(4)] == [2] * 4
    assert "sprites.patterns" not in apart
    assert packed["sprites.patterns"].step == 8
    found = {one.name: one.bytes for one in budget(with_sprites("apart")).memory.capacities if "sprite" in one.name}
    assert found == {f"sprite 16x4, plane {plane}": 8 for plane in range(4)}
    assert parse_chip(chip_text(with_sprites("apart"))) == with_sprites("apart")
