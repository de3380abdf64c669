"""Is room found for the parts of a scene wherever there is some, and is what is called impossible so?

The judges: planted layouts, which fill memory to the last byte, and a naive trial of every address for few parts.
"""

from __future__ import annotations

from functools import partial
from itertools import pairwise, product
from random import Random
from typing import get_args

import pytest
from scenery import CHIP, load, refusal
from soaked import every

from vdpsim.scene.placing import layout, told
from vdpsim.scene.placing import search as searching
from vdpsim.scene.placing.arrange import Arranged, Why, arrange, in_turn
from vdpsim.scene.placing.parts import Part, gaps, lowest, union, without


def planted(random: Random, count: int, size: int, *, fixed: bool = False) -> tuple[list[Part], list[tuple[int, int]]]:
    """Memory cut into parts at addresses that suit their steps, shuffled; some of them fixed: the parts, what is free for them.

    Some registers hold no address beyond the part's own.
    """
    cuts = {at // (step := 1 << random.randrange(12)) * step for at in random.sample(range(1, size), count - 1)}
    edges = [0, *sorted(cuts - {0}), size]
    parts, taken = [], []
    for start, end in pairwise(edges):
        steps = [1 << bits for bits in range(12) if start % (1 << bits) == 0]
        step = random.choice([steps[-1], random.choice(steps)])
        low = random.choice([0, 0, step, 3 * step]) if start >= 3 * step else 0
        top = random.choice([(size - 1) // step * step, start - low])
        if fixed and random.random() < 0.25:
            taken.append((start, end))
        else:
            parts.append(Part(f"part {start}", ((low, low + end - start),), step, top))
    random.shuffle(parts)
    return parts, gaps(taken, size)


def is_layout(parts: list[Part], bases: tuple[int | None, ...], free: list[tuple[int, int]]) -> bool:
    """Whether each part lies at an address that its register holds, in free bytes, and no two share one."""
    left = {byte for start, end in free for byte in range(start, end)}
    for part, base in zip(parts, bases, strict=True):
        if base is None or base % part.step or not 0 <= base <= part.top:
            return False
        mine = {byte for low, high in part.spans for byte in range(base + low, base + high)}
        if not mine <= left:
            return False
        left -= mine
    return True


def naive(parts: list[Part], free: list[tuple[int, int]]) -> bool:
    """Whether any addresses at all are a layout: all are tried."""
    choices = [range(0, part.top + 1, part.step) for part in parts]
    return any(is_layout(parts, bases, free) for bases in product(*choices))


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("fixed", [False, True])
def test_a_planted_layout_that_fills_memory_to_the_last_byte_is_found(seed, fixed):
    random = Random(seed)
    parts, free = planted(random, random.randint(2, 14), 4096, fixed=fixed)
    found = arrange(parts, free)
    assert found.why == "placed"
    assert is_layout(parts, found.bases, free)


def small(random: Random) -> tuple[list[Part], list[tuple[int, int]]]:
    """Up to four parts for up to 24 bytes, some with a hole, around a fixed stretch or two."""
    size = random.randint(8, 24)
    taken = [(at, at + random.randint(1, 3)) for at in random.sample(range(size - 3), random.randint(0, 2))]
    parts = []
    for number in range(random.randint(1, 4)):
        step = random.choice([1, 1, 2, 4, 8])
        low = random.choice([0, 0, 0, step])
        spans = [(low, low + random.randint(1, size // 3))]
        if random.random() < 0.15:
            spans.append((spans[0][1] + random.randint(0, 3), spans[0][1] + random.randint(3, 5)))
        parts.append(Part(f"part {number}", union(spans), step, random.choice([size - 1, size // 2]) // step * step))
    return parts, gaps(taken, size)


@pytest.mark.parametrize("seed", range(300))
def test_few_parts_have_room_just_where_a_trial_of_every_address_finds_some(seed):
    parts, free = small(Random(seed))
    found, there_is = arrange(parts, free), naive(parts, free)
    holes = any(len(part.spans) > 1 for part in parts)
    assert (found.why == "placed") <= is_layout(parts, found.bases, free)
    assert found.why in {"placed", "not found"} or not there_is  # what is proved is so
    assert holes or (found.why == "placed") == there_is
    assert holes or found.why != "not found"


def test_the_small_cases_meet_every_outcome():
    met = {arrange(*small(Random(seed))).why for seed in range(300)}
    assert met == set(get_args(Why))


@pytest.mark.parametrize("seed", range(100))
def test_what_has_room_in_the_order_given_lies_where_it_did(seed):
    random = Random(seed)
    parts, _ = planted(random, 6, 512)
    turn = in_turn(parts, range(len(parts)), [(0, 2048)])
    assert None in turn or arrange(parts, [(0, 2048)]) == Arranged(turn, "placed")


def parts_of(*told_as: tuple[int, int, int]) -> list[Part]:
    """Parts of so many bytes, at multiples of a step, up to a top."""
    return [Part(f"part {n}", ((0, size),), step, top) for n, (size, step, top) in enumerate(told_as)]


def test_26624_of_32768_bytes_that_the_order_given_has_no_room_for():
    parts = parts_of((2048, 2048, 0x7800), (16384, 16384, 0x4000), (8192, 16384, 0x4000))
    assert in_turn(parts, range(3), [(0, 32768)]) == (0, 0x4000, None)
    assert arrange(parts, [(0, 32768)]) == Arranged((0x6000, 0, 0x4000), "placed")


def test_one_byte_more_than_there_is_and_one_address_less():
    # 5 bytes at a multiple of 8 and 3 anywhere fill 8 bytes; 3 at a multiple of 4 cannot stand behind the 5
    assert arrange(parts_of((5, 8, 0), (3, 1, 7)), [(0, 8)]).why == "placed"
    assert arrange(parts_of((5, 8, 0), (4, 1, 7)), [(0, 8)]) == Arranged((0, None), "too few bytes")
    assert arrange(parts_of((5, 8, 0), (3, 4, 4)), [(0, 8)]) == Arranged((0, None), "all tried")
    assert arrange(parts_of((5, 8, 0), (3, 4, 4)), [(0, 9)]) == Arranged((0, None), "all tried")
    assert arrange(parts_of((5, 8, 0), (3, 4, 8)), [(0, 11)]) == Arranged((0, 8), "placed")
    assert arrange(parts_of((5, 8, 0), (3, 4, 8)), [(1, 99)]).why == "no place alone"


@pytest.mark.parametrize(("count", "most"), every(3, [(100, 6_000), (100, None), (160, None)]))
def test_a_hundred_parts_take_bounded_work(count, most, monkeypatch):
    """In as many looks as are allowed, or by itself."""
    looks = 0

    def counted(part, free):
        nonlocal looks
        looks += 1
        return lowest(part, free)

    monkeypatch.setattr(searching, "lowest", counted)
    random = Random(count)
    parts, free = planted(random, count, 32768)
    found = arrange(parts, free, most)
    assert found.why in {"placed", "not found"}
    assert found.why == "not found" or is_layout(parts, found.bases, free)
    # a turn of the search may pass the bound by one look at each kind of part, once for each way to hope
    assert 0 < looks <= (most or searching.MOST_LOOKS) + len(searching.HOPES) * count


def test_a_bound_that_is_too_small_is_told_as_not_found_and_the_largest_needed_is_enough():
    parts, free = planted(Random(3), 12, 4096)
    assert None in in_turn(parts, range(len(parts)), free)
    outcomes = [arrange(parts, free, looks).why for looks in (3, searching.MOST_LOOKS)]
    assert outcomes == ["not found", "placed"]


def test_parts_with_holes_take_what_lies_in_another_and_their_own_bytes_alone():
    assert union([(4, 6), (0, 2), (2, 3), (5, 9), (7, 7)]) == ((0, 3), (4, 9))
    holed = Part("holed", ((0, 2), (6, 8)), 1, 9)
    assert (holed.size, holed.low, holed.high) == (4, 0, 8)
    free = without([(0, 10)], holed, 1)
    assert free == [(0, 1), (3, 7), (9, 10)]
    assert lowest(Part("four", ((0, 4),), 1, 9), free) == 3
    assert lowest(Part("five", ((0, 5),), 1, 9), free) is None
    assert lowest(holed, [(0, 1), (3, 7), (9, 10)]) is None
    assert lowest(holed, [(0, 1), (3, 7), (9, 11)]) == 3


# In a scene

PATTERNS = '[[patterns]]\nfor = "near.tiles"\nraw = "art.bin"\n'
MAP = '[[maps]]\nfor = "near.tiles"\nfill = 0\n'


def listed(patterns: int, cells: int) -> str:
    """Registers of so many bits for the patterns' and the cells' address, in steps of 128 bytes."""
    known = {"near.tiles.patterns": patterns, "near.tiles.map": cells}
    lines = [f'"{name}" = {{ bits = {bits}, effect = "at once", step = 128 }}' for name, bits in known.items()]
    return '\n[registers]\nothers = "wired"\n' + "\n".join(lines)


REGISTERS = listed(1, 7).removesuffix(", step = 128 }") + " }"


def chip(size: int, registers: str = "") -> str:
    return CHIP.replace("size = 8192", f"size = {size}") + registers


def test_a_scene_has_room_where_the_order_given_has_none(tmp_path):
    # 64 bytes of map at any even address, 128 and more of patterns at 0 or 128, 256 bytes of memory
    scene = load(tmp_path, PATTERNS + MAP, chip(256, REGISTERS), art_bin=bytes(160))
    assert [(row.start, row.end, row.owner) for row in scene.layout] == [
        (0, 160, "near.tiles.patterns"),
        (160, 224, "near.tiles.map"),
    ]
    assert scene.state().value("near.tiles.map") == 160


def test_what_is_impossible_says_why_and_how_much_is_short(tmp_path):
    told_ = refusal(tmp_path, PATTERNS + MAP, chip(256, REGISTERS), art_bin=bytes(224))
    assert (
        "near.tiles.patterns finds no room for 224 bytes at a multiple of 0x80 up to 0x80; free: 0x40 to 0xFF, "
        "96 bytes too few"
    ) in told_
    assert (
        "near.tiles.patterns finds no room: impossible: the parts that choose their own address need 288 bytes and 256 are "
        "free, 32 too few"
    ) in told_
    alone = PATTERNS + MAP + '[registers]\n"near.tiles.map" = 32\n'
    assert (
        "near.tiles.patterns finds no room: impossible: even without the parts that can lie elsewhere "
        "there is no room for near.tiles.patterns; there is room if registers leave out near.tiles.map: "
        "near.tiles.map at 0xA0, near.tiles.patterns at 0x00"
    ) in refusal(tmp_path, alone, chip(256, REGISTERS), art_bin=bytes(160))


def test_all_orders_tried_and_not_found_have_words_of_their_own(tmp_path, monkeypatch):
    two = listed(1, 1)
    words = refusal(tmp_path, PATTERNS + MAP, chip(256, two), art_bin=bytes(160))
    assert (
        "impossible: no order of the 2 parts that choose their own address has room for all; every one was tried"
        in words
    )
    assert "given by hand" not in words
    monkeypatch.setattr(layout, "arrange", partial(arrange, looks=0))
    words = refusal(tmp_path, PATTERNS + MAP, chip(256, two), art_bin=bytes(160))
    assert (
        "not found: no order of the 2 parts that choose their own address has room for all of those that were tried; "
        "there may be one; given by hand would do: 0x00 if near.tiles.map moved"
    ) in words


def test_the_addresses_that_are_offered_are_free_of_what_is_fixed():
    part = Part("part", ((0, 4),), 2, 14)
    others = {"one": [(0, 7)], "two": [(7, 9)]}
    assert told.by_hand(part, [(0, 12)], others, 16) == ("given by hand would do: 0x08 if two moved; 0x00 if one moved")
    assert told.by_hand(part, [(0, 3), (9, 12)], others, 16) == ""
