"""Does a scene become the right bytes? Each part of a scene file against memory, palette and records worked by hand."""

from __future__ import annotations

import os
import re
import shutil
import struct
import zlib
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused
from scenery import CHIP, load, png, refusal

import vdpsim
from vdpsim.chip.colour import expand, nearest
from vdpsim.files import once, reading, seen_at
from vdpsim.scene.contents.dots import digits, pack, unpack
from vdpsim.scene.contents.patterns import PatternRun, PatternSet
from vdpsim.scene.contents.sprites import SpriteMaker
from vdpsim.scene.findings import WrongError
from vdpsim.state.writes import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite

SCENES = Path(__file__).resolve().parents[2] / "scenes"
BLANK = '"........",' * 8
REEDS = f'[[patterns]]\nname = "reeds"\nfor = "near.tiles"\nrows = [{BLANK} "12345678", {BLANK[:-11]}]\n'
MAP = '[[maps]]\nfor = "near.tiles"\nfill = 0\n'


def region(scene: vdpsim.Scene, owner: str) -> bytes:
    """The bytes of a part of the memory map."""
    row = next(row for row in scene.layout if row.owner == owner)
    return scene.state().memory[row.start : row.end].tobytes()


# Palette


def test_hex_colours_and_packed_words_fill_entries_from_at_on(tmp_path):
    scene = load(tmp_path, '[[palette]]\nat = 2\ncolours = ["#f00", "#00ff00", "#8b8c74", 0x123]\n')
    # 0x8b = 139 = 8.18 x 17, 0x8c = 140 = 8.24 x 17, 0x74 = 116 = 6.82 x 17
    assert scene.state().palette[:7].tolist() == [0, 0, 0xF00, 0x0F0, 0x887, 0x123, 0]


def test_a_pngs_palette_is_taken_from_first_for_count(tmp_path):
    text = '[[palette]]\nat = 60\npng = "art.png"\nfirst = 17\ncount = 4\n'
    scene = load(tmp_path, text, art_png=png([[0]]))
    # colour 17 is (17, 34, 238); 18 (18, 36, 237), 19 (19, 38, 236) and 20 (20, 40, 235) round to the same nibbles
    assert scene.state().palette[60:].tolist() == [0x12E, 0x12E, 0x12E, 0x12E]


def test_the_last_entry_can_be_set_and_none_beyond(tmp_path):
    assert load(tmp_path, '[[palette]]\nat = 63\ncolours = ["#fff"]\n').state().palette[63] == 0xFFF
    assert "palette.0.at: must lie in entries 0 to 63" in refusal(
        tmp_path, '[[palette]]\nat = 64\ncolours = ["#fff"]\n'
    )
    assert load(tmp_path, "[[palette]]\ncolours = [0xFFF]\n").state().palette[0] == 0xFFF
    assert "must be 0x0 to 0xFFF, got 0x1000" in refusal(tmp_path, "[[palette]]\ncolours = [0x1000]\n")


@pytest.mark.parametrize("bits", range(1, 9))
def test_the_nearest_colour_is_nearest_and_the_chips_own_colours_come_back(bits):
    """Expansion floor(v x 255 / (2^b - 1) + 1/2): the Vulkan specification's rule for unsigned normalised values, rounded."""
    shown = [int(value * 255 / ((1 << bits) - 1) + 0.5) for value in range(1 << bits)]
    assert [expand(value, bits) for value in range(1 << bits)] == shown
    assert [nearest(channel, bits) for channel in shown] == list(range(1 << bits))
    for channel in range(256):
        assert abs(shown[nearest(channel, bits)] - channel) == min(abs(one - channel) for one in shown)


# Dots and patterns


@given(st.sampled_from([1, 2, 4, 8]), st.sampled_from(["high", "low"]), st.binary(min_size=1, max_size=8))
def test_bytes_unpack_to_the_dots_that_pack_to_them(bits, first_dot, data):
    packed = np.frombuffer(data, np.uint8)
    dots = unpack(packed, bits, first_dot)
    assert pack(dots, bits, first_dot).tolist() == packed.tolist()
    number = int.from_bytes(data, "big" if first_dot == "high" else "little")
    places = range(len(dots)) if first_dot == "low" else reversed(range(len(dots)))
    assert dots.tolist() == [number >> bits * place & (1 << bits) - 1 for place in places]


def test_rows_of_digits_become_patterns(tmp_path):
    scene = load(tmp_path, REEDS)
    assert region(scene, "near.tiles.patterns") == bytes(32) + bytes.fromhex("12345678") + bytes(28)


def test_two_digits_a_dot_where_a_dot_has_eight_bits(tmp_path):
    chip = CHIP.replace('stride = 10\nfirst_dot = "low"', "").replace(
        "bits_per_dot = 4\nwidth", "bits_per_dot = 8\nwidth"
    )
    chip = chip.replace("entries = 64", "entries = 256")
    scene = load(tmp_path, '[[bitmaps]]\nfor = "far.bitmap"\nat = [14, 7]\nrows = ["fe.1"]\n', chip)
    assert region(scene, "far.bitmap.bitmap") == bytes(7 * 16 + 14) + b"\xfe\x01"


def test_a_value_of_two_digits_that_is_too_large_is_told_as_it_stands_and_with_its_dot():
    with refused(WrongError, r"^values must be 0 to 1f, got '20' at dot 2$"):
        digits(["0a1f20"], 5, None)


def test_a_png_is_cut_left_to_right_and_top_to_bottom(tmp_path):
    picture = np.repeat(np.repeat([[17, 18, 19], [20, 21, 31]], 8, axis=0), 8, axis=1)
    text = '[[patterns]]\nfor = "near.tiles"\nat = 3\npng = "art.png"\nsubtract = 16\n'
    scene = load(tmp_path, text, art_png=png(picture))
    assert region(scene, "near.tiles.patterns") == b"".join(bytes([value * 0x11]) * 32 for value in (1, 2, 3, 4, 5, 15))
    picture[15, 23] = 32
    assert "dot 23 of line 15 has 32 (1 such dots)" in refusal(tmp_path, text, art_png=png(picture))
    taken = load(tmp_path, text + "count = 5\n", art_png=png(picture))
    assert len(region(taken, "near.tiles.patterns")) == 5 * 32


