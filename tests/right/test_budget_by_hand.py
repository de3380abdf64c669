"""Budgets of chips small enough to be worked out on paper, both sides of every limit.

The chip: 64 dots of picture, 80 a line, so 16 of blanking before dot 0; one access a dot, one byte wide, so 80 slots a line of
which 16 are blank; 64 lines of picture, 70 in all. A layer of tiles takes one access for a cell and one for its row of 8 dots;
where it scrolls freely a line touches 9 tiles at most, that is 18 accesses. A sprite is 8 dots wide: one access.
"""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, small_chip
from refusal import refused

from vdpsim.budgets.budget import budget
from vdpsim.budgets.line.kinds import kinds
from vdpsim.budgets.onchip import on_chip
from vdpsim.budgets.proof import cut_registers
from vdpsim.budgets.reach import most_accesses
from vdpsim.budgets.told.data import budget_data, budget_json
from vdpsim.budgets.told.explain import EXPLAIN
from vdpsim.budgets.told.plain import plain
from vdpsim.budgets.told.sections import sections
from vdpsim.budgets.told.verdict import verdict
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
    assert (found.verdict, found.how) == ("fits", "served")


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
    assert (found.first.slots < 0) is not fits
    assert ("does not fit" in verdict(found)) is not fits


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


def bits_of(chip: Chip) -> dict[str, int]:
    """What is kept on the chip, by name."""
    return {kept.name: kept.bits for kept in budget(chip).on_chip}


def fetching(mode: Any, *, cells: Any, rows: Any, tables: Any = None) -> Chip:
    """A chip with one layer, ``a``, whose cells and rows are fetched as these say."""
    names = {"tiles": ("cells", "pattern"), "text": ("cells", "glyphs"), "bitmap": ("bitmap",)}[mode["kind"]]
    clients = {f"a.{name}": client for name, client in zip(names, (cells, rows), strict=False)}
    return small_chip(mode, memory=MEMORY, time={"clients": clients}, **(tables or {}))


BLANKING, BEFORE = {"when": "blanking"}, {"when": "line before"}


def lead(dots: int, **more: Any) -> dict[str, Any]:
    return {"when": "in time", "lead": dots, **more}


@pytest.mark.parametrize(
    ("mode", "cells", "rows", "bits"),
    [
        (TILES, lead(8), lead(8), 2 * 16),
        (TILES, lead(9), lead(8), 3 * 8 + 2 * 8),
        (TILES, lead(8), lead(9), 2 * 16),
        (TILES, lead(64), lead(64), 9 * 16),
        (TILES, lead(65), lead(8192), 9 * 16),
        (TILES, BLANKING, BLANKING, 9 * 16),
        (TILES, BLANKING, lead(8), 9 * 8 + 2 * 8),
        (TILES, BLANKING | {"keep": True}, lead(8), 2 * 8),
        (TILES, BEFORE, BEFORE, 9 * 8),
        (TILES, BEFORE | {"keep": True}, BEFORE, None),
        ({**TILES, "scroll": False}, lead(8192), lead(8192), 8 * 16),
        ({**TILES, "scroll": False}, BLANKING, BLANKING, 8 * 16),
        (TEXT, BLANKING, BLANKING, 10 * 16),
        ({**TEXT, "left": 10}, BLANKING, BLANKING, 9 * 16),
        (BITMAP, BLANKING, None, 17 * 8),
        (BITMAP, lead(5), None, 3 * 8),
        (BITMAP, BEFORE, None, None),
    ],
)
def test_what_is_fetched_before_it_shows_is_held(mode, cells, rows, bits):
    """A cell and a row are a byte each. With a lead of 8 dots the tile that shows and the next are held, with 9 one more; rows
    are no further ahead than their cells. A line touches 9 tiles at most, 8 where it stands still, so a lead of 64 dots
    and any longer one, and blanking, hold these. Text of 6 dots from dot 2 on has 10 columns within the picture, from dot 10 on
    9. Into a line buffer go rows; their cells wait for them, unless they are kept and counted there.
    """
    assert bits_of(fetching(mode, cells=cells, rows=rows)).get("a fetched ahead") == bits


def test_kept_cells_are_those_that_a_line_can_touch():
    """9 cells of a byte where it scrolls; 8 where it stands still, or where its register counts in eights."""
    eights = {"registers": {"a.scroll_x": {"bits": 4, "effect": "at once", "step": 8}}}
    keeps = {"cells": lead(8, keep=True), "rows": lead(8)}
    chips = [
        fetching(TILES, **keeps),
        fetching({**TILES, "scroll": False}, **keeps),
        fetching(TILES, **keeps, tables=eights),
    ]
    assert [bits_of(chip)["a kept cells"] for chip in chips] == [72, 64, 64]


