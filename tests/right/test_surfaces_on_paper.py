"""Surfaces worked out on paper: oblong tiles, pages in any order, edges and what is outside, doubled dots, colour cells.

The chips are those of ``paper.py``: 64 x 64 dots of 80 x 70, 1 KiB of one byte an access, entry = value.
"""

from __future__ import annotations

import json
from functools import partial

import paper
import pytest
from paper import BITMAP, TEXT, TILES, holding, small_chip
from refusal import refused

import vdpsim
from vdpsim.budgets.budget import budget
from vdpsim.chip.controls import controls
from vdpsim.chip.line.clients import mode_costs
from vdpsim.chip.load import chip_text, parse_chip
from vdpsim.state.writes import RegisterWrite

both = partial(paper.both, damage=True)
MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
LEAD = {"when": "in time", "lead": 8}
FRAME = {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 70}
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
    turned = both(holding(chip, dict.fromkeys([0], b"\x08" * 16)), last=8)
    plain = both(holding(chip), last=8)
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
    twin = both(state, last=8)
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
    twin = both(holding(chip, {512 + 1: b"\x81"}, a__t__patterns=512), last=40)
    for y in range(40):
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


# Colour cells

TWO = {"foreground": "3:0", "background": "7:4"}
CELLS = {"block": [8, 8], "cell_bytes": 1, "cell": TWO}
INK = {"name": "b", "kind": "bitmap", "bits_per_dot": 1, "width": 64, "height": 16}


def test_a_block_shows_its_two_colours():
    """Cell 0x53: foreground 3, background 5. Its block is the second of the second row; the bitmap's dots are 1, 0, 1, 0 ..."""
    chip = small_chip({**INK, "colours": CELLS})
    twin = both(holding(chip, {0: b"\xaa" * 128, 512 + 9: b"\x53"}, a__b__colours=512))
    for y in (8, 15):
        assert twin.indices[y][7:17] == [0, *[3, 5] * 4, 0]
    assert [twin.indices[y][8] for y in (7, 16)] == [0, 0]
    assert (counts(twin, "a.colours"), counts(twin, "a.bitmap")) == (8, 8)


def test_a_number_that_is_given_up_shows_nothing_in_either_place():
    """Backdrop 9 shows where the colour number is 3, be it the foreground's or the background's."""
    chip = small_chip({**INK, "colours": CELLS, "transparent": 3}, frame={**FRAME, "backdrop": 9})
    twin = both(holding(chip, {0: b"\xf0" * 128, 512: b"\x53\x35"}, a__b__colours=512))
    assert twin.indices[0][:16] == [9] * 4 + [5] * 4 + [5] * 4 + [9] * 4


def test_a_bank_of_a_block():
    """Two bits a dot, all of value 1; bank 2 begins at entry 8."""
    mode = {**BITMAP, "colours": {"block": [16, 4], "cell_bytes": 2, "cell": {"bank": "9:8"}}}
    chip = small_chip(mode)
    twin = both(holding(chip, {0: b"\x55" * 256, 512 + 2: b"\x00\x02"}, a__b__colours=512))
    assert twin.indices[3] == [1] * 16 + [9] * 16 + [1] * 32
    assert twin.indices[4] == [1] * 64


@pytest.mark.parametrize(
    ("width", "block", "cell_bytes", "colours", "dots", "size"),
    [
        (1, 8, 1, 1, 1, 8),
        (1, 8, 2, 2, 1, 8),
        (2, 8, 1, 1, 1, 16),
        (2, 8, 2, 2, 1, 16),
        (2, 32, 2, 1, 2, 32),
        (4, 4, 1, 2, 1, 32),
        (8, 64, 1, 1, 1, 64),
    ],
)
def test_what_a_group_costs(width, block, cell_bytes, colours, dots, size):
    """The wider of a block and the 8 x W dots of an access; its cells lie side by side and share accesses."""
    cells = {"block": [block, 8], "cell_bytes": cell_bytes, "cell": TWO}
    chip = small_chip({**INK, "colours": cells}, memory={"size": 1024, "bytes_per_access": width})
    assert mode_costs(chip, chip.layers[0].modes[0])[:2] == (size, {"colours": colours, "bitmap": dots})


@pytest.mark.parametrize("keep", [False, True])
def test_a_bitmap_with_colour_cells_has_its_worst_line_on_paper(keep):
    """64 dots scrolled by a part of a block touch 9 groups: 9 accesses for colours and 9 for dots, in the 8 slots before their
    own dots. Kept, the colours are fetched on the first line of a row of blocks alone.
    """
    time = {"clients": {"a.colours": {**LEAD, "keep": keep}, "a.bitmap": LEAD}}
    chip = small_chip({**INK, "colours": CELLS}, memory=MEMORY, time=time)
    told = budget(chip)
    assert told.verdict == "fits"
    assert told.lines.most == {"a.colours": 9, "a.bitmap": 9, "refresh": 0}
    twin = both(holding(chip, a__b__colours=512, a__scroll_x=3))
    lines = [slots["a.colours"] for slots in twin.slots[:64]]
    assert lines == ([9, *[0] * 7] * 8 if keep else [9] * 64)


