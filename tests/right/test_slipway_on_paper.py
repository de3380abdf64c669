"""The slipway on paper: when each of the CPU's bytes lands, worked out from the slots, and where the picture is torn by it.

Curlew: a line has 384 slots, one a dot; 96 are blank, then 288 while the picture shows. There slots with number 7 modulo 8
are the CPU's; in blanking it has what refresh (the first four), sprites and the layers leave: of slots 80 to 95 those are 86,
87, 94 and 95. Its clock is the dot clock, a byte takes it 21 cycles, and the chip holds one: 21 dots after a byte's slot has
begun the next is at hand.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import vdpsim

SCENES = Path(__file__).resolve().parents[2] / "scenes"
BYTES = 32 * 24 * 2
PAGE = 0x8000


@pytest.fixture(scope="module")
def scene():
    return vdpsim.load_scene(SCENES / "slipway.scene.toml")


@pytest.fixture(scope="module")
def frames(scene):
    return list(vdpsim.frames(scene, range(3)))


def cells(number):
    return (SCENES / f"art/slipway-{number}.cells").read_bytes()


FIRST = [103 + 24 * k for k in range(12)]
"""Slots of line 60: from slot 96 on the next of the CPU's is 103; 21 dots later comes 124, and the next of its slots is 127."""

PATTERN = (
    [4, 25, 46, 67, 94, *(119 + 24 * k for k in range(12))],
    [20, 41, 62, 86, *(111 + 24 * k for k in range(12))],
    [12, 33, 54, 75, *(103 + 24 * k for k in range(12))],
)
"""Slots of lines 61, 62, 63 and, as the last of these is that of line 60, of each three that follow: 17, 16 and 16 bytes.

367 + 21 - 384 = 4. 67 + 21 = 88, where a tile's six accesses begin: 94. 94 + 21 = 115 -> 119. 383 + 21 - 384 = 20. 62 + 21 =
83 -> 86. 86 + 21 = 107 -> 111. 375 + 21 - 384 = 12. 75 + 21 = 96 -> 103, and its last is 367 again.
"""


def slots_of(line):
    """The CPU's slots of a line of the first transfer, were there no sprites."""
    return FIRST if line == 60 else PATTERN[(line - 61) % 3]


def test_the_first_transfer_begins_on_line_60_and_ends_on_line_154(frames):
    """12 bytes on line 60, then 49 on each three lines: 1536 - 12 = 31 x 49 + 5. So 93 lines, 61 to 153, and of line 154 the
    first five slots, the last of them 94.

    The sprites' accesses come before all: the winchman of 16 dots, 8 bytes, 4 accesses, has slots 4 to 7 of lines 117 to 148.
    There 8, 29, 50, 71 stand for 4, 25, 46, 67; 71 + 21 = 92 -> 94 as well. From slot 96 of line 60 to slot 94 of line 154
    there are 94 x 384 - 1 slots, of which 1536 brought a byte.
    """
    assert BYTES == 1536 == 12 + 31 * 49 + 5
    assert frames[0].transfers.tolist() == [(0, 60, 103, 154, 94, 1536, 94 * 384 - 1 - 1536, True)]
    landed = frames[0].slots.counts[:, -1].tolist()
    assert landed == [0] * 60 + [12] + [len(slots_of(line)) for line in range(61, 154)] + [5] + [0] * 157


def test_every_slot_of_the_first_transfer(scene):
    trace = vdpsim.render(scene, trace=True).trace
    cpu = trace[trace["client"] == len(vdpsim.render(scene).slots.clients) - 1]
    for line in range(60, 155):
        wanted = slots_of(line)[: 5 if line == 154 else None]
        if 117 <= line <= 148:
            wanted = [slot + 4 * (slot in {4, 25, 46, 67} and wanted[0] == 4) for slot in wanted]
        assert cpu["slot"][cpu["line"] == line].tolist() == wanted, line


