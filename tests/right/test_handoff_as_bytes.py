"""Registers as the CPU's bytes, on paper: which bytes bring a register where the model has it, and what none can bring about."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from paper import BITMAP, TEXT, TILES, small_chip

from vdpsim.chip.model import Chip
from vdpsim.chip.registers import fields, registers
from vdpsim.handoff.vectors.bytes_of_registers import Bus
from vdpsim.handoff.vectors.stimulus import beginning, timed
from vdpsim.machine.machine import Machine
from vdpsim.state.state import State, Waiting
from vdpsim.state.writes import MemoryWrite, RegisterWrite

Json = dict[str, Any]

ENABLES = {"a.enable": {"bits": "0", "effect": "at once"}, "a.bank": {"bits": "5:4", "effect": "next line"}}
WORD = {"name": "word", "address": 0x10, "bits": 8, "fields": ENABLES}
ENTRY = {"name": "entry", "address": 0x20, "bits": 16, "fields": {"backdrop": "9:6"}}
"""Values 0 to 9 of four bits: two in the low byte, two in the high one."""
TEN = {"entries": 10, "bank_size": 2, "red": "11:8", "green": "7:4", "blue": "3:0"}
LOW = {
    "name": "low",
    "address": 0x05,
    "bits": 8,
    "half_write": "waits",
    "fields": {"a.scroll_x": {"bits": "7:0", "of": "7:0"}},
}
HIGH = {"name": "high", "address": 0x06, "bits": 8, "half_write": "counts", "fields": {
    "a.scroll_x": {"bits": "0", "of": "8"}, "b.enable": "7"}}  # fmt: skip
TOP = {
    "name": "top",
    "address": 0x06,
    "bits": 1,
    "half_write": "counts",
    "fields": {"a.scroll_x": {"bits": "0", "of": "8"}},
}
BOTH = {"name": "both", "address": 0x08, "bits": 16, "half_write": "waits", "fields": {
    "a.scroll_y": "3:0", "a.scroll_x": {"bits": "15:8", "of": "7:0"}, "b.bank": "5:4"}}  # fmt: skip


def chip(*listed: Json) -> Chip:
    return small_chip({**TILES, "page": [64, 8]}, TEXT, registers=[*listed, {"others": "wired"}], palette=TEN)


def state(it: Chip, **values: int) -> State:
    machine = Machine(it)
    for name, value in values.items():
        machine.registers[name.replace("_of_", ".")] = value
    return machine.state


def after(it: State, pairs: list[tuple[int, int]]) -> State:
    machine = Machine(it.chip, it.copy())
    for address, byte in pairs:
        machine.write(address, byte)
    return machine.state


def test_a_number_that_would_be_cut_on_the_way_is_brought_by_zeros_first():
    """From 9 to 2, of at most 9: the low byte alone would make 10 of it, which is kept as 9, and then the high one 1."""
    it = chip(ENTRY)
    before, now = state(it, backdrop=9), state(it, backdrop=2)
    plain = [(0x20, 0x80), (0x21, 0x00)]
    assert after(before, plain).value("backdrop") == 1
    assert Bus(before).bring(now) == [(0x20, 0), (0x21, 0), *plain]
    assert after(before, Bus(before).bring(now)).value("backdrop") == 2
    assert Bus(now).bring(before) == [(0x20, 0x40), (0x21, 0x02)]


def test_what_bytes_would_cut_is_a_field_or_a_register_of_its_own_in_the_stimulus():
    it = chip(ENTRY)
    before, field = state(it, backdrop=9), fields(it)["backdrop"]
    assert Bus(before).field(field, 2, within=False) is None
    assert Bus(before).field(field, 1, within=False) == [(0x20, 0x40), (0x21, 0)]
    for write, told in (
        (RegisterWrite(3, "backdrop", 2, 5), b"field 0 3 5 0 00000002"),
        (RegisterWrite(3, "backdrop", 1, 5), b"bus 0 3 5 0020 40 bus 0 3 5 0021 00"),
        (RegisterWrite(3, "entry", 0x0080, 5), b"register 0 3 5 0 00000080"),
        (RegisterWrite(3, "entry", 0xC03F, 5), b"bus 0 3 5 0020 3f bus 0 3 5 0021 c0"),
        (RegisterWrite(3, "entry", 0xFD40, 5), b"bus 0 3 5 0020 40 bus 0 3 5 0021 fd"),
    ):
        assert b"".join(timed(before, [write], it)).split() == told.split()


def test_a_neighbour_that_counts_at_once_is_not_written_within_a_line():
    """Cells are fetched anew after such a write; one that takes effect with the next line may be written again."""
    it = chip(WORD)
    bank, enable = fields(it)["a.bank"], fields(it)["a.enable"]
    assert Bus(state(it)).field(bank, 2, within=True) is None
    assert Bus(state(it)).field(bank, 2, within=False) == [(0x10, 0x21)]
    assert Bus(state(it)).field(enable, 0, within=True) == [(0x10, 0)]
    inside = [b"".join(timed(state(it), [RegisterWrite(3, "a.bank", 2, dot)], it)).split()[0] for dot in (0, 1, 63, 64)]
    assert inside == [b"bus", b"field", b"field", b"bus"]


def test_bits_that_wait_are_not_made_to_count_by_a_neighbour():
    it = chip(LOW, HIGH)
    plain = state(it, a_of_scroll_x=0x155)
    waiting = after(plain, [(0x05, 0xFF)])
    assert (waiting.value("a.scroll_x"), waiting.held) == (0x155, {0: (0xFF, 0xFF)})
    enable = fields(it)["b.enable"]
    assert Bus(plain).field(enable, 0, within=False) == [(0x06, 0x01)]
    assert Bus(waiting).field(enable, 0, within=False) is None
    assert Bus(waiting).field(fields(it)["a.scroll_x"], 0x1FF, within=False) == [(0x05, 0xFF), (0x06, 0x81)]


def test_what_waits_as_a_frame_begins_is_brought_about_from_the_highest_byte_on():
    """The high byte of ``both`` would let the bits of a.scroll_y count that wait below it."""
    it = small_chip(
        TILES,
        {**BITMAP},
        registers=[BOTH, TOP, {"others": "wired"}],
    )
    before = state(it)
    now = after(before, [(0x09, 0x2A), (0x08, 0x05)])
    assert now.held == {0: (0xFF3F & ~0xC0, 0x2A05)}
    found = Bus(before).bring(now)
    assert found[-2:] == [(0x09, 0x2A), (0x08, 0x05)]
    made = after(before, found)
    assert (made.held, made.controls.tolist()) == (now.held, now.controls.tolist())
    assert after(made, [(0x06, 1)]).value("a.scroll_x") == after(now, [(0x06, 1)]).value("a.scroll_x") == 0x12A


@pytest.mark.parametrize("listed", [(WORD,), (ENTRY,), (LOW, HIGH)])
def test_every_value_is_brought_about_from_every_other(listed):
    it = chip(*listed)
    rng = np.random.default_rng(1)
    for _ in range(200):
        before, now = (
            after(
                state(it),
                [
                    (one.address + byte, int(rng.integers(256)))
                    for one in registers(it).values()
                    for byte in rng.permutation(one.size).tolist()
                ],
            )
            for _ in range(2)
        )
        made = after(before, Bus(before).bring(now))
        assert made.controls.tolist() == now.controls.tolist()
        assert [Machine(it, made).read(address) for address in Bus(now).places] == [
            Machine(it, now).read(address) for address in Bus(now).places
        ]


PORTS = [
    {"target": "memory", "address": 0x30, "data": 0x33, "step": 0x32},
    {"target": "palette", "address": 0x34, "data": 0x35},
]


def records(now: State, before: State) -> list[list[str]]:
    """The records that bring ``now`` about, in columns."""
    return [line.split() for line in b"".join(beginning(now, before)).decode().splitlines()]


def test_a_port_is_set_where_it_stands_elsewhere_and_not_where_it_stood():
    """An address of a memory of 1,024 bytes is two bytes, the low one first. The palette's port stays as it is."""
    it = small_chip(TILES, ports=PORTS)
    before, now = state(it), state(it)
    now.ports[0][:] = [0x1FE, 2]
    bus = [(int(one[4], 16), int(one[5], 16)) for one in records(now, before) if one[0] == "bus"]
    assert bus == [(0x30, 0xFE), (0x31, 0x01), (0x32, 2)]
    assert records(now, now.copy()) == []


