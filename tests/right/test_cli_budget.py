"""Does ``vdpsim budget`` say so? Exit status, text and JSON; and is what it kept from the last time never old?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import vdpsim
from vdpsim.cli import again
from vdpsim.cli.main import main

SCENES = Path(__file__).resolve().parents[2] / "scenes"
CURLEW, DUNLIN = SCENES / "chips" / "curlew.chip.toml", SCENES / "chips" / "dunlin.chip.toml"


@pytest.fixture(autouse=True)
def kept(tmp_path, monkeypatch):
    """Answers are kept in a folder of the test's own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "vdpsim"


def slower(tmp_path: Path, lead: int) -> Path:
    """Dunlin with another lead: at 32 dots it fits, at 16 it does not."""
    path = tmp_path / "slower.chip.toml"
    path.write_text(DUNLIN.read_text("utf-8").replace("lead = 32", f"lead = {lead}"), "utf-8")
    return path


@pytest.mark.parametrize("path", [CURLEW, DUNLIN], ids=lambda path: path.name)
def test_shipped_chips_fit(path, capsys):
    assert main(["budget", str(path)]) == 0
    assert " fits. " in capsys.readouterr().out


def test_a_chip_that_does_not_fit_ends_with_1(tmp_path, capsys):
    path = slower(tmp_path, 16)
    assert main(["budget", str(path)]) == 1
    assert "Dunlin does not fit: far." in capsys.readouterr().out


def test_the_json_has_the_figures_of_the_budget(capsys):
    assert main(["budget", str(CURLEW), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    found = vdpsim.budget(vdpsim.load_chip(CURLEW))
    assert told["worst_line"]["used"] == found.worst_line.used
    assert told["chip_bits"] == found.chip_bits
    assert told["cpu"]["bytes_per_frame"] == found.cpu.bytes_per_frame


def test_explain_gives_formulas(capsys):
    assert main(["budget", str(CURLEW), "--explain"]) == 0
    assert "slots a line = floor(D x a)" in capsys.readouterr().out


def test_with_a_scene_it_says_what_the_frames_do(capsys):
    """Ferry's fullest line of all 64 frames is the model's own; nothing is late, eight sprites on frame 0 are one too many
    for Dunlin.
    """
    scene = SCENES / "ferry.scene.toml"
    assert main(["budget", str(DUNLIN), "--scene", str(scene), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["seen"]
    frame = vdpsim.render(vdpsim.load_scene(scene, chip=vdpsim.load_chip(DUNLIN)), frame=told["frame"])
    assert told["used"] == frame.slots.counts[told["line"], :-1].sum()
    assert (told["frames"], told["missed"]) == (64, 0)
    assert told["dropped"].keys() == {"dots"}


@pytest.mark.parametrize(
    "words", [["budget", "nowhere.chip.toml"], ["budget"], ["budget", str(CURLEW), "--scene", "nowhere"]]
)
def test_wrong_input_ends_with_2(words, capsys, kept):
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "Traceback" not in told.err
    assert not kept.exists()


def test_more_modes_than_can_be_looked_through_are_refused_in_words(tmp_path, capsys):
    """Five layers of eight modes that can be switched off: 9 to the power of 5 choices."""
    layer = '[[layers]]\nname = "l{0}"\n' + "".join(
        f'[[layers.modes]]\nname = "m{mode}"\nkind = "bitmap"\nbits_per_dot = 1\nwidth = 64\nheight = 8\n'
        for mode in range(8)
    )
    head = CURLEW.read_text("utf-8").split("[[ladder]]", 1)[0]
    text = head + '[[ladder]]\nsource = "l0"\n' + "".join(layer.format(number) for number in range(5))
    clients = "".join(f'"l{number}.bitmap" = {{ when = "blanking" }}\n' for number in range(5))
    path = tmp_path / "many.chip.toml"
    path.write_text(f"{text}[time.clients]\n{clients}", "utf-8")
    assert main(["budget", str(path)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "layers: Curlew: 59049 choices of modes, more than 20000" in told.err


@pytest.mark.parametrize("columns", ["100", "160"])
def test_at_a_terminal_it_tells_the_same_in_tables(columns, capsys, monkeypatch):
    """One column or two, by the terminal's width; no word of the plain text is lost."""
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert main(["budget", str(CURLEW), "--explain"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    for words in (
        "Time: 384 slots a line, 96 of them blank",
        "far.picture bitmap",
        "floor(D x a)",
        "sprite line buffers",
    ):
        assert words in told


def test_an_answer_is_given_again_without_working_it_out(capsys, kept, monkeypatch):
    assert main(["budget", str(CURLEW)]) == 0
    first = capsys.readouterr().out
    (place,) = kept.iterdir()
    monkeypatch.setattr("vdpsim.budgets.budget.budget", None)  # it would fail if it were asked
    assert main(["budget", str(CURLEW)]) == 0
    assert capsys.readouterr().out == first
    assert place.read_text("utf-8") == f"0\n{first}"


def test_a_changed_chip_or_option_or_program_is_answered_anew(tmp_path, capsys, kept, monkeypatch):
    path = slower(tmp_path, 32)
    assert main(["budget", str(path)]) == 0
    slower(tmp_path, 16)
    assert main(["budget", str(path)]) == 1
    assert main(["budget", str(path), "--json"]) == 1
    assert len(list(kept.iterdir())) == 3
    monkeypatch.setattr(again, "__version__", "0.0.0")
    assert main(["budget", str(path)]) == 1
    assert len(list(kept.iterdir())) == 4


def test_what_is_kept_stays_small(tmp_path, capsys, kept, monkeypatch):
    monkeypatch.setattr(again, "MOST", 2)
    for lead in (32, 33, 34):
        main(["budget", str(slower(tmp_path, lead))])
    assert len(list(kept.iterdir())) == 2


def test_a_damaged_answer_is_worked_out_again(capsys, kept):
    main(["budget", str(CURLEW)])
    first = capsys.readouterr().out
    (place,) = kept.iterdir()
    place.write_text("no number\nand no budget", "utf-8")
    assert main(["budget", str(CURLEW)]) == 0
    assert capsys.readouterr().out == first


def test_where_nothing_can_be_kept_it_answers_all_the_same(tmp_path, capsys, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert main(["budget", str(CURLEW)]) == 0
    assert " fits. " in capsys.readouterr().out
