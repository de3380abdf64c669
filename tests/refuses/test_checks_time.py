"""Does it refuse well? Time tables, CPU, ports and status: each mistake alone, in its place, and the last value that is none."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from paper import BITMAP, small_chip
from refusal import refused

import vdpsim
from vdpsim.chip.load import parse_chip
from vdpsim.files.problems import InputError
from vdpsim.state.writes import PortWrite, Transfer, fault

ROOT = Path(__file__).parents[2]

CHIP = """
name = "Dowitcher"
ladder = [{ source = "sprites" }, { source = "land" }, { source = "sea" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 70
display = "other"
[memory]
size = 4096
bytes_per_access = 1
accesses_per_dot = "3/2"
[palette]
entries = 16
bank_size = 16
red = "11:8"
green = "7:4"
blue = "3:0"
[[layers]]
name = "land"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = 8
bits_per_dot = 4
cell_bytes = 1
cell = { pattern = "7:0" }
page = [32, 32]
[[layers]]
name = "sea"
[[layers.modes]]
name = "bitmap"
kind = "bitmap"
bits_per_dot = 4
width = 64
height = 8
[sprites]
count = 4
table = "chip"
record_bytes = 3
fields = { x = "6:0", y = "13:7", pattern = "17:14", group = "18" }
sizes = [[8, 8]]
bits_per_dot = 4
transparent = 0
[collisions]
groups = ["boat"]
pairs = [["boat", "boat"]]
[registers]
others = "wired"
"land.scroll_x" = { bits = 8, effect = "at once", address = 4 }
[time]
refresh = { slots = 10 }
cpu = { active = "reserved", every = 120, at = [80] }
[time.clients]
"land.cells" = { when = "in time", lead = 16, keep = true }
"land.pattern" = { when = "in time", lead = 16 }
"sea.bitmap" = { when = "blanking", every = 2, at = [0, 1] }
sprites = { when = "line before" }
[cpu]
clock = 4_000_000
cycles_per_byte = 20
[[ports]]
target = "memory"
address = 0x10
data = 0x12
step = 0x13
[[ports]]
target = "sprites"
address = 0x20
data = 0x21
[status]
address = 0x30
line = 0
dropped = 1
groups = 0x31
cleared = "read"
"""


def test_the_chip_itself_is_right():
    assert parse_chip(CHIP).name == "Dowitcher"


HALF_AHEAD = "land.cells.when: all clients of land share its line buffer: must be line before, as another of them is, got in time"

WRONG = [
    ('accesses_per_dot = "3/2"\n', "", "memory.accesses_per_dot: must be given for a chip with a time table"),
    ('"3/2"', '"3/0"', "must be above 0, got '3/0'"),
    ('"3/2"', '"1.5"', "must be a whole number or a fraction such as \"3/2\", got '1.5'"),
    ('"3/2"', "1.5", 'must be a whole number or a fraction such as "3/2", got 1.5'),
    ('"3/2"', "true", 'must be a whole number or a fraction such as "3/2", got True'),
    ('"3/2"', "65", "must be 1/64 to 64, got 65"),
    ('"3/2"', '"1/65"', "must be 1/64 to 64, got 1/65"),
    ('"3/2"', "64", None),
    ("slots = 10", "slots = 119", None),
    ("slots = 10", "slots = 120", "must be at most the 119 that its pattern has on a line of the picture, got 120"),
    ("at = [80]", "at = [23]", "time.cpu.at: must reserve a slot of the active dots, 24 to 119"),
    ("at = [80]", "at = [24]", None),
    ("at = [80]", "at = [120]", "at must be places 0 to 119, got 120"),
    (", every = 120, at = [80]", "", 'every and at are for "reserved", which needs them: got active \'reserved\''),
    ('"reserved", every', '"free", every', 'every and at are for "reserved", which needs them: got active \'free\''),
    ("every = 120, at = [80]", "every = 120", "every and at go together, got every 120 and at None"),
    ('"land.cells" = { when = "in time", lead = 16, keep = true }\n', "", "time.clients: must say when land.cells fetches"),
    ('sprites = { when = "line before" }\n', "", "time.clients: must say when sprites fetches"),
    ('"sea.bitmap" =', '"sea.pattern" =', "time.clients.sea.pattern: is no client of this chip; it has land.cells, land.pattern"),
    ('when = "blanking", every', 'when = "line before", every', None),
    ('land.pattern" = { when = "in time", lead = 16 }', 'land.pattern" = { when = "line before" }', HALF_AHEAD),
    ('{ when = "line before" }', '{ when = "in time", lead = 8 }', "must be blanking or line before, got in time"),
    ('{ when = "line before" }', '{ when = "blanking" }', None),
    ('{ when = "line before" }', '{ when = "line before", lead = 8 }', 'lead is for "in time", which needs it'),
    ('pattern" = { when = "in time", lead = 16 }', 'pattern" = { when = "in time" }', 'lead is for "in time", which needs it'),
    ('n" = { when = "in time", lead = 16', 'n" = { when = "in time", lead = 16, keep = true',
     "is for cells and colours, got land.pattern"),
    ("clock = 4_000_000", "clock = 999", "cpu.clock"),
    ("cycles_per_byte = 20", "cycles_per_byte = 0", "cpu.cycles_per_byte"),
    ("cycles_per_byte = 20", "cycles_per_byte = 20\nqueue = 4097", "cpu.queue"),
    ("data = 0x12", "data = 0x11", "ports.0.data: byte 0x11 is taken by the address of the memory port already"),
    ("address = 0x20", "address = 0x13", "ports.1.address: byte 0x13 is taken by the step of the memory port already"),
    ("data = 0x21", "data = 0x04", "ports.1.data: byte 0x04 is taken by land.scroll_x already"),
    ("address = 0x30", "address = 0x21", "status.address: byte 0x21 is taken by the data of the sprites port already"),
    ("groups = 0x31", "groups = 0x30", "status.groups: byte 0x30 is taken by status already"),
    ('target = "sprites"', 'target = "memory"', "ports.1.target: another port reaches the memory already"),
    ('table = "chip"', 'table = "memory"', "needs a sprite table on the chip; one in memory is reached as memory"),
    ("dropped = 1", "dropped = 0", "dropped must have a bit of its own, got 0, the bit of line"),
    ("dropped = 1", "dropped = 8", "status.dropped"),
    ('groups = ["boat"]\npairs = [["boat", "boat"]]\n', "", "status.groups: needs a chip with collisions"),
]  # fmt: skip


@pytest.mark.parametrize(("right", "wrong", "told"), WRONG, ids=[f"{number}" for number in range(len(WRONG))])
def test_each_mistake_is_told_in_its_place(right, wrong, told):
    assert CHIP.count(right) >= 1
    text = CHIP.replace(right, wrong, 1)
    if right.startswith("groups = ["):
        text = text.replace("[collisions]\n", "")
    if told is None:
        assert parse_chip(text).name == "Dowitcher"
        return
    with refused(InputError, re.escape(told)) as caught:
        parse_chip(text, "dowitcher.chip.toml")
    assert all(problem.line for problem in caught.value.problems)


def test_cells_come_before_what_hangs_on_them():
    cells = '"land.cells" = { when = "in time", lead = 16, keep = true }\n'
    text = CHIP.replace(cells, "").replace("sprites = { when", f"{cells}sprites = {{ when")
    with refused(InputError, "must stand after land.cells, whose cells say what to fetch"):
        parse_chip(text)


def test_flags_of_sprites_need_sprites():
    start, end = CHIP.index("[sprites]"), CHIP.index("[registers]")
    text = CHIP[:start] + CHIP[end:]
    text = text.replace('{ source = "sprites" }, ', "").replace('sprites = { when = "line before" }\n', "")
    with refused(InputError, "status.dropped: needs a chip with sprites"):
        parse_chip(text)


def test_orders_make_chips_different():
    """Who is served first is part of the chip."""
    sprites = 'sprites = { when = "line before" }\n'
    first = parse_chip(CHIP.replace(sprites, "").replace("[time.clients]\n", f"[time.clients]\n{sprites}"))
    assert first != parse_chip(CHIP)
    assert parse_chip(CHIP) == parse_chip(CHIP)
    assert parse_chip(CHIP).time != "no table"
    assert parse_chip(CHIP).model_dump_json(exclude_defaults=True) == parse_chip(CHIP).model_dump_json(
        exclude_defaults=True
    )


@pytest.mark.parametrize(
    ("write", "told"),
    [
        (Transfer(0, 4095, b"x" * 4096), None),
        (Transfer(0, 4096, b"x"), "must lie in video memory, 0x0 to 0xFFF, got 0x1000"),
        (Transfer(0, 0, b""), "must be 1 to 4096 bytes, got 0"),
        (Transfer(0, 0, b"x" * 4097), "must be 1 to 4096 bytes, got 4097"),
        (Transfer(0, 0, b"x", 0, 256), "step must be 0 to 255, got 256"),
        (Transfer(70, 0, b"x"), "line must be 0 to 69, got 70"),
        (PortWrite(0, 0xFFFF, 255, 79), None),
        (PortWrite(0, 0x10000, 0), "address must be 0 to 0xFFFF, got 0x10000"),
        (PortWrite(0, 0, 256), "a port takes a byte, 0 to 255, got 256"),
    ],
)
def test_what_the_cpu_cannot_write(write, told):
    assert fault(parse_chip(CHIP), write) == told


def test_a_transfer_needs_slots():
    start, end = CHIP.index("[time]"), CHIP.index("[cpu]")
    chip = parse_chip(CHIP[:start] + CHIP[end:])
    assert "needs a chip with a time table" in str(fault(chip, Transfer(0, 0, b"x")))


def test_a_trace_of_very_many_slots_is_refused_of_a_scene_as_of_a_machine(monkeypatch):
    scene = vdpsim.load_scene(ROOT / "scenes/flock.scene.toml")
    monkeypatch.setattr("vdpsim.machine.machine.MOST_TRACED", 1)
    for asked in (lambda: vdpsim.render(scene, trace=True), lambda: vdpsim.Machine.of(scene).frame(trace=True)):
        with refused(ValueError, "a trace must be of a frame of at most 1 slots, Curlew has "):
            asked()
    assert vdpsim.render(scene).height == 216


def test_a_trace_of_lines_on_which_nothing_is_fetched_is_empty():
    """A chip without refresh whose one layer is switched off, and that has no sprites."""
    clients = {"a.bitmap": {"when": "in time", "lead": 8}}
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
    machine = vdpsim.Machine(small_chip(BITMAP, memory=memory, time={"clients": clients}))
    machine.registers["a.enable"] = 0
    assert len(machine.lines(2, trace=True).trace) == 0


def test_a_trace_needs_slots():
    start, end = CHIP.index("[time]"), CHIP.index("[cpu]")
    machine = vdpsim.Machine(parse_chip(CHIP[:start] + CHIP[end:]))
    with refused(ValueError, "a trace needs a chip with a time table; Dowitcher has none"):
        machine.frame(trace=True)
