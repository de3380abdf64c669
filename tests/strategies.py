"""Random chips, states and timed writes over everything that a chip file can say.

Law: what is made is valid by the way it is made: each number is drawn from what the numbers before it leave room for, so
that next to nothing is thrown away. Every new feature of the chip file joins here. Small pictures, small memories and
crowded sprites on purpose: things wrap, overlap and run over their limits often. Decisions are hypothesis's, so that they
shrink; bulk (memory, palette) comes from a seed.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from random import Random
from typing import Any

from hypothesis import assume
from hypothesis import strategies as st

from vdpsim.chip.bits import Bits
from vdpsim.chip.checks import check
from vdpsim.chip.controls import Control, Register, controls, registers
from vdpsim.chip.model import Chip
from vdpsim.memory import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, State, Write, fault

Draw = Callable[[st.SearchStrategy[Any]], Any]
Json = dict[str, Any]

EFFECTS = ("at once", "next line", "next frame")
RELATIONS = ("=", "!=", "<", "<=", ">", ">=")
DEPTHS = (1, 2, 4, 8)


def pick(draw: Draw, *choices: Any) -> Any:
    """One of ``choices``; the first is the simplest."""
    return draw(st.sampled_from(choices))


def number(draw: Draw, low: int, high: int) -> int:
    """A number from ``low`` to ``high``."""
    return low if low == high else draw(st.integers(low, high))


def chance(draw: Draw, percent: int) -> bool:
    """True about ``percent`` times in a hundred; shrinks to False."""
    return draw(st.integers(0, 99)) >= 100 - percent


# Layouts


def layouts(draw: Draw, widths: dict[str, int], bits: int) -> dict[str, str]:
    """Fields of these widths somewhere in a word of ``bits`` bits: any order, gaps, some in several parts."""
    random = Random(draw(st.integers(0, 1 << 32)))
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


def optional_widths(draw: Draw, room: int, most: dict[str, int]) -> dict[str, int]:
    """Some of the fields in ``most`` with 1 to that many bits each, ``room`` bits together at the very most."""
    widths = {}
    for name, top in most.items():
        if room > 0 and chance(draw, 55):
            widths[name] = number(draw, 1, min(top, room))
            room -= widths[name]
    return widths


def rule(draw: Draw, palette: Json, value: int, bank: int) -> Json:
    """A way from value and bank to an entry, within the palette for values up to ``value`` and banks up to ``bank``."""
    room = palette["entries"] - 1
    entries: Json = {}
    step = 1
    if value > room:
        step = 0
    elif chance(draw, 25):
        most = room // value
        step = palette["bank_size"] if palette["bank_size"] <= most and chance(draw, 60) else number(draw, 0, min(most, 40))
    if step != 1 or chance(draw, 10):
        entries["value_step"] = step
    room -= value * step
    bank_step = palette["bank_size"]
    if bank * bank_step > room or chance(draw, 20):
        bank_step = number(draw, 0, min(room // bank if bank else room, 300))
        entries["bank_step"] = bank_step
    room -= bank * bank_step
    if chance(draw, 40):
        entries["base"] = number(draw, 0, min(room, pick(draw, 1, 16, 4096)))
    return entries


def depth(draw: Draw, palette: Json) -> int:
    """Bits a dot, mostly so that values fit the palette."""
    fitting = [bits for bits in DEPTHS if 1 << bits <= palette["entries"]]
    return int(pick(draw, *(fitting if chance(draw, 92) else DEPTHS)))


def transparency(draw: Draw, table: Json, top: int) -> None:
    """Most modes give up a value, most of these value 0."""
    if chance(draw, 85):
        table["transparent"] = 0 if chance(draw, 75) else number(draw, 0, min(top, 255))


# Modes


def tiles_mode(draw: Draw, chip: Json) -> Json:
    """A tile map that fits the memory."""
    bits, cell_bytes = depth(draw, chip["palette"]), pick(draw, 1, 2)
    most = {"flip_x": 1, "flip_y": 1, "turn": 1, "bank": 4, "priority": 3}
    widths = optional_widths(draw, 8 * cell_bytes - 2, most)
    widths["pattern"] = number(draw, 1, min(8 * cell_bytes - sum(widths.values()), 12))
    pages = [pick(draw, 1, 2), pick(draw, 1, 2)]
    room = chip["memory"]["size"] // (cell_bytes * pages[0] * pages[1])
    across = number(draw, 1, min(pick(draw, 4, 16, 40), room))
    mode = {
        "kind": "tiles",
        "tile": pick(draw, 8, 16),
        "bits_per_dot": bits,
        "cell_bytes": cell_bytes,
        "cell": layouts(draw, widths, 8 * cell_bytes),
        "page": [across, number(draw, 1, min(pick(draw, 4, 16, 40), room // across))],
        "pages": pages,
        "scroll": chance(draw, 85),
        "entries": rule(draw, chip["palette"], (1 << bits) - 1, (1 << widths.get("bank", 0)) - 1),
    }
    transparency(draw, mode, (1 << bits) - 1)
    return mode


def bitmap_mode(draw: Draw, chip: Json) -> Json:
    """A bitmap that fits the memory, packed or with a stride."""
    bits = depth(draw, chip["palette"])
    access, size = chip["memory"]["bytes_per_access"], chip["memory"]["size"]
    unit = max(access, bits)  # bytes of whole accesses that are 8 dots at least
    row = unit * number(draw, 1, max(1, min(pick(draw, 3, 20, 100), size // unit, 4096 * bits // 8 // unit)))
    mode = {"kind": "bitmap", "bits_per_dot": bits, "width": row * 8 // bits, "scroll": chance(draw, 85)}
    stride = row
    if chance(draw, 40):
        stride = row + access * number(draw, 0, 5)
        mode["stride"] = stride
    mode["height"] = number(draw, 1, min(pick(draw, 120, 20), (size - row) // stride + 1))
    mode["entries"] = rule(draw, chip["palette"], (1 << bits) - 1, 0)
    transparency(draw, mode, (1 << bits) - 1)
    return mode


def text_mode(draw: Draw, chip: Json) -> Json:
    """A text map that fits the memory, with margins or wider than the picture."""
    cell_bytes = pick(draw, 1, 2)
    most = {"foreground": 4, "background": 4}
    widths = optional_widths(draw, 8 * cell_bytes - 4, most)
    widths["character"] = number(draw, 1, min(8, 8 * cell_bytes - sum(widths.values())))
    room = chip["memory"]["size"] // cell_bytes
    columns = number(draw, 1, min(pick(draw, 8, 24), room))
    colour = max((1 << widths.get(name, 0)) - 1 for name in most)
    entries = rule(draw, chip["palette"], max(colour, 1), 0)
    mode = {
        "kind": "text",
        "glyph": [number(draw, 4, 8), number(draw, 4, 16)],
        "cell_bytes": cell_bytes,
        "cell": layouts(draw, widths, 8 * cell_bytes),
        "columns": columns,
        "rows": number(draw, 1, min(pick(draw, 6, 20), room // columns)),
        "left": number(draw, 0, pick(draw, 0, 16, chip["frame"]["width"] - 1)),
        "entries": entries,
    }
    if chance(draw, 50):
        mode["margin"] = number(draw, 0, chip["palette"]["entries"] - 1)
    if len(widths) < 3:  # a colour number may come from a register: as far as the rule reaches
        step = entries.get("value_step", 1)
        reach = (chip["palette"]["entries"] - 1 - entries.get("base", 0)) // step if step else 0
        colour = max(colour, min(255, reach))
    transparency(draw, mode, colour)
    return mode


KINDS = {"tiles": tiles_mode, "bitmap": bitmap_mode, "text": text_mode}


def layer(draw: Draw, chip: Json, name: str, names: list[str]) -> Json:
    """A layer of one to three modes, some of them exclusive."""
    modes = []
    for index in range(pick(draw, 1, 1, 2, 3)):
        mode = {"name": f"m{index}", **KINDS[pick(draw, "tiles", "tiles", "bitmap", "text")](draw, chip)}
        mode["first_dot"] = pick(draw, "high", "low")
        mode["origin"] = pick(draw, "picture", "zone")
        others = [other for other in names if other != name]
        if chance(draw, 15):
            mode["exclusive"] = [other for other in others if chance(draw, 50)]
        modes.append(mode)
    return {"name": name, "modes": modes}


# Sprites and ladders


def sprites(draw: Draw, chip: Json) -> Json:
    """A sprite engine whose records fit."""
    bits = depth(draw, chip["palette"])
    widths = {"x": number(draw, 5, 9), "y": number(draw, 5, 9), "pattern": number(draw, 1, 8)}
    most = {"flip_x": 1, "flip_y": 1, "bank": 4, "priority": 3, "size": 2, "group": 3, "enable": 1, "x_bias": 1}
    widths |= optional_widths(draw, 40, most)
    high = pick(draw, 16, 64)
    sizes = [[pick(draw, 8, 16, 16, 32, 64), number(draw, 1, high)] for _ in range(1 << widths.get("size", 0))]
    rows = [across * bits // 8 for across, _ in sizes]
    access = chip["memory"]["bytes_per_access"]
    table = pick(draw, "chip", "memory")
    least = (sum(widths.values()) + 7) // 8
    record = number(draw, least, min(8, least + 1))
    record = -(-record // access) * access if table == "memory" else record
    count = number(draw, 1, pick(draw, 8, 24, 24, 64))
    found = {
        "count": count if table == "chip" else min(count, chip["memory"]["size"] // record),
        "table": table,
        "record_bytes": record,
        "fields": layouts(draw, widths, 8 * record),
        "sizes": sizes,
        "bits_per_dot": bits,
        "first_dot": pick(draw, "high", "low"),
        "entries": rule(draw, chip["palette"], (1 << bits) - 1, (1 << widths.get("bank", 0)) - 1),
        "front": pick(draw, "first", "last"),
        "dropped": pick(draw, "back", "front"),
        "resolve": pick(draw, "before the ladder", "rung by rung"),
        "wrap_x": 1 << widths["x"] >= max(across for across, _ in sizes) and chance(draw, 50),
        "wrap_y": 1 << widths["y"] >= max(down for _, down in sizes) and chance(draw, 50),
    }
    if min(row * down for row, (_, down) in zip(rows, sizes, strict=True)) % max(rows) or chance(draw, 30):
        found["pattern_bytes"] = max(rows) * number(draw, 1, 20)
    if "x_bias" in widths:
        found["x_bias"] = number(draw, 1, 80)
    if chance(draw, 50):
        found["per_line"] = number(draw, 1, 12)
    if chance(draw, 50):
        found["dots_per_line"] = number(draw, 8, 200)
    if chance(draw, 90):
        found["transparent"] = 0 if chance(draw, 75) else number(draw, 0, (1 << bits) - 1)
    return found


def collision_groups(draw: Draw, fields: Json) -> Json:
    """Groups, sometimes fewer or more than the field counts to, and pairs that are set to collide."""
    top = Bits.parse(fields["group"]).top + 1 if "group" in fields else 1
    names = [f"g{index}" for index in range(number(draw, 1, min(8, top + 1)))]
    pairs = [[first, second] for index, first in enumerate(names) for second in names[index:] if chance(draw, 65)]
    return {
        "groups": names,
        "pairs": [pair[::-1] if chance(draw, 30) else pair for pair in pairs],
        "hidden_dots": chance(draw, 60),
    }


def ladder(draw: Draw, chip: Json) -> list[Json]:
    """Every source once or twice in any order, some under a condition, some left out."""
    fields: dict[str, dict[str, int]] = {}
    for table in chip["layers"]:
        tops: dict[str, int] = {}
        for mode in table["modes"]:
            if mode["kind"] == "tiles":
                for name, bits in mode["cell"].items():
                    tops[name] = max(tops.get(name, 0), Bits.parse(bits).top)
        fields[table["name"]] = tops
    if "sprites" in chip:
        fields["sprites"] = {name: Bits.parse(bits).top for name, bits in chip["sprites"]["fields"].items()}
    rungs = []
    for source, tops in fields.items():
        if chance(draw, 8):
            continue
        for _ in range(pick(draw, 1, 2, 2, 3) if tops else 1):
            rung = {"source": source}
            wanted = [name for name in ("priority", "bank", "size", "flip_x") if name in tops]
            if tops and chance(draw, 60):
                name = pick(draw, *wanted) if wanted and chance(draw, 75) else pick(draw, *sorted(tops))
                rung["when"] = f"{name} {pick(draw, *RELATIONS)} {number(draw, 0, tops[name])}"
            rungs.append(rung)
    if not rungs:
        rungs.append({"source": pick(draw, *fields)})
    return list(draw(st.permutations(rungs)))


# Registers


def register_list(draw: Draw, known: dict[str, Control]) -> tuple[Json, Json]:
    """Own registers for most controls, and constants for some of the others."""
    listed: Json = {}
    wired: Json = {}
    address = number(draw, 0, 300) if chance(draw, 30) else None
    for name, control in known.items():
        if chance(draw, 15):
            if chance(draw, 60):
                wired[name] = control.step * number(draw, 0, control.top // control.step)
            continue
        step = control.step * pick(draw, 1, 1, 1, 2, 3)
        wanted = max(1, (control.top // step).bit_length())
        register: Json = {"bits": wanted if chance(draw, 80) else number(draw, 1, min(wanted + 1, 32))}
        register["effect"] = pick(draw, *EFFECTS)
        if step != control.step:
            register["step"] = step
        top = ((1 << register["bits"]) - 1) * step
        top = top if control.wraps else min(top, control.top)
        if control.rest > top or control.rest % step or chance(draw, 40):
            register["reset"] = step * number(draw, 0, top // step)
        if address is not None:
            register["address"] = address
            address += (register["bits"] + 7) // 8 + number(draw, 0, 1)
        listed[name] = register
    if chance(draw, 30):
        listed = dict(draw(st.permutations(list(listed.items()))))
    return listed, wired


# Chips


def frame(draw: Draw) -> Json:
    """A small picture with or without a border."""
    border = {side: number(draw, 0, 6) for side in ("left", "right", "top", "bottom")} if chance(draw, 40) else {}
    width, height = pick(draw, 64, 72, 80, 88, 96), pick(draw, 64, 65, 72, 80)
    return {
        "width": width,
        "height": height,
        "border": border,
        "dot_clock": 6_000_000,
        "dots_per_line": width + border.get("left", 0) + border.get("right", 0) + number(draw, 0, 40),
        "lines_per_frame": height + border.get("top", 0) + border.get("bottom", 0) + number(draw, 0, 8),
    }


def palette(draw: Draw) -> Json:
    """A palette below, at or above 256 entries, with channels of any width."""
    count = pick(draw, 16, 2, 4, 8, 17, 32, 64, 100, 128, 255, 256, 257, 300, 512, 1024, 4096)
    depths = pick(draw, (4, 4, 4), (3, 3, 2), (5, 5, 5), (5, 6, 5), (8, 8, 8), (1, 1, 1), (2, 7, 6))
    widths = dict(zip(("red", "green", "blue"), depths, strict=True))
    total = sum(depths)
    return {
        "entries": count,
        "bank_size": min(count, pick(draw, 4, 16, 1, 2, 3, 8, 64, 256)),
        **layouts(draw, widths, number(draw, total, min(32, total + 8))),
    }


@st.composite
def chips(draw: Draw) -> Chip:
    """A valid chip with any of a chip file's features."""
    plan: Json = {"name": "Random", "frame": frame(draw), "palette": palette(draw)}
    plan["frame"]["backdrop"] = number(draw, 0, plan["palette"]["entries"] - 1)
    plan["memory"] = {
        "size": 256 * pick(draw, 16, 1, 2, 3, 4, 7, 8, 13, 32, 64),
        "bytes_per_access": pick(draw, 1, 2, 4, 8),
        "byte_order": pick(draw, "little", "big"),
    }
    names = ["a", "b", "c", "d", "e", "f"][: pick(draw, 1, 2, 2, 3, 3, 4, 5, 6)]
    plan["layers"] = [layer(draw, plan, name, names) for name in names]
    if chance(draw, 85):
        plan["sprites"] = sprites(draw, plan)
        if chance(draw, 65):
            plan["collisions"] = collision_groups(draw, plan["sprites"]["fields"])
    plan["ladder"] = ladder(draw, plan)
    for table in plan["layers"]:
        for mode in table["modes"]:
            if "exclusive" in mode and chance(draw, 60):
                mode["ladder"] = ladder(draw, plan)
    chip = Chip.model_validate_json(json.dumps(plan))
    if chance(draw, 60):
        plan["registers"], plan["constants"] = register_list(draw, controls(chip))
        chip = Chip.model_validate_json(json.dumps(plan))
    assume(not list(check(chip)))
    return chip


