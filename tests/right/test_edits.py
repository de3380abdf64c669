"""Are a person's files safe? What a command has read, what vdpsim has not written, and what was changed since."""

from __future__ import annotations

import json
import os
import shutil
import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from faults import contents, heeded, hidden
from soaked import few

import vdpsim
from vdpsim.cli import main
from vdpsim.files import guard, reading
from vdpsim.sweeping import points

SHIPPED = Path(__file__).resolve().parents[2]
CORPUS = Path(__file__).resolve().parents[1] / "refuses" / "corpus"
SMALL, TIMED = "scenes/chips/small.chip.toml", "scenes/chips/timed.chip.toml"
MARSH, OTHER, MOVING = (f"scenes/{name}.scene.toml" for name in ("good", "other", "good_cpu"))
ART = "scenes/art/two.png"
BIRDS, CURLEW = "scenes/art/birds.png", "scenes/chips/curlew.chip.toml"
FIT = ["fit", BIRDS, "--chip", CURLEW, "--sprites", "16x16", "-o", "out"]
SWEEP = ["sweep", SMALL, "--vary", "sprites.per_line=4", "--scene", MARSH, "--jobs", "1"]
COMMANDS = {
    "render": (["render", MARSH, "-o", "out/a.png", "--log", "out/a.csv"], ["out/a.png", "out/a.csv"]),
    "render DIR": (["render", MARSH, "-o", "out/"], ["out/good.png"]),
    "report": (["report", MARSH, "-o", "out/a.html"], ["out/a.html"]),
    "compare": (["compare", SMALL, TIMED, "--scene", MARSH, "-o", "out/"], ["out/good-compare.png"]),
    "sweep": ([*SWEEP, "-o", "out/a.csv"], ["out/a.csv", "out/a.png"]),
    "fit": (FIT, ["out/birds.scene.toml", "out/curlew.chip.toml"]),
    "export": (["export", MARSH, "--only", "memory", "-o", "out/"], ["out/README.md", "out/memory/video.hex"]),
    "guide": (["guide", "--html", "out/"], ["out/index.html", "out/words.html"]),
    "budget": (["budget", TIMED, "--witness", "out/a.scene.toml"], ["out/a.scene.toml", "out/timed.chip.toml"]),
}
"""Every command that writes, and files that it writes."""


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with two small scenes, and a record of what was written that is this test's."""
    for folder in ("art", "chips"):
        (tmp_path / "scenes" / folder).mkdir(parents=True)
    for name in (SMALL, TIMED, ART, MARSH, MOVING, "scenes/art/sixteen.bin", "scenes/art/ten.bin"):
        shutil.copy(CORPUS / Path(name).relative_to("scenes"), tmp_path / name)
    for name in (BIRDS, CURLEW):
        shutil.copy(SHIPPED / name, tmp_path / name)
    text = (tmp_path / MARSH).read_text("utf-8")
    (tmp_path / MARSH).write_text(text.replace('name = "Good"', 'name = "Good"\nframes = 3'), "utf-8")
    (tmp_path / OTHER).write_text(text.replace("#fff", "#0f0"), "utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path


def results() -> dict[str, bytes]:
    return contents(Path("out"))


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_writes_over_its_own_files_but_not_over_a_persons(place, capsys, command):
    words, names = COMMANDS[command]
    assert main(words) == 0
    first = results()
    assert main(words) == 0, "what vdpsim wrote it may write again"
    for name in names:
        Path(name).write_bytes(b"mine")
    edited = results()
    capsys.readouterr()
    assert main(words) == 2
    err = capsys.readouterr().err
    assert [name for name in names if f"{name}: another file is there already" in err] == names
    assert "--replace" in err
    assert {name: data for name, data in results().items() if not name.endswith(".journal")} == edited
    assert hidden(place) == []
    assert main([*words, "--replace"]) == 0
    assert results() == first
    assert main(words) == 0


def unlinkable(*_):
    raise OSError(1, "Operation not permitted")


def saved_in_place(path):
    path.write_bytes(b"mine, just now")


def saved_by_renaming(path):
    path.with_name("other").write_bytes(b"mine, just now")
    path.with_name("other").replace(path)


@pytest.mark.parametrize("links", [True, False])
@pytest.mark.parametrize("save", [saved_in_place, saved_by_renaming])
@pytest.mark.parametrize("name", ["a.csv", "a.png"])
def test_an_edit_that_comes_between_the_look_and_the_renames_is_kept(place, monkeypatch, capsys, save, name, links):
    words, _ = COMMANDS["render"]
    if not links:
        monkeypatch.setattr(os, "link", unlinkable)
    assert main(words) == 0
    assert main(words) == 0
    path = Path("out") / name
    before = {**results(), name: b"mine, just now"}
    noted = guard.note

    def note(pairs):
        noted(pairs)
        save(path)

    monkeypatch.setattr(guard, "note", note)
    assert main(["render", OTHER, *words[2:]]) == 2
    assert f"out/{name}: was changed while the command ran" in capsys.readouterr().err
    assert results() == before
    path.unlink()
    assert main(["render", OTHER, *words[2:]]) == 2, "nor is a file that has just appeared written over"
    assert results() == before


def test_a_file_that_holds_the_same_already_is_in_nobodys_way(place):
    words, _ = COMMANDS["render"]
    assert main(words) == 0
    shutil.rmtree("state")
    assert main(words) == 0
    assert main([words[0], OTHER, *words[2:]]) == 2, "but it is no file of vdpsim's by that"


def test_a_commands_inputs_are_not_written_over_whatever_is_asked_for(place, capsys):
    """Art by its own name, by a link, and by another name of the same file."""
    art = Path(ART)
    before = art.read_bytes()
    Path("link.png").symlink_to(art)
    os.link(art, "twin.png")
    for name in (str(art), "link.png", "twin.png"):
        assert main(["render", MARSH, "-o", name, "--log", "a.csv", "--replace"]) == 2
        assert f"{name}: is read by this command" in capsys.readouterr().err
    assert art.read_bytes() == before
    assert not Path("a.csv").exists()
    for words in (
        ["budget", TIMED, "--witness", TIMED, "--replace"],
        ["budget", TIMED, "--scene", MOVING, "--witness", MOVING, "--replace"],
    ):
        kept = contents(place / "scenes")
        assert main(words) == 2
        assert "is read by this command" in capsys.readouterr().err
        assert contents(place / "scenes") == kept


def test_fit_into_the_folder_of_its_own_chip_leaves_that_as_it_is(place):
    shutil.copytree("scenes/chips", "out")
    assert main([*FIT[:3], "out/curlew.chip.toml", *FIT[4:]]) == 0
    assert Path("out/curlew.chip.toml").read_bytes() == Path(CURLEW).read_bytes()


def test_python_writes_as_it_is_asked_to(place):
    frame = vdpsim.render(vdpsim.load_scene(MARSH))
    Path("a.png").write_bytes(b"mine")
    frame.save("a.png")
    assert Path("a.png").read_bytes() == frame.png()
    assert not Path("state").exists()


# One read, one answer.


@pytest.mark.parametrize("command", [name for name in COMMANDS if name != "guide"])  # which reads none
def test_each_file_is_read_once_and_a_later_save_changes_nothing(place, monkeypatch, command):
    """Every file that is opened for reading is spoilt at once: whoever reads it again, or copies it, would see that."""
    words, _ = COMMANDS[command]
    assert main(words) == 0
    wanted = results()
    shutil.rmtree("out")
    counts: dict[str, int] = {}
    bounded = reading._bounded

    def spoiling(file, most):
        data = bounded(file, most)
        name = str(Path(f"/proc/self/fd/{file.fileno()}").readlink())
        if "/scenes/" in name:
            counts[name] = counts.get(name, 0) + 1
            Path(name).write_bytes(b"spoilt")
        return data

    if not Path("/proc/self/fd").is_dir():
        pytest.skip("open files have no names here")
    monkeypatch.setattr(reading, "_bounded", spoiling)
    assert main(words) == 0
    assert counts and set(counts.values()) == {1}
    assert results() == wanted


def test_a_sweep_keeps_by_what_it_used(place, monkeypatch):
    """The art is saved anew while the sweep runs: its journal must not stand for the new art."""
    words = [*SWEEP[:2], "--vary", "sprites.per_line=4,8", *SWEEP[4:], "-o", "a.csv"]
    art = Path(ART)
    old, new = art.read_bytes(), (CORPUS / "art/two_banks.png").read_bytes()
    real = points._point

    def saved_meanwhile(*given, **named):
        art.write_bytes(new)
        return real(*given, **named)

    assert main(words) == 0
    wanted = Path("a.csv").read_bytes()
    monkeypatch.setattr(points, "_KEPT", [])
    monkeypatch.setattr(points, "_point", saved_meanwhile)
    assert main(words) == 0
    assert Path("a.csv").read_bytes() == wanted
    assert art.read_bytes() == new != old


# The record.


def record() -> Path:
    return Path("state/vdpsim/written")


def test_the_record_is_nobody_elses_and_lies_outside_of_the_results(place):
    words, names = COMMANDS["render"]
    assert main(words) == 0
    assert sorted(results()) == ["a.csv", "a.png"]
    assert stat.S_IMODE(record().stat().st_mode) == 0o600
    assert stat.S_IMODE(record().parent.stat().st_mode) == 0o700
    told = {json.loads(line.partition(" ")[2]) for line in record().read_text("ascii").splitlines() if line}
    assert told == {str(place / name) for name in names}


@pytest.mark.parametrize("damage", [b"\xff\x00 cut off", b'0123 "x"\n', b'\n0123456789abcdef0123456789abcdef "un\n'])
def test_damaged_lines_are_no_lines(place, damage):
    words, _ = COMMANDS["render"]
    record().parent.mkdir(parents=True)
    record().write_bytes(damage)
    assert main(words) == 0
    with open(record(), "ab") as file:
        file.write(damage)
    assert main(["render", OTHER, *words[2:]]) == 0


def test_without_a_record_results_stand_and_a_line_says_what_follows(place, capsys):
    words, _ = COMMANDS["render"]
    Path("state").write_bytes(b"no folder")
    assert main(words) == 0
    err = capsys.readouterr().err
    assert (
        err == "vdpsim: cannot note which files were written (Not a directory): the next run will need --replace\n"
        or ("File exists" in err and err.count("\n") == 1)
    )
    assert sorted(results()) == ["a.csv", "a.png"]
    assert main(["render", OTHER, *words[2:]]) == 2


def test_a_record_that_is_no_file_is_no_record(place, capsys):
    words, _ = COMMANDS["render"]
    record().parent.mkdir(parents=True)
    os.mkfifo(record())
    assert main(words) == 0
    assert "cannot note" in capsys.readouterr().err


def test_parallel_runs_do_not_lose_each_others_lines(place):
    """Threads open the record each for itself, as processes do."""
    names = [(f"/x/{number}", f"{number:032x}") for number in range(200)]
    with ThreadPoolExecutor(8) as several:
        list(several.map(lambda one: guard.note([one]), names))
    found = guard.known(path for path, _ in names)
    assert found == {path: {digest} for path, digest in names}


def test_a_long_record_loses_its_older_half(place, monkeypatch):
    monkeypatch.setattr(guard, "LARGEST", 4000)
    for number in range(200):
        guard.note([(f"/x/{number}", f"{number:032x}")])
    assert record().stat().st_size <= 4000 + 100
    found = guard.known(f"/x/{number}" for number in range(200))
    assert found["/x/199"] and not found["/x/0"]
    assert stat.S_IMODE(record().stat().st_mode) == 0o600


def test_a_long_record_of_the_same_is_only_made_shorter(place, monkeypatch):
    """What stands twice is left out, and then there is room for all."""
    monkeypatch.setattr(guard, "LARGEST", 4000)
    for number in range(100):
        guard.note([(f"/x/{number % 5}", "0" * 32)])
    assert guard.known(f"/x/{number}" for number in range(5)) == {f"/x/{number}": {"0" * 32} for number in range(5)}
    assert record().stat().st_size <= 4000


def test_a_record_that_is_far_too_long_begins_anew(place, monkeypatch):
    monkeypatch.setattr(guard, "LARGEST", 1000)
    monkeypatch.setattr(guard, "_READ", 4000)
    record().parent.mkdir(parents=True)
    record().write_text("x" * 4001, "ascii")
    guard.note([("/x", "0" * 32)])
    assert record().stat().st_size == 0
    guard.note([("/x", "0" * 32)])
    assert guard.known(["/x"]) == {"/x": {"0" * 32}}


def test_a_path_without_a_digest_is_no_line(place):
    record().parent.mkdir(parents=True)
    record().write_text(f'\nno digest "/x"\n{"1" * 32} "/x"\n{"2" * 32}  "/x"\n', "ascii")
    assert guard.known(["/x"]) == {"/x": {"1" * 32}}


def test_without_a_home_nothing_is_on_record_and_that_is_told(monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", "")
    monkeypatch.setattr(Path, "home", lambda: (_ for _ in ()).throw(RuntimeError("no home")))
    assert guard.known(["/x"]) == {"/x": set()}
    said = []
    guard.Guard(replace=False, told=said.append)._note([("/x", "0" * 32)])
    assert said == ["cannot note which files were written (no home): the next run will need --replace"]


def test_names_that_are_no_text_are_noted_too(place):
    name = os.fsdecode(b'/x/\xff\n"')
    guard.note([(name, "0" * 32)])
    assert guard.known([name]) == {name: {"0" * 32}}


def test_a_relative_state_home_is_ignored(monkeypatch, tmp_path):
    """By the XDG Base Directory Specification 0.8 paths in these variables must be absolute, and a relative one is ignored."""
    monkeypatch.setenv("HOME", str(tmp_path))
    for given in ("state", ""):
        monkeypatch.setenv("XDG_STATE_HOME", given)
        assert guard.place() == tmp_path / ".local/state/vdpsim/written"


@pytest.mark.parametrize(
    ("name", "status"), few([("SIGTERM", 143), ("SIGHUP", 129), ("SIGINT", 130)], ("SIGTERM", 143).__eq__)
)
def test_a_signal_ends_a_command_with_its_status_and_nothing_written(place, name, status):
    """Struck from within, while it draws: what was there before the command is there after it."""
    code = (
        "import signal, vdpsim\n"
        "from vdpsim.cli import main\n"
        "real = vdpsim.frames\n"
        f"def frames(*a, **k):\n    yield next(iter(real(*a, **k)))\n    signal.raise_signal(signal.{name})\n"
        "vdpsim.frames = frames\n"
        f"raise SystemExit(main(['render', '{MARSH}', '--frames', '0:3', '-o', 'out/']))\n"
    )
    with heeded():
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (status, "vdpsim: interrupted\n")
    assert not Path("out").exists()
    assert hidden(place) == []
