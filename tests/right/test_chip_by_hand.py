"""A chip's numbers before anything is drawn, worked out on paper: bits, banks, registers, slots, and who is given which slot."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import numpy as np
import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, small_chip
from refusal import refused

from vdpsim.chip.colour import expand, nearest, word
from vdpsim.chip.controls import controls
from vdpsim.chip.line.clients import ModeCosts, buffered, clients, slot_clients, sprite_costs, timed_clients
from vdpsim.chip.line.rates import Pace, line_slots
from vdpsim.chip.line.serving import Job, Shape, Stretch, Within, ends, give, remembered, without
from vdpsim.chip.line.slots import Server
from vdpsim.chip.registers import fields, registers, rest_values, unfit
from vdpsim.chip.tables.bits import Bits, clashes
from vdpsim.chip.tables.table import Condition
from vdpsim.chip.tables.time import SlotPattern, parse_rate

# Bits


@pytest.mark.parametrize(
    ("text", "width", "mask", "highest", "word", "value"),
    [
        ("7:4", 4, 0xF0, 7, 0xA5, 0xA),
        ("0", 1, 0x01, 0, 0xA5, 1),
        ("6", 1, 0x40, 6, 0xA5, 0),
        ("0, 7:4", 5, 0xF1, 7, 0xA5, 0b1_1010),
        ("7:4, 0", 5, 0xF1, 7, 0xA5, 0b1010_1),
        ("9:8, 3:1, 14", 6, 0x430E, 14, 0x4105, 0b01_010_1),
        ("63:32", 32, 0xFFFF_FFFF << 32, 63, 0x89AB_CDEF_0000_0000, 0x89AB_CDEF),
    ],
)
def test_a_field_is_cut_out_and_put_back(text, width, mask, highest, word, value):
    bits = Bits.parse(text)
    assert (bits.width, bits.mask, bits.highest, bits.top) == (width, mask, highest, (1 << width) - 1)
    assert str(bits) == text
    assert bits.get(word) == value
    assert bits.put(value) == word & mask
    assert bits.put(value | 1 << width) == word & mask, "higher bits are cut"
    if highest < 32:
        assert bits.get(np.array([word, 0, mask])).tolist() == [value, 0, bits.top]
        assert bits.put(np.array([value, 0, bits.top])).tolist() == [word & mask, 0, mask]


def test_the_last_bit_of_a_word_and_one_beyond():
    layout = {"low": Bits.parse("3:0"), "high": Bits.parse("7:4")}
    assert clashes(layout, 8) == []
    assert clashes(layout, 7) == ["high = '7:4' does not fit a word of 7 bits (allowed: 0 to 6)"]
    layout["both"] = Bits.parse("4:3")
    assert clashes(layout, 8) == [
        "both = '4:3' and low = '3:0' share bit 3",
        "both = '4:3' and high = '7:4' share bit 4",
    ]
    layout = {"one": Bits.parse("63"), "other": Bits.parse("0, 63")}
    assert clashes(layout, 64) == ["other = '0, 63' and one = '63' share bit 63"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("64", "0 to 63"),
        ("32:0", "at most 32 bits"),
        ("3:2:1", "bit numbers such as"),
        ("3, 3", "twice"),
        ("1:2", "2:1"),
    ],
)
def test_a_layout_that_is_none(text, told):
    with refused(ValueError, told):
        Bits.parse(text)


def test_the_nearest_value_and_the_lower_of_two():
    """Two bits show 0, 85, 170 and 255; 42 is nearer to 0, 43 to 85. One bit shows 0 and 255: 127 is 127 and 128 away. Four bits
    show 17 apart: 8 is 8 from 0 and 9 from 17.
    """
    assert [expand(value, 2) for value in range(4)] == [0, 85, 170, 255]
    assert [nearest(channel, 2) for channel in (0, 42, 43, 127, 128, 212, 213, 255)] == [0, 0, 1, 1, 2, 2, 3, 3]
    assert [nearest(channel, 1) for channel in (127, 128)] == [0, 1]
    assert [nearest(channel, 4) for channel in (8, 9, 25, 26)] == [0, 1, 1, 2]


# Controls and registers


def test_controls_and_the_default_registers_of_a_small_chip():
    """Text of 15 colours reaches the last entry, so that its layer has no bank; tiles of 1 bit have 3 banks beside bank 0:
    15 - 1 = 14 entries, 4 a bank. Tile patterns are 8 bytes: the last of 1024 lies at 1016.
    """
    chip = small_chip(TEXT, TILES, sprites=SPRITES)
    wanted = {
        "backdrop": (15, 4, 0), "a.enable": (1, 1, 1), "a.x.map": (1023, 10, 2), "a.x.glyphs": (1023, 10, 4),
        "a.x.foreground": (15, 4, 6), "a.x.background": (15, 4, 7), "b.enable": (1, 1, 8), "b.scroll_x": (127, 7, 9),
        "b.scroll_y": (63, 6, 10), "b.bank": (3, 2, 11), "b.t.map": (1023, 10, 12), "b.t.patterns": (1016, 7, 14),
        "sprites.enable": (1, 1, 15), "sprites.patterns": (1023, 10, 16),
    }  # fmt: skip
    found = {name: (fields(chip)[name].top, one.bits, one.address) for name, one in registers(chip).items()}
    assert found == wanted
    assert {name: one.top for name, one in controls(chip).items()} == {
        name: top for name, (top, _, _) in wanted.items()
    }
    assert {name for name, value in rest_values(chip).items() if value} == {"a.enable", "b.enable", "sprites.enable"}


def test_registers_as_a_file_lists_them():
    """Two registers of 10 and of 9 bits take two bytes each, one of 8 takes one; after 0x20 comes 0x21."""
    listed = {
        "b.scroll_x": {"bits": 10, "effect": "at once"},
        "a.x.map": {"bits": 12, "effect": "next line", "reset": 40},
        "b.t.patterns": {"bits": 4, "effect": "at once", "step": 16, "address": 0x20},
        "backdrop": {"bits": 8, "effect": "next frame"},
        "sprites.patterns": {"bits": 9, "effect": "at once", "step": 3},
        "b.bank": {"bits": 1, "effect": "at once"},
    }
    chip = small_chip(TEXT, TILES, sprites=SPRITES, registers=listed)
    found = {name: (one.top, one.step, registers(chip)[name].address) for name, one in fields(chip).items()}
    assert found == {
        "b.scroll_x": (1023, 1, 0),
        "a.x.map": (1023, 1, 2),
        "b.t.patterns": (240, 16, 0x20),
        "backdrop": (15, 1, 0x21),
        "sprites.patterns": (1023, 3, 0x22),
        "b.bank": (1, 1, 0x24),
    }
    assert rest_values(chip)["a.x.map"] == 40
    register = fields(chip)["b.t.patterns"]
    assert [unfit(register, value) for value in (0, 16, 240)] == [None] * 3
    assert unfit(register, 241) == unfit(register, 256).replace("256", "241") == "b.t.patterns takes 0 to 240, got 241"
    assert unfit(register, -1) == "b.t.patterns takes 0 to 240, got -1"
    assert unfit(register, 8) == "b.t.patterns takes multiples of 16, got 8"


@pytest.mark.parametrize(
    ("entries", "top"),
    [({}, 3), ({"base": 2}, 3), ({"base": 3}, 2), ({"base": 10}, 1), ({"base": 11}, None), ({"bank_step": 0}, None),
     ({"bank_step": 1}, 14), ({"value_step": 4}, 2), ({"base": 4, "bank_step": 5, "value_step": 2}, 1)],
)  # fmt: skip
def test_the_last_bank_from_which_every_value_is_in_the_palette(entries, top):
    """16 entries, values 0 and 1, 4 entries from bank to bank where nothing else is said: base + 4 x bank + 1 is 15 at most. The
    last of the list: 4 + 5 x 1 + 2 = 11, and 4 + 5 x 2 + 2 = 16 is one too many. None: only bank 0, and no register.
    """
    found = controls(small_chip({**TILES, "entries": entries})).get("a.bank")
    assert (found and found.top) == top


@pytest.mark.parametrize(
    ("cell", "entries", "tops"),
    [({}, {}, [15, 15]), ({}, {"base": 9}, [6, 6]), ({}, {"value_step": 2}, [7, 7]), ({}, {"value_step": 0}, [0, 0]),
     ({"foreground": "6:4"}, {}, [15]), ({"foreground": "5:4", "background": "7:6"}, {}, [])],
)  # fmt: skip
def test_colour_numbers_that_a_text_reaches_from_registers(cell, entries, tops):
    """16 entries, the last is 15: (15 - base) / step, rounded down. A colour that the cell holds has no register."""
    mode = {**TEXT, "cell": {**TEXT["cell"], **cell}, "entries": entries}
    found = controls(small_chip(mode))
    assert [found[name].top for name in ("a.x.foreground", "a.x.background") if name in found] == tops


def test_two_modes_have_a_split_and_the_larger_map_scrolls():
    """Beside tiles of 128 x 64 a bitmap of 256 x 32: 255 across, 63 down. The split rests at the picture's end, 64."""
    wide = {**BITMAP, "width": 256, "height": 32, "bits_per_dot": 1}
    layers = [{"name": "a", "modes": [TILES, wide]}]
    found = controls(small_chip(TILES, layers=layers))
    names = ["a.scroll_x", "a.scroll_y", "a.mode", "a.below", "a.split"]
    assert [found[name].top for name in names] == [255, 63, 1, 1, 64]
    assert [found[name].rest for name in names] == [0, 0, 0, 0, 64]


