"""What the bench draws, made in Python: random maps, patterns and sprites on chips of the sizes that are compared.

Law: the same seed makes the same machine. No scene file is read here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vdpsim import Machine, parse_chip

LAYER = """
[[layers]]
name = "{name}"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = 8
bits_per_dot = 4
cell_bytes = 2
cell = {{ pattern = "{pattern}", flip_x = "11"{bank} }}
page = [{page}, {page}]
pages = [2, 1]
transparent = 0
"""

CHIP = """
name = "Bench {width} x {height}"
[frame]
width = {width}
height = {height}
dot_clock = 6_000_000
dots_per_line = {dots}
lines_per_frame = {lines}
[memory]
size = {memory}
bytes_per_access = 2
[palette]
entries = 128
bank_size = 16
red = "11:8"
green = "7:4"
blue = "3:0"
[sprites]
count = {sprites}
table = "chip"
record_bytes = 6
fields = {{ x = "10:0", y = "21:12", pattern = "29:24", flip_x = "30", group = "33:32", bank = "36:34", enable = "37" }}
sizes = [[16, 16]]
bits_per_dot = 4
transparent = 0
per_line = {per_line}
[collisions]
groups = ["walker", "flyer", "swimmer"]
pairs = [["walker", "flyer"], ["flyer", "swimmer"], ["walker", "swimmer"]]
[[ladder]]
source = "sprites"
"""

TILES = 512
"""Tile patterns of a layer."""

PATTERNS = 64
"""Sprite patterns."""


@dataclass
class Bench:
    """A machine ready to draw, and where its random contents lie. ``layers``: names, front to back."""

    machine: Machine
    layers: tuple[str, ...]
    maps: dict[str, int]
    patterns: dict[str, int]
    page: int

    @property
    def size(self) -> tuple[int, int]:
        """Dots across and lines down."""
        frame = self.machine.chip.frame
        return frame.width, frame.height

    def step(self, number: int) -> None:
        """What a game changes from frame to frame: both scrolls of each layer, and where the sprites are."""
        width, height = self.size
        for speed, name in enumerate(self.layers, 1):
            self.machine.registers[f"{name}.scroll_x"] = 5 + speed * number
            self.machine.registers[f"{name}.scroll_y"] = 3 + number
        for index in range(0, len(self.machine.sprites), 8):
            sprite = self.machine.sprites[index]
            sprite.x, sprite.y = (sprite.x + 1) % width, (sprite.y + 1) % height


TIME = """
[time]
refresh = {{ slots = 4 }}
cpu = {{ active = "reserved", every = 8, at = [7] }}
[time.clients]
{layers}
sprites = {{ when = "line before" }}
"""


def bench(*, cell_bank: bool = True, timed: bool = False) -> Bench:
    """The bench scene: 288 x 216, two scrolling 4-bit tile layers, 48 sprites 16 x 16 of which 12 a line, three groups.

    Without ``cell_bank`` the layers' bank is held in a register instead of the cell; ``timed``: 384 slots a line.
    """
    return make(("near", "far"), 288, 216, 48, 12, cell_bank=cell_bank, timed=timed)


def large() -> Bench:
    """1024 x 768, six layers, 512 sprites; the limit a line grows with the width."""
    return make(tuple("abcdef"), 1024, 768, 512, 43)


def make(
    layers: tuple[str, ...],
    width: int,
    height: int,
    sprites: int,
    per_line: int,
    *,
    cell_bank: bool = True,
    timed: bool = False,
) -> Bench:
    """A machine with random contents."""
    page = 32 if width <= 512 else 128
    map_bytes = 2 * page * page * 2
    room = len(layers) * (map_bytes + TILES * 32) + PATTERNS * 128
    text = CHIP.format(
        width=width,
        height=height,
        dots=width + 96,
        lines=height + 96,
        memory=1 << (room - 1).bit_length(),
        sprites=sprites,
        per_line=per_line,
    )
    text += "".join(f'[[ladder]]\nsource = "{name}"\n' for name in layers)
    bank = ', bank = "14:12"' if cell_bank else ""
    text += "".join(LAYER.format(name=name, pattern="8:0", bank=bank, page=page) for name in layers)
    if timed:
        clients = [f"{name}.{client}" for name in layers for client in ("cells", "pattern")]
        text += TIME.format(layers="\n".join(f'"{name}" = {{ when = "in time", lead = 16 }}' for name in clients))
        text = text.replace("bytes_per_access = 2", "bytes_per_access = 2\naccesses_per_dot = 1")
    made = Bench(Machine(parse_chip(text)), layers, {}, {}, page)
    _fill(made, map_bytes)
    return made


def _fill(made: Bench, map_bytes: int) -> None:
    rng, machine = np.random.default_rng(2), made.machine
    width, height = made.size
    machine.memory[:] = rng.integers(0, 256, len(machine.memory))
    machine.palette[:] = rng.integers(0, 1 << 12, len(machine.palette))
    free = 0
    for name in made.layers:
        made.patterns[name], free = free, free + TILES * 32
    sprite_patterns, free = free, free + PATTERNS * 128
    for name in made.layers:
        made.maps[name], free = free, free + map_bytes
        machine.registers[f"{name}.tiles.map"] = made.maps[name]
        machine.registers[f"{name}.tiles.patterns"] = made.patterns[name]
    machine.registers["sprites.patterns"] = sprite_patterns
    for sprite in machine.sprites:
        sprite.x, sprite.y = int(rng.integers(0, width - 16)), int(rng.integers(0, height - 16))
        sprite.pattern, sprite.bank = int(rng.integers(0, PATTERNS)), int(rng.integers(0, 8))
        sprite.flip_x, sprite.group, sprite.enable = int(rng.integers(0, 2)), int(rng.integers(0, 3)), 1
