"""What the CPU reads and writes of a machine that stands between two lines: registers, ports and flags, byte by byte."""

from __future__ import annotations

import dataclasses
import random

import little
import numpy as np
import pytest
from paper import TILES, small_chip
from refusal import refused

import vdpsim
from vdpsim.chip.addresses import places
from vdpsim.engine import join
from vdpsim.state.writes import PortWrite, RegisterWrite, Transfer

LINE_FLAG = 'line_flag = { bits = 7, effect = "at once" }\n'
PORTS = """
[[ports]]
target = "memory"
address = 0x80
data = 0x82
step = 0x83
[[ports]]
target = "palette"
address = 0x88
data = 0x89
advance = 3
[[ports]]
target = "sprites"
address = 0x90
data = 0x91
step = 0x92
[collisions]
groups = ["all"]
pairs = [["all", "all"]]
[status]
address = 0xA0
line = 0
picture_end = 1
collision = 7
groups = 0xA1
cleared = "CLEARED"
"""
TIME = """
[time]
refresh = { slots = 2 }
cpu = { active = "free" }
[time.clients]
"ground.cells" = { when = "in time", lead = 16 }
"ground.pattern" = { when = "in time", lead = 16 }
sprites = { when = "line before" }
"""


def chip(cleared="read", *, timed=False):
    """The little chip with ports and flags, and with a time table where it is wanted."""
    text = little.CHIP.replace("TABLE", "chip")
    text = text.replace('"sprites.table" = { bits = 13, effect = "at once", reset = 0x1800 }', "")
    text = text.replace("[constants]", LINE_FLAG + "[constants]") + PORTS.replace("CLEARED", cleared)
    if timed:
        text = text.replace("bytes_per_access = 1", "bytes_per_access = 1\naccesses_per_dot = 1") + TIME
    return vdpsim.parse_chip(text)


def machine(cleared="read", *, timed=False):
    made = vdpsim.Machine(chip(cleared, timed=timed))
    made.memory[:] = np.arange(8192) * 37 % 251
    made.palette[:] = np.arange(16) * 0x111
    return made


def test_a_registers_bytes_are_its_raw_bits_as_last_written():
    """sprites.patterns is 11 bits in steps of 4 at 0x03 and 0x04 (reset 0x1000: raw 0x400); backdrop waits for the next frame."""
    it = machine()
    assert (it.read(0x03), it.read(0x04)) == (0x00, 0x04)
    it.registers["sprites.patterns"] = 0x15A4
    assert (it.read(0x03), it.read(0x04)) == (0x69, 0x05)
    it.write(0x04, 0xFE)
    assert it.registers["sprites.patterns"] == 0x669 * 4
    it.lines(3)
    it.write(0x02, 0x1B)
    assert (it.read(0x02), it.registers["backdrop"]) == (0x0B, 0)
    it.frame()
    assert (it.read(0x02), it.registers["backdrop"]) == (0x0B, 0x0B)


@pytest.mark.parametrize(
    ("bits", "count"), [(1, 1), (8, 1), (9, 2), (10, 2), (16, 2), (17, 3), (24, 3), (25, 4), (32, 4)]
)
def test_a_register_has_as_many_bytes_as_its_bits_need(bits, count):
    """Eight bits a byte, the lowest first; nothing stands behind the last one."""
    scroll = {"bits": bits, "effect": "at once", "address": 0x40}
    it = vdpsim.Machine(small_chip(TILES, registers={"a.scroll_x": scroll}))
    value = (1 << bits) - 1 & 0x89ABCDEF
    it.registers["a.scroll_x"] = value
    assert bytes(it.read(0x40 + byte) for byte in range(count)) == value.to_bytes(count, "little")
    for address in (0x3F, 0x40 + count):
        with refused(KeyError, "nothing to read"):
            it.read(address)


def test_the_memory_port_reads_on_by_its_step():
    it = machine()
    for address, byte in ((0x80, 0xFE), (0x81, 0x1F), (0x83, 3)):
        it.write(address, byte)
    assert [it.read(0x82) for _ in range(3)] == it.memory[[0x1FFE, 0x0001, 0x0004]].tolist()
    assert it.state.ports[0] == [7, 3]


def test_the_palette_port_speaks_two_bytes_an_entry_and_changes_at_once():
    """A word has 12 bits: two bytes, the low one first. 16 entries are bytes 0 to 31; this port counts on by 3."""
    it = machine()
    it.write(0x88, 31)
    it.write(0x89, 0xF5)
    assert int(it.palette[15]) == 0x5FF
    assert it.state.ports[1] == [2, 3]
    assert [it.read(0x89) for _ in range(2)] == [0x11, 0x02]


