"""Do README's lines do what it says? Its files are written, its commands and its Python run, in a temporary folder."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import vdpsim
from vdpsim.cli import main
from vdpsim.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = [(found[1], found[2]) for found in re.finditer(r"^```([^\n]*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)]
PYTHON = [text for kind, text in BLOCKS if kind == "python"]
SHELL = [line.split("#")[0].strip() for kind, text in BLOCKS if kind == "sh" for line in text.splitlines()]
PROSE = re.sub(r"^```[^\n]*\n.*?^```$", "", README, flags=re.MULTILINE | re.DOTALL)
SHELL += [line.split("  #")[0].strip() for line in re.findall(r"^    (.+)$", PROSE, re.MULTILINE)]
FILES = {kind.removeprefix("toml "): text for kind, text in BLOCKS if kind.startswith("toml ")}


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with the shipped scenes and the files that README shows."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes")
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_registers_that_are_shown_are_those_of_a_chip():
    """README's list of registers in the place of Curlew's own."""
    (shown,) = (text for kind, text in BLOCKS if kind == "toml" and "[[registers]]" in text)
    chip = (ROOT / "scenes/chips/curlew.chip.toml").read_text("utf-8")
    others, found = re.subn(r"^\[registers\]\n(?:[^\[#].*\n)*", "", chip, flags=re.MULTILINE)
    assert found == 1
    machine = vdpsim.Machine(vdpsim.parse_chip(others + shown))
    machine.registers["layer control"] = 0b1001_01_1_0
    set_by_it = {name: machine.registers[name] for name in ("near.enable", "far.enable", "far.mode", "far.text.map")}
    assert set_by_it == {"near.enable": 0, "far.enable": 1, "far.mode": 1, "far.text.map": 0x9000}
    assert machine.registers["near.scroll_x"] == 0  # a register of its own


def test_readme_has_what_this_file_looks_for():
    """Were a pattern above wrong, the tests below would run nothing."""
    assert len(PYTHON) >= 2
    assert sorted(FILES) == ["tern.chip.toml", "terns.scene.toml"]
    assert len([line for line in SHELL if line.startswith("vdpsim ")]) >= 5


@pytest.mark.parametrize("number", range(len(PYTHON)))
def test_python_runs(place, number):
    exec(compile(PYTHON[number], f"README.md, example {number + 1}", "exec"), {})  # noqa: S102 - that is the question


@pytest.mark.unmeasured
def test_commands_run_in_their_order_and_those_that_write_once_more(place, capsys):
    """Once more: the first line of each command that writes."""
    writing = [line for line in SHELL if re.search(r" (-o|--log|--views|--witness|--trace|--busmap) ", line)]
    again = {line.split()[1]: line for line in reversed(writing) if " report " not in line}  # a page takes long to draw
    assert len(again) >= 4
    for line in [*SHELL, *again.values()]:
        words = shlex.split(line)
        if words[:2] == ["vdpsim", "watch"]:  # goes on until it is stopped: right/test_watch.py does both
            assert Path(words[2]).exists()
        elif words[0] == "vdpsim":
            assert main(words[1:]) == 0, f"{line}: {capsys.readouterr().err}"
        elif words[0] == "export":  # where tools/demo puts the command, whose name is said right above
            assert line == 'export PATH="$PWD/.venv/bin:$PATH"'
            assert "make_venv .venv\n" in (ROOT / "tools/demo").read_text("utf-8")
        else:
            script = ROOT / words[0]
            assert words[0].startswith("tools/"), f"README has a command that is not tried: {line}"
            assert script.stat().st_mode & 0o111, f"{script} cannot be run"
    assert (place / "terns.png").exists()
    assert len(list((place / "frames").iterdir())) == 16


def test_every_command_stands_in_the_table():
    told = re.findall(r"^\| `vdpsim (\w+)` \|", README, re.MULTILINE)
    assert told == list(COMMANDS)


def test_every_option_that_readme_names_exists(capsys):
    """An option in a command's row of the table is that command's; one in the text is some command's."""
    helped = {}
    for command in COMMANDS:
        assert main([command, "--help"]) == 0
        helped[command] = capsys.readouterr().out
    for line in README.splitlines():
        row = re.match(r"\| `vdpsim (\w+)`", line)
        known = helped[row[1]] if row else " ".join(helped.values())
        for option in re.findall(r"`(--[a-z]+)", line):
            assert option in known, f"{option}: {line}"


def test_links_and_pictures_lead_somewhere():
    targets = re.findall(r"\]\(([^)]+)\)", README)
    assert targets
    for target in targets:
        assert (ROOT / target).exists(), target


@pytest.mark.parametrize(("name", "scale"), [("saltmarsh", 3), ("slipway", 2)])
def test_a_picture_is_what_its_scene_draws(name, scale):
    """tools/demo --pictures redraws it."""
    frame = vdpsim.render(vdpsim.load_scene(ROOT / f"scenes/{name}.scene.toml"))
    with Image.open(ROOT / f"scenes/pictures/{name}.png") as image:
        shown = np.asarray(image.convert("RGB"))
    assert np.array_equal(shown, np.asarray(frame.image(scale).convert("RGB")))
