"""Patterns of sprites by name: which number a record gets, where steps, banks and tiles count, worked by hand on small scenes."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from refusal import refused
from scenery import CHIP, load, refusal

import vdpsim
from vdpsim import art
from vdpsim.art.scenes.show import standing
from vdpsim.files.problems import InputError

STEPS = CHIP.replace("sizes = [[8, 8], [16, 16]]", "sizes = [[8, 8], [16, 16]]\npattern_bytes = [16, 64]")
"""8 x 8 dots count in steps of 16 bytes, 16 x 16 in steps of 64: each just as large as its pattern."""

BANKED = CHIP.replace('pattern = "31:24"', 'pattern = "27:24", pattern_bank = "30:28"')
"""Numbers 0 to 15 in each of 8 banks, 16 bytes apart."""

SMALL = ["0" * 8] * 7 + ["11111111"]
LARGE = ["0" * 16] * 15 + ["2" * 16]
LINES = "[" + ", ".join(f'"{row}"' for row in SMALL) + "]"
WIDE = "[" + ", ".join(f'"{row}"' for row in LARGE) + "]"


def patterns(name, rows, size, at=None):
    """A table of patterns."""
    where = "" if at is None else f"at = {at}\n"
    return f'[[patterns]]\nname = "{name}"\nfor = "sprites"\nsize = {size}\n{where}rows = {rows}\n'


def one(pattern, size="[8, 8]", more="", name="one"):
    """A sprite."""
    return f'[[sprites]]\nname = "{name}"\nx = 0\ny = 0\nsize = {size}\npattern = {pattern}\n{more}\n'


def field(scene, name, frame=0, number=0):
    """A field of a sprite's record when ``frame`` begins."""
    state, sprites = scene.state(frame), scene.chip.sprites
    at = state.value("sprites.table") + number * sprites.record_bytes
    word = int.from_bytes(state.memory[at : at + sprites.record_bytes].tobytes(), scene.chip.memory.byte_order)
    return sprites.fields.layout[name].get(word)


# Steps


def test_a_run_follows_the_one_before_at_the_next_whole_number_of_its_own_steps(tmp_path):
    """Three small ones are 48 bytes, so that the large one lies at 64: number 1; the next small one at 128, number 8."""
    three = LINES[:-1] + ", " + LINES[1:-1] + ", " + LINES[1:]
    text = patterns("dots", three, "[8, 8]") + patterns("gull", WIDE, "[16, 16]") + patterns("crab", LINES, "[8, 8]")
    sprites = one('"dots+2"') + one('"gull"', "[16, 16]", name="two") + one('"crab"', name="three")
    scene = load(tmp_path, text + sprites, STEPS)
    assert [field(scene, "pattern", number=number) for number in range(3)] == [2, 1, 8]
    base = scene.state().value("sprites.patterns")
    assert scene.state().memory[base + 124 : base + 128].tolist() == [0xAA] * 4
    assert scene.state().memory[base + 142 : base + 144].tolist() == [0x55] * 2


def test_a_name_counts_in_the_steps_of_the_sprites_size(tmp_path):
    """The large pattern at 64 is number 4 of the small ones: what a small sprite shows of it."""
    scene = load(tmp_path, patterns("gull", WIDE, "[16, 16]", 1) + one('"gull"'), STEPS)
    assert field(scene, "pattern") == 4


def test_a_name_that_lies_between_two_numbers_is_refused(tmp_path):
    """A small one at 16 is at no whole number of 64 bytes."""
    said = refusal(tmp_path, patterns("dots", LINES, "[8, 8]", 1) + one('"dots"', "[16, 16]"), STEPS)
    assert "sprites.one.pattern: must be a pattern at a whole number of 64 bytes, got 'dots'" in said


@pytest.mark.parametrize(("at", "taken"), [(3, True), (4, False), (7, False), (8, True)])
def test_runs_of_unlike_steps_must_not_share_a_byte(tmp_path, at, taken):
    """Large ones at 0 and 128 leave bytes 64 to 127: numbers 4 to 7 of the small ones."""
    text = patterns("gull", WIDE, "[16, 16]", 0) + patterns("tern", WIDE, "[16, 16]", 2)
    text += patterns("dots", LINES, "[8, 8]", at)
    if taken:
        with refused(InputError, "overlap"):
            load(tmp_path, text, STEPS)
    else:
        load(tmp_path, text, STEPS)


