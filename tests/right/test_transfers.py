"""Scenes whose CPU moves bytes: from a scene file's words to the frames in which they land."""

from __future__ import annotations

import gc

import numpy as np
import pytest
from refusal import refused
from scenery import TIMED, load

import vdpsim
from vdpsim.machine import machine as machine_room
from vdpsim.machine import reached as reached_room
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, Transfer

EVERY = """
[[writes]]
line = 0
register = "backdrop"
value = 3
[[writes]]
frame = 2
line = 70
entry = 9
colour = "#fff"
"""


def timed(folder, text, **files):
    return load(folder, text, TIMED, **files)


OFF = """
[registers]
"near.enable" = 0
"far.enable" = 0
"status.enable" = 0
"sprites.enable" = 0
"""


def test_words_become_transfers_and_port_writes(tmp_path):
    scene = timed(
        tmp_path,
        """
[[patterns]]
name = "reed"
for = "near.tiles"
rows = ["12345678", "00000000", "00000000", "00000000", "00000000", "00000000", "00000000", "00000000"]
[[maps]]
for = "near.tiles"
fill = "reed"
[[writes]]
line = 3
dot = 70
memory = 0x1F00
raw = "some.bin"
offset = 2
length = 3
by = "cpu"
step = 2
[[writes]]
line = 4
memory = 0x1F00
fill = 7
count = 5
by = "cpu"
[[writes]]
line = 5
memory = 0x1F00
fill = 7
count = 2
[[writes]]
lines = "6:10:2"
dot = 1
patterns = "reed"
rows = ["87654321", "00000000", "00000000", "00000000", "00000000", "00000000", "00000000", "00000000"]
by = "cpu"
[[writes]]
line = 10
map = "near.tiles"
at = [1, 0]
cell = { pattern = "reed", bank = 3 }
by = "cpu"
[[writes]]
line = 11
dot = 2
port = 0x1000
values = [1, 2, 1]
[[writes]]
lines = "12:15"
port = 0x1002
values = [1, 2]
""",
        some_bin=bytes(range(10)),
    )
    map_at, patterns = (scene.state().value(f"near.tiles.{name}") for name in ("map", "patterns"))
    row = bytes.fromhex("87654321") + bytes(28)
    assert list(scene.writes()) == [
        Transfer(3, 0x1F00, bytes([2, 3, 4]), 70, 2),
        Transfer(4, 0x1F00, bytes([7] * 5)),
        MemoryWrite(5, 0x1F00, bytes([7] * 2)),
        Transfer(6, patterns, row, 1),
        Transfer(8, patterns, row, 1),
        Transfer(10, map_at + 2, bytes([0x03, 0x00])),
        *(PortWrite(11, 0x1000, value, 2) for value in (1, 2, 1)),
        *(PortWrite(line, 0x1002, value) for line, value in ((12, 1), (13, 2), (14, 1))),
    ]
    assert scene.moves_from == 0


def test_port_values_go_round_from_frame_to_frame(tmp_path):
    scene = timed(tmp_path, '[[writes]]\nlines = "0:2"\nport = 0x1002\nvalues = [1, 2, 3]\nadvance = 2\n')
    assert [[write.value for write in scene.writes(frame)] for frame in range(3)] == [[1, 2], [3, 1], [2, 3]]


@pytest.mark.parametrize(
    ("when", "first"), [("", 0), ("frame = 4", 4), ('frames = "3:9:2"', 3), ('frames = "3:9:2"\nstep = 2', 3)]
)
def test_a_scene_knows_from_when_its_cpu_moves_bytes(tmp_path, when, first):
    text = f'[[writes]]\n{when}\nline = 3\nmemory = 0\nbytes = [1]\nby = "cpu"\n'
    assert timed(tmp_path, text).moves_from == first
    assert timed(tmp_path, EVERY).moves_from is None


LONG = f"""{OFF}
[[writes]]
frame = 1
line = 10
memory = 0x1000
fill = 5
count = 1500
by = "cpu"
{EVERY}
"""


def test_a_transfer_runs_over_as_many_frames_as_it_needs(tmp_path):
    """40 bytes on each of 16 lines: 640 in frame 1, 640 in frame 2, 220 in frame 3: lines 64 to 68 are full, 20 land on 69.

    It begins at dot 0 of line 10, whose slot is 128. To the end of frame 1 that are 70 x 640 - 128 slots, of which 640 brought
    a byte; in frame 2 it waits from slot 0 on; in frame 3 the last byte lands in slot 619 of line 69.
    """
    found = list(vdpsim.frames(timed(tmp_path, LONG), range(5)))
    assert [frame.transfers.tolist() for frame in found] == [
        [],
        [(0, 64, 600, 79, 639, 640, 70 * 640 - 128 - 640, False)],
        [(0, 64, 600, 79, 639, 640, 80 * 640 - 640, False)],
        [(0, 64, 600, 69, 619, 220, 69 * 640 + 620 - 220, True)],
        [],
    ]
    assert found[2].slots.counts[:, -1].tolist() == [0] * 64 + [40] * 16
    assert all((frame.trace, frame.planes, frame.colours) == (None, {}, None) for frame in found), "none was asked for"


