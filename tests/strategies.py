"""Random chips, states and timed writes over everything that a chip file can say.

Law: what is made is valid by the way it is made: each number is drawn from what the numbers before it leave room for, so
that next to nothing is thrown away. Every new feature of the chip file joins here. Small pictures, small memories and
crowded sprites on purpose: things wrap, overlap and run over their limits often.

An example is one seed, because hypothesis's own choices repeat themselves: of 300 examples drawn choice by choice
only a third were independent, and rare features hardly met. The profile ``shrink`` draws choice by choice, so that a
failure that it finds shrinks to the simplest chip that has it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from random import Random
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from strategies_registers import in_words, with_others
from strategies_time import cpu_side, port_writes, rate, time_table, transfer

from vdpsim.chip.checks import check
from vdpsim.chip.controls import Control, controls
from vdpsim.chip.model import Chip
from vdpsim.chip.registers import RegisterField, field_names, fields, registers, rest_values
from vdpsim.chip.tables.bits import Bits
from vdpsim.state.state import State
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Write, fault

Draw = Callable[[st.SearchStrategy[Any]], Any]
Json = dict[str, Any]

EFFECTS = ("at once", "next line", "next frame")
RELATIONS = ("=", "!=", "<", "<=", ">", ">=")
DEPTHS = (1, 2, 4, 8)
SCROLLS = (*["both"] * 5, True, "x", "x", "y", "y", "none", False)


def pick(random: Random, *choices: Any) -> Any:
    """One of ``choices``; the first is the simplest."""
    return random.choice(choices)


def chance(random: Random, percent: int) -> bool:
    """True about ``percent`` times in a hundred; shrinks to False."""
    return random.randint(0, 99) >= 100 - percent


def shuffled(random: Random, items: Iterable[Any]) -> list[Any]:
    """The items in any order."""
    items = list(items)
    random.shuffle(items)
    return items


def bulk(random: Random) -> Random:
    """A source for many numbers that need not shrink one by one."""
    return Random(random.randint(0, 1 << 32))


# Layouts


def layouts(random: Random, widths: dict[str, int], bits: int) -> dict[str, str]:
    """Fields of these widths somewhere in a word of ``bits`` bits: any order, gaps, some in several parts."""
    random = bulk(random)
    parts: list[tuple[str, int]] = []
    for name, width in widths.items():
        rest = width
        while rest:
            size = random.randint(1, rest) if random.random() < 0.25 else rest
            parts.append((name, size))
            rest -= size
    random.shuffle(parts)
    slack = bits - sum(widths.values())
    gaps = [0] * (len(parts) + 1)
    for _ in range(slack):
        gaps[random.randrange(len(gaps)) if random.random() < 0.5 else -1] += 1
    found: dict[str, list[str]] = {name: [] for name in widths}
    low = 0
    for (name, size), gap in zip(parts, gaps, strict=False):
        low += gap
        found[name].append(str(low) if size == 1 else f"{low + size - 1}:{low}")
        low += size
    return {name: ", ".join(pieces) for name, pieces in found.items()}


def optional_widths(random: Random, room: int, most: dict[str, int]) -> dict[str, int]:
    """Some of the fields in ``most`` with 1 to that many bits each, ``room`` bits together at the very most."""
    widths = {}
    for name, top in most.items():
        if room > 0 and chance(random, 55):
            widths[name] = random.randint(1, min(top, room))
            room -= widths[name]
    return widths


def rule(random: Random, palette: Json, value: int, bank: int) -> Json:
    """A way from value and bank to an entry, within the palette for values up to ``value`` and banks up to ``bank``."""
    room = palette["entries"] - 1
    entries: Json = {}
    step = 1
    if value > room:
        step = 0
    elif chance(random, 25):
        most = room // value
        step = (
            palette["bank_size"]
            if palette["bank_size"] <= most and chance(random, 60)
            else random.randint(0, min(most, 40))
        )
    if step != 1 or chance(random, 10):
        entries["value_step"] = step
    room -= value * step
    bank_step = palette["bank_size"]
    if bank * bank_step > room or chance(random, 20):
        bank_step = random.randint(0, min(room // bank if bank else room, 300))
        entries["bank_step"] = bank_step
    room -= bank * bank_step
    if chance(random, 40):
        entries["base"] = random.randint(0, min(room, pick(random, 1, 16, 4096)))
    return entries


def depth(random: Random, palette: Json, depths: Sequence[int] = DEPTHS) -> int:
    """Bits a dot, of ``depths``, mostly so that values fit the palette."""
    fitting = [bits for bits in depths if 1 << bits <= palette["entries"]]
    return int(pick(random, *(fitting if fitting and chance(random, 92) else depths)))


def dots(random: Random, chip: Json, across: int) -> Json:
    """Bits a dot, packed or in planes, of rows of ``across`` dots that are whole accesses or an even part of one."""
    access = chip["memory"]["bytes_per_access"]
    kinds = ["by row", *(["by pattern", "apart"] if even(across // 8, access) else [])]
    planes = pick(random, *[None] * 3, *kinds) if across % 8 == 0 else None
    packed = [bits for bits in DEPTHS if whole_row(across, bits, access)]
    if planes is None:
        return {"bits_per_dot": depth(random, chip["palette"], packed)}
    depths = [bits for bits in range(1, 9) if planes != "by row" or even(across // 8 * bits, access)]
    fitting = [bits for bits in depths if 1 << bits <= chip["palette"]["entries"]]
    return {"bits_per_dot": pick(random, *(fitting if fitting and chance(random, 92) else depths)), "planes": planes}


def even(row: int, access: int) -> bool:
    """Whether ``row`` bytes are whole accesses, or an even part of one."""
    return row % access == 0 or access % row == 0


def transparency(random: Random, table: Json, top: int) -> None:
    """Most modes give up a value, most of these value 0."""
    if chance(random, 85):
        table["transparent"] = 0 if chance(random, 75) else random.randint(0, min(top, 255))


# Modes


def tile_sides(random: Random, access: int) -> list[int]:
    """A square tile of 8 or 16 dots or, as often, one of any sides, whose rows can fill bytes and accesses."""
    if chance(random, 50):
        return [int(pick(random, 8, 16))] * 2
    sides = [side for side in range(4, 33, 4) if any(whole_row(side, bits, access) for bits in DEPTHS)]
    across = int(pick(random, *sides))
    return [across, across if chance(random, 30) else int(pick(random, 4, 8, 8, 12, 16, 20, 24, 28, 32))]


def whole_row(dots: int, bits: int, access: int) -> bool:
    """Whether a row of so many packed dots lies in whole bytes that accesses bring evenly."""
    return dots * bits % 8 == 0 and even(dots * bits // 8, access)


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


# Sprites and ladders


def sprite_widths(bits: int, access: int, planes: str | None = None) -> list[int]:
    """Dots across of which a row is whole bytes, in each plane where there are any, and whole accesses or an even part of one."""
    each = 1 if planes else bits
    widths = [across for across in range(4, 65, 4) if not across * each % 8]
    return [across for across in widths if even(together(across, bits, planes), access)]


def together(across: int, bits: int, planes: str | None) -> int:
    """Bytes of a row of so many dots that lie together."""
    return across // 8 if planes in ("by pattern", "apart") else across * bits // 8


def sprite_tiles(random: Random, widths: list[int]) -> Json:
    """Tiles that sprites are made of, with one of the ``widths`` that memory can fetch."""
    found: Json = {
        "size": [pick(random, *[width for width in widths if width <= 32] or widths), pick(random, 8, 8, 1, 3, 5, 16)]
    }
    return found | ({"order": pick(random, "rows", "columns")} if chance(random, 70) else {})


def whole_tiles(random: Random, tile: list[int], size: list[int]) -> list[int]:
    """A size of whole tiles, near ``size``."""
    return [
        each * min(64 // each, max(1, (wanted + random.randint(0, each - 1)) // each))
        for wanted, each in zip(size, tile, strict=True)
    ]


def stride(random: Random, tiles: Json, sizes: list[list[int]]) -> Json:
    """A stride of tiles, half of the time: as few as can be, some more, or a power of two."""
    if chance(random, 50):
        return {}
    axis = 0 if tiles.get("order", "rows") == "rows" else 1
    least = max(size[axis] // tiles["size"][axis] for size in sizes)
    return {"stride": pick(random, least, least + random.randint(1, 5), max(least, 16), 256)}


def sprites(random: Random, chip: Json) -> Json:
    """A sprite engine whose records fit."""
    held = dots(random, chip, 8)
    bits, planes = held["bits_per_dot"], held.get("planes")
    top = pick(random, 9, 9, 12)
    widths = {"x": random.randint(5, top), "y": random.randint(5, top), "pattern": random.randint(1, top)}
    most = {"flip_x": 1, "flip_y": 1, "bank": 4, "priority": 3, "size": 2, "group": 3, "enable": 1, "x_bias": 1}
    if chance(random, 20):
        widths["pattern_bank"] = random.randint(1, 3)
    widths |= optional_widths(random, 64 - sum(widths.values()), most)
    high = pick(random, 16, 64)
    access = chip["memory"]["bytes_per_access"]
    fitting = sprite_widths(bits, access, planes)
    sizes = []
    tiles = sprite_tiles(random, fitting) if chance(random, 40) else None
    for _ in range(1 << widths.get("size", 0)):
        plain = [across for across in (8, 16, 16, 32, 64) if across in fitting]
        size = [pick(random, *(plain if chance(random, 60) else fitting)), random.randint(1, high)]
        sizes.append(whole_tiles(random, tiles["size"], size) if tiles else size)
    rows = [together(tiles["size"][0] if tiles else across, bits, planes) for across, _ in sizes]
    table = pick(random, "chip", "memory")
    least = (sum(widths.values()) + 7) // 8
    record = pick(random, least, min(8, least + 1), 8)
    record = -(-record // access) * access if table == "memory" else record
    count = random.randint(1, pick(random, 8, 24, 24, 24, 64, 200))
    found = {
        "count": count if table == "chip" else min(count, chip["memory"]["size"] // record),
        "table": table,
        "record_bytes": record,
        "fields": layouts(random, widths, 8 * record),
        "sizes": sizes,
        **held,
        "first_dot": pick(random, "high", "low"),
        "entries": rule(random, chip["palette"], (1 << bits) - 1, (1 << widths.get("bank", 0)) - 1),
        "front": pick(random, "first", "last"),
        "dropped": pick(random, "back", "front"),
        "resolve": pick(random, "before the ladder", "rung by rung"),
        "wrap_x": 1 << widths["x"] >= max(across for across, _ in sizes) and chance(random, 50),
        "wrap_y": 1 << widths["y"] >= max(down for _, down in sizes) and chance(random, 50),
    }
    parts = [row & -row for row in rows]
    if tiles:
        found["tiles"] = tiles | stride(random, tiles, sizes)
    times = bits if planes == "by pattern" else 1
    least = min(times * row * down for row, (_, down) in zip(rows, sizes, strict=True))
    if tiles and "stride" in found["tiles"]:
        pass  # numbers count tiles
    elif (not tiles and least % max(parts)) or chance(random, 30):
        found["pattern_bytes"] = max(parts) * random.randint(1, 20)
    elif chance(random, 25):
        steps = {tuple(size): part * random.randint(1, 20) for part, size in zip(parts, sizes, strict=True)}
        found["pattern_bytes"] = [steps[tuple(size)] for size in sizes]
    if "x_bias" in widths:
        found["x_bias"] = random.randint(1, 80)
    if chance(random, 50):
        found["per_line"] = random.randint(1, pick(random, 3, 12))
    if chance(random, 50):
        found["dots_per_line"] = 8 * random.randint(1, 20) + (random.randint(0, 7) if chance(random, 20) else 0)
    found["transparent"] = "none"
    if chance(random, 90):
        found["transparent"] = 0 if chance(random, 75) else random.randint(0, (1 << bits) - 1)
    return found


def collision_groups(random: Random, fields: Json) -> Json:
    """Groups, sometimes fewer or more than the field counts to, and pairs that are set to collide."""
    top = Bits.parse(fields["group"]).top + 1 if "group" in fields else 1
    names = [f"g{index}" for index in range(random.randint(1, min(8, top + 1)))]
    pairs = [[first, second] for index, first in enumerate(names) for second in names[index:] if chance(random, 75)]
    return {
        "groups": names,
        "pairs": [pair[::-1] if chance(random, 30) else pair for pair in pairs],
        "hidden_dots": chance(random, 45),
    }


def ladder(random: Random, chip: Json) -> list[Json]:
    """Every source once or twice in any order, some under a condition, some left out."""
    fields: dict[str, dict[str, int]] = {}
    for table in chip["layers"]:
        tops: dict[str, int] = {}
        for mode in table["modes"]:
            cell = mode["cell"] if mode["kind"] == "tiles" else mode.get("colours", {}).get("cell", {})
            for name, bits in cell.items():
                if mode["kind"] == "tiles" or name == "priority":
                    tops[name] = max(tops.get(name, 0), Bits.parse(bits).top)
        fields[table["name"]] = tops
    if "sprites" in chip:
        fields["sprites"] = {name: Bits.parse(bits).top for name, bits in chip["sprites"]["fields"].items()}
    rungs = []
    for source, tops in fields.items():
        if chance(random, 8):
            continue
        for _ in range(pick(random, 1, 2, 2, 3) if tops else 1):
            rung = {"source": source}
            wanted = [name for name in ("priority", "bank", "size", "flip_x") if name in tops]
            if tops and chance(random, 60):
                name = pick(random, *wanted) if wanted and chance(random, 75) else pick(random, *sorted(tops))
                rung["when"] = f"{name} {pick(random, *RELATIONS)} {random.randint(0, tops[name])}"
            rungs.append(rung)
    if not rungs:
        rungs.append({"source": pick(random, *fields)})
    return shuffled(random, rungs)


# Registers


def fitting_value(random: Random, name: str, top: int, step: int) -> int:
    """A value of 0 to ``top`` in steps: layers and sprites mostly on, else now and then one of the ends."""
    if name.endswith(".enable"):
        return 1 if top and chance(random, 92) else 0
    if chance(random, 15):
        return int(pick(random, 0, top // step) * step)
    return step * random.randint(0, top // step)


def register_list(random: Random, known: Mapping[str, Control]) -> tuple[Any, Json]:
    """Own registers for most controls, packed into words half the time, and constants for some of the others."""
    listed: Json = {}
    wired: Json = {}
    address = random.randint(0, 300) if chance(random, 30) else None
    for name, control in known.items():
        if chance(random, 15):
            if chance(random, 60):
                wired[name] = fitting_value(random, name, control.top, control.step)
            continue
        step = control.step * (pick(random, 1, 1, 1, 2, 3) if control.top >= 4 * control.step else 1)
        wanted = max(1, (control.top // step).bit_length())
        register: Json = {"bits": wanted if chance(random, 80) else random.randint(1, min(wanted + 1, 32))}
        register["effect"] = "next frame" if name == "picture_size" else pick(random, *EFFECTS)
        if step != control.step:
            register["step"] = step
        top = ((1 << register["bits"]) - 1) * step
        top = top if control.wraps else min(top, control.top)
        if control.rest > top or control.rest % step or chance(random, 40):
            register["reset"] = fitting_value(random, name, top, step)
        if address is not None:
            register["address"] = address
            address += (register["bits"] + 7) // 8 + random.randint(0, 1)
        listed[name] = register
    if chance(random, 30):
        listed = dict(shuffled(random, listed.items()))
    if listed and chance(random, 50):
        return with_others(random, in_words(random, listed, known)), wired
    return with_others(random, listed), wired


# Chips


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


def randoms() -> st.SearchStrategy[Random]:
    """Where all choices come from."""
    return st.randoms(use_true_random=settings.get_current_profile_name() != "shrink")


@st.composite
def chips(draw: Draw) -> Chip:
    """A valid chip with any of a chip file's features."""
    return make_chip(draw(randoms()))


