"""Budgets of chips small enough to be worked out on paper, both sides of every limit.

The chip: 64 dots of picture, 80 a line, so 16 of blanking before dot 0; one access a dot, one byte wide, so 80 slots a line of
which 16 are blank; 64 lines of picture, 70 in all. A layer of tiles takes one access for a cell and one for its row of 8 dots;
where it scrolls freely a line touches 9 tiles at most, that is 18 accesses. A sprite is 8 dots wide: one access.
"""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, small_chip
from refusal import refused

from vdpsim.budgets.budget import budget
from vdpsim.budgets.explain import EXPLAIN
from vdpsim.budgets.reach import kinds, most_accesses
from vdpsim.budgets.told import budget_data, budget_json, plain, sections
from vdpsim.chip.model import Chip

MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}


def timed(
    *modes: Any, lead: int = 8, sprites: Any = None, when: str = "blanking", tables: Any = None, **time: Any
) -> Chip:
    """A small chip whose layers fetch in time with ``lead``; ``time`` goes into its time table, ``tables`` into the chip."""
    clients = {}
    for name, mode in zip("abcdef", modes, strict=False):
        kinds_of = {"tiles": ("cells", "pattern"), "text": ("cells", "glyphs"), "bitmap": ("bitmap",)}[mode["kind"]]
        clients |= {f"{name}.{client}": {"when": "in time", "lead": lead} for client in kinds_of}
    if sprites:
        clients["sprites"] = {"when": when}
    return small_chip(*modes, sprites=sprites, memory=MEMORY, time={"clients": clients, **time}, **(tables or {}))


def test_the_worst_line_of_two_layers_and_four_sprites():
    """2 layers x 9 tiles x 2 accesses + 4 sprites x 1 + 2 of refresh = 42 of 80 slots; 38 are free."""
    found = budget(timed(TILES, TILES, sprites=SPRITES, refresh={"slots": 2}))
    line = found.worst_line
    assert (line.used, found.free_slots, line.name) == (42, 38, "a t + b t")
    assert line.by_client == {
        "a.cells": 9,
        "a.pattern": 9,
        "b.cells": 9,
        "b.pattern": 9,
        "sprites.pattern": 4,
        "refresh": 2,
    }
    assert found.fits
    assert found.proved


def test_text_and_bitmaps_by_their_own_groups():
    """A line of text touches 10 columns of 6 dots from dot 2 on: 20 accesses. A bitmap of 2 bits brings 4 dots an access: 17
    where it scrolls.
    """
    text, bitmap = budget(timed(TEXT)), budget(timed(BITMAP))
    assert text.worst_line.by_client == {"a.cells": 10, "a.glyphs": 10, "refresh": 0}
    assert bitmap.worst_line.by_client == {"a.bitmap": 17, "refresh": 0}


def test_a_map_that_stands_still_touches_one_tile_less():
    """Without scroll the 64 dots are 8 whole tiles: 16 accesses; with a register that counts in eights as well; in fours, 9
    tiles.
    """
    still = budget(timed({**TILES, "scroll": False}))
    eights = budget(timed(TILES, tables={"registers": {"a.scroll_x": {"bits": 4, "effect": "at once", "step": 8}}}))
    fours = budget(timed(TILES, tables={"registers": {"a.scroll_x": {"bits": 5, "effect": "at once", "step": 4}}}))
    assert [found.worst_line.used for found in (still, eights, fours)] == [16, 16, 18]


@pytest.mark.parametrize(("layers", "lead", "fits"), [(1, 3, True), (1, 2, False), (2, 7, True), (2, 6, False)])
def test_a_lead_of_one_dot_less_is_too_late(layers, lead, fits):
    """Scrolled by 7 dots a line shows one dot of its first tile, so two tiles are due one dot apart: at dots 0 and 1, before
    slots 16 and 17. With a lead of L they may begin at slot 16 - L: L + 1 slots for 2 x 2 accesses of a layer. One layer
    needs L = 3, two L = 7.
    """
    found = budget(timed(*[TILES] * layers, lead=lead))
    assert found.fits is fits
    assert bool(found.lines.late) is not fits
    assert ("too late" in found.first) is not fits