@pytest.mark.parametrize("depth", [1, 2, 4, 8])
def test_grey_pictures_give_the_files_own_values(tmp_path, depth):
    """Greys of 1, 2, 4 and 8 bits, written byte by byte as the PNG specification says (rows of filter type 0)."""
    top = min((1 << depth) - 1, 15)
    values = [(3 * dot) % (top + 1) for dot in range(64)]
    number = [
        sum(value << 8 - depth - bit * depth for bit, value in enumerate(values[at : at + 8 // depth]))
        for at in range(0, 64, 8 // depth)
    ]
    rows = b"".join(b"\0" + bytes(number[at : at + depth]) for at in range(0, len(number), depth))
    chunks = [
        (b"IHDR", struct.pack(">IIBBBBB", 8, 8, depth, 0, 0, 0, 0)),
        (b"IDAT", zlib.compress(rows)),
        (b"IEND", b""),
    ]
    data = b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body)) for kind, body in chunks
    )
    scene = load(tmp_path, '[[patterns]]\nfor = "near.tiles"\npng = "art.png"\n', art_png=data)
    assert unpack(np.frombuffer(region(scene, "near.tiles.patterns"), np.uint8), 4, "high").tolist() == values


def test_raw_patterns_are_taken_as_they_are(tmp_path):
    data = bytes(range(200))
    scene = load(tmp_path, '[[patterns]]\nfor = "near.tiles"\nraw = "art.bin"\noffset = 7\nlength = 64\n', art_bin=data)
    assert region(scene, "near.tiles.patterns") == data[7:71]


def test_patterns_follow_each_other_or_stand_where_at_says(tmp_path):
    one = '[[patterns]]\nfor = "near.tiles"\nrows = ["DDDDDDDD",' + '"........",' * 7 + "]\n"
    text = (
        one.replace("D", "1")
        + one.replace("D", "2")
        + one.replace("D", "3").replace("rows", "at = 5\nrows")
        + one.replace("D", "4")
    )
    found = region(load(tmp_path, text), "near.tiles.patterns")
    assert {at // 32: found[at] >> 4 for at in range(0, len(found), 32)} == {0: 1, 1: 2, 2: 0, 3: 0, 4: 0, 5: 3, 6: 4}


def test_the_last_pattern_number_is_taken_and_one_more_is_not(tmp_path):
    text = REEDS.replace("for =", "at = 254\nfor =")
    assert "near.tiles.patterns" in load(tmp_path, text).memory_map()
    assert "numbers of near.tiles go from 0 to 255, got 255 to 256" in refusal(tmp_path, text.replace("254", "255"))


def test_a_glyph_row_is_a_byte_with_the_leftmost_dot_on_the_chips_side(tmp_path):
    text = '[[patterns]]\nfor = "status.text"\nat = 65\nrows = ["1.1..1",' + '"......",' * 7 + "]\n"
    assert region(load(tmp_path, text), "status.text.glyphs") == bytes([0b10100100]) + bytes(7)
    low = CHIP.replace("glyph = [6, 8]", 'glyph = [6, 8]\nfirst_dot = "low"')
    assert region(load(tmp_path, text, low), "status.text.glyphs") == bytes([0b100101]) + bytes(7)


def test_a_pngs_dots_other_than_0_are_glyph_dots(tmp_path):
    picture = np.zeros((8, 12), int)
    picture[0, 0] = picture[7, 11] = 200
    scene = load(tmp_path, '[[patterns]]\nfor = "status.text"\npng = "art.png"\n', art_png=png(picture))
    assert region(scene, "status.text.glyphs") == b"\x80" + bytes(14) + b"\x04"


def test_the_built_in_font_stands_at_its_characters(tmp_path):
    scene = load(tmp_path, '[[patterns]]\nfor = "status.text"\nfont = "builtin"\n')
    row = scene.layout[0]
    glyphs = scene.state().memory[row.start : row.end].reshape(95, 8)
    assert row.end - row.start == 95 * 8
    assert row.start % 2 == 0
    assert not glyphs[0].any()
    # T: a bar of five dots, then the middle dot, six dots wide with the last one free
    assert [f"{byte:08b}"[:6] for byte in glyphs[ord("T") - 32]] == ["111110"] + ["001000"] * 6 + ["000000"]
    assert len({glyph.tobytes() for glyph in glyphs}) == 95
    assert not (glyphs & 0b11).any()


@pytest.mark.parametrize(
    ("size", "left", "lines"), [("[6, 8]", 0, 8), ("[8, 8]", 1, 8), ("[7, 12]", 1, 12), ("[8, 16]", 1, 16)]
)
def test_the_font_fits_cells_of_many_sizes(tmp_path, size, left, lines):
    chip = CHIP.replace("glyph = [6, 8]", f"glyph = {size}")
    scene = load(tmp_path, '[[patterns]]\nfor = "status.text"\nfont = "builtin"\n', chip)
    row = scene.layout[0]
    glyphs = scene.state().memory[row.start : row.end].reshape(95, lines)
    bar = [byte for byte in glyphs[ord("T") - 32].tolist() if byte == 0xF8 >> left]
    assert len(bar) == (2 if lines == 16 else 1)


@pytest.mark.parametrize("size", ["[5, 8]", "[8, 7]"])
def test_the_font_does_not_fit_smaller_cells(tmp_path, size):
    chip = CHIP.replace("glyph = [6, 8]", f"glyph = {size}")
    said = refusal(tmp_path, '[[patterns]]\nfor = "status.text"\nfont = "builtin"\n', chip)
    assert "glyphs of 6 to 8 dots across and 8 to 16 down" in said


def test_sprite_patterns_count_by_the_smallest_size(tmp_path):
    text = """[[patterns]]
name = "heron"
for = "sprites"
size = [16, 16]
png = "art.png"
[[patterns]]
name = "egg"
for = "sprites"
raw = "egg.bin"
[[sprites]]
name = "one"
x = 1
y = 2
pattern = "heron+1"
size = [16, 16]
[[sprites]]
name = "two"
x = 3
y = 4
pattern = "egg"
"""
    scene = load(tmp_path, text, art_png=png(np.full((16, 32), 3)), egg_bin=bytes(range(16)))
    # 8x8 dots of 2 bits are 16 bytes, a 16x16 is 64: numbers 0 and 4 are the herons, 8 is the egg
    assert region(scene, "sprites.patterns") == b"\xff" * 128 + bytes(range(16))
    table = region(scene, "sprites.table")
    assert [table[at + 2] for at in (0, 6)] == [4, 8]


# Maps


def test_cells_are_packed_with_the_chips_layout_and_byte_order(tmp_path):
    text = (
        REEDS
        + """[[maps]]
for = "near.tiles"
at = [1, 0]
rows = [["reeds+1", { pattern = 1, bank = 2, flip_y = 1 }, { pattern = "reeds", turn = 1, priority = 7, flip_x = 1 }]]
"""
    )
    found = region(load(tmp_path, text), "near.tiles.map")
    assert found[:8].hex() == "0000" + "0001" + "0a01" + "f400"
    assert not any(found[8:])
    little = load(tmp_path, text, CHIP.replace('byte_order = "big"', ""))
    assert region(little, "near.tiles.map")[:8].hex() == "0000" + "0100" + "010a" + "00f4"


def test_pages_lie_one_after_another(tmp_path):
    rows = ", ".join(f"[{', '.join(str(row * 8 + column) for column in range(8))}]" for row in range(4))
    text = '[[patterns]]\nfor = "near.tiles"\nraw = "art.bin"\n' + f'[[maps]]\nfor = "near.tiles"\nrows = [{rows}]\n'
    found = region(load(tmp_path, text, art_bin=bytes(32 * 32)), "near.tiles.map")
    assert list(found[1::2]) == [
        *(0, 1, 2, 3, 8, 9, 10, 11),
        *(4, 5, 6, 7, 12, 13, 14, 15),
        *(16, 17, 18, 19, 24, 25, 26, 27),
        *(20, 21, 22, 23, 28, 29, 30, 31),
    ]
    assert not any(found[0::2])


def test_fill_comes_first_and_set_holds_where_a_cell_says_nothing(tmp_path):
    text = (
        REEDS
        + '''[[maps]]
for = "near.tiles"
at = [2, 1]
size = [2, 2]
fill = { pattern = 1, bank = 1 }
set = { bank = 3, priority = 1 }
text = """
#.
"""
key = { "#" = 0, "." = { pattern = 1, bank = 2 } }
'''
    )
    scene = load(tmp_path, text)
    words = np.frombuffer(region(scene, "near.tiles.map"), ">u2")
    # rows 1 and 2 lie in different pages: page 0 from word 0, page 2 from word 16; four cells a row
    assert {at: f"{word:04x}" for at, word in enumerate(words.tolist()) if word} == {
        6: "2300",
        7: "2201",
        18: "2101",
        19: "2101",
    }


def test_fill_reaches_to_the_maps_end(tmp_path):
    words = np.frombuffer(
        region(load(tmp_path, REEDS + MAP.replace("0", "1") + "at = [7, 3]\n"), "near.tiles.map"), ">u2"
    )
    assert [at for at, word in enumerate(words.tolist()) if word] == [31]


def test_raw_cells_lie_as_in_memory_or_fill_a_rectangle(tmp_path):
    data = bytes([0, 1, 0, 0, 0x0A, 1, 0x80, 1])
    whole = REEDS + '[[maps]]\nfor = "near.tiles"\nraw = "map.bin"\n'
    assert region(load(tmp_path, whole, map_bin=data), "near.tiles.map")[:10] == data + bytes(2)
    part = np.frombuffer(
        region(
            load(tmp_path, whole + "at = [4, 1]\nsize = [1, 4]\n".replace("4]\n", "2]\n"), map_bin=data[:4]),
            "near.tiles.map",
        ),
        ">u2",
    )
    assert {at: word for at, word in enumerate(part.tolist()) if word} == {12: 1}


def test_later_tables_write_over_earlier_ones(tmp_path):
    words = np.frombuffer(
        region(load(tmp_path, REEDS + MAP + MAP.replace("fill = 0", "rows = [[1]]")), "near.tiles.map"), ">u2"
    )
    assert words[:3].tolist() == [1, 0, 0]


def test_a_cell_may_name_the_last_pattern_loaded_and_not_the_next(tmp_path):
    assert load(tmp_path, REEDS + MAP.replace("0", "1")).name == "Test"
    assert "maps.0.fill.pattern: pattern must be one that is loaded" in refusal(tmp_path, REEDS + MAP.replace("0", "2"))


@pytest.mark.parametrize(("field", "top"), [("bank", 3), ("flip_x", 1), ("turn", 1), ("priority", 7)])
def test_a_fields_last_value_is_taken_and_the_next_is_not(tmp_path, field, top):
    text = REEDS + MAP.replace("fill = 0", f"fill = {{ pattern = 0, {field} = {top} }}")
    assert load(tmp_path, text).name == "Test"
    assert f"{field} must be 0 to {top} in a cell of near.tiles, got {top + 1}" in refusal(
        tmp_path, text.replace(f"{field} = {top}", f"{field} = {top + 1}")
    )


@pytest.mark.parametrize(
    ("field", "tile"),
    [
        ({}, "12../3.../..../...."),
        ({"flip_x": 1}, "..21/...3/..../...."),
        ({"flip_y": 1}, "..../..../3.../12.."),
        ({"flip_x": 1, "flip_y": 1}, "..../..../...3/..21"),
        ({"turn": 1}, "..31/...2/..../...."),  # a quarter turn clockwise: the left column becomes the top row
        ({"turn": 1, "flip_x": 1}, "13../2.../..../...."),
        ({"turn": 1, "flip_y": 1}, "..../..../...2/..31"),
        ({"turn": 1, "flip_x": 1, "flip_y": 1}, "..../..../2.../13.."),
    ],
)
def test_a_pictures_tiles_are_found_through_turn_and_flips(tmp_path, field, tile):
    """The corner of the pattern is 1 2 / 3; each picture has it where the chip would show it."""
    first = "".join(f'"{row}",' for row in ["12......", "3.......", *["........"] * 6])
    small = [row.replace(".", "0") for row in tile.split("/")]
    picture = np.zeros((8, 8), int)
    for line, row in enumerate(small):
        for dot, value in enumerate(row):
            picture[line if line < 2 else line + 4, dot if dot < 2 else dot + 4] = int(value)
    text = f'[[patterns]]\nfor = "near.tiles"\nrows = [{first}]\n[[maps]]\nfor = "near.tiles"\npicture = "art.png"\n'
    word = np.frombuffer(region(load(tmp_path, text, art_png=png(picture)), "near.tiles.map"), ">u2")[0]
    assert word == sum(value << {"flip_x": 10, "flip_y": 11, "turn": 12}[name] for name, value in field.items())


def test_make_adds_each_distinct_tile_once_behind_the_others(tmp_path):
    a, b = np.zeros((8, 8), int), np.zeros((8, 8), int)
    a[0, 0], b[0, 1] = 5, 6
    picture = np.hstack([a, b, a[:, ::-1], b[::-1], np.zeros((8, 8), int)])
    text = (
        REEDS + '[[maps]]\nfor = "near.tiles"\nat = [0, 3]\npicture = "art.png"\nmake = true\nset = { priority = 5 }\n'
    )
    scene = load(tmp_path, text, art_png=png(picture))
    assert region(scene, "near.tiles.patterns")[64:] == b"\x50" + bytes(31) + b"\x06" + bytes(31)
    words = np.frombuffer(region(scene, "near.tiles.map"), ">u2")
    assert [f"{word:04x}" for word in words[20:24].tolist()] == ["a002", "a003", "a402", "a803"]
    assert f"{words[28]:04x}" == "a000"


def test_a_banked_picture_gives_each_tile_its_bank(tmp_path):
    picture = np.hstack([np.full((8, 8), 3), np.full((8, 8), 16 + 3), np.full((8, 8), 3 * 16 + 15)])
    text = '[[maps]]\nfor = "near.tiles"\npicture = "art.png"\nmake = true\nbanked = true\n'
    scene = load(tmp_path, text, art_png=png(picture))
    assert region(scene, "near.tiles.map")[:6].hex() == "0000" + "0100" + "0301"
    assert region(scene, "near.tiles.patterns") == b"\x33" * 32 + b"\xff" * 32
    picture[3, 9] = 2
    assert "tile at column 1, row 0 must have all dots in one bank of 16" in refusal(
        tmp_path, text, art_png=png(picture)
    )
    picture[:, 8:16] = 64
    assert "(0 to 3) with values 0 to 15" in refusal(tmp_path, text, art_png=png(picture))


@settings(max_examples=settings.default.max_examples // 3)
@given(data=st.data())
def test_a_picture_that_becomes_a_map_is_drawn_as_it_was(tmp_path_factory, data):
    chip, lacking = CHIP, []
    for name, bits in (("flip_x", "10"), ("flip_y", "11"), ("turn", "12")):
        if not data.draw(st.booleans(), name):
            lacking.append(name)
            chip = chip.replace(f'{name} = "{bits}", ', "", 1)
    stock = np.array(data.draw(st.lists(st.binary(min_size=64, max_size=64), min_size=1, max_size=3)), "S64")
    tiles = np.frombuffer(stock.tobytes(), np.uint8).reshape(-1, 8, 8) % data.draw(st.sampled_from([2, 16]))
    pick = st.tuples(st.integers(0, len(tiles) - 1), st.integers(0, 7), st.integers(0, 3))
    grid = [[data.draw(pick) for _ in range(8)] for _ in range(4)]
    picture = np.vstack(
        [np.hstack([turned(tiles[number], way) + 16 * bank for number, way, bank in row]) for row in grid]
    )
    text = '[[maps]]\nfor = "near.tiles"\npicture = "art.png"\nmake = true\nbanked = true\n'
    off = '[registers]\n"far.enable" = 0\n"status.enable" = 0\n"sprites.enable" = 0\n'
    scene = load(
        tmp_path_factory.mktemp("map"), text + off, chip.replace("transparent = 0\n", "", 1), art_png=png(picture)
    )
    assert vdpsim.render(scene).indices[:32].tolist() == picture.tolist()
    if not lacking:
        assert len(region(scene, "near.tiles.patterns")) <= 32 * len(tiles)


def turned(tile: np.ndarray, way: int) -> np.ndarray:
    tile = tile.T if way & 4 else tile
    tile = tile[:, ::-1] if way & 1 else tile
    return tile[::-1] if way & 2 else tile


# Bitmaps and text


def test_a_bitmaps_dots_lie_line_by_line_with_its_stride(tmp_path):
    text = '[[bitmaps]]\nfor = "far.bitmap"\nat = [1, 2]\nrows = ["123", "45f"]\n'
    found = region(load(tmp_path, text), "far.bitmap.bitmap")
    # the low half of a byte is the left dot: . 1 2 3 is 10 32; 10 bytes from line to line; the last line has 8
    assert len(found) == 7 * 10 + 8
    assert found == bytes(20) + b"\x10\x32" + bytes(8) + b"\x40\xf5" + bytes(46)


def test_a_png_and_raw_bytes_fill_a_bitmap(tmp_path):
    text = '[[bitmaps]]\nfor = "far.bitmap"\nraw = "all.bin"\n'
    text += '[[bitmaps]]\nfor = "far.bitmap"\nat = [15, 7]\npng = "art.png"\nsubtract = 32\n'
    scene = load(tmp_path, text, all_bin=bytes(range(78)), art_png=png([[34]]))
    assert region(scene, "far.bitmap.bitmap") == bytes(range(77)) + bytes([0x20 | 77 & 15])
    assert "must be at most 78 bytes from line 0 on, got 79" in refusal(tmp_path, text, all_bin=bytes(79))


def test_text_lies_in_cells_with_its_colours(tmp_path):
    text = '[[text]]\nfor = "status.text"\nat = [7, 1]\ntext = "AB\\n~C"\nforeground = 12\n'
    words = np.frombuffer(region(load(tmp_path, text), "status.text.map"), ">u2")
    assert {at: f"{word:03x}" for at, word in enumerate(words.tolist()) if word} == {
        17: "c41",
        18: "c42",
        27: "c7e",
        28: "c43",
    }


def test_text_ends_with_the_row_and_the_last_row(tmp_path):
    text = '[[text]]\nfor = "status.text"\nat = [8, 2]\ntext = "AB"\n'
    assert region(load(tmp_path, text), "status.text.map")[56:] == b"\x01A\x01B"
    assert "must lie within 10x3 cells" in refusal(tmp_path, text.replace("AB", "ABC"))
    assert "must lie within 10x3 cells" in refusal(tmp_path, text.replace("AB", "A\\nB"))
    assert "text.0.foreground: must be 0 to 15, got 16" in refusal(tmp_path, text + "foreground = 16\n")
    assert "text.0.background: is no field" in refusal(tmp_path, text + "background = 0\n")


# Sprites

HERON = '[[patterns]]\nname = "heron"\nfor = "sprites"\nraw = "art.bin"\n'


def sprite(**fields: object) -> str:
    told = {"name": "bird", "x": 0, "y": 0, "pattern": 0, **fields}
    return "[[sprites]]\n" + "".join(f"{name} = {value!r}\n" for name, value in told.items())


def record(tmp_path, text: str, chip: str = CHIP) -> str:
    return region(load(tmp_path, HERON + text, chip, art_bin=bytes(64)), "sprites.table")[:6].hex()


@pytest.mark.parametrize(
    ("fields", "bytes_"),
    [
        ({"x": 255, "y": 255}, "ffff00080000"),  # enable, bit 19, is set where it is left out
        ({"x": 16, "y": 32, "pattern": "heron+3", "bank": 3}, "102003080003"),
        ({"flip_x": 1, "group": "fish", "enable": 0}, "000000600000"),
        ({"size": 1, "group": 1}, "000000980000"),
        ({"x": -16}, "0000000c0000"),  # 16 to the left with the bias bit, 18
        ({"x": -1}, "0f00000c0000"),
        ({"x": 3, "x_bias": 1}, "0300000c0000"),
        ({"y": -1}, "00ff00080000"),
        ({"y": -256}, "000000080000"),
    ],
)
def test_a_sprites_record(tmp_path, fields, bytes_):
    assert record(tmp_path, sprite(**fields)) == bytes_


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"x": 256}, "sprites.bird.x: must be -16 to 255, got 256"),
        ({"x": -17}, "sprites.bird.x: must be -16 to 255, got -17"),
        ({"y": 256}, "sprites.bird.y: must be -256 to 255, got 256"),
        ({"y": -257}, "sprites.bird.y: must be -256 to 255, got -257"),
        ({"pattern": 4}, "sprites.bird.pattern: must be a pattern that is loaded"),
        (
            {"pattern": 1, "size": 1},
            "sprites.bird.pattern: must be a pattern that is loaded, all 64 bytes of 16x16 dots",
        ),
        ({"group": 4}, "sprites.bird.group: must be 0 to 3, got 4"),
    ],
)
def test_a_sprites_fields_end_where_the_record_does(tmp_path, fields, words):
    assert words in refusal(tmp_path, HERON + sprite(**fields), art_bin=bytes(64))


