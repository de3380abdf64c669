"""Is what ``vdpsim new`` writes whole, right and fitting, whatever it is called and whatever is answered?"""

from __future__ import annotations

import os
import pty
import random
import re
import shutil
import subprocess
import sys
from itertools import product
from pathlib import Path, PurePosixPath

import numpy as np
import pytest
from refusal import refused
from soaked import every

import vdpsim
from vdpsim.cli import main
from vdpsim.sketching.answers import QUESTIONS, SIZES, Answers, read, said
from vdpsim.sketching.art import SKY, far
from vdpsim.sketching.chip_text import NAMES, chip_text
from vdpsim.sketching.fitting import need, sketch
from vdpsim.sketching.folder import files_of, stem_of, title_of

GRID = [name for name, one in QUESTIONS.items() if one.allowed]
DISPLAYS_AND_LAYERS = [*product(QUESTIONS["display"].allowed, QUESTIONS["layers"].allowed)]


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def loaded(folder, stem):
    """The folder's chip and scene."""
    return vdpsim.load_chip(folder / f"{stem}.chip.toml"), vdpsim.load_scene(folder / f"{stem}.scene.toml")


def test_without_sprites_there_is_no_bird():
    files = files_of(sketch(Answers(sprites=0), "tern"), "tern")
    assert {str(path) for path in files if path.suffix == ".png"} == {"art/near.png", "art/far.png"}
    (text,) = (data.decode() for path, data in files.items() if str(path).endswith(".scene.toml"))
    assert "bird" not in text and "[[sprites]]" not in text
    assert {"[[sprites]]", "[[patterns]]"} <= set(
        files_of(sketch(Answers(), "tern"), "tern")[PurePosixPath("tern.scene.toml")].decode().split("\n")
    )


FOLDERS = {
    "mychip": "mychip", "my chip": "my_chip", "it's \"so\" & $x": "it_s_so_x", "Бекас": "chip", "鷸": "chip", "2nd": "2nd",
    "Über-Chip": "uber_chip", "a.b": "a_b", "class": "class", "-": "chip", "x" * 200: "x" * 40, 'a\nb"""\\': "ab", "#'": "chip",
    "a\u202eb": "ab",
}  # fmt: skip


@pytest.mark.parametrize("name", FOLDERS)
def test_a_folder_of_any_name_is_a_chip_of_that_name(place, capfd, name):
    stem = FOLDERS[name]
    assert main(["new", "--", f"{name}/"]) == 0, capfd.readouterr().err
    folder = place / name
    chip, scene = loaded(folder, stem)
    assert chip.name == title_of(name)
    assert (vdpsim.design_warnings(chip), vdpsim.display_warnings(chip.frame), scene.warnings) == ((), (), ())
    files = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}
    own = {f"{stem}.chip.toml", f"{stem}.scene.toml", f"test_{stem}.py"}
    assert files == {*own, "art/far.png", "art/near.png", "art/bird.png"}
    assert vdpsim.parse_chip((folder / f"{stem}.chip.toml").read_text("utf-8")) == chip


def test_a_name_that_is_no_utf8_is_as_good(place, capfdbinary):
    assert main(["new", os.fsdecode(b"a\xff/")]) == 0
    assert loaded(Path(os.fsdecode(b"a\xff")), "a")[0].name == "a"


def test_this_folder_gives_its_own_name(place, monkeypatch, capsys):
    (place / "tern").mkdir()
    monkeypatch.chdir(place / "tern")
    assert main(["new", "."]) == 0
    assert loaded(place / "tern", "tern")[0].name == "tern"


@pytest.mark.unmeasured
def test_its_own_test_passes_and_fails_where_the_chip_is_spoiled(place, capsys):
    """In a folder whose name needs quotes, with a spoiled copy beside it: pytest is told that files may have one name."""
    assert main(["new", "my 'Бекас' chip"]) == 0
    folder = place / "my 'Бекас' chip"
    shutil.copytree(folder, place / "spoiled")
    (chip,) = (place / "spoiled").glob("*.chip.toml")
    chip.write_text(chip.read_text("utf-8").replace("bytes_per_access = 2", "bytes_per_access = 1"), "utf-8")
    words = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--import-mode=importlib"]
    done = subprocess.run([*words, folder, "spoiled"], cwd=place, capture_output=True, text=True, check=False)
    assert "2 failed, 4 passed" in done.stdout, done.stdout
    assert set(re.findall(r"^FAILED (\w+)/", done.stdout, re.MULTILINE)) == {"spoiled"}