@pytest.mark.parametrize(("done", "begun", "left", "at"), [(0, 0, 3, 0x3FE), (1, 1, 2, 0x3FF), (2, 1, 1, 0x000)])
def test_what_is_left_of_a_transfer_says_whether_it_has_begun_and_where_it_goes_on(done, begun, left, at):
    it = small_chip(TILES)
    before, now = state(it), state(it)
    now.waiting = (Waiting(0, 7, 0x3FE, b"\1\2\3", 1, done),)
    head, *data = records(now, before)
    assert (head[0], *map(int, head[3:6])) == ("waiting", 7, begun, 0)
    assert (int(head[6], 16), int(head[8])) == (at, left)
    assert [one[-1] for one in data] == ["01", "02", "03"][done:]
    assert records(now, now.copy()) == []


def test_a_register_whose_bytes_wait_is_written_up_to_its_last_one():
    """The field lies in the low byte; what is written there counts once the high one comes."""
    it = chip({"name": "wide", "address": 0x10, "bits": 16, "half_write": "waits", "fields": {"a.bank": "5:4"}})
    assert Bus(state(it)).field(fields(it)["a.bank"], 2, within=False) == [(0x10, 0x20), (0x11, 0)]


@pytest.mark.parametrize(("before", "now"), [((0, 0), (5, 0)), ((5, 0), (0, 0)), ((1, 2), (2, 1)), ((0, 3), (0, 1))])
def test_flags_are_told_wherever_they_are_others_than_were_left(before, now):
    it = small_chip(TILES)
    left, begins = state(it), state(it)
    left.status, left.collision_flags = before
    begins.status, begins.collision_flags = now
    ((kind, _, line, *told),) = records(begins, left)
    assert (kind, int(line), *(int(one, 16) for one in told)) == ("status", -1, *now)
    assert records(begins, begins.copy()) == []


def test_writes_of_one_line_are_made_and_told_in_the_order_of_their_dots():
    """At dot 66 the layer is enabled still, and the byte says so."""
    it = chip(WORD)
    told = b"".join(timed(state(it), [RegisterWrite(3, "a.enable", 0, 70), RegisterWrite(3, "a.bank", 2, 66)], it))
    assert told.split() == b"bus 0 3 66 0010 21 bus 0 3 70 0010 20".split()


BUFFERED = {"clients": {name: {"when": "line before"} for name in ("a.cells", "a.pattern")}}


@pytest.mark.parametrize(("time", "first"), [(None, "bus bus memory"), (BUFFERED, "bus memory bus")])
def test_memory_is_written_before_the_slots_of_its_line(time, first):
    """Of 80 dots a line shows 64: its slots begin with the 16 before, so that line 4's memory comes before dot 64 of line 3."""
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 2}
    it = small_chip(TILES, memory=memory, registers=[WORD, {"others": "wired"}], time=time)
    writes = [RegisterWrite(3, "a.enable", 1, dot) for dot in (63, 65)]
    told = b"".join(timed(state(it), [*writes, MemoryWrite(4, 7, b"\1")], it)).decode().splitlines()
    assert " ".join(one.split()[0] for one in told) == first
