"""Does the shipped example pass as it is, and does a fault in its design fail at the dot or slot that it is planted at?

The faults' places come from the model, driven by the writes that the bench does: not from the bench's own comparing.
"""

from __future__ import annotations

import re
import runpy
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from real_parts import module, program, run

import vdpsim
from vdpsim.examples.tile_layer import __main__ as example

HERE = Path(example.__file__).parent
SCENE = vdpsim.load_scene(HERE / "knot.scene.toml")
DESIGN = (HERE / "tile_layer.v").read_text()
PLACE = re.compile(r"AssertionError: (frame \d+, line \d+, \w+ \d+): (.*)")


def ran(folder: Path, design: str | None = None, seed: int = 1) -> subprocess.CompletedProcess[str]:
    """The example, with a design of its own or another."""
    module("cocotb", "cocotb")
    program("iverilog")
    words = ["--seed", str(seed)]
    if design is not None:
        (folder / "other.v").write_text(design)
        words += ["--design", "other.v"]
    return run(folder, sys.executable, "-m", "vdpsim.examples.tile_layer", "out", *words)


def place(done: subprocess.CompletedProcess[str]) -> str:
    """Where a run that failed says that the first difference is."""
    assert done.returncode == 1, done.stdout + done.stderr
    found = PLACE.search(done.stdout + done.stderr)
    assert found, done.stdout + done.stderr
    return found[1]


def lines(folder: Path, machine: vdpsim.Machine, seed: int) -> Iterator[vdpsim.Frame]:
    """The lines of two frames as a machine draws them, with the bench's writes."""
    module("cocotb", "cocotb")
    from vdpsim.examples.tile_layer.bench import writes  # noqa: PLC0415 - wants cocotb

    vdpsim.export(SCENE, folder / "numbers", only=["constants"])
    numbers = runpy.run_path(str(folder / "numbers" / "constants.py"))
    asked = writes(numbers, seed)
    for _ in range(2 * machine.chip.frame.lines_per_frame):
        yield machine.lines(1, trace=True)
        for address, byte in next(asked):
            machine.write(address, byte)


def model() -> vdpsim.Machine:
    return vdpsim.Machine.of(SCENE)


def changed(old: str, new: str) -> str:
    """The design with a fault."""
    assert DESIGN.count(old) == 1
    return DESIGN.replace(old, new)


@pytest.mark.ci
@pytest.mark.unmeasured
@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.soak)])
def test_the_design_is_the_model(tmp_path, seed):
    done = ran(tmp_path, seed=seed)
    told = done.stdout + done.stderr
    assert done.returncode == 0 and "TESTS=1 PASS=1 FAIL=0" in told, told
    assert "warning" not in told.lower().replace("warning  gpi", ""), told
    drawn = list(lines(tmp_path, model(), seed))
    shown = [one.indices for one in drawn if one.height]
    assert len(shown) == 2 * 96
    assert len(np.unique(np.concatenate(shown))) >= 8, "the picture has too little in it to be a test"
    assert {len(one.trace) for one in drawn} >= {0, 48, 51}, "lines with no tile, 16 and 17 tiles"


@pytest.mark.ci
@pytest.mark.unmeasured
@pytest.mark.parametrize(("line", "dot"), [(9, 77), (0, 0), (95, 127)])
def test_a_wrong_dot_fails_there(tmp_path, line, dot):
    """At that one, and at none before it: so the design is the model that far."""
    fault = changed("assign entry = ", f"assign entry = (line == {line} && dot == {dot} ? 4'd1 : 4'd0) ^ ")
    fault = fault.replace(
        "^ !shown[showing] || value == MODES_TRANSPARENT", "^ (!shown[showing] || value == MODES_TRANSPARENT"
    )
    fault = fault.replace("MODES_BANK_STEP + value;", "MODES_BANK_STEP + value);")
    assert place(ran(tmp_path, fault)) == f"frame 0, line {line}, dot {dot}"


@pytest.mark.ci
@pytest.mark.unmeasured
def test_a_wrong_access_fails_in_its_slot(tmp_path):
    used = [number for number, one in enumerate(lines(tmp_path, model(), 1)) if 20 in one.trace["slot"]]
    line = next(number for number in used if number > 30)
    fault = changed("assign client = ", f"assign client = line == {line} && now == 20 ? 8'd9 : ")
    assert place(ran(tmp_path, fault)) == f"frame 0, line {line}, slot 20"


@pytest.mark.ci
@pytest.mark.unmeasured
def test_a_design_that_turns_no_tile_fails_at_the_first_dot_where_that_shows(tmp_path):
    """The same lines by a chip whose cells have no such bit say where that is."""
    fault = changed("flipped ? MODES_TILE_X - 1 - across[2:0] : across[2:0]", "across[2:0]")
    done = ran(tmp_path, fault)
    text = (HERE / "knot.chip.toml").read_text()
    assert text.count('flip_x = "7", ') == 1
    (tmp_path / "plain.chip.toml").write_text(text.replace('flip_x = "7", ', ""))
    plain = vdpsim.Machine(vdpsim.load_chip(tmp_path / "plain.chip.toml"))
    right = model()
    plain.memory[:] = right.memory
    for name, value in right.registers.items():
        plain.registers[name] = value
    first = next(
        (number, int(np.flatnonzero(one.indices[0] != other.indices[0])[0]))
        for number, (one, other) in enumerate(zip(lines(tmp_path, right, 1), lines(tmp_path, plain, 1), strict=True))
        if one.height and (one.indices != other.indices).any()
    )
    assert place(done) == f"frame {first[0] // 120}, line {first[0] % 120}, dot {first[1]}"


FAULTS = (
    ("row[2:0] * MODES_ROW_BYTES", "(row[2:0] ^ 1) * MODES_ROW_BYTES"),
    ("column[7:3] + now[4:0];", "(column[7:3] + now[4:0]) & 5'd15;"),
    ("TILES + (scroll_x[2:0] != 0)", "TILES + 1"),
    ("enable && wanted < FRAME_HEIGHT", "enable"),
    ("row <= wanted[6:0] + scroll_y", "row <= line[6:0] + scroll_y"),
    ("value == MODES_TRANSPARENT ?", "1'b0 ?"),
    ("!shown[showing] ||", ""),
    ("from_patterns <= patterns", "from_patterns <= 1"),
    ("from_map <= map", "from_map <= 0"),
    ("fine[fills] <= scroll_x[2:0]", "fine[fills] <= 0"),
    ("filling <= fills", "filling <= reset"),
    ("cpu_data[6:0]", "{1'b0, cpu_data[4:0]}"),
    ("line < FRAME_HEIGHT;", "line <= FRAME_HEIGHT;"),
    ("now >= AHEAD &&", "now > AHEAD &&"),
)
"""Words of the design, and what each becomes."""


@pytest.mark.soak
@pytest.mark.unmeasured
@pytest.mark.parametrize(("words", "fault"), FAULTS)
def test_no_part_of_the_design_is_wrong_unseen(tmp_path, words, fault):
    assert place(ran(tmp_path, changed(words, fault)))


def test_without_cocotb_or_iverilog_it_says_what_to_install(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["tile_layer", str(tmp_path / "out")])
    with monkeypatch.context() as bare:
        bare.setitem(sys.modules, "cocotb_tools.runner", None)
        assert example.main() == 2
    assert "the example needs cocotb, which is not installed: pip install 'vdpsim[handoff]'" in capsys.readouterr().err
    module("cocotb", "cocotb")
    monkeypatch.setenv("PATH", str(tmp_path))
    assert example.main() == 2
    assert "the example needs iverilog" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