@pytest.mark.parametrize(("queue", "size", "bits"), [(1, 1024, 18), (2, 1024, 36), (1, 2048, 19), (5, 2048, 95)])
def test_the_write_queue_holds_bytes_and_their_addresses(queue, size, bits):
    """1,024 bytes of memory need 10 bits of address, 2,048 need 11: 18 or 19 bits a byte. Without CPU or time: none."""
    cpu = {"cpu": {"clock": 1_000_000, "cycles_per_byte": 40, "queue": queue}}
    chip = small_chip(BITMAP, memory={**MEMORY, "size": size}, time={"clients": {"a.bitmap": BLANKING}}, **cpu)
    assert bits_of(chip)["write queue"] == bits
    for lacking in ("time", "cpu"):
        assert "write queue" not in bits_of(chip.model_copy(update={lacking: None}))


def test_ports_hold_addresses_and_steps():
    """Memory of 1,024 bytes: 10 bits, and 8 of step. 16 entries of two bytes: 5 bits. 4 records of 3 bytes: byte 11, 4 bits."""
    memory = {"target": "memory", "address": 0x100, "data": 0x102, "step": 0x103}
    palette = {"target": "palette", "address": 0x110, "data": 0x111}
    sprites = {"target": "sprites", "address": 0x120, "data": 0x121}
    found = timed(TILES, sprites=SPRITES, tables={"ports": [memory, palette, sprites]})
    assert bits_of(found)["ports"] == 10 + 8 + 5 + 4
    (formula,) = [kept.formula for kept in budget(found).on_chip if kept.name == "ports"]
    assert formula == "memory: address 10 + step 8, palette: address 5, sprites: address 4"
    assert "ports" not in bits_of(timed(TILES))


def test_status_holds_a_bit_for_each_flag_and_for_each_group_that_is_read():
    """Two flags; with the groups, of which there are two, 4 bits. The line of the line flag, 0 to 69, is a register of 7 bits."""
    status = {"address": 0x200, "line": 7, "collision": 5, "cleared": "read"}
    collisions = {"groups": ["hull", "reef"], "pairs": [["hull", "reef"]]}
    plain = timed(TILES, sprites=SPRITES, tables={"collisions": collisions, "status": status})
    read = timed(TILES, sprites=SPRITES, tables={"collisions": collisions, "status": {**status, "groups": 0x201}})
    without = timed(TILES, sprites=SPRITES, tables={"collisions": collisions})
    assert (bits_of(plain)["status"], bits_of(read)["status"]) == (2, 4)
    assert "status" not in bits_of(without)
    assert bits_of(plain)["registers"] - bits_of(without)["registers"] == 7


def test_memory_and_what_fits_into_it():
    """1,024 bytes: a map of 16 x 8 cells is 128, so 8 fit; a tile is 8 bytes: 128 would lie there, of which a base reaches 8."""
    found = {one.name: (one.bytes, one.numbers, one.room, one.most) for one in budget(timed(TILES)).memory.capacities}
    assert found["a.t map"] == (128, 1024, 8, 8)
    assert found["a.t tile"] == (8, 8, 8, 8)


def test_kinds_of_lines():
    """Two layers of one mode that can each be disabled: four kinds, and the lines below the picture. An exclusive mode takes the
    other layer away.
    """
    below = (None, None), False
    assert kinds(timed(TILES, TILES)) == [
        ((0, 0), True),
        ((0, None), True),
        ((None, 0), True),
        below,
        ((None, None), True),
    ]
    alone = timed({**TILES, "exclusive": ["b"]}, TILES)
    assert kinds(alone) == [((0, None), True), ((None, 0), True), below, ((None, None), True)]


def held_and_exclusive() -> Chip:
    """a, in a line buffer, switches off b."""
    clients = {"a.bitmap": {"when": "line before"}, "b.cells": {"when": "blanking"}, "b.pattern": {"when": "blanking"}}
    return small_chip({**BITMAP, "exclusive": ["b"]}, TILES, memory=MEMORY, time={"clients": clients})


def test_kinds_of_lines_with_a_line_buffer():
    """In a line's slots a is fetched for the next: it was asked for, or not, while b still shows, or no longer. On the last line
    below the picture a alone is fetched, for line 0.
    """
    assert set(kinds(held_and_exclusive())) == {
        ((0, 0), True),
        ((0, None), True),
        ((None, 0), True),
        ((None, None), True),
        ((0, None), False),
        ((None, None), False),
    }