def test_the_commands_that_it_tells_run_at_once(place, capsys):
    assert main(["new", "tern"]) == 0
    out = capsys.readouterr().out
    for words in re.findall(r"^  vdpsim (.*)$", out, re.MULTILINE):
        if not words.startswith("watch"):
            assert main(words.split()) == 0
    assert Path("first.png").exists()


def test_several_things_show_and_the_birds_move(place, capsys):
    """The picture by what it is made of: sky, sun, water, reeds, birds, each of their own four colours."""
    assert main(["new", "tern", "--layers", "3", "--bus", "4"]) == 0
    scene = loaded(place / "tern", "tern")[1]
    one, other = vdpsim.frames(scene, (0, 40))
    shown = set(np.unique(one.indices))
    assert all(shown & set(range(first, first + 4)) for first in (0, 4, 8, 12))
    assert not np.array_equal(one.indices[:100], other.indices[:100])


def test_what_has_things_in_it_is_refused_and_stays(place, capsys):
    (place / "full").mkdir()
    (place / "full/notes").write_text("mine", "utf-8")
    (place / "file").write_text("mine", "utf-8")
    assert main(["new", "full"]) == 2
    assert "full: must be an empty folder, or none yet; it has notes in it" in capsys.readouterr().err
    assert main(["new", "file"]) == 2
    assert "file: must be a folder, and is something else" in capsys.readouterr().err
    (place / "empty").mkdir()
    assert main(["new", "empty"]) == 0
    assert main(["new", "empty"]) == 2
    assert sorted(path.name for path in place.iterdir()) == ["empty", "file", "full"]
    assert [path.name for path in (place / "full").iterdir()] == ["notes"]


WRONG = {
    "display": "vga", "size": "99", "layers": "4", "colours": "17", "depth": "3", "sprites": "5", "memory": "64K", "bus": "3",
    "speed": "0",
}  # fmt: skip


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_wrong_answer_is_told_with_what_is_allowed_and_nothing_is_written(place, capsys, name):
    assert main(["new", "x", f"--{name}", WRONG[name]]) == 2
    assert f"argument --{name}: must be {QUESTIONS[name].told}, got '{WRONG[name]}'" in capsys.readouterr().err
    assert list(place.iterdir()) == []


@pytest.mark.parametrize("size", ["64x64", "216x64", "224x240"])
def test_the_art_is_there_in_narrow_and_low_pictures_too(place, size):
    """The sun takes 32 dots, at the picture's right edge where its own place would be beyond that."""
    assert main(["new", "x", "--size", size]) == 0
    assert main(["render", "x/x.scene.toml", "-o", "x.png"]) == 0
    width, height = map(int, size.split("x"))
    assert (far(width, height) == SKY + 3).sum() > 300


@pytest.mark.parametrize(
    ("size", "display", "width", "height"),
    [
        ("900x700", "625 lines", "64 to 1024, a multiple of 8 dots, got 900", "64 to 288 lines, got 700"),
        ("9999x1", "625 lines", "64 to 1024, a multiple of 8 dots, got 9999", "64 to 288 lines, got 1"),
        ("1032x63", "625 lines", "64 to 1024, a multiple of 8 dots, got 1032", "64 to 288 lines, got 63"),
        ("648x481", "640x480", "64 to 640, a multiple of 8 dots, got 648", "64 to 480 lines, got 481"),
        ("56x480", "640x480", "64 to 640, a multiple of 8 dots, got 56", ""),
        ("64x289", "625 lines", "", "64 to 288 lines, got 289"),
        ("640x480", "640x480", "", ""),
        ("1024x64", "625 lines", "", ""),
    ],
)
def test_a_size_that_the_display_does_not_take_is_told_of_the_option(place, capsys, size, display, width, height):
    wrong = [f"width must be {width}"] * bool(width) + [f"height must be {height}"] * bool(height)
    assert main(["new", "x", "--size", size, "--display", display]) == (2 if wrong else 0)
    if wrong:
        told = "; ".join([*wrong, f"the display is {display}"])
        assert capsys.readouterr().err == f"vdpsim new: --size: {told}\n"
        assert list(place.iterdir()) == []


