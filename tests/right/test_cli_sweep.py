"""Does ``vdpsim sweep`` write what Python gets, say how it went, and go on where it was stopped?"""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import vdpsim
from vdpsim.cli import main
from vdpsim.cli.commands import sweep as command
from vdpsim.sweeping import rows

SCENES = Path(__file__).resolve().parents[2] / "scenes"
DUNLIN = str(SCENES / "chips" / "dunlin.chip.toml")
FERRY = str(SCENES / "ferry.scene.toml")
WORDS = ["sweep", DUNLIN, "--vary", "sprites.per_line=2,4", "--jobs", "1"]


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    """An empty folder to write into."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def written():
    """Everything that stands in the folder."""
    return sorted(str(path) for path in Path().rglob("*") if path.is_file())


def test_a_table_and_its_picture_are_those_that_python_gets(capsys):
    assert main([*WORDS, "-o", "s.csv"]) == 0
    found = vdpsim.sweep(DUNLIN, {"sprites.per_line": [2, 4]}, jobs=1)
    assert written() == ["s.csv", "s.png"]
    assert Path("s.csv").read_text("utf-8") == found.csv()
    assert Path("s.png").read_bytes() == vdpsim.png_bytes(found.picture())
    assert capsys.readouterr() == ("2 points: 2 fit; s.csv, s.png\n", "")


def test_a_folder_gets_both_tables(capsys):
    assert main([*WORDS, "--scene", FERRY, "--frame", "2", "-o", "out/deep/"]) == 0
    found = vdpsim.sweep(DUNLIN, {"sprites.per_line": [2, 4]}, scene=FERRY, frame=2, jobs=1)
    assert written() == ["out/deep/sweep.csv", "out/deep/sweep.json", "out/deep/sweep.png"]
    assert Path("out/deep/sweep.json").read_text("utf-8") == found.json()
    assert Path("out/deep/sweep.csv").read_text("utf-8") == found.csv()
    assert main([*WORDS, "-o", "out"]) == 0, "a folder that is there needs no /"
    assert "out/sweep.json" in capsys.readouterr().out


def test_json_alone(capsys):
    assert main([*WORDS, "-o", "s.json"]) == 0
    assert written() == ["s.json", "s.png"]
    assert json.loads(Path("s.json").read_text("utf-8"))["vary"] == {"sprites.per_line": [2, 4]}


def test_that_a_chip_does_not_fit_is_a_result(capsys):
    """At half their lead the cells of Dunlin's far layer come too late; a sweep looks for just that."""
    words = ["sweep", DUNLIN, "--vary", "time.clients.far.cells.lead=16,32", "--jobs", "1", "-o", "s.json"]
    assert main(words) == 0
    told = [row["verdict"] for row in json.loads(Path("s.json").read_text("utf-8"))["rows"]]
    assert told == ["does not fit", "fits"]
    assert capsys.readouterr().out == "2 points: 1 fit, 1 do not fit; s.json, s.png\n"


def test_a_point_that_fails_ends_with_1_and_all_the_others_are_written(capsys):
    vary = f"sprites.per_line={','.join(map(str, range(-6, 3)))}"
    assert main(["sweep", DUNLIN, "--vary", vary, "--jobs", "1", "-o", "s.json"]) == 1
    out, err = capsys.readouterr()
    assert out.startswith("9 points: 2 fit, 7 failed; ")
    assert f"vdpsim: point 0: {DUNLIN}:" in err
    assert "sprites.per_line: must be 1 to 1024, got -6" in err
    assert err.endswith("vdpsim: and 2 more points failed\n")
    told = json.loads(Path("s.json").read_text("utf-8"))["rows"]
    assert [row["error"] is None for row in told] == [False] * 7 + [True] * 2


VALUES = {
    "1,2, 30": [1, 2, 30],
    "0x10,1_000": [16, 1000],
    "1/2,3/2": ["1/2", "3/2"],
    "true,false": [True, False],
    "7:5,11": ["7:5", 11],
    '"7:5, 0","4"': ["7:5, 0", "4"],
    "'a,b',c": ["a,b", "c"],
    "at once,next line": ["at once", "next line"],
    "-,8": [None, 8],
    "-8": [-8],
    "[[8, 8]],[[16, 16], [8, 8]]": [[[8, 8]], [[16, 16], [8, 8]]],
    '{ clock = 1000, text = "a,]" }': [{"clock": 1000, "text": "a,]"}],
    "2020-01-02": ["2020-01-02"],
    "1.5": [1.5],
}


