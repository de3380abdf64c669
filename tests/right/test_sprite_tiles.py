"""Sprites made of tiles: which tile shows where, in which accesses it comes, how many there is room for; worked out on paper.

The chips are those of ``paper.py`` with one access a dot: a line has slots 0 to 79, of which 0 to 15 are blank.
"""

from __future__ import annotations

from itertools import product
from random import Random
from typing import Any

import numpy as np
import pytest
from paper import BITMAP, SPRITES, both, holding, small_chip, sprite
from soaked import every

from vdpsim.budgets.budget import budget
from vdpsim.budgets.memory import memory_budget
from vdpsim.budgets.reach import most_accesses, sprite_accesses
from vdpsim.chip.load import chip_text, parse_chip
from vdpsim.engine import Plan, draw
from vdpsim.scene.contents.dots import untiled
from vdpsim.scene.contents.formats import sprite_format
from vdpsim.scene.contents.runs import PatternRun, PatternSet, from_memory, in_memory
from vdpsim.state.writes import Transfer

FIELDS = {"x": "6:0", "y": "14:8", "pattern": "18:16", "flip_x": "19", "flip_y": "20"}
FOUR = {**SPRITES, "bits_per_dot": 4, "fields": FIELDS, "sizes": [[16, 16]], "transparent": 0, "count": 1}
"""One sprite of 16 x 16 dots of 4 bits, made of four tiles of 8 x 8: rows of 4 bytes, 32 bytes a tile."""

BY_ROWS = {"size": [8, 8], "stride": 3}
BY_COLUMNS = {"size": [8, 8], "order": "columns", "stride": 3}
FLIP_X, FLIP_Y = 8, 16

TILES = b"".join(bytes([number * 0x11]) * 32 for number in range(8))
"""Tiles 0 to 7, each full of its own number."""


def chip_of(tiles: Any, width: int = 1, refresh: int = 0, **more: Any) -> Any:
    """A chip whose sprites are made of ``tiles``, with memory of ``width`` bytes an access; slot 15 is the bitmap's."""
    clients = {"a.bitmap": {"when": "in time", "lead": 1}, "sprites": {"when": "blanking"}}
    time = {"clients": clients, **({"refresh": {"slots": refresh}} if refresh else {})}
    memory = {"size": 1024, "bytes_per_access": width, "accesses_per_dot": 1}
    sprites = {**FOUR, "tiles": tiles, **more}
    return small_chip(BITMAP, sprites=sprites, ladder=[{"source": "sprites"}], memory=memory, time=time)


def fetched(twin: Any, line: int) -> list[tuple[int, int]]:
    """Slot and address of each access for patterns in the slots of ``line``."""
    return [(slot, at) for where, slot, who, at, _ in twin.trace if (where, who) == (line, "sprites.pattern")]


# Which tile shows where


@pytest.mark.parametrize(
    ("tiles", "flips", "above", "below"),
    [
        ({"size": [8, 8]}, 0, (1, 2), (3, 4)),
        ({"size": [8, 8], "order": "columns"}, 0, (1, 3), (2, 4)),
        (BY_ROWS, 0, (1, 2), (4, 5)),
        (BY_COLUMNS, 0, (1, 4), (2, 5)),
        (BY_ROWS, FLIP_X, (2, 1), (5, 4)),
        (BY_ROWS, FLIP_Y, (4, 5), (1, 2)),
        (BY_COLUMNS, FLIP_X | FLIP_Y, (5, 2), (4, 1)),
        ({"size": [8, 8], "order": "rows", "stride": 2}, 0, (1, 2), (3, 4)),
        ({"size": [16, 16]}, 0, (1, 1), (1, 1)),
    ],
)
def test_four_tiles_from_number_1_on(tiles, flips, above, below):
    """By rows with a stride of 3: 1, 2 and below them 4, 5. By columns 1 and below it 2, then at the right 4 and 5. A tile of
    16 x 16 is the whole sprite, 128 bytes from 128 on: numbers 4 to 7 of the little ones, which it shows 2 lines each.
    """
    chip = chip_of(tiles)
    large = tiles["size"] == [16, 16]
    data = b"\0" * 128 + b"\x11" * 128 if large else TILES
    twin = both(holding(chip, {0: data}, [sprite(20, 7, 1 | flips)]), last=24)
    rows = [row[20:36] for row in twin.indices]
    assert rows[7:15] == [[above[0]] * 8 + [above[1]] * 8] * 8
    assert rows[15:23] == [[below[0]] * 8 + [below[1]] * 8] * 8
    assert rows[6] == rows[23] == [0] * 16