def test_x_wraps_where_the_chip_says_so(tmp_path):
    chip = CHIP.replace("x_bias = 16", "wrap_x = true").replace('x_bias = "18", ', "")
    assert record(tmp_path, sprite(x=-3), chip) == "fd0000080000"


def test_sprites_take_their_numbers_and_the_free_ones_between(tmp_path):
    text = (
        sprite(name="a", x=1)
        + sprite(name="b", x=2, number=0)
        + sprite(name="c", x=3, number=2)
        + sprite(name="d", x=4)
    )
    scene = load(tmp_path, HERON + text, art_bin=bytes(64))
    assert scene.sprite_names == {"b": 0, "c": 2, "a": 1, "d": 3}
    assert [region(scene, "sprites.table")[at] for at in (0, 6, 12, 18)] == [2, 1, 3, 4]
    assert "the sprite table has 4" in refusal(tmp_path, HERON + text + sprite(name="e"), art_bin=bytes(64))


def test_records_that_no_sprite_takes_are_off_or_below_the_picture(tmp_path):
    assert region(load(tmp_path, HERON + sprite(), art_bin=bytes(64)), "sprites.table")[6:] == bytes(18)
    chip = CHIP.replace('enable = "19", ', "")
    assert (
        region(load(tmp_path, HERON + sprite(), chip, art_bin=bytes(64)), "sprites.table")[6:12].hex() == "004000000000"
    )


