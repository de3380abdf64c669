"""Random layers: their modes, each of which fits the memory.

Law: as in ``layouts``; a mode of each kind has every key that a chip file knows for it, now and then.
"""

from __future__ import annotations

from random import Random

from ....chip.tables.bits import Bits
from .chances import Json, chance, pick
from .layouts import DEPTHS, dots, layouts, optional_widths, rule, transparency, whole_row

SCROLLS = (*["both"] * 5, True, "x", "x", "y", "y", "none", False)
"""What a mode says of scrolling, with the chances of each."""


def tile_sides(random: Random, access: int) -> list[int]:
    """A square tile of 8 or 16 dots or, as often, one of any sides, whose rows can fill bytes and accesses."""
    if chance(random, 50):
        return [int(pick(random, 8, 16))] * 2
    sides = [side for side in range(4, 33, 4) if any(whole_row(side, bits, access) for bits in DEPTHS)]
    across = int(pick(random, *sides))
    return [across, across if chance(random, 30) else int(pick(random, 4, 8, 8, 12, 16, 20, 24, 28, 32))]


def edges(random: Random, chip: Json) -> Json:
    """A surface that wraps or, now and then, one that ends, with an entry around it or nothing."""
    if chance(random, 70):
        return {}
    around = {"outside": random.randint(0, chip["palette"]["entries"] - 1)} if chance(random, 50) else {}
    return {"wrap": False, **around}


