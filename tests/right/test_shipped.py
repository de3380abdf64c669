"""Are shipped chips and scenes found by name, by every command that takes a file, and is a wrong name told as such?"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import vdpsim
from vdpsim.cli import main
from vdpsim.shipped.files import chips, folder, scenes

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def place(tmp_path, monkeypatch):
    """An empty folder far from any checkout."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_every_file_that_there_is_has_a_name_and_says_what_it_is_about():
    """Of the installed wheel too, where ``tools/test`` runs this."""
    there = {path.name for path in (ROOT / "scenes").glob("*.scene.toml")}
    assert {one.path.name for one in scenes().values()} == there
    assert {one.path.name for one in chips().values()} == {path.name for path in (ROOT / "scenes/chips").iterdir()}
    assert all(one.about for one in [*scenes().values(), *chips().values()])
    art = {path.name for path in (ROOT / "scenes/art").iterdir()}
    assert {path.name for path in (folder() / "art").iterdir()} == art


def test_list_shows_all_names_within_120_columns_where_nobody_looks(capsys):
    assert main(["list"]) == 0
    out = capsys.readouterr().out
    assert all(f"\n  {name} " in out for name in [*chips(), *scenes()])
    assert max(map(len, out.splitlines())) <= 120
    assert main(["list", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["name"] for one in told["chips"]] == [*chips()]
    assert all(Path(one["path"]).is_file() for one in told["scenes"])


def test_a_scene_by_name_is_the_file_of_that_name(place):
    assert main(["render", "curlew:flock", "dunlin:ferry", "-o", "out/"]) == 0
    other = vdpsim.load_scene(
        ROOT / "scenes/ferry.scene.toml", vdpsim.load_chip(ROOT / "scenes/chips/dunlin.chip.toml")
    )
    for name, scene in (("flock", vdpsim.load_scene(ROOT / "scenes/flock.scene.toml")), ("ferry", other)):
        with Image.open(f"out/{name}.png") as image:
            assert np.array_equal(np.asarray(image.convert("RGB")), vdpsim.render(scene).rgb)


@pytest.mark.parametrize(
    "words",
    [
        "check curlew curlew:dusk dunlin:ferry", "map dunlin:ferry", "map curlew:ferry --chip dunlin",
        "budget dunlin --scene curlew:ferry", "compare curlew dunlin", "report curlew:tidetable -o x.html",
        "sweep dunlin --vary sprites.per_line=4 --jobs 1 -o x.csv",
        "export curlew:tidetable --only memory,constants -o x/",
    ],
)  # fmt: skip
def test_every_command_that_takes_a_file_takes_a_name(place, capsys, words):
    assert main(words.split()) == 0, capsys.readouterr().err


def test_fit_takes_names_and_copies_the_chip(place, capsys):
    words = ["fit", str(ROOT / "scenes/art/birds.png"), "--chip", "curlew", "--sprites", "16x16", "-o", "x/"]
    assert main([*words, "--scene", "curlew:flock"]) == 0, capsys.readouterr().err
    assert vdpsim.load_scene("x/birds.scene.toml").chip.name == "Curlew"


WRONG = {
    "curlew:flok": "there is no shipped scene of this name; did you mean curlew:flock?",
    "flock": "there is no shipped scene of this name; did you mean curlew:flock?",
    "curlew": "is a chip, and must be a scene: curlew:dusk, ",
    "dunlin:": "there is no shipped scene of this name",
    "knot:ferry": "there is no shipped scene of this name; did you mean curlew:ferry?",
    "CURLEW:FLOCK": "did you mean curlew:flock?",
}


def test_wrong_names_are_told_all_at_once_with_the_rule(place, capsys):
    assert main(["render", *WRONG, "--chip", "dunlyn", "-o", "out/"]) == 2
    told = capsys.readouterr().err
    lines = dict(line.split(": ", 1) for line in told.splitlines())
    assert {name for name, words in WRONG.items() if words not in lines[name]} == set()
    assert "dunlyn: there is no shipped chip of this name; did you mean dunlin?; a word that is no file here" in told
    assert list(place.iterdir()) == []


def test_a_scene_where_a_chip_should_be_and_a_chip_of_anothers_choice(place, capsys):
    assert main(["budget", "curlew:flock", "--scene", "dunlin:ferry"]) == 2
    told = capsys.readouterr().err
    assert "curlew:flock: must be a chip, curlew alone" in told
    assert "dunlin:ferry: names another chip than the scene's own" in told


def test_what_exists_wins_but_for_folders(place, capsys):
    Path("curlew").mkdir()
    assert main(["check", "curlew"]) == 0
    Path("dunlin").write_text("x", "utf-8")
    assert main(["check", "dunlin"]) == 2
    assert "dunlin: the name must end in .chip.toml or .scene.toml" in capsys.readouterr().err


def test_a_path_looks_for_no_name():
    """So that drawing a file starts as fast as without names."""
    code = (
        "import sys; from vdpsim.cli import main; "
        f"main(['render', {str(ROOT / 'scenes/flock.scene.toml')!r}, '-o', '{os.devnull}/x.png']); print(*sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert "vdpsim.cli.files" in found
    assert not {one for one in found if "vdpsim.shipped" in one or "cli.starting" in one}
