"""Patterns of sprites by name: which number a record gets, where steps, banks and tiles count, worked by hand on small scenes."""

from __future__ import annotations

import pytest
from refusal import refused
from scenery import CHIP, load, refusal

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
    assert "sprites.0.pattern: must be a pattern at a whole number of 64 bytes, got 'dots'" in said


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
        (127, "128", "sprites.0.pattern: must be 0 to 127, got 128"),
        (16, "16\npattern_bank = 1", "sprites.0.pattern: must be 0 to 15, got 16"),
        (16, "0\npattern_bank = 8", "sprites.0.pattern_bank: must be 0 to 7, got 8"),
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
