"""Registers as words at addresses, on paper and by chance: fields, controls that are tied or split, half writes, reads.

By chance the bytes are put together here from the chip's plan, bit by bit, and each field has to come out as it was meant.
"""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, small_chip
from refusal import refused
from soaked import every

from vdpsim.budgets.onchip import on_chip
from vdpsim.chip.addresses import places
from vdpsim.chip.controls import Control, controls
from vdpsim.chip.load import chip_text, parse_chip
from vdpsim.chip.model import Chip
from vdpsim.chip.registers import fields, registers, rest_values
from vdpsim.machine.machine import Machine
from vdpsim.state.state import State
from vdpsim.state.writes import PortWrite, RegisterWrite
from vdpsim.testing.strategies.made.register_maps import in_words, with_others

Json = dict[str, Any]

LAYERS = {
    "name": "layer control", "address": 0x04, "bits": 8,
    "fields": {"a.enable": "0", "b.enable": "1", "a.bank": "5:4"},
}  # fmt: skip
LOW = {
    "name": "scroll low",
    "address": 0x05,
    "bits": 8,
    "half_write": "waits",
    "fields": {"a.scroll_x": {"bits": "7:0", "of": "7:0"}},
}
HIGH = {
    "name": "scroll high",
    "address": 0x06,
    "bits": 8,
    "half_write": "counts",
    "fields": {"a.scroll_x": {"bits": "0", "of": "8"}},
}
WIRED: Json = {"others": "wired"}
SCROLL = {**TILES, "page": [64, 8]}
"""A map of 512 dots, so that its scroll takes nine bits."""


def chip(*listed: Json, **tables: Any) -> Chip:
    return small_chip(SCROLL, TEXT, registers=[*listed, WIRED], **tables)


# A word with fields


def test_a_word_sets_its_fields_and_keeps_what_no_field_names():
    """0xB3 = 1011 0011: both layers on, bank 3, and bits 7, 3 and 2 belong to nobody: 1, 0 and 0."""
    it = Machine(chip(LAYERS))
    assert it.read(4) == 0b11
    it.write(4, 0xB3)
    assert [it.registers[name] for name in ("a.enable", "b.enable", "a.bank")] == [1, 1, 3]
    assert (it.read(4), it.registers["layer control"]) == (0xB3, 0xB3)
    it.registers["a.bank"] = 1
    assert it.read(4) == 0b1001_0011
    it.registers["layer control"] = 0x0C
    assert [it.registers[name] for name in ("a.enable", "b.enable", "a.bank")] == [0, 0, 0]
    assert it.read(4) == 0x0C
    assert it.state.held == {0: (0, 0x0C)}
    with refused(ValueError, "layer control takes 0 to 255, got 256"):
        it.registers["layer control"] = 256
    assert list(it.registers) == ["a.enable", "b.enable", "a.bank", "layer control"]


def test_write_only_reads_zero_and_is_set_all_the_same():
    it = Machine(chip({**LAYERS, "access": "write-only"}))
    it.write(4, 0x31)
    assert (it.read(4), it.registers["a.bank"], it.registers["layer control"]) == (0, 3, 0x31)
    assert [(str(one), one.read, one.written) for one in places(it.chip)] == [
        ("0x04 layer control (a.enable 0, b.enable 1, a.bank 5:4, write-only)", False, True)
    ]


def test_a_number_beyond_what_a_field_takes_counts_as_the_largest():
    """Banks 0 to 3 in a field of 3 bits: 7 is kept as 3."""
    it = Machine(chip({"name": "bank", "bits": 3, "fields": {"a.bank": "2:0"}}))
    it.write(0, 7)
    assert (it.registers["a.bank"], it.read(0)) == (3, 3)


@pytest.mark.parametrize(("effect", "seen"), [("at once", 1), ("next line", 1), ("next frame", 0)])
def test_a_registers_effect_is_that_of_fields_that_say_none(effect, seen):
    """Two banks of one word: a's says at once for itself, b's goes by the register."""
    banks = {"a.bank": {"bits": "1:0", "effect": "at once"}, "b.bank": "5:4"}
    word = {"name": "banks", "bits": 8, "effect": effect, "fields": banks}
    it = Machine(small_chip(BITMAP, BITMAP, registers=[word, WIRED]))
    it.lines(10, [PortWrite(9, 0, 0x21)])
    assert (it.registers["a.bank"], it.registers["b.bank"], it.read(0)) == (1, 2 * seen, 0x21)
    it.lines(None)
    assert it.registers["b.bank"] == 2