@pytest.mark.parametrize(("queue", "bytes_of"), [(1, 16), (2, 17), (40, 55), (41, 56)])
def test_what_the_queue_holds_lands_at_once_and_the_rest_at_the_pace_of_the_cpu(tmp_path, queue, bytes_of):
    """A byte takes the CPU a line, 80 dots, and slots are free for it on lines 64 to 79 only, 600 to 639. By line 64 the queue
    is full, whatever it holds: so many land at once, 40 on a line. From then on a byte is at hand a line after slot 600, where
    the first of them landed: one more on each of the 15 lines that are left, beside the one that a queue of 41 holds
    for line 65. In the next frame it is the same.
    """
    text = LONG.replace("frame = 1\n", "frame = 0\n", 1)
    slow = f"{TIMED}\n[cpu]\nclock = 1_000_000\ncycles_per_byte = 80\nqueue = {queue}\n"
    found = list(vdpsim.frames(load(tmp_path, text, slow), range(3)))
    assert [frame.transfers["bytes"].tolist() for frame in found] == [[bytes_of]] * 3
    assert found[1].slots.counts[64:, -1].tolist() == [min(queue, 40), 1 + (queue > 40), *[1] * 14]


def test_what_has_landed_stands_at_the_start_of_a_frame(tmp_path):
    scene = timed(tmp_path, LONG)
    landed = [int((vdpsim.Machine.of(scene, frame).memory[0x1000:] == 5).sum()) for frame in range(6)]
    assert landed == [0, 0, 640, 1280, 1500, 1500]
    of = vdpsim.Machine.of(scene, 3)
    assert (of.state.frame, of.state.line, of.registers["backdrop"], int(of.palette[9])) == (3, 0, 3, 0xFFF)
    with refused(ValueError, r"moves bytes from frame 1 on; what has landed by frame 2 .* Machine.of\(scene, 2\)"):
        scene.state(2)
    assert not scene.state(1).memory[0x1000:].any()
    with refused(ValueError, "frame must be 0 or more, got -1"):
        vdpsim.render(scene, -1)


def test_frames_in_any_order_are_those_of_a_machine_that_runs_through(tmp_path):
    """Nothing moves but by writes, so that a machine which starts with frame 0 and goes on draws what the scene draws."""
    text = f"""{LONG}
[[writes]]
line = 20
port = 0x1010
values = [18]
[[writes]]
lines = "21:24"
dot = 5
port = 0x1012
values = [17, 34, 51]
advance = 1
[[writes]]
frame = 3
line = 2
register = "near.scroll_x"
value = 6
"""
    scene = timed(tmp_path, text.replace("[[writes]]\nline = 0\n", '[[writes]]\nframes = "0:3"\nline = 0\n'))
    through = vdpsim.Machine(scene.chip, scene.state())
    wanted = [through.frame(scene.writes(frame)) for frame in range(6)]
    for frame in (5, 0, 3, 4, 3, 1, 2, 2):
        drawn = vdpsim.render(scene, frame)
        assert drawn.rgb.tolist() == wanted[frame].rgb.tolist()
        assert drawn.transfers.tolist() == wanted[frame].transfers.tolist()
    assert vdpsim.Machine.of(scene, 6).memory.tolist() == through.memory.tolist()
    assert vdpsim.Machine.of(scene, 6).palette.tolist() == through.palette.tolist()


def counted(monkeypatch):
    """Which frames the engine draws, in order."""
    drawn, real = [], machine_room.draw

    def draw(plan, state, *words, **options):
        drawn.append(state.frame)
        return real(plan, state, *words, **options)

    monkeypatch.setattr(machine_room, "draw", draw)
    monkeypatch.setattr(reached_room, "draw", draw)
    return drawn


def test_earlier_frames_are_drawn_only_where_bytes_move_and_only_once(tmp_path, monkeypatch):
    scene, drawn = timed(tmp_path, LONG), counted(monkeypatch)
    vdpsim.render(scene, 9)
    assert drawn == [1, 2, 3, 9], "no byte moves in frame 0 and from frame 4 on"
    vdpsim.render(scene, 9)
    vdpsim.render(scene, 10)
    assert drawn[4:] == [9, 10]
    list(vdpsim.frames(scene, range(4)))
    assert drawn[6:] == [0, 1, 2, 3]


def test_a_state_with_bytes_under_way_is_none_to_begin_a_later_frame_with(tmp_path):
    scene = timed(tmp_path, LONG)
    it = vdpsim.Machine.of(scene, 1)
    it.frame(scene.writes(1))
    assert it.state.waiting and it.state.frame == 2
    assert scene.state(2, it.state).frame == 2
    with refused(ValueError, "moves bytes from frame 2 on; what has landed by frame 3 follows from drawing"):
        scene.state(3, it.state)