def test_colours_that_are_missed_take_their_block_away_and_no_other():
    """One slot of eight is open to the colours, the one before dot 0 shows: only the first of them finds it in time."""
    late = {"when": "in time", "lead": 1, "every": 80, "at": [15]}
    time = {"clients": {"a.colours": late, "a.bitmap": {"when": "blanking"}}}
    chip = small_chip(
        {**INK, "scroll": "none", "colours": CELLS}, memory=MEMORY, time=time, frame={**FRAME, "backdrop": 9}
    )
    twin = both(holding(chip, {0: b"\xff" * 128, 512: b"\x01" * 16}, a__b__colours=512))
    assert twin.indices[0] == [1] * 8 + [9] * 56
    assert (twin.missed[0]["a.colours"], twin.missed[0]["a.bitmap"]) == (7, 0)


def test_keep_is_for_colours_and_not_for_dots():
    """And what is said of colours is written, and reads back."""
    time = {"clients": {"a.colours": {**LEAD, "keep": True}, "a.bitmap": {**LEAD, "keep": False}}}
    chip = small_chip({**INK, "colours": CELLS}, memory=MEMORY, time=time)
    assert parse_chip(chip_text(chip)) == chip
    with refused(vdpsim.InputError, "is for cells and colours, got a.bitmap"):
        parse_chip(chip_text(chip).replace("keep = false", "keep = true"))


def test_colour_cells_by_the_ordinary_door(tmp_path):
    """Cells by name, by rows, and as they lie in a file."""
    chip = small_chip({**INK, "colours": CELLS})
    (tmp_path / "small.chip.toml").write_text(chip_text(chip))
    (tmp_path / "cells").write_bytes(bytes(range(16)))
    head = 'name = "One"\nchip = "small.chip.toml"\n[[bitmaps]]\nfor = "a.b"\nrows = ["1010"]\n'
    told = '[[colours]]\nfor = "a.b"\nfill = {foreground = 1, background = 2}\nat = [1, 1]\n'
    told += "rows = [[{foreground = 4, background = 3}]]\n"
    (tmp_path / "one.scene.toml").write_text(head + '[[colours]]\nfor = "a.b"\nraw = "cells"\n' + told)
    state = vdpsim.load_scene(tmp_path / "one.scene.toml").state(0)
    at = state.value("a.b.colours")
    assert bytes(state.memory[at : at + 16]) == bytes([*range(9), 0x34, *[0x21] * 6])
    for wrong, words in (
        ("fill = {bank = 1}", "must have the fields foreground and background, got bank"),
        ("fill = {foreground = 16, background = 0}", "must be 0 to 15, got 16"),
        ("fill = {foreground = 1, background = 0}\nsize = [9, 1]", "must lie within 8x2 blocks"),
        ('raw = "cells"\nat = [1, 0]', "at must be"),
        ('raw = "cells"\nsize = [3, 3]', "must lie within 8x2 blocks"),
        ('raw = "cells"\nsize = [3, 2]', "must be 6 cells of 1 bytes, got 16 bytes"),
    ):
        (tmp_path / "one.scene.toml").write_text(head + f'[[colours]]\nfor = "a.b"\n{wrong}\n')
        with refused(vdpsim.InputError, words):
            vdpsim.load_scene(tmp_path / "one.scene.toml")
    (tmp_path / "one.scene.toml").write_text(head + '[[colours]]\nfor = "a.c"\nraw = "cells"\n')
    with refused(vdpsim.InputError, "must be a bitmap mode of Small with colour cells: a.b, got 'a.c'"):
        vdpsim.load_scene(tmp_path / "one.scene.toml")


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


THREE = {"foreground": "3:0", "background": "6:4", "priority": "7"}
"""A cell with a bit that rungs ask."""


