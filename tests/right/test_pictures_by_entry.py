"""Does a picture whose indices are palette entries become the right bytes? Tiles and blocks, with a bank or two colours each."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused
from scenery import load, png

import vdpsim

FRAME = """
name = "Reedling"
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 80
[memory]
size = 8192
bytes_per_access = 1
[palette]
entries = 256
bank_size = {size}
red = "11:8"
green = "7:4"
blue = "3:0"
[[ladder]]
source = "near"
[[layers]]
name = "near"
{more}
"""
MODE = '[[layers.modes]]\nname = "m"\nbits_per_dot = {bits}\n{more}'
TILES = 'kind = "tiles"\ntile = 8\ncell_bytes = 2\ncell = { pattern = "7:0", bank = "9:8" }\npage = [8, 8]\n'
BITMAP = 'kind = "bitmap"\nwidth = 64\nheight = 64\n'
BANKS = BITMAP + 'colours = { block = [8, 4], cell_bytes = 1, cell = { bank = "5:4" } }\n'
INKS = BITMAP + 'colours = { block = [8, 4], cell_bytes = 1, cell = { foreground = "3:0", background = "7:4" } }\n'
MAP = '[[maps]]\nfor = "near.m"\npicture = "art.png"\nmake = true\nbanked = true\n'
DOTS = '[[bitmaps]]\nfor = "near.m"\npng = "art.png"\nbanked = true\n'


def chip(kind: str, bits: int, rule: str = "", size: int = 16, transparent: int | None = None, extra: str = "") -> str:
    """A chip with one mode, whose entries follow ``rule`` and whose value ``transparent`` shows nothing."""
    clear = "" if transparent is None else f"transparent = {transparent}\n"
    mode = MODE.format(bits=bits, more=kind + (f"entries = {{ {rule} }}\n" if rule else "") + clear)
    return FRAME.format(size=size, more=extra + mode)


def parts(scene: vdpsim.Scene) -> dict[str, bytes]:
    """The bytes of each part of the memory map, by the control that has its address."""
    memory = scene.state().memory
    return {row.owner.removeprefix("near.m."): memory[row.start : row.end].tobytes() for row in scene.layout}


def cells(scene: vdpsim.Scene, count: int) -> list[tuple[int, int]]:
    """(pattern, bank) of the first cells of the map."""
    data = np.frombuffer(parts(scene)["map"], "<u2" if scene.chip.memory.byte_order == "little" else ">u2")
    return [(int(word) & 255, int(word) >> 8) for word in data[:count]]


def side_by_side(*blocks: object, down: int = 8) -> np.ndarray:
    """Blocks of 8 dots across, each one entry or the entries of a row, one beside the other."""
    return np.hstack([np.broadcast_to(np.asarray(block, int), (down, 8)) for block in blocks])


# Tiles


def test_banks_of_eight_entries_beside_a_palette_of_sixteen(tmp_path):
    """Values of three bits would be one of 2, 4 and 8 bits in memory: four bits reach two banks of eight each."""
    art = side_by_side(3, 8 + 3, [17, 18] * 4, [31, 16] * 4, [39] * 8)
    scene = load(tmp_path, MAP, chip(TILES, 4, "bank_step = 8"), art_png=png(art))
    # 11 is 11 of bank 0, the lowest; 17 and 18 are 9 and 10 of bank 1, 16 and 31 are 0 and 15 of bank 2, 39 is 15 of bank 3
    assert cells(scene, 5) == [(0, 0), (1, 0), (2, 1), (3, 2), (4, 3)]
    rows = [b"\x33" * 4, b"\xbb" * 4, b"\x9a" * 4, b"\xf0" * 4, b"\xff" * 4]
    assert parts(scene)["patterns"] == b"".join(row * 8 for row in rows)


def test_a_base_and_a_step_from_value_to_value(tmp_path):
    """Base 5, bank step 1, value step 4: bank 1 has 6, 10, 14 and 18."""
    scene = load(
        tmp_path,
        MAP,
        chip(TILES, 2, "base = 5, bank_step = 1, value_step = 4"),
        art_png=png(side_by_side([6, 10, 14, 18] * 2, 5)),
    )
    assert cells(scene, 2) == [(0, 1), (1, 0)]
    assert parts(scene)["patterns"] == b"\x1b\x1b" * 8 + bytes(16)


def test_a_bank_that_shows_all_entries_comes_before_one_that_shows_some_as_nothing(tmp_path):
    """Entry 16 is value 8 of bank 1 and value 0 of bank 2, which shows nothing; 16 and 31 together only bank 2 has."""
    art = side_by_side(16, [16, 31] * 4, 8)
    for clear, banks in ((0, [1, 2, 0]), (8, [2, 2, 1]), (None, [1, 2, 0])):
        made = chip(TILES, 4, "bank_step = 8", transparent=clear)
        assert [bank for _, bank in cells(load(tmp_path, MAP, made, art_png=png(art)), 3)] == banks


def test_banks_of_the_palettes_own_size_keep_their_entries_where_values_reach_beyond_them(tmp_path):
    """Sixteen values and banks of eight: what lies in a bank's own eight is that bank's, as ever; else the lowest has it."""
    art = side_by_side(8, [8, 15] * 4, [7, 8] * 4, [15, 16] * 4)
    scene = load(tmp_path, MAP, chip(TILES, 4, size=8, transparent=0), art_png=png(art))
    assert [bank for _, bank in cells(scene, 4)] == [1, 1, 0, 1]
    rows = [b"\x00" * 4, b"\x07" * 4, b"\x78" * 4, b"\x78" * 4]
    assert parts(scene)["patterns"] == b"".join(row * 8 for row in rows[:3])
    scene = load(tmp_path, MAP, chip(TILES, 4, "bank_step = 8", transparent=0), art_png=png(art))
    assert [bank for _, bank in cells(scene, 4)] == [0, 0, 0, 1]


def test_all_values_alike_show_the_lowest_that_is_opaque(tmp_path):
    for clear, row in ((None, b"\x00"), (0, b"\x55"), (1, b"\x00")):
        made = chip(TILES, 2, "bank_step = 8, value_step = 0", transparent=clear)
        scene = load(tmp_path, MAP, made, art_png=png(side_by_side(8)))
        assert (cells(scene, 1), parts(scene)["patterns"]) == ([(0, 1)], row * 16)


def test_banks_all_alike_are_the_first(tmp_path):
    scene = load(tmp_path, MAP, chip(TILES, 4, "bank_step = 0"), art_png=png(side_by_side(15)))
    assert cells(scene, 1) == [(0, 0)]
    with refused(vdpsim.InputError, r"entries 16 \(64, in no bank\)"):
        load(tmp_path, MAP, chip(TILES, 4, "bank_step = 0"), art_png=png(side_by_side(16)))


def before(tile: np.ndarray, size: int, top: int) -> tuple[int, np.ndarray] | None:
    """Bank and values of a tile as they were counted by the palette's bank size alone; None where that was refused."""
    bank = int(tile[0, 0]) // size
    values = tile - bank * size
    right = bank <= 3 and (values >= 0).all() and (values < size).all() and (values <= top).all()
    return (bank, values) if right else None


