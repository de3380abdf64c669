"""Are sheets cut, trimmed, found again and banked, and does each sprite look as on its sheet where it is told to stand?"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from PIL import Image
from refusal import refused
from scenery import CHIP

import vdpsim
from vdpsim import art
from vdpsim.art.colours.units import grid
from vdpsim.art.scenes.encode import shown_colour
from vdpsim.art.sprites.numbering import numbered

CHIPS = Path(__file__).resolve().parents[2] / "scenes/chips"
CURLEW = vdpsim.load_chip(CHIPS / "curlew.chip.toml")
REEDLING = vdpsim.parse_chip(CHIP)

BIRD = np.array([list(row) for row in ("..##.", ".###+", "####.", ".#+..")])


def sheet(cells, size, columns):
    """A sheet of cells of ``size``, each (drawing, left, top) or None; # is red and + is yellow."""
    across, down = size
    rows = -(-len(cells) // columns)
    dots = np.zeros((rows * down, columns * across, 4), np.uint8)
    for at, cell in enumerate(cells):
        if cell is not None:
            drawing, left, top = cell
            y, x = at // columns * down + top, at % columns * across + left
            part = dots[y : y + drawing.shape[0], x : x + drawing.shape[1]]
            part[drawing == "#"] = (255, 0, 0, 255)
            part[drawing == "+"] = (255, 255, 0, 255)
    return Image.fromarray(dots)


def stands(found):
    """The sheet put together from images, flips and places: what the chip shows where each sprite is told to stand."""
    columns = found.rgb.shape[1] // found.cell[0]
    rgb, opaque = np.zeros_like(found.rgb), np.zeros_like(found.opaque)
    sprites = found.chip.sprites
    base, bank_step, value_step = found.chip.entry_rule(sprites.entries)
    for one in found.sprites:
        image = found.images[one.size][one.image]
        image = image[:: -1 if one.flip_y else 1, :: -1 if one.flip_x else 1]
        for line, dot in np.argwhere(image != sprites.transparent).tolist():
            y = one.cell // columns * found.cell[1] + one.dy + line
            x = one.cell % columns * found.cell[0] + one.dx + dot
            word = found.palette[base + one.bank * bank_step + int(image[line, dot]) * value_step]
            rgb[y, x] = shown_colour(found.chip.palette, word)
            opaque[y, x] = True
    assert np.array_equal(opaque, found.opaque)
    assert np.array_equal(rgb, found.rgb)


def test_a_drawing_is_found_again_wherever_it_stands_in_its_cell_and_flipped():
    flipped = [BIRD, BIRD[:, ::-1], BIRD[::-1], BIRD[::-1, ::-1]]
    places = [(0, 0), (3, 2), (11, 12), (5, 5)]
    cells = [(drawing, *place) for drawing, place in zip(flipped, places, strict=True)]
    found = art.fit_sprites(sheet([*cells, None, None], (16, 16), 3), CURLEW, (16, 16))
    stands(found)
    assert found.report.loss.none
    assert [one.cell for one in found.sprites] == [0, 1, 2, 3]
    assert [(one.flip_x, one.flip_y) for one in found.sprites] == [(0, 0), (1, 0), (0, 1), (1, 1)]
    assert {one.image for one in found.sprites} == {0}
    assert found.images[8, 8].shape == (1, 8, 8)
    assert (found.report.there, found.report.asked, found.report.used, found.report.limit) == (4, 1, 1, 1024)


def test_where_a_flipped_sprite_stands_by_hand():
    """Five dots of a box of eight: flipped, they lie at its right, so the box stands three dots further left: 3 - 3 = 0."""
    found = art.fit_sprites(sheet([(BIRD, 2, 1), (BIRD[:, ::-1], 3, 2)], (16, 16), 2), CURLEW, (16, 16))
    assert [(one.dx, one.dy) for one in found.sprites] == [(2, 1), (0, 2)]


def test_each_drawing_gets_the_smallest_size_that_holds_it():
    tall, wide = np.full((20, 3), "#"), np.full((9, 30), "+")
    found = art.fit_sprites(sheet([(BIRD, 0, 0), (tall, 4, 4), (wide, 1, 0)], (32, 32), 3), CURLEW, (32, 32))
    stands(found)
    assert [one.size for one in found.sprites] == [(8, 8), (16, 32), (32, 16)]
    assert dict(found.first) == {(8, 8): 0, (16, 32): 1, (32, 16): 1 + 8}
    assert found.report.used == 1 + 8 + 8


def test_a_sheet_without_transparent_dots_has_the_ground_of_its_corners():
    image = Image.new("RGB", (32, 16), (0, 255, 255))
    image.paste((255, 0, 0), (3, 3, 6, 9))
    found = art.fit_sprites(image, CURLEW, (16, 16))
    stands(found)
    assert found.opaque.sum() == 18
    assert any("the corners' colour, #00ffff, is the ground" in note for note in found.report.notes)
    keyed = art.fit_sprites(image, CURLEW, (16, 16), transparent=(255, 0, 0))
    assert keyed.opaque.sum() == 32 * 16 - 18


@given(some.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_every_sheet_looks_as_it_did(seed):
    """Random drawings of few colours on a chip with one flip, two sizes and four banks of three colours."""
    rng = np.random.default_rng(seed)
    colours = grid(rng.integers(0, 256, (3, 3)).astype(np.uint8), (4, 4, 4))
    rgb = colours[rng.integers(0, 3, (32, 48))]
    opaque = rng.random((32, 48)) < rng.random() * 0.3
    opaque[0, 0] = True
    picture = art.Picture(rgb * opaque[..., None], opaque, (), "sheet")
    found = art.fit_sprites(picture, REEDLING, (16, 16))
    stands(found)
    assert found.report.loss.none


def test_more_colours_than_the_banks_hold_are_chosen():
    rng = np.random.default_rng(1)
    dots = rng.integers(0, 256, (32, 64, 4)).astype(np.uint8)
    dots[..., 3] = 255
    dots[0, 0, 3] = 0
    for dither in ("none", "ordered"):
        found = art.fit_sprites(Image.fromarray(dots), REEDLING, (16, 16), banks=[1, 2], dither=dither)
        stands(found)
        assert not found.report.loss.none
        assert {one.bank for one in found.sprites} <= {1, 2}
        assert found.report.loss.colours_given <= 6


def test_what_cannot_be_is_refused():
    cells = sheet([(BIRD, 0, 0)], (16, 16), 1)
    with refused(vdpsim.InputError, "sheet must be a multiple of 12x16 dots, is 16x16"):
        art.fit_sprites(cells, CURLEW, (12, 16))
    with refused(vdpsim.InputError, "must be 1x1 dots or more, got 0x16"):
        art.fit_sprites(cells, CURLEW, (0, 16))
    with refused(vdpsim.InputError, "nothing is drawn on the sheet"):
        art.fit_sprites(Image.new("RGBA", (16, 16)), CURLEW, (16, 16))
    with refused(vdpsim.InputError, "drawing at column 1, row 0 must fit one of 8x8, 16x16, has 17x4 dots"):
        art.fit_sprites(sheet([(BIRD, 0, 0), (np.full((4, 17), "#"), 0, 0)], (24, 24), 2), REEDLING, (24, 24))
    with refused(vdpsim.InputError, "banks must be 0 to 7, got 8"):
        art.fit_sprites(cells, CURLEW, (16, 16), banks=[8])
    without = vdpsim.parse_chip(CHIP[: CHIP.index("[sprites]")].replace('{ source = "sprites" }, ', ""))
    with refused(vdpsim.InputError, "Reedling has no sprites"):
        art.fit_sprites(cells, without, (16, 16))
    with refused(vdpsim.InputError, "max_tiles: must be at most 1 unlike sprites, are 2"):
        art.fit_together(
            [art.Ask(sheet([(BIRD, 0, 0), (BIRD.T, 0, 0)], (16, 16), 2), sprites=(16, 16), max_tiles=1)], CURLEW
        )
    full = CURLEW.model_copy(update={"sprites": CURLEW.sprites.model_copy(update={"transparent": None})})
    with refused(vdpsim.InputError, "sprites of Curlew have no value that shows nothing"):
        art.fit_sprites(cells, full, (16, 16))
    head, mark, engine = CHIP.partition("[sprites]")
    opaque = vdpsim.parse_chip(head + mark + engine.replace("transparent = 0", "transparent = 3", 1))
    assert art.fit_sprites(cells, opaque, (16, 16)).report.loss.none, "another transparent value is one too"


@pytest.mark.parametrize(("small", "first", "numbers"), [(4, 4, 12), (5, 12, 17)])
def test_smaller_images_stand_between_the_runs_of_larger_ones(small, first, numbers):
    """Tiles 0 to 3 and 8 to 11 are a 32 x 16, whose rows of tiles lie 8 apart: four 8 x 8 fit between, five do not."""
    data = json.loads(REEDLING.model_dump_json(by_alias=True, exclude_unset=True))
    data["sprites"] |= {"sizes": [[32, 16], [8, 8]], "pattern_bytes": 16, "tiles": {"size": [8, 8], "stride": 8}}
    sprites = type(REEDLING).model_validate_json(json.dumps(data)).sprites
    images = [np.full((16, 32), 1, np.uint8), *(np.full((8, 8), at % 4, np.uint8) for at in range(small))]
    images[-1][0, 0] = 3 - images[-1][0, 0]
    found = numbered(sprites, images, [(32, 16), *[(8, 8)] * small])
    assert (found.first, found.numbers, found.count) == ({(32, 16): 0, (8, 8): first}, numbers, 1 + small)


def test_numbers_that_run_out_are_told():
    """Reedling's patterns are numbered 0 to 255 in steps of an 8 x 8; an unlike 16 x 16 takes four: 64 fit, 65 do not."""
    rng = np.random.default_rng(9)

    def made(count):
        dots = np.zeros((16 * 5, 16 * 13, 4), np.uint8)
        for at in range(count):
            cell = dots[at // 13 * 16 :, at % 13 * 16 :][:16, :16]
            cell[rng.random((16, 16)) < 0.5] = (255, 0, 0, 255)
            cell[0, 0] = cell[15, 15] = (0, 255, 0, 255)
        return Image.fromarray(dots)

    assert art.fit_sprites(made(64), REEDLING, (16, 16)).report.used == 256
    with refused(vdpsim.InputError, "go from 0 to 255, 65 unlike sprites need 260 of them"):
        art.fit_sprites(made(65), REEDLING, (16, 16))


@pytest.mark.parametrize("flips", [True, False])
def test_a_chip_without_flips_has_an_image_for_each_way(flips):
    chip = REEDLING if flips else vdpsim.parse_chip(CHIP.replace(' flip_x = "22",', ""))
    found = art.fit_sprites(sheet([(BIRD, 0, 0), (BIRD[:, ::-1], 0, 0)], (16, 16), 2), chip, (16, 16))
    stands(found)
    assert found.report.asked == (1 if flips else 2)