def test_the_sprite_port_reaches_the_table_on_the_chip():
    it = machine()
    for address, byte in ((0x90, 5), (0x91, 77), (0x92, 8), (0x91, 0x0F)):
        it.write(address, byte)
    assert (it.sprites[1].y, it.sprites[1].pattern) == (77, 0x0F)
    assert it.state.ports[2] == [14, 8]
    it.write(0x90, 5)
    assert (it.read(0x91), it.read(0x91)) == (77, 0)


def collide(it):
    """Two sprites on the same dots, then lines 0 to 64."""
    it.memory[0x1000:0x1200] = 0x11
    for number in range(2):
        sprite = it.sprites[number]
        sprite.x, sprite.y, sprite.enable = 8, 20, 1
    it.lines(65)


def test_status_and_groups_are_cleared_by_reading():
    """Line 0 is named by line_flag at reset (bit 0), the picture has ended (bit 1), group 0 has collided (bit 7)."""
    it = machine("read")
    collide(it)
    assert (it.read(0xA0), it.read(0xA0)) == (0b1000_0011, 0)
    assert (it.read(0xA1), it.read(0xA1), it.collision_flags) == (1, 0, 0)


def test_reading_the_groups_clears_no_bit_of_the_status():
    it = machine("read")
    collide(it)
    assert (it.read(0xA1), it.read(0xA0), it.read(0xA1)) == (1, 0b1000_0011, 0)


def test_status_and_groups_are_cleared_by_writing_ones():
    it = machine("write")
    collide(it)
    assert (it.read(0xA0), it.read(0xA0)) == (0b1000_0011, 0b1000_0011)
    it.write(0xA0, 0b0000_0110)
    it.write(0xA1, 0b10)
    assert (it.read(0xA0), it.read(0xA1)) == (0b1000_0001, 1)
    it.write(0xA1, 1)
    assert (it.read(0xA1), it.read(0xA0)) == (0, 0b1000_0001)


def test_where_status_is_cleared_by_reading_a_write_to_it_does_nothing():
    it = machine("read")
    collide(it)
    it.write(0xA0, 0xFF)
    assert it.read(0xA0) == 0b1000_0011


@pytest.mark.parametrize("address", [0x05 + 1, 0x7F, 0x80, 0x83, 0x92, 0x93, 0xFFFF])
def test_nothing_can_be_read_elsewhere(address):
    with refused(
        KeyError,
        rf"nothing to read at 0x{address:02X}: Small has 0x00 ground.scroll_x, .*0x03 to 0x04 sprites.patterns",
    ):
        machine().read(address)


def test_what_can_be_read_is_listed():
    with refused(
        KeyError, "0x82 the data of the memory port, 0x89 the data of the palette port, 0x91 the data of the sprites"
    ):
        machine().read(0x200)
    assert [str(one) for one in places(chip("write")) if not one.read] == [
        "0x80 to 0x81 the address of the memory port",
        "0x83 the step of the memory port",
        "0x88 the address of the palette port",
        "0x90 the address of the sprites port",
        "0x92 the step of the sprites port",
    ]
    assert [one.first for one in places(chip("read")) if not one.written] == [0xA0, 0xA1]


@pytest.mark.parametrize(
    ("address", "byte", "told"),
    [(0x82, 256, "0 to 255, got 256"), (0x82, -1, "0 to 255, got -1"), (0x10000, 0, "0 to 0xFFFF, got 0x10000")],
)
def test_a_byte_or_an_address_out_of_range_is_refused(address, byte, told):
    with refused(ValueError, told):
        machine().write(address, byte)


def test_a_write_to_nothing_changes_nothing():
    it, other = machine(), machine()
    it.write(0x7F, 9)
    assert vars_of(it.state) == vars_of(other.state)


def vars_of(state):
    """Everything in a state, as plain values."""
    found = {field.name: getattr(state, field.name) for field in dataclasses.fields(state) if field.name != "chip"}
    return {name: value.tolist() if isinstance(value, np.ndarray) else value for name, value in found.items()}