def test_a_pattern_is_written_where_its_size_counts(tmp_path):
    """Number 1 of 64 bytes, in frame 1."""
    text = "frames = 2\n" + patterns("gull", WIDE, "[16, 16]", 1)
    write = f'[[writes]]\nframe = 0\nline = 70\npatterns = "gull"\nfor = "sprites"\nrows = {WIDE.replace("2", "3")}\n'
    scene = load(tmp_path, text + write, STEPS)
    base = scene.state().value("sprites.patterns")
    assert scene.state(1).memory[base + 124 : base + 128].tolist() == [0xFF] * 4


# Banks


@pytest.mark.parametrize(
    ("at", "told", "record"),
    [
        (15, '"dots"', (15, 0)), (16, '"dots"', (0, 1)), (127, '"dots"', (15, 7)), (37, "37", (5, 2)),
        (37, "5\npattern_bank = 2", (5, 2)),
    ],
)  # fmt: skip
def test_a_pattern_of_another_bank_sets_both_fields(tmp_path, at, told, record):
    """A whole number or a name; or the field of the pattern's own bits beside that of the bank."""
    scene = load(tmp_path, patterns("dots", LINES, "[8, 8]", at) + one(told), BANKED)
    assert (field(scene, "pattern"), field(scene, "pattern_bank")) == record


@pytest.mark.parametrize(
    ("at", "told", "said"),
    [
        (127, "128", "sprites.one.pattern: must be 0 to 127, got 128"),
        (16, "16\npattern_bank = 1", "sprites.one.pattern: must be 0 to 15, got 16"),
        (16, "0\npattern_bank = 8", "sprites.one.pattern_bank: must be 0 to 7, got 8"),
        (16, "0\npattern_bank = 2", "must be a pattern that is loaded"),
        (128, "0", "numbers of sprites go from 0 to 127, got 128 to 128"),
    ],
)
def test_numbers_beyond_what_both_fields_hold_are_refused(tmp_path, at, told, said):
    assert said in refusal(tmp_path, patterns("dots", LINES, "[8, 8]", at) + one(told), BANKED)


def test_a_motion_and_a_write_go_from_bank_to_bank(tmp_path):
    """From 14 to 17, one a frame; a write of number 16 in frame 0 alone."""
    four = "[" + ", ".join([LINES[1:-1]] * 4) + "]"
    text = "frames = 4\n" + patterns("dots", four, "[8, 8]", 14) + one("14") + one("14", name="two")
    text += '[[motion]]\nsprite = "one"\nfield = "pattern"\nfrom = 14\nto = "dots+3"\n'
    text += '[[writes]]\nframe = 0\nline = 70\nsprite = "two"\nset = { pattern = 16 }\n'
    scene = load(tmp_path, text, BANKED)
    found = [(field(scene, "pattern", frame), field(scene, "pattern_bank", frame)) for frame in range(4)]
    assert found == [(14, 0), (15, 0), (0, 1), (1, 1)]
    assert (field(scene, "pattern", 1, 1), field(scene, "pattern_bank", 1, 1)) == (0, 1)


# Tiles


TILED = CHIP.replace("sizes = [[8, 8], [16, 16]]", "sizes = [[8, 8], [16, 16]]\ntiles = { size = [8, 8], stride = 4 }")
"""Tiles of 16 bytes, four in a row: sprites of 16 x 16 lie two side by side in 128 bytes."""

QUARTERS = "[" + ", ".join([f'"{"1" * 8}{"2" * 8}"'] * 8 + [f'"{"3" * 8}{"0" * 8}"'] * 8) + "]"
"""A sprite whose tiles are full of 1 and 2, and below of 3 and 0."""


def tiles_of(scene, count, frame=0):
    """The first byte of each of the first tiles in memory; a tile here is full of one value."""
    state = scene.state(frame)
    base = state.value("sprites.patterns")
    return [int(state.memory[base + 16 * tile]) & 3 for tile in range(count)]


def several(count):
    """So many sprites of four tiles, in one table."""
    return "[" + ", ".join([QUARTERS[1:-1]] * count) + "]"


def test_patterns_of_tiles_lie_side_by_side_and_are_named_in_turn(tmp_path):
    """Numbers 0 and 2, then 8; a run that follows begins behind the last tile, 13."""
    text = patterns("gull", several(3), "[16, 16]") + patterns("dots", LINES, "[8, 8]")
    sprites = [one(f'"gull+{number}"', "[16, 16]", name=f"s{number}") for number in range(3)] + [
        one('"dots"', name="last")
    ]
    scene = load(tmp_path, text + "".join(sprites), TILED)
    assert [field(scene, "pattern", number=number) for number in range(4)] == [0, 2, 8, 14]
    assert tiles_of(scene, 14) == [1, 2, 1, 2, 3, 0, 3, 0, 1, 2, 0, 0, 3, 0]


