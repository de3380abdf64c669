"""Scenes written in a test: a chip with one of everything, and a maker of scene files with their assets."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from PIL import Image

import vdpsim

CHIP = """
name = "Reedling"
ladder = [{ source = "status" }, { source = "sprites" }, { source = "near" }, { source = "far" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 80
[memory]
size = 8192
bytes_per_access = 2
byte_order = "big"
[palette]
entries = 64
bank_size = 16
red = "11:8"
green = "7:4"
blue = "3:0"
[[layers]]
name = "near"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = 8
bits_per_dot = 4
cell_bytes = 2
cell = { pattern = "7:0", bank = "9:8", flip_x = "10", flip_y = "11", turn = "12", priority = "15:13" }
page = [4, 2]
pages = [2, 2]
transparent = 0
[[layers]]
name = "far"
[[layers.modes]]
name = "bitmap"
kind = "bitmap"
bits_per_dot = 4
width = 16
height = 8
stride = 10
first_dot = "low"
[[layers]]
name = "status"
[[layers.modes]]
name = "text"
kind = "text"
glyph = [6, 8]
cell_bytes = 2
cell = { character = "7:0", foreground = "11:8" }
columns = 10
rows = 3
transparent = 0
[sprites]
count = 4
table = "memory"
record_bytes = 6
fields = { x = "47:40", y = "39:32", pattern = "31:24", size = "23", flip_x = "22", \
group = "21:20", enable = "19", x_bias = "18", bank = "1:0" }
sizes = [[8, 8], [16, 16]]
bits_per_dot = 2
transparent = 0
x_bias = 16
wrap_y = true
[collisions]
groups = ["bird", "reed", "fish"]
pairs = [["bird", "fish"]]
"""

TIMED = (
    CHIP.replace("bytes_per_access = 2", "bytes_per_access = 2\naccesses_per_dot = 8")
    + """
[time]
refresh = { slots = 600 }
cpu = { active = "none" }
[time.clients]
"near.cells" = { when = "blanking" }
"near.pattern" = { when = "blanking" }
"far.bitmap" = { when = "blanking" }
"status.cells" = { when = "blanking" }
"status.glyphs" = { when = "blanking" }
sprites = { when = "blanking" }
[[ports]]
target = "memory"
address = 0x1000
data = 0x1002
[[ports]]
target = "palette"
address = 0x1010
data = 0x1012
"""
).replace('table = "memory"\nrecord_bytes', 'table = "chip"\nrecord_bytes')
"""``CHIP`` with a time table and ports. A line has 640 slots, 128 of them blank, of which refresh has the first 600. The CPU gets
blank ones only, so nothing on a line of the picture and 40 below it, slots 600 to 639: 16 lines x 40 = 640 bytes a frame."""

HEAD = 'name = "Test"\nchip = "test.chip.toml"\n'


def png(indices: object, colours: int = 256) -> bytes:
    """A paletted PNG of ``indices``, colour n being (n, 2n mod 256, 255 - n)."""
    dots = np.asarray(indices, np.uint8)
    paletted = Image.frombytes("P", (dots.shape[1], dots.shape[0]), dots.tobytes())
    paletted.putpalette([part for n in range(colours) for part in (n, 2 * n % 256, 255 - n)])
    out = io.BytesIO()
    paletted.save(out, "PNG")
    return out.getvalue()


def load(folder: Path, text: str, chip: str = CHIP, **files: bytes) -> vdpsim.Scene:
    """The scene of ``text`` (name and chip are added) in ``folder``, with its chip and the files ``name_png``, ``name_bin``."""
    (folder / "test.chip.toml").write_text(chip, "utf-8")
    for name, data in files.items():
        (folder / ".".join(name.rsplit("_", 1))).write_bytes(data)
    path = folder / "test.scene.toml"
    path.write_text(HEAD + text, "utf-8")
    return vdpsim.load_scene(path)


def refusal(folder: Path, text: str, chip: str = CHIP, **files: bytes) -> str:
    """What is said about a scene that is wrong."""
    try:
        load(folder, text, chip, **files)
    except vdpsim.InputError as error:
        return str(error)
    raise AssertionError("the scene was taken")