# Ties


TIED = {"name": "both", "bits": 8, "fields": {"on": {"bits": "0", "sets": ["a.enable", "b.enable"]}, "maps": {
    "bits": "7:4", "sets": ["a.t.map", "b.x.map"], "step": 0x40, "reset": 0x80, "effect": "next frame"}}}  # fmt: skip


def test_a_field_sets_all_of_its_controls_by_any_of_its_names():
    it = Machine(chip(TIED))
    assert rest_values(it.chip)["a.t.map"] == rest_values(it.chip)["b.x.map"] == 0x80
    for name, value in (("maps", 0x40), ("b.x.map", 0xC0), ("a.t.map", 0x3C0)):
        it.registers[name] = value
        assert [it.registers[each] for each in ("maps", "a.t.map", "b.x.map")] == [value] * 3
    it.write(0, 0x50)
    assert (it.registers["a.enable"], it.registers["b.enable"], it.registers["maps"]) == (0, 0, 0x140)
    it.lines(5, [RegisterWrite(2, "b.enable", 1), RegisterWrite(3, "maps", 0)])
    assert (it.registers["a.enable"], it.registers["on"], it.registers["maps"]) == (1, 1, 0x140)
    assert it.read(0) == 0x01
    it.lines(None)
    assert it.registers["b.x.map"] == 0


def test_the_step_of_a_tie_is_the_least_that_all_count_in():
    """Tile patterns count in eights, glyphs in ones: eights. The last tile pattern of 1024 bytes is at 1016."""
    word = {"name": "art", "bits": 7, "fields": {"art": {"bits": "6:0", "sets": ["a.t.patterns", "b.x.glyphs"]}}}
    found = fields(chip(word))["art"]
    assert (found.step, found.top, found.bits) == (8, 1016, 7)


# Splits and half writes


def test_what_waits_acts_with_the_part_that_counts():
    """0x1FF in two registers of which the low one waits: 0x55 low, then 1 high: 0x155."""
    it = Machine(chip(LOW, HIGH))
    it.registers["a.scroll_x"] = 0x1FF
    it.write(5, 0x55)
    assert (it.registers["a.scroll_x"], it.read(5), it.read(6)) == (0x1FF, 0x55, 1)
    assert it.state.held == {0: (0xFF, 0x55)}
    it.write(6, 1)
    assert (it.registers["a.scroll_x"], it.state.held) == (0x155, {})
    it.write(6, 0xFE)  # bit 0 alone is the field's
    assert (it.registers["a.scroll_x"], it.read(6)) == (0x55, 0xFE)
    it.write(5, 9)
    it.registers["a.scroll_x"] = 0x100  # by name it is set as a whole, and nothing waits any more
    assert (it.state.held, it.read(5)) == ({1: (0, 0xFE)}, 0)


def test_a_part_that_counts_counts_by_itself():
    it = Machine(chip({**LOW, "half_write": "counts"}, HIGH))
    it.registers["a.scroll_x"] = 0x1FF
    it.write(5, 0x55)
    assert it.registers["a.scroll_x"] == 0x155
    it.write(6, 0)
    assert it.registers["a.scroll_x"] == 0x55


@pytest.mark.parametrize(("half_write", "after_low"), [("counts", 0x355), ("waits", 0x3FF)])
def test_a_register_of_two_bytes(half_write, after_low):
    """``a.t.map`` in bits 9:0, ``a.bank`` in 13:12, ``b.enable`` in 10: the high byte takes the low one along."""
    word = {
        "name": "map",
        "bits": 16,
        "half_write": half_write,
        "fields": {"a.t.map": "9:0", "a.bank": "13:12", "b.enable": "10"},
    }
    it = Machine(chip(word))
    it.registers["map"] = 0x37FF
    assert (it.registers["a.t.map"], it.registers["a.bank"], it.registers["b.enable"]) == (0x3FF, 3, 1)
    it.write(0, 0x55)
    assert (it.registers["a.t.map"], it.read(0)) == (after_low, 0x55)
    it.write(1, 0x12)
    assert (it.registers["a.t.map"], it.registers["a.bank"], it.registers["b.enable"]) == (0x255, 1, 0)
    assert (it.state.held, it.registers["map"]) == ({}, 0x1255)


