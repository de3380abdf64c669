"""The twin itself is held to what can be worked out on paper; each docstring shows the working."""

from __future__ import annotations

import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, at, both, holding, small_chip, sprite

from vdpsim.state.writes import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite

TURNING = {**TILES, "cell": {"pattern": "2:0", "flip_x": "3", "flip_y": "4", "turn": "5"}, "transparent": 0}


@pytest.mark.parametrize(
    ("cell", "dot"),
    [
        (0b000_000, (1, 0)),
        (0b001_000, (6, 0)),
        (0b010_000, (1, 7)),
        (0b011_000, (6, 7)),
        (0b100_000, (7, 1)),
        (0b101_000, (0, 1)),
        (0b110_000, (7, 6)),
        (0b111_000, (0, 6)),
    ],
)
def test_a_cell_turns_clockwise_and_then_flips(cell, dot):
    """The pattern's one dot is in column 1 of row 0. A quarter turn clockwise brings the top row to the right edge, so that
    column 1 becomes line 1: (7, 1). The flips then mirror what is displayed: x to 7 - x, y to 7 - y.
    """
    chip = small_chip(TURNING)
    state = holding(chip, {0: bytes([cell, *[1] * 127]), 512: bytes([0b0100_0000])}, a__t__patterns=512)
    assert at(both(state).indices, 1) == [dot]


def test_dots_of_a_byte_from_the_low_end():
    """0b00_00_11_01 at 2 bits a dot: from the high end 0, 0, 3, 1, from the low end 1, 3, 0, 0."""
    data = {0: bytes([0b00_00_11_01])}
    assert both(holding(small_chip(BITMAP), data)).indices[0][:5] == [0, 0, 3, 1, 0]
    assert both(holding(small_chip({**BITMAP, "first_dot": "low"}), data)).indices[0][:5] == [1, 3, 0, 0, 0]


def test_a_bitmap_wraps_both_ways():
    """64 x 16 dots. Scrolled by (60, 15), the memory's dot (2, 1) is at x = 2 - 60 + 64 = 6 and y = 1 - 15 + 16 = 2, then every
    16 lines: 2, 18, 34, 50. A line is 16 bytes; dot 2 of line 1 is the third pair of bits of byte 16.
    """
    state = holding(small_chip(BITMAP), {16: bytes([0b00_00_10_00])}, a__scroll_x=60, a__scroll_y=15)
    assert at(both(state).indices, 2) == [(6, 2), (6, 18), (6, 34), (6, 50)]


def test_pages_lie_one_after_another():
    """2 x 2 pages of 4 x 4 cells: cell (5, 6) of the map is cell (1, 2) of page 3, number 3 * 16 + 2 * 4 + 1 = 57. The map is
    64 dots square, so it shows just once, at (40, 48).
    """
    chip = small_chip({**TILES, "page": [4, 4], "pages": [2, 2], "transparent": 0})
    state = holding(chip, {57: b"\1", 512 + 8: bytes([0x80])}, a__t__patterns=512)
    assert at(both(state).indices, 1) == [(40, 48)]


@pytest.mark.parametrize(
    ("scroll", "width", "cells", "pattern"), [(0, 1, 16, 32), (3, 1, 18, 36), (8, 2, 8, 16), (3, 4, 9, 9), (3, 8, 9, 9)]
)
def test_fetches_of_a_scrolled_line(scroll, width, cells, pattern):
    """64 dots are 8 cells of 8 dots, or parts of 9 where the scroll is no multiple of 8. A cell of 2 bytes takes two accesses of
    1 byte, else one; a row of 8 dots at 4 bits is 4 bytes: 4 accesses of 1 byte, 2 of 2, one of 4 and one of 8.
    """
    mode = {**TILES, "bits_per_dot": 4, "cell_bytes": 2}
    chip = small_chip(mode, memory={"size": 1024, "bytes_per_access": width})
    twin = both(holding(chip, a__scroll_x=scroll))
    assert twin.counts == [{"a.cells": cells, "a.pattern": pattern}] * 64


def test_a_turned_cell_fetches_one_access_a_dot():
    """8 cells, of which the first is turned: its displayed row is a column of the pattern, 8 dots in 8 rows. 7 + 8 = 15."""
    chip = small_chip(TURNING)
    assert both(holding(chip, {0: bytes([0b100_000])})).counts[0] == {"a.cells": 8, "a.pattern": 15}