@pytest.mark.parametrize(
    ("height", "bits", "wraps", "y"),
    [
        (64, 7, True, 64),
        (64, 6, False, 0),
        (65, 7, False, 65),
        (120, 7, True, 120),
        (121, 7, True, 0),
        (127, 7, False, 127),
    ],
)
def test_a_record_below_the_picture_never_comes_in_again_at_the_top(tmp_path, height, bits, wraps, y):
    """A sprite of 8 lines below 120 lines just ends where y of 7 bits comes round; below 121 it would show on line 0."""
    chip = CHIP.replace('enable = "19", ', "").replace('y = "39:32"', f'y = "{31 + bits}:32"')
    chip = chip.replace("wrap_y = true", f"wrap_y = {str(wraps).lower()}")
    chip = chip.replace("height = 64", f"height = {height}").replace("lines_per_frame = 80", "lines_per_frame = 128")
    assert region(load(tmp_path, HERON + sprite(), chip, art_bin=bytes(64)), "sprites.table")[7] == y


def test_a_table_on_the_chip_takes_no_memory(tmp_path):
    chip = CHIP.replace('table = "memory"', 'table = "chip"')
    scene = load(tmp_path, HERON + sprite(number=2, x=5, y=6), chip, art_bin=bytes(64))
    assert [row.owner for row in scene.layout] == ["sprites.patterns"]
    assert scene.state().sprites.tolist() == [[0] * 6, [0] * 6, [5, 6, 0, 8, 0, 0], [0] * 6]


