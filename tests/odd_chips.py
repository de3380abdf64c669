"""Odd chips near their limit: small chips with a time table that fit their memory only just, or only just do not.

Law: a chip is plain data made from one ``random.Random``, so that a seed and hypothesis can drive it alike; it comes in by the
ordinary door, the model and every check. What costs no slot (colours, ladders, collisions) is as plain as can be; what can
move an access in time is drawn from everything that a chip file can say. A chip far from its limit proves nothing of a
budget, so ``near`` turns the chip's knobs until ``seems``, a judge that the caller brings, just says yes. Knows no budget and
draws nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from random import Random
from typing import Any

from vdpsim.chip.checks import check
from vdpsim.chip.controls import Control, controls
from vdpsim.chip.model import Chip
from vdpsim.testing.strategies.made.modes import narrowest
from vdpsim.testing.strategies.made.register_maps import in_words, with_others
from vdpsim.testing.strategies.made.sprite_tables import sprite_widths, together
from vdpsim.testing.strategies.made.time_tables import client_order

Json = dict[str, Any]
Judge = Callable[[Chip], bool]

RATES = sorted(
    {Fraction(top, below) for below in (1, 2, 3, 5, 7) for top in range(1, 8 * below + 1)} - {Fraction(1, 7)}
)
"""Accesses a dot, from the slowest on."""

DEPTHS = (1, 1, 2, 4)
SCROLLS = (*["both"] * 6, "x", "y", "y", "none", "none")
LEADS = (2, 4, 6, 8, 10, 12, 16, 24, 32, 48)


def chance(random: Random, percent: int) -> bool:
    """True about ``percent`` times in a hundred."""
    return random.randrange(100) < percent


# Modes


def dots(random: Random, chip: Json, across: int) -> Json:
    """Bits a dot; at times in planes, of which rows of ``across`` dots are whole accesses or an even part of one."""
    if not chance(random, 35):
        return {"bits_per_dot": random.choice(DEPTHS)}
    planes = random.choice(("by row", "by pattern", "apart"))
    access, row = chip["memory"]["bytes_per_access"], across // 8
    even = [bits for bits in (1, 2, 3, 4) if row * bits % access == 0 or access % (row * bits) == 0]
    return {"bits_per_dot": random.choice(even if planes == "by row" else (1, 2, 3, 4)), "planes": planes}


def tiles(random: Random, chip: Json) -> Json:
    """A map of cells, at times turned ones; tall tiles at times."""
    cell_bytes, turns, tile = random.choice((1, 1, 2)), chance(random, 20), random.choice((8, 8, 16, 32))
    high = tile if turns or chance(random, 70) else random.choice((4, 8, 12, 20, 32))
    return {
        "kind": "tiles",
        "tile": [tile, high],
        **dots(random, chip, tile),
        "cell_bytes": cell_bytes,
        "cell": {"pattern": "3:0", **({"turn": str(random.randrange(4, 8 * cell_bytes))} if turns else {})},
        "page": [random.choice((3, 8, 16)), random.choice((1, 2, 8, 16))],
        "scroll": random.choice(SCROLLS),
        **edges(random),
        **doubled(random),
    }


def edges(random: Random) -> Json:
    """A surface that goes on beyond its edges or, at times, ends there."""
    return {"wrap": False} if chance(random, 15) else {}


def doubled(random: Random) -> Json:
    """Dots as they are or, at times, larger."""
    return {"double": [random.choice((1, 2, 4)), random.choice((1, 2))]} if chance(random, 15) else {}


def bitmap(random: Random, chip: Json) -> Json:
    """A bitmap of whole accesses, of each plane where there are any."""
    return {
        "kind": "bitmap",
        **dots(random, chip, 64),
        "width": random.choice((64, 128)),
        "height": random.choice((1, 8, 16)),
        "scroll": random.choice(SCROLLS),
        **edges(random),
        **doubled(random),
    }


def coloured(random: Random, chip: Json) -> Json:
    """A bitmap of one bit a dot with colour cells, as wide as its accesses or not."""
    block = [random.choice((8, 16, 32)), random.choice((1, 2, 4, 8))]
    cell = {"foreground": "3:0", "background": "7:4"}
    return {
        **bitmap(random, chip),
        "bits_per_dot": 1,
        "height": random.choice((8, 16)),
        "colours": {"block": block, "cell_bytes": random.choice((1, 2)), "cell": cell},
    }


def text(random: Random, chip: Json) -> Json:
    """Text with margins or none, with few rows or columns or with more than show."""
    across, down, width = random.randint(4, 8), random.choice((4, 5, 8, 16)), narrowest(chip["frame"])
    return {
        "kind": "text",
        "glyph": [across, down],
        "cell_bytes": random.choice((1, 1, 2)),
        "cell": {"character": "3:0"},
        "columns": random.choice((1, 2, max(1, width // across - 1), width // across + 2)),
        "rows": random.choice((1, 2, 64 // down, 20)),
        "left": random.choice((0, 0, 1, 3, 10, width - 1)),
    }


MAKERS = {"tiles": tiles, "bitmap": bitmap, "coloured": coloured, "text": text}


def letters(random: Random, chip: Json) -> Json:
    """A column or two of text."""
    return {**text(random, chip), "columns": random.choice((1, 1, 1, 2, 3)), "rows": random.choice((2, 16, 20))}


def layers(random: Random, chip: Json, *, sparse: bool) -> list[Json]:
    """One to four layers of one to three modes, some of them exclusive; ``sparse``: none of them fetches much."""
    names = ["a", "b", "c", "d"][: random.choice((1, 2, 2, 2, 3, 3, 4))]
    found = []
    for name in names:
        modes = []
        others = [other for other in names if other != name]
        for number in range(random.choice((1, 1, 1, 2, 2, 3))):
            maker = letters if sparse else MAKERS[random.choice(("tiles", "tiles", "bitmap", "coloured", "text"))]
            mode = {"name": f"m{number}", **maker(random, chip)}
            mode["origin"] = random.choice(("picture", "picture", "zone"))
            if others and chance(random, 22):
                mode["exclusive"] = [other for other in others if chance(random, 70)]
            modes.append(mode)
        found.append({"name": name, "modes": modes})
    return found


# Sprites


def sprites(random: Random, chip: Json) -> Json:
    """A few sprites of one size or of two or four, with limits of their own as a rule."""
    access, table = chip["memory"]["bytes_per_access"], random.choice(("chip", "chip", "memory"))
    size_bits, bits = random.choice((0, 0, 1, 2)), random.choice(DEPTHS)
    fields = {"x": "6:0", "y": "14:8", "pattern": "18:16"}
    if size_bits:
        fields["size"] = "20" if size_bits == 1 else "21:20"
    if chance(random, 40):
        fields["enable"] = "22"
    widths = (8, 16, 32) if chance(random, 60) else sprite_widths(bits, access)
    across = [random.choice(widths) for _ in range(1 << size_bits)]
    record = max(3, access) if table == "memory" else 3
    record += -record % access if table == "memory" else 0
    found: Json = {
        "count": random.randint(1, 9),
        "transparent": 0,
        "table": table,
        "record_bytes": record,
        "bits_per_dot": bits,
        "fields": fields,
        "sizes": [[wide, random.choice((1, 4, 8, 16))] for wide in across],
        "pattern_bytes": max(wide * bits // 8 & -(wide * bits // 8) for wide in across) * 4,
        "front": random.choice(("first", "last")),
        "dropped": random.choice(("back", "front")),
        "wrap_y": chance(random, 30),
    }
    if chance(random, 60):
        found["per_line"] = random.randint(1, found["count"])
    if chance(random, 40):
        found["dots_per_line"] = 8 * random.randint(1, 12)
    apart = Random(json.dumps(found))  # what else a seed makes stays as it is, whatever is drawn of tiles and planes
    found |= of_planes(apart, found, access) if chance(apart, 35) else {}
    return of_tiles(apart, found) if chance(apart, 35) else found


def of_planes(random: Random, sprites: Json, access: int) -> Json:
    """Sprites of whole bytes in planes, if they can be fetched like that."""
    planes, bits = random.choice(("by row", "by pattern", "apart")), random.choice((1, 2, 3, 4))
    fits = sprite_widths(bits, access, planes)
    if not all(across in fits for across, _ in sprites["sizes"]):
        return {}
    parts = [together(across, bits, planes) for across, _ in sprites["sizes"]]
    return {"planes": planes, "bits_per_dot": bits, "pattern_bytes": max(part & -part for part in parts) * 4}


def of_tiles(random: Random, sprites: Json) -> Json:
    """The same sprites made of tiles as large as the narrowest and the lowest of them, packed or with a stride."""
    wide, high = (min(size[axis] for size in sprites["sizes"]) for axis in (0, 1))
    sizes = [[across // wide * wide, down] for across, down in sprites["sizes"]]
    tiles = {"size": [wide, high], "order": random.choice(("rows", "columns"))}
    if chance(random, 50):
        del sprites["pattern_bytes"]
        tiles["stride"] = max(max(across // wide, down // high) for across, down in sizes) + random.choice((0, 0, 3))
    return {**sprites, "sizes": sizes, "tiles": tiles}


# Registers


def registers(random: Random, known: dict[str, Control]) -> tuple[Any, Json]:
    """Registers for most controls, with few bits or coarse steps at times, some tied, and constants for some of the others."""
    listed: Json = {}
    wired: Json = {}
    for name, control in known.items():
        switch = name.endswith(".enable")
        if chance(random, 12 if switch else 25):
            if not switch and chance(random, 60):
                wired[name] = control.step * random.randint(0, control.top // control.step)
            continue
        step = control.step * (random.choice((1, 1, 2, 3, 4, 8)) if control.top >= 8 * control.step else 1)
        wanted = max(1, (control.top // step).bit_length())
        few = chance(random, 30)
        register: Json = {"bits": random.randint(1, wanted) if few else wanted}
        effect = random.choice(("at once", "at once", "next line", "next frame"))
        register["effect"] = "next frame" if name == "picture_size" else effect
        if step != control.step:
            register["step"] = step
        top = ((1 << register["bits"]) - 1) * step
        top = top if control.wraps else min(top, control.top)
        if control.rest > top or control.rest % step:
            register["reset"] = step * random.randint(0, top // step)
        listed[name] = register
    if listed and chance(random, 40):
        return with_others(random, in_words(random, listed, known, ties=40)), wired
    return with_others(random, listed), wired


# Time


def pattern(random: Random, *, sparse: bool = False) -> Json:
    """Some of the slots, by their remainder; ``sparse``: one or two."""
    if sparse:
        every = random.choice((6, 8, 8, 8, 64, 64, 64))
        return {"every": every, "at": sorted(random.sample(range(5), random.choice((1, 1, 1, 2))))}
    every = random.choice((2, 3, 4, 5, 6, 8, 8, 16))
    count = random.randint(1, max(1, every // 2)) if chance(random, 60) else every - 1
    return {"every": every, "at": sorted(random.sample(range(every), count))}


def time_table(random: Random, chip: Chip, *, sparse: bool) -> Json:
    """Who may fetch when, in any order that a chip file allows; ``sparse``: few slots for each."""
    held = [layer.name for layer in chip.layers if chance(random, 35)]
    patterns = 95 if sparse else random.choice((0, 0, 20, 50, 80))
    clients: Json = {}
    names = client_order(random, chip)
    if chip.sprites and chance(random, 35):  # whoever comes after the sprites gets other slots with each sprite less
        names.remove("sprites")
        names.insert(0, "sprites")
    for name in names:
        own = pattern(random, sparse=sparse) if chance(random, patterns) else {}
        if name == "sprites":
            clients[name] = {"when": random.choice(("line before", "blanking")), **own}
        elif name.partition(".")[0] in held:
            clients[name] = {"when": "line before", **own}
        elif chance(random, 70 if sparse else 18):
            clients[name] = {"when": "blanking", **own}
        else:
            clients[name] = {"when": "in time", "lead": random.choice(LEADS), **own}
        if name.endswith((".cells", ".colours")) and chance(random, 35):
            clients[name]["keep"] = True
    table: Json = {"clients": clients}
    if chance(random, 40):
        table["refresh"] = {"slots": random.randint(1, 5), **(pattern(random) if chance(random, 35) else {})}
    active = random.choice(("none", "free", "reserved"))
    table["cpu"] = {"active": active, "blanking": chance(random, 80)}
    if active == "reserved":
        every = random.randint(3, 9)
        table["cpu"] |= {"every": every, "at": [random.randrange(every)]}
    return table


# Chips


def sizes_with(random: Random, width: int) -> Json:
    """The picture's size or, now and then, up to three of them, the widest ``width`` dots wide."""
    if not chance(random, 25):
        return {"width": width, "height": 64}
    others = {(random.choice((64, 72, 80, width)), random.choice((64, 65, 68))) for _ in range(random.randint(1, 2))}
    sizes = sorted({(width, 64), *((min(across, width), down) for across, down in others)})
    random.shuffle(sizes)
    return {"sizes": [list(size) for size in sizes]}


