"""Is art fitted to surfaces of every shape, and does the scene draw it? Tile sizes, pages, edges, larger dots, colour cells.

A picture is in the mode's own dots: on a mode with ``double`` each of them shows as often as that says.
"""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from brief import short_choice, short_packing
from PIL import Image
from refusal import refused

import vdpsim
from vdpsim import art
from vdpsim.art.layers.blocks import MOST, two_of
from vdpsim.chip.checks import check
from vdpsim.chip.model import Chip

ROOT = Path(__file__).resolve().parents[2]
CURLEW = vdpsim.load_chip(ROOT / "scenes/chips/curlew.chip.toml")


@pytest.fixture(autouse=True)
def short_searches():
    """A scene draws what was fitted, however well its colours are chosen."""
    with short_choice(), short_packing():
        yield


def changed(layer, mode, **keys):
    """Curlew with other keys in one of its modes, and no word of time or registers."""
    data = json.loads(CURLEW.model_dump_json(exclude_unset=True, by_alias=True))
    for name in ("time", "registers", "ports", "status", "cpu"):
        data.pop(name, None)
    one = next(each for each in data["layers"] if each["name"] == layer)
    next(each for each in one["modes"] if each["name"] == mode).update(keys)
    chip = Chip.model_validate_json(json.dumps(data))
    assert list(check(chip)) == []
    return chip


