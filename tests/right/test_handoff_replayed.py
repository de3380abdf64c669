"""Does an exported folder say everything? A chip that has its images and stimulus, and nothing else, brings what it expects.

Pictures of full size are drawn by the engine, little ones dot by dot by the twin.
"""

from __future__ import annotations

from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from replayed import Draws, by_engine, by_twin, expected, replayed
from soaked import few
from twin_cases import little_chip
from twin_scenes import make_scene

import vdpsim
from vdpsim.chip.registers import registers
from vdpsim.handoff.drawn import drawn
from vdpsim.scene.scene import Scene, SceneParts
from vdpsim.scene.writes import TimedWrite
from vdpsim.state.enact import Latches, begin_frame
from vdpsim.state.state import State
from vdpsim.testing.strategies.made.chances import chance
from vdpsim.testing.strategies.made.chips import make_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes

FEW = settings().max_examples // 6
"""Scenes are tried a sixth as often as little frames: each is exported, read back and drawn twice, three frames of it."""

SCENES = Path(__file__).resolve().parents[2] / "scenes"


def agree(scene: Scene, frames: range, folder: Path, draws: Draws) -> set[str]:
    """Export, replay and compare; which kinds of stimulus there were."""
    vdpsim.export(scene, folder, frames=frames, only=("memory", "vectors"), damage=True)
    compared(scene, frames, folder, draws)
    return {line.split()[0] for line in (folder / "vectors/stimulus.txt").read_text().splitlines()}


def compared(scene: Scene, frames: range, folder: Path, draws: Draws) -> None:
    """Replay a folder and compare it with what it expects, and what is left with what the scene leaves."""
    told = expected(folder)
    assert list(told) == list(frames)
    for one, real in zip(
        replayed(folder, scene.chip, draws), drawn(scene, frames, damage=True, traced=False), strict=True
    ):
        same_state(one.left, real.left)
        for kind in told[one.frame].keys() | {"dot"}:
            assert told[one.frame][kind] == one.came[kind], (one.frame, kind)
        there = {path.stem for path in (folder / "vectors").glob("*.txt")}
        for kind in one.came.keys() & there:
            assert bool(one.came[kind]) == bool(told[one.frame][kind]), (one.frame, kind)


def same_state(one: State, other: State) -> None:
    """Both hold the same, but for what numbers transfers have and for bits that wait and are what the field has anyway."""
    for name in ("memory", "palette", "sprites", "controls"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    assert (one.ports, one.status, one.collision_flags, one.frame) == (
        other.ports,
        other.status,
        other.collision_flags,
        other.frame,
    )
    held = [Latches(state, dict(state.held)) for state in (one, other)]
    for register in registers(one.chip).values():
        assert held[0].word(register) == held[1].word(register), register.name
    left = [
        [
            (each.start, each.step, each.data[each.done :], each.at_hand, (each.address + each.done * each.step) % size)
            for each in state.waiting
        ]
        for state, size in ((one, one.chip.memory.size), (other, one.chip.memory.size))
    ]
    assert left[0] == left[1]


SHIPPED = [
    ("flock", range(1)),
    ("moonlit", range(31, 33)),
    ("dusk", range(2)),
    ("saltmarsh", range(40, 42)),
    ("slipway", range(2, 3)),
    ("ferry", range(30, 33)),
    ("saltmarsh", range(2)),
    ("regatta", range(2)),
    ("slipway", range(3)),
    ("tideline", range(3, 6)),
    ("reserve", range(10, 12)),
    ("moonlit", range(15, 18)),
]
"""Shipped scenes, each on some of its frames; the first three have every kind of record that the others have."""


@pytest.mark.parametrize(("name", "frames"), few(SHIPPED, SHIPPED[:3].__contains__))
def test_shipped_scenes_come_again_from_their_folders(name, frames, tmp_path):
    agree(vdpsim.load_scene(SCENES / f"{name}.scene.toml"), frames, tmp_path, by_engine)


def random_scene(random: Random) -> Scene:
    """A scene that begins with any state and writes anything in each of three frames, as no file could."""
    chip = little_chip(random) if chance(random, 95) else make_chip(random)
    start = make_state(random, chip)
    begin_frame(start)
    start.frame = 0
    timed = tuple(
        TimedWrite((write.line,), (write,), range(frame, frame + 1), follows=True)
        for frame in range(3)
        for write in make_writes(random, chip)
    )
    parts = SceneParts(start, {}, None, None, timed, ())
    return Scene(
        name="Random", about="", chip=chip, frames=3, path=Path("none"), layout=(), sprite_names=(), parts=parts
    )


@pytest.mark.unmeasured
@settings(max_examples=FEW)
@given(st.integers(0, 1 << 32))
def test_random_scenes_come_again_from_their_folders(tmp_path_factory, seed):
    random = Random(seed)
    scene = random_scene(random)
    first = random.choice((0, 0, 1, 2))
    draws = by_twin if scene.chip.frame.height < 64 else by_engine
    agree(scene, range(first, 3), tmp_path_factory.mktemp("random"), draws)


@pytest.mark.unmeasured
@settings(max_examples=FEW)
@given(st.integers(0, 1 << 32))
def test_random_scene_files_come_again_from_their_folders(tmp_path_factory, seed):
    random, folder = Random(seed), tmp_path_factory.mktemp("random")
    made = None
    while made is None:
        made = make_scene(random, little_chip(random), folder)
    first = random.choice((0, 0, 1, 2))
    agree(made[0], range(first, 4), folder / "out", by_twin)


FROM = {"hand": 33}
"""The first seed that is tried for a kind, where those before have no record of it that matters."""


@pytest.mark.parametrize(
    "kind", ["bus", "field", "palette", "sprite", "memory", "transfer", "waiting", "hand", "status"]
)
def test_a_record_that_is_left_out_is_noticed(kind, tmp_path):
    """The comparison can fail: a random scene's last record of the kind, with the bytes that follow it, is not done."""
    for seed in range(FROM.get(kind, 1), 400):
        random, folder = Random(seed), tmp_path / str(seed)
        scene = random_scene(random)
        if scene.chip.frame.height >= 64:
            continue
        vdpsim.export(scene, folder, frames=range(1, 3), only=("memory", "vectors"), damage=True)
        path = folder / "vectors/stimulus.txt"
        lines = path.read_text().splitlines(keepends=True)
        there = [number for number, line in enumerate(lines) if line.startswith(f"{kind} ")]
        if there:
            path.write_text("".join(_without(lines, there[-1])))
            try:
                compared(scene, range(1, 3), folder, by_twin)
            except AssertionError:
                return
    raise AssertionError(f"no {kind} was missed")


def _without(lines: list[str], number: int) -> list[str]:
    """The lines without a record; one less of those that a record before it counts is told there."""
    if lines[number].startswith("hand "):
        head = max(place for place in range(number) if lines[place].startswith("waiting "))
        words = lines[head].split()
        lines[head] = " ".join([*words[:5], str(int(words[5]) - 1), *words[6:]]) + "\n"
    end = number + 1
    while (
        end < len(lines)
        and lines[number].startswith(("transfer", "waiting"))
        and lines[end].startswith(("hand", "byte"))
    ):
        end += 1
    return lines[:number] + lines[end:]