def test_little_patterns_fill_the_gaps_beside_large_ones(tmp_path):
    """One large one takes tiles 0, 1, 4 and 5: 2, 3, 6 and 7 are free, 5 is not."""
    gull = patterns("gull", QUARTERS, "[16, 16]", 0)
    load(tmp_path, gull + patterns("dots", LINES, "[8, 8]", 2) + patterns("crab", LINES, "[8, 8]", 7), TILED)
    said = refusal(tmp_path, gull + patterns("dots", LINES, "[8, 8]", 5), TILED)
    assert "numbers 5 to 5 overlap gull (0 to 5)" in said


@pytest.mark.parametrize(("number", "there"), [(0, True), (1, False), (2, True), (4, False)])
def test_every_tile_of_a_sprite_must_be_loaded(tmp_path, number, there):
    """Two large ones take tiles 0 to 7: from 1 on the sprite's are 1, 2, 5, 6, all loaded; from 4 on 8 and 9 are not."""
    text = patterns("gull", several(2), "[16, 16]") + one(str(number), "[16, 16]")
    if there or number == 1:
        load(tmp_path, text, TILED)
    else:
        assert "must be a pattern that is loaded, all 64 bytes of 16x16 dots" in refusal(tmp_path, text, TILED)


def test_a_raw_file_has_tiles_as_they_lie(tmp_path):
    """Three sprites: a whole 128 bytes of two, and of the third up to its last tile, the sixth of its 128."""
    blob = bytes(range(1, 17)) * 14
    raw = '[[patterns]]\nname = "gull"\nfor = "sprites"\nsize = [16, 16]\nraw = "gull.bin"\n'
    scene = load(tmp_path, raw + one('"gull+2"', "[16, 16]"), TILED, gull_bin=blob)
    state = scene.state()
    base = state.value("sprites.patterns")
    assert field(scene, "pattern") == 8
    assert state.memory[base : base + 160].tobytes() == blob[:160]  # of tiles 10 and 11, between the third's, nothing
    assert state.memory[base + 160 : base + 192].tobytes() == bytes(32)
    assert state.memory[base + 192 : base + 224].tobytes() == blob[:32]
    for size in (16 * 13, 16 * 15 - 1, 16 * 4):
        said = refusal(tmp_path, raw + one('"gull"', "[16, 16]"), TILED, gull_bin=blob[:1] * size)
        assert f"must be whole patterns of 64 bytes, 2 side by side in 128 bytes, got {size} bytes" in said


def test_a_pattern_of_tiles_is_written_tile_by_tile(tmp_path):
    """Number 2 in frame 0: tiles 2, 3, 6 and 7 alone, and they stay as they are in frame 2."""
    text = "frames = 3\n" + patterns("gull", several(2), "[16, 16]")
    rows = several(1).replace("1", "x").replace("2", "1").replace("x", "2")
    write = f'[[writes]]\nframe = 0\nline = 70\npatterns = "gull+1"\nfor = "sprites"\nrows = {rows}\n'
    scene = load(tmp_path, text + write, TILED)
    assert tiles_of(scene, 8) == [1, 2, 1, 2, 3, 0, 3, 0]
    assert tiles_of(scene, 8, 1) == tiles_of(scene, 8, 2) == [1, 2, 2, 1, 3, 0, 3, 0]


@pytest.mark.parametrize("tiles", ["stride = 4", 'order = "columns"', 'order = "columns", stride = 3', "stride = 5"])
def test_a_fitted_sheet_is_drawn_as_it_was(tmp_path, tiles):
    """Seven drawings of two sizes, in three colours: the scene that is written shows each dot of them."""
    chip = vdpsim.parse_chip(TILED.replace("stride = 4", tiles))
    random = np.random.default_rng(4)
    dots = np.zeros((16, 7 * 16, 4), np.uint8)
    shades = np.array([[255, 0, 0, 255], [0, 255, 0, 255], [0, 0, 255, 255]], np.uint8)
    for cell in range(7):
        size = 16 if cell % 3 else 8
        dots[:size, cell * 16 : cell * 16 + size] = shades[random.integers(0, 3, (size, size))]
    found = art.fit_sprites(Image.fromarray(dots), chip, (16, 16))
    assert found.report.loss.none
    frame = vdpsim.render(vdpsim.load_scene(found.save(tmp_path)[0]), planes=True)
    assert len(standing(found)) == 4
    for placed, x, y in standing(found):
        wide, high = placed.size
        here, there = np.s_[y : y + high, x : x + wide], np.s_[:high, placed.cell * 16 : placed.cell * 16 + wide]
        opaque = found.opaque[there]
        assert np.array_equal(frame.planes["sprites"].opaque[here], opaque)
        assert np.array_equal(frame.planes["sprites"].rgb[here][opaque], found.rgb[there][opaque])
