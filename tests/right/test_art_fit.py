"""Is art fitted as it should be? Kept where it fits, banked, deduplicated, merged to a limit, and reported as it is."""

from __future__ import annotations

import math
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from brief import short_choice, short_packing
from hypothesis import given, settings
from hypothesis import strategies as some
from PIL import Image
from refusal import refused
from scenery import CHIP
from soaked import few

import vdpsim
from vdpsim import art
from vdpsim.art.colours.units import grid
from vdpsim.art.results import slug
from vdpsim.art.scenes import encode

ROOT = Path(__file__).resolve().parents[2]
CURLEW = vdpsim.load_chip(ROOT / "scenes/chips/curlew.chip.toml")
PHOTO = vdpsim.load_chip(ROOT / "tests/chips/photo.chip.toml")
REEDLING = vdpsim.parse_chip(CHIP)


@pytest.fixture(autouse=True)
def short_searches():
    """What is fitted is shown and told as it is, however well its colours are chosen."""
    with short_choice(), short_packing():
        yield


def drawn(tiles, columns, colours):
    """A picture of 8 x 8 tiles, each with the colours that it names, over and over."""
    made = []
    for one in tiles:
        shades = np.array([colours[name] for name in one], np.uint8)
        made.append(shades[np.arange(64) % len(one)].reshape(8, 8, 3))
    rows = [np.concatenate(made[at : at + columns], axis=1) for at in range(0, len(made), columns)]
    return Image.fromarray(np.concatenate(rows))


