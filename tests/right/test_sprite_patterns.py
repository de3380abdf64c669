"""Where a sprite's dots lie in memory, and which accesses bring them: worked out on paper, on the chips of ``paper.py``.

Those have 64 dots of 80 and 64 lines. With one access a dot a line has slots 0 to 79, of which 0 to 15 are blank.
"""

from __future__ import annotations

from typing import Any

import pytest
from paper import BITMAP, SPRITES, both, holding, small_chip, sprite

from vdpsim.budgets.memory import memory_budget
from vdpsim.chip.line.clients import sprite_costs
from vdpsim.chip.load import chip_text, parse_chip
from vdpsim.chip.model import Chip

DEEP = {**SPRITES, "bits_per_dot": 4, "record_bytes": 3}
"""Sprites of 16 values: a digit of hexadecimal is a dot."""

SIZED = {**DEEP, "fields": {"x": "6:0", "y": "14:8", "pattern": "18:16", "size": "19"}}
"""The same with two sizes; size 1 is bit 19, the top of a record's third byte but for four."""


def chip_of(sprites: Any, width: int = 1, **tables: Any) -> Chip:
    """A chip of one bitmap and these sprites on memory of ``width`` bytes an access; sprites come first."""
    memory = {"size": 1024, "bytes_per_access": width, "accesses_per_dot": 1}
    ladder = [{"source": "sprites"}]
    clients = {"sprites": {"when": "blanking"}, "a.bitmap": {"when": "in time", "lead": 1}}
    more = {"ladder": ladder, "memory": memory, "time": {"clients": clients}, **tables}
    return small_chip(BITMAP, sprites=sprites, **more)


def fetched(twin: Any, line: int) -> list[tuple[int, int]]:
    """Slot and address of each access for patterns in the slots of ``line``."""
    return [(slot, at) for where, slot, who, at, _ in twin.trace if (where, who) == (line, "sprites.pattern")]


def digits(text: str) -> bytes:
    """Dots of four bits, a digit each."""
    return bytes.fromhex(text)


# Widths in steps of 4


@pytest.mark.parametrize(
    ("across", "width", "costs"),
    [
        (4, 1, 2),
        (4, 2, 1),
        (4, 8, 1),
        (12, 1, 6),
        (12, 2, 3),
        (20, 2, 5),
        (24, 1, 12),
        (24, 4, 3),
        (40, 4, 5),
        (64, 8, 4),
    ],
)
def test_a_row_costs_whole_accesses_or_one(across, width, costs):
    """Rows of 4 bits a dot: 2, 6, 10, 12, 20 and 32 bytes."""
    assert sprite_costs(chip_of({**DEEP, "sizes": [[across, 4]]}, width)) == (costs,)


def test_a_row_of_12_bytes_on_memory_of_4():
    """24 dots: pattern 1 begins at 512 + 48, its row 1 at 572; three accesses in the first blank slots, from the left. Flipped,
    the same bytes the other way round. The next line's row lies at 584.
    """
    chip = chip_of({**DEEP, "sizes": [[24, 4]], "fields": {**DEEP["fields"], "flip_x": "19"}, "transparent": 0}, 4)
    data = {572: digits("123456789abcdef123456789"), 584: digits("0" * 23 + "7")}
    row = [int(digit, 16) for digit in "123456789abcdef123456789"]
    for flip in (0, 8):
        record = sprite(5, 9, 1 | flip)
        twin = both(
            holding(chip, data, [record, sprite(0, 100), sprite(0, 100), sprite(0, 100)], sprites__patterns=512)
        )
        assert twin.indices[10][5:29] == (row[::-1] if flip else row)
        assert twin.indices[11][5 if flip else 28] == 7
        assert fetched(twin, 10) == [(0, 572), (1, 576), (2, 580)]
        assert fetched(twin, 11) == [(0, 584), (1, 588), (2, 592)]


@pytest.mark.parametrize("width", [1, 2, 4])
def test_a_row_that_memory_ends_in_goes_on_at_its_beginning(width):
    """Rows of 12 bytes; pattern 5 at 960 + 240 = 1200, modulo 1024 at 176. From 1020 on, pattern 0 of 1008: row 1 at 1020, of
    which four bytes are the last and eight the first.
    """
    chip = chip_of({**DEEP, "sizes": [[24, 4]]}, width)
    data = {1020: digits("12345678"), 0: digits("9abcdef123456789")}
    twin = both(holding(chip, data, [sprite(0, 0)] + [sprite(0, 100)] * 3, sprites__patterns=1008))
    assert twin.indices[1][:24] == [int(digit, 16) for digit in "123456789abcdef123456789"]
    assert [at for _, at in fetched(twin, 1)] == [*range(1020, 1024, width), *range(0, 8, width)]


