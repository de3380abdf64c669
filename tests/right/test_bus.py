"""The line's time as a file and as a picture: does it show the trace, and tell its clients apart for every reader?"""

from __future__ import annotations

import io
import time
from pathlib import Path

import numpy as np
import pytest
from colour_vision import closest
from refusal import refused

import vdpsim
from vdpsim.engine import SlotLog
from vdpsim.engine.frame import TRACE
from vdpsim.output.bus import GAP, INK, LATE, LEFT, PAPER, RIGHT, TOP
from vdpsim.output.bus_colours import COOL, IDLE, OTHERS, WARM, client_colours

SCENES = Path(__file__).resolve().parents[2] / "scenes"


@pytest.fixture(scope="module")
def frame():
    return vdpsim.render(vdpsim.load_scene(SCENES / "slipway.scene.toml"), trace=True)


def test_the_file_holds_every_slot_that_was_used(frame):
    with np.load(io.BytesIO(vdpsim.trace_npz(frame))) as found:
        assert sorted(found) == ["address", "client", "clients", "frame", "line", "per_line", "slot", "value"]
        for name in TRACE.names:
            assert found[name].dtype == TRACE[name]
            assert found[name].tolist() == frame.trace[name].tolist()
        assert (found["clients"].tolist(), int(found["per_line"]), int(found["frame"])) == (
            [*frame.log.clients, "refresh", "cpu"], 384, 0,
        )  # fmt: skip
        counts = np.zeros((312, len(found["clients"])), int)
        np.add.at(counts, (found["line"], found["client"]), 1)
        assert counts.tolist() == frame.slots.counts.tolist(), "the log is what happened"


def test_the_same_frame_gives_the_same_bytes_at_any_time(frame, monkeypatch):
    first = vdpsim.trace_npz(frame)
    clock = time.localtime(86_400 * 365 * 40)
    monkeypatch.setattr(time, "localtime", lambda *_: clock)
    monkeypatch.setattr(time, "time", lambda: 86_400.0 * 365 * 40)
    assert vdpsim.trace_npz(frame) == first


SLIPWAY = {
    "near.cells": COOL["cells"], "near.pattern": COOL["pattern"], "near.glyphs": COOL["glyphs"],
    "far.cells": WARM["cells"], "far.pattern": WARM["pattern"], "far.glyphs": WARM["glyphs"], "far.bitmap": WARM["bitmap"],
    "sprites.pattern": OTHERS["sprites.pattern"], "refresh": OTHERS["refresh"], "cpu": OTHERS["cpu"],
}  # fmt: skip


def test_a_colour_says_what_a_client_is_for(frame):
    assert client_colours(frame.slots.clients) == [SLIPWAY[name] for name in frame.slots.clients]


def test_plain_colours_of_later_layers_are_darker():
    """Of 0, 170, 170 three quarters are 127, a half 85, a quarter 42 (rounded down)."""
    names = [f"{layer}.cells" for layer in "abcdefgh"]
    cool = [colour[1] for colour in client_colours(names)[::2]]
    assert cool == [170, 127, 85, 42]
    assert client_colours(["refresh", *names])[0] == OTHERS["refresh"]


def dots_of(picture):
    """The slots of the picture of 312 lines of 384 slots, 96 blank and 216 lines in the picture, without the gaps."""
    shown = np.asarray(picture)[TOP : TOP + 312 + GAP, LEFT : LEFT + 384 + GAP]
    return np.delete(np.delete(shown, range(216, 216 + GAP), axis=0), range(96, 96 + GAP), axis=1)


def test_each_slot_has_its_clients_colour(frame):
    clients = np.full((312, 384), -1)
    clients[frame.trace["line"], frame.trace["slot"]] = frame.trace["client"]
    wanted = np.array([*SLIPWAY.values(), IDLE], np.uint8)[clients]
    assert dots_of(vdpsim.bus_map(frame)).tolist() == wanted.tolist()


def test_known_slots_of_the_slipway(frame):
    """Refresh has the first four slots of each line. The CPU's first byte lands in slot 103 of line 60, the next in 127; a line
    earlier and a slot beside it have nobody's. The winchman's accesses have slots 4 to 7 of lines 117 to 148 (all worked out
    in test_slipway_on_paper.py).
    """
    shown = vdpsim.bus_map(frame)
    cpu, refresh, sprite = (OTHERS[name] for name in ("cpu", "refresh", "sprites.pattern"))

    def at(line, slot):
        return shown.getpixel((LEFT + slot + (GAP if slot >= 96 else 0), TOP + line + (GAP if line >= 216 else 0)))

    assert [at(line, 3) for line in (0, 215, 216, 311)] == [refresh] * 4
    assert [at(line, 4) for line in (116, 117, 148, 149)] == [IDLE, sprite, sprite, IDLE]
    assert [at(60, 103), at(60, 127), at(59, 103), at(216, 103)] == [cpu, cpu, IDLE, IDLE]
    assert at(60, 111) == IDLE