def test_the_line_flag_can_name_every_line_and_text_has_one_bit_a_dot():
    status = {"address": 0x40, "line": 0, "cleared": "read"}
    assert controls(small_chip(TILES, status=status))["line_flag"].top == 69
    with refused(ValueError, "bits_per_dot of a text mode is 1, got 2"):
        small_chip({**TEXT, "bits_per_dot": 2})


def test_layers_and_modes_are_found_by_name_and_no_others():
    chip = small_chip(TILES, BITMAP)
    assert chip.layer("b").mode("b").kind == "bitmap"
    for find in (chip.layer, chip.layer("a").mode):
        with pytest.raises(KeyError, match="reed"):
            find("reed")


def test_colour_cells_have_blocks_and_without_them_there_are_none():
    """A bitmap of 64 x 16 dots."""
    cells = {"block": [8, 4], "cell_bytes": 1, "cell": {"bank": "1:0"}}
    both = [small_chip(mode).layer("a").modes[0] for mode in (BITMAP, {**BITMAP, "colours": cells})]
    assert [(one.blocks, one.colour_bytes) for one in both] == [((0, 0), 0), ((8, 4), 32)]
    assert [one.top_value for one in (*both, small_chip(TEXT).layer("a").modes[0])] == [3, 3, 1]


def test_a_colour_is_packed_of_channels_of_8_bits():
    palette = small_chip(TILES).palette
    assert word(palette, (255, 0, 136)) == 0xF08
    for channel in (-1, 256):
        with refused(ValueError, f"red, green and blue take 0 to 255, got {channel}"):
            word(palette, (0, channel, 0))


