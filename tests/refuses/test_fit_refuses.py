"""Does it refuse well? Art that cannot be fitted: each mistake in words, exit status 2, and nothing written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from refusal import refused

import vdpsim
from vdpsim import art
from vdpsim.cli import main

ROOT = Path(__file__).resolve().parents[2]
CHIP = str(ROOT / "scenes/chips/curlew.chip.toml")
CURLEW = vdpsim.load_chip(CHIP)


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with a small picture, a large one, a damaged one and a sheet."""
    monkeypatch.chdir(tmp_path)
    Image.new("RGB", (16, 16), (255, 0, 0)).save("red.png")
    Image.new("RGB", (640, 427), (255, 0, 0)).save("large.png")
    Image.new("RGBA", (40, 16)).save("empty.png")
    Path("cut.png").write_bytes(Path("red.png").read_bytes()[:60])
    Path("text.png").write_text("no picture", encoding="utf-8")
    return tmp_path


WRONG = {
    "no picture of that name": (["missing.png", "--layer", "near"], "missing.png: cannot be read: No such file"),
    "a folder": ([".", "--layer", "near"], "cannot be read: it is no regular file"),
    "a damaged picture": (["cut.png", "--layer", "near"], "cut.png: is damaged or cut off"),
    "no picture": (["text.png", "--layer", "near"], "text.png: is no picture of a kind that is read here"),
    "a picture that is too large": (
        ["large.png", "--layer", "far"],
        "large.png: size: must be at most 512x256 dots for far.tiles, is 640x427; --scale makes it smaller",
    ),
    "no target": (["red.png"], "vdpsim fit: --layer: give --layer LAYER, --sprites WxH or --glyphs"),
    "an unknown layer": (
        ["red.png", "--layer", "nere"],
        "red.png: layer: must be a layer of Curlew that holds pictures: near, far, got 'nere'",
    ),
    "an unknown mode": (
        ["red.png", "--layer", "far", "--mode", "chrt"],
        "red.png: mode: must be a mode of far that holds pictures: tiles, chart, picture, got 'chrt'",
    ),
    "a text mode": (
        ["red.png", "--layer", "near.text"],
        "must be a mode of near that holds pictures: tiles, got 'text'",
    ),
    "no tile allowed": (
        ["red.png", "--layer", "near", "--max-tiles", "0"],
        "red.png: max_tiles: must be 1 or more, got 0",
    ),
    "one tile where two are needed": (
        ["red.png", "--layer", "near", "--max-tiles", "1"],
        "red.png: max_tiles: must be at least 2 for this picture, got 1",
    ),
    "more tiles than asked for": (
        ["red.png", "--layer", "near", "--max-tiles", "1", "--over", "error"],
        "red.png: max_tiles: must be at most 1 patterns for near.tiles, needs 2, 1 of the picture and one for what lies around",
    ),
    "tiles of a bitmap": (
        ["red.png", "--layer", "far.chart", "--max-tiles", "9"],
        "far.chart is a bitmap: it has no tiles",
    ),
    "an unknown bank": (
        ["red.png", "--layer", "near", "--banks", "6:10"],
        "red.png: banks: banks must be 0 to 7, got 8, 9",
    ),
    "an entry beyond the palette": (
        ["red.png", "--layer", "near", "--keep", "256"],
        "keep: entries go from 0 to 255, got 256",
    ),
    "all entries kept": (
        ["red.png", "--layer", "near", "--keep", "0:256"],
        "red.png: keep: near.tiles: all entries that it can show are kept, and none of them has a colour",
    ),
    "a sheet that is not whole": (
        ["red.png", "--sprites", "12x16"],
        "the sheet must be a multiple of 12x16 dots, is 16x16",
    ),
    "a sheet without a drawing": (
        ["empty.png", "--sprites", "8x16"],
        "empty.png: sprites: nothing is drawn on the sheet",
    ),
    "more targets than pictures": (
        ["red.png", "--layer", "near", "--layer", "far"],
        "vdpsim fit: --layer: must be given once, got 2",
    ),
    "more banks than pictures": (
        ["red.png", "--layer", "near", "--banks", "0", "--banks", "1"],
        "vdpsim fit: --banks: must be given once, got 2",
    ),
    "a font for sprites": (["red.png", "--glyphs", "--sprites", "8x8"], "vdpsim fit: --sprites: a font has no sprites"),
    "two fonts": (["red.png", "red.png", "--glyphs"], "vdpsim fit: --glyphs: takes one font, got 2"),
    "a cell without a font": (
        ["red.png", "--layer", "near", "--cell", "8x8"],
        "vdpsim fit: --cell: needs --glyphs",
    ),
    "no font": (["text.png", "--glyphs"], "text.png: "),
    "a place that is a file": (
        ["red.png", "--layer", "near", "-o", "red.png"],
        "-o: must be a folder, DIR/, got red.png",
    ),
    "a scene that is none": (["red.png", "--layer", "near", "--scene", "red.png"], "red.png: is not UTF-8 text"),
}