@pytest.mark.parametrize(("refresh", "room", "fits"), [(8, 4, True), (9, 3, False)])
def test_one_slot_of_refresh_more_takes_a_sprite(refresh, room, fits):
    """Refresh has slots 0 to 7 of the 16 blank ones; scrolled by 7 dots the first two tiles, due at dots 0 and 1, take four:
    4 are left for 4 sprites. With one slot of refresh more, 3.
    """
    found = budget(timed(TILES, sprites={**SPRITES, "per_line": 4}, refresh={"slots": refresh}))
    assert (found.sprites.asked, found.sprites.room, found.fits) == (4, room, fits)
    assert found.sprites.more == room - 4


def test_without_limits_of_its_own_the_slots_are_the_limit_and_the_chip_fits():
    """The same chip promises no number of sprites: what finds no slot is dropped, and nothing was promised."""
    found = budget(timed(TILES, sprites=SPRITES, refresh={"slots": 9}))
    assert found.fits
    assert found.sprites.more == -1


@pytest.mark.parametrize(
    ("per_line", "dots", "accesses"),
    [(4, None, 4), (2, None, 2), (None, 24, 3), (None, 23, 2), (None, None, 4)],
)
def test_most_accesses_of_sprites_of_one_size(per_line, dots, accesses):
    """4 sprites of 8 dots, an access each: as many as count, per_line and dots_per_line let through."""
    limits = {"per_line": per_line, "dots_per_line": dots}
    table = {**SPRITES, **{name: limit for name, limit in limits.items() if limit}}
    assert most_accesses(timed(TILES, sprites=table))[0] == accesses


def test_most_accesses_of_sprites_of_two_widths():
    """Rows of 8 and 32 dots at 1 bit: 1 and 4 accesses. 5 sprites, 72 dots: one wide and four narrow are 64 dots and 8
    accesses; two wide and one narrow are 72 dots and 9.
    """
    fields = {**SPRITES["fields"], "size": "19"}
    table = {
        **SPRITES,
        "fields": fields,
        "sizes": [[8, 4], [32, 4]],
        "count": 5,
        "pattern_bytes": 16,
        "dots_per_line": 72,
    }
    accesses, chosen, scan = most_accesses(timed(TILES, sprites=table))
    assert (accesses, chosen, scan) == (9, ((1, 2), (0, 1)), 0)


def test_a_table_in_memory_is_scanned_before_any_sprite():
    """Records of 3 bytes; y lies in byte 1. 4 records: 4 accesses of scan, and for each sprite the 2 other bytes and its row."""
    asked, _, scan = most_accesses(timed(TILES, sprites={**SPRITES, "table": "memory"}))
    assert (asked, scan) == (4 + 4 * (2 + 1), 4)


def test_the_cpu_has_what_is_left():
    """64 lines leave 16 - 2 (refresh) - 4 (two tiles at most) = 10 blank slots each, 6 lines below 78: 64 x 10 + 6 x 78 in a
    frame.
    """
    found = budget(timed(TILES, refresh={"slots": 2}, cpu={"active": "none"}))
    assert (found.cpu.active, found.cpu.beside, found.cpu.below) == (0, 64 * 10, 6 * 78)
    assert found.cpu.bytes_per_frame == found.cpu.bytes_in_blanking == 64 * 10 + 6 * 78
    (refill,) = [one for one in found.cpu.refills if one.name == "a.t map"]
    assert (refill.bytes, refill.lines) == (128, 2)  # 78 on the first line, 50 on the second
    assert refill.seconds == Fraction(2 * 80, 1_000_000)


@pytest.mark.parametrize(("queue", "landed"), [(None, 76), (1, 76), (2, 139), (3, 139)])
def test_a_slow_cpu_is_the_limit(queue, landed):
    """A byte every 40 dots (40 cycles at the dot clock): 70 lines x 80 dots / 40 = 140 bytes, if a slot is there for each.

    On the 6 lines below, a byte lands at slot 0 and one at slot 40: 12. On a line of the picture the CPU has blank slots only.
    One lands at slot 0, and one is at hand at 40 and waits. With a queue of one byte the CPU waits with it, and has another
    only 40 dots after that landed: a byte a line, 12 + 64. With two it has the next at hand when the line ends, and both land;
    only on the first of the 64 lines there is but one: 12 + 2 x 64 - 1. A third place is of no use.
    """
    slow = {"cpu": {"clock": 1_000_000, "cycles_per_byte": 40, **({"queue": queue} if queue else {})}}
    found = budget(timed(TILES, cpu={"active": "none"}, tables=slow))
    assert found.cpu.speed == 25_000
    assert found.cpu.bytes_per_frame == landed