def test_a_condition_is_shown_as_it_is_made():
    one = Condition("priority>=2")
    assert repr(one) == "Condition('priority >= 2')" and eval(repr(one)) == one  # noqa: S307 - of this line


# Clients


def test_who_asks_for_data_and_in_which_order():
    chip = small_chip(TEXT, TILES, BITMAP, sprites=SPRITES)
    of_layers = ("a.cells", "a.glyphs", "b.cells", "b.pattern", "c.bitmap")
    assert clients(chip) == (*of_layers, "sprites.pattern")
    assert slot_clients(chip) == (*of_layers, "sprites.pattern", "refresh", "cpu")
    assert timed_clients(chip) == (*of_layers, "sprites")
    in_memory = small_chip(TEXT, sprites={**SPRITES, "table": "memory"})
    assert clients(in_memory) == ("a.cells", "a.glyphs", "sprites.table", "sprites.pattern")
    assert timed_clients(small_chip(BITMAP)) == clients(small_chip(BITMAP)) == ("a.bitmap",)


# Slots


def timed(*modes, rate="1", sprites=None, **tables):
    """A chip whose clients may have any slot, in the order given, unless ``tables`` say more of its time."""
    names = timed_clients(small_chip(*modes, sprites=sprites))
    when = tables.pop("when", {})
    served = {name: {"when": "blanking", **when.get(name, {})} for name in names}
    if sprites:
        served["sprites"] = {"when": "line before", **when.get("sprites", {})}
    memory = {"size": 1024, "bytes_per_access": tables.pop("width", 1), "accesses_per_dot": rate}
    cpu = tables.pop("cpu", {"active": "none"})
    return small_chip(*modes, sprites=sprites, memory=memory, time={"clients": served, "cpu": cpu, **tables})


