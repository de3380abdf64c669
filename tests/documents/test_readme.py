"""Do README's lines do what it says? Its commands and its Python run, in a temporary folder."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import guided
import numpy as np
import pytest
from PIL import Image

import vdpsim
from vdpsim.cli import main
from vdpsim.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PROSE = re.sub(r"^```[^\n]*\n.*?^```$", "", README, flags=re.MULTILINE | re.DOTALL)
SHELL = [line.split("  #")[0].strip() for line in re.findall(r"^    (.+)$", PROSE, re.MULTILINE)]
"""Lines for a shell of a person's own."""

MOST = 150
"""Lines that a newcomer reads before the guide."""


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with the shipped scenes."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_readme_is_short_and_begins_with_the_job():
    assert len(README.splitlines()) <= MOST
    assert README.startswith("# vdpsim\n\nYou design the video chip")


@pytest.mark.unmeasured
def test_commands_and_python_do_what_is_shown(place):
    """Once more: the commands that write do it again."""
    for _ in range(2):
        said = list(guided.said(README, {}))
        assert len(said) == 1
        for shown, came in said:
            assert guided.says(shown, came), f"README shows\n{shown}\nand there came\n{came}"
        shutil.rmtree(place / "mychip")  # a folder that has things in it is refused
    assert {"flock.png", "flock.csv", "flock.html"} <= {path.name for path in place.iterdir()}


def test_lines_for_a_shell_start_what_there_is():
    assert len(SHELL) == 4
    for line in SHELL:
        words = line.split()
        if words[0] == "export":  # where tools/demo puts the command, whose name is said right above
            assert line == 'export PATH="$PWD/.venv/bin:$PATH"'
            assert "make_venv .venv\n" in (ROOT / "tools/demo").read_text("utf-8")
        elif words[0] == "vdpsim":
            assert words[1] in COMMANDS
        else:
            assert words[0].startswith("tools/"), f"README has a command that is not tried: {line}"
            assert (ROOT / words[0]).stat().st_mode & 0o111, f"{words[0]} cannot be run"


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


def test_the_picture_is_what_its_scene_draws():
    """tools/demo --pictures redraws it."""
    frame = vdpsim.render(vdpsim.load_scene(ROOT / "scenes/saltmarsh.scene.toml"))
    with Image.open(ROOT / "scenes/pictures/saltmarsh.png") as image:
        shown = np.asarray(image.convert("RGB"))
    assert np.array_equal(shown, np.asarray(frame.image(3).convert("RGB")))