@pytest.mark.parametrize(("scroll", "fetched"), [(0, 8), (1, 9), (4, 9), (8, 9), (12, 9), (128, 9)])
def test_a_scroll_in_mid_line_fetches_what_changed(scroll, fetched):
    """Up to dot 19 columns 0 to 2 are fetched: 3. From dot 20 on the columns are those from (20 + s) // 8 to (63 + s) // 8, and
    column 2 is not fetched again where it goes on:
    s = 0: 2 to 7, 5 new, 8 in all. s = 1: 2 to 8, 6 new. s = 4 or 8: 3 to 8, 6 new. s = 12: 4 to 9, 6 new. s = 128, once round
    the map of 16 columns, shows the same cells as s = 0, but they are other columns: 18 to 23, 6 new.
    """
    chip = small_chip(TILES, registers={"a.scroll_x": {"bits": 8, "effect": "at once"}})
    twin = both(holding(chip), [RegisterWrite(5, "a.scroll_x", scroll, dot=20)])
    assert [counts["a.cells"] for counts in twin.counts[4:6]] == [8, fetched]


def test_text_has_margins_without_fetches():
    """10 columns of 6 dots from dot 2 on reach dot 61; 4 rows of 8 lines reach line 31. Outside is the margin, entry 9."""
    chip = small_chip(TEXT)
    state = holding(chip, {0: b"\1", 64 + 8: bytes([0b1000_0100])}, a__x__glyphs=64, a__x__foreground=5)
    twin = both(state)
    assert twin.indices[0] == [9, 9, 5, 0, 0, 0, 0, 5, *[0] * 54, 9, 9]
    assert set(twin.indices[32]) == {9}
    assert twin.counts[31] == {"a.cells": 10, "a.glyphs": 10}
    assert twin.counts[32] == {"a.cells": 0, "a.glyphs": 0}


def test_a_register_counts_when_its_effect_says():
    """Entry 3 is written as backdrop at line 10, dot 5. At once: from there. Next line: from (0, 11). Next
    frame: not in this one. Of two writes at one time the later one stays, 4.
    """
    seen = {}
    for effect in ("at once", "next line", "next frame"):
        chip = small_chip({**TEXT, "margin": None}, registers={"backdrop": {"bits": 4, "effect": effect}})
        state = holding(chip)
        twin = both(state, [RegisterWrite(10, "backdrop", 3, dot=5), RegisterWrite(10, "backdrop", 4, dot=5)])
        seen[effect] = next(iter(at(twin.indices, 4)), None), at(twin.indices, 3), state.value("backdrop")
    assert seen == {"at once": ((5, 10), [], 4), "next line": ((0, 11), [], 4), "next frame": (None, [], 4)}


def test_a_palette_write_colours_from_its_dot_on():
    """Word 0xF00 in 4-4-4 is full red; black before dot 7 of line 3."""
    twin = both(holding(small_chip({**TEXT, "margin": None})), [PaletteWrite(3, 0, (0xF00,), dot=7)])
    assert twin.rgb[3][6:8] == [(0, 0, 0), (255, 0, 0)]
    assert twin.edge[3:5] == [(0, 0, 0), (255, 0, 0)]


def test_memory_is_written_before_its_line():
    """The bitmap's line 0 is shown on lines 0, 16, 32 and 48; it is written before line 16."""
    twin = both(holding(small_chip(BITMAP)), [MemoryWrite(16, 0, bytes([0xC0]))])
    assert at(twin.indices, 3) == [(0, 16), (0, 32), (0, 48)]


def test_zones_run_two_modes():
    """Split at line 20: tiles above it, the bitmap from there on, whose line 0 lies at the split where its origin is the zone."""
    modes = [{**TILES, "scroll": False}, {**BITMAP, "origin": "zone", "scroll": False}]
    chip = small_chip(layers=[{"name": "a", "modes": modes}], ladder=[{"source": "a"}])
    state = holding(chip, {512: bytes([0xC0])}, a__b__bitmap=512, a__below=1, a__split=20)
    twin = both(state)
    assert at(twin.indices, 3) == [(0, 20), (0, 36), (0, 52)]
    assert twin.counts[19] == {"a.cells": 8, "a.pattern": 8, "a.bitmap": 0}
    assert twin.counts[20] == {"a.cells": 0, "a.pattern": 0, "a.bitmap": 16}