def test_answers_read_back_as_they_are_said():
    for name, one in QUESTIONS.items():
        for answer in (*one.allowed, *([] if one.allowed else [None, (288, 216)])):
            assert read(name, said(answer)) == answer
    with refused(ValueError, "must be WxH, dots and lines"):
        read("size", "0x10")


# Worked out by hand. Of 8 dots' slots the CPU has one in eight. A group of 8 dots takes ceil(2 / bus) accesses for its cell and
# ceil(depth / bus) for its row. bus 1, speed 1: 7 slots, 2 + 4 = 6 for one layer of 4 bits, 2 + 2 = 4 for one of 2: two layers
# never fit. bus 2, speed 1: 1 + 2 = 3, and 1 + 1 = 2 of 2 bits: 2 x 3 fit, 3 x 3 do not, 3 x 2 do. bus 4: 1 + 1: 3 x 2 fit.
# Sprites, 256 x 208 dots of a line of 429 slots: refresh has 4, the CPU 32, a layer of 4 bits on bus 1 up to 33 groups of 6; 195
# are left. Sprites of 16 dots take 8 each: 32 of them 256, 16 of them 128.
# Memory for 288 x 216: 64 x 32 cells of 2 bytes, 4,096 a layer; 64 tiles of 8 x depth bytes; 32 patterns of 32 x depth bytes.
BY_HAND = {
    "as it is": (Answers(), Answers(), 0),
    "three layers, two bytes": (Answers(layers=3), Answers(layers=3, depth=2), 1),
    "three layers, four bytes": (Answers(layers=3, bus=4), Answers(layers=3, bus=4), 0),
    "one byte": (Answers(bus=1), Answers(bus=1, depth=2, layers=1), 2),
    "one byte, one layer": (Answers(bus=1, layers=1), Answers(bus=1, layers=1), 0),
    "32 sprites": (
        Answers(display="525 lines", bus=1, layers=1, sprites=32),
        Answers(display="525 lines", bus=1, layers=1, sprites=16),
        1,
    ),
    "16 KiB just hold it": (Answers(memory=16), Answers(memory=16), 0),
    "16 KiB, three layers": (Answers(memory=16, bus=4, layers=3), Answers(memory=16, bus=4, layers=2, depth=2), 2),
}


@pytest.mark.parametrize("name", BY_HAND)
def test_what_gives_way_is_as_worked_out_by_hand(name):
    wanted, fitting, steps = BY_HAND[name]
    made = sketch(wanted, "x")
    assert made.answers == fitting
    assert len(made.given_up) == steps


def test_memory_needs_what_the_hand_says_both_sides_of_16_kib():
    """2 x (4,096 + 64 x 32) + 32 x 128 = 16,384: the last byte; with maps of 64 x 64 cells 24,576, which is more."""
    made = sketch(Answers(memory=16), "x")
    assert sum(size for _, size in need(made.answers, made.budget)) == 16_384
    more = sketch(Answers(memory=16, size=(288, 264)), "x")
    assert more.given_up[0].startswith("memory has 16,384 bytes and needs 24,576: depth 4 becomes 2")


def test_where_nothing_helps_the_sums_say_so_and_nothing_is_written(place, capsys):
    words = ["new", "x", "--display", "640x480", "--size", "640x480", "--memory", "16", "--bus", "1"]
    assert main(words) == 2
    told = capsys.readouterr().err
    assert "no chip of these answers fits: memory has 16,384 bytes and needs 40,960: depth 4 becomes 2; " in told
    assert told.rstrip().endswith("memory has 16,384 bytes and needs 17,408")
    assert list(place.iterdir()) == []


def answers_of(display, layers):
    """All combinations of the grid with these two."""
    others = [name for name in GRID if name not in {"display", "layers"}]
    for values in product(*(QUESTIONS[name].allowed for name in others)):
        yield Answers(display=display, layers=layers, **dict(zip(others, values, strict=True)))


