"""Does ``vdpsim budget`` say so? Exit status, text and JSON, and the scene that it writes."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest
from soaked import few

import vdpsim
from vdpsim.budgets.line.bound import SlackBound
from vdpsim.chip.line.clients import layer_clients
from vdpsim.cli.main import main

SCENES = Path(__file__).resolve().parents[2] / "scenes"
CURLEW, DUNLIN = SCENES / "chips" / "curlew.chip.toml", SCENES / "chips" / "dunlin.chip.toml"


def slower(tmp_path: Path, lead: int) -> Path:
    """Dunlin with another lead: at 32 dots it fits, at 16 it does not."""
    path = tmp_path / "slower.chip.toml"
    path.write_text(DUNLIN.read_text("utf-8").replace("lead = 32", f"lead = {lead}"), "utf-8")
    return path


@pytest.mark.parametrize("path", [CURLEW, DUNLIN], ids=lambda path: path.name)
def test_shipped_chips_fit(path, capsys):
    assert main(["budget", str(path)]) == 0
    assert " fits: proved for every line " in capsys.readouterr().out


def test_a_chip_that_does_not_fit_ends_with_1(tmp_path, capsys):
    path = slower(tmp_path, 16)
    assert main(["budget", str(path)]) == 1
    told, worst, *_ = capsys.readouterr().out.splitlines()
    assert told.startswith(
        "Dunlin does not fit: on line 2 of a scene that was drawn for it there is no slot in time for 7 accesses of far.pattern "
    )
    assert worst.startswith(
        "Worst: far.pattern misses 7 accesses (near tiles scrolled by 7 of 8 dots; far tiles scrolled by 7 "
    )


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
def test_wrong_input_ends_with_2(words, capsys):
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "Traceback" not in told.err


def many(tmp_path: Path, rate: str) -> Path:
    """Five layers of eight bitmaps each, fetched in blanking: 9 to the power of 5 choices of modes. One asks for 18 accesses."""
    layer = '[[layers]]\nname = "l{0}"\n' + "".join(
        f'[[layers.modes]]\nname = "m{mode}"\nkind = "bitmap"\nbits_per_dot = 1\nwidth = 64\nheight = 8\n'
        for mode in range(8)
    )
    head = (
        CURLEW.read_text("utf-8")
        .split("[[ladder]]", 1)[0]
        .replace("accesses_per_dot = 1 ", f'accesses_per_dot = "{rate}" ')
    )
    text = head + '[[ladder]]\nsource = "l0"\n' + "".join(layer.format(number) for number in range(5))
    clients = "".join(f'"l{number}.bitmap" = {{ when = "blanking" }}\n' for number in range(5))
    path = tmp_path / "many.chip.toml"
    path.write_text(f"{text}[time.clients]\n{clients}", "utf-8")
    return path


@pytest.mark.parametrize(
    ("rate", "status", "told"),
    few(
        [("1", 0, "fits: proved"), ("96/97", 0, "fits: proved"), ("95/97", 1, "does not fit: on line")],
        lambda one: one[0] != "1",
    ),
)
def test_any_number_of_modes_has_a_verdict(tmp_path, capsys, rate, status, told):
    """A line of 288 dots touches 19 groups of 16, so five layers make 95 accesses. The 96 dots of blanking are 96 slots at one
    access a dot and floor(96 x 96 / 97) = 95 at 96/97, which is just enough; at 95/97 they are 94.
    """
    assert main(["budget", str(many(tmp_path, rate))]) == status
    assert told in capsys.readouterr().out


def test_open_ends_with_3(tmp_path, capsys, monkeypatch):
    """Neither proved nor refuted: a bound that says nothing, and too many lines to serve."""
    monkeypatch.setattr("vdpsim.budgets.proof.MOST_LINES", 10)
    monkeypatch.setattr("vdpsim.budgets.proof.MOST_SERVED", 10)
    monkeypatch.setattr(
        "vdpsim.budgets.line.bound.bound", lambda chip, *_, **__: SlackBound(dict.fromkeys(layer_clients(chip), -5), 0)
    )
    assert main(["budget", str(CURLEW)]) == 3
    told, *others = capsys.readouterr().out.splitlines()
    assert any("each figure at its worst of the " in line and "not all that can be" in line for line in others)
    assert told.startswith("Curlew is open, neither proved to fit nor refuted: ")
    assert "near.cells may be up to 5 slots late" in told
    assert "sprites may lack 64 slots" in told
    assert "To settle it, " in told


def test_the_order_of_what_is_told(capsys):
    assert main(["budget", str(CURLEW)]) == 0
    told = capsys.readouterr().out
    parts = (
        "Curlew fits",
        "First to give way: far.pattern, 1 slot to spare (near tiles scrolled by 7 of 8 dots; far tiles scrolled by 7 of 8 dots)",
        "Not covered: writes in mid-line to near.scroll_x",
        "  kind of line ",
        "  client ",
        "Sprites of a line",
        "Memory: ",
        "CPU: ",
        "Refills",
        "On the chip",
        "Display",
    )
    places = [told.index(part) for part in parts]
    assert places == sorted(places)


def test_every_kind_is_told_when_asked_and_what_is_left_out_is_said(capsys):
    assert main(["budget", str(CURLEW)]) == 0
    some = capsys.readouterr().out
    assert main(["budget", str(CURLEW), "--all"]) == 0
    every = capsys.readouterr().out
    found = vdpsim.budget(vdpsim.load_chip(CURLEW))
    kinds = [line.name for line in found.lines.kinds]
    assert all(f"\n  {name} " in every for name in kinds)
    assert "--all" not in every
    (hidden,) = re.findall(r"\((\d+) more kinds: --all\)", some)
    shown = sum(
        1 + int(more)
        for more in re.findall(r"^  (?:near|far|no layer).*?(?:and (\d+) alike)? +\d+ +\d+", some, re.MULTILINE)
        if more
    )
    assert 0 < int(hidden) < len(kinds) - shown
    for layer in found.chip.layers:
        for mode in layer.modes:
            assert f"{layer.name} {mode.name}" in some


def test_a_witness_is_written_and_misses_what_is_told(tmp_path, capsys):
    """The chip lies beside it already; the drawn frame misses 7 accesses on the line that is named."""
    path, target = slower(tmp_path, 16), tmp_path / "late.scene.toml"
    assert main(["budget", str(path), "--witness", str(target), "--json"]) == 1
    told = capsys.readouterr()
    witness = json.loads(told.out)["witness"]
    assert (
        f"{target}: On line {witness['line']} of frame 0 there is no slot in time for 7 accesses of far.pattern."
        in told.err
    )
    frame = vdpsim.render(vdpsim.load_scene(target), witness["frame"], damage=True)
    assert (
        frame.missed[witness["line"], frame.log.clients.index("far.pattern")] == witness["missed"]["far.pattern"] == 7
    )
    assert frame.missed.sum() == witness["total"]
    assert main(["render", str(target), "-o", str(tmp_path / "late.png")]) == 1
    assert main(["render", str(target), "--damage", "-o", str(tmp_path / "late.png")]) == 0


def test_a_witness_elsewhere_takes_the_chip_along(tmp_path, capsys):
    target = tmp_path / "far" / "tight.scene.toml"
    assert main(["budget", str(CURLEW), "--witness", str(target)]) == 0
    assert (target.parent / CURLEW.name).read_bytes() == CURLEW.read_bytes()
    frame = vdpsim.render(vdpsim.load_scene(target), trace=True)
    client = frame.slots.clients.index("far.pattern")
    mine = (frame.trace["line"] == 2) & (frame.trace["client"] == client)
    assert 95 in frame.trace["slot"][mine].tolist()
    capsys.readouterr()
    (target.parent / CURLEW.name).write_text("another", "utf-8")
    target.unlink()
    assert main(["budget", str(CURLEW), "--witness", str(target)]) == 2
    assert "another file is there already" in capsys.readouterr().err
    assert not target.exists()


def test_a_chip_without_a_time_table_has_no_witness(tmp_path, capsys):
    text = DUNLIN.read_text("utf-8")
    chip = tmp_path / "untimed.chip.toml"
    chip.write_text(re.sub(r"(?ms)^\[time\].*?(?=^\[(?!time))|^accesses_per_dot.*?\n", "", text), "utf-8")
    assert main(["budget", str(chip), "--witness", str(tmp_path / "w.scene.toml")]) == 2
    assert "w.scene.toml: --witness: no scene was found that shows it; the verdict is: " in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [chip]


def test_a_witness_of_a_chip_that_no_scene_can_name_is_not_written(tmp_path, capsys):
    """Files may be called by bytes that are no UTF-8 text; TOML, and so a scene, has no way to say such a name."""
    chip = tmp_path / os.fsdecode(b"caf\xe9.chip.toml")
    chip.write_bytes(DUNLIN.read_bytes())
    assert main(["budget", str(chip), "--witness", str(tmp_path / "w.scene.toml")]) == 2
    assert "can hold no text with half characters" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [chip]


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
