"""A small chip for tests that are worked by hand: one tile layer, four sprites, registers of every effect."""

from __future__ import annotations

import numpy as np

from vdpsim.chip.load import parse_chip
from vdpsim.machine.machine import Machine

CHIP = """
name = "Small"
ladder = [{ source = "sprites" }, { source = "ground" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 70
[memory]
size = 8192
bytes_per_access = 1
[palette]
entries = 16
bank_size = 16
red = "11:8"
green = "7:4"
blue = "3:0"
[[layers]]
name = "ground"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = 8
bits_per_dot = 4
cell_bytes = 1
cell = { pattern = "7:0" }
page = [16, 8]
[sprites]
count = 4
table = "TABLE"
record_bytes = 4
fields = { x = "7:0", y = "15:8", pattern = "19:16", enable = "31" }
sizes = [[8, 8]]
bits_per_dot = 4
transparent = 0
[registers]
others = "wired"
"ground.scroll_x" = { bits = 7, effect = "at once" }
"ground.scroll_y" = { bits = 6, effect = "next line" }
backdrop = { bits = 4, effect = "next frame" }
"sprites.patterns" = { bits = 11, effect = "at once", reset = 0x1000 }
"sprites.table" = { bits = 13, effect = "at once", reset = 0x1800 }
[constants]
"ground.tiles.map" = 0x1F00
"""


def text(table: str = "chip") -> str:
    """The chip's file, its sprite ``table`` on the chip or in memory."""
    whole = CHIP.replace("TABLE", table)
    if table == "chip":
        whole = whole.replace('"sprites.table" = { bits = 13, effect = "at once", reset = 0x1800 }', "")
    return whole


def machine(table: str = "chip") -> Machine:
    made = Machine(parse_chip(text(table)))
    made.memory[:] = np.arange(8192) * 37 % 251
    made.palette[:] = np.arange(16) * 0x111
    return made