def test_the_second_transfer_lies_in_blanking(frames):
    """Frame 1, line 216, dot 0: every slot is blank there, and slot 96 is free at once; 14 bytes to 369, 21 apart. 369 + 21 -
    384 = 6: 18 on line 217, to 363. 384 is slot 0 of the next line, where refresh has 0 to 3: slot 4, 19 bytes to 382. Then
    19, 13 and 7 begin lines of 18 bytes, and 1, which is refresh's, so 4 again: 73 on each four lines from 218 on.

    1536 - 14 - 18 = 20 x 73 + 19 + 18 + 7: line 218 + 80 + 2 = 300, which begins with 13: 13 + 6 x 21 = 139.
    """
    slots = 84 * 384 + 139 - 96 + 1
    assert frames[1].transfers.tolist() == [(1, 216, 96, 300, 139, 1536, slots - 1536, True)]
    assert frames[2].transfers.tolist() == []
    landed = frames[1].slots.counts[:, -1].tolist()
    assert landed == [0] * 216 + [14, 18] + [19, 18, 18, 18] * 20 + [19, 18, 7] + [0] * 11


def test_what_stands_in_memory_before_each_frame(scene):
    for frame, number in enumerate((0, 1, 2)):
        machine = vdpsim.Machine.of(scene, frame)
        assert machine.memory[PAGE : PAGE + BYTES].tobytes() == cells(number)
        assert machine.state.waiting == ()


def test_where_the_picture_is_torn(scene, frames):
    """Row r of the map, lines 8 r to 8 r + 7, has 64 bytes in this page, from byte 64 r on. Cell c of a row, two of them, is
    fetched in slot 83 + 8 x c.

    Row 13: byte 832 is 12 + 16 x 49 + 36: on line 61 + 48 + 2 = 111. Its last lands on line 115: too late for lines 104 to
    111.
    Row 14: byte 896 is 12 + 18 x 49 + 2, the third of line 115, of which 15 are the row's. Cell 0 is there at 67, before slot
    83, cell 1 at 119, after slot 91. By line 116 there are 15, then one at 20, 41, 62, 86, 111, ...: cell 10 at 159, before
    163; cell 11 at 207, after 171. By line 117 there are 31, then one at 12, 33, 54, 75, 103, ...: cell 19 at 199, before
    235; cell 20 at 247, after 243, though its first byte at 223: a cell that is half of each. By line 118 there are 47, and
    cell 24 is there at 50. So lines 112 to 115 are old, 118 and 119 new.
    Row 15: byte 960 is 12 + 19 x 49 + 17: the first of line 119. By line 120 there are 16: cell 10 is there at 127, before
    163, cell 11 at 151 and 175, half before 171. By line 121 there are 32, then one at 8, 29, 50, 71, 94, 119, ...: cell 20
    at 215, before 243; cell 21 at 239 and 263, half before 251. By line 122 there are 49, and cell 24 is there at 20: new
    from here on. Every row below has still more time.

    The two pictures differ in cells 5 to 24. So the boat stands at its old place to line 115 and from line 122 on at the
    new one, as on 118 and 119; lines 116, 117, 120 and 121 show both.
    """
    old, new = vdpsim.Machine(scene.chip, scene.state()), vdpsim.Machine(scene.chip, scene.state())
    new.memory[PAGE : PAGE + BYTES] = np.frombuffer(cells(1), np.uint8)
    before, after, torn = old.frame().indices, new.frame().indices, frames[0].indices
    differs = (before != after).any(axis=1)
    assert np.flatnonzero(differs[:192]).tolist() == list(range(24, 151)), "flag to wheels"
    as_before, as_after = (torn == before).all(axis=1), (torn == after).all(axis=1)
    assert as_before[:116].all()
    assert as_after[118:120].all() and as_after[122:192].all()
    assert np.unique(np.argwhere(before != after)[:, 1] // 8).tolist() == list(range(5, 25))
    mixed = np.flatnonzero(~as_before & ~as_after)
    assert mixed.tolist() == [116, 117, 120, 121]
    for line, new_to, old_from in ((116, 11, 11), (117, 20, 21), (120, 11, 12), (121, 21, 22)):
        assert (torn[line, : new_to * 8] == after[line, : new_to * 8]).all()
        assert (torn[line, old_from * 8 :] == before[line, old_from * 8 :]).all()
    assert np.array_equal(frames[1].indices[:192], after[:192]), "the frame after shows it whole"
