"""Does it refuse well? What the tables of a chip file must agree on: each disagreement alone, and the last value that agrees."""

from __future__ import annotations

import re

import pytest
from refusal import refused

from vdpsim.chip.load import parse_chip
from vdpsim.files.problems import InputError

CHIP = """
name = "Whimbrel"
ladder = [{ source = "sprites", when = "priority = 1" }, { source = "land", when = "priority = 1" }, { source = "strip" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 70
backdrop = 63
[memory]
size = 4096
bytes_per_access = 2
[palette]
entries = 64
bank_size = 16
red = "11:8"
green = "7:4"
blue = "3:0"
[[layers]]
name = "land"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = 8
bits_per_dot = 4
cell_bytes = 2
cell = { pattern = "9:0", bank = "13:12", priority = "15:14" }
page = [32, 32]
transparent = 15
exclusive = ["strip"]
ladder = [{ source = "land" }]
[[layers]]
name = "strip"
[[layers.modes]]
name = "map"
kind = "bitmap"
bits_per_dot = 2
width = 64
height = 8
stride = 16
transparent = 3
[[layers.modes]]
name = "text"
kind = "text"
glyph = [8, 8]
cell_bytes = 2
cell = { character = "7:0", foreground = "9:8" }
columns = 8
rows = 8
left = 63
margin = 63
entries = { bank_step = 0, value_step = 16 }
transparent = 3
[sprites]
count = 16
table = "memory"
record_bytes = 4
fields = { x = "7:0", y = "14:8", pattern = "20:16", size = "21", group = "23:22", x_bias = "24", priority = "26:25" }
sizes = [[8, 8], [16, 16]]
pattern_bytes = 32
bits_per_dot = 4
x_bias = 16
wrap_x = true
wrap_y = true
entries = { base = 48 }
transparent = 15
[collisions]
groups = ["boat", "bird"]
pairs = [["boat", "bird"]]
[registers]
others = "wired"
"land.scroll_x" = { bits = 8, effect = "at once", reset = 255, address = 4 }
"land.tiles.map" = { bits = 8, effect = "next frame", step = 16, reset = 16 }
[constants]
"sprites.table" = 4094
"""


def test_the_chip_itself_is_right():
    assert parse_chip(CHIP).name == "Whimbrel"


WRONG = [
    ("backdrop = 63", "backdrop = 64", "frame.backdrop: must be an entry, 0 to 63, got 64"),
    ('name = "land"', 'name = "palette"', "'palette' is taken by the chip itself"),
    ('name = "strip"', 'name = "land"', "another layer is called 'land'"),
    ('name = "text"', 'name = "map"', "another mode of strip is called 'map'"),
    (
        'bank = "13:12"',
        'bank = "12:10"',
        "layers.land.modes.tiles.entries: reaches entry 127 (base 0 + bank 7 x 16 + value 15 x 1), but the palette's last is 63",
    ),
    ("transparent = 15\nexclusive", "transparent = 16\nexclusive", "must be a value, 0 to 15, got 16"),
    ('exclusive = ["strip"]', 'exclusive = ["land"]', "must name other layers (strip), got 'land'"),
    (
        'ladder = [{ source = "land" }]',
        'ladder = [{ source = "sea" }]',
        "must be one of land, strip, sprites, got 'sea'",
    ),
    ("page = [32, 32]", "page = [32, 65]", "needs 4160 bytes of memory, which has 4096"),
    (
        "width = 64\nheight = 8",
        "width = 36\nheight = 8",
        "must fill whole accesses of 2 bytes, a multiple of 8 dots, got 36",
    ),
    ("stride = 16", "stride = 14", "must be a multiple of 2 and at least 16 bytes, got 14"),
    ("stride = 16", "stride = 17", "must be a multiple of 2 and at least 16 bytes, got 17"),
    ("margin = 63", "margin = 64", "layers.strip.modes.text.margin: must be an entry, 0 to 63, got 64"),
    ("left = 63", "left = 64", "layers.strip.modes.text.left: must be a dot of the picture, 0 to 63, got 64"),
    (
        "transparent = 3\n[sprites]",
        "transparent = 4\n[sprites]",
        "layers.strip.modes.text.transparent: must be a value, 0 to 3, got 4",
    ),
    (
        '{ source = "strip" }]',
        '{ source = "strip", when = "bank = 1" }]',
        "must name a field of strip (none), got 'bank'",
    ),
    ('source = "land", when = "priority = 1"', 'source = "land", when = "priority = 4"', "priority is 0 to 3, got 4"),
    (
        'source = "sprites", when = "priority = 1"',
        'source = "sprites", when = "bank = 1"',
        "a field of sprites (x, y, pattern",
    ),
    ("entries = { base = 48 }", "entries = { base = 49 }", "sprites.entries: reaches entry 64"),
    ("transparent = 15\n[coll", "transparent = 16\n[coll", "sprites.transparent: must be a value, 0 to 15, got 16"),
    ("sizes = [[8, 8], [16, 16]]", "sizes = [[8, 8]]", "must name one for each value of the size field, 2, got 1"),
    ("pattern_bytes = 32", "pattern_bytes = 36", "must be a multiple of the widest row, 8, got 36"),
    ("x_bias = 16", "x_bias = 0", "needs both dots above 0 and a field x_bias, or neither; got 0 dots and field 24"),
    ('y = "14:8"', 'y = "10:8"', "sprites.wrap_y: the field y must count to at least 16, got 8"),
    ('x = "7:0"', 'x = "2:0"', "sprites.wrap_x: the field x must count to at least 16, got 8"),
    ('y = "14:8"', 'y = "11:8"', None),
    ('x = "7:0"', 'x = "3:0"', None),
    ("record_bytes = 4", "record_bytes = 5", "in memory must be a multiple of 2, got 5"),
    ("count = 16", "count = 1024\nper_line = 8", None),
    ("record_bytes = 4\n", "record_bytes = 8\n", None),
    ('"land.scroll_x" =', '"land.scroll_z" =', "registers.land.scroll_z: is no control of this chip; it has backdrop"),
    ('"sprites.table" = 4094', '"sprites.list" = 0', "constants.sprites.list: is no control of this chip"),
    ('"sprites.table" = 4094', '"land.scroll_x" = 0', "constants.land.scroll_x: is a register already"),
    ('"sprites.table" = 4094', '"sprites.table" = 4095', "must be 0 to 4094 in steps of 2, got 4095"),
    ('"sprites.table" = 4094', '"sprites.table" = 4096', "must be 0 to 4094 in steps of 2, got 4096"),
    ("reset = 255", "reset = 256", "registers.land.scroll_x.reset: must be 0 to 255 in steps of 1, got 256"),
    (
        'effect = "next frame", step = 16',
        'effect = "next frame", step = 3',
        "registers.land.tiles.map.step: must be a multiple of 2, got 3",
    ),
    ("reset = 16 }", "reset = 24 }", "registers.land.tiles.map.reset: must be 0 to 4080 in steps of 16, got 24"),
    ("reset = 16 }", "reset = 16, address = 4 }", "byte 0x04 is taken by land.scroll_x already (8 bits from 0x04)"),
]