def test_an_exclusive_mode_switches_layers_off_and_brings_its_ladder():
    """Layers a, b, c are opaque all over; b's mode is exclusive and names a, and its ladder puts c in front of b: rung 3, as
    the chip's own ladder has rungs 0 to 2. Where c is off it is rung 4, b. a fetches nothing although it is asked first.
    """
    mode = {**BITMAP, "exclusive": ["a"], "ladder": [{"source": "c"}, {"source": "b"}]}
    twin = both(
        holding(small_chip(BITMAP, mode, BITMAP)), [RegisterWrite(8, "c.enable", 0), RegisterWrite(9, "b.enable", 0)]
    )
    assert [(twin.rung[line][0], twin.source[line][0]) for line in (7, 8, 9)] == [(3, 3), (4, 2), (0, 1)]
    assert twin.counts[7:10] == [
        {"a.bitmap": 0, "b.bitmap": 16, "c.bitmap": 16},
        {"a.bitmap": 0, "b.bitmap": 16, "c.bitmap": 0},
        {"a.bitmap": 16, "b.bitmap": 0, "c.bitmap": 0},
    ]


FOUR = [sprite(number * 10, 30, pattern=1) for number in range(4)]
"""Four sprites side by side on lines 30 to 33; pattern 1 (4 bytes at 512 + 4) is all ones."""
ONES = {512 + 4: b"\xff" * 4}


@pytest.mark.parametrize(
    ("rules", "drops"),
    [
        ({"per_line": 4}, []),
        ({"per_line": 3}, [(3, "count")]),
        ({"per_line": 3, "front": "last"}, [(0, "count")]),
        ({"per_line": 2, "dropped": "front"}, [(1, "count"), (0, "count")]),
        ({"per_line": 2, "dropped": "front", "front": "last"}, [(2, "count"), (3, "count")]),
        ({"dots_per_line": 32}, []),
        ({"dots_per_line": 31}, [(3, "dots")]),
        ({"dots_per_line": 16, "per_line": 3}, [(2, "dots"), (3, "count")]),
    ],
)
def test_limits_drop_in_the_order_of_the_walk(rules, drops):
    """Four sprites of 8 dots. The walk goes from the front, or from the back where the front gives way; from the limit on it
    drops. One access a kept sprite: 8 dots at 1 bit are a byte.
    """
    chip = small_chip({**TEXT, "margin": None}, sprites={**SPRITES, **rules})
    twin = both(holding(chip, ONES, FOUR, sprites__patterns=512))
    assert twin.drops == [(line, *drop) for line in range(30, 34) for drop in drops]
    assert twin.found[29:35] == [0, 4, 4, 4, 4, 0]
    assert twin.drawn[30] == twin.counts[30]["sprites.pattern"] == 4 - len(drops)


def test_a_sprite_wraps_or_leaves():
    """x = 125 of 7 bits: with wrap dots 0 to 2 are off the picture and dots 3 to 7 come in at 0 to 4; y = 126 likewise shows
    rows 2 and 3 on lines 0 and 1. Without wrap nothing shows, and a sprite off to the side is found all the same.
    """
    mode, record = {**TEXT, "margin": None}, sprite(125, 126, pattern=1)
    rules = {**SPRITES, "count": 1, "wrap_x": True, "wrap_y": True}
    twin = both(holding(small_chip(mode, sprites=rules), ONES, [record], sprites__patterns=512))
    assert at(twin.sprite, 0) == [(dot, line) for line in range(2) for dot in range(5)]
    twin = both(holding(small_chip(mode, sprites={**rules, "wrap_y": False}), ONES, [record], sprites__patterns=512))
    assert at(twin.sprite, 0) == []
    beside = sprite(125, 0, pattern=1)
    twin = both(holding(small_chip(mode, sprites={**rules, "wrap_x": False}), ONES, [beside], sprites__patterns=512))
    assert (at(twin.sprite, 0), twin.found[:5]) == ([], [1, 1, 1, 1, 0])


def test_a_sprite_goes_around_where_its_field_ends_inside_the_picture():
    """x counts to 63, the picture is 72 dots wide: at 60 dots 0 to 3 show at 60 to 63, 4 to 7 at 0 to 3, none at 64 to 67."""
    chip = small_chip(
        {**TEXT, "margin": None},
        frame={"width": 72, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 70},
        sprites={**SPRITES, "count": 1, "wrap_x": True, "fields": {**SPRITES["fields"], "x": "5:0"}},
    )
    twin = both(holding(chip, ONES, [sprite(60, 0, pattern=1)], sprites__patterns=512))
    assert at(twin.sprite[:1], 0) == [(dot, 0) for dot in (0, 1, 2, 3, 60, 61, 62, 63)]