# Memory layout


def test_parts_are_laid_out_in_order_at_multiples_of_their_steps(tmp_path):
    text = (
        REEDS
        + HERON
        + sprite()
        + MAP
        + '[[text]]\nfor = "status.text"\ntext = "A"\n[[bitmaps]]\nfor = "far.bitmap"\nrows = ["1"]\n'
    )
    scene = load(tmp_path, text, art_bin=bytes(64))
    # map 64 bytes; bitmap 78; text 60; table 24; tile patterns at a multiple of 32; sprite patterns at one of 4
    assert [(row.start, row.end, row.owner) for row in scene.layout] == [
        (0, 64, "near.tiles.map"),
        (64, 142, "far.bitmap.bitmap"),
        (142, 202, "status.text.map"),
        (202, 226, "sprites.table"),
        (256, 320, "near.tiles.patterns"),
        (320, 384, "sprites.patterns"),
    ]
    state = scene.state()
    assert {row.owner: row.start for row in scene.layout} == {row.owner: state.value(row.owner) for row in scene.layout}


def test_the_memory_map_is_printed_with_what_is_free(tmp_path):
    scene = load(tmp_path, REEDS + MAP + '[registers]\n"near.tiles.patterns" = 0x1FC0\n')
    assert scene.memory_map().splitlines() == [
        "   first      last     bytes  owner",
        "  0x0000    0x003F        64  near.tiles.map",
        "  0x0040    0x1FBF      8064  (free)",
        "  0x1FC0    0x1FFF        64  near.tiles.patterns",
        "128 of 8192 bytes used, 8064 free",
    ]


def test_memory_is_used_to_its_last_byte_and_not_beyond(tmp_path):
    text = REEDS + '[registers]\n"near.tiles.patterns" = 0x1FC0\n'
    assert load(tmp_path, text).layout[-1].last == 0x1FFF
    assert "near.tiles.patterns 0x1FE0 to 0x201F lies beyond memory, which ends at 0x1FFF" in refusal(
        tmp_path, text.replace("0x1FC0", "0x1FE0")
    )


def test_parts_may_touch_and_not_overlap(tmp_path):
    text = REEDS + MAP + '[registers]\n"near.tiles.patterns" = 0x100\n"near.tiles.map" = 0x140\n'
    assert [row.start for row in load(tmp_path, text).layout] == [0x100, 0x140]
    other = text.replace("0x100", "0x180")
    assert [row.start for row in load(tmp_path, other).layout] == [0x140, 0x180]  # 64 bytes each, the other way round
    found = refusal(tmp_path, text.replace("0x140", "0x13E"))
    assert (
        "near.tiles.patterns 0x0100 to 0x013F overlaps near.tiles.map 0x013E to 0x017D: they share 0x013E to 0x013F"
        in found
    )


def test_what_is_placed_by_itself_goes_around_what_is_fixed(tmp_path):
    scene = load(tmp_path, REEDS + MAP + '[registers]\n"near.tiles.patterns" = 0x20\n')
    assert {row.owner: row.start for row in scene.layout} == {"near.tiles.patterns": 0x20, "near.tiles.map": 0x60}


def test_memory_that_is_just_full_is_enough(tmp_path):
    text = '[[patterns]]\nfor = "near.tiles"\nraw = "art.bin"\n' + MAP
    chip = CHIP.replace("size = 8192", "size = 256")
    assert [row.start for row in load(tmp_path, text, chip, art_bin=bytes(192)).layout] == [0, 64]
    assert (
        "near.tiles.patterns finds no room for 224 bytes at a multiple of 0x20 up to 0xE0; free: 0x40 to 0xFF"
        in refusal(tmp_path, text, chip, art_bin=bytes(224))
    )


TWO = CHIP.replace(
    '[[layers]]\nname = "far"',
    '[[layers]]\nname = "middle"\n[[layers.modes]]\nname = "tiles"\nkind = "tiles"\ntile = 8\nbits_per_dot = 4\ncell_bytes = 2\n'
    'cell = { pattern = "7:0" }\npage = [8, 8]\n[[layers]]\nname = "far"',
)


def test_modes_share_patterns_by_sharing_their_address(tmp_path):
    text = REEDS + '[[maps]]\nfor = "middle.tiles"\nrows = [["reeds+1", 0, 1]]\n'
    shared = text + '[registers]\n"near.tiles.patterns" = 0x400\n"middle.tiles.patterns" = 0x400\n'
    assert region(load(tmp_path, shared, TWO), "middle.tiles.map")[:6].hex() == "000100000001"
    behind = (
        text.replace("0, 1", "2, 3") + '[registers]\n"near.tiles.patterns" = 0x440\n"middle.tiles.patterns" = 0x400\n'
    )
    assert region(load(tmp_path, behind, TWO), "middle.tiles.map")[:6].hex() == "000300020003"
    apart = text + '[registers]\n"near.tiles.patterns" = 0x400\n"middle.tiles.patterns" = 0x420\n'
    assert "middle.tiles: none; got 1" in refusal(tmp_path, apart, TWO)


def test_registers_are_set_and_the_others_keep_their_reset_values(tmp_path):
    state = load(tmp_path, '[registers]\nbackdrop = 63\n"near.scroll_x" = 63\n"near.enable" = 0\n').state()
    assert [state.value(name) for name in ("backdrop", "near.scroll_x", "near.enable", "far.enable")] == [63, 63, 0, 1]
    assert "backdrop takes 0 to 63, got 64" in refusal(tmp_path, "[registers]\nbackdrop = 64\n")


