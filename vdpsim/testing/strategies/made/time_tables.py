"""Random time tables, CPUs, ports and status, and what a CPU writes.

Law: as in ``layouts``. Leads, patterns and rates are drawn so that often everything fits and often something is late; every order
of the clients that a chip file allows comes up. Of sprites whose table is in memory some have too few slots to read it.
"""

from __future__ import annotations

from random import Random

from ....chip.line.places import cpu_places
from ....chip.model import AnyMode, Chip
from ....chip.registers import registers
from ....state.writes import PortWrite, Transfer, Write
from .chances import Json, chance

ASKS = {"tiles": ("cells", "pattern"), "bitmap": ("colours", "bitmap"), "text": ("cells", "glyphs")}
"""What a mode of each kind fetches, in the order in which it needs it; colour cells where a bitmap has them."""

OF_ROWS = ("pattern", "glyphs", "bitmap")
"""Who fetches rows of dots."""


def slot_pattern(random: Random, most: int = 6) -> Json:
    """Some of the slots, by their remainder."""
    every = random.randint(1, most)
    return {"every": every, "at": sorted(random.sample(range(every), random.randint(1, every)))}


def asks(mode: AnyMode) -> list[str]:
    """What the mode fetches."""
    return [what for what in ASKS[mode.kind] if what != "colours" or getattr(mode, "colours", None) is not None]


def client_keys(random: Random, chip: Chip, alone: int) -> list[str]:
    """Keys for all clients; in ``alone`` of a hundred cases a mode of a layer with several has one to itself.

    Now and then cells alone have, and most of them: then rows of dots are one queue behind the cells of many places.
    """
    together = chance(random, 30)
    names = []
    for layer in chip.layers:
        for mode in layer.modes:
            for what in asks(mode):
                share = alone if not together else 0 if what in OF_ROWS else 75
                own = len(layer.modes) > 1 and chance(random, share)
                names.append(f"{layer.name}.{mode.name}.{what}" if own else f"{layer.name}.{what}")
    return [*dict.fromkeys(names), *(["sprites"] if chip.sprites else [])]


def client_order(random: Random, chip: Chip, alone: int = 25) -> list[str]:
    """The keys of a time table in any order in which cells come before what hangs on them."""
    names = client_keys(random, chip, alone)
    random.shuffle(names)
    for layer in chip.layers:
        for mode in layer.modes:
            keys = [
                own if (own := f"{layer.name}.{mode.name}.{what}") in names else f"{layer.name}.{what}"
                for what in asks(mode)
            ]
            if mode.kind != "bitmap" and names.index(keys[0]) > names.index(keys[1]):
                names.remove(keys[0])
                names.insert(names.index(keys[1]), keys[0])
    return names


def time_table(random: Random, chip: Chip) -> Json:
    """A time table for ``chip``: generous as a rule, so that many chips fit, or tight."""
    tight = chance(random, 50)
    clients: Json = {}
    buffered = [layer.name for layer in chip.layers if chance(random, 25)]
    for name in client_order(random, chip):
        plain = not chance(random, 15 if tight else 4)
        pattern = {} if plain else slot_pattern(random)
        if name == "sprites":
            scarce = chip.sprites is not None and chip.sprites.table == "memory" and chance(random, 15)
            few = {"every": (every := random.randint(4, 32)), "at": [random.randrange(every)]} if scarce else pattern
            clients[name] = {"when": random.choice(["line before", "blanking"]), **few}
        elif name.partition(".")[0] in buffered:
            clients[name] = {"when": "line before", **pattern}
        elif chance(random, 20 if tight else 5):
            clients[name] = {"when": "blanking", **pattern}
        else:
            lead = random.randint(1, 40) if tight else random.choice([24, 32, 40, 64, 100])
            clients[name] = {"when": "in time", "lead": lead, **pattern}
        if name.endswith((".cells", ".colours")) and chance(random, 35):
            clients[name]["keep"] = True
    table: Json = {"clients": clients}
    if chance(random, 50):
        table["refresh"] = {"slots": random.randint(1, 6), **(slot_pattern(random, 3) if chance(random, 15) else {})}
    active = random.choice(["none", "free", "reserved"])
    table["cpu"] = {"active": active, "blanking": chance(random, 80)}
    if active == "reserved":
        every = random.randint(2, 8)
        table["cpu"] |= {"every": every, "at": [random.randrange(every)]}
    return table


def rate(random: Random) -> int | str:
    """Accesses a dot: whole, or a fraction that leaves a part of a slot over at a line's end."""
    whole, any_rate = (4, 6, 8), (1, 2, 3, "3/2", "5/7", "1/2", "7/3")
    rates: tuple[int | str, ...] = whole if chance(random, 50) else any_rate
    return random.choice(rates)


def cpu_side(random: Random, chip: Chip) -> Json:
    """A CPU, ports and status at addresses above all registers."""
    found: Json = {}
    free = max([register.address + 4 for register in registers(chip).values()], default=0)
    if chance(random, 50):
        found["cpu"] = {
            "clock": random.choice([6_000_000, 3_500_000, 1_000_000]),
            "cycles_per_byte": random.randint(1, 40),
        }
        if chance(random, 75):
            found["cpu"]["queue"] = random.choice([1, 1, 2, 3, 16, 4096])
    if chance(random, 55):
        targets = ["memory", "palette"] + (["sprites"] if chip.sprites and chip.sprites.table == "chip" else [])
        random.shuffle(targets)
        found["ports"] = []
        for target in targets[: random.randint(1, len(targets))]:
            port: Json = {
                "target": target,
                "address": free,
                "data": free + 4,
                "advance": random.choice([1, 1, 0, 2, 255]),
            }
            if chance(random, 60):
                port["step"] = free + 5
            found["ports"].append(port)
            free += 6
    if chance(random, 55):
        flags = ["line", "picture_end"] + (["dropped", "collision"] if chip.sprites else [])
        bits = random.sample(range(8), len(flags))
        status: Json = {name: bit for name, bit in zip(flags, bits, strict=True) if chance(random, 75)}
        status |= {"address": free, "cleared": random.choice(["read", "write"])}
        if chip.collisions and chance(random, 50):
            status["groups"] = free + 1
        found["status"] = status
    return found


def transfer(random: Random, chip: Chip, line: int) -> list[Write]:
    """A transfer of a few bytes or of many, somewhere in the line or in the blanking after it."""
    size = chip.memory.size
    count = min(size, random.choice([1, 3, 20, 200, 1500]))
    dot = random.choice([0, random.randrange(chip.frame.dots_per_line)])
    step = random.choice([1, 1, 1, 0, 2, 255])
    return [Transfer(line, random.randrange(size), Random(random.randint(0, 1 << 32)).randbytes(count), dot, step)]


def port_writes(random: Random, chip: Chip, line: int) -> list[Write]:
    """Some bytes to addresses that mean something, as a rule."""
    known = [first + byte for _, _, first, count in cpu_places(chip) for byte in range(count)]
    held = [register.address + byte for register in registers(chip).values() for byte in range(register.size)]
    places = [*known, *known, *held, 0xFFFF]
    dot = random.choice([0, random.randrange(chip.frame.dots_per_line)])
    return [
        PortWrite(line, random.choice(places), random.randrange(256), dot) for _ in range(random.choice([1, 2, 4, 10]))
    ]
