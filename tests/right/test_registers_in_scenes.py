"""Scenes that set, write and move fields and whole registers; and a machine that runs on stands where the scene says."""

from __future__ import annotations

import json
from pathlib import Path
from random import Random

import little
import numpy as np
import pytest
from agreement import state_differences
from soaked import every

import vdpsim
from vdpsim.chip.controls import controls
from vdpsim.chip.load import chip_text
from vdpsim.chip.registers import fields, registers
from vdpsim.testing.strategies.made.register_maps import in_words, with_others

PLAIN = little.CHIP[: little.CHIP.index("[registers]")].replace("TABLE", "chip")
WORDS = """
[[registers]]
name = "layer control"
bits = 8
fields = { on = { bits = "0", sets = ["ground.enable", "sprites.enable"] }, backdrop = "7:4" }
[[registers]]
name = "scroll low"
bits = 8
half_write = "waits"
fields = { "ground.scroll_x" = { bits = "3:0", of = "3:0" } }
[[registers]]
name = "scroll high"
bits = 8
half_write = "counts"
fields = { "ground.scroll_x" = { bits = "2:0", of = "6:4" } }
[[registers]]
others = "default"
"""


def load(folder: Path, text: str, chip: str = PLAIN + WORDS) -> vdpsim.Scene:
    """The scene that ``text`` tells, on ``chip``."""
    (folder / "small.chip.toml").write_text(chip, "utf-8")
    path = folder / "small.scene.toml"
    path.write_text(f'name = "Small"\nchip = "small.chip.toml"\nframes = 9\n{text}', "utf-8")
    return vdpsim.load_scene(path)


def test_the_beginning_by_any_name(tmp_path):
    """0x92: backdrop 9, both off, bit 1 is nobody's. Low and high part together: 0x53."""
    text = '[registers]\n"layer control" = 0x92\n"scroll low" = 0x03\n"scroll high" = 0x05\n"ground.scroll_y" = 7\n'
    state = load(tmp_path, text).state()
    names = ("backdrop", "ground.enable", "sprites.enable", "ground.scroll_x", "ground.scroll_y")
    assert [state.value(name) for name in names] == [9, 0, 0, 0x53, 7]
    assert state.held == {0: (0, 2)}
    alone = load(tmp_path, '[registers]\n"scroll high" = 0x05\n"sprites.enable" = 0\n').state()
    assert [alone.value(name) for name in names] == [0, 0, 0, 0x50, 0]


def test_a_frames_writes_by_register(tmp_path):
    """Low 9 on line 3 waits; high 2 on line 5 takes it along: 0x29. The word on line 8 sets the backdrop and both layers."""
    text = """
    [[writes]]
    line = 3
    register = "scroll low"
    value = 9
    [[writes]]
    line = 5
    register = "scroll high"
    value = 2
    [[writes]]
    line = 8
    register = "layer control"
    value = 0xC0
    """
    scene = load(tmp_path, "\n".join(line.strip() for line in text.splitlines()))
    machine = vdpsim.Machine.of(scene)
    seen = []
    for end in (4, 6, 9):
        machine.lines(end - machine.state.line, scene.writes())
        seen.append([machine.registers[name] for name in ("ground.scroll_x", "backdrop", "on")])
    assert seen == [[0, 0, 1], [0x29, 0, 1], [0x29, 0xC, 0]]


def test_a_part_that_is_written_in_other_frames_is_not_forgotten(tmp_path):
    """Low 1 in frame 0, high 2 in frame 1, low 3 in frame 2: 0x21 from frame 1 on, and the 3 still waits."""
    writes = (("scroll low", 0, 1), ("scroll high", 1, 2), ("scroll low", 2, 3))
    text = "".join(
        f'[[writes]]\nline = 3\nregister = "{name}"\nframe = {frame}\nvalue = {value}\n'
        for name, frame, value in writes
    )
    scene = load(tmp_path, text)
    states = [vdpsim.Machine.of(scene, frame).state for frame in (0, 1, 2, 3, 8)]
    assert [state.value("ground.scroll_x") for state in states] == [0, 0, 0x21, 0x21, 0x21]
    assert [state.held for state in states] == [{}, {1: (0xF, 1)}, {}, {1: (0xF, 3)}, {1: (0xF, 3)}]