def test_a_field_in_the_low_byte_waits_for_the_high_one_too():
    word = {"name": "w", "bits": 16, "half_write": "waits", "fields": {"a.bank": "1:0", "b.enable": "15"}}
    it = Machine(chip(word))
    it.write(0, 2)
    assert (it.registers["a.bank"], it.read(0)) == (0, 2)
    it.write(1, 0x80)
    assert (it.registers["a.bank"], it.registers["b.enable"]) == (2, 1)


def test_slices_of_a_frame_hold_what_waits():
    """The low part on line 3, the high one on line 8: drawn at once, or cut between."""
    writes = [PortWrite(3, 5, 0x34), PortWrite(8, 6, 1)]
    whole, cut = Machine(chip(LOW, HIGH)), Machine(chip(LOW, HIGH))
    whole.lines(20, writes)
    cut.lines(5, writes)
    assert (cut.state.held, cut.registers["a.scroll_x"]) == ({0: (0xFF, 0x34)}, 0)
    copy = cut.state.copy()
    cut.lines(15, writes)
    assert cut.registers["a.scroll_x"] == whole.registers["a.scroll_x"] == 0x134
    assert (cut.state.held, whole.state.held, copy.held) == ({}, {}, {0: (0xFF, 0x34)})


def test_a_write_that_waits_for_a_frame_and_a_part_that_waits_for_its_other():
    """High and low for the next frame, then a low part alone: that is still held once the frame has begun."""
    split = [{**one, "effect": "next frame"} for one in (LOW, HIGH)]
    it = Machine(chip(*split))
    it.frame([PortWrite(1, 5, 0x22), PortWrite(2, 6, 1), PortWrite(3, 5, 0x44)])
    assert (it.registers["a.scroll_x"], it.state.held, it.read(5)) == (0x122, {0: (0xFF, 0x44)}, 0x44)
    it.frame([PortWrite(0, 6, 0)])
    assert (it.registers["a.scroll_x"], it.state.held) == (0x44, {})


# Others


def test_the_others_have_registers_of_their_own_clear_of_ports_and_status():
    """After the word at 0x04 comes the port's address at 5 and 6, its data at 7, and status at 9: 8 is free for one byte.

    Backdrop, 4 bits, takes 8; the next free after it is 0x0A.
    """
    ports = [{"target": "memory", "address": 5, "data": 7}]
    status = {"address": 9, "cleared": "read", "picture_end": 0}
    it = small_chip(SCROLL, TEXT, registers=[LAYERS, {"others": "default"}], ports=ports, status=status)
    found = {name: one.address for name, one in registers(it).items()}
    assert found == {
        "layer control": 4, "backdrop": 8, "a.scroll_x": 0x0A, "a.scroll_y": 0x0C, "a.t.map": 0x0D, "a.t.patterns": 0x0F,
        "b.x.map": 0x10, "b.x.glyphs": 0x12, "b.x.foreground": 0x14, "b.x.background": 0x15,
    }  # fmt: skip
    short = small_chip(
        SCROLL, registers={"a.bank": {"bits": 2, "effect": "at once", "address": 9}, "others": "default"}
    )
    assert registers(short)["backdrop"].address == 10
    assert set(fields(short)) == set(controls(short))


def test_wired_others_rest():
    it = Machine(chip(LAYERS, constants={"a.scroll_x": 5}))
    assert set(fields(it.chip)) == {"a.enable", "b.enable", "a.bank"}
    assert it.state.value("a.scroll_x") == 5


# By chance


def bit_numbers(text: str) -> list[int]:
    """The bits of a layout, from the one that counts least."""
    found = []
    for piece in reversed(text.split(",")):
        ends = [int(end) for end in piece.split(":")]
        found += range(ends[-1], ends[0] + 1)
    return found