def test_another_chip_can_show_the_same_scene(tmp_path):
    scene = load(tmp_path, REEDS + MAP)
    (tmp_path / "other.chip.toml").write_text(CHIP.replace("Reedling", "Other").replace("8192", "4096"), "utf-8")
    other = vdpsim.load_scene(scene.path, vdpsim.load_chip(tmp_path / "other.chip.toml"))
    assert (scene.chip.name, other.chip.name, len(other.state().memory)) == ("Reedling", "Other", 4096)


# Timed writes


def timed(tmp_path, text: str, frame: int = 0) -> list[object]:
    return list(load(tmp_path, REEDS + MAP + HERON + sprite(x=9) + text, art_bin=bytes(64)).writes(frame))


def test_a_register_write(tmp_path):
    text = '[[writes]]\nline = 79\ndot = 79\nregister = "near.scroll_x"\nvalue = 63\n'
    assert timed(tmp_path, text) == [RegisterWrite(79, "near.scroll_x", 63, 79)]
    assert "must be lines of the frame, 0 to 79, got 80" in refusal(tmp_path, text.replace("line = 79", "line = 80"))
    assert "must be a dot of the line, 0 to 79, got 80" in refusal(tmp_path, text.replace("dot = 79", "dot = 80"))
    assert "near.scroll_x takes 0 to 63, got 64" in refusal(tmp_path, text.replace("63", "64"))


def test_values_go_over_the_lines_again_and_again_and_advance(tmp_path):
    text = '[[writes]]\nlines = "10:20:2"\nregister = "near.scroll_x"\nvalues = [5, 6, 7]\nadvance = 1\n'
    assert [(write.line, write.value) for write in timed(tmp_path, text)] == [
        (10, 5),
        (12, 6),
        (14, 7),
        (16, 5),
        (18, 6),
    ]
    assert [write.value for write in timed(tmp_path, text, 1)] == [6, 7, 5, 6, 7]
    assert [write.value for write in timed(tmp_path, text, 3)] == [5, 6, 7, 5, 6]
    assert [write.value for write in timed(tmp_path, text.replace("= 1\n", "= -1\n"), 1)] == [7, 5, 6, 7, 5]


def test_from_and_to_are_spread_evenly_and_rounded_half_up(tmp_path):
    text = '[[writes]]\nlines = "0:5"\nregister = "near.scroll_x"\nfrom = 0\nto = 10\n'
    assert [write.value for write in timed(tmp_path, text)] == [0, 3, 5, 8, 10]
    assert [write.value for write in timed(tmp_path, text.replace("= 0\n", "= 10\n").replace("to = 10", "to = 0"))] == [
        10,
        8,
        5,
        3,
        0,
    ]
    assert [write.value for write in timed(tmp_path, text.replace("0:5", "3:4"))] == [0]


def test_frames_choose_when(tmp_path):
    one = '[[writes]]\nline = 3\nregister = "backdrop"\nvalue = 1\nframe = 4\n'
    assert [len(timed(tmp_path, one, frame)) for frame in (3, 4, 5)] == [0, 1, 0]
    some = one.replace("frame = 4", 'frames = "2:8:3"')
    assert [frame for frame in range(10) if timed(tmp_path, some, frame)] == [2, 5]


def test_palette_writes(tmp_path):
    single = '[[writes]]\nline = 3\nentry = 62\ncolours = ["#f00", "#0f0"]\n'
    assert timed(tmp_path, single) == [PaletteWrite(3, 62, (0xF00, 0x0F0))]
    lines = '[[writes]]\nlines = "3:6"\nentry = 63\ncolours = ["#f00", "#0f0"]\n'
    assert timed(tmp_path, lines) == [
        PaletteWrite(3, 63, (0xF00,)),
        PaletteWrite(4, 63, (0x0F0,)),
        PaletteWrite(5, 63, (0xF00,)),
    ]
    fade = '[[writes]]\nlines = "0:3"\nentry = 0\nfrom = "#000000"\nto = "#ff8800"\n'
    # halfway: 127.5 is 128 and 7.53 of 17; 68 is 4 of 17
    assert [write.words for write in timed(tmp_path, fade)] == [(0,), (0x840,), (0xF80,)]
    one = '[[writes]]\nlines = "0:2"\ndot = 5\nentry = 0\ncolour = 0x123\n'
    assert timed(tmp_path, one) == [PaletteWrite(0, 0, (0x123,), 5), PaletteWrite(1, 0, (0x123,), 5)]


def test_a_sprites_record_is_rewritten_whole_with_what_it_has_become(tmp_path):
    text = """[[writes]]
line = 20
sprite = "bird"
set = { y = 7 }
[[writes]]
line = 10
sprite = "bird"
set = { x = -1, bank = 2 }
frame = 1
[[motion]]
sprite = "bird"
field = "x"
from = 9
to = 50
"""
    scene = load(tmp_path, HERON + sprite(x=9) + text, art_bin=bytes(64))
    at = scene.state().value("sprites.table")
    assert scene.writes(0) == (MemoryWrite(20, at, bytes.fromhex("090700080000")),)
    assert scene.writes(1) == (
        MemoryWrite(10, at, bytes.fromhex("0f07000c0002")),
        MemoryWrite(20, at, bytes.fromhex("0f07000c0002")),
    )
    assert [scene.state(frame).memory[at : at + 6].tobytes().hex() for frame in range(3)] == [
        "090000080000",
        "0a0700080000",
        "0b0700080002",
    ]


def test_a_sprite_on_the_chip_is_rewritten_there(tmp_path):
    chip = CHIP.replace('table = "memory"', 'table = "chip"')
    text = HERON + sprite(number=3) + '[[writes]]\nline = 2\nsprite = "bird"\nset = { enable = 0 }\n'
    scene = load(tmp_path, text, chip, art_bin=bytes(64))
    assert scene.writes() == (SpriteWrite(2, 18, bytes(6)),)
    assert scene.state(1).sprites[3].tolist() == [0] * 6


def test_memory_patterns_and_cells_are_rewritten(tmp_path):
    rows = "[" + '"1.......",' * 8 + "]"
    text = f"""[[writes]]
line = 1
memory = 0x1FFE
bytes = [1, 255]
[[writes]]
line = 2
patterns = "reeds+1"
rows = {rows}
[[writes]]
line = 3
map = "near.tiles"
at = [4, 1]
cell = {{ pattern = 1, bank = 3 }}
"""
    scene = load(tmp_path, REEDS + MAP + text)
    base = scene.state().value("near.tiles.patterns")
    assert scene.writes() == (
        MemoryWrite(1, 0x1FFE, b"\x01\xff"),
        MemoryWrite(2, base + 32, b"\x10\0\0\0" * 8),
        MemoryWrite(3, 2 * 12, b"\x03\x01"),
    )
    after = scene.state(1)
    assert after.memory[0x1FFE:].tolist() == [1, 255]
    assert after.memory[24:26].tolist() == [3, 1]
    assert "video memory has bytes 0x0 to 0x1FFF, got 2 from 0x1FFF" in refusal(
        tmp_path, text.replace("0x1FFE", "0x1FFF") + REEDS + MAP
    )


def test_a_sprites_pattern_is_rewritten_in_the_size_of_its_rows(tmp_path):
    rows = "[" + ('"' + "3" * 16 + '",') * 16 + "]"
    text = HERON + f'[[writes]]\nline = 2\npatterns = "heron"\nrows = {rows}\n'
    scene = load(tmp_path, text, art_bin=bytes(64))
    assert scene.writes() == (MemoryWrite(2, 0, b"\xff" * 64),)
    assert "must be a pattern that is loaded for sprites" in refusal(tmp_path, text, art_bin=bytes(48))