def test_the_picture_has_an_edge_around_its_active_slots(frame):
    """Two dots of paper and then the edge, from slot 96 to the last and from line 0 to 215; nothing around the rest."""
    dots = np.asarray(vdpsim.bus_map(frame))
    left, right, top, bottom = LEFT + 96 + GAP - 3, LEFT + 384 + GAP + 2, TOP - 3, TOP + 216 + 2
    assert (dots[top, left : right + 1] == INK).all() and (dots[bottom, left : right + 1] == INK).all()
    assert (dots[top : bottom + 1, left] == INK).all() and (dots[top : bottom + 1, right] == INK).all()
    inside = dots[top + 1 : bottom, left + 1 : right]
    assert (inside[:2] == PAPER).all() and (inside[-2:] == PAPER).all()
    assert (inside[:, :2] == PAPER).all() and (inside[:, -2:] == PAPER).all()
    assert (dots[bottom, LEFT:left] == PAPER).all() and (dots[bottom + 3 :, left][:80] == PAPER).all()


def ticks(picture, scale):
    """The slots and the lines beside whose middle a tick stands."""
    dots = np.asarray(picture)
    across = np.flatnonzero((dots[TOP - 6, LEFT : LEFT + 384 * scale + GAP] == INK).all(axis=1))
    down = np.flatnonzero((dots[TOP : TOP + 312 * scale + GAP, LEFT - 6] == INK).all(axis=1))
    slots, lines = (
        np.where(found >= first * scale, found - GAP, found) // scale for found, first in ((across, 96), (down, 216))
    )
    return slots.tolist(), lines.tolist()


@pytest.mark.parametrize(("scale", "slots", "lines"), [(1, 50, 50), (2, 20, 20), (3, 20, 10), (16, 5, 2)])
def test_ticks_are_as_near_as_their_numbers_allow(frame, scale, slots, lines):
    """Of 1, 2, 5, 10, 20, 50 the first that is 40 dots or more for slots, 24 or more for lines.

    At scale 1 50 and 50 (20 is 20 dots); 20 and 20 at 2 (10 is 20 dots); 20 and 10 at 3 (10 is 30 dots); 5 and 2 at 16 (2 is
    32 dots).
    """
    assert ticks(vdpsim.bus_map(frame, scale), scale) == ([*range(0, 384, slots)], [*range(0, 312, lines)])


def test_lines_are_numbered_from_where_the_frame_was_cut():
    """Lines 40 to 59 at scale 2: ticks each 20 lines. The trace tells lines of the frame, so 40 is the first row."""
    cut = tiny(1, [(40, 0, 0, 0, 0)], lines=18, first=40)
    dots = np.asarray(vdpsim.bus_map(cut, 2))
    down = np.flatnonzero((dots[TOP : TOP + 40 + GAP, LEFT - 6] == INK).all(axis=1))
    assert down.tolist() == [1], "the tick of line 40; that of line 60 would be the row after the last"
    assert dots[TOP, LEFT].tolist() == list(COOL["cells"])
    cut = tiny(1, [(41, 0, 0, 0, 0)], lines=19, first=41)
    dots = np.asarray(vdpsim.bus_map(cut, 2))
    down = np.flatnonzero((dots[TOP : TOP + 42 + GAP, LEFT - 6] == INK).all(axis=1))
    assert down.tolist() == [GAP + 2 * 19 + 1], "line 60 is row 19, the first below the picture"


def test_the_legend_has_a_row_for_each_layer_for_sprites_and_for_the_rest(frame):
    """Four rows, 14 dots from each to the next, below a bar of the shares as long as a line with its gap: 389 dots."""
    one, three = vdpsim.bus_map(frame), vdpsim.bus_map(frame, 3)
    below = TOP + 312 + GAP
    assert one.height - below == 12 + 18 + 14 * 4 + 6
    assert three.height - one.height == 2 * 312 and three.width == LEFT + 3 * 384 + GAP + RIGHT
    assert one.width == LEFT + 384 + GAP + RIGHT
    rows = [["near.cells", "near.pattern", "near.glyphs"], ["far.cells", "far.pattern", "far.glyphs", "far.bitmap"]]
    rows += [["sprites.pattern"], ["refresh", "cpu", "idle"]]
    field = 28 + 6 * len("pattern 11.5 %")
    colours = {**SLIPWAY, "idle": IDLE}
    for number, row in enumerate(rows):
        y = below + 12 + 18 + 14 * number + 4
        assert [one.getpixel((LEFT + field * at + 6, y)) for at in range(len(row))] == [colours[name] for name in row]
    bar = np.asarray(one)[below + 12 + 5, LEFT : LEFT + 389]
    lengths = {name: int((bar == colour).all(axis=1).sum()) for name, colour in colours.items()}
    shares = {**frame.slots.by_client, "idle": int(frame.slots.idle.sum())}
    assert sum(lengths.values()) == 389
    assert all(abs(length - 389 * shares[name] / (312 * 384)) <= 1 for name, length in lengths.items())