def short_list(random: Random, known: dict[str, Control]) -> Json:
    """A register of as many bits as it needs for most controls."""
    return {
        name: {"bits": max(1, (one.top // one.step).bit_length()), "effect": "at once", "reset": one.rest}
        for name, one in known.items()
        if random.random() < 0.9
    }


class Words:
    """The words that make the fields of a plan what they shall be, bit by bit."""

    def __init__(self, plan: list[Json], chip: Chip) -> None:
        self.words = [one for one in plan if "others" not in one]
        self.values: dict[str, int] = {}
        self.chip = chip

    def meant(self, random: Random) -> None:
        """Any value for each field."""
        for name, field in fields(self.chip).items():
            self.values[name] = random.randint(0, field.top // field.step) * field.step

    def bytes(self, random: Random) -> list[tuple[int, int]]:
        """Addresses and bytes, the registers that wait before those that count; bits of nobody are anything."""
        found, free = [], 0
        for word in self.words:
            number, address = random.getrandbits(word["bits"]), word.get("address", free)
            free = address + (word["bits"] + 7) // 8
            for key, table in word["fields"].items():
                told = table if isinstance(table, dict) else {"bits": table}
                raw = self.values[key] // fields(self.chip)[key].step
                bits = bit_numbers(told["bits"])
                for bit, of in zip(bits, bit_numbers(told["of"]) if "of" in told else range(len(bits)), strict=True):
                    number = number & ~(1 << bit) | (raw >> of & 1) << bit
            data = number.to_bytes((word["bits"] + 7) // 8, "little")
            found.append((word.get("half_write") != "waits", random.random(), address, data))
        return [(address + place, byte) for _, _, address, data in sorted(found) for place, byte in enumerate(data)]


@pytest.mark.parametrize("seed", every(6, range(300)))
def test_bytes_set_what_names_set(seed):
    """Any map: all fields by bytes on one machine and by name on another; what is read back is what was written."""
    random = Random(seed)
    plain = small_chip(SCROLL, TEXT, BITMAP, sprites=SPRITES)
    plan = with_others(
        random,
        in_words(random, short_list(random, dict(controls(plain))), controls(plain), ties=random.choice((0, 40))),
    )
    chip = small_chip(SCROLL, TEXT, BITMAP, sprites=SPRITES, registers=plan)
    assert parse_chip(chip_text(chip)) == chip
    by_byte, by_name, words = Machine(chip), Machine(chip), Words(plan, chip)
    for _ in range(3):
        words.meant(random)
        written = words.bytes(random)
        for address, byte in written:
            by_byte.write(address, byte)
        for name, field in fields(chip).items():
            if any(name in word["fields"] for word in words.words):
                by_name.registers[random.choice((name, *field.controls))] = words.values[name]
        assert by_byte.state.controls.tolist() == by_name.state.controls.tolist()
        assert all(mask == 0 for mask, _ in by_byte.state.held.values())
        last = dict(written)
        for register in registers(chip).values():
            for place in range(register.size):
                told = last.get(register.address + place)
                if told is not None:
                    kept = told & register.bytes_from(place) >> 8 * place
                    assert by_byte.read(register.address + place) == (kept if register.access == "read-back" else 0)


def test_a_state_of_such_a_chip_begins_with_nothing_held():
    assert State.at_reset(chip(LOW, HIGH)).held == {}


def test_what_registers_take_on_the_chip():
    """Word by word: 8 + 8 + 8 bits, of the write-only one the 4 that do something. Of the low part 8 bits can wait, and of two
    bytes with a field in bits 9:0 the low 8.
    """
    only = {**LAYERS, "access": "write-only"}
    wide = {"name": "map", "bits": 16, "half_write": "waits", "fields": {"a.t.map": "9:0"}}
    found = {one.name: one.bits for one in on_chip(chip(only, LOW, HIGH, wide))}
    assert (found["registers"], found["half writes"]) == (4 + 8 + 8 + 16, 8 + 8)
    assert "half writes" not in {one.name for one in on_chip(chip(LAYERS))}