def test_writes_come_in_the_order_of_line_and_dot_then_of_the_file(tmp_path):
    text = "".join(
        f'[[writes]]\nline = {line}\ndot = {dot}\nregister = "backdrop"\nvalue = {value}\n'
        for value, (line, dot) in enumerate([(5, 0), (3, 9), (3, 0), (5, 0), (0, 79)])
    )
    assert [write.value for write in timed(tmp_path, text)] == [4, 2, 1, 0, 3]


def test_earlier_frames_writes_stay(tmp_path):
    text = '[[writes]]\nline = 3\nframe = 1\nregister = "backdrop"\nvalue = 9\n'
    text += '[[writes]]\nline = 79\nframe = 2\nentry = 3\ncolour = "#fff"\n'
    scene = load(tmp_path, text)
    assert [scene.state(frame).value("backdrop") for frame in (0, 1, 2, 5, 1)] == [0, 0, 9, 9, 0]
    assert [int(scene.state(frame).palette[3]) for frame in (3, 2)] == [0xFFF, 0]


def test_states_are_fresh_copies(tmp_path):
    scene = load(tmp_path, '[[writes]]\nline = 3\nregister = "backdrop"\nvalue = 9\n')
    for _ in range(2):
        state = scene.state(1)
        assert (state.frame, state.line, state.value("backdrop"), int(state.memory.sum())) == (1, 0, 9, 0)
        state.memory[:] = 1
        state.controls[:] = 3
    with refused(ValueError, "frame must be 0 or more, got -1"):
        scene.state(-1)
    with refused(ValueError, "frame must be 0 or more, got -2"):
        scene.writes(-2)


EFFECTS = CHIP.replace(
    "[collisions]",
    '[registers]\nothers = "wired"\nbackdrop = { bits = 6, effect = "at once" }\n'
    '"near.scroll_x" = { bits = 6, effect = "next line" }\n'
    '"near.scroll_y" = { bits = 6, effect = "next frame" }\n"sprites.table" = { bits = 12, effect = "at once" }\n[collisions]',
)


@settings(max_examples=settings.default.max_examples // 4)
@given(data=st.data())
def test_a_machine_that_runs_on_stands_where_the_scene_says(tmp_path_factory, data):
    """The state of frame f is that of a machine that has drawn the frames before it, whatever the registers' effects."""
    text = HERON + sprite()
    for _ in range(data.draw(st.integers(1, 6))):
        kind = data.draw(
            st.sampled_from(
                [
                    'register = "backdrop"',
                    'register = "near.scroll_x"',
                    'register = "near.scroll_y"',
                    "entry = 3",
                    'sprite = "bird"',
                ]
            )
        )
        value = data.draw(st.integers(0, 60))
        what = {"r": f"value = {value}", "e": f"colour = {value}", "s": f"set = {{ y = {value} }}"}[kind[0]]
        line, frame = data.draw(st.sampled_from([0, 1, 63, 79])), data.draw(st.integers(0, 2))
        text += f"[[writes]]\nline = {line}\nframe = {frame}\n{kind}\n{what}\n"
    scene = load(tmp_path_factory.mktemp("run"), text, EFFECTS, art_bin=bytes(64))
    machine = vdpsim.Machine(scene.chip, scene.state())
    for frame in range(3):
        machine.frame(scene.writes(frame))
        wanted, state = scene.state(frame + 1), machine.state
        controls = state.controls.copy()
        for number, value in state.next_frame.items():
            controls[number] = value
        assert (state.frame, state.line) == (frame + 1, 0)
        assert controls.tolist() == wanted.controls.tolist()
        assert state.palette.tolist() == wanted.palette.tolist()
        assert state.memory.tobytes() == wanted.memory.tobytes()


# Motion


def moved(tmp_path, text: str, count: int) -> list[int]:
    scene = load(tmp_path, f'[[motion]]\nregister = "near.scroll_x"\n{text}')
    return [scene.state(frame).value("near.scroll_x") for frame in range(count)]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("from = 5\nto = 8\n", [5, 6, 7, 8, 8, 8]),
        ("from = 5\nto = 9\nstep = 3\n", [5, 8, 9, 9]),
        ('from = 5\nto = 8\nthen = "repeat"\n', [5, 6, 7, 8, 5, 6]),
        ('from = 0\nto = 12\nstep = 4\nthen = "repeat"\n', [0, 4, 8, 12, 0]),
        ('from = 0\nto = 2\nstep = 0.5\nthen = "repeat"\n', [0, 0, 1, 1, 2, 2, 0, 0]),
        ('from = 5\nto = 8\nthen = "bounce"\n', [5, 6, 7, 8, 7, 6, 5, 6]),
        ('from = 0\nto = 10\nstep = 4\nthen = "bounce"\n', [0, 4, 8, 8, 4, 0, 4]),
        ('from = 3\nto = 3\nthen = "bounce"\n', [3, 3, 3]),
        ("from = 8\nto = 5\nstep = -1\n", [8, 7, 6, 5, 5]),
        ('from = 3\nto = 0\nstep = -0.5\nthen = "repeat"\n', [3, 2, 2, 1, 1, 0, 0, 3]),
        ('from = 8\nto = 6\nstep = -1\nthen = "bounce"\n', [8, 7, 6, 7, 8]),
        ("from = 62\nstep = 1\n", [62, 63, 0, 1]),  # the map is 64 dots wide: without an end it goes round
        ("from = 1\nstep = -1\n", [1, 0, 63, 62]),
        ("from = 0\nevery = 3\n", [0, 0, 0, 1, 1, 1, 2]),
        ("from = 0\nstep = 0.3\n", [0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3]),
    ],
)
def test_courses(tmp_path, text, values):
    assert moved(tmp_path, text, len(values)) == values


def test_a_fraction_is_exact_after_many_frames(tmp_path):
    """0.29 as a binary float times 100 is 28.999999999999996."""
    scene = load(tmp_path, '[[motion]]\nregister = "near.scroll_x"\nfrom = 0\nstep = 0.29\n')
    assert scene.state(100).value("near.scroll_x") == 29


def test_sprites_move_in_any_field_and_by_names(tmp_path):
    text = (
        HERON
        + sprite()
        + """[[motion]]
sprite = "bird"
field = "pattern"
from = "heron"
to = "heron+3"
every = 2
then = "repeat"
[[motion]]
sprite = "bird"
field = "x"
from = -16
to = 255
step = 16
[[motion]]
sprite = "bird"
field = "y"
from = 0
step = -1
"""
    )
    scene = load(tmp_path, text, art_bin=bytes(64))
    at = scene.state().value("sprites.table")
    records = [scene.state(frame).memory[at : at + 4].tobytes().hex() for frame in (0, 1, 2, 3, 9)]
    assert records == ["0000000c", "00ff0008", "10fe0108", "20fd0108", "80f70008"]


# Round trips