def test_slots_of_a_line_whose_memory_makes_three_accesses_in_two_dots():
    """80 dots are 120 slots, 24 of them in the 16 dots of blanking. Slot 25 begins at 16 2/3 dots, in the picture's first."""
    line = line_slots(timed(TILES, rate="3/2"))
    assert (line.rate, line.dots, line.ahead, line.slots, line.blank) == (Fraction(3, 2), 80, 16, 120, 24)
    assert [line.before(dot) for dot in (0, 1, 2, 64)] == [24, 25, 27, 120]
    assert [line.from_dot(dot) for dot in (-17, -16, -15, 0, 1, 2)] == [0, 0, 2, 24, 26, 27]
    assert [line.at(dot) for dot in (0, 1, 2, 79, 80, 81, 162)] == [0, 2, 3, 119, 120, 122, 243]


def test_a_chip_without_slots_has_no_costs_of_sprites_and_no_slots_of_a_line():
    chip = small_chip(TILES)
    assert sprite_costs(chip) == ()
    with refused(ValueError, "Small has no memory.accesses_per_dot"):
        line_slots(chip)


def test_a_rate_is_a_whole_number_or_a_fraction_in_python_too():
    assert parse_rate(Fraction(3, 2)) == parse_rate("3/2") == Fraction(3, 2)
    assert parse_rate(Fraction(64)) == parse_rate(64)
    for given in (Fraction(65), Fraction(1, 65)):
        with refused(ValueError, f"must be 1/64 to 64, got {given}"):
            parse_rate(given)


def test_what_is_remembered_is_forgotten_before_it_becomes_too_much(monkeypatch):
    monkeypatch.setattr("vdpsim.chip.line.serving.MOST_KEPT", 2)
    known: dict[tuple[int, ...], int] = {}
    made = list[int]()

    def make(number: int) -> int:
        made.append(number)
        return -number

    found = [remembered(known, make, number) for number in (1, 2, 1, 3, 1)]
    assert found == [-1, -2, -1, -3, -1]
    assert (made, list(known)) == ([1, 2, 3, 1], [(3,), (1,)])


def test_a_part_of_a_slot_at_the_end_of_a_line_is_lost():
    """80 x 2/3 are 53 and a third; 16 x 2/3 are 10 and two thirds."""
    line = line_slots(timed(TILES, rate="2/3"))
    assert (line.slots, line.blank) == (53, 10)
    assert [line.at(dot) for dot in (78, 79, 80)] == [52, 53, 53]


def test_the_pace_of_a_cpu():
    """10 cycles at 3 MHz are 10/3 dots of 1 MHz, a slot is 2/3 of a dot: in thirds of a dot 10 and 2, a line 240."""
    chip = timed(TILES, rate="3/2")
    assert Pace.of(chip) is None
    chip = chip.model_copy(
        update={"cpu": small_chip(TILES, cpu={"clock": 3_000_000, "cycles_per_byte": 10, "queue": 7}).cpu}
    )
    pace = Pace.of(chip)
    assert (pace.queue, pace.unit, pace.line, pace.slot, pace.byte, pace.slots) == (7, 3, 240, 2, 10, 120)
    assert [pace.first_slot(moment) for moment in (-1, 0, 1, 2, 3, 238, 239, 240, 999)] == [
        0,
        0,
        1,
        1,
        2,
        119,
        120,
        120,
        120,
    ]
    assert [pace.instant(moment) for moment in (0, 239, 240, 241, 482)] == [0, 120, 120, 121, 241]
    assert [pace.begins(instant) for instant in (0, 119, 120, 241)] == [0, 238, 240, 482]