def test_the_bias_bit_moves_to_the_left():
    """x = 3 less 5 dots is -2: the last 6 of 8 dots show."""
    fields = {**SPRITES["fields"], "x_bias": "21"}
    chip = small_chip({**TEXT, "margin": None}, sprites={**SPRITES, "count": 1, "fields": fields, "x_bias": 5})
    record = (int.from_bytes(sprite(3, 0, pattern=1), "little") | 1 << 21).to_bytes(3, "little")
    assert at(both(holding(chip, ONES, [record], sprites__patterns=512)).sprite[:1], 0) == [
        (dot, 0) for dot in range(6)
    ]


@pytest.mark.parametrize(("order", "low", "found", "drawn"), [("little", 8, 8, 10), ("big", 16, 4, 8)])
def test_a_table_in_memory_is_fetched(order, low, found, drawn):
    """Records of 6 bytes, accesses of 2: 3 a record. Little end first, y in bits 8 to 23 is in bytes 1 and 2: two accesses for
    each of 4 records, 8, and one more for each drawn sprite: two of them, 10. Big end first, y in bits 16 to 23 is in byte 3: one
    access for each, 4, and two more for each drawn, 8.
    """
    fields = {"x": "47:40", "y": f"23:{low}", "pattern": "2:0"}
    table = {**SPRITES, "table": "memory", "record_bytes": 6, "fields": fields}
    memory = {"size": 1024, "bytes_per_access": 2, "byte_order": order}
    chip = small_chip({**TEXT, "margin": None}, sprites=table, memory=memory)
    records = b"".join((y << low).to_bytes(6, order) for y in (0, 0, 60, 60))
    twin = both(holding(chip, {256: records}, sprites__table=256))
    assert [twin.counts[line]["sprites.table"] for line in (0, 10, 63)] == [drawn, found, drawn]


def test_a_sprite_write_counts_for_its_line():
    """Sprite 0 on lines 30 to 33 is moved to y = 40 before line 32."""
    chip = small_chip({**TEXT, "margin": None}, sprites={**SPRITES, "count": 1})
    twin = both(holding(chip, ONES, FOUR[:1], sprites__patterns=512), [SpriteWrite(32, 1, bytes([40]))])
    assert sorted({line for _, line in at(twin.sprite, 0)}) == [30, 31, 40, 41, 42, 43]


@pytest.mark.parametrize(("resolve", "shown"), [("before the ladder", (1, -1)), ("rung by rung", (0, 1))])
def test_two_ways_to_resolve_sprites(resolve, shown):
    """Sprite 0 (priority 0) lies over sprite 1 (priority 1); the ladder is sprites of priority 1, layer a, other sprites.
    With one line buffer only sprite 0 remains and the opaque layer hides it; rung by rung sprite 1 shows.
    """
    ladder = [{"source": "sprites", "when": "priority = 1"}, {"source": "a"}, {"source": "sprites"}]
    chip = small_chip(BITMAP, sprites={**SPRITES, "resolve": resolve}, ladder=ladder)
    table = [sprite(4, 4, pattern=1), sprite(4, 4, pattern=1, priority=1), sprite(0, 80), sprite(0, 80)]
    twin = both(holding(chip, ONES, table, sprites__patterns=512))
    assert (twin.rung[4][4], twin.sprite[4][4]) == shown


@pytest.mark.parametrize(
    ("hidden", "met"), [(True, [(4, 0, 1, 6), (5, 0, 1, 6), (6, 0, 1, 6), (7, 0, 1, 6)]), (False, [])]
)
def test_hidden_dots_collide_where_the_chip_says(hidden, met):
    """Sprites at x = 4 and 6 share dots 6 to 11 of lines 4 to 7. The opaque layer stands before sprites of priority 0."""
    ladder = [{"source": "sprites", "when": "priority = 1"}, {"source": "a"}, {"source": "sprites"}]
    collisions = {"groups": ["hull", "reef"], "pairs": [["reef", "hull"]], "hidden_dots": hidden}
    chip = small_chip(BITMAP, sprites=SPRITES, ladder=ladder, collisions=collisions)
    table = [
        sprite(4, 4, pattern=1, priority=1),
        sprite(6, 4, pattern=1, group=1),
        sprite(6, 4, pattern=1),
        sprite(0, 80),
    ]
    state = holding(chip, ONES, table, sprites__patterns=512)
    twin = both(state)
    assert [record for record in twin.collisions if record[2] == 1] == met
    assert state.collision_flags == (0b11 if hidden else 0)


