"""Do the commands do what they say, and leave nothing behind where they cannot?"""

from __future__ import annotations

import csv
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from refusal import refused
from soaked import few

import vdpsim
from vdpsim.cli import main
from vdpsim.cli.say import OutputError, flush, say

ROOT = Path(__file__).resolve().parents[2]
MARSH = "scenes/saltmarsh.scene.toml"


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with a copy of the shipped scenes, in which the command runs."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes", copy_function=shutil.copyfile)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def new_files(place):
    """What a command has left in ``place`` beside the scenes."""
    return sorted(
        str(path.relative_to(place)) for path in place.rglob("*") if "scenes" not in path.parts and path.is_file()
    )


def dots(path):
    """The picture at ``path`` as RGB dots."""
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def test_render_writes_the_picture_that_python_gets(place, capsys):
    assert main(["render", MARSH, "-o", "marsh.png"]) == 0
    assert new_files(place) == ["marsh.png"]
    assert np.array_equal(dots("marsh.png"), vdpsim.render(vdpsim.load_scene(MARSH)).rgb)
    assert capsys.readouterr() == ("", "")


def test_scale_and_border(place):
    frame = vdpsim.render(vdpsim.load_scene(MARSH))
    left, right, top, bottom = frame.border
    assert main(["render", MARSH, "-o", "marsh.png", "--scale", "2", "--border"]) == 0
    high, wide = frame.rgb.shape[:2]
    assert dots("marsh.png").shape == (2 * (top + high + bottom), 2 * (left + wide + right), 3)
    assert np.array_equal(dots("marsh.png")[2 * top :: 2, 2 * left :: 2][:high, :wide], frame.rgb)