def test_slots_by_a_pattern():
    assert [SlotPattern(every=3, at=at).mask(7) for at in ((0,), (1,), (0, 2))] == [0b1001001, 0b0010010, 0b1101101]
    assert SlotPattern().mask(5) == 0b11111
    assert SlotPattern(every=8, at=(7,)).mask(7) == 0


@pytest.mark.parametrize(
    ("mode", "width", "costs"),
    [
        ({**TILES, "bits_per_dot": 4}, 1, ModeCosts(8, {"cells": 1, "pattern": 4}, 8)),
        ({**TILES, "bits_per_dot": 4, "cell_bytes": 2}, 1, ModeCosts(8, {"cells": 2, "pattern": 4}, 8)),
        ({**TILES, "tile": 16, "bits_per_dot": 1}, 8, ModeCosts(16, {"cells": 1, "pattern": 1}, 16)),
        ({**TILES, "bits_per_dot": 4}, 2, ModeCosts(8, {"cells": 1, "pattern": 2}, 8)),
        (BITMAP, 2, ModeCosts(8, {"bitmap": 1}, 0)),
        ({**TEXT, "cell_bytes": 2}, 1, ModeCosts(6, {"cells": 2, "glyphs": 1}, 0)),
        ({**TEXT, "cell_bytes": 2}, 2, ModeCosts(6, {"cells": 1, "glyphs": 1}, 0)),
    ],
)
def test_what_a_group_takes(mode, width, costs):
    chip = timed(mode, width=width)
    assert Server(chip).modes == [[costs]]


def test_slots_are_given_in_order_and_not_beyond_a_window():
    """Ten slots. 0 and 1; of 3 and 4, one; then the window up to 5 has one slot left of two; and one that begins late."""
    give = Server(timed(TILES)).give
    left, found = give("a.cells", range(10), [Job(0, 10, 2), Job(3, 5, 1), Job(3, 5, 2), Job(8, 10, 3)], None)
    assert [list(slots) for slots in found] == [[0, 1], [3], [4], [8, 9]]
    assert list(left) == [2, 5, 6, 7]


@pytest.mark.parametrize(
    ("count", "end", "wanted"),
    [(1, 6, [5]), (1, 5, []), (2, 7, [5, 6]), (2, 6, [5]), (3, 8, [5, 6, 7]), (3, 7, [5, 6])],
)
def test_the_last_slot_of_a_window_counts_and_the_next_does_not(count, end, wanted):
    left, (found,) = Server(timed(TILES)).give("a.cells", range(10), [Job(5, end, count)], None)
    assert list(found) == wanted
    assert list(left) == [slot for slot in range(10) if slot not in wanted]


def test_patterns_come_after_their_cell_and_not_at_all_without_it():
    """The first cell was not read; the second ended in slot 4, the third in the last, 9; the fourth's window begins later."""
    jobs = [Job(0, 10, 1), Job(0, 10, 1), Job(0, 10, 3), Job(7, 10, 1)]
    left, found = Server(timed(TILES)).give("a.pattern", range(10), jobs[:3], [None, 4, 9])
    assert [list(slots) for slots in found] == [[], [5], []]
    left, found = Server(timed(TILES)).give("a.pattern", range(10), [jobs[0], jobs[3]], [0, 2])
    assert [list(slots) for slots in found] == [[1], [7]]
    assert list(left) == [0, 2, 3, 4, 5, 6, 8, 9]


def test_a_client_that_may_have_every_third_slot():
    chip = timed(TILES, when={"a.cells": {"every": 3, "at": [1]}})
    left, found = Server(chip).give("a.cells", range(12), [Job(0, 12, 2), Job(5, 12, 2)], None)
    assert [list(slots) for slots in found] == [[1, 4], [7, 10]]
    assert list(left) == [0, 2, 3, 5, 6, 8, 9, 11]


def test_ends_and_what_is_left():
    jobs = [Job(0, 9, 2), Job(0, 9, 2), Job(0, 9, 1)]
    assert ends(jobs, [(1, 3), (4,), (5,)]) == [3, None, 5]
    assert without((1, 2, 3, 5), (1, 2)) == (3, 5)
    assert without((1, 2, 3, 5), (2, 5)) == (1, 3)
    assert without((1, 2), ()) == (1, 2)
    assert without((1, 2), (1, 2)) == ()