def test_what_waits_for_the_next_frame():
    """A next-line register written on the last line and a next-frame register both count from line 0 of the next frame."""
    registers = {"backdrop": {"bits": 4, "effect": "next frame"}, "a.x.foreground": {"bits": 4, "effect": "next line"}}
    state = holding(small_chip({**TEXT, "margin": None}, registers=registers))
    both(state, [RegisterWrite(0, "backdrop", 7), RegisterWrite(69, "a.x.foreground", 3)])
    assert (state.frame, state.line, state.next_frame) == (1, 0, {})
    assert (state.value("backdrop"), state.value("a.x.foreground")) == (7, 3)
    assert both(state).indices[0][:2] == [7, 7]


@pytest.mark.parametrize("name", ["a.x.map", "a.x.glyphs"])
def test_a_base_changed_within_a_character_fetches_it_again(name):
    """Column 3 has dots 20 to 25: a base changed at dot 22 is an eleventh fetch; one changed at dot 20, its first, is not."""
    chip = small_chip(TEXT)
    for dot, fetched in ((20, 10), (22, 11)):
        twin = both(holding(chip), [RegisterWrite(6, name, 32, dot=dot)])
        assert twin.counts[6] == {"a.cells": fetched, "a.glyphs": fetched}


@pytest.mark.parametrize("name", ["map", "patterns"])
def test_a_base_changed_within_a_tile_fetches_it_again(name):
    """Column 2 has dots 16 to 23: 8 fetches with new bytes from dot 16 on, 9 from dot 20 on."""
    chip = small_chip(TILES)
    for dot, fetched in ((16, 8), (20, 9)):
        twin = both(holding(chip), [RegisterWrite(6, f"a.t.{name}", 512, dot=dot)])
        assert twin.counts[6] == {"a.cells": fetched, "a.pattern": fetched}


def test_a_mode_changed_within_a_tile_fetches_it_again():
    """Both modes read the same cells and patterns, yet each for itself: 8 fetches, and one more for the rest of column 2."""
    modes = [TILES, {**TILES, "name": "u"}]
    chip = small_chip(layers=[{"name": "a", "modes": modes}], ladder=[{"source": "a"}])
    twin = both(holding(chip), [RegisterWrite(6, "a.mode", 1, dot=20)])
    assert [counts["a.cells"] for counts in twin.counts[5:8]] == [8, 9, 8]


def test_a_layer_switched_off_and_on_within_a_tile_fetches_it_again():
    """Off at dots 18 and 19 of column 2: nothing shows there, and from dot 20 on the column is fetched once more."""
    chip = small_chip({**TILES, "exclusive": []})
    twin = both(holding(chip), [RegisterWrite(6, "a.enable", 0, dot=18), RegisterWrite(6, "a.enable", 1, dot=20)])
    assert twin.source[6][16:22] == [1, 1, 0, 0, 1, 1]
    assert twin.counts[6] == {"a.cells": 9, "a.pattern": 9}


@pytest.mark.parametrize(
    ("names", "rung", "source"), [(([], []), 3, 3), ((["b"], []), 3, 3), (([], ["a"]), 3, 3), ((["c"], []), 4, 1)]
)
def test_the_first_exclusive_mode_brings_the_ladder(names, rung, source):
    """Layers a and b are both exclusive, each with a ladder: a's, asked first, has rungs 3 (c) and 4 (a) after the chip's 0 to
    2, and is in force even where b, asked later, switches a itself off. b's (rung 5) never is. Rung 4 is where c is off.
    """
    first = {**BITMAP, "exclusive": names[0], "ladder": [{"source": "c"}, {"source": "a"}]}
    second = {**BITMAP, "exclusive": names[1], "ladder": [{"source": "b"}]}
    twin = both(holding(small_chip(first, second, BITMAP)))
    assert (twin.rung[0][0], twin.source[0][0]) == (rung, source)


def test_a_layer_switched_off_earlier_has_no_say():
    """a switches b off, so that b's mode, which names c, does not count: c shows, on the ladder's first rung, and is
    fetched.
    """
    first, second = {**BITMAP, "exclusive": ["b"]}, {**BITMAP, "exclusive": ["c"]}
    ladder = [{"source": "c"}, {"source": "b"}, {"source": "a"}]
    twin = both(holding(small_chip(first, second, BITMAP, ladder=ladder)))
    assert (twin.rung[0][0], twin.source[0][0]) == (0, 3)
    assert twin.counts[0] == {"a.bitmap": 16, "b.bitmap": 0, "c.bitmap": 16}