@pytest.mark.parametrize("timed", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_a_byte_written_between_lines_is_a_timed_write_at_the_end_of_the_active_part(timed, seed):
    """Before line y it is PortWrite(y - 1, ..., dot=width): a frame drawn in parts with writes between equals the whole."""
    chance = random.Random(seed)
    one, whole = machine("write", timed=timed), machine("write", timed=timed)
    for it in (one, whole):
        it.memory[0x1000:0x1200] = np.arange(512) % 255 + 1
    spaces = [
        0,
        1,
        2,
        3,
        4,
        5,
        0x80,
        0x81,
        0x82,
        0x82,
        0x82,
        0x83,
        0x88,
        0x89,
        0x89,
        0x90,
        0x91,
        0x91,
        0x92,
        0xA0,
        0xA1,
    ]
    written = sorted((chance.randrange(1, 69), chance.choice(spaces), chance.randrange(256)) for _ in range(60))
    parts = []
    for line, address, byte in written:
        if line > one.state.line:
            parts.append(one.lines(line - one.state.line))
        one.write(address, byte)
    parts.append(one.frame())
    frame = whole.frame([PortWrite(line - 1, address, byte, dot=64) for line, address, byte in written])
    joined = join(parts)
    for name in ("rgb", "source", "sprite", "drops", "collisions", "raised"):
        assert getattr(joined, name).tolist() == getattr(frame, name).tolist(), name
    assert joined.log.counts.tolist() == frame.log.counts.tolist()
    if timed:
        assert joined.slots.counts.tolist() == frame.slots.counts.tolist()
        assert joined.transfers.tolist() == frame.transfers.tolist()
    assert vars_of(one.state) == vars_of(whole.state)


def test_a_byte_for_timed_memory_waits_for_its_slot():
    """Slots 0 and 1 of a line are refresh's, and the first line of the picture's prefetch begins with the blanking: lead is 16
    dots, all of it. Cells and patterns of the first group take 5 slots, 2 to 6, and of the second, due at dot 8, from slot 8 on:
    slot 7 is the CPU's.
    """
    it = machine(timed=True)
    it.write(0x82, 99)
    assert (int(it.memory[0]), it.read(0x82)) == (0, 37)
    assert [one.start for one in it.state.waiting] == [0]
    frame = it.lines(1)
    assert int(it.memory[0]) == 99
    assert frame.transfers[["number", "first_line", "first_slot", "bytes", "ended"]].tolist() == [(0, 0, 7, 1, True)]


def test_transfers_and_port_writes_are_refused_as_other_writes_are():
    with refused(ValueError, "needs a chip with a time table, to find slots in; Small has none"):
        machine().compile([Transfer(0, 0, b"1")])
    with refused(ValueError, r"a port takes a byte, 0 to 255, got 256\n.*line must be 0 to 69, got 70"):
        machine(timed=True).compile([PortWrite(0, 0x82, 256), Transfer(70, 0, b"1")])
    for wrong, told in (
        (Transfer(0, 8192, b"1"), "0x0 to 0x1FFF, got 0x2000"),
        (Transfer(0, 0, b""), "1 to 8192 bytes, got 0"),
    ):
        with refused(ValueError, told):
            machine(timed=True).frame([wrong])
    with refused(ValueError, "step must be 0 to 255, got 256"):
        machine(timed=True).frame([Transfer(0, 0, b"1", step=256)])


def test_a_ports_byte_in_the_middle_of_the_last_line_drawn_is_there_when_the_machine_stands_again():
    """It is put off to the next line, before which the machine then stands."""
    machine = vdpsim.Machine(chip())
    machine.lines(20, [PortWrite(19, 0x80, 5), PortWrite(19, 0x82, 40, dot=5)])
    assert machine.memory[5] == 40


def test_slices_of_lines_let_a_transfer_go_on():
    """Drawn in parts or whole, with the transfer given to every part: it is begun once."""
    one, whole = machine(timed=True), machine(timed=True)
    writes = [Transfer(10, 0x300, bytes(range(200)), dot=30, step=2), RegisterWrite(12, "ground.scroll_x", 5)]
    parts = [one.lines(count, writes) for count in (5, 5, 1, 20)] + [one.frame(writes)]
    frame = whole.frame(writes)
    joined = join(parts)
    assert joined.rgb.tolist() == frame.rgb.tolist()
    assert joined.slots.counts.tolist() == frame.slots.counts.tolist()
    assert joined.transfers.tolist() == frame.transfers.tolist()
    assert whole.memory[0x300:0x490:2].tolist() == one.memory[0x300:0x490:2].tolist() == list(range(200))
