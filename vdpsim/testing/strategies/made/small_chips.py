"""Small chips that read at a glance: one or two layers of tiles and some sprites, with few choices.

Law: as in ``layouts``. The simplest choices come first, so that what fails on one of these shrinks to a chip of one layer.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from ....chip.model import Chip
from .chances import Json, chance, pick
from .chips import read_chip


def small_chip(random: Random, read: Callable[[Json], Chip] = read_chip) -> Chip:
    """A chip of 64 x 64 dots that anybody could have drawn up, ``read`` from its data."""
    names = ["ground", *(["sky"] if chance(random, 50) else [])]
    ladder = [{"source": name} for name in names]
    plan: Json = {
        "name": "Small",
        "frame": {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 70},
        "memory": {"size": 8192, "bytes_per_access": 1},
        "palette": {"entries": 32, "bank_size": 16, "red": "11:8", "green": "7:4", "blue": "3:0"},
        "layers": [_tiles(random, name) for name in names],
        "ladder": ladder,
    }
    if chance(random, 75):
        plan["sprites"] = _sprites(random)
        ladder.insert(pick(random, 0, len(ladder)), {"source": "sprites"})
        if chance(random, 50):
            plan["collisions"] = {"groups": ["all"], "pairs": [["all", "all"]]}
    return read(plan)


def _tiles(random: Random, name: str) -> Json:
    flips = {"flip_x": "6", "flip_y": "7"} if chance(random, 50) else {}
    mode: Json = {"name": "tiles", "kind": "tiles", "tile": 8, "bits_per_dot": pick(random, 4, 2), "cell_bytes": 1}
    mode |= {"cell": {"pattern": "5:0", **flips}, "page": [pick(random, 8, 16), 8], "transparent": 0}
    return {"name": name, "modes": [mode]}


def _sprites(random: Random) -> Json:
    side = pick(random, 8, 16)
    limits = {
        name: number
        for name, number in (("per_line", pick(random, 1, 2, 4)), ("dots_per_line", 16))
        if chance(random, 50)
    }
    return {
        "count": pick(random, 4, 1, 8),
        "table": "chip",
        "record_bytes": 4,
        "fields": {"x": "7:0", "y": "15:8", "pattern": "19:16", "enable": "31"},
        "sizes": [[side, side]],
        "bits_per_dot": 4,
        "entries": {"base": 16},
        "transparent": 0,
        **limits,
    }