def test_motion_of_a_field_and_of_a_register(tmp_path):
    """Backdrop and the layers are bits of one word, that counts 0, 17, 34, ...; a tie moves both of its controls."""
    scene = load(tmp_path, '[[motion]]\nregister = "layer control"\nfrom = 0\nto = 255\nstep = 17\n')
    states = [scene.state(frame) for frame in range(4)]
    assert [(state.value("backdrop"), state.value("ground.enable"), state.held) for state in states] == [
        (0, 0, {}), (1, 1, {}), (2, 0, {0: (0, 2)}), (3, 1, {0: (0, 2)}),
    ]  # fmt: skip
    both = load(tmp_path, '[[motion]]\nregister = "on"\nfrom = 1\nto = 0\nstep = -1\nevery = 3\n')
    told = [[both.state(frame).value(name) for name in ("ground.enable", "sprites.enable")] for frame in (0, 2, 3)]
    assert told == [[1, 1], [1, 1], [0, 0]]
    part = load(tmp_path, '[registers]\n"scroll high" = 3\n[[motion]]\nregister = "scroll low"\nfrom = 0\nto = 15\n')
    assert [part.state(frame).value("ground.scroll_x") for frame in (0, 5)] == [0x30, 0x35]
    wraps = load(tmp_path, '[[motion]]\nregister = "ground.scroll_x"\nfrom = 120\nstep = 5\n')
    assert [wraps.state(frame).value("ground.scroll_x") for frame in (0, 1, 2)] == [120, 125, 2]


@pytest.mark.parametrize("seed", every(6, range(240)))
def test_a_machine_that_runs_on_stands_where_the_scene_says(tmp_path, seed):
    """Any map, with fields, whole registers and bytes written in any frames: frame after frame, or reached at once."""
    random = Random(seed)
    known = controls(vdpsim.parse_chip(PLAIN))
    listed = {
        name: {
            "bits": max(1, (one.top // one.step).bit_length()),
            "effect": random.choice(("at once", "next line", "next frame")),
        }
        for name, one in known.items()
    }
    plain = vdpsim.parse_chip(PLAIN)
    words = with_others(random, in_words(random, listed, known, ties=30))
    data = plain.model_dump(mode="json", exclude_unset=True, by_alias=True) | {"registers": words}
    chip = vdpsim.Chip.model_validate_json(json.dumps(data))
    text = "".join(write(random, chip) for _ in range(random.randint(1, 6)))
    scene = load(tmp_path, text, chip_text(chip))
    machine = vdpsim.Machine.of(scene)
    for frame in range(6):
        reached = vdpsim.Machine.of(scene, frame).state
        assert state_differences(machine.state, reached) == []
        machine.frame(scene.writes(frame))


def write(random: Random, chip: vdpsim.Chip) -> str:
    """A timed write of a field, of a whole register or of a byte of one."""
    line, when = random.randrange(70), random.choice(("", f"frame = {random.randrange(4)}\n", 'frames = "1:6:2"\n'))
    if random.random() < 0.4:
        field = random.choice(list(fields(chip).values()))
        value = random.randint(0, field.top // field.step) * field.step
        told = f'register = "{random.choice((field.name, *field.controls))}"\nvalue = {value}\n'
    else:
        one = random.choice(list(registers(chip).values()))
        word = random.getrandbits(one.bits)
        told = f'register = "{one.name}"\nvalue = {word}\n'
        if random.random() < 0.5 or one.name in fields(chip):
            told = f"port = {one.address + random.randrange(one.size)}\nvalue = {word & 0xFF}\n"
    return f"[[writes]]\nline = {line}\ndot = {random.choice((0, 30))}\n{told}{when}"


def test_slices_and_frames_agree_on_the_picture(tmp_path):
    """The backdrop is in a word with what else there is: written in mid-line, the picture is that of the field's own write."""
    by_word = load(tmp_path, '[[writes]]\nline = 9\ndot = 20\nregister = "layer control"\nvalue = 0x51\n')
    drawn = vdpsim.render(by_word)
    by_field = load(tmp_path, '[[writes]]\nline = 9\ndot = 20\nregister = "backdrop"\nvalue = 5\n')
    assert np.array_equal(drawn.rgb, vdpsim.render(by_field).rgb)