def test_a_chip_without_a_time_table_has_a_budget_of_memory():
    found = budget(small_chip(TILES))
    assert found.fits
    with refused(ValueError, "has no time table"):
        found.worst_line  # noqa: B018 - it raises


def test_every_figure_that_is_told_is_explained():
    found = budget(timed(TILES, sprites=SPRITES))
    told = {name for section in sections(found) for name in section.explained}
    assert told | {"fits", "does not fit", "open", "first to give way"} == set(EXPLAIN)


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


def rows_of(text: str) -> list[str]:
    """The printed lines, with one space between words."""
    return [" ".join(line.split()) for line in text.splitlines()]


def test_every_figure_of_a_line_is_printed_as_it_is():
    """Tiles and text with a lead of 7, two sprites and two slots of refresh. Scrolled by 7 dots the first tiles are due at dots 0
    and 1, slots 16 and 17: cells in 9 and 10, their rows in 11 and 12. Text begins at dot 2, slot 18: its first cell in 13, its
    glyph in 14. 15 - 9 = 6, 15 - 11 = 4, 17 - 13 = 4 and 17 - 14 = 3 slots to spare; without tiles the text has 17 - 11 = 6 and
    17 - 12 = 5, without text nothing of the tiles changes. A line has 9 + 9 + 10 + 10 accesses, 2 of refresh and 2 of sprites:
    42. Of 16 blank slots 2 are refresh's, 6 are fetched in before dot 0, which leaves the sprites 8, and the CPU 6 beside them.
    """
    chip = timed(TILES, TEXT, lead=7, sprites={**SPRITES, "per_line": 2}, refresh={"slots": 2}, cpu={"active": "free"})
    told = rows_of(plain(budget(chip)))
    for row in (
        "First to give way: b.glyphs, 3 slots to spare (a t scrolled by 7 of 8 dots; b x).",
        "Time: 80 slots a line, 16 of them blank; each figure at its worst",
        "kind of line used free CPU sprites ask room slack",
        "a t + b x 42 38 38 2 8 3",
        "b x 24 56 56 2 12 5",
        "a t 22 58 58 2 10 4",
        "no layer 4 76 76 2 14",
        "below the picture 2 78 78",
        "Clients, in the order in which they are served; the least over all 28 lines",
        "a.cells 9 6 slot 9 of 15 a t 7/8 + b x",
        "a.pattern 9 4 slot 11 of 15 a t 7/8 + b x",
        "b.cells 10 4 slot 13 of 17 a t 7/8 + b x",
        "b.glyphs 10 3 slot 14 of 17 a t 7/8 + b x",
        "refresh 2",
        "8x4 2 8 8 2 6 a t 7/8 + b x",
        "CPU: 2,900 bytes a frame, 852 in blanking and 2,048 in active lines",
        "2,048 384 468 as fast as the slots",
        "a.t map 128 2 0.16 ms",
        "a.t patterns, all 64 1 0.08 ms",
    ):
        assert row in told, row


def test_slack_that_is_not_proved_is_printed_so():
    """The least that is proved beside the least that was found: alike, below it, 0, and below 0; one slot and two."""
    found = budget(timed(TILES, lead=7))
    assert [(name, spare.slots) for name, spare in found.lines.spare.items()] == [("a.cells", 6), ("a.pattern", 4)]
    for proved, cells, pattern in (
        ({"a.cells": 6, "a.pattern": 4}, "6 slot 9 of 15", "4 slot 11 of 15"),
        ({"a.cells": 5, "a.pattern": 0}, "5 to 6 slot 9 of 15", "0 to 4 slot 11 of 15"),
        ({"a.cells": -1, "a.pattern": -2}, "6, not proved slot 9 of 15", "4, not proved slot 11 of 15"),
    ):
        told = rows_of(plain(replace(found, lines=replace(found.lines, at_least=proved, complete=False))))
        assert [row[:-8] for row in told if row.startswith("a.cells 9")] == [f"a.cells 9 {cells} a t 7/8"[:-8]]
        assert f"a.pattern 9 {pattern} a t 7/8" in told
        assert any("not all that can be, but" in row for row in told)
    open_ = replace(
        found, verdict="open", how="open", lines=replace(found.lines, at_least={"a.cells": -1, "a.pattern": -2})
    )
    assert (
        "by the bound a.cells may be up to 1 slot late (served: at least 6 to spare); a.pattern may be up to 2 slots late"
        in verdict(open_)
    )
    settled = replace(open_, lines=replace(found.lines, at_least={"a.cells": 0, "a.pattern": -2}))
    assert "a.cells may be" not in verdict(settled)


