"""A late frame begins with what going through all frames before it would leave, and costs no more than an early one."""

from __future__ import annotations

import sys
import threading
from itertools import islice
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused
from scenery import CHIP, TIMED, load
from walked import random_scene, same, walk

import vdpsim
from vdpsim.cli import running
from vdpsim.door.telling import telling
from vdpsim.machine import reached as reached_room
from vdpsim.state.state import State

SCENES = (
    "dusk", "ferry", "flock", "moonlit", "portrait", "regatta", "reserve", "saltmarsh", "slipway", "tideline", "tidetable",
)  # fmt: skip


def both_ways(folder, seed, *, cpu, frames):
    random = Random(seed)
    scene = load(folder, random_scene(random, cpu=cpu), TIMED if cpu else CHIP)
    walked = list(islice(walk(scene), frames))
    for frame in (frames - 1, *random.sample(range(frames), 6)):
        state, writes = walked[frame]
        same(vdpsim.Machine.of(scene, frame).state, state)
        assert scene.writes(frame) == writes
        if scene.moves_from is None:
            same(scene.state(frame), state)


@given(st.integers(0, 1 << 40))
@settings(max_examples=settings.default.max_examples // 5)
def test_a_scene_whose_cpu_moves_nothing(tmp_path_factory, seed):
    both_ways(tmp_path_factory.mktemp("far"), seed, cpu=False, frames=50)


@given(st.integers(0, 1 << 40))
@settings(max_examples=settings.default.max_examples // 25)
def test_a_scene_whose_cpu_moves_bytes(tmp_path_factory, seed):
    both_ways(tmp_path_factory.mktemp("far"), seed, cpu=True, frames=60)


def counted(monkeypatch):
    """Frames that are drawn on the way."""
    drawn, real = [], reached_room.draw

    def noted(plan, state, *more, **told):
        drawn.append(state.frame)
        return real(plan, state, *more, **told)

    monkeypatch.setattr(reached_room, "draw", noted)
    return drawn


@pytest.mark.parametrize("name", SCENES)
def test_no_shipped_scene_draws_many_frames_for_a_late_one(name, monkeypatch):
    drawn = counted(monkeypatch)
    vdpsim.Machine.of(vdpsim.load_scene(f"scenes/{name}.scene.toml"), 99_999)
    assert len(drawn) <= 3


EACH_FRAME = """
[registers]
"near.enable" = 0
"far.enable" = 0
"status.enable" = 0
"sprites.enable" = 0
[[motion]]
register = "near.scroll_x"
from = 0
step = 1
to = 20
then = "bounce"
[[writes]]
line = 3
memory = 0x100
fill = 7
count = 500
by = "cpu"
[[writes]]
line = 5
port = 0x1010
value = 2
[[writes]]
line = 5
port = 0x1012
value = 0x21
"""


def test_frames_that_come_again_are_left_out(tmp_path, monkeypatch):
    """Scroll comes again every 40 frames, the port's address every frame; 40 frames and a round or two are drawn."""
    scene, drawn = load(tmp_path, EACH_FRAME, TIMED), counted(monkeypatch)
    state = vdpsim.Machine.of(scene, 100_001).state
    assert len(drawn) < 200
    assert state.frame == 100_001
    assert state.transfers == 100_001
    again = load(tmp_path, EACH_FRAME, TIMED)
    near = next(islice(walk(again), 41, None))[0]
    near.frame, near.transfers = state.frame, state.transfers
    same(near, state)


MORE_EACH_FRAME = (
    EACH_FRAME
    + """
[[motion]]
register = "near.scroll_y"
from = 0
step = 0.0001
to = 30
"""
)


def test_where_nothing_comes_again_every_frame_is_drawn_once_and_told(tmp_path, monkeypatch):
    monkeypatch.setattr(reached_room, "STATIONS_APART", 8)
    scene, drawn, told = load(tmp_path, MORE_EACH_FRAME, TIMED), counted(monkeypatch), []
    with telling(lambda *words: told.append(words)):
        vdpsim.Machine.of(scene, 22)
    assert drawn == list(range(22))
    assert told == [("Test", frame, 22) for frame in range(22)]
    vdpsim.Machine.of(scene, 18)
    assert drawn[22:] == [16, 17], "from the last station"
    vdpsim.Machine.of(scene, 8)
    assert len(drawn) == 24, "a station is there already"


def test_stations_take_no_more_room_than_they_may(tmp_path, monkeypatch):
    monkeypatch.setattr(reached_room, "ROOM", 5 * 8192)
    monkeypatch.setattr(reached_room, "STATIONS_APART", 8)
    scene = load(tmp_path, MORE_EACH_FRAME, TIMED)
    vdpsim.Machine.of(scene, 26)
    kept = reached_room._KEPT[scene]
    assert sorted(kept.stations) == [8, 16, 24]
    vdpsim.Machine.of(scene, 66)
    assert sorted(kept.stations) == [32, 64], "thinned twice"
    assert kept.most == 3


def test_threads_share_a_scene():
    scene = vdpsim.load_scene("scenes/dusk.scene.toml")
    wanted = {frame: scene.state(frame).palette.tolist() for frame in range(20)}
    wrong = []

    def ask(seed):
        asked = Random(seed).choices(range(20), k=60)
        wrong.extend(frame for frame in asked if scene.state(frame).palette.tolist() != wanted[frame])

    threads = [threading.Thread(target=ask, args=(seed,)) for seed in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_a_state_that_a_frame_does_not_follow_from_is_refused(tmp_path):
    scene = load(tmp_path, EACH_FRAME, TIMED)
    machine = vdpsim.Machine.of(scene, 0)
    machine.lines(3)
    with refused(ValueError, "start of a frame, 0 to 1, got line 3 of frame 0"):
        scene.state(1, machine.state)
    machine.frame(scene.writes(0))
    with refused(ValueError, "start of a frame, 0 to 0, got line 0 of frame 1"):
        scene.state(0, machine.state)
    with refused(ValueError, "moves bytes from frame 1 on"):
        scene.state(2, machine.state)
    assert scene.state(1, machine.state).frame == 1


def test_a_frame_of_many_cuts_is_told_once_where_it_takes_long(monkeypatch, capsys):
    """0.25 s for 8 lines: after 16 of them it is known that the 64 that are left take 2 s, or 240 take 7.5 s."""
    now = iter(step / 4 for step in range(1000))
    monkeypatch.setattr(running, "monotonic", lambda: next(now))
    told = running.LinesToGo()
    for line in range(0, 80, 8):
        told(0, line, 80)
    assert capsys.readouterr().err == ""
    for frame in (1, 2):
        for line in range(0, 256, 8):
            told(frame, line, 256)
    assert capsys.readouterr().err == (
        "frame 1: very many dots of sprites may lie on its lines: about 8 s more for this frame\n"
    )


def test_other_work_is_told_once_and_at_a_terminal_each_second(monkeypatch, capsys):
    """A part takes 0.25 s: after two of them it is known that 40 take 10 s; what has less left than 3 s is not told of."""
    now = iter(step / 4 for step in range(4, 1000))
    monkeypatch.setattr(running, "monotonic", lambda: next(now))
    told = running.WorkToDo()
    for terminal, more in ((False, []), (True, ["14 % done, about 9 s more ", "23 % done, about 8 s more "])):
        monkeypatch.setattr(sys.stderr, "isatty", lambda terminal=terminal: terminal, raising=False)
        for done in range(11):
            told("short", done, 12)
        for done in range(11):
            told("long", done, 42)
        assert capsys.readouterr().err.split("\r") == [
            "long: about 10 s more\n", *(f"long: {one}" for one in more)
        ]  # fmt: skip


def test_the_same_work_done_again_is_timed_anew(monkeypatch, capsys):
    """The hour between the two does not count: a part takes 0.25 s, and 40 are left after two."""
    now = iter(step / 4 for step in (4, 5, *range(14_400, 14_410)))
    monkeypatch.setattr(running, "monotonic", lambda: next(now))
    told = running.WorkToDo()
    for done in (0, 1, *range(10)):
        told("same", done, 42)
    assert capsys.readouterr().err == "same: about 10 s more\n"


def test_a_terminal_sees_how_far_the_frames_before_have_come(monkeypatch, capsys):
    """A word each second, over the one before."""
    now = iter(step / 4 for step in range(4, 1000))
    monkeypatch.setattr(running, "monotonic", lambda: next(now))
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    told = running.FramesToGo()
    for frame in range(10, 21):
        told("Ferry", frame, 52)
    assert capsys.readouterr().err.split("\n")[1].split("\r")[1:] == [
        "Ferry: frame 16, about 9 s more ", "Ferry: frame 20, about 8 s more "
    ]  # fmt: skip


@pytest.mark.parametrize("period", [1, 2])
def test_any_round_is_found_wherever_it_begins(period):
    """Two frames that never come again, then a round of three: what is left of frame 1,000 is what walking there leaves."""

    class Fake:
        def rhythm(self, _):
            return 0, period

    def left(frame):
        state = State.at_reset(vdpsim.parse_chip(CHIP))
        state.frame, state.transfers = frame, frame
        state.memory[0] = 100 + frame if frame < 2 else (frame - 2) % 3
        return state

    rounds, frame = reached_room._Rounds(Fake(), 1000), 0
    for _ in range(30):
        found = rounds.ahead(left(frame))
        if found.frame != frame:
            break
        frame += 1
    assert frame < 30
    assert 1000 - 3 * period < found.frame <= 1000
    assert (found.memory[0], found.transfers) == ((found.frame - 2) % 3, found.frame)
    assert rounds.ahead(found) is found, "no whole round is left"


def test_a_long_wait_is_told_before_it_begins_and_a_short_one_is_not(monkeypatch, capsys):
    """A frame takes 0.25 s: after two of them it is known that 40 take 10 s; 8 more take 2 s, of which nothing is said."""
    now = iter(step / 4 for step in range(1000))
    monkeypatch.setattr(running, "monotonic", lambda: next(now))
    told = running.FramesToGo()
    for frame in range(10, 20):
        told("Ferry", frame, 20)
    assert capsys.readouterr().err == ""
    for frame in range(10, 20):
        told("Ferry", frame, 52)
    assert capsys.readouterr().err == (
        "Ferry: the frames before 52 must be drawn first, as the CPU moves bytes in them: up to 40 more, about 10 s\n"
    )