@st.composite
def timed_chips(draw: Draw) -> Chip:
    """A valid chip with a time table."""
    random = draw(randoms())
    while True:
        chip = make_chip(random)
        if chip.time is not None:
            return chip


@st.composite
def states(draw: Draw, chip: Chip) -> State:
    """What ``chip`` holds before line 0: random, biased so that there is something to see."""
    return make_state(draw(randoms()), chip)


@st.composite
def writes(draw: Draw, chip: Chip) -> list[Write]:
    """Timed writes of one frame, few as a rule, at times one of a kind on every line; in any order."""
    return make_writes(draw(randoms()), chip)


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


# States


def register_value(random: Random, chip: Chip, register: RegisterField) -> int:
    """A value that the field of a register takes."""
    return fitting_value(random, register.controls[0], register.top, register.step)


def sprite_records(random: Random, chip: Chip, count: int) -> bytes:
    """``count`` records, most of them crowded around a place in the picture."""
    table = chip.sprites
    assert table is not None
    random = bulk(random)
    places = [(random.randrange(chip.frame.width), random.randrange(chip.frame.height)) for _ in range(2)]
    spread = random.choice((6, 20))
    layout = table.fields.layout
    data = b""
    for _ in range(count):
        values = {name: random.randint(0, bits.top) for name, bits in layout.items()}
        if random.random() < 0.85:
            x, y = random.choice(places)
            bias = table.x_bias if values.get("x_bias") else 0
            values["x"] = (x + bias + random.randint(-spread, spread)) % (layout["x"].top + 1)
            values["y"] = (y + random.randint(-spread, spread)) % (layout["y"].top + 1)
        if "enable" in values:
            values["enable"] = int(random.random() < 0.9)
        word = 0
        for name, bits in layout.items():
            word |= bits.put(values[name])
        spare = random.getrandbits(8 * table.record_bytes)
        for bits in layout.values():
            spare &= ~bits.mask
        data += (word | spare).to_bytes(table.record_bytes, chip.memory.byte_order)
    return data