def check_sketch(wanted):
    """The chip of these answers fits, has no more than was asked for, and what was not given up is as it was asked for."""
    made = sketch(wanted, "x")
    chip = vdpsim.parse_chip(made.text)
    assert made.budget.verdict == "fits", wanted
    assert made.budget.chip == chip
    assert all(
        new <= old
        for name, old, new in zip(Answers._fields, wanted, made.answers, strict=True)
        if name in ("layers", "depth", "sprites")
    )
    assert made.answers._replace(layers=wanted.layers, depth=wanted.depth, sprites=wanted.sprites) == wanted
    assert bool(made.given_up) == (made.answers != wanted)
    assert (chip.memory.size, chip.palette.entries) == (wanted.memory * 1024, wanted.colours)
    assert [layer.name for layer in chip.layers] == [*NAMES[made.answers.layers]]
    assert (chip.sprites.per_line if chip.sprites else 0) == made.answers.sprites
    return made


@pytest.mark.parametrize("seed", every(2, range(2)))
def test_a_sample_of_all_answers_leads_to_chips_that_fit_and_draw(tmp_path, seed):
    random.seed(seed)
    everything = [one for each in DISPLAYS_AND_LAYERS for one in answers_of(*each)]
    for number, wanted in enumerate(random.sample(everything, 8)):
        made = check_sketch(wanted)
        if number < 3:
            folder = tmp_path / f"x{number}"
            (folder / "art").mkdir(parents=True)
            for place, data in files_of(made, "x").items():
                (folder / place).write_bytes(data)
            chip, scene = loaded(folder, "x")
            assert (vdpsim.design_warnings(chip), scene.warnings) == ((), ())
            frame = vdpsim.render(scene)
            assert not frame.missed.any()
            assert len(frame.drops) == 0


@pytest.mark.soak
@pytest.mark.parametrize(("display", "layers"), DISPLAYS_AND_LAYERS)
def test_all_answers_lead_to_chips_that_fit(display, layers):
    """6,480 combinations: none may be refused, and none may be open."""
    for wanted in answers_of(display, layers):
        check_sketch(wanted)


def typed(folder, lines, words=()):
    """What a person sees who types ``lines`` at a terminal, and the exit status."""
    pid, terminal = pty.fork()
    if pid == 0:
        words = [sys.executable, "-m", "vdpsim", "new", str(folder), "--ask", *words]
        os.execv(sys.executable, words)  # noqa: S606 - the child of a terminal of its own
    os.write(terminal, "".join(f"{line}\n" for line in lines).encode())
    seen = b""
    while True:
        try:
            piece = os.read(terminal, 4096)
        except OSError:
            break
        if not piece:
            break
        seen += piece
    return seen.decode(), os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


@pytest.mark.unmeasured
def test_a_person_is_asked_until_the_answer_is_one(place):
    seen, status = typed(
        place / "tern", ["525 lines", "1032x64", "", "9", "3", "", "", "", "4", ""], ["--colours", "256"]
    )
    assert status == 0, seen
    chip, _ = loaded(place / "tern", "tern")
    assert (chip.frame.display, len(chip.layers), chip.palette.entries, chip.memory.bytes_per_access) == (
        "525 lines",
        3,
        256,
        4,
    )
    assert (chip.frame.width, chip.frame.height) == SIZES["525 lines"]
    assert "must be 1, 2 or 3, got '9" in seen
    assert "width must be 64 to 1024, a multiple of 8 dots, got 1032" in seen
    assert "colours:" not in seen
    assert "slots to spare" in seen
    assert f"together                {sum(one.bits for one in vdpsim.budget(chip).on_chip):,}"[:8] in seen


@pytest.mark.unmeasured
def test_the_end_of_the_input_is_no_answer(place):
    seen, status = typed(place / "tern", ["525 lines", "\x04"])
    assert status == 2
    assert "the input ended before it was answered" in seen
    assert list(place.iterdir()) == []


def test_where_nobody_can_be_asked_options_and_defaults_are_taken(place, capsys, monkeypatch):
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    assert main(["new", "x", "--ask", "--layers", "1"]) == 0
    out, err = capsys.readouterr()
    assert "nobody can be asked, as the input is no terminal: options and defaults are taken" in err
    chip, _ = loaded(place / "x", "x")
    assert chip == vdpsim.parse_chip(chip_text(Answers(layers=1), "x"))
    budget = vdpsim.budget(chip)
    assert f"{budget.chip_bits:,}" in out
    assert str(budget.lines.least("near.pattern")) in out


def test_stems_and_titles_are_bounded():
    assert len(stem_of("a b" * 100)) <= 40
    assert len(title_of("ä" * 300)) == 40
    assert title_of("\x1b") == "My chip"
