"""Does a folder's README say of a chip what it has, and nothing of what it has not?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from ponds import CHIP, SCENE
from scenery import load, png
from soaked import quick

import vdpsim
from vdpsim.chip.load import chip_text, parse_chip
from vdpsim.handoff.constants.files import constants_files

BEFORE = ('sprites = { when = "line before" }', 'sprites = { when = "blanking" }')
BUFFER = (
    'reeds.cells" = { when = "in time", lead = 12 }\n"reeds.pattern" = { when = "in time", lead = 12 }',
    'reeds.cells" = { when = "line before" }\n"reeds.pattern" = { when = "line before" }',
)


def readme(place: Path, chip: str) -> str:
    scene = load(place, SCENE, chip, reeds_png=png([[1] * 128] * 64))
    vdpsim.export(scene, place / "out", only=["vectors"], damage=True)
    told = (place / "out/README.md").read_text("utf-8")
    assert "{" not in told.partition("## When things are done")[2].partition("## Records")[0]
    return told


@pytest.mark.parametrize(
    ("changes", "sprites", "layer"), [((), True, False), ((BUFFER,), True, True), ((BEFORE,), False, False)]
)
def test_a_line_that_is_prepared_ahead_is_told_where_there_is_one(tmp_path, changes, sprites, layer):
    chip = CHIP
    for was, now in changes:
        assert was in chip
        chip = chip.replace(was, now)
    told = readme(tmp_path, chip)
    assert ("its sprites, which are fetched on the line before" in told) is sprites
    assert ("the layer reeds, which is held in a line buffer" in told) is layer
    assert ("line buffer" in told.partition("## The model, exactly")[0]) is layer
    assert ("- *Line buffers.*" in told) is layer
    assert "*What a memory does otherwise.*" in told
    assert ("*An empty line* is run" in told) is ("On line L - 1 of the frame before" in told) is (sprites or layer)
    assert ("prepares nothing a line ahead" in told) is not (sprites or layer)


def test_a_chip_that_says_nothing_of_time_is_told_nothing_of_accesses(tmp_path):
    told, _, model = readme(tmp_path, CHIP.partition("[time]")[0]).partition("## The model, exactly")
    assert "*What a memory does otherwise.*" not in model
    assert "prepares nothing a line ahead" in told and "in `access`" not in told
    assert "empty line" not in told


def test_of_many_frames_some_have_a_row_and_the_others_are_counted(tmp_path, monkeypatch):
    monkeypatch.setattr("vdpsim.handoff.readme.MOST_FRAMES", 2)
    scene = load(tmp_path, SCENE, CHIP, reeds_png=png([[1] * 128] * 64))
    for frames, told in ((2, False), (4, True)):
        vdpsim.export(scene, tmp_path / f"{frames}", frames=range(frames), only=["vectors"])
        page = (tmp_path / f"{frames}/README.md").read_text("utf-8")
        rows = page.partition("Records of each frame:")[2].partition("\n\n")[2].partition("\n\n")[0]
        assert len(rows.splitlines()) == 2 + 2, "a head, a line, and two frames"
        assert ("Those of the other 2 frames stand in `index.json`." in page) is told


def test_every_picture_line_has_a_record_of_sprites_that_are_off(tmp_path):
    scene = load(tmp_path, SCENE + '[registers]\n"sprites.enable" = 0\n', CHIP, reeds_png=png([[1] * 128] * 64))
    vdpsim.export(scene, tmp_path / "out", only=["vectors"])
    rows = [row.split() for row in (tmp_path / "out/vectors/sprites.txt").read_text().splitlines() if row[0] != "#"]
    assert rows == [["sprites", "0", str(line), "0", "0"] for line in range(64)]


def test_accesses_of_the_last_line_stand_there_and_those_of_the_empty_line_nowhere(tmp_path):
    """As README says. The third frog on line 0 alone: its fetches stand on line 69 of the frame before."""
    scene = load(tmp_path, SCENE.replace("y = 3", "y = 0"), CHIP, reeds_png=png([[1] * 128] * 64))
    vdpsim.export(scene, tmp_path / "out", frames=range(2), only=["vectors"])
    rows = [row.split() for row in (tmp_path / "out/vectors/access.txt").read_text().splitlines() if row[0] != "#"]
    number = vdpsim.verify(tmp_path / "out/vectors/access.txt", tmp_path / "out").index.clients.index("sprites.pattern")
    for frame in "01":
        lines = {row[2] for row in rows if row[1] == frame and row[4] == str(number)}
        assert "69" in lines and "0" in lines  # for line 0 of the next frame, and for line 1 of this
    first = [row for row in rows if row[1:3] == ["0", "0"]]
    assert sum(row[4] == str(number) for row in first) == 2, "the frog's row on line 1 alone: four bytes"


@pytest.mark.parametrize("name", quick(["pond", "curlew", "dunlin", "sanderling"], "pond".__eq__))
def test_no_constant_says_what_no_record_depends_on_and_every_other_number_is_said(name):
    """As README says of chip.toml: a whole number of each key is changed by itself, where the chip may have another."""
    shipped = Path(__file__).parents[2] / f"scenes/chips/{name}.chip.toml"
    text = chip_text(parse_chip(CHIP) if name == "pond" else vdpsim.load_chip(shipped))
    plain = constants(text)
    for word in ('display = "625 lines"\n', 'display = "525 lines"\n'):
        assert constants(text.replace(word, "")) == plain
    assert constants(re.sub(r'about = "[^"]*"', 'about = "Another."', text)) == plain
    bare = re.sub(r'"[^"]*"', lambda found: '"' * len(found[0]), text)
    numbers = [found.span() for found in re.finditer(r"(?<![\w.-])\d+(?![\w.])", bare)]
    tried, silent = set(), set()
    for start, end in numbers:
        key, value = re.findall(r"\w+", bare[:start])[-1], int(text[start:end])
        for other in {value + 1, value - 1, value * 2, value + 8} - {value} if key not in tried else ():
            try:
                told = constants(f"{text[:start]}{other}{text[end:]}")
            except ValueError:
                continue
            tried.add(key)
            if told == plain:
                silent.add(key)
            break
    assert len(tried) > 20
    assert silent <= {"bank_step"}  # that of a text, which has no banks: its step from bank to bank is 0


def constants(text: str) -> str:
    """What the constants of a chip say in the first language, without comments."""
    name, told = next(constants_files(parse_chip(text)))
    assert name == "constants.svh"
    return "".join(line.partition("//")[0] for line in told.decode().splitlines())