def odd_plan(random: Random) -> Json:
    """The data of a chip file; some of these a check refuses, such as one with too few slots for its refresh."""
    sizes = Random(str(random.getstate()))  # so that chips of one size are what they would be without
    width, below = random.choice((64, 64, 72, 80, 96, 128)), random.choice((0, 0, 1, 2, 5))
    size = sizes_with(sizes, width)
    plan: Json = {
        "name": "Odd",
        "frame": {
            **size,
            "dot_clock": 1_000_000,
            "dots_per_line": width + random.choice((8, 12, 16, 16, 20, 24, 33, 40)),
            "lines_per_frame": max([64, *(down for _, down in size.get("sizes", ()))]) + below,
        },
        "palette": {"entries": 16, "bank_size": 16, "red": "11:8", "green": "7:4", "blue": "3:0"},
        "memory": {"size": 1024 * random.choice((1, 2)), "bytes_per_access": random.choice((1, 1, 2, 4))},
    }
    sparse = chance(random, 30)
    plan["layers"] = layers(random, plan, sparse=sparse)
    plan["ladder"] = [{"source": layer["name"]} for layer in plan["layers"]]
    if chance(random, 60):
        plan["sprites"] = sprites(random, plan)
        plan["ladder"].append({"source": "sprites"})
    chip = Chip.model_validate_json(json.dumps(plan))
    if chance(random, 55):
        plan["registers"], plan["constants"] = registers(random, dict(controls(chip)))
    plan["time"] = time_table(random, chip, sparse=sparse)
    plan["memory"]["accesses_per_dot"] = "2"
    return plan