def test_what_is_kept_goes_with_the_scene(tmp_path):
    before = len(reached_room._KEPT)
    scene = timed(tmp_path, LONG)
    vdpsim.render(scene, 3)
    assert len(reached_room._KEPT) == before + 1
    del scene
    gc.collect()
    assert len(reached_room._KEPT) == before


def test_a_scene_without_transfers_draws_no_earlier_frame(tmp_path, monkeypatch):
    scene, drawn = timed(tmp_path, OFF + EVERY), counted(monkeypatch)
    vdpsim.render(scene, 7)
    assert drawn == [7]


def test_motion_goes_on_where_the_cpu_moves_bytes(tmp_path):
    """A register and a sprite that move stand where they would without a transfer; the sprite's record is written whole."""
    text = """
[[patterns]]
name = "bird"
for = "sprites"
size = [8, 8]
rows = ["11111111", "11111111", "11111111", "11111111", "11111111", "11111111", "11111111", "11111111"]
[[sprites]]
name = "tern"
x = 3
y = 30
pattern = "bird"
[[motion]]
sprite = "tern"
field = "x"
from = 3
step = 2
to = 40
[[motion]]
register = "near.scroll_x"
from = 1
to = 60
"""
    plain, moved = timed(tmp_path, text), timed(tmp_path, text + LONG.replace(OFF, ""))
    for frame in (2, 4):
        state, other = vdpsim.Machine.of(moved, frame), vdpsim.Machine.of(plain, frame)
        assert state.registers["near.scroll_x"] == other.registers["near.scroll_x"] == 1 + frame
        assert state.state.sprites.tolist() == other.state.sprites.tolist()
        assert state.sprites[0].x == 3 + 2 * frame


def test_a_frame_that_does_not_fit_refuses_itself_but_no_later_one(tmp_path):
    """Frame 1 switches the near layer on from line 1 on: its cells ask for blank slots, and refresh has all 128."""
    text = LONG + '[[writes]]\nframe = 1\nline = 1\nregister = "near.enable"\nvalue = 1\n'
    text += '[[writes]]\nframe = 1\nline = 79\nregister = "near.enable"\nvalue = 0\n'
    scene = timed(tmp_path, text)
    with refused(vdpsim.NotInTimeError, "Reedling does not fit: on line 1 near.cells finds no slot in time"):
        vdpsim.render(scene, 1)
    assert vdpsim.render(scene, 2).transfers["bytes"].tolist() == [640]
    damaged = vdpsim.render(scene, 1, damage=True)
    assert damaged.missed.sum() > 0
    assert damaged.missed[0].sum() == 0
    assert not damaged.planes
    planes = vdpsim.render(scene, 1, damage=True, planes=True).planes
    assert not planes["near"].opaque[1:].any()


def test_a_refused_frame_leaves_the_machine_as_it_was():
    """Refresh takes all blank slots, where every layer asks: already the first cell finds none."""
    chip = vdpsim.parse_chip(TIMED)
    it = vdpsim.Machine(chip)
    it.memory[:] = np.arange(len(it.memory)) % 251
    before = it.state.copy()
    with refused(vdpsim.NotInTimeError, r"draw it with damage \(--damage\) to see"):
        it.lines(3, [RegisterWrite(1, "backdrop", 5), PaletteWrite(0, 0, (1,)), Transfer(0, 0, b"1")])
    assert (it.state.line, it.state.controls.tolist()) == (0, before.controls.tolist())
    assert (it.state.waiting, it.palette.tolist()) == ((), before.palette.tolist())
    assert it.lines(3, damage=True).missed.any()


def test_a_plain_write_in_a_frame_that_is_not_drawn_lies_over_what_the_cpu_moved(tmp_path):
    """Four bytes of the CPU's in frame 0, all landed in it; frame 1 is passed over and puts a 9 on the second, frame 2 a 10 on
    the third; in frame 3 the CPU moves a byte more, so that frame 4 begins with all of it.
    """
    text = "".join(
        f"[[writes]]\nframe = {frame}\nline = 0\nmemory = {0x1F00 + at}\nbytes = {list(data)}\n{more}"
        for frame, at, data, more in (
            (0, 0, b"\1\2\3\4", 'by = "cpu"\n'), (1, 1, b"\x09", ""), (2, 2, b"\x0a", ""), (3, 4, b"\5", 'by = "cpu"\n'),
        )
    )  # fmt: skip
    scene = timed(tmp_path, OFF + text)
    for frame, wanted in ((4, [1, 9, 10, 4, 5]), (2, [1, 9, 3, 4, 0]), (3, [1, 9, 10, 4, 0]), (1, [1, 2, 3, 4, 0])):
        state = machine_room.Machine.of(scene, frame).state
        assert state.memory[0x1F00:0x1F05].tolist() == wanted
        assert (state.frame, state.line) == (frame, 0)
