"""Are chips and scenes that are built in Python what their files would be, and what is random valid, drawn and small?"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from itertools import cycle
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, find, given, settings
from hypothesis import strategies as st
from hypothesis.errors import Unsatisfiable
from hypothesis.stateful import invariant, run_state_machine_as_test
from little import machine
from PIL import Image
from refusal import refused

import vdpsim
from vdpsim.testing import assert_same, build_chip, build_scene, chip_text, parse_scene, rows_of, scene_text
from vdpsim.testing.strategies import (
    ChipDriver,
    chips,
    driving,
    machines,
    offered,
    port_traffic,
    scenes,
    sprites,
    timed_writes,
)
from vdpsim.testing.strategies.made.scenes import SceneWriter

SCENES = Path(__file__).resolve().parents[2] / "scenes"
CHIP: dict[str, Any] = {
    "name": "Dew",
    "frame": {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 70},
    "memory": {"size": 8192, "bytes_per_access": 1},
    "palette": {"entries": 16, "bank_size": 16, "red": "11:8", "green": "7:4", "blue": "3:0"},
    "layers": [
        {
            "name": "ground",
            "modes": [
                {"name": "tiles", "kind": "tiles", "tile": 8, "bits_per_dot": 4, "cell_bytes": 1}
                | {"cell": {"pattern": "7:0"}, "page": (8, 8)}
            ],
        }
    ],
    "ladder": [{"source": "ground"}],
}
FEW = settings(max_examples=8)
FIRST = settings(max_examples=1, phases=[Phase.generate], database=None, suppress_health_check=list(HealthCheck))
"""What is found need not be small."""


@pytest.fixture(scope="module")
def dew():
    return build_chip(**CHIP)


@pytest.mark.parametrize("name", ["curlew", "dunlin", "sanderling"])
def test_a_chip_prints_as_a_file_that_is_the_same_chip(name):
    chip = vdpsim.load_chip(SCENES / "chips" / f"{name}.chip.toml")
    assert vdpsim.parse_chip(chip_text(chip)) == chip


def test_a_scene_of_tables_is_that_of_its_text_and_draws_what_it_says(dew):
    dots = np.arange(64).reshape(8, 8) % 16
    patterns = [{"for_": "ground.tiles", "name": "all", "rows": rows_of(dots)}]
    scene = build_scene(
        dew,
        name="Morning",
        palette=[{"colours": [int(one) for one in np.arange(16) * 0x111]}],
        patterns=patterns,
        maps=[{"for": "ground.tiles", "fill": "all", "size": np.array([8, 8])}],
    )
    frame = vdpsim.render(scene)
    assert np.array_equal(frame.indices, np.tile(dots, (8, 8)))
    assert 'for = "ground.tiles"\nname = "all"' in scene_text(scene)
    assert_same(vdpsim.render(parse_scene(scene_text(scene), dew)), frame)
    picture = Image.fromarray(dots.astype(np.uint8))
    drawn = build_scene(
        dew,
        files={"all.png": picture},
        name="Noon",
        patterns=[{"for_": "ground.tiles", "name": "all", "png": "all.png"}],
        maps=[{"for": "ground.tiles", "fill": "all"}],
    )
    assert np.array_equal(vdpsim.render(drawn).indices, frame.indices)


def test_a_file_is_given_as_bytes_numbers_or_text(dew):
    """Two bytes a row of four dots; what a scene names as raw is as it lies in memory."""
    for data in (b"\x12\x34", bytearray(b"\x12\x34"), np.array([0x12, 0x34], np.uint8), "\x124"):
        scene = build_scene(
            dew, files={"two.raw": data}, name="Raw", writes=[{"memory": 64, "raw": "two.raw", "line": 0}]
        )
        machine = vdpsim.Machine.of(scene)
        machine.frame(scene.writes(0))
        assert machine.memory[64:66].tolist() == [0x12, 0x34]
    with refused(TypeError, r"files\['two.raw'\] must be bytes, text or an image, got 5"):
        build_scene(dew, files={"two.raw": 5}, name="Raw")


def test_a_scene_may_name_its_chip_itself(dew):
    """From a folder, as its file would, or for a chip that is given beside it."""
    scene = parse_scene((SCENES / "flock.scene.toml").read_text("utf-8"), folder=SCENES)
    assert (scene.chip.name, scene.frames) == ("Curlew", 1)
    named = build_scene(dew, chip="elsewhere/dew.chip.toml", name="Noon")
    assert (named.chip, scene_text(named)) == (dew, 'chip = "elsewhere/dew.chip.toml"\nname = "Noon"\n')
    with refused(TypeError, "chip must be a Chip or None"):
        parse_scene('name = "Noon"', "dew")


def test_mistakes_are_told_as_in_a_file(dew):
    with refused(vdpsim.InputError, r"the chip's text:\d+: frame.width: must be .*got 63"):
        build_chip(**CHIP | {"frame": {**CHIP["frame"], "width": 63}})
    with refused(vdpsim.InputError, r"the scene's text:\d+: maps.0.for.*\n.*sprites.s"):
        build_scene(dew, maps=[{"for_": "sky.tiles", "fill": 0}], sprites=[{"name": "s", "x": 0, "y": 0, "pattern": 0}])
    with refused(vdpsim.InputError, "all.png"):
        build_scene(dew, patterns=[{"for_": "ground.tiles", "png": "all.png"}])
    with refused(ValueError, "files must have plain names, got '../all.png'"):
        build_scene(dew, files={"../all.png": b""})
    for dots, told in (
        ([[16]], "dots must be 0 to 15, got 16 to 16"),
        ([[-1]], "got -1"),
        ([1], "of shape"),
        ([[]], "of shape"),
    ):
        with refused(ValueError, told):
            rows_of(dots)
    assert rows_of([[15, 255]], 8) == ["0fff"]


# What is random


@FEW
@given(st.one_of(scenes(), scenes(full=True)))
def test_random_scenes_are_files_that_draw(scene):
    text = chip_text(scene.chip)
    again = parse_scene(scene_text(scene), vdpsim.parse_chip(text))
    for number in range(scene.frames):
        assert_same(vdpsim.render(again, number), scene.frame(number))


@FEW
@given(st.data())
def test_random_machines_take_what_is_random_for_them(data):
    chip = data.draw(chips(full=data.draw(st.booleans()), timed=False))
    assert chip.time is None
    machine = data.draw(machines(chip))
    if chip.sprites:
        for name, value in data.draw(sprites(chip)).items():
            setattr(machine.sprites[0], name, value)
    machine.frame(data.draw(timed_writes(chip)) + data.draw(port_traffic(chip)))


def test_random_things_are_for_the_chip_that_is_asked_for(dew, monkeypatch):
    """A machine, a scene, and a chip with a time table: those that come without one are passed over."""
    assert find(machines(dew), lambda _: True, settings=FIRST).chip is dew
    assert find(machines(), lambda one: one.state.line == 0, settings=FIRST).chip.name == "Small"
    assert find(scenes(dew), lambda _: True, settings=FIRST).chip is dew
    come = cycle([dew, dew, Curlew.chip])
    monkeypatch.setattr(offered, "make_chip", lambda _: next(come))
    assert find(chips(timed=True), lambda _: True, settings=FIRST) is Curlew.chip


def test_random_scenes_of_a_chip_without_registers_and_sprites_write_neither():
    """Whose controls are all wired: palette, memory and maps are left."""
    bare = build_chip(**CHIP, registers={"others": "wired"})
    for seed in range(12):
        scene = parse_scene(SceneWriter(Random(seed), bare).text(), bare)
        assert not re.search("^(register|port|sprite) = ", scene.text, re.MULTILINE)


def test_random_scenes_lead_no_register_of_steps_from_one_value_to_another():
    """What lies between two addresses is none that the register has; one value, or one a line, it may have."""
    wired = {"others": "wired", "ground.tiles.map": {"bits": 4, "step": 256, "effect": "at once"}}
    chip, hows = build_chip(**CHIP, registers=wired), set()
    for seed in range(60):
        scene = parse_scene(SceneWriter(Random(seed), chip).text(), chip)
        writes = tomllib.loads(scene.text).get("writes", [])
        hows |= {how for write in writes if "register" in write for how in ("value", "values", "from") if how in write}
    assert hows == {"value", "values"}


def test_a_scene_that_never_fits_is_thrown_away(dew, monkeypatch):
    """Its parts find no room, or its fetches come too late."""
    for way in (lambda *_: None, lambda *_: parse_scene('name = "Late"\nchip = "dew.chip.toml"\n', dew)):
        monkeypatch.setattr(offered, "_scene", way)
        monkeypatch.setattr(offered, "_in_time", lambda _: False)
        with refused(Unsatisfiable, "Unable to satisfy assumptions"):
            find(scenes(dew), lambda _: True, settings=FIRST)


def test_sprites_of_a_chip_without_any_are_refused(dew):
    with refused(ValueError, "Dew has no sprites"):
        find(sprites(dew), lambda _: True)


class Curlew(ChipDriver):
    """A machine that counts the lines that go by."""

    chip = vdpsim.load_chip(SCENES / "chips" / "curlew.chip.toml")

    @invariant()
    def _lines_go_by(self) -> None:
        assert self.machine.state.line < self.machine.chip.frame.lines_per_frame


def test_a_cpu_drives_a_chip():
    run_state_machine_as_test(Curlew, settings=settings(max_examples=4, stateful_step_count=10))


class Little(ChipDriver):
    """A chip of 70 lines."""

    chip = machine().chip


def test_a_random_chip_for_a_cpu_has_addresses_where_one_is_found_soon(monkeypatch):
    """Those without are passed over; where none comes in twenty, the last is taken."""
    bare, noted = build_chip(**CHIP, registers={"others": "wired"}), []
    monkeypatch.setattr(driving, "note", noted.append)
    for come, found in (([bare, bare, Curlew.chip], Curlew.chip), ([bare] * driving.MOST_TRIED, bare)):
        rest = iter(come)
        monkeypatch.setattr(driving, "make_chip", lambda _, rest=rest: next(rest))
        assert driving._with_addresses(Random(0)) is found
        assert not list(rest)
        assert noted[-1].endswith(chip_text(found))


def test_lines_that_a_cpu_waits_for_end_with_the_frame():
    driver = Little()
    driver._begin(data=None)
    for line in (40, 0, 40):
        driver.lines(40)
        assert driver.machine.state.line == line
    assert len(driver.frame.border_rgb) == 40


def test_a_cpu_drives_random_chips():
    run_state_machine_as_test(ChipDriver, settings=settings(max_examples=4, stateful_step_count=8))


class Faulty(Curlew):
    """A chip whose memory must stay empty, which a CPU breaks."""

    @invariant()
    def _memory_is_empty(self) -> None:
        assert not self.machine.memory.any()


@pytest.mark.soak
def test_a_failure_of_a_driver_shrinks_to_the_shortest_program():
    with refused(AssertionError, "assert not") as caught:
        run_state_machine_as_test(Faulty, settings=settings(max_examples=100, stateful_step_count=20, database=None))
    program = [
        line
        for line in "\n".join(caught.value.__notes__).splitlines()
        if line.startswith(("state.write(", "state.read(", "state.fill(", "state.lines(", "state.whole_frame("))
    ]
    assert len(program) <= 3, program


@pytest.mark.soak
def test_a_failing_scene_shrinks_to_a_small_one_that_reads():
    """A drop needs a chip with a limit and one sprite more than it: that is nearly all that is left of the files."""
    slow = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
    scene = find(
        scenes(),
        lambda one: any(len(frame.drops) for frame in one.every_frame()),
        settings=settings(max_examples=300, suppress_health_check=slow, database=None),
    )
    assert scene.chip.name == "Small"
    assert len(scene.chip.layers) == scene.frames == 1
    assert scene_text(scene).count("[[sprites]]") <= 3
    assert "[[writes]]" not in scene_text(scene)


def test_without_hypothesis_it_is_said_what_to_install():
    told = (
        "import sys; sys.modules['hypothesis'] = None\n"
        "import vdpsim.testing\n"
        "try: import vdpsim.testing.strategies\n"
        "except ModuleNotFoundError as error: print(error)"
    )
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "vdpsim.testing.strategies needs hypothesis: pip install 'vdpsim[testing]'"
