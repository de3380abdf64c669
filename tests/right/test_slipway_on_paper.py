"""The slipway on paper: when each of the CPU's bytes lands, worked out from the slots, and where the picture is torn by it.

Curlew: a line has 384 slots, one a dot; 96 are blank, then 288 while the picture shows. There slots with number 7 modulo 8 are
the CPU's; in blanking it has what refresh (the first four), sprites and the layers leave. Its clock is the dot clock, and a byte
takes it 21 cycles: byte i can land from the start + 21 x i dots on.
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


def test_the_first_transfer_begins_on_line_60_and_ends_on_line_144(frames):
    """It starts at dot 0 of line 60, slot 96: instant 60 x 384 + 96 = 23,136. Slot 96 is 0 modulo 8, so byte 0 waits for 103.

    The last, byte 1535, is ready 21 x 1535 = 32,235 dots later, at 55,371 = 144 x 384 + 75: line 144, slot 75. That is blank;
    refresh has 0 to 3, the layers ask from 80 on (16 dots before dot 0 is slot 96 - 16), and the sprites' accesses come first
    of all: a winchman of 16 dots, 8 bytes, is 4 accesses, slots 4 to 7. So slot 75 is free.

    From slot 96 of line 60 to slot 75 of line 144 there are 55,371 - 23,136 + 1 = 32,236 slots, of which 1536 brought a byte.
    """
    assert BYTES == 1536
    assert frames[0].transfers.tolist() == [(0, 60, 103, 144, 75, 1536, 32_236 - 1536, True)]


def test_the_second_transfer_lies_in_blanking(frames):
    """Frame 1, line 216, dot 0: every slot is blank there, and slot 96 is free at once. The last byte is ready at
    216 x 384 + 96 + 32,235 = 115,275 = 300 x 384 + 75: line 300, slot 75. 32,236 slots again.
    """
    assert frames[1].transfers.tolist() == [(1, 216, 96, 300, 75, 1536, 32_236 - 1536, True)]
    assert frames[2].transfers.tolist() == []


@pytest.mark.parametrize(("frame", "line"), [(0, 60), (1, 216)])
def test_bytes_of_each_line(frames, frame, line):
    """A byte lands on the line on which it is ready: in the active part a slot of the CPU's follows within 7, the line's last
    slot 383 among them; in blanking whoever stands before it has few slots. On the first line byte i is ready at slot 96 + 21 x
    i, so 0 to 13 land: 14. A line later 384 / 21 = 18.3 bytes, 18 or 19; on line 144 (300) those ready at slot 75 at the latest:
    75, 54, 33, 12: 4. Between lie 83 lines: 1536 - 14 - 4 = 1518 = 83 x 18 + 24.
    """
    landed = frames[frame].slots.counts[:, -1]
    ready = line * 384 + 96 + 21 * np.arange(BYTES)
    assert landed.tolist() == np.bincount(ready // 384, minlength=312).tolist()
    assert (int(landed[line]), int(landed[line + 84]), int(landed.sum())) == (14, 4, 1536)
    between = landed[line + 1 : line + 84].tolist()
    assert (between.count(18), between.count(19)) == (83 - 24, 24)


def test_what_stands_in_memory_before_each_frame(scene):
    for frame, number in enumerate((0, 1, 2)):
        machine = vdpsim.Machine.of(scene, frame)
        assert machine.memory[PAGE : PAGE + BYTES].tobytes() == cells(number)
        assert machine.state.waiting == ()


def test_where_the_picture_is_torn(scene, frames):
    """Row r of the map, lines 8 r to 8 r + 7, has 64 bytes in this page. Byte i is ready at 23,136 + 21 x i, so that cell c of
    the row, two bytes, is there from 23,157 + 1344 x r + 42 x c on, or a few slots later. On line y it is fetched between
    384 x y + 80 + 8 x c, 16 dots before it shows, and 384 x y + 96 + 8 x c.

    Row 11, lines 88 to 95: cell 0 is there at 37,941, on line 98: too late for all of them.
    Row 12: cell c at 39,285 + 42 x c. Line 102 fetches it by 39,264 + 8 x c: old. Line 103 fetches it from 39,632 + 8 x c
    to 39,648 + 8 x c: cells up to 10 are new (39,705 and 39,712), from 11 on old (39,747 and 39,736).
    Row 13: cell c at 40,629 + 42 x c. Line 105 fetches it by 40,416 + 8 x c: old, and line 104 too. Lines 106 and 107 fetch
    it from 40,784 + 8 x c and 41,168 + 8 x c on: cells up to 4 and 15 are new. Line 108, from 41,552 + 8 x c on: up to 27.
    Row 14: cell c at 41,973 + 42 x c, and line 112 fetches it from 43,088 + 8 x c on, later for all: new at once. Every row
    below has still more time.

    The two pictures differ in cells 5 to 24. So the boat stands at its old place to line 102 and from line 108 on at the
    new one; lines 103, 106 and 107 show both.
    """
    old, new = vdpsim.Machine(scene.chip, scene.state()), vdpsim.Machine(scene.chip, scene.state())
    new.memory[PAGE : PAGE + BYTES] = np.frombuffer(cells(1), np.uint8)
    before, after, torn = old.frame().indices, new.frame().indices, frames[0].indices
    differs = (before != after).any(axis=1)
    assert np.flatnonzero(differs[:192]).tolist() == list(range(24, 151)), "flag to wheels"
    as_before, as_after = (torn == before).all(axis=1), (torn == after).all(axis=1)
    assert as_before[:103].all() and as_before[104:106].all()
    assert as_after[108:192].all()
    assert np.unique(np.argwhere(before != after)[:, 1] // 8).tolist() == list(range(5, 25))
    mixed = np.flatnonzero(~as_before & ~as_after)
    assert mixed.tolist() == [103, 106, 107]
    assert (torn[103, : 11 * 8] == after[103, : 11 * 8]).all()
    assert (torn[103, 11 * 8 :] == before[103, 11 * 8 :]).all()
    assert np.array_equal(frames[1].indices[:192], after[:192]), "the frame after shows it whole"