# Which accesses


@pytest.mark.parametrize("flip", [0, FLIP_X])
@pytest.mark.parametrize(
    ("tiles", "above", "below"), [(BY_ROWS, (32, 64), (128, 160)), (BY_COLUMNS, (32, 128), (64, 160))]
)
@pytest.mark.parametrize(("width", "each"), [(1, 4), (2, 2), (4, 1), (8, 1)])
def test_the_row_of_each_tile_is_fetched_by_itself(tiles, above, below, width, each, flip):
    """Rows of 4 bytes; on line 5 of the sprite row 5 of the upper tiles, at 20 of each, on line 9 row 1 of the lower ones, at 4.
    An access of 8 bytes brings one such row too, from its address rounded down on. Flipped, the order is the same.
    """
    twin = both(holding(chip_of(tiles, width), {0: TILES}, [sprite(0, 0, 1 | flip)]), last=10)
    for line, begins, row in ((5, above, 20), (9, below, 4)):
        addresses = [(begin + row) // width * width + step * width for begin in begins for step in range(each)]
        assert fetched(twin, line) == list(enumerate(addresses))
    assert twin.counts[5]["sprites.pattern"] == 2 * each


@pytest.mark.parametrize(("refresh", "made"), [(7, 8), (8, 7), (11, 4)])
def test_a_sprite_of_which_one_tile_finds_no_slot_is_dropped(refresh, made):
    """Eight accesses a line in 15 blank slots, of which refresh has the first."""
    twin = both(holding(chip_of(BY_ROWS, refresh=refresh), {0: TILES}, [sprite(0, 0, 1)]), last=4)
    assert len(fetched(twin, 3)) == made
    assert [drop for drop in twin.drops if drop[0] == 3] == ([] if made == 8 else [(3, 0, "slots")])
    assert twin.indices[3][:16] == ([1] * 8 + [2] * 8 if made == 8 else [0] * 16)


@pytest.mark.parametrize(("tiles", "shown"), [({"size": [8, 4]}, 16), (None, 8)])
def test_the_row_of_each_tile_is_a_burst_of_its_own(tiles, shown):
    """Two tiles of one byte a row at 8 and 12, fetched in slots 0 and 2; the CPU's byte for address 12 lands in slot 1. The
    second tile is read after that. Without tiles the row is bytes 8 and 9, read as one in slot 0; the byte for 9 comes too late.
    """
    clients = {"a.bitmap": {"when": "in time", "lead": 1}, "sprites": {"when": "blanking", "every": 2, "at": [0]}}
    sprites = {**SPRITES, "count": 1, "sizes": [[16, 4]], "pattern_bytes": 8, **({"tiles": tiles} if tiles else {})}
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
    time = {"clients": clients, "cpu": {"active": "none"}}
    chip = small_chip(BITMAP, sprites=sprites, memory=memory, time=time)
    state = holding(chip, {8: b"\xff"}, [sprite(0, 30, 1)], a__enable=0)
    twin = both(state, [Transfer(29, 12 if tiles else 9, b"\xff", 64)], last=31)
    assert [(slot, at) for line, slot, who, at, _ in twin.trace if (line, who) == (30, "cpu")] == [
        (1, 12 if tiles else 9)
    ]
    assert [dot for dot in range(64) if twin.indices[30][dot]] == list(range(shown))


# How many there is room for


@pytest.mark.parametrize(
    ("sizes", "tiles", "size", "numbers", "room"),
    [
        ([[16, 16]], {"size": [8, 8], "stride": 4}, 512, 8, 4),  # rows of 4 tiles: two side by side in every 8 tiles
        (
            [[16, 16]],
            {"size": [8, 8], "stride": 5},
            512,
            7,
            2,
        ),  # ten tiles for two; 16 have no room for the two after that
        ([[16, 16]], {"size": [8, 8], "stride": 4}, 256, 8, 2),
        ([[24, 8]], {"size": [8, 8], "stride": 16}, 512, 11, 5),  # in one piece: one behind the other
        ([[8, 16]], {"size": [8, 8], "stride": 4}, 512, 16, 8),  # four side by side in every 8
        ([[16, 8]], {"size": [8, 8], "order": "columns", "stride": 3}, 512, 17, 7),  # 3 in 6 tiles; 2 x 6 + 3 + 1 = 16
    ],
)
def test_patterns_with_a_stride_lie_side_by_side(sizes, tiles, size, numbers, room):
    """Numbers 0 to 31 of tiles of 32 bytes; a memory of 512 bytes has 16 of them."""
    fields = {**{name: FIELDS[name] for name in ("x", "y")}, "pattern": "20:16"}
    memory = {"size": size, "bytes_per_access": 1}
    sprites = {**FOUR, "sizes": sizes, "tiles": tiles, "fields": fields}
    chip = small_chip({**BITMAP, "height": 4}, sprites=sprites, memory=memory)
    (found,) = [one for one in memory_budget(chip).capacities if one.name.startswith("sprite ")]
    assert (found.bytes, found.numbers, found.room) == (sizes[0][0] * sizes[0][1] // 2, numbers, room)


def laid_out(chip: Any, free: Any, base: int, top: int) -> int:
    """How many patterns a scene's runs, one in each free stretch, put there from ``base``: number by number."""
    one = chip.sprites.patterns[0]
    count = 0
    for low, high in free:
        first = next((number for number in range(top + 1) if base + number * one.step >= low), None)
        place = 0
        while first is not None and (number := first + one.nth(place)) <= top:
            if base + number * one.step + one.extent > high:
                break
            place += 1
        count += place
    return count


@pytest.mark.parametrize("seed", range(40))
def test_room_beside_a_scene_is_that_of_the_best_base(seed):
    """Against every base of the register, tried one by one."""
    random = Random(seed)
    size = [random.choice((8, 16, 24)), random.choice((8, 16, 24))]
    tiles = {"size": [8, 8], "order": random.choice(("rows", "columns")), "stride": random.randint(3, 7)}
    fields = {"x": "6:0", "y": "14:8", "pattern": random.choice(("20:16", "21:16", "18:16"))}
    chip = small_chip(
        {**BITMAP, "height": 4},
        sprites={**FOUR, "sizes": [size], "tiles": tiles, "fields": fields},
        memory={"size": 2048, "bytes_per_access": 1},
    )
    cuts = sorted(random.sample(range(0, 2048, 4), 4))
    rows = [(cuts[0], cuts[1], "map"), (cuts[2], cuts[3], "bitmap")]
    free = [(0, cuts[0]), (cuts[1], cuts[2]), (cuts[3], 2048)]
    (found,) = [one for one in memory_budget(chip, rows).capacities if one.name.startswith("sprite ")]
    top = chip.sprites.fields.top_number
    align = chip.sprites.alignment
    assert found.left == max(laid_out(chip, free, base, top) for base in range(0, 2048, align))


# Images and files


@pytest.mark.parametrize("seed", range(20))
def test_images_are_laid_out_and_read_back_dot_for_dot(seed):
    """Random sizes, tiles, orders and strides; each tile of what was laid out is looked up by the rule of the model's text."""
    random = Random(seed)
    wide, high = random.choice((4, 8, 16)), random.choice((1, 4, 8))
    across, down = random.randint(1, 64 // wide // 2), random.randint(1, 4)
    rows = random.choice((True, False))
    least = across if rows else down
    stride = random.choice((None, least, least + random.randint(1, 5)))
    tiles = {"size": [wide, high], "order": "rows" if rows else "columns", **({"stride": stride} if stride else {})}
    chip = small_chip(BITMAP, sprites={**FOUR, "sizes": [[wide * across, high * down]], "tiles": tiles})
    look = sprite_format(chip.sprites, (wide * across, high * down))
    count, shape = random.randint(1, 7), look.shape
    dots = np.random.default_rng(seed).integers(0, 16, (count, high * down, wide * across)).astype(np.uint8)
    memory = in_memory(shape, look.packed(dots))
    each, apart = wide * high // 2, stride or least
    for image in range(count):
        beside = apart // least if apart > least and (down if rows else across) > 1 else 1
        number = image // beside * (apart * (down if rows else across)) + image % beside * least
        number = number if beside > 1 or apart > least else image * across * down
        if (down if rows else across) == 1:
            number = image * across * down
        for i in range(across):
            for j in range(down):
                tile = number + (j * apart + i if rows else i * apart + j)
                part = dots[image, j * high : (j + 1) * high, i * wide : (i + 1) * wide]
                assert memory[tile * each : (tile + 1) * each] == bytes.fromhex(
                    "".join(f"{dot:x}" for dot in part.flat)
                )
    back = from_memory(shape, np.frombuffer(memory, np.uint8))
    assert np.array_equal(back, look.packed(dots))
    parts = np.stack([back >> 4, back & 15], axis=2).reshape(-1, high, wide)
    assert np.array_equal(untiled(parts, shape), dots)


def test_runs_side_by_side_share_no_byte():
    """A stride of 4: numbers 0 and 2 lie side by side, so that runs of one each from 0 and from 2 do not meet; from 1 they do."""
    shape = chip_of({"size": [8, 8], "stride": 4}).sprites.patterns[0]
    image = np.zeros((1, 128), np.uint8)
    one = PatternSet("sprites", ("sprites.patterns",), 32, 7)
    one.add(PatternRun(0, shape.units, image, ("patterns", 0), "a", shape))
    with pytest.raises(Exception, match=r"numbers 1 to 6 overlap a \(0 to 5\)"):
        one.add(PatternRun(1, shape.units, image, ("patterns", 1), "b", shape))
    one.add(PatternRun(2, shape.units, image, ("patterns", 1), "b", shape))
    assert one.extent() == (0, 8 * 32)
    assert one.next(shape) == 8


def test_a_chip_of_tiles_is_written_as_a_file_that_reads_back():
    for tiles in ({"size": [8, 8]}, BY_ROWS, BY_COLUMNS):
        chip = chip_of(tiles, pattern_bytes=32)
        assert parse_chip(chip_text(chip)) == chip


# Budgets


@pytest.mark.parametrize(("refresh", "verdict"), [(7, "fits"), (8, "does not fit")])
def test_a_budget_counts_the_rows_of_all_tiles(refresh, verdict):
    """One sprite is promised, of eight accesses a line in 15 blank slots."""
    found = budget(chip_of(BY_COLUMNS, refresh=refresh, per_line=1))
    assert found.verdict == verdict
    assert (found.sprites.asked, found.sprites.found) == (8, 15 - refresh)


def test_a_witness_shows_sprites_of_sizes_whose_tiles_do_not_cover_each_other():
    """Sizes of 32 x 8 and 8 x 32 with a stride of 8: tiles 0 to 3, and 0, 8, 16, 24. Two are promised, of 16 accesses each."""
    fields = {**FIELDS, "pattern": "22:16", "flip_x": None, "flip_y": None, "size": "23"}
    sprites = {"sizes": [[32, 8], [8, 32]], "fields": fields, "count": 2, "per_line": 2}
    found = budget(chip_of({"size": [8, 8], "stride": 8}, refresh=4, **sprites))
    assert found.verdict == "does not fit"
    assert found.sprites.asked == 32
    assert found.witness is not None


@pytest.mark.parametrize("seed", every(6, range(12)))
def test_the_most_accesses_of_a_line_are_reached_and_never_exceeded(seed):
    """Every choice of up to four sprites of up to four sizes made of tiles is drawn: the dearest costs what the budget says."""
    random = Random(seed)
    width = random.choice((1, 2, 4))
    order = random.choice(("rows", "columns"))
    wide = random.choice((4, 8, 12, 20)) if width == 1 else 8
    sizes = [[wide * random.randint(1, 64 // wide // 2), 8] for _ in range(4)]
    tiles = {"size": [wide, random.choice((4, 8))], "order": order}
    fields = {"x": "6:0", "y": "14:8", "pattern": "18:16", "size": "20:19"}
    limits = {
        name: top for name, top in (("per_line", 3), ("dots_per_line", random.randint(8, 120))) if random.random() < 0.7
    }
    sprites = {**FOUR, "count": 4, "tiles": tiles, "sizes": sizes, "fields": fields, **limits}
    memory = {"size": 1024, "bytes_per_access": width}
    chip = small_chip(BITMAP, sprites=sprites, ladder=[{"source": "sprites"}], memory=memory)
    plan, away = Plan(chip), sprite(0, 100)
    made = {0}
    for number in range(1, 5):
        for chosen in product(range(4), repeat=number):
            table = [sprite(0, 0, size << 3) for size in chosen] + [away] * (4 - number)
            made.add(int(draw(plan, holding(chip, {}, table), [], 1).log.counts[0, -1]))
    assert max(made) == most_accesses(chip)[0]
    assert made <= set(sprite_accesses(chip))