def shades(count, bits=4):
    """So many colours of the chip's grid."""
    top = (1 << bits) - 1
    return [(at % 16 * 255 // top, at // 16 % 16 * 255 // top, 255) for at in range(count)]


def shown(found, chip, target):
    """What the chip shows for the result's own words, patterns and palette: colours and what is opaque."""
    layer, _, name = target.partition(".")
    mode = chip.layer(layer).mode(name)
    values = encode.cells_shown(mode, found.patterns, found.map)
    bank = encode.cell_fields(mode.cell.layout, found.map).get("bank", np.zeros_like(found.map))
    entry = chip.entry_rule(mode.entries)[0] + bank.repeat(8, 0).repeat(8, 1) * chip.palette.bank_size + values
    table = np.zeros((chip.palette.entries, 3), np.uint8)
    for at, word in found.palette.items():
        table[at] = encode.shown_colour(chip.palette, word)
    return table[entry], values != mode.transparent if mode.transparent is not None else np.ones_like(values, bool)


def agrees(found, chip):
    """Whether the image is what the words, patterns and palette show, at the layer's top left."""
    rgb, opaque = shown(found, chip, found.target)
    high, wide = found.opaque.shape
    assert np.array_equal(opaque[:high, :wide], found.opaque)
    assert np.array_equal(rgb[:high, :wide][found.opaque], found.rgb[found.opaque])
    image = np.asarray(found.image)
    assert np.array_equal(image[..., :3], found.rgb * found.opaque[..., None])
    if image.shape[2] == 4:
        assert np.array_equal(image[..., 3] == 255, found.opaque)
    else:
        assert found.opaque.all()


def test_a_report_is_shown_as_it_is_printed():
    colours = dict(enumerate(shades(4)))
    report = art.fit(drawn([(0, 1), (2, 3)], 2, colours), REEDLING, layer="near").report
    assert str(report) + "\n" == report.text()
    assert str(report).startswith(report.name) and len(str(report).splitlines()) > 3


def test_art_that_fits_keeps_every_colour():
    """Twelve tiles, 30 colours in all, fifteen at most in a tile: two banks of fifteen hold them, and no fewer can."""
    colours = shades(30)
    sets = [range(15), range(15, 30), range(3), range(20, 28), range(14, 15), range(15, 17)] * 2
    picture = drawn(sets, 4, colours)
    found = art.fit(picture, CURLEW, layer="near")
    report = found.report
    agrees(found, CURLEW)
    assert np.array_equal(found.rgb, np.asarray(picture))
    assert report.loss.none
    assert (report.banks, report.bound, report.entries) == (2, 2, 30)
    assert report.free == 8 * 15 - 30
    assert (report.there, report.asked, report.limit) == (12, 6, 1024)
    assert report.used == 7, "six unlike tiles, and one for what lies around them"
    assert (report.loss.colours_asked, report.loss.colours_given) == (30, 30)
    assert found.banks.shape == (3, 4)


def test_one_colour_more_than_a_bank_holds_is_lost():
    """Sixteen colours in a tile of a bank of fifteen."""
    kept = art.fit(drawn([range(7), range(8, 15)], 2, shades(16)), CURLEW, layer="near", banks=[0])
    assert kept.report.loss.none
    picture = drawn([range(8), range(8, 16)], 2, shades(16))
    found = art.fit(picture, CURLEW, layer="near", banks=[0])
    agrees(found, CURLEW)
    assert not found.report.loss.none
    assert found.report.loss.colours_given == 15
    assert found.report.bound == 0
    assert art.fit(picture, CURLEW, layer="near").report.loss.none, "two banks hold them"
    assert art.fit(picture, CURLEW, layer="far", banks=[0]).report.loss.none, "the far layer has sixteen entries a bank"


@given(some.integers(0, 2**32 - 1), some.integers(1, 8))
@settings(max_examples=max(1, settings.default.max_examples // 7))
def test_whatever_fits_is_kept_and_whatever_comes_out_is_what_the_chip_shows(seed, count):
    """Random tiles of a few colours, transparent dots among them, on a map with flips and turns."""
    rng = np.random.default_rng(seed)
    colours = grid(rng.integers(0, 256, (count, 3)).astype(np.uint8), (4, 4, 4))
    rgb = colours[rng.integers(0, count, (int(rng.integers(1, 33)), int(rng.integers(1, 65))))]
    opaque = rng.random(rgb.shape[:2]) < 0.8
    picture = art.Picture(rgb * opaque[..., None], opaque, (), "dots")
    found = art.fit(picture, REEDLING, layer="near")
    agrees(found, REEDLING)
    assert found.report.loss.none
    assert np.array_equal(found.opaque, opaque)


def test_colours_that_the_chip_has_not_are_rounded_and_then_kept():
    picture = drawn([[0], [1]], 2, [(0x12, 0x80, 0x09), (0xFE, 0, 0)])
    found = art.fit(picture, CURLEW, layer="far")
    assert found.rgb[0, 0].tolist() == [0x11, 0x88, 0x11]
    assert found.rgb[0, 8].tolist() == [0xFF, 0, 0]
    assert found.report.bound == 1
    assert not found.report.loss.none


def test_tiles_are_found_again_in_the_ways_that_the_cells_have_and_in_no_others():
    """The eight ways of one tile: one pattern with flips and turns, two with flips, four with a flip in x, eight with none."""
    tile = np.zeros((8, 8, 3), np.uint8)
    tile[0, 0], tile[0, 1], tile[3, 5] = (255, 0, 0), (0, 255, 0), (0, 0, 255)
    ways = [np.rot90(tile, turns) for turns in range(4)]
    picture = Image.fromarray(np.concatenate([*ways, *(way[:, ::-1] for way in ways)], axis=1))
    for chip, layer, patterns in ((REEDLING, "near", 1), (CURLEW, "near", 2), (PHOTO, "near", 4)):
        found = art.fit(picture, chip, layer=layer)
        agrees(found, chip)
        assert found.report.asked == patterns, chip.name
    flipless = vdpsim.parse_chip(
        CHIP.replace('flip_x = "10", flip_y = "11", turn = "12", priority = "15:13"', 'priority = "15:13"')
    )
    assert art.fit(picture, flipless, layer="near").report.asked == 8


def test_around_the_picture_nothing_shows_or_the_darkest_colour():
    picture = drawn([[0], [1]], 2, [(255, 255, 255), (0, 0, 17)])
    near = art.fit(picture, CURLEW, layer="near")
    _, opaque = shown(near, CURLEW, "near.tiles")
    assert opaque.sum() == 2 * 64
    far = art.fit(picture, CURLEW, layer="far")
    rgb, _ = shown(far, CURLEW, "far.tiles")
    assert (rgb[:, 16:] == (0, 0, 17)).all()
    assert (rgb[8:] == (0, 0, 17)).all()
    assert far.report.used == 2, "the darkest tile is there already"


def test_a_picture_that_is_no_whole_number_of_tiles_costs_no_colour():
    picture = np.asarray(drawn([range(4)] * 6, 3, shades(4)))[:13, :21]
    for layer in ("near", "far"):
        found = art.fit(Image.fromarray(picture), CURLEW, layer=layer)
        agrees(found, CURLEW)
        assert found.image.size == (21, 13)
        assert found.report.loss.none
        assert found.report.entries == 4


def test_transparent_dots_are_black_where_no_value_shows_nothing():
    image = Image.new("RGBA", (16, 8), (255, 0, 0, 255))
    image.putpixel((3, 3), (9, 9, 9, 0))
    near = art.fit(image, CURLEW, layer="near")
    assert not near.opaque[3, 3]
    assert near.image.mode == "RGBA"
    far = art.fit(image, CURLEW, layer="far")
    assert far.rgb[3, 3].tolist() == [0, 0, 0]
    assert far.image.mode == "RGB"
    assert any("1 transparent dots are black" in note for note in far.report.notes)
    keyed = art.fit(image.convert("RGB"), CURLEW, layer="near", transparent=(255, 0, 0))
    assert keyed.opaque.sum() == 1


def test_a_picture_that_is_empty_is_fitted_too():
    found = art.fit(Image.new("RGBA", (16, 16)), CURLEW, layer="near")
    agrees(found, CURLEW)
    assert found.report.banks == found.report.entries == 0
    assert (found.banks == -1).all()


def test_kept_entries_are_used_and_never_changed():
    """Bank 0 has red already: a picture of red and fourteen others needs no entry of its own for red."""
    colours = [(255, 0, 0), *shades(14)]
    picture = drawn([range(7), range(7, 15)], 2, colours)
    keep = {5: (255, 0, 0), 1: None}
    found = art.fit(picture, CURLEW, layer="near", banks=[0], keep=keep)
    assert not found.report.loss.none, "thirteen are free, fourteen are wanted"
    assert found.palette[5] == 0xF00
    assert set(found.palette).isdisjoint({1})
    found = art.fit(picture, CURLEW, layer="near", banks=[0], keep={5: (255, 0, 0)})
    assert found.report.loss.none
    agrees(found, CURLEW)
    assert found.report.entries == 15
    assert art.fit(picture, CURLEW, layer="near", banks=[0], keep=[5]).report.loss.colours_given == 14


def test_merging_to_a_limit_keeps_to_the_arts_own_colours():
    """Twenty unlike tiles of two colours: eight patterns, one of them for what lies around, and no third colour."""
    rng = np.random.default_rng(8)
    dots = rng.integers(0, 2, (8, 160))
    picture = Image.fromarray(np.array([(0, 0, 0), (255, 255, 255)], np.uint8)[dots])
    found = art.fit(picture, CURLEW, layer="near", max_tiles=8)
    agrees(found, CURLEW)
    assert len(found.patterns) == found.report.used == 8
    assert {tuple(row) for row in found.rgb.reshape(-1, 3).tolist()} == {(0, 0, 0), (255, 255, 255)}
    assert math.isinf(found.report.unlimited)
    assert found.report.asked == 20
    assert 0 < found.report.loss.psnr < 20
    assert "20 patterns were merged to 7" in found.report.notes
    enough = art.fit(picture, CURLEW, layer="near", max_tiles=21)
    assert enough.report.loss.none
    assert enough.report.unlimited is None


@pytest.mark.parametrize(
    ("limit", "dither"),
    few(
        product([1, 2, 24], ["none", "ordered", "diffusion"]),
        {(1, "ordered"), (2, "none"), (24, "diffusion")}.__contains__,
    ),
)
def test_however_few_tiles_are_allowed_there_are_no_more(limit, dither):
    rng = np.random.default_rng(limit)
    picture = Image.fromarray(rng.integers(0, 256, (16, 16, 3)).astype(np.uint8)).resize((64, 32))
    found = art.fit(picture, REEDLING, layer="near", max_tiles=limit, banks=[3], dither=dither)
    agrees(found, REEDLING)
    assert 0 < len(found.patterns) <= limit
    assert found.report.unlimited > found.report.loss.psnr
    assert (found.banks == 3).all()


def test_transparent_dots_count_when_tiles_are_merged():
    """Four tiles, half of each transparent, with some dots of other shapes: two patterns are left, and what changed is told."""
    rng = np.random.default_rng(5)
    opaque = np.zeros((8, 64), bool)
    opaque[:, ::2] = True
    opaque ^= rng.random((8, 64)) < 0.05
    picture = art.Picture(np.full((8, 64, 3), 85, np.uint8) * opaque[..., None], opaque, (), "dots")
    found = art.fit(picture, CURLEW, layer="near", max_tiles=3)
    agrees(found, CURLEW)
    assert not np.array_equal(found.opaque, opaque)
    count = int((found.opaque != opaque).sum())
    assert f"{count} dots became transparent, or ceased to be, as tiles were merged" in found.report.notes
    assert found.report.loss.none, "what shows in both has its colour"


def test_a_limit_that_is_an_error_says_how_many_are_needed():
    picture = drawn([[0], [1], [2], [0, 1], [1, 2]], 5, shades(3))
    with refused(
        vdpsim.InputError, r"max_tiles: must be at most 5 patterns for near.tiles, needs 6, 5 of the picture and one"
    ):
        art.fit(picture, CURLEW, layer="near", max_tiles=5, over="error")
    assert art.fit(picture, CURLEW, layer="near", max_tiles=6, over="error").report.used == 6


@pytest.mark.parametrize("dither", ["ordered", "diffusion"])
def test_dithering_changes_dots_but_not_what_fits(dither):
    exact = drawn([range(4)] * 2, 2, shades(4))
    assert art.fit(exact, CURLEW, layer="near", dither=dither).report.loss.none
    ramp = np.repeat(np.linspace(0, 255, 64)[None, :, None], 16, axis=0).repeat(3, axis=2).astype(np.uint8)
    plain = art.fit(Image.fromarray(ramp), CURLEW, layer="near", banks=[1])
    found = art.fit(Image.fromarray(ramp), CURLEW, layer="near", banks=[1], dither=dither)
    agrees(found, CURLEW)
    assert not np.array_equal(found.rgb, plain.rgb)
    bitmap = art.fit(Image.fromarray(ramp), CURLEW, layer="far.chart", dither=dither)
    assert bitmap.bitmap.shape == (128, 288)


def test_a_bitmap_has_a_value_for_each_dot():
    picture = drawn([range(5), range(5, 12)], 2, shades(12))
    found = art.fit(picture, CURLEW, layer="far", mode="chart")
    assert found.report.loss.none
    assert found.registers == {"far.mode": 1}
    assert found.map.size == found.patterns.size == 0
    assert (found.bitmap[8:] == found.bitmap[8, 0]).all()
    table = {
        value: encode.shown_colour(CURLEW.palette, found.palette[value]) for value in np.unique(found.bitmap).tolist()
    }
    assert np.array_equal(np.array([[table[v] for v in row] for row in found.bitmap[:8, :16].tolist()]), found.rgb)
    photo = art.fit(
        Image.fromarray(np.random.default_rng(0).integers(0, 256, (20, 30, 3)).astype(np.uint8)),
        CURLEW,
        layer="far.chart",
    )
    assert photo.report.loss.colours_given <= 16
    assert photo.report.banks_there == 1


def test_a_bitmap_takes_the_bank_with_the_most_room():
    """Reedling's bank register: banks 0 and 1 are kept, and so it is set to 2."""
    picture = Image.fromarray(np.asarray(drawn([range(6), range(6, 12)], 2, shades(12))))
    found = art.fit(picture, REEDLING, layer="far", keep=range(32))
    assert found.registers == {"far.bank": 2}
    assert found.report.loss.none
    assert min(found.palette) == 32
    assert found.banks.tolist() == [[2]]
    assert art.fit(picture, REEDLING, layer="far", banks=[3]).registers == {"far.bank": 3}


def test_several_pictures_share_the_palette():
    """Ten colours on the near layer, the same and five more on the far one: one bank holds all fifteen."""
    near, far = drawn([range(5), range(5, 10)], 2, shades(10)), drawn([range(8), range(7, 15)], 2, shades(15))
    one, other = art.fit_together([art.Ask(near, "near", banks=[0]), art.Ask(far, "far", banks=[0])], CURLEW)
    assert one.report.loss.none
    assert other.report.loss.none
    assert one.palette == other.palette
    assert len(one.palette) == 15
    assert (one.report.banks, one.report.together, one.report.bound) == (1, 1, 1)


def test_sprites_take_the_banks_that_they_reach():
    """Sprites see entries from 32 on: they share bank 2 with a layer that is allowed no other."""
    sheet = Image.new("RGBA", (16, 16))
    sheet.paste((255, 0, 0, 255), (2, 2, 7, 9))
    layer = drawn([range(14)], 1, shades(14))
    found = art.fit_together([art.Ask(layer, "near", banks=[2]), art.Ask(sheet, sprites=(16, 16))], CURLEW)
    assert [one.report.loss.none for one in found] == [True, True]
    assert found[1].sprites[0].bank == 0
    assert sorted(found[0].palette) == list(range(33, 48))


def test_what_fits_is_kept_beside_a_photograph():
    """A bird in eleven colours and a photograph share two banks: the bird loses nothing."""
    rng = np.random.default_rng(4)
    photo = Image.fromarray(rng.integers(0, 256, (24, 24, 3)).astype(np.uint8))
    bird = drawn([range(6), range(5, 11)], 2, shades(11))
    one, other = art.fit_together([art.Ask(photo, "far", banks=[0, 1]), art.Ask(bird, "near", banks=[0, 1])], CURLEW)
    assert other.report.loss.none
    assert not one.report.loss.none
    agrees(one, CURLEW)
    agrees(other, CURLEW)


def test_layers_whose_entries_overlap_all_over_share_them():
    """The picture mode sees all 256 entries, the near layer's banks are sixteen of them each; together they lose nothing."""
    near, far = drawn([range(15), range(15, 30)], 2, shades(30)), drawn([range(8)] * 2, 2, shades(40)[32:])
    asks = [art.Ask(far, "far.picture"), art.Ask(near, "near")]
    one, other = art.fit_together(asks, CURLEW)
    assert one.report.loss.none
    assert other.report.loss.none
    assert one.report.together == other.report.together > 0
    noise = Image.fromarray(np.random.default_rng(1).integers(0, 256, (16, 16, 3)).astype(np.uint8))
    one, other = art.fit_together([art.Ask(noise, "far.picture"), art.Ask(noise, "near", banks=[0])], CURLEW)
    agrees(other, CURLEW)
    assert one.report.loss.psnr > 20


def test_a_picture_that_is_too_large_is_made_smaller_where_that_is_asked():
    picture = Image.new("RGB", (500, 600), (255, 0, 0))
    with refused(
        vdpsim.InputError, "size: must be at most 512x256 dots for near.tiles, is 500x600; --scale makes it smaller"
    ):
        art.fit(picture, CURLEW, layer="near")
    found = art.fit(picture.resize((288, 346)), CURLEW, layer="far.chart", scale=True)
    assert found.image.size == (107, 128), "the bitmap is 128 lines high"
    found = art.fit(picture.resize((50, 60)), CURLEW, layer="far.chart", scale=True)
    assert found.image.size == (50, 60), "what fits is left as it is"
    clear = Image.new("RGBA", (600, 20), (255, 0, 0, 255))
    clear.paste((0, 0, 0, 0), (0, 0, 300, 20))
    found = art.fit(clear, CURLEW, layer="near", scale=True)
    assert found.image.size == (288, 10)
    assert found.opaque[:, 150:].all()
    assert not found.opaque[:, :140].any()
    assert "600x20 dots were made 288x10" in found.report.notes


def test_the_same_input_gives_the_same_result():
    picture = Image.fromarray(np.random.default_rng(7).integers(0, 256, (24, 24, 3)).astype(np.uint8))
    first, second = (art.fit(picture, CURLEW, layer="near", banks=[1], max_tiles=6) for _ in range(2))
    assert np.array_equal(first.patterns, second.patterns)
    assert np.array_equal(first.map, second.map)
    assert first.palette == second.palette
    assert first.report == second.report


def test_cells_get_the_priority_without_which_they_would_not_show():
    text = CHIP.replace('{ source = "near" }', '{ source = "near", when = "priority = 5" }')
    found = art.fit(drawn([[0]], 1, shades(1)), vdpsim.parse_chip(text), layer="near")
    assert (encode.cell_fields(found.chip.layer("near").modes[0].cell.layout, found.map)["priority"] == 5).all()


def test_progress_is_told_from_0_to_1():
    told = []
    picture = Image.fromarray(np.random.default_rng(7).integers(0, 256, (32, 32, 3)).astype(np.uint8))
    art.fit(picture, CURLEW, layer="near", banks=[1], max_tiles=6, progress=told.append)
    assert told == sorted(told)
    assert told[0] < 0.5
    assert told[-1] == 1.0


def test_losses_by_hand():
    """One of four dots is one level off in each channel: 10 log10(255^2 x 4) = 54.15 dB."""
    asked = np.full((2, 2, 3), 100, np.uint8)
    given_ = asked.copy()
    given_[0, 0] = 101
    found = art.loss(asked, given_, np.ones((2, 2), bool))
    assert found.psnr == pytest.approx(54.1514, abs=1e-4)
    assert found.worst == pytest.approx(4 * found.mean)
    assert (found.colours_asked, found.colours_given) == (1, 2)
    assert art.loss(asked, given_, np.zeros((2, 2), bool)).none
    assert art.loss(asked, asked, np.ones((2, 2), bool)) == art.Loss(math.inf, 0.0, 0.0, 1, 1)


@pytest.mark.ci
def test_losses_agree_with_scikit_image():
    measured = pytest.importorskip("skimage.metrics", reason="scikit-image is in the test extra")
    colour = pytest.importorskip("skimage.color")
    rng = np.random.default_rng(3)
    asked, other = (rng.integers(0, 256, (20, 30, 3)).astype(np.uint8) for _ in range(2))
    found = art.loss(asked, other, np.ones((20, 30), bool))
    apart = colour.deltaE_ciede2000(colour.rgb2lab(asked), colour.rgb2lab(other))
    assert found.psnr == pytest.approx(measured.peak_signal_noise_ratio(asked, other), abs=1e-9)
    assert found.mean == pytest.approx(apart.mean(), rel=1e-3)
    assert found.worst == pytest.approx(apart.max(), rel=1e-3)


def test_reports_say_it_in_words():
    picture = drawn([range(15), range(15, 30)], 2, shades(30))
    told = art.fit(picture, CURLEW, layer="near").report.text()
    assert "banks    2 of 8, the fewest that can be" in told
    assert "lost     nothing: every dot has its colour" in told
    lossy = art.fit(picture, CURLEW, layer="near", banks=[4], max_tiles=2).report
    assert "PSNR" in lossy.text()
    assert "without the limit" in lossy.text()
    assert "note: " in lossy.text()


def test_names_are_made_fit_for_a_scene_and_unlike():
    asks = [art.Ask(drawn([[0]], 1, shades(1)), "near", name="Grey Heron")] * 3
    assert [one.name for one in art.fit_together(asks, CURLEW)] == ["grey_heron", "grey_heron_2", "grey_heron_3"]


def test_a_result_shows_itself():
    found = art.fit(drawn([[0]], 1, shades(1)), CURLEW, layer="near")
    assert repr(found) == "<Fitted 'picture' for near.tiles of Curlew>"
    assert found._repr_png_().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("a/Grey Heron.2.png", "grey_heron"),
        ("3.bmp", "art_3"),
        ("--.png", "art"),
        ("x" * 99, "x" * 24),
        ("Öl.png", "l"),
    ],
)
def test_names_become_names_that_a_scene_can_have(name, found):
    assert slug(name) == found


@pytest.mark.soak
@pytest.mark.parametrize(("name", "least"), [("china.jpg", 32.0), ("flower.jpg", 34.8)])
def test_photographs_are_as_good_as_promised(name, least):
    """As right/test_choose.py asks of the colours alone, here with all that a layer adds."""
    datasets = pytest.importorskip("sklearn.datasets", reason="scikit-learn is in the test extra")
    image = Image.fromarray(datasets.load_sample_image(name)).resize((320, 216), Image.Resampling.LANCZOS)
    found = art.fit(image, PHOTO, layer="near")
    agrees(found, PHOTO)
    assert found.report.loss.psnr >= least
