"""Random contents of a chip: registers, palette, sprites and memory, biased so that there is something to see.

Law: as in ``layouts``: every value fits what holds it.
"""

from __future__ import annotations

from random import Random

from ....chip.model import Chip
from ....chip.registers import RegisterField, fields, registers
from ....state.state import State
from .chances import bulk, chance
from .register_maps import fitting_value


def register_value(random: Random, register: RegisterField) -> int:
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
            state.controls[numbers] = register_value(random, field)
        if field.effect == "next frame" and chance(random, 60 if "picture_size" in field.controls else 10):
            state.next_frame |= dict.fromkeys(numbers, register_value(random, field))
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