def test_sprites_of_four_dots():
    """Rows of 2 bytes, an access of 2: the narrowest there are."""
    chip = chip_of({**DEEP, "sizes": [[4, 2]]}, 2)
    twin = both(holding(chip, {4: digits("1234"), 6: digits("5678")}, [sprite(62, 0, 1)] + [sprite(0, 100)] * 3))
    assert twin.indices[0][62:] == [1, 2]
    assert twin.indices[1][62:] == [5, 6]


# A step for each size


def test_each_size_counts_in_its_own_steps():
    """8 x 4 in steps of 16 bytes, 16 x 4 in steps of 64: number 2 of one is at 32, of the other at 128."""
    chip = chip_of({**SIZED, "sizes": [[8, 4], [16, 4]], "pattern_bytes": [16, 64]})
    table = [sprite(0, 0, 2), sprite(16, 0, 2 | 8)] + [sprite(0, 100)] * 2
    twin = both(holding(chip, {32: digits("12345678"), 128: digits("1111111122222222")}, table))
    assert twin.indices[0][:32] == [*range(1, 9), *[0] * 8, *[1] * 8, *[2] * 8]
    assert [at for _, at in fetched(twin, 0)] == [*range(32, 36), *range(128, 136)]


def test_a_step_for_each_size_comes_back_from_a_file():
    """As text and as JSON, without a warning."""
    chip = chip_of({**SIZED, "sizes": [[8, 4], [16, 8]], "pattern_bytes": [16, 64]})
    assert parse_chip(chip_text(chip)) == chip
    assert Chip.model_validate_json(chip.model_dump_json(exclude_defaults=True)) == chip


def test_room_for_patterns_of_each_size_by_its_own_steps():
    """Numbers 0 to 7. 8 x 4 dots are 16 bytes and 16 apart: all eight. 16 x 4 are 32 bytes and 64 apart: from 0 on the eighth
    ends at byte 480, so that memory of 512 holds eight, of 256 four.
    """
    sprites = {**SIZED, "sizes": [[8, 4], [16, 4]], "pattern_bytes": [16, 64]}
    for size, room in ((512, 8), (480 - 480 % 256, 4)):
        chip = chip_of(sprites, memory={"size": size, "bytes_per_access": 1, "accesses_per_dot": 1})
        found = {one.name: (one.bytes, one.numbers, one.room) for one in memory_budget(chip).capacities}
        assert found["sprite 8x4"] == (16, 8, 8)
        assert found["sprite 16x4"] == (32, 8, room)


# Bits of the number that stand elsewhere in the record


BANKED = {**DEEP, "sizes": [[8, 4]], "fields": {"x": "6:0", "y": "14:8", "pattern": "18:16", "pattern_bank": "20:19"}}


@pytest.mark.parametrize("fields", [{"pattern_bank": "20:19"}, {"pattern": "20:19, 18:16"}])
def test_a_bank_of_patterns_says_what_one_field_in_parts_says(fields):
    """Bank 2, pattern 5: number 2 x 8 + 5 = 21, at 21 x 16 = 336."""
    chip = chip_of({**BANKED, "fields": {**DEEP["fields"], "priority": None, "group": None, **fields}})
    record = (2 << 19 | 5 << 16).to_bytes(3, "little")
    twin = both(holding(chip, {336: digits("12345678")}, [record] + [sprite(0, 100)] * 3))
    assert twin.indices[0][:8] == [*range(1, 9)]
    assert fetched(twin, 0) == [(slot, 336 + slot) for slot in range(4)]


@pytest.mark.parametrize(("size", "room"), [(512, 32), (256, 16)])
def test_a_bank_counts_where_there_is_room_for_patterns(size, room):
    """Numbers 0 to 31, 16 bytes each."""
    chip = chip_of(BANKED, memory={"size": size, "bytes_per_access": 1, "accesses_per_dot": 1})
    (found,) = [one for one in memory_budget(chip).capacities if one.name == "sprite 8x4"]
    assert (found.numbers, found.room) == (32, room)
