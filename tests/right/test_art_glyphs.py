"""Which glyphs of a font does a text mode get, in its own size and under its own numbers?"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image
from refusal import refused
from scenery import CHIP

import vdpsim
from vdpsim import art

CHIPS = Path(__file__).resolve().parents[2] / "scenes/chips"
CURLEW = vdpsim.load_chip(CHIPS / "curlew.chip.toml")
DUNLIN = vdpsim.load_chip(CHIPS / "dunlin.chip.toml")


def font(glyphs, size, characters=True):
    """A font of rows of # and dots, by number."""
    made = {number: np.array([[letter == "#" for letter in row] for row in rows]) for number, rows in glyphs.items()}
    return art.Font(size, made, characters, ("it is small",))


TINY = {65: [".#.", "#.#", "###"], 66: ["##.", "##.", "###"], 300: ["###", "###", "###"], 10: ["...", "#..", "..."]}


def test_glyphs_stand_at_the_upper_left_of_their_boxes():
    found = art.fit_glyphs(font(TINY, (3, 3)), CURLEW)
    assert found.target == "near.text"
    assert found.size == (6, 8)
    assert sorted(found.glyphs) == [10, 65, 66]
    assert found.glyphs[65][:3, :3].tolist() == [[0, 1, 0], [1, 0, 1], [1, 1, 1]]
    assert found.glyphs[65].sum() == 6
    assert found.notes == ("it is small", "left out: 1 glyph beyond number 255")
    assert "glyphs      3 of 4, 6 x 8 dots" in found.text()
    assert dict(found.rows())["characters"] == "10 to 66"


def test_a_layer_and_a_mode_can_be_named():
    assert art.fit_glyphs(font(TINY, (3, 3)), CURLEW, layer="far").target == "far.text"
    assert art.fit_glyphs(font(TINY, (3, 3)), CURLEW, layer="far.text").target == "far.text"
    assert art.fit_glyphs(font(TINY, (3, 3)), CURLEW, layer="far", mode="text").target == "far.text"
    assert sorted(art.fit_glyphs(font(TINY, (3, 3)), DUNLIN).glyphs) == [10, 65, 66], "seven bits"
    with refused(vdpsim.InputError, "font: mode: must be a mode of near that holds text: text, got 'tiles'"):
        art.fit_glyphs(font(TINY, (3, 3)), CURLEW, layer="near.tiles")


def test_empty_rows_are_taken_away_where_a_box_is_too_high():
    """Ten rows, of which the first two and the last are empty: seven are left, and eight fit."""
    rows = ["......", "......", ".####.", *["#....#"] * 5, ".####.", "......"]
    found = art.fit_glyphs(font({65: rows}, (6, 10)), CURLEW)
    assert found.glyphs[65].tolist() == [[int(dot == "#") for dot in row] for row in rows[2:]]
    assert "2 empty rows were taken away, 2 of them at the top" in found.notes


def test_glyphs_that_are_too_large_are_left_out_and_most_of_them_are_an_error():
    wide = ["#" * 7] * 3
    small = {number: ["#......"] * 3 for number in (1, 2, 3)}
    found = art.fit_glyphs(font({**small, 4: wide, 5: wide}, (7, 3)), CURLEW)
    assert sorted(found.glyphs) == [1, 2, 3]
    assert "left out: 2 glyphs of more than 6x8 dots" in found.notes
    with refused(
        vdpsim.InputError,
        "must be at most 6x8 dots and numbered 0 to 255; most of the font's, which are up to 7x3, are not",
    ):
        art.fit_glyphs(font({1: small[1], 4: wide, 5: wide}, (7, 3)), CURLEW, name="wide")
    with refused(vdpsim.InputError, "numbered 0 to 127"):
        art.fit_glyphs(font({300: TINY[300]}, (3, 3)), DUNLIN)


def test_a_font_without_characters_keeps_its_numbers():
    found = art.fit_glyphs(font({0: TINY[65], 7: TINY[66]}, (3, 3), characters=False), CURLEW)
    assert sorted(found.glyphs) == [0, 7]
    assert "the font does not say which characters it has: glyphs keep their own numbers" in found.notes


def test_a_sheet_is_a_font_by_place(tmp_path):
    sheet = Image.new("1", (18, 16), 1)
    sheet.putpixel((6, 0), 0)
    sheet.putpixel((17, 15), 0)
    sheet.save(tmp_path / "sheet.png")
    found = art.fit_glyphs(tmp_path / "sheet.png", CURLEW, cell=(6, 8))
    assert found.name == "sheet"
    assert found.glyphs[1][0, 0] == 1
    assert found.glyphs[5][7, 5] == 1
    assert sum(int(glyph.sum()) for glyph in found.glyphs.values()) == 2


def test_a_chip_without_text_is_told():
    chip = vdpsim.load_chip(Path(__file__).resolve().parents[1] / "chips/photo.chip.toml")
    with refused(vdpsim.InputError, "Shelduck has no text mode"):
        art.fit_glyphs(font(TINY, (3, 3)), chip)


def test_it_shows_itself():
    """Sixteen boxes of 6 x 8 in a row, a line of one dot around each: 113 x 10 dots."""
    found = art.fit_glyphs(font(TINY, (3, 3)), vdpsim.parse_chip(CHIP))
    assert found.image.size == (16 * 7 + 1, 10)
    assert np.asarray(found.image)[2, 1] == 0, "the dot of number 10"
    assert repr(found) == "<FittedGlyphs 'font' for status.text of Reedling>"
    assert found._repr_png_().startswith(b"\x89PNG")