@pytest.mark.parametrize("what", WRONG)
def test_it_is_told_and_nothing_is_written(place, capsys, what):
    words, told = WRONG[what]
    before = sorted(place.rglob("*"))
    output = [] if "-o" in words else ["-o", "out/"]
    assert main(["fit", *words, "--chip", CHIP, *output]) == 2
    caught = capsys.readouterr()
    assert told in caught.err
    assert "Traceback" not in caught.err
    assert caught.out == ""
    assert sorted(place.rglob("*")) == before


BADLY_WRITTEN = {
    "--sprites": ("16", "must be dots across and down, such as 16x16, got '16'"),
    "--cell": ("0x8", "must be dots across and down, such as 16x16, got '0x8'"),
    "--max-tiles": ("-1", "must be a whole number, 0 to 999999999, got '-1'"),
    "--banks": ("4:2", "a range must be FIRST:END with FIRST below END, got '4:2'"),
    "--keep": ("1,x", "must be numbers and ranges such as 0:4,7, got '1,x'"),
    "--transparent": ("red", "must be a colour such as"),
    "--dither": ("best", "invalid choice: 'best'"),
    "--over": ("drop", "invalid choice: 'drop'"),
}


@pytest.mark.parametrize("option", BADLY_WRITTEN)
def test_options_that_cannot_be_read_are_told(place, capsys, option):
    value, told = BADLY_WRITTEN[option]
    assert main(["fit", "red.png", "--chip", CHIP, f"{option}={value}"]) == 2
    assert told in capsys.readouterr().err


def test_every_picture_that_is_wrong_is_told(place, capsys):
    words = ["missing.png", "large.png", "red.png", "--layer", "near", "--layer", "far", "--layer", "nere"]
    assert main(["fit", *words, "--chip", CHIP]) == 2
    told = capsys.readouterr().err
    assert all(word in told for word in ("missing.png: cannot be read", "large.png: size", "red.png: layer"))


def test_from_python_too():
    image = Image.new("RGB", (8, 8))
    with refused(vdpsim.InputError, "dither: must be one of: none, ordered, diffusion, got 'best'"):
        art.fit(image, CURLEW, layer="near", dither="best")
    with refused(vdpsim.InputError, "over: must be one of: merge, error, got 'drop'"):
        art.fit(image, CURLEW, layer="near", over="drop")
    with refused(vdpsim.InputError, "holds pictures: near, far; none was named"):
        art.fit_together([art.Ask(image)], CURLEW)
    with refused(AttributeError, "has no attribute 'fitt'"):
        art.fitt  # noqa: B018 - asking is the test
    assert set(art.__all__) <= set(dir(art))
    assert all(callable(getattr(art, name)) for name in art.__all__)


def test_a_chip_that_is_wired_to_another_mode_is_told():
    text = Path(CHIP).read_text(encoding="utf-8")
    wired = text.replace('"far.mode" = { bits = 2, effect = "next frame" }\n', "").replace(
        "[registers]\n", '[constants]\n"far.mode" = 1\n[registers]\nothers = "wired"\n'
    )
    chip = vdpsim.parse_chip(wired)
    image = Image.fromarray(np.zeros((8, 8, 3), np.uint8))
    with refused(vdpsim.InputError, "mode: Curlew is wired to show another mode of far: far.mode is 1"):
        art.fit(image, chip, layer="far.tiles")
    assert art.fit(image, chip, layer="far.chart").registers == {}
