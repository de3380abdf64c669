"""The line's time as a file and as a picture: does it show the trace, and tell its clients apart for every reader?"""

from __future__ import annotations

import io
import time
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
from colour_vision import contrast
from PIL import Image, ImageDraw, ImageFont
from refusal import refused

import vdpsim
from vdpsim.engine import SlotLog
from vdpsim.engine.frame import TRACE
from vdpsim.images.paper import DIM, INK, PAPER
from vdpsim.output.bus_place import GAP, LATE, LEFT, RIGHT, TOP
from vdpsim.output.roles import IDLE, ROLES

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
    "near.cells": ("cells", 0), "near.pattern": ("patterns", 0), "near.glyphs": ("patterns", 1),
    "far.cells": ("cells", 1), "far.pattern": ("patterns", 2), "far.glyphs": ("patterns", 3), "far.bitmap": ("bitmap", 0),
    "sprites.pattern": ("sprites", 0), "refresh": ("refresh", 0), "cpu": ("CPU", 0),
}  # fmt: skip
"""The role of each client, and how high its dark rows are."""


def colour_of(name, row=0):
    """A client's colour on a row of slots."""
    role, height = SLIPWAY.get(name, ("idle", 0))
    colour = {**ROLES, "idle": IDLE}[role]
    return [part // 2 for part in colour] if height and row // height % 2 else list(colour)


def dots_of(picture):
    """The slots of the picture of 312 lines of 384 slots, 96 blank and 216 lines in the picture, without the gaps."""
    shown = np.asarray(picture)[TOP : TOP + 312 + GAP, LEFT : LEFT + 384 + GAP]
    return np.delete(np.delete(shown, range(216, 216 + GAP), axis=0), range(96, 96 + GAP), axis=1)


def test_each_slot_has_its_clients_colour(frame):
    wanted = [[list(IDLE)] * 384 for _ in range(312)]
    for line, slot, client, *_ in frame.trace.tolist():
        wanted[line][slot] = colour_of(frame.slots.clients[client], line)
    assert dots_of(vdpsim.bus_map(frame)).tolist() == wanted


def test_known_slots_of_the_slipway(frame):
    """Refresh has the first four slots of each line. The CPU's first byte lands in slot 103 of line 60, the next in 127; a line
    earlier and a slot beside it have nobody's. The winchman's accesses have slots 4 to 7 of lines 117 to 148 (all worked out
    in test_slipway_on_paper.py).
    """
    shown = vdpsim.bus_map(frame)
    cpu, refresh, sprite = (ROLES[name] for name in ("CPU", "refresh", "sprites"))

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
    dots, letter = np.asarray(picture), (scale + 1) // 2
    left, top = LEFT * letter, TOP * letter
    across = np.flatnonzero((dots[top - 6 * letter, left : left + 384 * scale + GAP] == INK).all(axis=1))
    down = np.flatnonzero((dots[top : top + 312 * scale + GAP, left - 6 * letter] == INK).all(axis=1))
    slots, lines = (
        np.where(found >= first * scale, found - GAP, found) // scale for found, first in ((across, 96), (down, 216))
    )
    return slots.tolist(), lines.tolist()


@pytest.mark.parametrize(("scale", "slots", "lines"), [(1, 50, 50), (2, 20, 20), (3, 50, 20), (16, 20, 20)])
def test_ticks_are_as_near_as_their_numbers_allow(frame, scale, slots, lines):
    """Of 1, 2, 5, 10, 20, 50 the first that is 40 dots or more for slots, 24 or more for lines, times the size of a letter's dot.

    At scale 1 50 and 50 (20 is 20 dots); 20 and 20 at 2 (10 is 20 dots); 50 and 20 at 3 (letters are twice as large: 20 is 60
    dots of 80, 10 is 30 of 48); 20 and 20 at 16 (letters are 8 times as large: 20 is 320 dots of 320, 10 is 160 of 192).
    """
    assert ticks(vdpsim.bus_map(frame, scale), scale) == ([*range(0, 384, slots)], [*range(0, 312, lines)])


def test_lines_are_numbered_from_where_the_frame_was_cut():
    """Lines 40 to 59 at scale 2: ticks each 20 lines. The trace tells lines of the frame, so 40 is the first row."""
    cut = tiny(1, [(40, 0, 0, 0, 0)], lines=18, first=40)
    dots = np.asarray(vdpsim.bus_map(cut, 2))
    down = np.flatnonzero((dots[TOP : TOP + 40 + GAP, LEFT - 6] == INK).all(axis=1))
    assert down.tolist() == [1], "the tick of line 40; that of line 60 would be the row after the last"
    assert dots[TOP, LEFT].tolist() == list(ROLES["cells"])
    cut = tiny(1, [(41, 0, 0, 0, 0)], lines=19, first=41)
    dots = np.asarray(vdpsim.bus_map(cut, 2))
    down = np.flatnonzero((dots[TOP : TOP + 42 + GAP, LEFT - 6] == INK).all(axis=1))
    assert down.tolist() == [GAP + 2 * 19 + 1], "line 60 is row 19, the first below the picture"


def says(picture, left, top, letter, text):
    """Whether just that stands there, as Pillow draws it, with paper or nothing for a letter behind it."""
    mask = Image.new("1", (6 * (len(text) + 1), 11))
    ImageDraw.Draw(mask).text((0, 0), text, fill=1, font=ImageFont.load_default_imagefont())
    wanted = np.asarray(mask).repeat(letter, axis=0).repeat(letter, axis=1)
    dots = np.asarray(picture)[top : top + 11 * letter, left : left + wanted.shape[1]]
    return np.array_equal((dots != PAPER).any(axis=2), wanted[:, : dots.shape[1]])


@pytest.mark.parametrize("scale", [1, 3])
def test_the_picture_says_what_it_shows(frame, scale):
    """Axes, the active part and the shares, read off its dots; the largest share is the first, idle slots are the last."""
    shown, letter = vdpsim.bus_map(frame, scale), (scale + 1) // 2
    active, right = LEFT * letter + 96 * scale + GAP, LEFT * letter + 384 * scale + GAP
    assert says(shown, 6 * letter, 4 * letter, letter, "frame 0")
    assert says(shown, LEFT * letter, 3 * letter, letter, "blanking")
    assert says(shown, active, 3 * letter, letter, "active: dots 0 to 287")
    assert not says(shown, active, 3 * letter, letter, "active: dots 0 to 288"), "the test can fail"
    assert says(shown, right + 20 * letter, TOP * letter, letter, "active")
    assert says(shown, right + 20 * letter, (TOP + 14) * letter, letter, "216 lines")
    assert says(shown, right + 20 * letter, TOP * letter + 216 * scale + GAP, letter, "below")
    counts = sorted(frame.slots.by_client.items(), key=lambda one: -one[1])
    counts.append(("idle", int(frame.slots.idle.sum())))
    texts = [f"{name} {100 * count / (312 * 384):.1f} %" for name, count in counts]
    field, top = (28 + 6 * max(map(len, texts))) * letter, TOP * letter + 312 * scale + GAP + 30 * letter
    rows = -(-len(texts) // ((shown.width - 6 * letter) // field))
    for number, text in enumerate(texts):
        column, row = divmod(number, rows)
        x, y = 6 * letter + column * field, top + 14 * letter * row
        assert says(shown, x + 19 * letter, y - letter, letter, text), text
        assert shown.getpixel((x + letter, y + letter)) == tuple(colour_of(text.split()[0])), text
    notes = [
        "shares of 312 lines x 384 slots of frame 0",
        "in the box: dots 0 to 287 of lines 0 to 215, slots 96 to 383",
    ]
    for number, text in enumerate(notes):
        assert says(shown, 6 * letter, top + (14 * (rows + number) + 1) * letter, letter, text)
    assert shown.height == top + (14 * (rows + 2) + 6) * letter
    assert shown.width == right + RIGHT * letter


def test_the_bar_has_each_share_in_the_order_of_the_legend(frame):
    """As long as a line with its gap, 389 dots, in its uppermost row of dots, where no stripe is dark."""
    shown = np.asarray(vdpsim.bus_map(frame))
    bar = shown[TOP + 312 + GAP + 12, LEFT : LEFT + 389].tolist()
    shares = {**frame.slots.by_client, "idle": int(frame.slots.idle.sum())}
    names = sorted(frame.slots.by_client, key=lambda name: -shares[name])
    runs = [(colour, len(list(run))) for colour, run in groupby(bar)]
    wanted = [
        (colour, sum(shares[name] for name in run))
        for colour, run in ((colour, list(run)) for colour, run in groupby([*names, "idle"], colour_of))
        if sum(shares[name] for name in run) * 389 > 312 * 384
    ]
    assert [colour for colour, _ in runs] == [colour for colour, _ in wanted]
    for (_, length), (_, share) in zip(runs, wanted, strict=True):
        assert abs(length - 389 * share / (312 * 384)) <= 2


def test_the_same_frame_gives_the_same_picture(frame):
    assert vdpsim.png_bytes(vdpsim.bus_map(frame, 2)) == vdpsim.png_bytes(vdpsim.bus_map(frame, 2))


def test_a_small_line_still_has_room_for_its_legend():
    """Ten slots are 10 dots; the longest of what stands below decides."""
    shown = vdpsim.bus_map(tiny(4, [(0, 0, 0, 0, 0)]))
    assert shown.width == 12 + 6 * len("in the box: dots 0 to 63 of lines 0 to 0, slots 6 to 9")
    late = vdpsim.bus_map(tiny(1, [(0, 0, 0, 0, 0)], missed=5))
    assert late.width == 12 + 6 * len("5 accesses missed, on 1 lines (marked in red at the right)")


def test_names_of_any_length_and_script_are_shown_as_far_as_the_font_goes():
    """One column where the names are longer than the picture is wide; what the font lacks is a question mark."""
    frame = tiny(2, [(0, 0, 0, 0, 0)], names=("é" * 200 + ".cells", "\N{CYRILLIC SMALL LETTER ZHE}.bitmap"))
    assert vdpsim.bus_map(frame).width == 6 + 28 + 6 * len("é" * 200 + ".cells 3.3 %")


@pytest.mark.parametrize("blank", [0, 10])
def test_a_frame_may_have_no_active_slots_or_no_blank_ones(blank):
    shown = np.asarray(vdpsim.bus_map(tiny(1, [(0, 4, 0, 0, 0)], blank=blank)))
    assert shown[TOP, LEFT + 4 + (0 if blank else GAP)].tolist() == list(ROLES["cells"])
    edges = (shown[TOP, LEFT - 3 : LEFT + 10 + GAP + 3] == INK).all(axis=1).sum()
    assert edges == (0 if blank else 2), "there is no edge where nothing is to be within it"


WORK = ("cells", "pattern", "glyphs", "bitmap")


def tiny(clients, records, lines=1, missed=0, first=0, blank=6, names=None):
    """A frame of 64 x ``lines`` dots and two lines below, of ten slots each; the first so many clients of eight layers."""
    names = names or tuple(f"{layer}.{work}" for layer in "abcdefgh" for work in WORK)[:clients]
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


def test_clients_of_one_role_have_dark_rows():
    """Clients 0, 4, 8 and 12 are the cells of four layers: no dark rows, every second row, every second pair, three of six."""
    records = [(line, slot, 4 * slot, 0, 0) for line in range(6) for slot in range(4)]
    shown = np.asarray(vdpsim.bus_map(tiny(13, records, lines=6)))[TOP : TOP + 6, LEFT : LEFT + 4]
    light, dark = list(ROLES["cells"]), [part // 2 for part in ROLES["cells"]]
    assert shown[:, 0].tolist() == [light] * 6
    assert shown[:, 1].tolist() == [light, dark] * 3
    assert shown[:, 2].tolist() == [light, light, dark, dark, light, light]
    assert shown[:, 3].tolist() == [light] * 3 + [dark] * 3


def test_lines_with_missed_accesses_are_marked():
    """The last of three lines: 5 dots right of the slots, 6 wide, and a row of the legend."""
    plain, marked = (np.asarray(vdpsim.bus_map(tiny(4, [(0, 0, 0, 0, 0)], lines=3, missed=n))) for n in (0, 5))
    assert (marked[-20:] == LATE).all(axis=2).any(), "the legend says how many"
    beside = LEFT + 10 + GAP + 5
    assert (marked[TOP + 2, beside : beside + 6] == LATE).all()
    assert not (marked[[TOP, TOP + 1, TOP + 3 + GAP], beside : beside + 6] == LATE).all(axis=2).any()
    assert not (plain == LATE).all(axis=2).any()


@pytest.mark.parametrize("show", [vdpsim.bus_map, vdpsim.trace_npz])
def test_without_a_trace_nothing_can_be_shown(show):
    frame = vdpsim.render(vdpsim.load_scene(SCENES / "slipway.scene.toml"))
    with refused(ValueError, "drawn without its trace: draw it with trace=True"):
        show(frame)


def test_text_stands_out_from_its_ground():
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text."""
    assert min(contrast(colour, PAPER) for colour in (INK, DIM, LATE)) >= 4.5
    assert contrast((150, 144, 132), PAPER) < 4.5, "the test can fail"