def test_the_csv_log_has_a_row_a_line_and_a_column_a_client(place):
    frame = vdpsim.render(vdpsim.load_scene(MARSH))
    assert main(["render", MARSH, "--log", "marsh.csv"]) == 0
    with open("marsh.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    counted = ["total", "sprites_found", "sprites_drawn", "sprites_dropped", "refresh", "cpu", "idle", "missed"]
    assert list(rows[0]) == ["line", *frame.log.clients, *counted]
    assert all(sum(int(row[name]) for name in ("total", "refresh", "cpu", "idle")) == 384 for row in rows)
    assert [int(row["line"]) for row in rows] == list(range(len(frame.rgb)))
    assert sum(int(row["total"]) for row in rows) == frame.log.total
    for client, counts in frame.log.by_line.items():
        assert [int(row[client]) for row in rows] == counts.tolist()


def test_the_json_log_tells_the_summary_the_lines_the_drops_and_the_collisions(place):
    frame = vdpsim.render(vdpsim.load_scene("scenes/flock.scene.toml"))
    assert main(["render", "scenes/flock.scene.toml", "--log", "flock.json"]) == 0
    told = json.loads(Path("flock.json").read_text(encoding="utf-8"))
    assert list(told) == ["summary", "lines", "drops", "collisions", "raised", "slots", "missed", "transfers"]
    summary = told["summary"]
    assert (summary["total"], summary["clients"]) == (frame.log.total, frame.log.by_client)
    assert summary["worst_line"]["total"] == max(line["total"] for line in told["lines"]) == int(frame.log.totals.max())
    assert summary["sprites_dropped"] == len(told["drops"]) > 0
    assert [(drop["line"], drop["sprite"], drop["reason"]) for drop in told["drops"]] == frame.drops.tolist()
    assert [tuple(found.values()) for found in told["collisions"]] == frame.collisions.tolist() != []
    assert [tuple(found.values()) for found in told["raised"]] == frame.raised.tolist() != []
    assert told == vdpsim.log_data(frame)


def test_the_json_log_tells_the_slots_of_every_line_and_the_transfers(place):
    """Line 60: 36 cells and 72 accesses of their rows in each layer, refresh's 4, and 12 of the CPU's bytes."""
    assert main(["render", "scenes/slipway.scene.toml", "--log", "slipway.json"]) == 0
    told = json.loads(Path("slipway.json").read_text(encoding="utf-8"))
    frame = vdpsim.render(vdpsim.load_scene("scenes/slipway.scene.toml"))
    assert [tuple(row.values()) for row in told["slots"]] == [
        (line, *counts, sum(counts), 384 - sum(counts)) for line, counts in enumerate(frame.slots.counts.tolist())
    ]
    assert list(told["slots"][0]) == ["line", *frame.log.clients, "refresh", "cpu", "used", "idle"]
    assert told["slots"][60]["used"] == 2 * (36 + 72) + 4 + 12
    summary = told["summary"]
    used = [row["used"] for row in told["slots"]]
    assert summary["fullest_line"] == {
        "line": used.index(max(used)), "used": max(used), "idle": 384 - max(used),
    }  # fmt: skip
    assert (summary["slots_per_line"], summary["slots_used"] + summary["slots_idle"]) == (384, 384 * 312)
    assert (summary["missed"], told["missed"]) == (0, [])
    assert [tuple(one.values()) for one in told["transfers"]] == frame.transfers.tolist() != []


UNTIMED = """
name = "Still"
palette = { entries = 4, bank_size = 2, red = "0", green = "1", blue = "2" }
memory = { size = 1024, bytes_per_access = 1 }
layers = [{ name = "all", modes = [{ name = "dots", kind = "bitmap", bits_per_dot = 1, width = 64, height = 64 }] }]
ladder = [{ source = "all" }]
frame = { width = 64, height = 64, dot_clock = 1_000_000, dots_per_line = 80, lines_per_frame = 80 }
"""


def untimed():
    """A scene on a chip without a time table."""
    Path("still.chip.toml").write_text(UNTIMED, encoding="utf-8")
    Path("still.scene.toml").write_text('name = "Still"\nchip = "still.chip.toml"\n', encoding="utf-8")
    return "still.scene.toml"


def test_a_chip_without_time_has_no_slots_in_its_logs(place):
    assert main(["render", untimed(), "-o", "s.png", "--log", ".csv", "--damage"]) == 0
    assert (
        Path("s.csv")
        .read_text(encoding="utf-8")
        .startswith("line,all.bitmap,total,sprites_found,sprites_drawn,sprites_dropped\n0,8,8,0,0,0\n")
    )
    assert main(["render", "still.scene.toml", "--log", "s.json"]) == 0
    told = json.loads(Path("s.json").read_text(encoding="utf-8"))
    assert list(told) == ["summary", "lines", "drops", "collisions", "raised"]
    assert "slots_per_line" not in told["summary"]


@pytest.mark.parametrize("word", ["--trace", "--busmap"])
def test_a_chip_without_time_has_nothing_to_trace(place, capsys, word):
    name = untimed()
    before = new_files(place)
    assert main(["render", name, MARSH, word, "out/"]) == 2
    err = capsys.readouterr().err
    assert f"vdpsim render: {word}: needs a chip with a time table; Still, of still, has none" in err
    assert new_files(place) == before


def test_trace_and_bus_map_are_those_that_python_gets(place):
    frame = vdpsim.render(vdpsim.load_scene(MARSH), trace=True)
    assert main(["render", MARSH, "--trace", "marsh.npz", "--busmap", "bus.png", "--scale", "2"]) == 0
    assert new_files(place) == ["bus.png", "marsh.npz"]
    assert Path("marsh.npz").read_bytes() == vdpsim.trace_npz(frame)
    assert np.array_equal(dots("bus.png"), np.asarray(vdpsim.bus_map(frame, 2)))


def test_traces_and_bus_maps_of_several_frames_go_into_folders(place):
    words = [
        "render",
        "scenes/slipway.scene.toml",
        "--frames",
        "0:3:2",
        "--trace",
        "out/",
        "--busmap",
        "out/",
        "-o",
        "out/",
    ]
    assert main(words) == 0
    names = [f"out/slipway-000{frame}{end}" for frame in (0, 2) for end in ("-bus.png", ".npz", ".png")]
    assert new_files(place) == sorted(names)


def slow(place):
    """Curlew with half its memory's speed: two layers of tiles do not fit."""
    text = Path("scenes/chips/curlew.chip.toml").read_text(encoding="utf-8")
    Path("slow.chip.toml").write_text(
        re.sub(r"accesses_per_dot = 1 ", 'accesses_per_dot = "1/2" ', text), encoding="utf-8"
    )


def test_a_chip_that_does_not_fit_ends_with_status_1_and_writes_nothing(place, capsys):
    slow(place)
    words = ["render", MARSH, "scenes/tidetable.scene.toml", "--chip", "slow.chip.toml", "-o", "out/", "--log", ".csv"]
    assert main(words) == 1
    out, err = capsys.readouterr()
    assert not out
    assert err.startswith("vdpsim: saltmarsh, frame 0: Curlew does not fit: on line 0 ")
    assert len(err.splitlines()) == 1
    assert new_files(place) == ["slow.chip.toml"]


def test_the_frame_that_does_not_fit_is_told(place, capsys):
    """Both layers are off, but for frame 2: switched on at the end of frame 1, and off again at its own end."""
    slow(place)
    text = Path("scenes/ferry.scene.toml").read_text(encoding="utf-8")
    writes = [("", 311, 0), ("frame = 1\n", 311, 1)]
    text += "".join(
        f'[[writes]]\n{when}line = {line}\nregister = "{name}"\nvalue = {value}\n'
        for when, line, value in writes
        for name in ("near.enable", "far.enable")
    )
    text = text.replace("[registers]", '[registers]\n"near.enable" = 0\n"far.enable" = 0')
    Path("scenes/later.scene.toml").write_text(text, encoding="utf-8")
    assert (
        main(["render", "scenes/later.scene.toml", "--chip", "slow.chip.toml", "--frames", "0:5:2", "-o", "out/"]) == 1
    )
    assert "vdpsim: later, frame 2: Curlew does not fit" in capsys.readouterr().err
    assert new_files(place) == ["slow.chip.toml"]


def test_damage_is_drawn_and_told(place, capsys):
    slow(place)
    words = ["render", MARSH, "--chip", "slow.chip.toml", "-o", "x.png", "--log", "x.json", "--damage"]
    assert main(words) == 0
    frame = vdpsim.render(vdpsim.load_scene(MARSH, chip=vdpsim.load_chip("slow.chip.toml")), damage=True)
    told = json.loads(Path("x.json").read_text(encoding="utf-8"))
    late = frame.missed.sum(axis=1)
    where = np.flatnonzero(late)
    start = f"saltmarsh: {late.sum()} accesses missed on {len(where)} lines from line {where[0]} to line {where[-1]}: "
    err = capsys.readouterr().err
    assert err.startswith(start)
    assert f"{frame.missed[:, frame.log.clients.index('far.cells')].sum()} of far.cells" in err
    assert told["summary"]["missed"] == sum(one["accesses"] for one in told["missed"]) == late.sum() > 0
    assert [row["missed"] for row in told["lines"]] == late.tolist()
    assert np.array_equal(dots("x.png"), frame.rgb)


def test_several_scenes_go_into_a_folder_each_with_its_log(place):
    assert main(["render", MARSH, "scenes/flock.scene.toml", "-o", "out/deep/", "--log", ".csv"]) == 0
    assert new_files(place) == [
        f"out/deep/{name}" for name in ("flock.csv", "flock.png", "saltmarsh.csv", "saltmarsh.png")
    ]


def test_numbered_frames_are_the_frames_of_the_scene(place):
    assert main(["render", "scenes/dusk.scene.toml", "--frames", "1:6:2", "-o", "dusk/"]) == 0
    assert new_files(place) == ["dusk/dusk-0001.png", "dusk/dusk-0003.png", "dusk/dusk-0005.png"]
    assert main(["render", "scenes/dusk.scene.toml", "--frame", "3", "-o", "three.png"]) == 0
    assert Path("three.png").read_bytes() == Path("dusk/dusk-0003.png").read_bytes()


def test_views_show_each_source_alone_and_who_shows_where(place):
    frame = vdpsim.render(vdpsim.load_scene(MARSH), planes=True)
    assert main(["render", MARSH, "--views", "views"]) == 0
    sources = [name for name in frame.sources if name != "backdrop"]
    assert new_files(place) == sorted(f"views/saltmarsh-{name}.png" for name in [*sources, "source-map"])
    for name in sources:
        plane = frame.planes[name]
        assert np.array_equal(dots(f"views/saltmarsh-{name}.png")[plane.opaque], plane.rgb[plane.opaque])
    shown = dots("views/saltmarsh-source-map.png")[: frame.height]
    for number in range(len(frame.sources)):
        colours = np.unique(shown[frame.source == number].reshape(-1, 3), axis=0)
        assert len(colours) <= 1, f"one colour a source, and {frame.sources[number]} has {len(colours)}"


def test_another_chip_draws_the_same_scene(place):
    assert main(["render", "scenes/ferry.scene.toml", "-o", "curlew.png"]) == 0
    assert (
        main(["render", "scenes/ferry.scene.toml", "-o", "dunlin.png", "--chip", "scenes/chips/dunlin.chip.toml"]) == 0
    )
    assert Path("curlew.png").read_bytes() != Path("dunlin.png").read_bytes()


def test_the_same_input_gives_the_same_bytes(place):
    for name in ("first.png", "second.png"):
        assert main(["render", MARSH, "-o", name]) == 0
    assert Path("first.png").read_bytes() == Path("second.png").read_bytes()


def test_check_says_ok_for_every_shipped_file(place, capsys):
    files = sorted(map(str, [*Path("scenes").glob("chips/*.chip.toml"), *Path("scenes").glob("*.scene.toml")]))
    assert main(["check", *files]) == 0
    out, err = capsys.readouterr()
    assert [line.split(":")[0] for line in out.splitlines()] == [f"OK {file}" for file in files]
    assert not err


def test_check_tells_every_mistake_of_every_file_and_goes_on(place, capsys):
    chip = Path("scenes/chips/curlew.chip.toml").read_text(encoding="utf-8")
    chip = re.sub(r"^width = .*", "width = 288\nhight = 4", chip, count=1, flags=re.MULTILINE)
    chip = re.sub(r"^bytes_per_access = .*", "bytes_per_access = 3", chip, flags=re.MULTILINE)
    Path("bad.chip.toml").write_text(chip, encoding="utf-8")
    assert main(["check", "bad.chip.toml", "scenes/chips/dunlin.chip.toml", "none.scene.toml", "other.txt"]) == 2
    out, err = capsys.readouterr()
    assert out.startswith("OK scenes/chips/dunlin.chip.toml: Dunlin")
    for told in (
        "hight: is not a known key",
        "memory.bytes_per_access: ",
        "none.scene.toml: cannot be read",
        "other.txt: the name must end in",
    ):
        assert told in err
    assert "Traceback" not in err


def test_map_prints_who_owns_which_bytes(place, capsys):
    assert main(["map", MARSH]) == 0
    out = capsys.readouterr().out
    assert out.rstrip("\n") == vdpsim.load_scene(MARSH).memory_map().rstrip("\n")
    assert "0x" in out


@pytest.mark.parametrize("kind", ["chip", "scene"])
def test_schema_prints_json_schema(kind, capsys):
    assert main(["schema", kind]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == vdpsim.schema(kind)
    assert told["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert told["additionalProperties"] is False
    assert "name" in told["required"]


MISUSED = {
    "nothing is asked for": (["render", MARSH], "nothing is asked for"),
    "several pictures in one file": (
        ["render", MARSH, "scenes/flock.scene.toml", "-o", "x.png"],
        "several pictures need a folder",
    ),
    "frames of two scenes in one file": (
        ["render", MARSH, "scenes/flock.scene.toml", "--frames", "0:3", "-o", "x.png"],
        "several pictures need a folder",
    ),
    "not an animation": (
        ["render", MARSH, "--frames", "0:3", "-o", "x.mp4"],
        "an animation must end in .png, .gif, .webp, or in / for a folder, got x.mp4",
    ),
    "logs beside an animation": (
        ["render", MARSH, "--frames", "0:3", "-o", "x.png", "--log", ".csv"],
        "logs of several frames need a folder of pictures, -o DIR/, got x.png",
    ),
    "not a PNG": (["render", MARSH, "-o", "x.jpg"], "must end in .png, or in / for a folder, got x.jpg"),
    "not a log": (["render", MARSH, "--log", "x.txt"], "must end in .csv or .json, got x.txt"),
    "a log beside nothing": (["render", MARSH, "--log", ".csv"], "needs -o"),
    "several logs in one file": (
        ["render", MARSH, "--frames", "0:3", "-o", "x/", "--log", "x.csv"],
        "several logs need just",
    ),
    "several traces in one file": (
        ["render", MARSH, "--frames", "0:3", "--trace", "x.npz"],
        "several traces need a folder",
    ),
    "not a trace": (["render", MARSH, "--trace", "x.csv"], "must end in .npz, or in / for a folder, got x.csv"),
    "several bus maps in one file": (
        ["render", MARSH, "scenes/flock.scene.toml", "--busmap", "x.png"],
        "--busmap: several pictures need a folder",
    ),
    "not a bus map": (["render", MARSH, "--busmap", "x.npz"], "must end in .png, or in / for a folder, got x.npz"),
    "a bus map over the picture": (
        ["render", MARSH, "--busmap", "./x.png", "-o", "x.png"],
        "--busmap: must be another file than the picture's",
    ),
    "views of many frames": (["render", MARSH, "--frames", "0:3", "--views", "v"], "shows one frame"),
    "one name twice": (["render", MARSH, MARSH, "-o", "x/"], "two scenes would have the same file name, saltmarsh.png"),
    "scale 0": (["render", MARSH, "-o", "x.png", "--scale", "0"], "must be 1 to 16, got '0'"),
    "scale 17": (["render", MARSH, "-o", "x.png", "--scale", "17"], "must be 1 to 16, got '17'"),
    "frame -1": (["render", MARSH, "-o", "x.png", "--frame=-1"], "must be 0 to 99999, got '-1'"),
    "no frames": (["render", MARSH, "-o", "x/", "--frames", "3:3"], "A below B"),
    "step 0": (["render", MARSH, "-o", "x/", "--frames", "0:3:0"], "a STEP from 1"),
    "one number": (["render", MARSH, "-o", "x/", "--frames", "3"], "must be A:B"),
    "no such scene": (["render", "no.scene.toml", "-o", "x.png"], "no.scene.toml: cannot be read"),
    "no such chip": (["render", MARSH, "-o", "x.png", "--chip", "no.chip.toml"], "no.chip.toml: cannot be read"),
    "one bad of two": (["render", MARSH, "no.scene.toml", "-o", "x/"], "no.scene.toml: cannot be read"),
    "unknown command": (["draw"], "invalid choice: 'draw'"),
    "abbreviated option": (["render", MARSH, "--sca", "2", "-o", "x.png"], "unrecognized arguments: --sca"),
}


@pytest.mark.parametrize("name", MISUSED)
def test_a_wrong_command_line_is_told_and_nothing_is_written(place, capsys, name):
    words, told = MISUSED[name]
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert told in err
    assert "Traceback" not in err
    assert not out
    assert new_files(place) == []
    assert sorted(path.name for path in place.iterdir()) == ["scenes"]


def test_the_largest_scale_is_allowed(place):
    assert main(["render", MARSH, "-o", "x.png", "--scale", "16"]) == 0
    frame = vdpsim.load_scene(MARSH).chip.frame
    assert dots("x.png").shape == (frame.height * 16, frame.width * 16, 3)


def test_a_file_where_a_folder_should_be_is_told_and_nothing_is_written(place, capsys):
    Path("taken").write_text("mine", encoding="utf-8")
    assert main(["render", MARSH, "--log", "good.csv", "-o", "taken/x.png"]) == 2
    assert "vdpsim: " in (err := capsys.readouterr().err)
    assert "taken" in err
    assert "Traceback" not in err
    assert new_files(place) == ["taken"]
    assert Path("taken").read_text(encoding="utf-8") == "mine"


def test_an_old_picture_stays_whole_where_the_new_one_fails(place, capsys):
    Path("x.png").write_bytes(b"old")
    Path("taken").write_text("mine", encoding="utf-8")
    assert main(["render", MARSH, "-o", "x.png", "--views", "taken/views"]) == 2
    assert capsys.readouterr().err
    assert Path("x.png").read_bytes() == b"old"
    assert new_files(place) == ["taken", "x.png"]


def test_a_folder_in_the_way_of_a_log_is_told(place, capsys):
    Path("x.csv").mkdir()
    assert main(["render", MARSH, "--log", "x.csv"]) == 2
    assert "x.csv: Is a directory" in capsys.readouterr().err


def test_a_command_in_a_thread_leaves_signals_alone(capsys):
    """Python lets the main thread alone set them."""
    with ThreadPoolExecutor(1) as other:
        assert other.submit(main, ["schema", "chip"]).result() == 0
    assert json.loads(capsys.readouterr().out)["title"] == "Chip"


def test_without_a_stdout_a_command_that_has_something_to_say_fails(monkeypatch, capsys):
    monkeypatch.setattr(sys, "stdout", None)
    flush()
    with refused(OutputError, "it is closed"):
        say("anything")
    assert main(["schema", "chip"]) == 2
    assert "it is closed" in capsys.readouterr().err


def test_interrupting_is_no_accident(place, monkeypatch, capsys):
    def interrupted(*_words, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr(vdpsim, "load_scene", interrupted)
    assert main(["map", MARSH]) == 130
    assert capsys.readouterr().err == "vdpsim: interrupted\n"


@pytest.mark.parametrize("fault", [ValueError("ours"), TypeError("a\nb\x1b"), RecursionError("deep"), AssertionError()])
def test_a_fault_of_our_own_is_not_dressed_up_as_bad_input_or_a_verdict(place, monkeypatch, capsys, fault):
    """Status 70, one line that says what to send; where it happened stands there only for those who ask."""

    def faulty(*_words, **_options):
        raise fault

    monkeypatch.setattr(vdpsim, "load_scene", faulty)
    assert main(["map", MARSH]) == 70
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert re.match(
        rf"vdpsim: a fault of vdpsim itself, please report it: {type(fault).__name__}: .*VDPSIM_DEBUG=1", told
    )
    monkeypatch.setenv("VDPSIM_DEBUG", "1")
    assert main(["map", MARSH]) == 70
    assert "Traceback (most recent call last)" in capsys.readouterr().err


def test_too_little_memory_is_told_with_what_to_make_smaller(place, monkeypatch, capsys):
    def greedy(*_words, **_options):
        raise MemoryError

    monkeypatch.setattr(vdpsim, "load_scene", greedy)
    assert main(["map", MARSH]) == 2
    assert capsys.readouterr().err.startswith("vdpsim: not enough memory: use a smaller --scale")


@pytest.mark.ci
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="limits of a process as Linux keeps them")
def test_a_process_without_memory_ends_with_status_2(place):
    """300,000 KiB are enough to load everything, and not for pictures of 16 x 16."""
    words = f"ulimit -v 300000; exec {shlex.quote(sys.executable)} -m vdpsim render {MARSH} --views v --scale 16"
    done = subprocess.run(["sh", "-c", words], capture_output=True, text=True, check=False)
    assert (done.returncode, new_files(place)) == (2, []), done.stderr
    assert "not enough memory" in done.stderr


TALKS = [
    "schema chip",
    f"map {MARSH}",
    "check scenes/chips/dunlin.chip.toml",
    "frame 640x480 320x480",
    "--help",
    "--version",
    "render --help",
    "compare scenes/chips/dunlin.chip.toml scenes/chips/curlew.chip.toml",
    "budget --json scenes/chips/dunlin.chip.toml",
]


WAYS = [("", ">&-", "Bad file descriptor"), ("ulimit -f 0; ", "> told", "File too large")]
"""A closed output, and a file that must not grow: a full disk in small."""


@pytest.mark.parametrize(
    ("command", "way"),
    few(product(TALKS, WAYS), [("schema chip", WAYS[0]), ("render --help", WAYS[1])].__contains__),
)
def test_an_output_that_takes_nothing_is_told(place, command, way):
    before, end, told = way
    done = shell(f"{command} {end}", before)
    assert (done.returncode, done.stderr) == (2, f"vdpsim: standard output cannot be written: {told}\n")


@pytest.mark.parametrize("way", ["2>&-", "2>/dev/full"])
@pytest.mark.parametrize(
    ("command", "status"),
    few(
        [("check nope", 2), ("check", 2), (f"check {MARSH}", 0), (f"render {MARSH} -o a.png", 0)],
        ("check nope", 2).__eq__,
    ),
)
def test_where_nothing_can_be_told_the_status_tells_and_no_message_takes_another_way(place, way, command, status):
    done = shell(f"{command} {way}")
    assert done.returncode == status
    assert "nope" not in done.stdout
    assert "usage" not in done.stdout
    assert new_files(place) == (["a.png"] if "a.png" in command else [])


def test_a_picture_needs_no_output_to_talk_to(place):
    assert shell(f"render {MARSH} -o a.png >&- 2>&- <&-").returncode == 0
    assert np.array_equal(dots("a.png"), vdpsim.render(vdpsim.load_scene(MARSH)).rgb)


def shell(command, before=""):
    """The command as a shell runs it, with its ways to send output elsewhere."""
    words = f"{before}exec {shlex.quote(sys.executable)} -m vdpsim {command}"
    return subprocess.run(["sh", "-c", words], capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    "number", ["000000001999", "17", "0", "00", "9" * 5000, "0" * 5000, "\u0663", "1_0", "+1", "", "x" * 5000]
)
def test_a_number_is_told_by_its_value_and_shown_in_short(place, capsys, number):
    assert main(["render", MARSH, "-o", "a.png", f"--scale={number}"]) == 2
    told = capsys.readouterr().err.splitlines()[-1]
    assert "must be 1 to 16, got '" in told
    assert len(told) < 200


def test_zeros_before_a_number_change_nothing(place):
    assert main(["render", MARSH, "-o", "a.png", "--scale", "0" * 5000 + "2"]) == 0
    assert dots("a.png").shape[0] == 2 * vdpsim.load_scene(MARSH).chip.frame.height
    assert main(["render", MARSH, "-o", "b.png", "--frame", "00000000199999999"]) == 2


def test_a_frame_that_lasts_longer_than_the_file_can_say_is_refused_in_words(place, capsys):
    """GIF holds 655.35 s: a step of 50,000 frames of 60 a second is more."""
    dusk = "scenes/dusk.scene.toml"
    assert main(["render", dusk, "--frames", "0:1:50000", "-o", "a.gif"]) == 2
    assert "an animation in .gif: a frame must last longer than 0 and at most 655.35 s, got " in capsys.readouterr().err
    assert main(["render", dusk, "--frames", "0:1:30000", "-o", "a.gif"]) == 0
    assert new_files(place) == ["a.gif"]


def test_a_journal_that_is_no_file_is_refused(place, capsys):
    Path("s.csv.journal").symlink_to("/dev/zero")
    assert main(["sweep", "scenes/chips/dunlin.chip.toml", "--vary", "sprites.per_line=1", "-o", "s.csv"]) == 2
    assert "s.csv.journal: cannot be read: it is no regular file" in capsys.readouterr().err


def test_progress_is_shown_on_a_terminal_alone(place, monkeypatch, capsys):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    assert main(["render", "scenes/dusk.scene.toml", "--frames", "0:10", "-o", "dusk/"]) == 0
    assert len(new_files(place)) == 10
    assert not capsys.readouterr().out


def test_every_command_helps_by_example(capsys):
    assert main(["--help"]) == 0
    out = capsys.readouterr().out
    for command in ("render", "check", "map", "schema"):
        assert command in out
        assert main([command, "--help"]) == 0
        assert f"examples:\n  vdpsim {command} " in capsys.readouterr().out


def test_a_process_of_its_own_says_its_version():
    """``python -m vdpsim`` and the installed command are the same door."""
    for words in ([sys.executable, "-m", "vdpsim"], [str(Path(sys.executable).with_name("vdpsim"))]):
        done = subprocess.run([*words, "--version"], capture_output=True, text=True, check=True)
        assert done.stdout == f"vdpsim {vdpsim.__version__}\n"


def test_a_reader_who_has_seen_enough_is_no_error():
    """``vdpsim schema chip | head``: no traceback."""
    read, write = os.pipe()
    os.close(read)
    words = [sys.executable, "-m", "vdpsim", "schema", "chip"]
    done = subprocess.run(words, stdout=write, stderr=subprocess.PIPE, text=True, check=False)
    os.close(write)
    assert (done.returncode, done.stderr) == (2, "")


@pytest.mark.parametrize(
    ("words", "room", "told"),
    [
        (["-o", "a.png", "--scale", "2"], "door.given.MOST_DOTS", "--scale: scale must leave at most 1 dots"),
        (["--views", "v/", "--scale", "2"], "door.given.MOST_DOTS", "--scale: scale must leave at most 1 dots"),
        (["--busmap", "b.png"], "door.given.MOST_DOTS", "--scale: scale must leave at most 1 dots"),
        (
            ["--busmap", "b.png"],
            "machine.machine.MOST_TRACED",
            "--busmap: a trace must be of a frame of at most 1 slots",
        ),
        (["--trace", "t.npz"], "machine.machine.MOST_TRACED", "--trace: a trace must be of a frame of at most 1 slots"),
    ],
)
def test_what_would_be_too_large_is_told_before_anything_is_drawn(place, monkeypatch, capsys, words, room, told):
    monkeypatch.setattr(f"vdpsim.{room}", 1)
    monkeypatch.setattr("vdpsim.frames", None)
    assert main(["render", "scenes/slipway.scene.toml", *words]) == 2
    assert told in capsys.readouterr().err
    assert new_files(place) == []


class Deaf:
    """A stdout that takes nothing: whoever read it is gone, which is seen at once or not before what waits is sent."""

    encoding = "utf-8"

    def __init__(self, at):
        self.at = at

    def write(self, text):
        """Take it, or not."""
        if self.at == "write":
            raise BrokenPipeError(32, "Broken pipe")

    def flush(self):
        """Send what waits."""
        raise BrokenPipeError(32, "Broken pipe")

    def isatty(self):
        """Whether a person looks on."""
        return False


TOLD = [
    "render scenes/dusk.scene.toml --frames 0:2 -o a.png",
    "budget slow.chip.toml --witness out/w.scene.toml",
    "compare scenes/chips/curlew.chip.toml scenes/chips/dunlin.chip.toml --scene scenes/ferry.scene.toml -o out/",
    "sweep scenes/chips/curlew.chip.toml --vary sprites.per_line=4,8 --jobs 1 -o out.csv",
    "fit scenes/art/birds.png --chip scenes/chips/curlew.chip.toml --sprites 16x16 -o out/",
]


@pytest.mark.parametrize(
    ("command", "at"), few(product(TOLD, ["write", "flush"]), lambda one: one[1] == "write" or one[0] == TOLD[1])
)
def test_a_command_that_nobody_hears_fails_and_writes_nothing(place, monkeypatch, capsys, command, at):
    slow(place)
    monkeypatch.setattr(sys, "stdout", Deaf(at))
    assert main(command.split()) == 2
    assert [name for name in new_files(place) if name not in {"slow.chip.toml", "out.csv.journal"}] == []
    monkeypatch.undo()
    monkeypatch.chdir(place)
    assert main(command.split()) in {0, 1}
    assert new_files(place) != ["slow.chip.toml"]
