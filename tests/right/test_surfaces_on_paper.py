"""Surfaces worked out on paper: oblong tiles, pages in any order, edges with something or nothing outside, doubled dots.

The chips are those of ``paper.py``: 64 x 64 dots of 80 x 70, 1 KiB of one byte an access, entry = value.
"""

from __future__ import annotations

import json
from functools import partial

import paper
import pytest
from paper import BITMAP, TEXT, TILES, holding, small_chip

import vdpsim
from vdpsim.budgets.budget import budget
from vdpsim.chip.controls import controls
from vdpsim.chip.line.costs import mode_costs
from vdpsim.chip.load import parse_chip
from vdpsim.chip.out import chip_text
from vdpsim.state.writes import RegisterWrite

both = partial(paper.both, damage=True)
MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
LEAD = {"when": "in time", "lead": 8}
NUMBERED = {"cell": {"pattern": "7:0"}, "cell_bytes": 1, "bits_per_dot": 8}


def counts(twin, client, line=0):
    """Accesses of ``client`` for ``line``."""
    return twin.counts[line][client]


# Tiles


def test_an_oblong_tile_takes_its_rows_one_after_the_other():
    """Patterns of 16 x 4 dots of one bit: a row is two bytes, a pattern eight. Pattern 1 begins at byte 512 + 8; byte 5 of it is
    the right half of its row 2. Cells 1 of rows 0 and 1 of the map, 16 cells wide, show it, and again 32 lines further down.
    """
    chip = small_chip({**TILES, "tile": [16, 4]})
    state = holding(chip, {1: b"\x01", 17: b"\x01", 512 + 8 + 5: b"\xff"}, a__t__patterns=512)
    twin = both(state)
    dots = [(x, y) for y, row in enumerate(twin.indices) for x, entry in enumerate(row) if entry]
    assert dots == [(x, y) for y in (2, 6, 34, 38) for x in range(24, 32)]


@pytest.mark.parametrize(
    ("tile", "size", "row"), [(8, 8, 1), ([8, 8], 8, 1), ([32, 4], 32, 4), ([24, 12], 24, 3), ([8, 32], 8, 1)]
)
def test_a_tile_costs_what_its_width_says(tile, size, row):
    chip = small_chip({**TILES, "tile": tile})
    assert mode_costs(chip, chip.layers[0].modes[0])[:2] == (size, {"cells": 1, "pattern": row})


def test_one_number_and_two_alike_are_the_same_chip_and_are_written_as_one():
    """A chip that is written reads back as itself, oblong tiles too."""
    square, oblong = small_chip({**TILES, "tile": [16, 16]}), small_chip({**TILES, "tile": [16, 8]})
    assert square == small_chip({**TILES, "tile": 16})
    assert "tile = 16" in chip_text(square)
    assert [parse_chip(chip_text(chip)) for chip in (square, oblong)] == [square, oblong]