# States


def register_value(draw: Draw, chip: Chip, register: Register) -> int:
    """A value that the register takes: layers and sprites mostly on, zones mostly inside the picture."""
    top, step = register.top, register.step
    if register.name.endswith(".enable"):
        return top if top and chance(draw, 90) else 0
    if register.name.endswith(".split"):
        top = min(top, chip.frame.height)
    if chance(draw, 15):
        return int(pick(draw, 0, top // step) * step)
    return step * number(draw, 0, top // step)


def sprite_records(draw: Draw, chip: Chip, count: int) -> bytes:
    """``count`` records, most of them crowded around a place in the picture."""
    table = chip.sprites
    assert table is not None
    random = Random(draw(st.integers(0, 1 << 32)))
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


def memory_bytes(draw: Draw, chip: Chip, count: int) -> bytes:
    """Random bytes of which about half are blank, that is all dots of a value that some source gives up."""
    random = Random(draw(st.integers(0, 1 << 32)))
    given_up = [(mode.transparent, mode.bits_per_dot) for table in chip.layers for mode in table.modes if mode.kind != "text"]
    if chip.sprites:
        given_up += [(chip.sprites.transparent, chip.sprites.bits_per_dot)] * 2
    blanks = []
    for value, bits in given_up:
        if value is not None:
            blanks.append(sum(value << bits * dot for dot in range(8 // bits)))
    share = random.choice((0.0, 0.4, 0.7))
    table = bytes(random.choice(blanks) if blanks and random.random() < share else byte for byte in range(256))
    return random.randbytes(count).translate(table)


@st.composite
def states(draw: Draw, chip: Chip) -> State:
    """What ``chip`` holds before line 0: random, biased so that there is something to see."""
    state = State.at_reset(chip)
    size = chip.memory.size
    memory = bytearray(memory_bytes(draw, chip, size))
    random = Random(draw(st.integers(0, 1 << 32)))
    state.palette[:] = [random.getrandbits(chip.palette.word_bits) for _ in range(chip.palette.entries)]
    for name, register in registers(chip).items():
        if chance(draw, 85):
            state.controls[state.names.index(name)] = register_value(draw, chip, register)
        if register.effect == "next frame" and chance(draw, 10):
            state.next_frame[state.names.index(name)] = register_value(draw, chip, register)
    table = chip.sprites
    if table:
        data = sprite_records(draw, chip, table.count)
        if table.table == "chip":
            state.sprites.reshape(-1)[:] = list(data)
        else:
            for step, byte in enumerate(data):
                memory[(state.value("sprites.table") + step) % size] = byte
    state.memory[:] = list(memory)
    return state


# Timed writes


def _register_write(draw: Draw, chip: Chip, names: list[str], line: int) -> Write:
    name = pick(draw, *names)
    write = RegisterWrite(line, name, register_value(draw, chip, registers(chip)[name]), _dot(draw, chip))
    return write


def _dot(draw: Draw, chip: Chip) -> int:
    if chance(draw, 55):
        return number(draw, 0, chip.frame.width - 1)
    return number(draw, 0, chip.frame.dots_per_line - 1) if chance(draw, 20) else 0


def _palette_write(draw: Draw, chip: Chip, line: int) -> Write:
    entry = number(draw, 0, chip.palette.entries - 1)
    random = Random(draw(st.integers(0, 1 << 32)))
    words = [random.getrandbits(chip.palette.word_bits) for _ in range(min(random.randint(1, 20), chip.palette.entries - entry))]
    return PaletteWrite(line, entry, tuple(words), _dot(draw, chip))


def _memory_write(draw: Draw, chip: Chip, line: int) -> Write:
    address = number(draw, 0, chip.memory.size - 1)
    count = number(draw, 1, min(pick(draw, 2, 32, 200), chip.memory.size - address))
    return MemoryWrite(line, address, memory_bytes(draw, chip, count))


def _sprite_write(draw: Draw, chip: Chip, line: int) -> Write:
    table = chip.sprites
    assert table is not None
    first = number(draw, 0, table.count - 1)
    data = sprite_records(draw, chip, number(draw, 1, table.count - first))
    skip = number(draw, 0, 1) if len(data) > 1 else 0
    return SpriteWrite(line, first * table.record_bytes + skip, data[skip:])


@st.composite
def writes(draw: Draw, chip: Chip) -> list[Write]:
    """Timed writes of one frame, few as a rule, at times one of a kind on every line; in any order."""
    names = list(registers(chip))
    kinds: list[Callable[[int], Write]] = [
        lambda line: _palette_write(draw, chip, line),
        lambda line: _memory_write(draw, chip, line),
    ]
    if names:
        kinds = [lambda line: _register_write(draw, chip, names, line)] * 3 + kinds
    if chip.sprites and chip.sprites.table == "chip":
        kinds.append(lambda line: _sprite_write(draw, chip, line))
    found: list[Write] = []
    end = chip.frame.lines_per_frame
    if chance(draw, 8):
        kind = pick(draw, *kinds)
        found += [kind(line) for line in range(number(draw, 0, 40), end, number(draw, 1, 8))]
    for _ in range(pick(draw, 0, 1, 2, 3, 4, 6, 12)):
        line = number(draw, 0, end - 1) if chance(draw, 80) else pick(draw, 0, end - 1)
        found.append(pick(draw, *kinds)(line))
        if chance(draw, 20):  # something else at the same time
            found.append(pick(draw, *kinds)(line))
    for write in found:
        wrong = fault(chip, write)
        assert wrong is None, wrong
    return found