def tries(base: int, step: int, each: int, top: int, clear: int | None, tile: set[int]) -> int | None:
    """The bank of a tile, by trying: the lowest that shows all, else the lowest that has all; None where none has."""
    for values in ([v for v in range(top + 1) if v != clear], range(top + 1)):
        for bank in range(4):
            if tile <= {base + bank * step + value * each for value in values}:
                return bank
    return None


@settings(max_examples=settings.default.max_examples // 2)
@given(
    size=st.sampled_from([4, 8, 16, 32]),
    bits=st.sampled_from([1, 2, 4]),
    clear=st.sampled_from([None, 0, 1]),
    rule=st.none() | st.tuples(st.integers(0, 30), st.integers(0, 20), st.integers(0, 5)),
    data=st.data(),
)
def test_what_worked_before_is_as_it_was_and_the_rest_follows_the_rule(tmp_path_factory, size, bits, clear, rule, data):
    """The palette's own rule gives the bank that its size gave; every other one the bank that is found by trying."""
    base, step, each = rule or (0, size, 1)
    top = (1 << bits) - 1
    bank = data.draw(st.integers(0, 3))
    few = st.lists(st.integers(0, top), min_size=1, max_size=2).flatmap(st.sampled_from)
    dots = data.draw(st.lists(few | st.integers(0, top), min_size=8, max_size=8))
    stray = data.draw(st.sampled_from([0, 0, 0, 1, 7]))
    tile = np.broadcast_to(np.array([base + bank * step + value * each for value in dots]) + stray, (8, 8))
    told = "" if rule is None else f"base = {base}, bank_step = {step}, value_step = {each}"
    made = chip(TILES, bits, told, size, clear)
    was = before(tile, size, top) if (base, step, each) == (0, size, 1) else None
    wanted = was[0] if was else tries(base, step, each, top, clear, set(tile.ravel().tolist()))
    folder = tmp_path_factory.mktemp("tile")
    if wanted is None:
        with refused(vdpsim.InputError, "must have all dots in one bank"):
            load(folder, MAP, made, art_png=png(tile))
        return
    scene = load(folder, MAP, made, art_png=png(tile))
    assert cells(scene, 1) == [(0, wanted)]
    shown = vdpsim.render(scene).indices[:8, :8]
    solid = np.ones((8, 8), bool)
    if clear is not None and each:
        solid = tile != base + wanted * step + clear * each
    assert (shown == tile)[solid].all()
    if was:
        digits = "".join(f"{value:0{bits}b}" for value in was[1].ravel().tolist())
        assert parts(scene)["patterns"] == int(digits, 2).to_bytes(len(digits) // 8, "big")


def test_many_banks_are_told_apart(tmp_path):
    """A bank field of eight bits and a step of 1: bank n begins at entry n; more banks than a word of 64 bits counts."""
    wide = TILES.replace('"9:8"', '"15:8"')
    made = chip(wide, 1, "base = 0, bank_step = 1, value_step = 0")
    entries = [0, 63, 64, 127, 128, 255]
    scene = load(tmp_path, MAP, made, art_png=png(side_by_side(*entries)))
    assert [bank for _, bank in cells(scene, 6)] == entries


def test_all_wrong_tiles_are_counted_and_two_are_told(tmp_path):
    art = side_by_side(1, [1, 70] + [1] * 6, [70] * 8, [1, 17] * 4)
    with refused(vdpsim.InputError, "the tile at column 1, row 0 must have all dots in one bank of 16") as caught:
        load(tmp_path, MAP, chip(TILES, 4), art_png=png(art))
    told = str(caught.value)
    assert (
        "(0 to 3) with values 0 to 15, but dots 8 to 15, lines 0 to 7 have entries 70 (8, in no bank), 1 (56);" in told
    )
    rest = "column 2, row 0: dots 16 to 23, lines 0 to 7 have entries 70 (64, in no bank)"
    assert told.endswith(f"3 tiles are wrong, then {rest}; ...")


# Blocks that name a bank


def test_blocks_in_banks_write_dots_and_cells(tmp_path):
    """Blocks of 8 x 4. Entries 2 and 1 are bank 0; 4 and 7 values 0 and 3 of bank 1; below them 12, value 0 of bank 3."""
    art = np.vstack([side_by_side([2, 1] * 4, [4, 7] * 4, down=4), side_by_side(12, 3, down=4)])
    found = parts(load(tmp_path, DOTS, chip(BANKS, 2, size=4), art_png=png(art)))
    assert found["bitmap"][:16].hex() == "9999" + "3333" + "00" * 12
    assert found["bitmap"][4 * 16 : 4 * 16 + 4].hex() == "0000ffff"
    assert found["colours"][:2] + found["colours"][8:10] == b"\x00\x10\x30\x00"
    assert (len(found["bitmap"]), len(found["colours"])) == (64 * 16, 128)


def test_a_block_of_two_banks_is_told_where_it_stands_in_the_bitmap(tmp_path):
    art = side_by_side(1, [3, 4] * 4, down=4)
    told = "the block at column 5, row 2 must .* but dots 8 to 15, lines 0 to 3 have entries 3 \\(16\\), 4 \\(16\\)$"
    with refused(vdpsim.InputError, told):
        load(tmp_path, DOTS + "at = [32, 8]\n", chip(BANKS, 2, size=4), art_png=png(art))


# Blocks of two colours


def test_the_more_frequent_of_two_is_the_background_and_of_two_as_frequent_the_lower(tmp_path):
    """Cells have the background above the foreground. 9 on 4; 4 on 9; half and half: 9 on 4; one alone: both, and no dot set."""
    art = side_by_side([9] + [4] * 7, [4] * 3 + [9] * 5, [9, 4] * 4, 7, down=4)
    found = parts(load(tmp_path, DOTS, chip(INKS, 1), art_png=png(art)))
    assert found["colours"][:5].hex() == "49" + "94" + "49" + "77" + "00"
    assert [found["bitmap"][line * 8 : line * 8 + 5].hex() for line in (0, 3)] == ["80e0aa0000"] * 2
    assert found["bitmap"][32:] == bytes(64 * 8 - 32)


def test_a_picture_lies_from_a_blocks_corner_on_and_tables_of_colours_act_after_it(tmp_path):
    text = DOTS + 'at = [16, 4]\nsubtract = 16\n[[colours]]\nfor = "near.m"\nat = [3, 1]\n'
    text += "rows = [[{ foreground = 1, background = 2 }]]\n"
    found = parts(load(tmp_path, text, chip(INKS, 1), art_png=png(side_by_side([17, 18] * 4, 19, down=4))))
    assert found["colours"][8:13].hex() == "0000" + "12" + "21" + "00"
    assert found["bitmap"][4 * 8 : 4 * 8 + 4].hex() == "00005500"


def test_numbers_count_from_the_base_and_the_bank_that_the_layer_begins_with(tmp_path):
    """Base 2, bank step 16, value step 3: in bank 2 number n is entry 34 + 3n."""
    made = chip(INKS, 1, "base = 2, bank_step = 16, value_step = 3")
    art = png(side_by_side([34, 79] * 2 + [34] * 4, down=4))
    found = parts(load(tmp_path, DOTS + '[registers]\n"near.bank" = 2\n', made, art_png=art))
    assert (found["colours"][:1].hex(), found["bitmap"][:1].hex()) == ("0f", "50")
    told = r"entries 34 \(24, number 11\), 79 \(8, no number\)$"
    with refused(vdpsim.InputError, told):
        load(tmp_path, DOTS, made.replace("base = 2", "base = 1"), art_png=art)


def test_a_number_that_fits_one_field_alone_decides_which_is_which(tmp_path):
    """The foreground has two bits: 3 is its largest number, and 4 can only be a background, however few its dots are."""
    narrow = INKS.replace('"3:0"', '"1:0"')
    art = side_by_side([4, 3, 3, 3, 3, 3, 3, 3], 4, 3, down=4)
    found = parts(load(tmp_path, DOTS, chip(narrow, 1), art_png=png(art)))
    assert (found["colours"][:3].hex(), found["bitmap"][:3].hex()) == ("43" + "40" + "33", "7f0000")
    with refused(
        vdpsim.InputError, r"0 to 3 \(foreground\), 0 to 15 \(background\), but .* have entries 4 \(16\), 5 \(16\)$"
    ):
        load(tmp_path, DOTS, chip(narrow, 1), art_png=png(side_by_side([4, 5] * 4, down=4)))
    narrow = INKS.replace('"7:4"', '"5:4"')
    found = parts(load(tmp_path, DOTS, chip(narrow, 1), art_png=png(side_by_side(4, 3, [4, 4, 4, 3] * 2, down=4))))
    assert (found["colours"][:3].hex(), found["bitmap"][:3].hex()) == ("04" + "33" + "34", "ff00ee")


def test_blocks_with_a_third_entry_are_counted_and_told(tmp_path):
    row = [1, 1, 1, 1, 1, 1, 2, 3]
    with refused(vdpsim.InputError, "the block at column 1, row 0 must have one or two entries") as caught:
        load(tmp_path, DOTS, chip(INKS, 1), art_png=png(side_by_side([1, 2] * 4, row, 5, row, row, row, down=4)))
    told = str(caught.value)
    assert "but dots 8 to 15, lines 0 to 3 have entries 1 (24), 2 (4), 3 (4); 4 blocks are wrong, then column 3" in told
    assert told.endswith("column 3, row 0: dots 24 to 31, lines 0 to 3 have entries 1 (24), 2 (4), 3 (4); ...")
    assert told.count("column ") == 2


@pytest.mark.parametrize("wrong", [15, 16])
def test_the_largest_number_of_a_cell_is_taken_and_none_beyond(tmp_path, wrong):
    art = png(side_by_side([wrong, 0] * 4, down=4))
    if wrong == 15:
        assert parts(load(tmp_path, DOTS, chip(INKS, 1, size=4), art_png=art))["colours"][0] == 0x0F
        return
    with refused(vdpsim.InputError, r"entries 16 \(16, no number\), 0 \(16\)$"):
        load(tmp_path, DOTS, chip(INKS, 1, size=4), art_png=art)


def test_a_block_of_one_entry_without_a_number_is_refused_and_two_blocks_are_all_told(tmp_path):
    with refused(vdpsim.InputError, "the block at column 1, row 0 must") as caught:
        load(tmp_path, DOTS, chip(INKS, 1), art_png=png(side_by_side(15, 16, 0, 17, down=4)))
    assert str(caught.value).endswith(
        "entries 16 (32, no number); 2 blocks are wrong, then column 3, row 0: dots 24 to 31, lines 0 to 3 have "
        "entries 17 (32, no number)"
    )


def test_numbers_count_from_a_bank_that_is_wired(tmp_path):
    """A layer's bank that no register sets and a constant names is what the layer has, and so what the picture counts from."""
    wired = '[[registers]]\nothers = "wired"\n[constants]\n"near.bank" = 3\n"near.m.colours" = 4096\n'
    made = chip(INKS, 1, "bank_step = 16") + wired
    found = parts(load(tmp_path, DOTS, made, art_png=png(side_by_side([48, 63] * 4, down=4))))
    assert found["colours"][:1].hex() == "0f"


@settings(max_examples=settings.default.max_examples // 3)
@given(data=st.data(), inks=st.booleans(), clear=st.sampled_from([None, 0, 1]))
def test_a_picture_of_entries_is_drawn_as_it_was(tmp_path_factory, data, inks, clear):
    """Blocks of two entries, or of a bank each, show just the entries that the picture names, or nothing where one is clear."""
    base, step, each = data.draw(st.tuples(st.integers(0, 20), st.integers(1, 20), st.integers(1, 4)))
    tops = (15, 0) if inks else (3, 3)
    blocks = []
    for _ in range(8):
        bank = data.draw(st.integers(0, tops[1]))
        some = data.draw(st.lists(st.integers(0, tops[0]), min_size=1, max_size=2 if inks else 4))
        dots = data.draw(st.lists(st.sampled_from(some), min_size=32, max_size=32))
        blocks.append(np.array([base + bank * step + value * each for value in dots]).reshape(4, 8))
    art = np.hstack(blocks)
    made = chip(
        INKS if inks else BANKS, 1 if inks else 2, f"base = {base}, bank_step = {step}, value_step = {each}", 16, clear
    )
    backdrop = made.replace("lines_per_frame = 80", "lines_per_frame = 80\nbackdrop = 255")
    scene = load(tmp_path_factory.mktemp("blocks"), DOTS, backdrop, art_png=png(art))
    shown = vdpsim.render(scene).indices[:4]
    nothing = shown == 255
    assert (shown == art)[~nothing].all()
    if clear is None or inks:
        assert np.array_equal(nothing, (art == base + (clear or 0) * each) & (clear is not None))