def test_groups_in_time_begin_at_most_their_lead_before_they_show():
    """One slot a dot, 16 of them before dot 0. Groups of 8 dots, 3 dots into the first: they begin at dots -3, 5 and 13. The
    first shows at dot 0, slot 16: with a lead of 10 its slots are 6 to 15; then 11 to 20 and 19 to 28. With a lead of 17 the
    first has no slot before 0. At 2/3 slots a dot, 10 2/3 before dot 0: from 6 dots on, slot 4, up to 10 whole ones; from 11
    dots, 7 1/3.
    """
    shown = Stretch(0, 3, 0, 2, 0, skip=False, kept=False, turned=b"")
    for lead, rate, wanted in (
        (10, "1", [(6, 16), (11, 21), (19, 29)]),
        (17, "1", [(0, 16), (4, 21), (12, 29)]),
        (10, "2/3", [(4, 10), (8, 14), (13, 19)]),
    ):
        when = {"a.cells": {"when": "in time", "lead": lead}, "a.pattern": {"when": "in time", "lead": lead}}
        server = Server(timed(TILES, rate=rate, when=when))
        assert [(job.begin, job.end) for job in server.jobs("a.cells", shown)] == wanted
        assert [server.end(0, shown, group) for group in range(3)] == [end for _, end in wanted]
        skipped = shown._replace(skip=True)
        assert [(job.begin, job.end) for job in server.jobs("a.cells", skipped)] == wanted[1:]
        assert server.end(0, skipped, 1) == wanted[1][1]
        assert server.jobs("a.cells", shown._replace(kept=True)) == ()
    turned = server.jobs("a.pattern", shown._replace(turned=b"\0\1\0"))
    assert [job.accesses for job in turned] == [1, 8, 1]


def test_whole_windows_of_blanking_and_of_the_line_before():
    shown = Stretch(0, 0, 0, 1, 0, skip=False, kept=False, turned=b"")
    chip = timed(TILES, when={"a.cells": {"when": "line before"}, "a.pattern": {"when": "line before"}})
    assert Server(chip).jobs("a.cells", shown) == (Job(0, 80, 1),) * 2
    assert Server(timed(TILES)).jobs("a.cells", shown) == (Job(0, 16, 1),) * 2
    assert (buffered(chip, chip.layers[0]), buffered(timed(TILES), chip.layers[0])) == (True, False)
    assert not buffered(small_chip(TILES), chip.layers[0])


@pytest.mark.parametrize(
    ("cpu", "picture", "below"),
    [
        ({"active": "none"}, [14, 15], [14, 15, 16, 18, 79]),
        ({"active": "free"}, [14, 15, 16, 18, 79], [14, 15, 16, 18, 79]),
        ({"active": "free", "blanking": False}, [16, 18, 79], []),
        ({"active": "none", "blanking": False}, [], []),
        ({"active": "reserved", "every": 32, "at": [17]}, [14, 15, 17, 49], [14, 15, 16, 18, 79]),
    ],
)
def test_slots_of_the_cpu(cpu, picture, below):
    """Of 80 slots 16 lie in blanking; the others leave slots 14, 15, 16, 18 and 79. Below the picture all is blanking."""
    server = Server(timed(TILES, cpu=cpu))
    free = (14, 15, 16, 18, 79)
    assert list(server.for_cpu(free, picture=True)) == picture
    assert list(server.for_cpu(free, picture=False)) == below


def test_slots_of_sprites_and_of_refresh():
    """Refresh has the first 3 that its pattern has, 1, 5 and 9; sprites have what is left of the line, or of its blanking."""
    refresh = {"slots": 3, "every": 4, "at": [1]}
    for when, end in (("line before", 80), ("blanking", 16)):
        chip = timed(TILES, sprites=SPRITES, when={"sprites": {"when": when}}, refresh=refresh)
        server = Server(chip)
        left, taken = server.fresh(picture=True)
        assert taken == (1, 5, 9)
        assert list(left) == [slot for slot in range(80) if slot not in taken]
        assert server.room_of(left) == tuple(slot for slot in left if slot < end)
    odd = {"sprites": {"when": "blanking", "every": 5, "at": [0]}}
    server = Server(timed(TILES, sprites=SPRITES, when=odd))
    assert server.room_of(range(80)) == (0, 5, 10, 15)
    assert Server(timed(TILES)).room_of(range(80)) == ()