@pytest.mark.parametrize("side", [4, 12, 20, 28])
def test_a_turned_tile_of_any_side_costs_an_access_for_each_dot(side):
    """Two bits a dot make a row of ``side`` / 4 bytes; a turned one is fetched dot by dot."""
    mode = {**TILES, "tile": side, "bits_per_dot": 2, "cell": {"pattern": "2:0", "turn": "3"}, "scroll": False}
    chip = small_chip(mode)
    turned = both(holding(chip, dict.fromkeys([0], b"\x08" * 16)))
    plain = both(holding(chip))
    cells = -(-64 // side)
    assert (counts(turned, "a.pattern"), counts(plain, "a.pattern")) == (cells * side, cells * side // 4)


# Pages


@pytest.mark.parametrize(
    ("page_order", "cell_order", "number"),
    [("rows", "rows", 22), ("rows", "columns", 21), ("columns", "rows", 16), ("columns", "columns", 15)],
)
def test_where_a_cell_lies_in_memory(page_order, cell_order, number):
    """3 x 2 pages of 2 x 3 cells. Cell (column 2, row 5) stands in page (1, 1), in its column 0 and row 2.

    By rows it is page 4, of 6 cells each, else page 3; within it cell 4 by rows, 2 by columns: 24 + 4 and so on, here for column
    3, row 3: column 1, row 0 of the page, cell 1 by rows and 3 by columns.
    """
    mode = {
        **TILES,
        **NUMBERED,
        "page": [2, 3],
        "pages": [3, 2],
        "page_order": page_order,
        "cell_order": cell_order,
        "scroll": True,
    }
    chip = small_chip(mode, palette={"entries": 256, "bank_size": 4, "red": "11:8", "green": "7:4", "blue": "3:0"})
    page = {"rows": 1 * 3 + 1, "columns": 1 * 2 + 1}[page_order]
    cell = {"rows": 0 * 2 + 1, "columns": 1 * 3 + 0}[cell_order]
    assert page * 6 + cell == {22: 25, 21: 27, 16: 19, 15: 21}[number]
    state = holding(chip, {page * 6 + cell: b"\x01", 512 + 64: bytes([9] * 64)}, a__t__patterns=512)
    twin = both(state)
    shown = {(x // 8, y // 8) for y, row in enumerate(twin.indices) for x, entry in enumerate(row) if entry == 9}
    # the map is 6 x 6 cells and comes again after them
    assert shown == {(3, 3)}


def test_eight_pages_each_way_and_no_more():
    chip = small_chip({**TILES, "page": [2, 2], "pages": [8, 8]})
    assert (chip.layers[0].modes[0].columns, chip.layers[0].modes[0].map_bytes) == (16, 256)
    with pytest.raises(ValueError, match="pages must be 1 to 8 each way"):
        small_chip({**TILES, "page": [2, 2], "pages": [8, 9]})


# Edges


@pytest.mark.parametrize("outside", [None, 7])
@pytest.mark.parametrize(
    ("scroll", "first", "cells"),
    [(0, 0, 4), (8, 0, 3), (31, 0, 1), (32, 64, 0), (64, 64, 0), (65, 63, 1), (97, 31, 5), (127, 1, 4)],
)
def test_a_map_ends_at_its_edges(scroll, first, cells, outside):
    """A map of 32 dots: a position comes again after 128, the least power of two from 32 + 64 on. Scrolled by 31 a single dot of
    it shows, at dot 0; from 32 on none; scrolled by 65, which is 63 to the right, its first dot shows at dot 63.
    """
    mode = {**TILES, "page": [4, 8], "wrap": False, "cell": {"pattern": "2:0"}}
    chip = small_chip(mode if outside is None else {**mode, "outside": outside})
    state = holding(chip, {512: b"\xff" * 8}, a__t__patterns=512, a__scroll_x=scroll)
    twin = both(state)
    inside = [x for x in range(64) if 0 <= (x + scroll) % 128 < 32]
    around = 0 if outside is None else outside
    assert twin.indices[0] == [1 if x in inside else around for x in range(64)]
    assert (inside[0] if inside else 64) == first
    touched = len({(x + scroll) % 128 // 8 for x in inside})
    assert (counts(twin, "a.cells"), counts(twin, "a.pattern")) == (touched, touched)
    assert abs(touched - cells) <= 1


def test_a_scroll_control_counts_until_a_surface_that_ends_is_out_of_the_picture():
    """32 + 64 dots and 64 + 64 lines are held by 7 bits each; a surface that wraps counts to its own size."""
    for wrap, across, down in ((True, 31, 63), (False, 127, 127)):
        known = controls(small_chip({**TILES, "page": [4, 8], "wrap": wrap}))
        assert (known["a.scroll_x"].top, known["a.scroll_y"].top) == (across, down)


def test_lines_above_and_below_a_bitmap_fetch_nothing():
    """16 lines, scrolled to begin 8 lines down: N is 128, so that is 120. Outside shows entry 5."""
    chip = small_chip({**BITMAP, "wrap": False, "outside": 5})
    twin = both(holding(chip, {0: b"\x55" * 256}, a__scroll_y=120))
    assert [row[0] for row in twin.indices[:26]] == [5] * 8 + [1] * 16 + [5] * 2
    assert [counts(twin, "a.bitmap", line) for line in (7, 8, 23, 24)] == [0, 16, 16, 0]


def test_a_run_of_fetches_is_broken_by_the_outside():
    """In mid-line the register takes the map away for 8 dots and brings it back where it was: its cell is fetched again."""
    chip = small_chip({**TILES, "page": [4, 8], "wrap": False})
    state = holding(chip)
    once = counts(both(state.copy()), "a.cells")
    writes = [RegisterWrite(0, "a.scroll_x", value, dot) for dot, value in ((2, 40), (4, 0))]
    assert counts(both(state, writes), "a.cells") == once + 1


def test_a_budget_knows_the_lines_of_a_surface_that_ends():
    """A line of 64 dots touches 4 cells of a map of 32 dots, or 5 of those that are moved by a part of a cell: never 9."""
    time = {"clients": {"a.cells": LEAD, "a.pattern": LEAD}}
    chip = small_chip({**TILES, "page": [4, 8], "wrap": False}, memory=MEMORY, time=time)
    told = budget(chip)
    assert (told.verdict, told.lines.most["a.cells"]) == ("fits", 4)
    assert budget(small_chip({**TILES, "page": [4, 8]}, memory=MEMORY, time=time)).lines.most["a.cells"] == 9


# Doubled dots


def test_a_doubled_layer_needs_half_the_slots():
    """64 dots of 8 a cell: 9 cells at worst. Each dot two dots wide: cells of 16, 5 at worst; four: 32, 3."""
    time = {"clients": {"a.cells": LEAD, "a.pattern": LEAD}}
    for times, worst in ((1, 9), (2, 5), (4, 3)):
        chip = small_chip({**TILES, "double": [times, 1]}, memory=MEMORY, time=time)
        assert budget(chip).lines.most == {"a.cells": worst, "a.pattern": worst, "refresh": 0}


@pytest.mark.parametrize(("dx", "dy"), [(1, 2), (2, 1), (2, 2), (4, 4)])
def test_each_dot_of_a_map_shows_as_often_as_is_said(dx, dy):
    """Row 1 of the pattern is 0x81: the first and the last dot of a tile."""
    chip = small_chip({**TILES, "double": [dx, dy]})
    twin = both(holding(chip, {512 + 1: b"\x81"}, a__t__patterns=512))
    for y in range(64):
        lit = y // dy % 8 == 1
        assert twin.indices[y] == [int(lit and x // dx % 8 in (0, 7)) for x in range(64)]


def test_a_doubled_surface_is_scrolled_by_dots_of_the_picture():
    """Scrolled by 3, dot 0 of the picture is the second half of the map's dot 1; the map's 128 dots take 256."""
    chip = small_chip({**TILES, "double": [2, 1]})
    assert controls(chip)["a.scroll_x"].top == 255
    twin = both(holding(chip, {512: b"\x40" * 8}, a__t__patterns=512, a__scroll_x=3))
    assert twin.indices[0][:17] == [1] + [0] * 14 + [1, 1]


def test_doubled_text_and_bitmaps():
    """A glyph of 6 x 8 becomes 12 x 16 from dot 2 on, a bitmap of 64 x 16 dots of 2 bits 128 x 32: 8 accesses a line, or 9."""
    chip = small_chip({**TEXT, "double": [2, 2]}, {**BITMAP, "double": [2, 2]})
    state = holding(
        chip, {0: b"\x01" * 40, 512 + 8 + 1: b"\x80", 600: b""}, a__x__glyphs=512, a__x__foreground=3, b__b__bitmap=768
    )
    twin = both(state)
    assert [x for x in range(64) if twin.indices[2][x] == 3] == [x for x in range(64) if (x - 2) % 12 < 2 and 2 <= x]
    assert [x for x in range(64) if twin.indices[4][x] == 3] == []
    assert (counts(twin, "a.cells"), counts(twin, "b.bitmap")) == (6, 8)


def test_a_surface_is_drawn_by_the_ordinary_door(tmp_path):
    """A chip file with all of it, its scene by name: tiles of 16 x 4 dots on pages by columns."""
    chip = small_chip(
        {
            **TILES,
            "tile": [16, 4],
            "page": [2, 2],
            "pages": [2, 3],
            "page_order": "columns",
            "cell_order": "columns",
            "wrap": False,
        }
    )
    blank = "0" * 16
    patterns = json.dumps([blank] * 4 + ["1000000000000001"] + [blank] * 3)
    (tmp_path / "small.chip.toml").write_text(chip_text(chip))
    (tmp_path / "one.scene.toml").write_text(
        'name = "One"\nchip = "small.chip.toml"\n[[palette]]\ncolours = ["#000", "#fff"]\n'
        f'[[patterns]]\nfor = "a.t"\nat = 0\nrows = {patterns}\n'
        '[[maps]]\nfor = "a.t"\nat = [2, 5]\nrows = [[1]]\nfill = 0\n'
    )
    scene = vdpsim.load_scene(tmp_path / "one.scene.toml")
    frame = vdpsim.render(scene)
    # page (1, 2) is number 5 by columns, and its cell (0, 1) number 1: byte 5 x 4 + 1
    start = scene.state(0).value("a.t.map")
    assert scene.state(0).memory[start + 21] == 1
    lit = [(x, y) for y, x in zip(*frame.rgb[:, :, 0].nonzero(), strict=True)]
    assert lit == [(32, 20), (47, 20)]