def test_a_rung_asks_the_priority_of_a_block():
    """Colours 3 and 5 by turns. Backdrop 9 shows where a block's bit is clear: in all but the second of row 1."""
    frame = {**FRAME, "backdrop": 9}
    asked = {"ladder": [{"source": "a", "when": "priority = 1"}], "frame": frame}
    chip = small_chip({**INK, "colours": {**CELLS, "cell": THREE}}, **asked)
    twin = both(holding(chip, {0: b"\xaa" * 128, 512 + 8: b"\x53\xd3"}, a__b__colours=512))
    assert twin.indices[8][:18] == [9] * 8 + [3, 5] * 4 + [9] * 2
    assert twin.indices[7] == [9] * 64
    banked = {**BITMAP, "colours": {"block": [16, 4], "cell_bytes": 2, "cell": {"bank": "9:8", "priority": "1:0"}}}
    asked["ladder"] = [{"source": "a", "when": "priority >= 2"}]
    twin = both(
        holding(small_chip(banked, **asked), {0: b"\x55" * 256, 512: b"\x00\x02\x02\x01\x03\x00"}, a__b__colours=512)
    )
    assert twin.indices[3] == [9] * 16 + [5] * 16 + [1] * 16 + [9] * 16


def test_a_rung_asks_no_other_field_of_a_colour_cell_and_none_that_is_not_there():
    asked = {"ladder": [{"source": "a", "when": "priority = 1"}]}
    text = chip_text(small_chip({**INK, "colours": {**CELLS, "cell": THREE}}, **asked))
    for old, new, words in (
        ('"priority = 1"', '"foreground = 1"', r"must name a field of a \(priority\), got 'foreground'"),
        ('"priority = 1"', '"bank = 1"', r"must name a field of a \(priority\), got 'bank'"),
        ('"priority = 1"', '"priority = 2"', "priority is 0 to 1, got 2"),
        (', priority = "7"', "", r"must name a field of a \(none\), got 'priority'"),
    ):
        assert old in text
        with refused(vdpsim.InputError, words):
            parse_chip(text.replace(old, new))
    assert parse_chip(text) == parse_chip(chip_text(parse_chip(text)))


def test_colour_cells_of_characters_and_one_that_is_written_later(tmp_path):
    """8 x 2 blocks: the text lies in blocks 1 and 2 of row 0 and in 1 of row 1; block 7 of row 1 is written."""
    chip = small_chip({**INK, "colours": {**CELLS, "cell": THREE}})
    (tmp_path / "small.chip.toml").write_text(chip_text(chip))
    head = 'name = "One"\nchip = "small.chip.toml"\n[[bitmaps]]\nfor = "a.b"\nrows = ["1010"]\n'
    told = '[[colours]]\nfor = "a.b"\nat = [1, 0]\ntext = """\no#\n#"""\n'
    told += (
        'key = { o = { foreground = 1, background = 2 }, "#" = { foreground = 15, background = 7, priority = 1 } }\n'
    )
    write = '[[writes]]\nframe = 0\nline = 3\nmap = "a.b"\nat = [7, 1]\ncell = { foreground = 4, background = 3, priority = 1 }\n'
    path = tmp_path / "one.scene.toml"
    path.write_text(head + told + write)
    scene = vdpsim.load_scene(path)
    at = scene.state(0).value("a.b.colours")
    assert bytes(scene.state(0).memory[at : at + 16]) == bytes([0, 0x21, 0xFF, 0, 0, 0, 0, 0, 0, 0xFF, *[0] * 6])
    assert bytes(scene.state(1).memory[at + 8 : at + 16]) == bytes([0, 0xFF, *[0] * 5, 0xB4])
    for old, new, words in (
        ("at = [7, 1]", "at = [8, 1]", r"writes.0.at: must be a column and row of 8x2 blocks, got \[8, 1\]"),
        ("at = [7, 1]", "at = [7, 2]", r"writes.0.at: must be a column and row of 8x2 blocks, got \[7, 2\]"),
        ("foreground = 4", "foreground = 16", "writes.0.cell.foreground: must be 0 to 15, got 16"),
        (
            "foreground = 4",
            "pattern = 4",
            "writes.0.cell: must have the fields foreground and background and may have priority",
        ),
        (
            'map = "a.b"',
            'map = "a.c"',
            "must be a tiles mode of Small, or a bitmap mode with colour cells: a.b, got 'a.c'",
        ),
        (told, "", "writes.0.map: must have colour cells that the scene fills, got 'a.b'"),
        ("o#", "ox", r"colours.0.text: must be a character of key: 'o', '#'; got 'x' at place 1 of line 0"),
        ("o#", "#" * 7 + "o", r"colours.0.text: 8x1 cells at \[1, 0\] must lie within 8x2 blocks"),
        ("key = { o", "key = { oo", "colours.0.key.oo: must have single characters for keys, got 'oo'"),
        ("priority = 1 } }", "priority = 2 } }", "colours.0.key.#.priority: must be 0 to 1, got 2"),
    ):
        assert old in head + told + write
        path.write_text((head + told + write).replace(old, new))
        with refused(vdpsim.InputError, words):
            vdpsim.load_scene(path)
    path.write_text((head + told + write).replace("o#", "#" * 6 + "o"))
    vdpsim.load_scene(path)