def test_the_same_frame_gives_the_same_picture(frame):
    assert vdpsim.png_bytes(vdpsim.bus_map(frame, 2)) == vdpsim.png_bytes(vdpsim.bus_map(frame, 2))


def test_a_small_line_still_has_room_for_its_legend():
    """Ten slots are 10 dots; the fields of the longest row, and the text of what was missed, are what decides."""
    shown = vdpsim.bus_map(tiny(4, [(0, 0, 0, 0, 0)]))
    assert shown.width == LEFT + 4 * (28 + 6 * len("pattern 0.0 %"))
    late = vdpsim.bus_map(tiny(1, [(0, 0, 0, 0, 0)], missed=5))
    assert late.width == 12 + 6 * len("5 accesses missed, on 1 lines (marked in red at the right)")


@pytest.mark.parametrize("blank", [0, 10])
def test_a_frame_may_have_no_active_slots_or_no_blank_ones(blank):
    shown = np.asarray(vdpsim.bus_map(tiny(1, [(0, 4, 0, 0, 0)], blank=blank)))
    assert shown[TOP, LEFT + 4 + (0 if blank else GAP)].tolist() == list(COOL["cells"])
    edges = (shown[TOP, LEFT - 3 : LEFT + 10 + GAP + 3] == INK).all(axis=1).sum()
    assert edges == (0 if blank else 2), "there is no edge where nothing is to be within it"


def tiny(clients, records, lines=1, missed=0, first=0, blank=6):
    """A frame of 64 x ``lines`` dots and two lines below, of ten slots each; the first so many clients of eight layers."""
    names = tuple(f"{layer}.{work}" for layer in "abcdefgh" for work in COOL)[:clients]
    trace = np.array(records, TRACE)
    counts = np.zeros((lines + 2, clients), np.int64)
    np.add.at(counts, (trace["line"] - first, trace["client"]), 1)
    dots, none = np.zeros((lines, 64), np.uint8), np.zeros(lines, np.int64)
    late = np.zeros((lines, clients), np.int64)
    late[-1, 0] = missed
    return vdpsim.Frame(
        frame=0, first=first, indices=dots, rgb=np.zeros((lines, 64, 3), np.uint8), source=dots, rung=dots,
        sprite=dots.astype(np.int16), log=vdpsim.Log(names, late, none, none), drops=np.empty(0), collisions=np.empty(0),
        collision_flags=0, border_rgb=np.zeros((lines, 3), np.uint8), sources=(), rungs=(), missed=late, trace=trace,
        slots=SlotLog(names, counts, 10, first), blank=blank,
    )  # fmt: skip


def test_layers_beyond_the_second_have_the_colours_again_with_dark_rows():
    """Clients 0, 8, 16 and 24 are the cells of the first, third, fifth and seventh layer: no dark rows, every second row, every
    second pair, three of six.
    """
    records = [(line, slot, 8 * slot, 0, 0) for line in range(6) for slot in range(4)]
    shown = np.asarray(vdpsim.bus_map(tiny(25, records, lines=6)))[TOP : TOP + 6, LEFT : LEFT + 4]
    light, dark = list(COOL["cells"]), [part // 2 for part in COOL["cells"]]
    assert shown[:, 0].tolist() == [light] * 6
    assert shown[:, 1].tolist() == [light, dark] * 3
    assert shown[:, 2].tolist() == [light, light, dark, dark, light, light]
    assert shown[:, 3].tolist() == [light] * 3 + [dark] * 3


def test_lines_with_missed_accesses_are_marked():
    """The last of three lines: 5 dots right of the slots, 6 wide, and a row more in the legend."""
    plain, marked = (np.asarray(vdpsim.bus_map(tiny(4, [(0, 0, 0, 0, 0)], lines=3, missed=n))) for n in (0, 5))
    assert marked.shape[0] == plain.shape[0] + 14, "the legend says how many"
    beside = LEFT + 10 + GAP + 5
    assert (marked[TOP + 2, beside : beside + 6] == LATE).all()
    assert not (marked[[TOP, TOP + 1, TOP + 3 + GAP], beside : beside + 6] == LATE).all(axis=2).any()
    assert not (plain == LATE).all(axis=2).any()


@pytest.mark.parametrize("show", [vdpsim.bus_map, vdpsim.trace_npz])
def test_without_a_trace_nothing_can_be_shown(show):
    frame = vdpsim.render(vdpsim.load_scene(SCENES / "slipway.scene.toml"))
    with refused(ValueError, "drawn without its trace: draw it with trace=True"):
        show(frame)


def test_every_reader_can_tell_the_clients_apart():
    """A distance of about 2.3 is just seen (common practice); ten times that is asked for, idle slots among them."""
    assert closest([*COOL.values(), *WARM.values(), *OTHERS.values(), IDLE]) > 25
    assert closest([(200, 60, 60), (110, 130, 60)]) < 25, "red and olive, which some readers confuse: the test can fail"
