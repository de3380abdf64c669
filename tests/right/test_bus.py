"""The line's time as a file and as a picture: does it show the trace, and tell its clients apart for every reader?"""

from __future__ import annotations

import io
import time
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from refusal import refused

import vdpsim
from vdpsim.engine import SlotLog
from vdpsim.engine.frame import TRACE
from vdpsim.output.bus import CLIENT_COLOURS, EDGE, IDLE

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


def test_each_slot_has_its_clients_colour(frame):
    """312 lines and a row for the edge below the picture; 384 slots and a column for the edge before the active ones."""
    shown = np.asarray(vdpsim.bus_map(frame))
    clients = np.full((312, 384), -1)
    clients[frame.trace["line"], frame.trace["slot"]] = frame.trace["client"]
    wanted = np.array([*CLIENT_COLOURS, IDLE], np.uint8)[np.where(clients < 0, len(CLIENT_COLOURS), clients)]
    assert shown[:216, :96].tolist() == wanted[:216, :96].tolist()
    assert shown[:216, 97:385].tolist() == wanted[:216, 96:].tolist()
    assert shown[217:313, 97:385].tolist() == wanted[216:, 96:].tolist()
    assert (shown[:216, 96] == EDGE).all() and (shown[216, 96:385] == EDGE).all()
    assert (shown[216, :96] == IDLE).all() and (shown[217:313, 96] == IDLE).all()


def test_the_legend_has_a_row_for_each_client_and_one_for_nobody(frame):
    one, three = vdpsim.bus_map(frame), vdpsim.bus_map(frame, 3)
    legend = one.height - 313
    assert legend == 14 * (1 + 10 + 1) + 4
    assert (three.width, three.height) == (3 * 385, 3 * 313 + legend)
    assert np.asarray(three)[: 3 * 313 : 3, : 3 * 385 : 3].tolist() == np.asarray(one)[:313, :385].tolist()
    swatches = [one.getpixel((8, 313 + 3 + 14 * row + 4)) for row in range(1, 12)]
    assert swatches == [*CLIENT_COLOURS[:10], IDLE]


def test_a_small_line_still_has_room_for_its_legend():
    assert vdpsim.bus_map(tiny(1, [(0, 0, 0, 0, 0)])).width > 300


def tiny(clients, records, lines=1, missed=0):
    """A frame of 64 x ``lines`` dots whose lines have ten slots, six of them blank, on a chip with so many clients."""
    names = tuple(f"c{number}" for number in range(clients))
    trace = np.array(records, TRACE)
    counts = np.zeros((lines + 2, clients), np.int64)
    np.add.at(counts, (trace["line"], trace["client"]), 1)
    dots, none = np.zeros((lines, 64), np.uint8), np.zeros(lines, np.int64)
    late = np.zeros((lines, clients), np.int64)
    late[-1, 0] = missed
    return vdpsim.Frame(
        frame=0, first=0, indices=dots, rgb=np.zeros((lines, 64, 3), np.uint8), source=dots, rung=dots,
        sprite=dots.astype(np.int16), log=vdpsim.Log(names, late, none, none), drops=np.empty(0), collisions=np.empty(0),
        collision_flags=0, border_rgb=np.zeros((lines, 3), np.uint8), sources=(), rungs=(), missed=late, trace=trace,
        slots=SlotLog(names, counts, 10), blank=6,
    )  # fmt: skip


def test_clients_beyond_the_colours_have_them_again_with_dark_lines():
    """Number 12 is the first colour with every second line darker, number 24 with every second pair of lines."""
    records = [(line, slot, client, 0, 0) for line in range(6) for slot, client in ((0, 0), (1, 12), (2, 24))]
    shown = np.asarray(vdpsim.bus_map(tiny(25, records, lines=4)))
    light, dark = list(CLIENT_COLOURS[0]), [part // 2 for part in CLIENT_COLOURS[0]]
    rows = [0, 1, 2, 3, 5, 6]
    assert shown[rows, 0].tolist() == [light] * 6
    assert shown[rows, 1].tolist() == [light, dark, light, dark, light, dark]
    assert shown[rows, 2].tolist() == [light, light, dark, dark, light, light]


def test_lines_with_missed_accesses_are_marked():
    plain, marked = (np.asarray(vdpsim.bus_map(tiny(2, [(0, 0, 0, 0, 0)], lines=3, missed=n))) for n in (0, 5))
    assert marked.shape[0] == plain.shape[0] + 14, "the legend says how many"
    assert (marked[2, 13:17] == EDGE).all()
    assert (marked[[0, 1, 3, 4], 11:17] == IDLE).all()


@pytest.mark.parametrize("show", [vdpsim.bus_map, vdpsim.trace_npz])
def test_without_a_trace_nothing_can_be_shown(show):
    frame = vdpsim.render(vdpsim.load_scene(SCENES / "slipway.scene.toml"))
    with refused(ValueError, "drawn without its trace: draw it with trace=True"):
        show(frame)


SEEN_BY = {
    "normal": np.eye(3),
    "no long cones": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "no middle cones": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "no short cones": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
"""How linear RGB looks to people who lack a kind of cone. Machado, Oliveira, Fernandes (2009), IEEE Transactions on Visualization
and Computer Graphics 15 (6), severity 1.0; numbers from memory."""


def lab(colours, seen):
    """CIE L*a*b* of 8-bit sRGB colours as they are seen. sRGB and its matrix: IEC 61966-2-1; L*a*b*: CIE 15."""
    part = np.asarray(colours) / 255
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4) @ np.asarray(seen).T
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = linear.clip(0, 1) @ to_xyz.T / to_xyz.sum(axis=1)
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


def closest(colours):
    """The smallest distance between two of the colours in L*a*b*, for any of the readers."""
    seen = (lab(colours, matrix) for matrix in SEEN_BY.values())
    return min(float(np.linalg.norm(one - two)) for points in seen for one, two in combinations(points, 2))


def test_every_reader_can_tell_the_clients_apart():
    """A distance of about 2.3 is just seen (common practice); ten times that is asked for, idle slots among them."""
    assert closest([*CLIENT_COLOURS, IDLE]) > 25
    assert closest([(200, 60, 60), (110, 130, 60)]) < 25, "red and olive, which some readers confuse: the test can fail"
