"""What fits into memory: only what the chip's registers can tell it of, whole, none over another; by hand and by slow search.

The chips are those of ``paper.py``, 1 KiB where nothing else is said. TEXT's map is 10 x 4 = 40 bytes, its glyphs are 8 bytes
and 16 in number; the map of TILES is 16 x 8 = 128 bytes, its tiles are 8 bytes and 8 in number.
"""

from __future__ import annotations

from collections.abc import Iterable
from random import Random
from typing import Any

import pytest
from hypothesis import given, note, settings
from paper import BITMAP, SPRITES, TEXT, TILES, small_chip
from strategies import randoms

from vdpsim.budgets.budget import budget
from vdpsim.budgets.memory import Capacity, memory_budget
from vdpsim.budgets.places import Numbered, disjoint, distinct
from vdpsim.budgets.told.plain import plain
from vdpsim.chip.model import Chip
from vdpsim.chip.tables.registers import RegistersTable

Rows = list[tuple[int, int, str]]

EXAMPLES = max(1, settings.default.max_examples // 3)


def a_register(bits: int, step: int | None = None) -> dict[str, Any]:
    """A register of so many bits, which counts in steps."""
    return {"bits": bits, "effect": "at once", **({"step": step} if step else {})}


def chip_with(
    *modes: Any, size: int = 1024, wired: dict[str, int] | None = None, sprites: Any = None, **held: Any
) -> Chip:
    """A chip with the registers ``held``, (bits, step), names with __ for a dot; all else is wired, to ``wired`` or to 0."""
    listed = {name.replace("__", "."): a_register(*each) for name, each in held.items()}
    memory = {"size": size, "bytes_per_access": 1}
    return small_chip(*modes, sprites=sprites, memory=memory, registers=listed, constants=wired or {})


def counted(chip: Chip, name: str, rows: Rows | None = None) -> tuple[int, int, int | None]:
    """Numbers or addresses, room, and what is left."""
    (found,) = [one for one in memory_budget(chip, rows or ()).capacities if one.name == name]
    return found.numbers, found.room, found.left


def taken(*free: tuple[int, int], size: int = 1024) -> Rows:
    """A scene's rows that leave just these stretches free."""
    rows, at = [], 0
    for low, high in [*free, (size, size)]:
        rows += [(at, low, "scene")] if low > at else []
        at = high
    return rows


# Maps, bitmaps, sprite tables


@pytest.mark.parametrize(("step", "room"), [(39, 8), (40, 16), (41, 16), (32, 8), (20, 8), (19, 6)])
def test_a_register_of_four_bits_has_sixteen_addresses(step, room):
    """Maps of 40 bytes at 0, step, ... 15 x step. Steps of 39 are one byte too few: every second address, 8 of 16; so with 32
    and 20, but with 19 every third: 0, 57, ... 285, that is 6.
    """
    assert counted(chip_with(TEXT, a__x__map=(4, step)), "a.x map") == (16, room, None)


def test_the_last_address_that_serves():
    """256 bytes, addresses in eights: 0, 40, ... 200 and no seventh, which would end at 280. In bitmaps of 56 lines of 4 bytes,
    224 bytes, one: also at the last address that can be told, 32, where 3 bits of eights go to 56.
    """
    assert counted(chip_with(TEXT, size=256, a__x__map=(5, 8)), "a.x map") == (32, 6, None)
    tall = {**BITMAP, "width": 16, "height": 56}
    assert counted(chip_with(tall, size=256, a__b__bitmap=(3, 8)), "a.b bitmap") == (8, 1, None)


@pytest.mark.parametrize(
    ("free", "left"),
    [
        ((216, 256), 1),
        ((217, 256), 0),
        ((216, 255), 0),
        ((209, 256), 1),
        ((176, 256), 2),
        ((177, 256), 1),
        ((177, 264), 2),
        ((177, 263), 1),
    ],
)
def test_what_is_left_begins_at_an_address_that_can_be_told(free, left):
    """Addresses in eights. From 217 on the next is 224, and 224 + 40 = 264; 176 and 216 are two."""
    assert counted(chip_with(TEXT, a__x__map=(7, 8)), "a.x map", taken(free))[2] == left


def test_an_address_beyond_the_register_is_not_there():
    """3 bits of eights: 0 to 56. A stretch from 56 on has one map, wherever it ends; one from 57 on has none."""
    chip = chip_with(TEXT, a__x__map=(3, 8))
    assert counted(chip, "a.x map") == (8, 2, None)
    assert counted(chip, "a.x map", taken((56, 1024)))[2] == 1
    assert counted(chip, "a.x map", taken((57, 1024)))[2] == 0


@pytest.mark.parametrize(("at", "room"), [(0, 1), (984, 1), (985, 0)])
def test_a_wired_map_is_one_and_has_to_end_in_memory(at, room):
    """984 + 40 = 1024. From 985 on the map would go on at 0: the chip does that, but no scene lays it there."""
    assert counted(chip_with(TEXT, wired={"a.x.map": at}), "a.x map") == (1, room, None)


def test_stretches_do_not_share_and_overlaps_take_nothing_twice():
    """Rows that share 60 to 69, and one within another from 120 on: free are 0 to 39 and 80 to 119."""
    rows = [(40, 70, "one"), (60, 80, "two"), (120, 1024, "three"), (200, 240, "four")]
    found = memory_budget(chip_with(TEXT, a__x__map=(10, 1)), rows)
    (capacity,) = [one for one in found.capacities if one.name == "a.x map"]
    assert capacity.left == 2
    assert [(row.first, row.last) for row in found.allotted if row.free] == [(0, 39), (80, 119)]
    assert (found.free, found.overlaps) == (80, (("two", "one", 10), ("four", "three", 40)))
    assert [(hole.first, hole.last) for hole in found.holes] == [(80, 119)]


@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize(("end", "overlaps"), [(8, 0), (9, 1)])
def test_neighbours_do_not_overlap_and_the_last_byte_is_told(end, overlaps, turn):
    """8 is the byte after the last of ``a``, or its last, whichever is told first. One byte is free at the end, 1023, and one
    between, 9.
    """
    rows = [(0, end, "a"), (8, 9, "b"), (10, 1023, "rest")][::turn]
    found = memory_budget(chip_with(TEXT), rows)
    assert [count for _, _, count in found.overlaps] == [1] * overlaps
    assert [(row.first, row.last) for row in found.allotted if row.free] == [(9, 9), (1023, 1023)]


@pytest.mark.parametrize(("step", "room"), [(16, 64), (12, 64), (11, 32), (8, 32), (4, 22)])
def test_a_sprite_table_in_memory(step, room):
    """4 records of 3 bytes: 12. 6 bits hold 64 addresses; in 16s the last is 1008, and 1008 + 12 <= 1024. In steps of 11 and of 8
    every second serves, in fours every third: 0, 12, ... 252.
    """
    chip = chip_with(TEXT, sprites={**SPRITES, "table": "memory"}, sprites__table=(6, step))
    assert counted(chip, "sprite table") == (64, room, None)


# Pages


PAGED = {**TILES, "page": [8, 8], "pages": [2, 1]}
"""A map of two pages of 64 bytes."""


@pytest.mark.parametrize(("step", "addresses", "room"), [(64, 5, 5), (128, 8, 8), (32, 6, 3), (96, 8, 5)])
def test_a_page_lies_at_the_maps_address_or_64_after_it(step, addresses, room):
    """Two bits. Steps of 64: pages at 0 to 256; of 128: 0 to 448; of 32: 0 to 160, of which 0, 64, 128 are apart. Of 96: 0, 64,
    96, 160, 192, 256, 288, 352; apart are 0, 64, 160, 256, 352.
    """
    chip = chip_with(PAGED, a__t__map=(2, step))
    assert counted(chip, "a.t page") == (addresses, room, None)
    assert counted(chip, "a.t map")[:2] == (4, {64: 2, 128: 4, 32: 1, 96: 2}[step])


@pytest.mark.parametrize(("at", "room"), [(896, 2), (897, 0)])
def test_a_page_is_one_of_a_whole_map(at, room):
    """A wired map from 896 to 1023. A byte further its second page would go on at 0; then there is no map and so no page."""
    assert counted(chip_with(PAGED, wired={"a.t.map": at}), "a.t page") == (2, room, None)


# Tiles, glyphs, sprite patterns


@pytest.mark.parametrize(("at", "room"), [(960, 8), (968, 7), (1016, 1)])
def test_tiles_from_a_wired_base(at, room):
    """8 tiles of 8 bytes from 960 on end at 1024; from 968 on the eighth would lie at 0, across the end."""
    assert counted(chip_with(TILES, wired={"a.t.patterns": at}), "a.t tile") == (8, room, None)


def test_glyphs_are_no_more_than_their_numbers():
    """128 would lie in 1 KiB, but a character has four bits; in 256 bytes of which 132 are free 16 are left all the same."""
    chip = chip_with(TEXT, a__x__glyphs=(10, 1))
    assert counted(chip, "a.x glyph") == (16, 16, None)
    assert counted(chip, "a.x glyph", taken((100, 228)))[2] == 16
    assert counted(chip, "a.x glyph", taken((100, 227)))[2] == 15


@pytest.mark.parametrize(
    ("step", "alike", "unlike"), [(1, 2, 1), (2, 2, 1), (4, 2, 1), (8, 0, 1), (16, 0, 1), (12, 1, 1), (24, 0, 1)]
)
def test_one_base_has_to_suit_all_stretches(step, alike, unlike):
    """Glyphs of 8 bytes. Free are 4 to 11 and 20 to 27, both 4 modulo 8: two, from a base that is so, or none; with steps of 12
    the first such base is 12, behind the first. Or free are 4 to 11 and 16 to 23: one or the other.
    """
    chip = chip_with(TEXT, a__x__glyphs=(6, step))
    assert counted(chip, "a.x glyph", taken((4, 12), (20, 28)))[2] == alike
    assert counted(chip, "a.x glyph", taken((4, 12), (16, 24)))[2] == unlike


@pytest.mark.parametrize(("own", "left"), [((512, 576), 8), ((504, 576), 7), ((512, 633), 0), ((512, 632), 1)])
def test_what_is_left_is_told_beside_the_scenes_own(own, left):
    """16 numbers of 8 bytes are 128. The scene's glyphs lie from 512 to 575 and all else is taken but 576 to 639: 8 and 8. With
    nine of its own, 504 to 575, 7 are left. Where another has all from 632 on, or 633.
    """
    chip = chip_with(TEXT, a__x__glyphs=(10, 1))
    rows = [(0, own[0], "other"), (*own, "a.x.glyphs"), (640, 1024, "other")]
    assert counted(chip, "a.x glyph", rows)[2] == left


def test_a_base_far_from_the_scenes_own_does_not_count():
    """Free is only what 16 glyphs from the scene's first, at 0, cannot reach: 128 on. From 120 on one can."""
    chip = chip_with(TEXT, a__x__glyphs=(10, 1))
    assert counted(chip, "a.x glyph", [(0, 8, "a.x.glyphs"), (8, 128, "other")])[2] == 0
    assert counted(chip, "a.x glyph", [(0, 8, "a.x.glyphs"), (8, 120, "other")])[2] == 1
    assert counted(chip, "a.x glyph", [(0, 8, "other"), (8, 128, "other")])[2] == 16


TWO_SIZES = {
    **SPRITES, "sizes": [[8, 8], [8, 12]], "pattern_bytes": 8, "fields": {**SPRITES["fields"], "size": "19"},
}  # fmt: skip


@pytest.mark.parametrize(
    ("at", "small", "tall"), [(0, 8, 4), (960, 8, 4), (968, 7, 3), (1008, 2, 1), (1012, 1, 1), (1013, 1, 0)]
)
def test_a_large_sprite_takes_several_numbers(at, small, tall):
    """8 numbers, 8 bytes apart. 12 bytes take two of them: numbers 0, 2, 4, 6, the last from 48 to 59. From 968 on, 6 would
    begin at 1016 and not be whole; from 1012 on, 0 is whole in either size: 1012 + 12 = 1024.
    """
    chip = chip_with(TEXT, sprites=TWO_SIZES, wired={"sprites.patterns": at})
    assert counted(chip, "sprite 8x8") == (8, small, None)
    assert counted(chip, "sprite 8x12") == (4, tall, None)


def test_patterns_may_lie_further_apart_than_they_are_long():
    """Sprites of 4 bytes whose numbers are 16 bytes apart: 8 numbers end at 7 x 16 + 4 = 116."""
    apart = {**SPRITES, "pattern_bytes": 16}
    for at, room in ((908, 8), (909, 7)):
        assert counted(chip_with(TEXT, sprites=apart, wired={"sprites.patterns": at}), "sprite 8x4") == (8, room, None)
    assert counted(chip_with(TEXT, sprites=apart), "sprite 8x4", taken((16, 36)))[2] == 2
    assert counted(chip_with(TEXT, sprites=apart), "sprite 8x4", taken((16, 35), (36, 48)))[2] == 1


# In words


def test_what_is_told_says_numbers_or_addresses():
    told = plain(budget(chip_with(TEXT, BITMAP, a__x__map=(10, 1), b__b__bitmap=(2, 256))))
    lines = [" ".join(line.split()) for line in told.splitlines()]
    assert "a.x map 40 any address 25" in lines
    assert "a.x glyph 8 16 numbers 16" in lines
    assert "b.b bitmap 256 4 addresses 4" in lines
    assert "b.b bitmap 256 1 address 1" in [
        " ".join(line.split()) for line in plain(budget(chip_with(TEXT, BITMAP))).splitlines()
    ]


def test_a_large_memory_is_not_gone_through():
    """16 MiB, 16,777,216 bytes. Maps of two pages of a byte each at even addresses: a page lies at every byte. Maps of two pages
    of 3 bytes at multiples of 10, up to 16,777,210, where 6 bytes end with memory: 1,677,722 maps, of two pages each.
    """
    size = 1 << 24

    def pages(page: Any, step: int) -> list[int]:
        mode = {**TILES, "page": page, "pages": [2, 1]}
        chip = chip_with(mode, size=size, a__t__map=(24, step))
        return [counted(chip, f"a.t {what}")[1] for what in ("map", "page")]

    assert pages([1, 1], 2) == [size // 2, size]
    assert pages([3, 1], 10) == [1_677_722, 2 * 1_677_722]


# Against a slow search


def some_chip(random: Random) -> Chip:
    """A chip with a layer of each kind and sprites whose addresses are registers of few bits, or wired."""
    size = random.choice([256, 512, 1024])
    tiles = {
        **TILES,
        "page": [random.randint(1, 6), random.randint(1, 5)],
        "pages": random.choice([[1, 1], [2, 1], [2, 2]]),
    }
    text = {**TEXT, "columns": random.randint(1, 9), "rows": random.randint(1, 5), "glyph": [6, random.randint(4, 11)]}
    bitmap = {**BITMAP, "width": 8 * random.randint(1, 3), "height": random.randint(1, 12)}
    sizes = random.choice([[[8, 4], [8, 8]], [[8, 1], [8, 13]], [[16, 4], [8, 4]], [[8, 5], [8, 6]]])
    widest = max(across for across, _ in sizes) // 8
    least = min(across * down // 8 for across, down in sizes)
    sprites = {
        **SPRITES, "table": "memory", "count": random.randint(1, 12), "sizes": sizes,
        "pattern_bytes": random.choice([-(-least // widest) * widest, widest, widest * random.randint(1, 9)]),
        "fields": {**SPRITES["fields"], "size": "19"},
    }  # fmt: skip
    steps = {"a.t.map": 1, "a.t.patterns": 8, "b.x.map": 1, "b.x.glyphs": 1, "c.b.bitmap": 1}
    steps |= {"sprites.table": 1, "sprites.patterns": widest}
    listed, wired = {}, {}
    for name, step in steps.items():
        if random.random() < 0.75:
            listed[name] = a_register(random.randint(1, 10), step * random.choice([1, 1, 2, 3, 5, 8, 16, 24]))
        else:
            wired[name] = random.randrange(size // step) * step
    memory = {"size": size, "bytes_per_access": 1}
    return small_chip(tiles, text, bitmap, sprites=sprites, memory=memory, registers=listed, constants=wired)


def some_rows(random: Random, chip: Chip) -> Rows:
    """Rows of a scene, which may overlap; some belong to the patterns."""
    size = chip.memory.size
    rows = [
        (at := random.randrange(size), min(size, at + random.randint(1, size // 5)), "other")
        for _ in range(random.randint(1, 6))
    ]
    for owner in ("a.t.patterns", "b.x.glyphs", "sprites.patterns"):
        if random.random() < 0.5:
            at = random.randrange(size)
            rows.append((at, min(size, at + 8 * random.randint(1, 4)), owner))
    return rows


def told(chip: Chip, name: str) -> list[int]:
    """Every address that the control can be told."""
    register = chip.registers.listed().get(name) if isinstance(chip.registers, RegistersTable) else None
    if register is None:
        return [int((chip.constants or {}).get(name, 0))]
    return [raw * register.step for raw in range(1 << register.bits) if raw * register.step < chip.memory.size]


def search(places: Iterable[int], each: int, free: list[bool]) -> int:
    """The most things of ``each`` bytes at ``places``, in free bytes, none over another: byte by byte from the end."""
    there, size = set(places), len(free)
    best = [0] * (size + 1)
    for at in reversed(range(size)):
        best[at] = best[at + 1]
        if at in there and at + each <= size and all(free[at : at + each]):
            best[at] = max(best[at], 1 + best[at + each])
    return best[0]


def searched(chip: Chip, rows: Rows) -> Iterable[Capacity]:
    """Every capacity, found by trying."""
    size = chip.memory.size
    empty, free = [True] * size, [not any(low <= at < high for low, high, _ in rows) for at in range(size)]

    def addressed(name: str, each: int, control: str, parts: int) -> Capacity:
        at = told(chip, control)
        places = {base + part * each for base in at for part in range(parts) if base + parts * each <= size}
        numbers = {base + part * each for base in at for part in range(parts) if base + part * each < size}
        return Capacity(name, each, len(numbers), search(places, each, empty), search(places, each, free))

    def numbered(name: str, each: int, control: str, step: int, numbers: int, widest: int) -> Capacity:
        bases = told(chip, control)
        ladder = {base: [base + number * step for number in range(numbers)] for base in bases}
        own = [row for row in rows if row[2] == control]
        near = [
            base
            for base in bases
            if all(low in ladder[base] and high <= ladder[base][-1] + widest for low, high, _ in own)
        ]
        apart = search(range(0, numbers * step, step), each, [True] * (numbers * step + each))
        room, left = (
            max((search(ladder[b], each, where) for b in of), default=0) for of, where in ((bases, empty), (near, free))
        )
        return Capacity(name, each, apart, room, left, "number")

    (tiles,), (text,), (bitmap,) = (layer.modes for layer in chip.layers)
    pages = tiles.pages[0] * tiles.pages[1]
    yield addressed("a.t map", tiles.map_bytes, "a.t.map", 1)
    if pages > 1:
        yield addressed("a.t page", tiles.map_bytes // pages, "a.t.map", pages)
    yield numbered("a.t tile", 8, "a.t.patterns", 8, 8, 8)
    yield addressed("b.x map", text.map_bytes, "b.x.map", 1)
    yield numbered("b.x glyph", text.glyph[1], "b.x.glyphs", text.glyph[1], 16, text.glyph[1])
    yield addressed("c.b bitmap", bitmap.map_bytes, "c.b.bitmap", 1)
    sprites = chip.sprites
    yield addressed("sprite table", 3 * sprites.count, "sprites.table", 1)
    each = {f"sprite {across}x{down}": across * down // 8 for across, down in sprites.sizes}
    for name, size_ in each.items():
        yield numbered(name, size_, "sprites.patterns", sprites.pattern_bytes, 8, max(each.values()))


@settings(max_examples=EXAMPLES)
@given(randoms())
def test_a_slow_search_finds_the_same(random):
    """Every address that the registers can hold, every number, every byte tried."""
    chip = some_chip(random)
    rows = some_rows(random, chip)
    note(f"{chip.model_dump_json(exclude_defaults=True)}\n{rows}")
    assert list(memory_budget(chip, rows).capacities) == list(searched(chip, rows))


@given(randoms())
def test_a_slow_search_finds_the_same_of_any_progressions(random):
    """Up to four progressions of one step, wherever they begin and end, which is more than the pages of a map can ask for."""
    step, each = random.randint(1, 7), random.randint(1, 9)
    starts = [random.randint(0, 80) for _ in range(random.randint(1, 4))]
    runs = [range(start, start + step * random.randint(0, 40), step) for start in starts]
    free, stretches = some_free(random)
    places = {place for run in runs for place in run}
    note(f"{runs} {each} {stretches}")
    assert distinct(runs) == len(places)
    assert disjoint(runs, each, stretches) == search(places, each, free)


@given(randoms())
def test_a_slow_search_finds_the_same_of_any_numbers_and_bases(random):
    """Things of up to four numbers, bases of any step, before and within and behind what is free."""
    numbered = Numbered(random.randint(1, 6), random.randint(0, 30), random.randint(1, 24))
    start, step = random.randint(0, 150), random.randint(1, 20)
    bases = range(start, start + step * random.randint(0, 30), step)
    free, stretches = some_free(random)
    note(f"{numbered} {bases} {stretches}")
    ladders = [[base + number * numbered.step for number in range(numbered.top + 1)] for base in bases]
    most = max((search(ladder, numbered.each, free) for ladder in ladders), default=0)
    assert numbered.from_any(bases, stretches) == most


def some_free(random: Random) -> tuple[list[bool], list[tuple[int, int]]]:
    """Up to 300 bytes, each free or not, and the stretches of those that are."""
    free: list[bool] = []
    while len(free) < 300 and random.random() < 0.9:
        free += [random.random() < 0.6] * random.randint(1, random.choice([8, 60]))
    edges = [at for at in range(len(free) + 1) if (at > 0 and free[at - 1]) != (at < len(free) and free[at])]
    return free, list(zip(edges[::2], edges[1::2], strict=True))
