"""Are cells, maps, bitmaps, patterns and colours written in the chip's bits, and read back dot for dot?"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from refusal import refused
from scenery import CHIP

import vdpsim
from vdpsim.art.scenes import encode
from vdpsim.scene.contents.formats import Format, format_of

REEDLING = vdpsim.parse_chip(CHIP)
NEAR = REEDLING.layer("near").modes[0]
FAR = REEDLING.layer("far").modes[0]
TEXT = REEDLING.layer("status").modes[0]


@given(some.sampled_from([1, 2, 4, 8]), some.sampled_from(["high", "low"]), some.integers(0, 2**32 - 1))
def test_patterns_are_read_back(bits, first_dot, seed):
    look = Format(8, 3, bits, first_dot)
    patterns = np.random.default_rng(seed).integers(0, 1 << bits, (5, 3, 8)).astype(np.uint8)
    data = encode.pattern_bytes(look, patterns)
    assert len(data) == 5 * 3 * bits
    assert np.array_equal(encode.pattern_dots(look, data), patterns)


def test_glyphs_take_whole_bytes_and_lose_no_dot():
    look = format_of(TEXT)
    glyphs = np.random.default_rng(1).integers(0, 2, (4, 8, 6)).astype(np.uint8)
    data = encode.pattern_bytes(look, glyphs)
    assert len(data) == 4 * 8
    assert np.array_equal(encode.pattern_dots(look, data), glyphs)
    assert encode.pattern_bytes(look, glyphs[:0]) == b""


def test_a_pattern_by_hand():
    """Dots 1 2 3 4 in four bits: the leftmost in the high half of a byte, or in the low half."""
    dots = np.array([[[1, 2, 3, 4]]], np.uint8)
    assert encode.pattern_bytes(Format(4, 1, 4, "high"), dots) == bytes([0x12, 0x34])
    assert encode.pattern_bytes(Format(4, 1, 4, "low"), dots) == bytes([0x21, 0x43])


@given(some.integers(0, 2**32 - 1))
def test_cells_and_maps_of_several_pages_are_read_back(seed):
    rng = np.random.default_rng(seed)
    layout = NEAR.cell.layout
    fields = {name: rng.integers(0, bits.top + 1, (NEAR.rows, NEAR.columns)) for name, bits in layout.items()}
    words = encode.cell_words(layout, fields)
    data = encode.map_bytes(REEDLING, NEAR, words)
    back = encode.cell_fields(layout, encode.map_words(REEDLING, NEAR, data))
    assert sorted(back) == sorted(fields)
    assert all(np.array_equal(back[name], fields[name]) for name in fields)


def test_a_map_by_hand():
    """Reedling: bank in bits 9:8, high byte first, two pages of 4 x 2 cells across: cell (4, 0) begins the second."""
    fields = {"pattern": np.full((4, 8), 0x11), "bank": np.zeros((4, 8), np.int64)}
    fields["pattern"][0, 4], fields["bank"][0, 4] = 0xAB, 2
    data = encode.map_bytes(REEDLING, NEAR, encode.cell_words(NEAR.cell.layout, fields))
    assert data[16:18] == bytes([0x02, 0xAB])
    assert data[:16] == bytes([0x00, 0x11]) * 8


@given(some.integers(0, 2**32 - 1))
def test_bitmaps_are_read_back(seed):
    values = np.random.default_rng(seed).integers(0, 16, (FAR.height, FAR.width)).astype(np.uint8)
    data = encode.bitmap_bytes(FAR, values)
    assert len(data) == FAR.map_bytes == 10 * 7 + 8
    assert np.array_equal(encode.bitmap_dots(FAR, data), values)


def test_a_bitmap_by_hand():
    """Reedling's bitmap: lines 10 bytes apart, 8 of them used, the leftmost dot in a byte's low half."""
    values = np.zeros((8, 16), np.uint8)
    values[1, :2] = 3, 5
    data = encode.bitmap_bytes(FAR, values)
    assert data[10] == 0x53
    assert sum(data) == 0x53


def test_colours_are_the_nearest_that_the_chip_has():
    """Four bits: 17 steps of 15; 0x12 lies nearer to 0x11 than to 0x22."""
    words = encode.colour_words(REEDLING.palette, {7: (0x12, 0xFF, 0x00), 2: (0, 0, 0x30)})
    assert words == {2: 0x003, 7: 0x1F0}
    assert encode.shown_colour(REEDLING.palette, 0x1F0) == (0x11, 0xFF, 0x00)


def test_what_cells_show_is_what_the_chip_draws(tmp_path):
    """Every turn and flip of an unlike tile, read back, against the engine."""
    patterns = np.random.default_rng(3).integers(1, 16, (1, 8, 8)).astype(np.uint8)
    grid = np.arange(8)
    fields = {"pattern": np.zeros((1, 8), np.int64), "turn": grid[None] >> 2, "flip_x": grid[None] & 1}
    fields["flip_y"] = grid[None] >> 1 & 1
    words = np.zeros((4, 8), np.int64)
    words[:1] = encode.cell_words(NEAR.cell.layout, fields)
    shown = encode.cells_shown(NEAR, patterns, words)
    machine = vdpsim.Machine(REEDLING)
    data = encode.map_bytes(REEDLING, NEAR, words)
    machine.memory[0x100 : 0x100 + len(data)] = np.frombuffer(data, np.uint8)
    machine.memory[0x400:0x420] = np.frombuffer(encode.pattern_bytes(format_of(NEAR), patterns), np.uint8)
    machine.registers["near.tiles.map"] = 0x100
    machine.registers["near.tiles.patterns"] = 0x400
    machine.registers["status.enable"] = 0
    frame = machine.frame()
    assert np.array_equal(frame.indices[:8, :64], shown[:8])


def test_a_field_that_cells_have_not_may_be_0_everywhere():
    fields = {"pattern": np.array([3, 4]), "wave": np.zeros(2, np.int64)}
    words = encode.cell_words(NEAR.cell.layout, fields)
    assert words.tolist() == encode.cell_words(NEAR.cell.layout, {"pattern": fields["pattern"]}).tolist() == [3, 4]


@pytest.mark.parametrize(
    ("do", "told"),
    [
        (lambda: encode.pattern_dots(Format(8, 8, 4, "high"), b"123"), "whole patterns of 32 bytes, got 3"),
        (lambda: encode.map_words(REEDLING, NEAR, b"12"), "a map has 64 bytes, got 2"),
        (lambda: encode.bitmap_dots(FAR, b"12"), "a bitmap has 78 bytes, got 2"),
        (
            lambda: encode.cell_words(NEAR.cell.layout, {"pattern": np.array([256])}),
            "pattern must be 0 to 255, got 256",
        ),
        (lambda: encode.cell_words({}, {"flip_x": np.array([0, 1])}), "flip_x must be 0 to 0, got 1"),
        (lambda: encode.cell_words(NEAR.cell.layout, {"bank": np.array([-1])}), "bank must be 0 to 3, got -1"),
        (
            lambda: encode.cells_shown(NEAR, np.zeros((1, 8, 8), np.uint8), np.array([[1]])),
            "patterns go from 0 to 0, got 1",
        ),
    ],
)
def test_what_does_not_fit_is_refused(do, told):
    with refused(ValueError, told):
        do()
