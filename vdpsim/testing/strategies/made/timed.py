"""Random timed writes of one frame, few as a rule, at times one of a kind on every line; in any order.

Law: as in ``layouts``: the chip takes every one of them.
"""

from __future__ import annotations

from random import Random

from ....chip.model import Chip
from ....chip.registers import field_names, registers, rest_values
from ....state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Write, fault
from .chances import bulk, chance, pick, shuffled
from .states import memory_bytes, register_value, sprite_records
from .time_tables import port_writes, transfer


def _register_writes(random: Random, chip: Chip, name: str, line: int) -> list[Write]:
    """A register written once, or a few dots later once more: something else, or what it may have held before."""
    register = field_names(chip)[name]
    dot = _dot(random, chip)
    found: list[Write] = [RegisterWrite(line, name, register_value(random, register), dot)]
    if chance(random, 45):
        later = min(dot + pick(random, 0, 1, 2, 3, 5, 9), chip.frame.dots_per_line - 1)
        value = register.reset if chance(random, 70) else register_value(random, register)
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
            found.append(RegisterWrite(line, field.name, register_value(random, field), dot))
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