def memory_bytes(random: Random, chip: Chip, count: int) -> bytes:
    """Random bytes of which about half are blank, that is all dots of a value that some source gives up."""
    random = bulk(random)
    given_up = [
        (
            mode.transparent and mode.transparent & 1 if mode.planes else mode.transparent,
            1 if mode.planes else mode.bits_per_dot,
        )
        for table in chip.layers
        for mode in table.modes
        if mode.kind != "text"
    ]
    if chip.sprites:
        clear, bits = chip.sprites.transparent, chip.sprites.bits_per_dot
        given_up += [(clear and clear & 1, 1) if chip.sprites.planes else (clear, bits)] * 2
    blanks = []
    for value, bits in given_up:
        if value is not None:
            blanks.append(sum((value & (1 << bits) - 1) << bits * dot for dot in range(8 // bits)))
    share = random.choice((0.0, 0.4, 0.7))
    table = bytes(random.choice(blanks) if blanks and random.random() < share else byte for byte in range(256))
    return random.randbytes(count).translate(table)


def make_state(random: Random, chip: Chip) -> State:
    """What ``chip`` may hold before line 0."""
    state = State.at_reset(chip)
    size = chip.memory.size
    memory = bytearray(memory_bytes(random, chip, size))
    colours = bulk(random)
    state.palette[:] = [colours.getrandbits(chip.palette.word_bits) for _ in range(chip.palette.entries)]
    for field in fields(chip).values():
        numbers = [state.names.index(name) for name in field.controls]
        if chance(random, 85):
            state.controls[numbers] = register_value(random, chip, field)
        if field.effect == "next frame" and chance(random, 60 if "picture_size" in field.controls else 10):
            state.next_frame |= dict.fromkeys(numbers, register_value(random, chip, field))
    state.held.update(held_bits(random, chip))
    table = chip.sprites
    if table:
        data = sprite_records(random, chip, table.count)
        if table.table == "chip":
            state.sprites.reshape(-1)[:] = list(data)
        else:
            for step, byte in enumerate(data):
                memory[(state.value("sprites.table") + step) % size] = byte
    state.memory[:] = list(memory)
    return state


def held_bits(random: Random, chip: Chip) -> dict[int, tuple[int, int]]:
    """Bits of some registers that no control has: parts that wait, and bits that no field names."""
    found = {}
    for register in registers(chip).values():
        if chance(random, 30):
            below = (1 << 8 * (register.size - 1)) - 1
            waits = sum(
                part.bits.mask if field.split else part.bits.mask & below
                for field, part in register.holds
                if register.half_write == "waits"
            )
            waits &= random.getrandbits(32)
            bits = random.getrandbits(32) & (waits | register.unnamed)
            if waits or bits:
                found[register.number] = waits, bits
    return found


# Timed writes


def _register_writes(random: Random, chip: Chip, name: str, line: int) -> list[Write]:
    """A register written once, or a few dots later once more: something else, or what it may have held before."""
    register = field_names(chip)[name]
    dot = _dot(random, chip)
    found: list[Write] = [RegisterWrite(line, name, register_value(random, chip, register), dot)]
    if chance(random, 45):
        later = min(dot + pick(random, 0, 1, 2, 3, 5, 9), chip.frame.dots_per_line - 1)
        value = register.reset if chance(random, 70) else register_value(random, chip, register)
        found.append(RegisterWrite(line, name, value, later))
    if register.controls[0].endswith(".enable") and chance(random, 60):
        found = [RegisterWrite(line, name, 0, dot), RegisterWrite(line, name, min(1, register.top), found[-1].dot)]
    return found


def _whole_write(random: Random, chip: Chip, line: int) -> list[Write]:
    """A register written as a word, where it has a name of its own; else byte by byte, or a byte of it."""
    one = random.choice(list(registers(chip).values()))
    dot, word = _dot(random, chip), random.getrandbits(one.bits)
    if one.name not in field_names(chip) and chance(random, 60):
        return [RegisterWrite(line, one.name, word, dot)]
    places = range(one.size) if chance(random, 60) else [random.randrange(one.size)]
    return [PortWrite(line, one.address + place, word >> 8 * place & 0xFF, dot) for place in places]


def _dot(random: Random, chip: Chip) -> int:
    if chance(random, 55):
        return random.randint(0, chip.frame.width - 1)
    return random.randint(0, chip.frame.dots_per_line - 1) if chance(random, 20) else 0


def _palette_writes(random: Random, chip: Chip, line: int) -> list[Write]:
    entry = random.randint(0, chip.palette.entries - 1)
    random = bulk(random)
    words = [
        random.getrandbits(chip.palette.word_bits)
        for _ in range(min(random.randint(1, 20), chip.palette.entries - entry))
    ]
    return [PaletteWrite(line, entry, tuple(words), _dot(random, chip))]


def _memory_writes(random: Random, chip: Chip, line: int) -> list[Write]:
    address = random.randint(0, chip.memory.size - 1)
    count = random.randint(1, min(pick(random, 2, 32, 200), chip.memory.size - address))
    return [MemoryWrite(line, address, memory_bytes(random, chip, count))]


def _sprite_writes(random: Random, chip: Chip, line: int) -> list[Write]:
    """New records from some sprite on, or from within it; where the table lies in memory, at an address that it may have."""
    table = chip.sprites
    assert table is not None
    first = random.randint(0, table.count - 1)
    data = sprite_records(random, chip, random.randint(1, table.count - first))
    if table.table == "memory":
        address = (rest_values(chip)["sprites.table"] + first * table.record_bytes) % chip.memory.size
        return [MemoryWrite(line, address, data[: chip.memory.size - address])]
    skip = random.randint(0, 1) if len(data) > 1 else 0
    return [SpriteWrite(line, first * table.record_bytes + skip, data[skip:])]


def _some_writes(random: Random, chip: Chip, line: int) -> list[Write]:
    """What is written at one time, of any kind."""
    names = list(field_names(chip))
    if names and chance(random, 15):
        return _whole_write(random, chip, line)
    if names and chance(random, 65):
        wanted = [name for name in names if name.startswith("sprites.") or name == "picture_size"]
        return _register_writes(random, chip, random.choice(wanted if wanted and chance(random, 15) else names), line)
    kinds = [_palette_writes, _memory_writes, port_writes, *([transfer, transfer] if chip.time else [])]
    return random.choice([*kinds, _sprite_writes] if chip.sprites else kinds)(random, chip, line)


def _mode_writes(random: Random, chip: Chip) -> list[Write]:
    """Modes that change within lines, on many of them; none where the chip has no mode to set."""
    modes = [field for field in field_names(chip).values() if any(name.endswith(".mode") for name in field.controls)]
    found: list[Write] = []
    for line in range(chip.frame.lines_per_frame) if modes else ():
        for _ in range(pick(random, 0, 1, 1, 2)):
            field, dot = random.choice(modes), random.randint(0, chip.frame.width - 1)
            found.append(RegisterWrite(line, field.name, register_value(random, chip, field), dot))
    return found


def make_writes(random: Random, chip: Chip) -> list[Write]:
    """Timed writes of one frame."""
    found: list[Write] = []
    end = chip.frame.lines_per_frame
    if chance(random, 12):
        found += _mode_writes(random, chip)
    if chance(random, 8):
        names = list(field_names(chip))
        for line in range(random.randint(0, 40), end, random.randint(1, 8)):
            found += _register_writes(random, chip, names[0], line) if names else _palette_writes(random, chip, line)
            names = shuffled(random, names) if chance(random, 10) else names
    for _ in range(pick(random, 0, 1, 2, 3, 4, 6, 12)):
        line = random.randint(0, end - 1) if chance(random, 80) else pick(random, 0, end - 1)
        found += _some_writes(random, chip, line)
        if chance(random, 20):  # something else at the same time
            found += _some_writes(random, chip, line)
    for write in found:
        wrong = fault(chip, write)
        assert wrong is None, wrong
    return found