def picture(seed, size, colours):
    """Blots of so many colours."""
    rng = np.random.default_rng(seed)
    shades = rng.integers(0, 16, (colours, 3)) * 17
    dots = shades[rng.integers(0, colours, (-(-size[1] // 4), -(-size[0] // 4)))].repeat(4, 0).repeat(4, 1)
    return Image.fromarray(dots[: size[1], : size[0]].astype(np.uint8))


def draws(path, found, mode):
    """Whether the scene at ``path`` draws the result, every dot as large as the mode says."""
    plane = vdpsim.render(vdpsim.load_scene(path), planes=True).planes[found.target.partition(".")[0]]
    across, down = mode.double
    shows, rgb = (each.repeat(down, 0).repeat(across, 1) for each in (found.opaque, found.rgb))
    high, wide = (min(one, other) for one, other in zip(shows.shape, plane.opaque.shape, strict=True))
    shows = shows[:high, :wide]
    assert np.array_equal(plane.opaque[:high, :wide], shows)
    assert np.array_equal(plane.rgb[:high, :wide][shows], rgb[:high, :wide][shows])


@pytest.mark.parametrize(
    ("mode", "keys", "size"),
    [
        ("tiles", {"tile": [16, 4]}, (100, 50)),
        ("tiles", {"tile": [4, 12]}, (44, 60)),
        ("tiles", {"tile": 32}, (288, 216)),
        ("tiles", {"page_order": "columns", "page": [16, 8], "pages": [4, 8]}, (288, 216)),
        ("tiles", {"cell_order": "columns"}, (200, 100)),
        ("tiles", {"wrap": False, "outside": 3}, (288, 216)),
        ("tiles", {"double": [2, 1]}, (144, 216)),
        ("tiles", {"double": [2, 4], "tile": [8, 16]}, (60, 30)),
        ("chart", {"double": [2, 2]}, (128, 100)),
        ("chart", {"wrap": False}, (100, 50)),
    ],
)
def test_a_picture_on_a_surface_is_drawn_as_the_result_says(tmp_path, mode, keys, size):
    """Flips are there with every tile; Curlew's tiles have no turn where these are oblong."""
    layer = next(layer.name for layer in CURLEW.layers if any(one.name == mode for one in layer.modes))
    if keys.get("tile", [0, 0]) != 32 and "tile" in keys:
        cell = next(one for one in CURLEW.layer(layer).modes if one.name == mode).cell.layout
        keys = {**keys, "cell": {name: str(bits) for name, bits in cell.items() if name != "turn"}}
    chip = changed(layer, mode, **keys)
    found = art.fit(picture(5, size, 12), chip, layer=f"{layer}", mode=mode)
    assert found.report.loss.none
    draws(found.save(tmp_path / "out")[0], found, chip.layer(layer).mode(mode))


def test_a_picture_for_larger_dots_is_made_as_small_as_they_need(tmp_path):
    """288 x 216 dots of the picture are 72 x 54 of four by four."""
    layer = next(layer.name for layer in CURLEW.layers if any(one.name == "tiles" for one in layer.modes))
    chip = changed(layer, "tiles", double=[4, 4])
    found = art.fit(picture(6, (288, 216), 6), chip, layer=layer, mode="tiles", scale=True)
    assert found.opaque.shape == (chip.frame.height // 4, chip.frame.width // 4)
    draws(found.save(tmp_path / "out")[0], found, chip.layer(layer).mode("tiles"))


# Colour cells

TWO = {"foreground": "3:0", "background": "7:4"}


def coloured(cell, block=(8, 8), bits=1, **keys):
    """Curlew with a bitmap of 256 x 192 dots and colour cells in place of its chart."""
    cells = {"block": list(block), "cell_bytes": 1, "cell": cell}
    return changed("far", "chart", bits_per_dot=bits, width=256, height=192, colours=cells, **keys)


def blocky(seed, size, block, colours, most):
    """A picture each of whose blocks has at most ``most`` of so many colours."""
    rng = np.random.default_rng(seed)
    shades = (rng.choice(4096, colours, replace=False)[:, None] >> np.array([8, 4, 0]) & 15) * 17
    down, across = size[1] // block[1], size[0] // block[0]
    pick = rng.integers(0, colours, (down, across, most))
    which = rng.integers(0, most, (down, block[1], across, block[0]))
    number = np.take_along_axis(pick[:, None, :, None], which[..., None], axis=4)[..., 0]
    return Image.fromarray(shades[number.reshape(size[1], size[0])].astype(np.uint8))


@pytest.mark.parametrize(
    ("block", "transparent"), [((8, 8), None), ((8, 1), None), ((16, 4), None), ((32, 8), 0), ((4, 2), None)]
)
def test_two_colours_a_block_are_kept_where_there_are_no_more(tmp_path, block, transparent):
    """Fifteen colours in all, two at most in a block: nothing is lost."""
    chip = coloured(TWO, block, transparent=transparent) if transparent is not None else coloured(TWO, block)
    found = art.fit(blocky(1, (96, 48), block, 15, 2), chip, layer="far", mode="chart")
    assert found.report.loss.none
    draws(found.save(tmp_path / "out")[0], found, chip.layer("far").mode("chart"))


def test_a_block_of_three_colours_keeps_the_two_that_lose_least(tmp_path):
    """Sixty dots of black, three of white, one of a grey that is nearer to white: it shows white."""
    dots = np.zeros((8, 8, 3), np.uint8)
    dots[0, :3], dots[1, 0] = 255, 204
    chip = coloured(TWO)
    found = art.fit(Image.fromarray(np.tile(dots, (1, 2, 1))), chip, layer="far", mode="chart")
    assert found.rgb[1, 0].tolist() == [255] * 3
    assert found.rgb[0, :4, 0].tolist() == [255, 255, 255, 0]
    assert any("a block shows two colours" in note for note in found.report.notes)
    draws(found.save(tmp_path / "out")[0], found, chip.layer("far").mode("chart"))


def lost_of(pair, dots, colours):
    """Each dot shows the nearer of two colours: the sum of the squares of the distances."""
    return sum(min(int(((dot - colours[one]) ** 2).sum()) for one in pair) for dot in dots.astype(int))


def test_the_best_two_of_a_block_are_found_by_trying_them_all():
    """Against every pair, slowly."""
    rng = np.random.default_rng(4)
    for _ in range(40):
        colours = rng.integers(0, 256, (rng.integers(1, 9), 3))
        dots = rng.integers(0, 256, (rng.integers(1, 20), 3)).astype(np.uint8)
        first, second = two_of(dots, colours, alone=False)

        every = product(range(len(colours)), repeat=2)
        assert lost_of((first, second), dots, colours) == min(lost_of(pair, dots, colours) for pair in every)


def test_of_very_many_colours_the_two_are_among_those_that_most_dots_are_near_to():
    """40 colours of which a dot each is near, and two, last of all, to which three dots each are: these."""
    colours = np.array([[number * 4, 255, 0] for number in range(MOST + 8)] + [[0, 0, 255], [255, 0, 255]])
    dots = np.concatenate([colours[: MOST + 8], *[colours[-2:]] * 3]).astype(np.uint8)
    assert two_of(np.concatenate([colours[-2:]] * 9).astype(np.uint8), colours, alone=False) == (MOST + 8, MOST + 9)
    near = [*range(MOST - 2), MOST + 8, MOST + 9]  # of equals the lower numbers
    apart = ((dots[:, None].astype(int) - colours[near]) ** 2).sum(axis=2)
    lost = np.minimum(apart[:, :, None], apart[:, None]).sum(axis=0)
    assert lost_of(two_of(dots, colours, alone=False), dots, colours) == lost.min()


def test_a_cell_both_of_whose_colours_cannot_show_nothing_is_told():
    chip = coloured({"foreground": "3:0", "background": "6:4"}, transparent=8)
    told = "both colours of far.chart must be able to be the number that shows nothing, 8; one of them ends at 7"
    with refused(vdpsim.InputError, told):
        art.fit(blocky(1, (16, 16), (8, 8), 4, 2), chip, layer="far", mode="chart")


@pytest.mark.parametrize("dithering", ["none", "ordered"])
def test_a_photograph_is_shown_as_the_result_says(tmp_path, dithering):
    """Far more colours than there are: what is shown is what is told, two a block."""
    rng = np.random.default_rng(9)
    steps = (rng.random((4, 4, 3)).repeat(16, 0).repeat(16, 1) * 255).astype(np.uint8)
    dots = steps // 2 + np.arange(0, 256, 4, dtype=np.uint8)[None, :, None] // 2
    chip = coloured(TWO)
    found = art.fit(Image.fromarray(dots), chip, layer="far", mode="chart", dither=dithering)
    blocks = found.rgb.reshape(8, 8, 8, 8, 3).swapaxes(1, 2).reshape(-1, 64, 3)
    assert max(len(np.unique(block, axis=0)) for block in blocks) == 2
    draws(found.save(tmp_path / "out")[0], found, chip.layer("far").mode("chart"))


def test_transparent_dots_leave_a_block_one_colour(tmp_path):
    alpha = np.full((16, 16), 255, np.uint8)
    alpha[3, 3] = 0
    rgb = np.asarray(blocky(2, (16, 16), (8, 8), 5, 2))
    chip = coloured(TWO, transparent=0)
    found = art.fit(Image.fromarray(np.concatenate([rgb, alpha[..., None]], axis=2)), chip, layer="far", mode="chart")
    assert not found.opaque[3, 3]
    assert len(np.unique(found.rgb[:8, :8][found.opaque[:8, :8]], axis=0)) == 1
    draws(found.save(tmp_path / "out")[0], found, chip.layer("far").mode("chart"))


def test_a_bank_a_block_is_fitted_as_tiles_are(tmp_path):
    """Two bits a dot: four values of one of four banks, in blocks of 8 x 8; sixteen colours in all, in four sets."""
    chip = coloured({"bank": "1:0"}, bits=2, entries={"bank_step": 4})
    parts = [np.asarray(blocky(seed, (64, 32), (64, 32), 4, 4)) for seed in range(4)]
    found = art.fit(Image.fromarray(np.concatenate(parts)), chip, layer="far", mode="chart")
    assert found.report.loss.none
    assert sorted(np.unique(found.banks).tolist()) == [0, 1, 2, 3]
    draws(found.save(tmp_path / "out")[0], found, chip.layer("far").mode("chart"))


def test_a_bank_a_block_is_dithered_with_the_colours_of_its_bank(tmp_path):
    """A ramp of 64 greys on four shades: dots of one grey show two of them in turns, as far as that is nearer."""
    ramp = np.repeat(np.repeat(np.arange(0, 256, 4, dtype=np.uint8)[None, :, None], 8, 0), 3, 2)
    chip = coloured({"bank": "1:0"}, bits=2, entries={"bank_step": 4})
    found = art.fit(Image.fromarray(ramp), chip, layer="far", mode="chart", dither="ordered")
    draws(found.save(tmp_path / "out")[0], found, chip.layer("far").mode("chart"))
    told = [len(np.unique(found.rgb[:, dot], axis=0)) for dot in range(64)]
    assert max(told) == 2 and told.count(2) > 16