def tiles_mode(random: Random, chip: Json) -> Json:
    """A tile map that fits the memory."""
    tile, cell_bytes = tile_sides(random, chip["memory"]["bytes_per_access"]), pick(random, 1, 2)
    held = dots(random, chip, tile[0])
    bits = held["bits_per_dot"]
    most = {"flip_x": 1, "flip_y": 1, "turn": 1, "bank": 4, "priority": 3}
    if tile[0] != tile[1]:
        del most["turn"]
    widths = optional_widths(random, 8 * cell_bytes - 2, most)
    widths["pattern"] = random.randint(1, min(8 * cell_bytes - sum(widths.values()), pick(random, 6, 16)))
    pages = [pick(random, 1, 2, random.randint(1, 8)) for _ in "xy"]
    room = chip["memory"]["size"] // (cell_bytes * pages[0] * pages[1])
    across = random.randint(1, min(pick(random, 4, 16, 40), room))
    mode = {
        "kind": "tiles",
        "tile": tile if tile[0] != tile[1] or chance(random, 10) else tile[0],
        **held,
        "cell_bytes": cell_bytes,
        "cell": layouts(random, widths, 8 * cell_bytes),
        "page": [across, random.randint(1, min(pick(random, 4, 16, 40), room // across))],
        "pages": pages,
        **{key: "columns" for key in ("page_order", "cell_order") if chance(random, 25)},
        **edges(random, chip),
        "scroll": random.choice(SCROLLS),
        "entries": rule(random, chip["palette"], (1 << bits) - 1, (1 << widths.get("bank", 0)) - 1),
    }
    transparency(random, mode, (1 << bits) - 1)
    return mode


def bitmap_mode(random: Random, chip: Json) -> Json:
    """A bitmap that fits the memory, packed or with a stride."""
    access, size = chip["memory"]["bytes_per_access"], chip["memory"]["size"]
    held = dots(random, chip, 8 * access)
    bits, planes = held["bits_per_dot"], held.get("planes")
    # whole accesses, of each plane where there are any
    dots_of_unit = 8 * access if planes else max(8, 8 * access // bits)
    unit = dots_of_unit * bits // 8
    most = max(1, min(pick(random, 3, 20, 100), size // unit, 4096 // dots_of_unit))
    width = dots_of_unit * random.randint(1, most)
    row = width * bits // 8 if planes in (None, "by row") else width // 8
    mode = {"kind": "bitmap", **held, "width": width, "scroll": random.choice(SCROLLS), **edges(random, chip)}
    stride = row + access * random.randint(0, 5) if chance(random, 40) else row
    times = bits if planes == "by pattern" else 1
    lines = ((size - row) // stride + 1) // times
    if stride != row and lines:
        mode["stride"] = stride
    lines = lines or ((size - row) // row + 1) // times
    mode["height"] = random.randint(1, min(pick(random, 120, 20), lines))
    top, bank = (1 << bits) - 1, 0
    if chance(random, 45) and mode["width"] // 4 * mode["height"] <= size:
        mode["colours"] = cells = colour_cells(random, chip, mode, dots_of_unit if planes else 8 * access // bits)
        layout = {name: Bits.parse(one) for name, one in cells["cell"].items()}
        bank = layout["bank"].top if "bank" in layout else 0
        top = top if "bank" in layout else max(layout[name].top for name in ("foreground", "background"))
    mode["entries"] = rule(random, chip["palette"], top, bank)
    transparency(random, mode, top)
    return mode


def colour_cells(random: Random, chip: Json, mode: Json, dots_of_access: int) -> Json:
    """Colour cells for a bitmap, which is made as large as its blocks ask for; two colours only where it has one bit a dot."""
    across = [one for one in (4, 8, 16, 24, 32, 64) if max(one, dots_of_access) % min(one, dots_of_access) == 0]
    block = [pick(random, *(one for one in across if mode["width"] % one == 0)), 1]
    block[1] = pick(random, *(down for down in (1, 2, 3, 4, 8, 16) if mode["height"] % down == 0))
    blocks = mode["width"] // block[0] * (mode["height"] // block[1])
    cell_bytes = pick(random, 1, 2) if 2 * blocks <= chip["memory"]["size"] else 1
    two = mode["bits_per_dot"] == 1 and chance(random, 75)
    most = {"foreground": 4, "background": 4} if two else {"bank": 4}
    widths = {name: random.randint(1, top) for name, top in most.items()}
    room = 8 * cell_bytes - sum(widths.values())
    if room and chance(random, 50):
        widths["priority"] = random.randint(1, min(3, room))
    return {"block": block, "cell_bytes": cell_bytes, "cell": layouts(random, widths, 8 * cell_bytes)}


def narrowest(frame: Json) -> int:
    """Dots of the narrowest size."""
    return min(across for across, _ in frame["sizes"]) if "sizes" in frame else int(frame["width"])


def text_mode(random: Random, chip: Json) -> Json:
    """A text map that fits the memory, with margins or wider than the picture."""
    cell_bytes = pick(random, 1, 2)
    most = {"foreground": 4, "background": 4}
    widths = optional_widths(random, 8 * cell_bytes - 4, most)
    widths["character"] = random.randint(1, min(8, 8 * cell_bytes - sum(widths.values())))
    room = chip["memory"]["size"] // cell_bytes
    columns = random.randint(1, min(pick(random, 8, 24), room))
    colour = max((1 << widths.get(name, 0)) - 1 for name in most)
    entries = rule(random, chip["palette"], max(colour, 1), 0)
    mode = {
        "kind": "text",
        "glyph": [random.randint(4, 8), random.randint(4, 16)],
        "cell_bytes": cell_bytes,
        "cell": layouts(random, widths, 8 * cell_bytes),
        "columns": columns,
        "rows": random.randint(1, min(pick(random, 6, 20), room // columns)),
        "left": random.randint(0, min(pick(random, 0, 16, 1024), narrowest(chip["frame"]) - 1)),
        "entries": entries,
    }
    if chance(random, 50):
        mode["margin"] = random.randint(0, chip["palette"]["entries"] - 1)
    if len(widths) < 3:  # a colour number may come from a register: as far as the rule reaches
        step = entries.get("value_step", 1)
        reach = (chip["palette"]["entries"] - 1 - entries.get("base", 0)) // step if step else 0
        colour = max(colour, min(255, reach))
    transparency(random, mode, colour)
    return mode


KINDS = {"tiles": tiles_mode, "bitmap": bitmap_mode, "text": text_mode}


def layer(random: Random, chip: Json, name: str, names: list[str]) -> Json:
    """A layer of one to three modes, some of them exclusive."""
    modes = []
    for index in range(pick(random, 1, 1, 2, 3)):
        mode = {"name": f"m{index}", **KINDS[pick(random, "tiles", "tiles", "bitmap", "text")](random, chip)}
        mode["first_dot"] = pick(random, "high", "low")
        mode["origin"] = pick(random, "picture", "zone")
        if chance(random, 25):
            mode["double"] = [pick(random, 1, 2, 2, 4), pick(random, 1, 2, 2, 4)]
        others = [other for other in names if other != name]
        if chance(random, 14):
            mode["exclusive"] = [other for other in others if chance(random, 50)]
        modes.append(mode)
    return {"name": name, "modes": modes}
