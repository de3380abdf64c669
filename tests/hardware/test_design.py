"""The reference design in Verilog against exported folders, in a simulator: the last dot and the last access of every scene.

The design (``design/``) was written from such folders alone and takes every number from ``constants.svh``: the same sources
serve all chips. Its bench (``bench/``) drives the stimulus and compares every record; what it prints is put before
``vdpsim verify`` too.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from real_parts import program, run

import vdpsim
from vdpsim.cli import main

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
BENCH = HERE / "bench" / "run.py"
CHIPS = ROOT / "scenes" / "chips"

OWN = sorted(path.name.removesuffix(".scene.toml") for path in (ROOT / "scenes").glob("*.scene.toml"))
SMALL = ("dusk", "ferry")
"""Scenes that the small chip can draw too."""

CASES = [*((name, None) for name in OWN), *((name, "dunlin") for name in SMALL)]
FRAMES = range(2)


def exported(folder: Path, name: str, chip: str | None = None, frames: range = FRAMES) -> Path:
    """A folder of a shipped scene, with what a bench needs."""
    made = vdpsim.load_chip(CHIPS / f"{chip}.chip.toml") if chip else None
    scene = vdpsim.load_scene(ROOT / "scenes" / f"{name}.scene.toml", chip=made)
    vdpsim.export(scene, folder, frames=frames, only=["memory", "vectors", "constants"])
    return folder


def simulated(folder: Path, *words: str | Path) -> subprocess.CompletedProcess[str]:
    """The bench's run over a folder."""
    program("iverilog")
    return run(folder, sys.executable, BENCH, folder, *words)


def test_the_scenes_that_the_small_chip_draws_are_all_that_it_can():
    dunlin = vdpsim.load_chip(CHIPS / "dunlin.chip.toml")

    def fits(name: str) -> bool:
        try:
            vdpsim.load_scene(ROOT / "scenes" / f"{name}.scene.toml", chip=dunlin)
        except vdpsim.InputError:
            return False
        return True

    assert tuple(name for name in OWN if fits(name)) == SMALL


@pytest.mark.parametrize(("name", "chip"), CASES)
def test_a_scene_matches_to_the_last_dot_and_access(tmp_path, name, chip):
    folder = exported(tmp_path / "folder", name, chip)
    done = simulated(folder)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout[-2000:]
    counted = {kind: sum(frame["records"].get(kind, 0) for frame in frames(folder)) for kind in ("dot", "access")}
    for kind, count in counted.items():  # the bench has seen as many as the folder has
        assert f"{kind}: {count} records, match" in done.stdout
    assert done.stdout.count(", match") == 8


def frames(folder: Path) -> list[dict]:
    """What the index says of each frame."""
    return json.loads((folder / "index.json").read_text("utf-8"))["frames"]


def test_verify_says_the_same_of_what_the_bench_prints(tmp_path, capsys):
    folder = exported(tmp_path / "folder", "flock", frames=range(1))
    capture = tmp_path / "capture.txt"
    assert simulated(folder, "--capture", capture).returncode == 0
    assert main(["verify", str(capture), "--against", str(folder), "--whole"]) == 0, capsys.readouterr().out
