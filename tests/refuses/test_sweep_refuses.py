"""Does it refuse well? Sweeps of wrong fields, wrong values or too many points: told before anything is tried or written."""

from __future__ import annotations

from pathlib import Path

import pytest
from refusal import refused

import vdpsim
from vdpsim.cli import main

SCENES = Path(__file__).resolve().parents[2] / "scenes"
CURLEW = str(SCENES / "chips" / "curlew.chip.toml")
FLOCK = str(SCENES / "flock.scene.toml")

WRONG = {
    "no field": ({}, "nothing is varied: name a field and its values"),
    "an unknown field": ({"sprites.perline": [1]}, "sprites.perline: sprites has the keys count, "),
    "no values": ({"sprites.per_line": []}, "sprites.per_line: must have one value at least, got none"),
    "a text for values": ({"sprites.front": "last"}, "must have a list of values, got 'last'"),
    "one number for values": ({"sprites.per_line": 8}, "must have a list of values, got 8"),
    "a value twice": ({"sprites.per_line": [8, 9, 8]}, "must have different values, got 8 twice"),
    "a value that no file holds": ({"sprites.per_line": [{1, 2}]}, "must be numbers, texts, lists or tables"),
    "no finite number": ({"sprites.per_line": [float("nan")]}, "must be numbers, texts, lists or tables"),
    "the same place twice": (
        {"layers.near.name": ["a"], "layers.0.name": ["b"]},
        "layers.0.name: is varied already: layers.near.name",
    ),
    "a place in another": ({"sprites.sizes": [[[8, 8]]], "sprites.sizes.0.1": [8]}, "is varied already: sprites.sizes"),
    "an element left out": ({"layers.1": [None]}, "is an element of a list, which cannot be left out"),
    "too many points": (
        {"sprites.per_line": range(1, 1002), "sprites.count": range(1, 101)},
        "a sweep has at most 100,000 points, got 100,100",
    ),
}


@pytest.mark.parametrize("what", WRONG)
def test_a_sweep_that_cannot_be_is_refused_before_it_begins(what, monkeypatch):
    vary, told = WRONG[what]
    monkeypatch.setattr("vdpsim.sweeping.workers.run", None)  # it would fail if a point were tried
    with refused(vdpsim.InputError, told):
        vdpsim.sweep(CURLEW, vary, jobs=1)


def test_as_many_points_as_are_allowed_are_taken(monkeypatch):
    result = vdpsim.sweeping.points.PointResult({"error": "not tried"}, None, sure=True)
    monkeypatch.setattr("vdpsim.sweeping.workers.run", lambda task, wanted: [result for _ in wanted])
    found = vdpsim.sweep(CURLEW, {"sprites.per_line": range(1, 1001), "sprites.count": range(1, 101)}, jobs=1)
    assert len(found.rows) == 100_000
    assert found.rows[-1]["sprites.per_line"] == 1000


def test_every_mistake_is_told_at_once():
    with refused(vdpsim.InputError, r"(?s)a\.b: the chip file has the keys.*sprites\.count: must have one value"):
        vdpsim.sweep(CURLEW, {"a.b": [1], "sprites.count": []}, jobs=1)


def test_jobs_and_executors_do_not_go_together():
    with refused(ValueError, "give jobs, 1 or more, or an executor; got jobs=0"):
        vdpsim.sweep(CURLEW, {"sprites.count": [1]}, jobs=0)
    with refused(ValueError, "give jobs, 1 or more, or an executor; got jobs=2, executor=1"):
        vdpsim.sweep(CURLEW, {"sprites.count": [1]}, jobs=2, executor=1)
    with refused(vdpsim.InputError, "frame: frames are numbered from 0, got -1"):
        vdpsim.sweep(CURLEW, {"sprites.count": [1]}, scene=FLOCK, frame=-1, jobs=1)


GOOD = ["--vary", "sprites.per_line=8"]
MISUSED = {
    "no field": ([CURLEW, "-o", "x.csv"], "--vary"),
    "no place": ([CURLEW, *GOOD], "-o"),
    "no values": ([CURLEW, "--vary", "sprites.per_line", "-o", "x.csv"], "must be a field, = and its values"),
    "an empty value": ([CURLEW, "--vary", "sprites.per_line=8,,9", "-o", "x.csv"], "--vary: must be numbers, texts,"),
    "brackets left open": ([CURLEW, "--vary", "sprites.sizes=[[8,8]", "-o", "x.csv"], "got '[[8,8]'"),
    "a field twice": ([CURLEW, *GOOD, *GOOD, "-o", "x.csv"], "--vary: sprites.per_line is varied already"),
    "an unknown field": ([CURLEW, "--vary", "sprites.x=1", "-o", "x.csv"], "sprites.x: sprites has the keys count"),
    "another kind of file": ([CURLEW, *GOOD, "-o", "x.txt"], "must end in .csv or .json, or in / for a folder, got x.txt"),
    "a frame of no scene": ([CURLEW, *GOOD, "--frame", "1", "-o", "x.csv"], "is a frame of a scene: give --scene SCENE too"),
    "no jobs": ([CURLEW, *GOOD, "--jobs", "0", "-o", "x.csv"], "must be 1 to 256, got '0'"),
    "a chip that is not there": (["none.chip.toml", *GOOD, "-o", "x/"], "none.chip.toml: cannot be read"),
    "a scene that is not there": ([CURLEW, *GOOD, "--scene", "none.scene.toml", "-o", "x/"], "none.scene.toml: cannot be read"),
    "a wrong chip": (["bad.chip.toml", *GOOD, "-o", "x/"], "bad.chip.toml:2: nam: is not a known key"),
    "a wrong scene": ([CURLEW, *GOOD, "--scene", "bad.scene.toml", "-o", "x/"], "bad.scene.toml:3: frame: is not a known key"),
    "too many points": (
        [CURLEW, "--vary", f"frame.dot_clock={','.join(map(str, range(1000, 1400)))}",
         "--vary", f"sprites.count={','.join(map(str, range(1, 400)))}", "-o", "x.csv"],
        "a sweep has at most 100,000 points, got 159,600",
    ),
    "another file for a journal": ([CURLEW, *GOOD, "-o", "y.csv"], "y.csv.journal: is not a sweep's journal"),
}  # fmt: skip


@pytest.mark.parametrize("what", MISUSED)
def test_wrong_input_ends_with_2_and_nothing_is_written(tmp_path, monkeypatch, capsys, what):
    words, told = MISUSED[what]
    monkeypatch.chdir(tmp_path)
    Path("bad.chip.toml").write_text('name = "Bad"\nnam = "Bad"\n', "utf-8")
    Path("bad.scene.toml").write_text('name = "Bad"\nchip = "bad.chip.toml"\nframe = 3\n', "utf-8")
    Path("y.csv.journal").write_text("remember the milk\n", "utf-8")
    before = sorted(tmp_path.rglob("*"))
    assert main(["sweep", *words]) == 2
    out, err = capsys.readouterr()
    assert not out
    assert told in err
    assert "Traceback" not in err
    assert sorted(tmp_path.rglob("*")) == before