def test_reserved_slots_are_counted_for_the_cpu_alone():
    """Every 8th slot of the 64 active ones: 8 a line, 512 a frame. With blanking closed it has nothing else, below the
    picture nothing.
    """
    found = budget(timed(TILES, cpu={"active": "reserved", "every": 8, "at": [7], "blanking": False}))
    assert (found.cpu.active, found.cpu.beside, found.cpu.below) == (512, 0, 0)
    assert (found.cpu.bytes_per_frame, found.cpu.bytes_in_blanking) == (512, 0)
    (refill,) = [one for one in found.cpu.refills if one.name == "a.t map"]
    assert refill.lines == 6 + 16  # 128 bytes, 8 a line, after 6 lines below


def test_bits_on_the_chip():
    """Palette 16 x 12. Records 7 + 7 + 3 + 1 + 1 = 19 bits x 4. A line buffer of 64 dots x (entry 4 + shown 1), once: in
    blanking.
    """
    found = {kept.name: kept.bits for kept in budget(timed(TILES, sprites=SPRITES)).on_chip}
    assert found["palette"] == 192
    assert found["sprite table"] == 76
    assert found["sprite line buffers"] == 320
    assert (
        found["a fetched ahead"] == 2 * 16
    )  # lead 8: the tile that shows and the next, a cell and a row of a byte each


def test_memory_and_what_fits_into_it():
    """1,024 bytes: a map of 16 x 8 cells is 128, so 8 fit; a tile is 8 bytes: 128 would lie there, of which a base reaches 8."""
    found = {one.name: (one.bytes, one.numbers, one.room, one.most) for one in budget(timed(TILES)).memory.capacities}
    assert found["a.t map"] == (128, 1024, 8, 8)
    assert found["a.t tile"] == (8, 8, 8, 8)


def test_kinds_of_lines():
    """Two layers of one mode that can each be disabled: four kinds. An exclusive mode takes the other layer away."""
    assert [kind.modes for kind in kinds(timed(TILES, TILES))] == [(0, 0), (0, None), (None, 0), (None, None)]
    alone = timed({**TILES, "exclusive": ["b"]}, TILES)
    assert [kind.modes for kind in kinds(alone)] == [(0, None), (None, 0), (None, None)]


def test_a_chip_without_a_time_table_has_a_budget_of_memory():
    found = budget(small_chip(TILES))
    assert found.fits
    with refused(ValueError, "has no time table"):
        found.worst_line  # noqa: B018 - it raises


def test_every_figure_that_is_told_is_explained():
    found = budget(timed(TILES, sprites=SPRITES))
    told = {name for section in sections(found) for name in section.explained}
    assert told | {"fits", "proved"} == set(EXPLAIN)


def test_a_part_of_a_slot_is_said_to_be_lost():
    """80 dots x 5/7 are 57.14 accesses: 57 slots."""
    memory = {**MEMORY, "accesses_per_dot": "5/7"}
    chip = small_chip(
        TILES, memory=memory, time={"clients": timed(TILES).model_dump(exclude_none=True)["time"]["clients"]}
    )
    assert budget(chip).lines.slots == 57
    assert "57 slots a line (80 dots x 5/7 are 57.14; the part of a slot is lost)" in plain(budget(chip))
    assert "lost" not in plain(budget(timed(TILES)))


def test_text_and_json_say_the_same_each_time():
    chip = timed(TILES, sprites=SPRITES)
    assert plain(budget(chip)) == plain(budget(chip))
    data = json.loads(budget_json(budget(chip)))
    assert data["worst_line"]["used"] == budget(chip).worst_line.used == 22
    assert data["fits"] is True
    assert budget_data(budget(chip))["chip_bits"] == sum(kept["bits"] for kept in data["on_chip"])
