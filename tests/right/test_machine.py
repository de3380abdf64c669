"""A Machine from Python: named sprites and registers, assignments between lines, timed writes that are refused."""

from __future__ import annotations

import numpy as np
import pytest
from agreement import result_differences
from little import machine
from paper import BITMAP, small_chip
from refusal import refused

import vdpsim
from vdpsim.engine import draw, join
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite


@pytest.mark.parametrize("table", ["chip", "memory"])
def test_a_sprites_fields_are_the_records_bits(table):
    it = machine(table)
    if table == "memory":
        it.memory[0x1800:0x1810] = 0
    sprite = it.sprites[3]
    sprite.x, sprite.y, sprite.pattern, sprite.enable = 40, 5, 9, 1
    assert (sprite.x, sprite.y, sprite.pattern, sprite.enable) == (40, 5, 9, 1)
    record = it.state.sprites[3] if table == "chip" else it.memory[0x180C:0x1810]
    assert record.tolist() == [40, 5, 9, 0x80]
    assert it.frame().log.found[5] == 1
    assert repr(it.sprites[3]) == "Sprite(x=40, y=5, pattern=9, enable=1)"
    assert len(it.sprites) == 4
    assert [s.x for s in it.sprites[2:]] == [0, 40]
    assert it.sprites[-1].x == 40


def test_what_does_not_fit_is_refused_with_its_range():
    it = machine()
    with refused(ValueError, r"x must be 0 to 255, got 256"):
        it.sprites[0].x = 256
    it.sprites[0].x = 255
    with refused(AttributeError, r"sprites of Small have x, y, pattern, enable, not 'colour'"):
        it.sprites[0].colour = 1
    with refused(IndexError, r"numbered 0 to 3, got 4"):
        it.sprites[4]
    with refused(ValueError, r"ground.scroll_x takes 0 to 127, got 128"):
        it.registers["ground.scroll_x"] = 128
    with refused(ValueError, r"sprites.patterns takes multiples of 4, got 2"):
        it.registers["sprites.patterns"] = 2
    with refused(KeyError, r"'ground.tiles.map' is no register of Small"):
        it.registers["ground.tiles.map"] = 0
    with refused(TypeError, r"part of the chip"):
        del it.registers["backdrop"]
    assert list(it.registers) == ["ground.scroll_x", "ground.scroll_y", "backdrop", "sprites.patterns"]
    assert len(it.registers) == 4


def test_a_table_beyond_the_memory_has_no_sprite_to_set():
    it = machine("memory")
    it.registers["sprites.table"] = 8191
    with refused(IndexError, r"sprite 0 lies beyond the memory, at 0x1FFF"):
        it.sprites[0].x = 1


def test_assignments_between_lines_equal_timed_writes():
    """An assignment before line 20 is a write at the end of line 19, whatever the register's effect."""
    one, other = machine(), machine()
    top = one.lines(20)
    one.registers["ground.scroll_x"] = 5
    one.registers["ground.scroll_y"] = 9
    one.registers["backdrop"] = 7
    assert one.registers["backdrop"] == 0
    rest = one.frame()
    whole = other.frame(
        [
            RegisterWrite(19, "ground.scroll_x", 5, dot=79),
            RegisterWrite(19, "ground.scroll_y", 9, dot=79),
            RegisterWrite(19, "backdrop", 7, dot=79),
        ]
    )
    assert np.array_equal(join([top, rest]).rgb, whole.rgb)
    assert one.registers["backdrop"] == other.registers["backdrop"] == 7
    one.registers["backdrop"] = 3
    assert one.registers["backdrop"] == 3


def test_frames_count_and_flags_stay():
    it = machine()
    assert [it.frame().frame for _ in range(3)] == [0, 1, 2]
    assert (it.state.frame, it.state.line) == (3, 0)


def test_a_colour_is_the_nearest_that_the_chip_has():
    """4 bits a channel show c x 17: 0x88 is 8 exactly, 0x7F lies nearer to 0x77 (8 away) than to 0x88 (9 away)."""
    it = machine()
    it.colour(3, 0x88, 0x7F, 0xFF)
    assert int(it.palette[3]) == 0x87F
    with refused(ValueError, r"red must be 0 to 255, got 256"):
        it.colour(3, 256, 0, 0)


@pytest.mark.parametrize(
    ("write", "told"),
    [
        (RegisterWrite(70, "backdrop", 1), r"line must be 0 to 69, got 70"),
        (RegisterWrite(0, "backdrop", 1, dot=80), r"dot must be 0 to 79, got 80"),
        (RegisterWrite(0, "border", 1), r"'border' is no register of Small; it has ground.scroll_x"),
        (RegisterWrite(0, "backdrop", 16), r"backdrop takes 0 to 15, got 16"),
        (PaletteWrite(0, 15, (1, 2)), r"entries must lie in 0 to 15, got 2 from 15"),
        (PaletteWrite(0, 0, ()), r"entries must lie in 0 to 15, got 0 from 0"),
        (PaletteWrite(0, 0, (0x1000,)), r"a colour word must be 0 to 0xFFF, got 0x1000"),
        (SpriteWrite(0, 12, bytes(5)), r"sprite table has bytes 0x0 to 0xF, got 5 from 0xC"),
        (MemoryWrite(0, 8191, bytes(2)), r"video memory has bytes 0x0 to 0x1FFF, got 2 from 0x1FFF"),
        (RegisterWrite(-1, "backdrop", 1), r"line must be 0 to 69, got -1"),
        (RegisterWrite(0, "backdrop", 1, dot=-1), r"dot must be 0 to 79, got -1"),
        (PaletteWrite(0, -1, (1,)), r"entries must lie in 0 to 15, got 1 from -1"),
        (PaletteWrite(0, 0, (0, -1)), r"a colour word must be 0 to 0xFFF, got -0x1"),
        (MemoryWrite(0, -1, bytes(2)), r"got 2 from 0x-1"),
        (MemoryWrite(0, 0, b""), r"got 0 from 0x0"),
        (PortWrite(0, -1, 0), r"address must be 0 to 0xFFFF, got -0x1"),
        (PortWrite(0, 0x10000, 0), r"address must be 0 to 0xFFFF, got 0x10000"),
        (PortWrite(0, (1 << 64) - 1, 0), r"address must be 0 to 0xFFFF, got 0x" + "f" * 16),
        (PortWrite(0, 1 << 64, 0), r"address must be 0 to 0xFFFF, got 18446744073709551616"),
        (PortWrite(0, 0, -1), r"a port takes a byte, 0 to 255, got -1"),
        (PortWrite(0, 0, 256), r"a port takes a byte, 0 to 255, got 256"),
        (MemoryWrite(0, 0, bytes(1), dot=3), r"takes effect between lines: dot must be 0, got 3"),
    ],
)
def test_a_timed_write_that_cannot_happen_is_refused(write, told):
    with refused(ValueError, told):
        machine().frame([write])


