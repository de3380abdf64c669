"""Random sprite engines, collision groups and ladders.

Law: as in ``layouts``: records hold their fields, rows of patterns can be fetched, conditions ask what there is.
"""

from __future__ import annotations

from random import Random

from ....chip.tables.bits import Bits
from .chances import Json, chance, pick, shuffled
from .layouts import dots, even, layouts, optional_widths, rule

RELATIONS = ("=", "!=", "<", "<=", ">", ">=")
"""What a rung's condition may ask."""


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