def test_a_line_is_served_in_the_order_of_its_clients():
    """In blanking, 16 slots: 9 cells, then 4 sprites' accesses of the 7 left, then 9 patterns of which 3 come in time. The sixth
    to the ninth group are lost, and a group that goes on in the next stretch is lost there too.
    """
    order = {"sprites": {"when": "blanking"}}
    chip = timed(TILES, sprites=SPRITES, when=order)
    served = {name: chip.time.clients[name] for name in ("a.cells", "sprites", "a.pattern")}
    chip = chip.model_copy(update={"time": chip.time.model_copy(update={"clients": served})})
    server = Server(chip)
    first = Stretch(0, 0, 0, 4, 0, skip=False, kept=False, turned=b"")
    second = Stretch(0, 0, 4, 8, 36, skip=True, kept=False, turned=b"")
    shape = Shape(picture=True, layers=((first, second),))
    assert server.room(shape) == tuple(range(9, 16))
    found = server.serve(shape, 4)
    assert dict(zip(server.names, found.counts, strict=True)) == {
        "a.cells": 9, "a.pattern": 3, "sprites.pattern": 0, "refresh": 0, "cpu": 0,
    }  # fmt: skip
    assert dict(zip(server.names, found.missed, strict=True))["a.pattern"] == 6
    assert found.lost == ((0, 0, 3), (0, 0, 4), (0, 1, 4), (0, 1, 5), (0, 1, 6), (0, 1, 7), (0, 1, 8))
    assert (found.room, found.sprites, found.cpu) == (tuple(range(9, 16)), (9, 10, 11, 12), ())
    assert [(one.stretch, one.client, one.bursts[0]) for one in found.bursts] == [
        (0, 0, (0, (0,))), (1, 0, (5, (5,))), (0, 1, (0, (13,))),
    ]  # fmt: skip


@pytest.mark.parametrize("jobs", [0, 1, 16, 17, 40])
@pytest.mark.parametrize("accesses", [1, 2])
def test_what_is_left_is_what_was_not_taken_however_many_runs_are_cut_out(jobs, accesses):
    """A job in each ten slots: up to sixteen runs are cut out where they lie, more are sorted out one by one."""
    free = range(3, 500)
    left, found = give(free, [Job(10 * at, 10 * at + 10, accesses) for at in range(1, jobs + 1)])
    assert [tuple(taken) for taken in found] == [tuple(range(10 * at, 10 * at + accesses)) for at in range(1, jobs + 1)]
    assert left == sorted({*free} - {slot for taken in found for slot in taken})
    assert give(free, [Job(480, 600, 90)])[0] == list(range(3, 480)), "the last run goes to the end"


@pytest.mark.parametrize("seed", range(4))
def test_a_client_gets_of_the_slots_that_are_looked_at_what_it_would_get_of_all(seed):
    """Slots that are frequent among the others and rare ones, jobs with and without a place to begin, against all of them."""
    random = Random(f"within {seed}")
    for _ in range(400):
        length = random.choice([8, 40, 400])
        free = sorted(random.sample(range(length), random.randint(0, length)))
        within = Within(sorted(random.sample(range(length), random.choice([0, 1, length // 20, length // 2]))))
        begins = sorted(random.randrange(length) for _ in range(random.randint(0, 9)))
        jobs = [Job(begin, begin + random.randint(0, length), random.randint(1, 3)) for begin in begins]
        ready = random.choice([None, [random.choice([None, random.randrange(length)]) for _ in jobs]])
        _, found = give([slot for slot in free if slot in within.among], jobs, ready)
        assert give(within.enough(free, jobs, ready), jobs, ready)[1] == found
        taken = [slot for slots in found for slot in slots]
        assert without(free, taken) == tuple(sorted({*free} - {*taken}))
