"""A chip with as little as a chip can have, and what of a chip's constants is called as no other chip's."""

from __future__ import annotations

import re

from vdpsim.chip.model import Chip

BARE = """
name = "Bare"
ladder = [{ source = "board" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 70
[memory]
size = 8192
bytes_per_access = 2
[palette]
entries = 32
bank_size = 16
red = "11:8"
green = "7:4"
blue = "3:0"
[[layers]]
name = "board"
[[layers.modes]]
name = "chart"
kind = "bitmap"
width = 64
height = 64
bits_per_dot = 4
[registers]
others = "wired"
"""
"""As little as a chip can have: no sprites, no time, no ports, no status, no registers."""


def own(chip: Chip) -> str:
    """What the names begin with that stand in this chip's file alone, as a pattern."""
    layers = "|".join(re.sub("[^A-Z0-9]+", "_", name.upper()) for name in chip.layer_names)
    return f"(FIELD|REGISTER|SIZE|GROUP|LAYER|MODE|CELL)_|(CLIENT|CONTROL|SOURCE)_({layers})(_|$)"