def made(plan: Json) -> Chip | None:
    """The chip of ``plan``; None where a check has something to say."""
    chip = Chip.model_validate_json(json.dumps(plan))
    return None if list(check(chip)) else chip


def odd_chip(random: Random, seems: Judge) -> Chip:
    """A chip that ``seems`` to fit only just, or that is one turn of a knob beyond."""
    while True:
        plan = odd_plan(random)
        chip = near(random, plan, seems)
        if chip is not None:
            return chip


def near(random: Random, plan: Json, seems: Judge) -> Chip | None:
    """``plan`` with its rate, and at times a lead, just where it still seems to fit, or a step to either side; None for none."""

    def at_rate(place: int) -> Chip | None:
        plan["memory"]["accesses_per_dot"] = str(RATES[place])
        return made(plan)

    place = least(len(RATES) - 1, at_rate, seems)
    if place is None:
        return None
    aside = random.choice((0, 0, 0, 0, -1, -2, 1, 4))
    place = min(len(RATES) - 1, max(0, place + aside))
    leads = [client for client in plan["time"]["clients"].values() if "lead" in client]
    chip = at_rate(place)
    if not leads or chance(random, 40):
        return chip
    client = random.choice(leads)
    widest = client["lead"]

    def at_lead(lead: int) -> Chip | None:
        client["lead"] = lead + 1
        return made(plan)

    lead = least(widest - 1, at_lead, seems)
    client["lead"] = widest if lead is None else max(1, lead + 1 - (random.randrange(4) == 0))
    return at_rate(place)


def least(last: int, make: Callable[[int], Chip | None], seems: Judge) -> int | None:
    """A number from 0 to ``last`` that seems to fit where the one below does not; None where ``last`` does not."""

    def good(number: int) -> bool:
        chip = make(number)
        return chip is not None and seems(chip)

    if not good(last):
        return None
    low, high = -1, last
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if good(middle) else (middle, high)
    return high
