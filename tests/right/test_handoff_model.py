"""Is the model's text whole, and does a folder get what of it speaks of its chip, in words that the folder knows?"""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

from paper import SPRITES, TEXT, TILES, small_chip

import vdpsim
from vdpsim.handoff.sections import SECTIONS, model_text
from vdpsim.testing.strategies.made.chips import make_chip

ROOT = Path(__file__).resolve().parents[2]
FILES = Path(vdpsim.__file__).parent / "handoff/model"
CHIPS = {name: vdpsim.load_chip(ROOT / f"scenes/chips/{name}.chip.toml") for name in ("curlew", "dunlin", "sanderling")}


def parts(chip: vdpsim.Chip) -> set[str]:
    """The sections that a chip gets, by their numbers and names."""
    told = list(model_text(chip))
    return {name for name in SECTIONS if (FILES / f"{name}.md").read_text("utf-8").strip("\n") in told}


def test_every_file_of_the_text_stands_in_the_table_and_in_developers():
    there = sorted(path.stem for path in FILES.glob("*.md"))
    assert list(SECTIONS) == there
    developers = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert re.findall(r"\(vdpsim/handoff/model/(\S+)\.md\)", developers) == there


def test_what_is_exported_speaks_of_no_python():
    told = {name: (FILES / f"{name}.md").read_text("utf-8") for name in SECTIONS if name != "25-results"}
    for name, text in told.items():
        assert not re.search(r"Result|State\b|Error\b|vdpsim|\.py\b|numpy|`ahead`|`buffers`", text), name
    assert "`Result.missed`" in (FILES / "25-results.md").read_text("utf-8")


def test_every_section_is_for_some_chips_and_those_of_features_not_for_all():
    found = [parts(chip) for chip in (small_chip(TEXT), *(make_chip(Random(seed)) for seed in range(40)))]
    always = {"01-terms", "02-registers", "03-time", "05-modes", "12-clients", "14-ladder", "24-cpu"}
    assert set.intersection(*found) == always
    assert set.union(*found) == SECTIONS.keys() - {"25-results"}


def test_a_plain_chip_gets_no_word_of_what_it_has_not():
    assert parts(small_chip(TEXT)) == {
        "01-terms",
        "02-registers",
        "03-time",
        "05-modes",
        "11-text",
        "12-clients",
        "14-ladder",
        "24-cpu",
    }
    assert "base + bank x bank step + value x value step" in "\n".join(model_text(small_chip(TEXT)))
    assert parts(small_chip(TILES)) >= {"06-surfaces", "07-tiles", "08-rows-of-dots"}
    assert "13-sprites" in parts(small_chip(TEXT, sprites=SPRITES)) - parts(small_chip(TEXT))
    assert parts(CHIPS["curlew"]) > {"15-slots", "17-fetches", "21-sprites-in-time", "22-transfers", "23-accesses"}


def test_readme_has_the_sections_in_their_order(tmp_path):
    scene = vdpsim.load_scene(ROOT / "scenes/flock.scene.toml")
    vdpsim.export(scene, tmp_path, only=["memory"])
    readme = (tmp_path / "README.md").read_text("utf-8")
    places = [readme.index(text) for text in model_text(scene.chip)]
    assert places == sorted(places)