@settings(max_examples=settings.default.max_examples // 3)
@given(data=st.data())
def test_any_layout_holds_what_is_put_into_its_cells(tmp_path_factory, data):
    """Bits dealt to fields one by one, so that every layout can come; read back bit by bit, without the package's layouts."""
    names = ["pattern", "bank", "flip_x", "flip_y", "turn", "priority"]
    order = data.draw(st.permutations(range(16)))
    single = [names[number] for number in (2, 3, 4) if data.draw(st.booleans())]
    dealt = {"pattern": order[:5], "bank": order[5:7], "priority": order[7:11]}
    dealt |= {name: [order[11 + place]] for place, name in enumerate(single)}
    cell = "{ " + ", ".join(f'{name} = "{", ".join(map(str, bits))}"' for name, bits in dealt.items()) + " }"
    order_of_bytes = data.draw(st.sampled_from(["big", "little"]))
    chip = CHIP.replace(CHIP.split("cell = ")[1].split("\n")[0], cell).replace('"big"', f'"{order_of_bytes}"')
    cells = data.draw(
        st.lists(
            st.fixed_dictionaries({name: st.integers(0, (1 << len(bits)) - 1) for name, bits in dealt.items()}),
            min_size=1,
            max_size=8,
        )
    )
    rows = ", ".join("{ " + ", ".join(f"{name} = {value}" for name, value in one.items()) + " }" for one in cells)
    text = f'[[patterns]]\nfor = "near.tiles"\nraw = "art.bin"\n[[maps]]\nfor = "near.tiles"\nrows = [[{rows}]]\n'
    scene = load(tmp_path_factory.mktemp("cells"), text, chip, art_bin=bytes(32 * 32))
    found = region(scene, "near.tiles.map")
    for column, one in enumerate(cells):
        at = 2 * (column // 4 * 8 + column % 4)
        word = int.from_bytes(found[at : at + 2], order_of_bytes)
        assert {
            name: sum((word >> bit & 1) << place for place, bit in enumerate(reversed(bits)))
            for name, bits in dealt.items()
        } == one


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [
        ("x", "x", "bird's x moves already: motion.0 on line 12"),
        ("x", "x_bias", "bird's x_bias moves already: motion.0 on line 12"),
        ("x_bias", "x", "bird's x_bias moves already: motion.0 on line 12"),
        ("x", "y", None),
        ("x_bias", "bank", None),
    ],
)
def test_a_field_moves_once_and_x_takes_its_bias_along(tmp_path, first, second, told):
    moved = "".join(f'[[motion]]\nsprite = "bird"\nfield = "{name}"\nfrom = 0\nto = 1\n' for name in (first, second))
    text = HERON + sprite() + moved
    if told is None:
        load(tmp_path, text, art_bin=bytes(64))
    else:
        assert told in refusal(tmp_path, text, art_bin=bytes(64))


@pytest.mark.parametrize(("field", "wraps"), [("x", False), ("y", True), ("bank", False)])
def test_only_a_field_that_wraps_moves_without_an_end(tmp_path, field, wraps):
    text = HERON + sprite() + f'[[motion]]\nsprite = "bird"\nfield = "{field}"\nfrom = 1\n'
    if not wraps:
        assert f"{field} does not wrap: `to` is needed" in refusal(tmp_path, text, art_bin=bytes(64))
        return
    scene = load(tmp_path, text, art_bin=bytes(64))
    place = scene.state().value("sprites.table") + 1
    assert [int(scene.state(frame).memory[place]) for frame in (0, 1, 254, 255)] == [1, 2, 255, 0]


@pytest.mark.parametrize(
    ("chip", "x", "y"),
    [
        (CHIP, "-16 to 255", "-256 to 255"),
        (CHIP.replace("wrap_y", "wrap_x"), "-256 to 255", "0 to 255"),
        (CHIP.replace("wrap_y = true", ""), "-16 to 255", "0 to 255"),
    ],
)
def test_what_a_sprites_fields_can_be_is_told(chip, x, y):
    """8 bits; 16 dots of bias to the left; where a place wraps, a whole turn to the left or up."""
    made = vdpsim.parse_chip(chip)
    desk = SimpleNamespace(chip=made)
    maker = SpriteMaker(desk, made.sprites, None)
    assert [maker._allowed(name) for name in ("x", "y", "bank", "pattern", "flip_x")] == [
        x,
        y,
        "0 to 3",
        "0 to 255",
        "0 to 1",
    ]


def test_patterns_shorter_than_the_step_from_one_to_the_next():
    """Two of 3 bytes at numbers 1 and 2, 5 bytes apart, number 0 at 4: bytes 9 to 11 and 14 to 16; what lies between stays."""
    one = PatternSet("s", ("o",), 5, 9, [PatternRun(1, 1, np.array([[1, 2, 3], [4, 5, 6]], np.uint8), ("patterns", 0))])
    memory, loaded = np.full(20, 9, np.uint8), np.zeros(20, np.bool_)
    one.fill(memory, loaded, 4)
    assert np.flatnonzero(loaded).tolist() == [9, 10, 11, 14, 15, 16]
    assert memory.tolist() == [9] * 9 + [1, 2, 3, 9, 9, 4, 5, 6] + [9] * 3
    assert one.extent() == (5, 13)
    assert one.next() == 3


# Which files a scene is made of


@pytest.mark.parametrize("path", sorted(SCENES.glob("*.scene.toml")), ids=lambda path: path.name)
def test_a_scene_reads_the_files_that_it_names_and_no_other(path, monkeypatch):
    """The record of what was read against what the system was asked to open, and against the texts of the file."""
    opened, system = set(), os.open

    def noted(place, *more):
        opened.add(os.fspath(place))
        return system(place, *more)

    monkeypatch.setattr(reading.os, "open", noted)
    with once(anew=True) as reads:
        vdpsim.load_scene(path)
    assert {os.path.realpath(name) for name in reads.asked} == set(map(os.path.realpath, opened)) == set(reads.outcomes)
    named = {
        path.parent / name for name in re.findall(r'"([\w./-]+\.(?:toml|png|bin|cells))"', path.read_text("utf-8"))
    }
    assert set(map(Path, reads.asked)) == {path, *named}
    assert len(named) > 1


def test_a_file_is_on_the_record_whatever_its_name_and_where_its_link_leads(tmp_path):
    """No dot in the name, a link, a link to a link that leads outside, and none at all."""
    shutil.copytree(SCENES, tmp_path / "scenes")
    folder = tmp_path / "scenes"
    scene = folder / "saltmarsh.scene.toml"
    (folder / "art" / "far").symlink_to("saltmarsh-far.png")
    (folder / "art" / "outside").symlink_to(tmp_path / "there.png")
    text = scene.read_text("utf-8")
    scene.write_text(
        text.replace("art/saltmarsh-far.png", "art/far").replace("art/saltmarsh-near.png", "art/outside"), "utf-8"
    )
    with once(anew=True) as reads, refused(vdpsim.InputError, "must be a path inside the scene's folder"):
        vdpsim.load_scene(scene)
    art = folder / "art"
    assert {str(art / "far"), str(art / "saltmarsh-far.png"), str(art / "outside")} <= reads.asked.keys()
    assert reads.asked[str(art / "far")] == seen_at(art / "saltmarsh-far.png") is not None
    assert reads.asked[str(art / "outside")] is None
    assert str(tmp_path / "there.png") not in reads.asked
