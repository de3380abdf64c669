"""A small scene for a chip that is short of slots, with what shipped scenes do not show, for designs held against folders.

Law: each line of the scene is there for one thing, which its comment names; who uses it counts that the records have it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scenery import load, png

from vdpsim.scene.scene import Scene

CHIP = """
name = "Pool"
ladder = [{ source = "sprites" }, { source = "reeds", when = "priority = 1" }, { source = "water" }, { source = "reeds" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 70
[memory]
size = 8192
bytes_per_access = 2
byte_order = "big"
accesses_per_dot = "7/12"
[palette]
entries = 32
bank_size = 16
red = "11:8"
green = "7:4"
blue = "3:0"
[[layers]]
name = "reeds"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = 8
bits_per_dot = 4
cell_bytes = 2
cell = { pattern = "7:0", bank = "8", priority = "9", flip_y = "10" }
page = [32, 8]
transparent = 0
[[layers]]
name = "water"
[[layers.modes]]
name = "still"
kind = "bitmap"
bits_per_dot = 4
width = 64
height = 32
transparent = 0
[sprites]
count = 300
table = "chip"
record_bytes = 5
fields = { x = "7:0", y = "15:8", pattern = "23:16", group = "25:24", enable = "26", bank = "27" }
sizes = [[8, 8]]
bits_per_dot = 4
transparent = 0
per_line = 12
dots_per_line = 88
[collisions]
groups = ["frog", "duck"]
pairs = [["frog", "duck"]]
hidden_dots = false
[status]
address = 0x80
groups = 0x81
cleared = "write"
line = 3
picture_end = 0
dropped = 1
collision = 2
[cpu]
clock = 1_000_000
cycles_per_byte = 3
queue = 2
[[ports]]
target = "memory"
address = 0x90
data = 0x94
step = 0x95
[[ports]]
target = "palette"
address = 0xA0
data = 0xA4
[[ports]]
target = "sprites"
address = 0xB0
data = 0xB4
[time]
refresh = { slots = 2 }
cpu = { active = "free", blanking = true }
[time.clients]
"reeds.cells" = { when = "in time", lead = 14 }
"reeds.pattern" = { when = "in time", lead = 14 }
sprites = { when = "line before" }
"water.bitmap" = { when = "in time", lead = 8 }
[[registers]]
name = "low"
address = 0x10
bits = 8
half_write = "waits"
fields = { "reeds.scroll_x" = { bits = "7:0", of = "7:0" } }
[[registers]]
name = "high"
address = 0x11
bits = 8
half_write = "counts"
fields = { "reeds.scroll_x" = { bits = "0", of = "8" }, "reeds.enable" = "7" }
[[registers]]
name = "wide"
address = 0x12
bits = 16
half_write = "waits"
fields = { "water.scroll_x" = "5:0", "water.scroll_y" = { bits = "11:6", effect = "next line" }, "water.enable" = "15" }
[[registers]]
name = "both"
address = 0x14
bits = 8
fields = { backdrop = { bits = "4:0", effect = "at once" }, "sprites.enable" = { bits = "7", reset = 1 } }
[[registers]]
name = "at"
address = 0x16
bits = 16
fields = { "reeds.tiles.map" = { bits = "12:0", effect = "at once" } }
[[registers]]
name = "dots"
address = 0x18
bits = 16
fields = { "water.still.bitmap" = { bits = "11:0", effect = "at once" } }
[[registers]]
name = "line"
address = 0x1A
bits = 16
fields = { line_flag = { bits = "9:3", effect = "next line", reset = 9 } }
[[registers]]
others = "default"
"""

WRITES = (
    'register = "reeds.scroll_x"\nvalue = 300\nline = 4\ndot = 20',  # both halves, in mid-line
    "port = 0x10\nvalues = [0x55]\nline = 6\ndot = 10",  # one half, which waits
    "port = 0x11\nvalues = [0x81]\nline = 8\ndot = 33",  # and the other, which lets it count
    "port = 0x12\nvalues = [0x3F]\nline = 10\ndot = 5",  # the low byte of a word that waits
    "port = 0x13\nvalues = [0x84]\nline = 10\ndot = 70",  # its high byte, in the blanking
    'register = "water.scroll_x"\nvalue = 21\nline = 13\ndot = 30',  # a field whose word has another that counts at once
    'register = "wide"\nvalue = 0x8ABC\nline = 15\ndot = 40',  # a whole word in mid-line
    'register = "backdrop"\nvalues = [9, 3]\nadvance = 1\nlines = "16:63"\ndot = 44',
    "port = 0x90\nvalues = [0x00]\nline = 17\ndot = 3",  # an address for bytes
    "port = 0x94\nvalues = [1, 2, 3, 4, 5, 6, 7]\nline = 17\ndot = 44",  # one after the other into memory
    "port = 0x95\nvalues = [3]\nline = 18",
    "port = 0x94\nvalues = [8, 9, 10]\nline = 18\ndot = 64",
    "port = 0xA0\nvalues = [0x18]\nline = 20\ndot = 9",
    "entry = 12\ncolour = 0x123\nline = 20\ndot = 31",  # and in the same dot first an entry that the first two bytes give anew
    "port = 0xA4\nvalues = [0xFF, 0x0F, 0x77, 0x03]\nline = 20\ndot = 31",  # two that show, byte by byte, in mid-line
    "entry = 13\ncolour = 0xABC\nline = 20\ndot = 31",  # and last an entry that the other bytes have given
    'sprite = "s0"\nset = { enable = 0 }\nline = 22',  # undone in the same dot by a byte
    "port = 0xB0\nvalues = [1]\nline = 22\ndot = 0",
    "port = 0xB4\nvalues = [30]\nline = 22\ndot = 0",  # a sprite's place, before the look for the next line
    "port = 0xB4\nvalues = [0]\nline = 23\ndot = 5",  # and after it
    "port = 0x80\nvalues = [0x0F]\nline = 26\ndot = 0",  # all flags are cleared where some are raised
    "port = 0x80\nvalues = [0x02]\nline = 27\ndot = 17",
    "port = 0x81\nvalues = [0x03]\nline = 35\ndot = 60",  # groups too
    "memory = 0x40\nbytes = [17, 34, 51, 68]\nline = 30",  # memory that changes between two lines
    # by the CPU, in what slots are left
    f'memory = 0x600\nbytes = {[n * 29 % 256 for n in range(90)]}\nby = "cpu"\nline = 33\ndot = 25',
    'memory = 0x700\nfill = 0x3A\ncount = 200\nby = "cpu"\nline = 68\ndot = 2',  # goes on into the next frame
    'register = "reeds.tiles.map"\nvalue = 32\nline = 40\ndot = 29',  # an address in mid-line
    'register = "water.still.bitmap"\nvalue = 64\nline = 42\ndot = 30',
    'register = "line_flag"\nvalue = 66\nline = 49\ndot = 11',
    'register = "line"\nvalue = 248\nline = 57\ndot = 3',  # a word whose bytes, one by one, would come to another number
    'register = "sprites.enable"\nvalue = 0\nline = 52\ndot = 1',
    'register = "sprites.enable"\nvalue = 1\nline = 54\ndot = 0',
    'sprite = "s1"\nset = { x = 60 }\nline = 12',
    "entry = 17\ncolour = 0x456\nline = 45\ndot = 22",
    "entry = 3\ncolour = 0x123\nline = 69\ndot = 79",  # at the very end of a frame
    'register = "reeds.scroll_x"\nvalue = 5\nline = 69\ndot = 70',
    "port = 0x11\nvalues = [0x80]\nline = 68\ndot = 77",
)

SPRITE = """
[[sprites]]
name = "s{number}"
number = {place}
x = {x}
y = {y}
pattern = "leaf"
group = "{group}"
bank = {bank}
enable = 1
"""

PLACES = (*range(7), *range(252, 259))
"""Where the sprites stand in the table: numbers of one byte and of more, and 255."""

SCENE = """
frames = 4
[registers]
"reeds.enable" = 1
"water.enable" = 1
[[palette]]
colours = [{colours}]
[[maps]]
for = "reeds.tiles"
picture = "reeds.png"
make = true
banked = true
[[bitmaps]]
for = "water.still"
rows = [{rows}]
[[patterns]]
name = "leaf"
for = "sprites"
size = [8, 8]
rows = ["..1221..", ".122221.", "12222221", "12233221", "12233221", "12222221", ".122221.", "..1221.."]
{sprites}
{writes}
"""


def pool(folder: Path, cycles: int = 3, cleared: str = "write") -> Scene:
    """The scene, its files in ``folder``; ``cycles`` of its CPU, and so dots, for a byte; what clears its status."""
    random = np.random.default_rng(7)
    banks = 16 * (np.indices((8, 32)).sum(axis=0) % 2).repeat(8, 0).repeat(8, 1)
    tiles = random.integers(0, 16, (6, 8, 8))[random.integers(0, 6, (8, 32))].transpose(0, 2, 1, 3).reshape(64, 256)
    water = random.integers(0, 16, (32, 64)) * (random.random((32, 64)) < 0.6)
    text = SCENE.format(
        colours=", ".join(f'"#{n % 16:x}{15 - n % 16:x}{n * 7 % 16:x}"' for n in range(32)),
        rows=", ".join('"' + "".join(f"{dot:x}" for dot in row) + '"' for row in water),
        sprites="".join(
            SPRITE.format(
                number=n, place=PLACES[n], x=n * 37 % 61, y=20 + n // 3, group=("frog", "duck")[n % 2], bank=n % 2
            )
            for n in range(14)
        ),
        writes="".join(
            f"[[writes]]\n{one}\n" for one in WRITES if cleared == "write" or not one.startswith("port = 0x8")
        ),
    )
    chip = CHIP.replace("cycles_per_byte = 3", f"cycles_per_byte = {cycles}")
    chip = chip.replace('cleared = "write"', f'cleared = "{cleared}"')
    return load(folder, text, chip, reeds_png=png(tiles + banks))