@pytest.mark.parametrize(
    ("slots", "proved", "told"),
    [
        (3, 3, "a.cells, 3 slots to spare"),
        (1, 1, "a.cells, 1 slot to spare"),
        (0, 0, "First to give way: a.cells, 0 slots to spare"),
        (3, 1, "a.cells, at least 1, at most 3 slots to spare"),
        (1, 0, "a.cells, at least 0, at most 1 slot to spare"),
        (2, -3, "a.cells, at least 0, at most 2 slots to spare"),
        (-1, -1, "Worst: a.cells misses 1 accesses"),
    ],
)
def test_what_gives_way_first_is_told_with_its_slots(slots, proved, told):
    found = budget(timed(TILES, lead=7))
    assert told in verdict(replace(found, first=replace(found.first, client="a.cells", slots=slots, proved=proved)))


def test_sprites_that_may_lack_slots_are_told_of():
    """Two sprites are promised; 1 slot is proved and 2 were found, then 0 and 1: lacking 1 and 2 by the bound, 0 and 1 seen."""
    found = budget(timed(TILES, sprites={**SPRITES, "per_line": 2}))
    for room, seen, told in (
        (2, 2, None),
        (1, 2, "sprites may lack 1 slot (served: at most 0)"),
        (0, 1, "sprites may lack 2 slots (served: at most 1)"),
    ):
        text = verdict(replace(found, verdict="open", sprites=replace(found.sprites, room=room, found=seen)))
        assert (told in text) if told else ("may lack" not in text)
    free = replace(found.sprites, room=0, promised=False)
    assert "may lack" not in verdict(replace(found, verdict="open", sprites=free))


@pytest.mark.parametrize(
    ("count", "told"),
    [
        (0, "none of its registers takes effect"),
        (1, "to r0, which"),
        (4, "to r0, r1, r2, r3, which"),
        (5, "r3 and 1 more, which"),
        (7, "r3 and 3 more, which"),
    ],
)
def test_registers_whose_writes_in_mid_line_are_left_out_are_told_of(count, told):
    found = budget(timed(TILES))
    assert told in verdict(replace(found, cut=tuple(f"r{number}" for number in range(count))))


def test_each_kind_says_how_many_of_its_lines_were_served():
    """Eight scroll positions of the tiles, a line without them, and one below the picture; each of the others once."""
    found = budget(timed(TILES))
    counts = {line.name: line.lines for line in (*found.lines.kinds, found.lines.below)}
    assert counts == {"a t": 8, "no layer": 1, "below the picture": 1}
    assert found.lines.served == 10


def test_sprites_are_told_of_only_where_they_can_ask():
    """Of a chip without sprites no line asks for any; of one with four each line of the picture does, and none below it."""
    bare, full = budget(timed(TILES)), budget(timed(TILES, sprites=SPRITES))
    assert [(line.sprites, line.room) for line in bare.lines.kinds] == [(0, None)] * 2
    assert [(line.name, line.sprites, line.room) for line in full.lines.kinds] == [("a t", 4, 12), ("no layer", 4, 16)]
    assert (full.lines.below.sprites, full.lines.below.room) == (0, None)


def test_a_buffered_layer_is_named_with_its_next_line_and_its_registers_cut_nothing():
    """What a line buffer fetches follows from dot 0: only the other's registers count in mid-line, whichever comes first."""
    for buffered, cut in (("a", "b"), ("b", "a")):
        when = {f"{name}.{what}": {"when": "line before"} if name == buffered else {"when": "in time", "lead": 8}
                for name in "ab" for what in ("cells", "pattern")}  # fmt: skip
        chip = small_chip(TILES, TILES, memory=MEMORY, time={"clients": when})
        assert {name[0] for name in cut_registers(chip)} == {cut}
        assert f"{cut}.scroll_x" in cut_registers(chip) and f"{cut}.bank" not in cut_registers(chip)
        names = [kind.name(chip) for kind in kinds(chip)]
        assert f"{buffered} t for the next line" in names
        assert f"{cut} t" in names


@pytest.mark.parametrize(("groups", "bits", "formula"), [(None, 2, "2 flags"), (0x41, 5, "2 flags + 3 groups")])
def test_bits_of_a_status(groups, bits, formula):
    status = {"address": 0x40, "line": 0, "collision": 7, "cleared": "read", "groups": groups}
    collisions = {"groups": ["a", "b", "c"], "pairs": []}
    table = {**SPRITES, "fields": {**SPRITES["fields"], "group": "23:22"}}
    chip = small_chip(
        TILES, sprites=table, collisions=collisions, status={name: at for name, at in status.items() if at is not None}
    )
    assert [(kept.bits, kept.formula) for kept in on_chip(chip) if kept.name == "status"] == [(bits, formula)]
