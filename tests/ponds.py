"""A small scene whose every kind of record is there, exported; and captures of it, whole or with planted faults.

What is expected of a capture is worked out here from the exported text alone, line by line: nothing is shared with what reads it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from scenery import HEAD, png
from twin_cases import chip_from

import vdpsim

D, L, W, H = 70, 42, 32, 36
"""Dots and lines of the pond's frame, and of its picture: no file may have so few, but every rule holds for them.

A line is longer than the farthest shift in dots, so that no shift in lines is one in dots as well.
"""

S = 2 * D
"""Slots of a line."""

BARE = 24
"""From this line on the picture has no sprite."""

MAP = 64, 128
"""Lines and dots of the map that the picture is a part of."""

FRAME = {"width": W, "height": H, "dot_clock": 1_000_000, "dots_per_line": D, "lines_per_frame": L}

CHIP = """
name = "Pond"
ladder = [{ source = "sprites" }, { source = "reeds" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 70
[memory]
size = 8192
bytes_per_access = 2
accesses_per_dot = 2
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
cell = { pattern = "7:0", bank = "8" }
page = [16, 8]
[sprites]
count = 5
table = "chip"
record_bytes = 5
fields = { x = "7:0", y = "15:8", pattern = "23:16", group = "25:24", enable = "26", bank = "27" }
sizes = [[8, 8]]
bits_per_dot = 4
transparent = 0
per_line = 2
[collisions]
groups = ["frog", "duck"]
pairs = [["frog", "duck"]]
[status]
address = 0x80
cleared = "read"
picture_end = 0
dropped = 1
collision = 2
[time]
refresh = { slots = 2 }
cpu = { active = "none" }
[time.clients]
"reeds.cells" = { when = "in time", lead = 12 }
"reeds.pattern" = { when = "in time", lead = 12 }
sprites = { when = "line before" }
"""

SPRITE = """
[[sprites]]
name = "{name}"
x = {x}
y = {y}
pattern = "leaf"
group = "{group}"
bank = 1
"""

SCENE = f"""
frames = 8
[[palette]]
colours = [{", ".join(f'"#{n:x}{15 - n:x}{n * 7 % 16:x}"' for n in range(16))}]
[[palette]]
at = 16
colours = [{", ".join(f'"#{15 - n:x}{n:x}{n * 5 % 16:x}"' for n in range(16))}]
[[maps]]
for = "reeds.tiles"
picture = "reeds.png"
make = true
banked = true
[[patterns]]
name = "leaf"
for = "sprites"
size = [8, 8]
rows = ["..1221..", ".122221.", "12222221", "12233221", "12233221", "12222221", ".122221.", "..1221.."]
{SPRITE.format(name="frog", x=4, y=3, group="frog")}
{SPRITE.format(name="duck", x=9, y=5, group="duck")}
{SPRITE.format(name="drake", x=18, y=7, group="duck")}
{SPRITE.format(name="toad", x=20, y=14, group="frog")}
{SPRITE.format(name="teal", x=23, y=16, group="duck")}
[[motion]]
register = "reeds.scroll_x"
from = 0
step = 3
"""


def little(folder: Path, picture: np.ndarray, text: str = SCENE, frame: Mapping[str, Any] = FRAME) -> vdpsim.Scene:
    """The pond, or another scene's ``text``, on a chip with such a ``frame``; its files are put into ``folder``."""
    (folder / "reeds.png").write_bytes(png(picture))
    (folder / "test.scene.toml").write_text(HEAD + text, "utf-8")
    return vdpsim.load_scene(folder / "test.scene.toml", chip_from({**tomllib.loads(CHIP), "frame": dict(frame)}))


CHECKED = np.indices((MAP[0] // 8, MAP[1] // 8)).sum(axis=0).repeat(8, 0).repeat(8, 1) % 2
PICTURE = np.random.default_rng(5).integers(0, 16, MAP) + 16 * CHECKED
"""Dots by chance, each cell in another bank than those beside it."""


def pond(folder: Path, frames: range = range(3), picture: np.ndarray = PICTURE) -> Path:
    """The pond exported into ``folder``/out. ``picture``: another one for the map, values 0 to 31, of the size ``MAP``."""
    vdpsim.export(little(folder, picture), folder / "out", frames=frames, only=["vectors"])
    return folder / "out"


Rows = list[list[str]]


def rows(folder: Path, *kinds: str) -> Rows:
    """The records of the folder's files of ``kinds``, word by word; all files' where none is named."""
    names = [folder / "vectors" / f"{kind}.txt" for kind in kinds] or [
        path for path in sorted((folder / "vectors").glob("*.txt")) if path.name != "stimulus.txt"
    ]
    return [line.split() for name in names for line in name.read_text("ascii").splitlines() if not line.startswith("#")]


def capture(place: Path, told: Iterable[list[str]]) -> Path:
    """Records as a file."""
    place.write_text("".join(" ".join(words) + "\n" for words in told), "ascii")
    return place


def with_words(told: Rows, change: Callable[[list[str]], list[str] | None]) -> Rows:
    """Each record changed; None leaves it out."""
    return [made for words in told if (made := change(list(words))) is not None]