@pytest.mark.parametrize("text", VALUES)
def test_values_are_read_as_a_chip_file_writes_them(text):
    assert command._vary([f"a.b={text}"]) == ({"a.b": VALUES[text]}, [])


def test_a_value_that_is_nested_too_deeply_is_refused():
    vary, problems = command._vary([f"a.b={'[' * 500}{']' * 500}"])
    assert vary == {} and str(problems[0]).startswith("vdpsim sweep: --vary: is nested too deeply, got ")


@pytest.mark.parametrize("text", ["", "8,", '"8', "[8", "8]", "a=b", "x\ny = 1"])
def test_what_is_no_value_is_refused(text):
    vary, problems = command._vary([f"a.b={text}"])
    assert (vary, len(problems)) == ({}, 1)
    assert str(problems[0]).startswith("vdpsim sweep: --vary: must be numbers, texts, lists or tables")


def test_a_stopped_sweep_is_told_of_and_goes_on(capsys, monkeypatch):
    def stop(task, wanted, run=vdpsim.sweeping.points.run, done=[]):  # noqa: B006 - counts its calls
        done.append(wanted)
        if len(done) == 2:
            raise KeyboardInterrupt
        return run(task, wanted)

    with monkeypatch.context() as patch:
        patch.setattr("vdpsim.sweeping.workers.run", stop)
        assert main([*WORDS, "-o", "out/"]) == 130
    assert "finished points are in out/sweep.journal; the same command goes on from there" in capsys.readouterr().err
    assert written() == ["out/sweep.journal"]
    assert main([*WORDS, "-o", "out/"]) == 0
    assert capsys.readouterr().out.startswith("2 points (1 from the journal): 2 fit; ")
    assert written() == ["out/sweep.csv", "out/sweep.json", "out/sweep.png"]


def test_a_sweep_that_is_ended_by_force_leaves_its_points_and_no_process(place):
    """Its workers hold the other end of its stderr: that is closed only once all of them have ended."""
    words = [sys.executable, "-m", "vdpsim", "sweep", DUNLIN, "--jobs", "2", "-o", "s.csv", "--vary"]
    process = subprocess.Popen(
        [*words, f"sprites.per_line={','.join(map(str, range(1, 1001)))}"], stderr=subprocess.PIPE
    )
    while not Path("s.csv.journal").exists() and process.poll() is None:
        time.sleep(0.02)
    process.kill()
    process.communicate(timeout=30)
    assert process.returncode == -signal.SIGKILL
    done = subprocess.run([*words, "sprites.per_line=1,2,3,4,5,6,7,8"], capture_output=True, text=True, check=True)
    assert re.match(r"8 points \([1-8] from the journal\): 8 fit; s.csv, s.png$", done.stdout)
    assert written() == ["s.csv", "s.png"]


def test_a_pool_that_breaks_ends_with_2(capsys, monkeypatch):
    def broken(*words, **named):
        raise vdpsim.SweepStoppedError("the sweep has stopped: a process has died")

    monkeypatch.setattr("vdpsim.sweep", broken, raising=False)
    assert main([*WORDS, "-o", "s.csv"]) == 2
    assert capsys.readouterr().err == "vdpsim: the sweep has stopped: a process has died\n"
    assert written() == []


def test_outputs_that_cannot_be_written_leave_the_journal(capsys, monkeypatch):
    Path("s.png").write_bytes(b"mine")
    assert main([*WORDS, "-o", "s.csv"]) == 2
    assert "s.png: another file is there already" in capsys.readouterr().err
    assert written() == ["s.csv.journal", "s.png"]


def test_help_tells_every_column(capsys):
    assert main(["sweep", "--help"]) == 0
    told = capsys.readouterr().out
    for name in (*rows.COLUMNS, *rows.SCENE_COLUMNS):
        assert f"\n  {name} " in told


class Terminal:
    """A stderr that says it is a terminal."""

    def __init__(self):
        self.text = ""

    def isatty(self):
        """Yes."""
        return True

    def write(self, text):
        """Keep it."""
        self.text += text
        return len(text)

    def flush(self):
        """There is nothing to wait for."""


@pytest.mark.parametrize(("patience", "shown"), [(0.0, True), (60.0, False)])
def test_progress_is_shown_on_a_terminal_once_it_takes_a_while(monkeypatch, patience, shown):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(command, "PATIENCE", patience)
    monkeypatch.setenv("TERM", "xterm")  # whatever the terminal is that the suite runs in: a dumb one shows no bars
    assert main([*WORDS, "-o", "s.csv"]) == 0
    assert ("sweeping" in terminal.text) is shown
    assert ("2/2" in terminal.text) is shown