@pytest.mark.parametrize(
    "write",
    [
        RegisterWrite(69, "backdrop", 15, dot=79),
        PaletteWrite(0, 14, (0xFFF, 2)),
        SpriteWrite(0, 12, bytes(4)),
        MemoryWrite(0, 8190, bytes(2)),
        PortWrite(0, 0xFFFF, 255),
        PortWrite(0, 0, 0),
    ],
)
def test_the_last_that_fits_is_taken(write):
    assert machine().frame([write]).height == 64


def test_lines_end_within_the_frame():
    it = machine()
    it.lines(70)
    assert (it.state.frame, it.state.line) == (1, 0)
    with refused(ValueError, r"lines to be drawn end at 0 to 70, got 71"):
        it.lines(71)


def test_parts_that_do_not_follow_are_not_joined():
    it = machine()
    first, _, third = it.lines(5), it.lines(5), it.lines(5)
    with refused(ValueError, r"frame 0 line 10 does not follow frame 0 line 5"):
        join([first, third])


def test_parts_join_to_the_frame_with_each_source_alone():
    """Cut in the picture, at its end and below it, where a part has no line of the picture and so no source."""
    whole = machine().frame(planes=True)
    it = machine()
    found = join([it.lines(lines, planes=True) for lines in (0, 20, 44, 3, 3)])
    assert list(found.planes) == ["ground", "sprites"]
    assert result_differences(whole, found) == []


def test_traced_parts_join_to_the_frame_with_every_access():
    """A bitmap fetched in blanking, 64 lines of 16 accesses; lines 64 to 69 have none."""
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
    chip = small_chip(BITMAP, memory=memory, time={"clients": {"a.bitmap": {"when": "blanking"}}})
    whole, it = vdpsim.Machine(chip).frame(trace=True), vdpsim.Machine(chip)
    found = join([it.lines(lines, trace=True) for lines in (1, 63, 6)])
    assert len(found.trace) == 64 * 16
    assert result_differences(whole, found) == []


def test_a_trace_needs_a_chip_with_a_time_table():
    it = machine()
    with refused(ValueError, "a trace needs a chip with a time table; Small has none"):
        it.lines(2, trace=True)
    frame = it.lines(2, damage=True)
    assert (frame.trace, frame.slots, len(frame.transfers), frame.missed.sum()) == (None, None, 0, 0)
    assert it.state.line == 2


def test_a_table_in_memory_takes_no_write_to_the_chips_own():
    with refused(ValueError, "the on-chip sprite table has bytes 0x0 to 0x0, got 1 from 0x0"):
        machine("memory").frame([SpriteWrite(0, 0, b"1")])


def test_what_is_not_asked_for_is_not_kept():
    """A call draws one line where nothing is said of how many, without a trace and without sources alone."""
    it = machine()
    program = it.compile([PaletteWrite(1, 0, (0xF00,))])
    assert [it.lines().rgb[0, 0].tolist() == [255, 0, 0] for _ in range(2)] == [False] * 2
    assert it.state.line == 2
    it.state.line = 0
    one, two = it.lines(writes=program), it.lines(writes=program)
    assert (one.height, two.height) == (1, 1)
    assert it.palette.tolist()[0] == 0xF00
    rest = it.frame(program)
    assert (rest.height, rest.planes, rest.trace, rest.colours, rest.blank) == (62, {}, None, None, 0)
    plain = draw(it.plan, it.state)
    assert (plain.height, plain.planes, plain.trace, plain.colours) == (64, {}, None, None)


def test_a_trace_is_of_a_frame_of_so_many_slots_at_most():
    """1 << 21 slots are 2,097,152: of 256 lines 8192 each; one slot more a line are 256 more."""
    frame = {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 1024, "lines_per_frame": 256}
    for rate, told in (("8", None), ("8193/1024", "256 = 2,097,408")):
        chip = small_chip(
            BITMAP,
            frame=frame,
            memory={"size": 1024, "bytes_per_access": 1, "accesses_per_dot": rate},
            time={"clients": {"a.bitmap": {"when": "blanking"}}},
        )
        one = vdpsim.Machine(chip)
        if told is None:
            assert one.lines(1, trace=True).trace is not None
        else:
            with refused(ValueError, told):
                one.lines(1, trace=True)
        one.lines(1)
