"""Random chips over everything that a chip file can say.

Law: what is made is valid by the way it is made, so that next to nothing is thrown away. Every new feature of the chip file joins
here or beside it. Small pictures, small memories and crowded sprites on purpose: things wrap, overlap and run over their limits
often.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from random import Random

from ....chip.checks import check
from ....chip.controls import controls
from ....chip.model import Chip
from .chances import Json, chance, pick, shuffled
from .layouts import layouts
from .modes import layer
from .register_maps import register_list
from .sprite_tables import collision_groups, ladder, sprites
from .time_tables import cpu_side, rate, time_table


def picture_sizes(random: Random, widths: tuple[int, ...], heights: tuple[int, ...]) -> tuple[Json, int, int]:
    """One size or, now and then, up to four that are unlike each other; and the largest width and height."""
    wanted = pick(random, 1, 2, 2, 3, 4) if chance(random, 35) else 0
    sizes = {(pick(random, *widths), pick(random, *heights)) for _ in range(max(1, wanted))}
    across, down = (max(extents) for extents in zip(*sizes, strict=True))
    if not wanted:
        return {"width": across, "height": down}, across, down
    return {"sizes": shuffled(random, sorted(map(list, sizes)))}, across, down


def frame(random: Random) -> Json:
    """A small picture with or without a border."""
    border = {side: random.randint(0, 6) for side in ("left", "right", "top", "bottom")} if chance(random, 40) else {}
    sizes, width, height = picture_sizes(random, (64, 72, 80, 88, 96), (64, 65, 72, 80))
    return {
        **sizes,
        "border": border,
        "dot_clock": 6_000_000,
        "dots_per_line": width + border.get("left", 0) + border.get("right", 0) + random.randint(0, 40),
        "lines_per_frame": height + border.get("top", 0) + border.get("bottom", 0) + random.randint(0, 8),
    }


def palette(random: Random) -> Json:
    """A palette below, at or above 256 entries, with channels of any width."""
    count = pick(random, 16, 2, 4, 8, 17, 32, 64, 100, 128, 255, 256, 257, 300, 512, 1024, 4096)
    depths = pick(random, (4, 4, 4), (3, 3, 2), (5, 5, 5), (5, 6, 5), (8, 8, 8), (1, 1, 1), (2, 7, 6))
    widths = dict(zip(("red", "green", "blue"), depths, strict=True))
    total = sum(depths)
    return {
        "entries": count,
        "bank_size": min(count, pick(random, 4, 16, 1, 2, 3, 8, 64, 256)),
        **layouts(random, widths, random.randint(total, min(32, total + 8))),
    }


def read_chip(plan: Json) -> Chip:
    """The chip that a chip file with this in it would be."""
    return Chip.model_validate_json(json.dumps(plan))


def make_chip(
    random: Random, frame: Callable[[Random], Json] = frame, read: Callable[[Json], Chip] = read_chip
) -> Chip:
    """A valid chip with a frame of ``frame``'s, ``read`` from its data."""
    plan: Json = {"name": "Random", "frame": frame(random), "palette": palette(random)}
    plan["frame"]["backdrop"] = random.randint(0, plan["palette"]["entries"] - 1)
    plan["memory"] = {
        "size": 256 * pick(random, 16, 1, 2, 3, 4, 7, 8, 13, 32, 64, 64, 600),
        "bytes_per_access": pick(random, 1, 2, 4, 8),
        "byte_order": pick(random, "little", "big"),
    }
    names = ["a", "b", "c", "d", "e", "f"][: pick(random, 1, 2, 2, 3, 3, 4, 5, 6)]
    plan["layers"] = [layer(random, plan, name, names) for name in names]
    if chance(random, 85):
        plan["sprites"] = sprites(random, plan)
        if chance(random, 75):
            plan["collisions"] = collision_groups(random, plan["sprites"]["fields"])
    plan["ladder"] = ladder(random, plan)
    for table in plan["layers"]:
        for mode in table["modes"]:
            if "exclusive" in mode and chance(random, 60):
                mode["ladder"] = ladder(random, plan)
    chip = read(plan)
    if chance(random, 60):
        plan["registers"], plan["constants"] = register_list(random, controls(chip))
        chip = read(plan)
    chip = with_time(random, plan, chip, read)
    found = list(check(chip))
    assert not found, found
    return chip


def with_time(random: Random, plan: Json, chip: Chip, read: Callable[[Json], Chip]) -> Chip:
    """``chip`` with a time table, as a rule, and with a CPU's side; without one where too little is left for refresh."""
    plan |= cpu_side(random, chip)
    plain = read(plan)
    if not chance(random, 65):
        return plain
    plan["memory"]["accesses_per_dot"] = rate(random)
    plan["time"] = time_table(random, chip)
    timed = read(plan)
    return plain if list(check(timed)) else timed