@pytest.mark.parametrize(("right", "wrong", "told"), WRONG, ids=[f"{wrong}"[:50] for _, wrong, _ in WRONG])
def test_each_disagreement_is_told_in_its_place(right, wrong, told):
    assert CHIP.count(right) >= 1
    text = CHIP.replace(right, wrong, 1)
    if told is None:
        assert parse_chip(text).name == "Whimbrel"
        return
    with refused(InputError, re.escape(told)) as caught:
        parse_chip(text, "whimbrel.chip.toml")
    assert all(problem.line for problem in caught.value.problems)


def test_a_table_larger_than_memory_is_refused():
    """1024 records of 8 bytes are 8192 bytes; 512 of them just fit 4096."""
    text = CHIP.replace("record_bytes = 4", "record_bytes = 8")
    assert parse_chip(text.replace("count = 16", "count = 512")).sprites
    with refused(InputError, "the table needs 4104 bytes of memory, which has 4096"):
        parse_chip(text.replace("count = 16", "count = 513"))


def test_collisions_need_sprites():
    text = CHIP.replace('{ source = "sprites", when = "priority = 1" }, ', "").replace('"sprites.table" = 4094', "")
    start, end = text.index("[sprites]"), text.index("[collisions]")
    with refused(InputError, "^whimbrel:55: collisions: needs a chip with sprites$"):
        parse_chip(text[:start] + text[end:], "whimbrel")


@pytest.mark.parametrize(("rungs", "fits"), [(253, True), (254, False)])
def test_rungs_of_all_ladders_are_counted(rungs, fits):
    """The exclusive mode's ladder has one rung; 254 of all ladders together fit. One ladder has at most 64."""
    each = [64] * (rungs // 64) + [rungs % 64]
    modes = "".join(
        f'[[layers]]\nname = "m{n}"\n[[layers.modes]]\nname = "b"\nkind = "bitmap"\nbits_per_dot = 1\nwidth = 64\nheight = 1\n'
        f"exclusive = []\nladder = [{', '.join(['{ source = ' + chr(34) + 'land' + chr(34) + ' }'] * count)}]\n"
        for n, count in enumerate(each[1:])
    )
    first = "ladder = [" + ", ".join(['{ source = "land" }'] * each[0]) + "]"
    text = CHIP.replace(CHIP.splitlines()[2], first).replace("[sprites]", modes + "[sprites]")
    if fits:
        assert parse_chip(text).ladder
        return
    with refused(InputError, "all ladders together must have at most 254 rungs, got 255"):
        parse_chip(text)
