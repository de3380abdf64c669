"""Is art fitted to surfaces of every shape, and does the scene that is written draw it? Tile sizes, pages, edges, larger dots.

A picture is in the mode's own dots: on a mode with ``double`` each of them shows as often as that says.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import vdpsim
from vdpsim import art
from vdpsim.chip.checks import check
from vdpsim.chip.model import Chip

ROOT = Path(__file__).resolve().parents[2]
CURLEW = vdpsim.load_chip(ROOT / "scenes/chips/curlew.chip.toml")


def changed(layer, mode, **keys):
    """Curlew with other keys in one of its modes."""
    data = json.loads(CURLEW.model_dump_json(exclude_unset=True, by_alias=True))
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
    """288 x 216 dots of the picture are 144 x 108 of two by two."""
    layer = next(layer.name for layer in CURLEW.layers if any(one.name == "tiles" for one in layer.modes))
    chip = changed(layer, "tiles", double=[2, 2])
    found = art.fit(picture(6, (288, 216), 6), chip, layer=layer, mode="tiles", scale=True)
    assert found.opaque.shape == (chip.frame.height // 2, chip.frame.width // 2)
    draws(found.save(tmp_path / "out")[0], found, chip.layer(layer).mode("tiles"))
