"""Does ``vdpsim fit`` write what Python gets, and say what it cost?"""

from __future__ import annotations

import argparse
import io
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from refusal import refused

import vdpsim
from vdpsim import art
from vdpsim.cli import main
from vdpsim.cli.art_values import number_list
from vdpsim.cli.commands import fit as command

ROOT = Path(__file__).resolve().parents[2]
CURLEW = "scenes/chips/curlew.chip.toml"


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with the chips, a picture of four colours, a sheet and a font."""
    (tmp_path / "scenes").symlink_to(ROOT / "scenes")
    monkeypatch.chdir(tmp_path)
    rng = np.random.default_rng(0)
    shades = np.array([(0, 0, 0), (255, 0, 0), (255, 255, 255), (0, 0, 255)], np.uint8)
    Image.fromarray(shades[rng.integers(0, 4, (24, 40))]).save("level.png")
    sheet = np.zeros((16, 32, 4), np.uint8)
    sheet[2:9, 3:12] = sheet[5:15, 20:30] = (255, 255, 0, 255)
    Image.fromarray(sheet).save("heron.png")
    Image.fromarray(rng.integers(0, 2, (16, 48)).astype(bool)).save("letters.png")
    return tmp_path


def files(folder):
    """What lies there."""
    return sorted(path.name for path in Path(folder).iterdir())


def test_a_picture_becomes_a_scene_that_draws_it(place, capsys):
    assert main(["fit", "level.png", "--chip", CURLEW, "--layer", "near", "-o", "out/level/"]) == 0
    told = capsys.readouterr().out
    found = art.fit("level.png", vdpsim.load_chip(CURLEW), layer="near")
    assert told.startswith(found.report.text())
    assert "written: out/level/level.scene.toml\n         and 6 other files in out/level/\n" in told
    wanted = [
        "curlew.chip.toml",
        "level-banks.png",
        "level-compare.png",
        "level-report.txt",
        "level.map",
        "level.patterns",
        "level.scene.toml",
    ]
    assert files("out/level") == wanted
    assert (place / "out/level/level-report.txt").read_text("utf-8") == found.report.text()
    assert main(["check", "out/level/level.scene.toml"]) == 0
    assert main(["render", "out/level/level.scene.toml", "-o", "level-drawn.png"]) == 0
    with Image.open("level-drawn.png") as drawn:
        assert np.array_equal(np.asarray(drawn.convert("RGB"))[:24, :40], np.asarray(found.image))


def test_without_a_place_it_only_tells(place, capsys):
    before = files(".")
    assert main(["fit", "level.png", "--chip", CURLEW, "--layer", "near", "--max-tiles", "9"]) == 0
    told = capsys.readouterr().out
    assert "15, of which 15 unlike; 9 patterns of 9" in told
    assert "without the limit  no loss" in told
    assert files(".") == before


def test_a_limit_that_costs_where_without_it_nothing_is_lost_is_null_in_json(place, capsys):
    """A PSNR without loss is endless, which JSON has no number for."""
    assert main(["fit", "level.png", "--chip", CURLEW, "--layer", "near", "--max-tiles", "9", "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert told["unlimited"] is None
    assert told["loss"]["psnr"] > 0


def test_sprites(place, capsys):
    assert main(["fit", "heron.png", "--chip", CURLEW, "--sprites", "16x16", "-o", "out"]) == 0
    assert "sprites  2, of which 2 unlike; 6 patterns of 1024" in capsys.readouterr().out
    assert "heron_16x16.patterns" in files("out")


def test_glyphs(place, capsys):
    assert (
        main(["fit", "letters.png", "--chip", CURLEW, "--glyphs", "--cell", "6x8", "--layer", "far", "-o", "out"]) == 0
    )
    assert "glyphs      16 of 16, 6 x 8 dots" in capsys.readouterr().out
    assert files("out") == [
        "curlew.chip.toml",
        "letters-glyphs.png",
        "letters-report.txt",
        "letters.glyphs",
        "letters.scene.toml",
    ]
    assert main(["fit", "letters.png", "--chip", CURLEW, "--glyphs", "--cell", "6x8", "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert told["glyphs"] == "16 of 16, 6 x 8 dots"


def test_several_pictures_share_the_palette(place, capsys):
    words = [
        "level.png",
        "heron.png",
        "--chip",
        CURLEW,
        "--layer",
        "far",
        "--sprites",
        "16x16",
        "--banks",
        "2",
        "--banks",
        "0:2",
    ]
    assert main(["fit", *words, "-o", "out", "--json"]) == 0
    level, heron = json.loads(capsys.readouterr().out)
    assert (level["target"], heron["target"]) == ("far.tiles", "sprites")
    assert level["together"] == heron["together"] == 1
    assert level["loss"]["psnr"] is None
    frame = vdpsim.render(vdpsim.load_scene("out/level.scene.toml"))
    assert frame.source[2, 3] == frame.sources.index("sprites")
    assert (
        main(
            [
                "fit",
                "level.png",
                "heron.png",
                "--chip",
                CURLEW,
                "--layer",
                "far",
                "--transparent",
                "-",
                "--transparent",
                "#ff0",
            ]
        )
        == 0
    )
    assert capsys.readouterr().out.count("far.tiles") == 3, (
        "one target for both; the second has no value that shows nothing"
    )


def test_the_palette_of_a_scene_is_kept(place, capsys):
    scene = ROOT / "scenes/saltmarsh.scene.toml"
    there = art.entries_of(scene)
    words = [
        "fit",
        "level.png",
        "--chip",
        CURLEW,
        "--layer",
        "near",
        "--scene",
        str(scene),
        "--keep",
        "100:104,7",
        "-o",
        "out",
    ]
    assert main(words) == 0
    palette = vdpsim.load_scene("out/level.scene.toml").state(0).palette
    kept = vdpsim.load_scene(scene).state(0).palette
    assert [palette[entry] for entry in there] == [kept[entry] for entry in there]
    assert len(there) > 30
    assert capsys.readouterr().out.count("lost     nothing") == 1


def test_lists_of_numbers_and_none():
    assert [number_list(text) for text in ("-", "7", "0:4,7", "2,5:6")] == [None, (7,), (0, 1, 2, 3, 7), (2, 5)]
    for text in ("", "--", "3:3", "4:3", "1,,2", "a"):
        with refused(argparse.ArgumentTypeError, "must be numbers and ranges such as 0:4,7, got |must be|ends"):
            number_list(text)


def test_entries_of_scenes_whose_palettes_are_pictures():
    """The portrait's palette is its picture's; the slipway's is told in parts."""
    for path in sorted((ROOT / "scenes").glob("*.scene.toml")):
        there = art.entries_of(path)
        chip = vdpsim.load_scene(path).chip
        assert there
        assert set(there) <= set(range(chip.palette.entries))
    assert len(art.entries_of(ROOT / "scenes/portrait.scene.toml")) > 100


class Terminal(io.StringIO):
    """A text file that says that it is a terminal."""

    def isatty(self):
        """It is."""
        return True


@pytest.mark.parametrize(("patience", "shown"), [(0.0, True), (60.0, False)])
def test_progress_is_shown_on_a_terminal_once_it_takes_a_while(monkeypatch, patience, shown):
    out = Terminal()
    monkeypatch.setattr("sys.stderr", out)
    monkeypatch.setattr(command, "PATIENCE", patience)
    monkeypatch.setenv("TERM", "xterm")  # whatever the terminal is that the suite runs in: a dumb one shows no bars
    with command._Bar() as bar:
        for part in range(3):
            bar(part / 2)
    assert ("fitting" in out.getvalue()) is shown


def test_help_shows_examples_that_can_be_read(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["fit", "--help"]) == 0
    told = capsys.readouterr().out
    for line in told.splitlines():
        if line.startswith("  vdpsim fit "):
            options = command.argparse.ArgumentParser()
            command.arguments(options)
            assert options.parse_args(line.split()[2:]).pictures
