"""Does the scene that is written for fitted art load, and does the chip then draw just what the result says?"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import numpy as np
import pytest
from brief import short_choice, short_packing
from paper import BITMAP, TEXT, TILES, small_chip
from PIL import Image
from refusal import refused
from scenery import CHIP, load

import vdpsim
from vdpsim import art
from vdpsim.art.scenes.hidden import nothing
from vdpsim.art.scenes.show import standing
from vdpsim.chip.load import chip_text
from vdpsim.files.toml.out import table, value

ROOT = Path(__file__).resolve().parents[2]
CHIPS = sorted([*(ROOT / "scenes/chips").glob("*.chip.toml"), *(ROOT / "tests/chips").glob("*.chip.toml")])
CURLEW = vdpsim.load_chip(ROOT / "scenes/chips/curlew.chip.toml")
REEDLING = vdpsim.parse_chip(CHIP)


@pytest.fixture(autouse=True)
def short_searches():
    """A scene draws what was fitted, however well its colours are chosen."""
    with short_choice(), short_packing():
        yield


def picture(seed, size, colours, alpha=False):
    """Random dots of so many colours, every fifth transparent where that is asked."""
    rng = np.random.default_rng(seed)
    shades = rng.integers(0, 256, (colours, 3))
    dots = shades[rng.integers(0, colours, (size[1] // 2, size[0] // 2))].repeat(2, 0).repeat(2, 1).astype(np.uint8)
    if not alpha:
        return Image.fromarray(dots)
    clear = np.where(rng.random(dots.shape[:2]) < 0.2, 0, 255).astype(np.uint8)
    return Image.fromarray(np.concatenate([dots, clear[..., None]], axis=2))


def draws(path, found):
    """Whether the scene at ``path`` draws the result on its layer."""
    scene = vdpsim.load_scene(path)
    frame = vdpsim.render(scene, planes=True)
    plane = frame.planes[found.target.partition(".")[0]]
    high, wide = (min(one, other) for one, other in zip(found.opaque.shape, plane.opaque.shape, strict=True))
    assert np.array_equal(plane.opaque[:high, :wide], found.opaque[:high, :wide])
    shows = found.opaque[:high, :wide]
    assert np.array_equal(plane.rgb[:high, :wide][shows], found.rgb[:high, :wide][shows])
    return frame


@pytest.mark.parametrize(
    ("chip", "layer", "size", "colours", "alpha"),
    [
        (CURLEW, "near", (288, 216), 12, True),
        (CURLEW, "near", (40, 22), 40, True),
        (CURLEW, "far", (288, 216), 16, False),
        (CURLEW, "far", (48, 40), 60, False),
        (CURLEW, "far.chart", (100, 50), 16, False),
        (CURLEW, "far.picture", (288, 192), 200, False),
        (CURLEW, "far.chart", (30, 20), 40, False),
        (REEDLING, "near", (64, 32), 9, True),
        (REEDLING, "near", (20, 12), 60, True),
        (REEDLING, "far", (16, 8), 16, False),
    ],
)
def test_a_scene_draws_what_the_result_says(tmp_path, chip, layer, size, colours, alpha):
    banks = None if colours <= 16 or "." in layer else [0, 2]
    found = art.fit(picture(1, size, colours, alpha), chip, layer=layer, banks=banks, keep=range(3))
    written = found.save(tmp_path / "out")
    assert written[0] == tmp_path / "out" / "picture.scene.toml"
    assert sorted(path.name for path in written) == sorted(path.name for path in (tmp_path / "out").iterdir())
    draws(written[0], found)


def test_on_a_layer_that_is_all_there_is_the_frame_is_the_image(tmp_path):
    found = art.fit(picture(3, (288, 216), 14), CURLEW, layer="far")
    frame = draws(found.save(tmp_path)[0], found)
    assert np.array_equal(frame.rgb, np.asarray(found.image))


def test_layers_and_sprites_show_together(tmp_path):
    sheet = picture(4, (64, 32), 9, alpha=True)
    asks = [art.Ask(picture(5, (288, 216), 14), "far"), art.Ask(picture(6, (96, 96), 9, alpha=True), "near")]
    far, near, birds = art.fit_together([*asks, art.Ask(sheet, sprites=(16, 16), name="birds")], CURLEW)
    written = art.save([far, near, birds], tmp_path)
    scenes = [path.name for path in written if path.name.endswith(".scene.toml")]
    assert scenes == ["picture.scene.toml"]
    assert {"picture.map", "picture_2.map", "birds_16x16.patterns"} <= {path.name for path in written}
    draws(written[0], far)
    draws(written[0], near)
    frame = draws(written[0], birds)
    assert len(frame.drops) == 0


def test_two_pictures_for_one_layer_make_two_scenes_with_one_palette(tmp_path):
    asks = [art.Ask(picture(seed, (64, 64), 9), "far", name=f"page_{seed}") for seed in (1, 2)]
    both = art.fit_together(asks, CURLEW)
    written = art.save(both, tmp_path)
    palettes = []
    for path, found in zip(written[:2], both, strict=True):
        assert path.name == f"{found.name}.scene.toml"
        draws(path, found)
        palettes.append(vdpsim.load_scene(path).state(0).palette.tolist())
    assert palettes[0] == palettes[1]


def test_sprites_that_do_not_go_on_their_lines_as_on_the_sheet_stand_in_rows(tmp_path):
    """Twenty sprites in a row of the sheet; a line takes twelve."""
    rng = np.random.default_rng(2)
    dots = np.zeros((8, 160, 4), np.uint8)
    dots[rng.random((8, 160)) < 0.6] = (255, 0, 0, 255)
    dots[0, ::8] = dots[7, 7::8] = (255, 255, 255, 255)
    found = art.fit_sprites(Image.fromarray(dots), CURLEW, (8, 8))
    places = standing(found)
    assert len(places) == 20
    assert [(x, y) for _, x, y in places[11:13]] == [(11 * 12, 0), (0, 12)]
    frame = vdpsim.render(vdpsim.load_scene(found.save(tmp_path)[0]), planes=True)
    assert len(frame.drops) == 0
    for sprite, x, y in places:
        cell = np.s_[:, sprite.cell * 8 : sprite.cell * 8 + 8]
        here = np.s_[y : y + 8, x : x + 8]
        assert np.array_equal(frame.planes["sprites"].opaque[here], found.opaque[cell])
        shows = found.opaque[cell]
        assert np.array_equal(frame.planes["sprites"].rgb[here][shows], found.rgb[cell][shows])


def test_no_more_sprites_stand_than_the_chip_has_or_the_picture_holds(tmp_path):
    """Reedling has four, on 64 x 64 dots; sixteen of 16 x 16 are drawn on the sheet."""
    dots = np.random.default_rng(2).integers(0, 2, (64, 64, 1)).astype(np.uint8).repeat(4, axis=2) * 255
    dots[::16, ::16] = dots[15::16, 15::16] = 255
    found = art.fit_sprites(Image.fromarray(dots), REEDLING, (16, 16))
    assert len(found.sprites) == 16
    assert len(standing(found)) == 4
    vdpsim.render(vdpsim.load_scene(found.save(tmp_path)[0]))
    narrow = vdpsim.parse_chip(CHIP.replace("count = 4", "count = 16\nper_line = 1"))
    assert [y for _, _, y in standing(art.fit_sprites(Image.fromarray(dots), narrow, (16, 16)))] == [0, 20, 40]


@pytest.mark.parametrize("size", [(128, 16), (16, 128)])
def test_a_sheet_larger_than_the_picture_stands_in_rows(tmp_path, size):
    """Reedling's picture has 64 x 64 dots; in the last of eight cells of 16 x 16, beyond it, there is a drawing."""
    dots = np.zeros((*size[::-1], 4), np.uint8)
    dots[-16:, -16:] = 255
    found = art.fit_sprites(Image.fromarray(dots), REEDLING, (16, 16))
    assert [(x, y) for _, x, y in standing(found)] == [(0, 0)]
    frame = vdpsim.render(vdpsim.load_scene(found.save(tmp_path)[0]), planes=True)
    assert np.argwhere(frame.planes["sprites"].opaque).tolist() == [[y, x] for y in range(16) for x in range(16)]


CELLS = {"block": [8, 8], "cell_bytes": 1, "cell": {"foreground": "3:0", "background": "7:4"}}
SHORT = {**CELLS, "cell": {"foreground": "3:0", "background": "6:4"}}


@pytest.mark.parametrize(
    ("mode", "tables"),
    [
        ({**TILES, "transparent": 1}, ["patterns", "maps"]),
        ({**BITMAP, "transparent": 2}, ["bitmaps"]),
        ({**BITMAP, "bits_per_dot": 1, "colours": CELLS, "transparent": 9}, ["colours"]),
        (BITMAP, None),
        ({**BITMAP, "bits_per_dot": 1, "colours": SHORT, "transparent": 9}, None),
        (TEXT, None),
    ],
)  # fmt: skip
def test_a_layer_that_is_always_on_shows_nothing_where_its_mode_has_a_value_for_that(tmp_path, mode, tables):
    """None: it has none, or it cannot be told."""
    chip = small_chip(mode)
    found = list(nothing(chip, "a", 0))
    assert [name for name, _ in found] == (tables or [])
    if tables:
        text = "".join(table(f"[[{name}]]", data) for name, data in found)
        scene = load(tmp_path, text, chip_text(chip))
        assert not vdpsim.render(scene, planes=True).planes["a"].opaque.any()


def test_glyphs_are_shown_under_their_numbers(tmp_path):
    glyphs = {number: np.random.default_rng(number).random((8, 6)) < 0.5 for number in (5, 10, 65, 66, 200)}
    for chip, layer in ((CURLEW, "near"), (CURLEW, "far"), (REEDLING, "status")):
        found = art.fit_glyphs(art.Font((6, 8), glyphs, True), chip, layer=layer, name=layer)
        frame = vdpsim.render(vdpsim.load_scene(found.save(tmp_path / chip.name / layer)[0]), planes=True)
        ink = (frame.planes[layer].rgb == 255).all(axis=2) & frame.planes[layer].opaque
        left = chip.layer(layer).mode("text").left
        for at, number in enumerate((5, 65, 66, 200)):
            assert np.array_equal(ink[:8, left + at * 6 : left + at * 6 + 6], glyphs[number]), (chip.name, number)


@pytest.mark.parametrize(("reset", "written"), [(1, False), (5, True)])
def test_glyphs_whose_colour_a_register_holds_are_shown_in_one(tmp_path, reset, written):
    """The ink is entry 1, where the register rests there already or not."""
    registers = {"others": "default", "a.x.foreground": {"bits": 4, "effect": "at once", "reset": reset}}
    chip = small_chip(TEXT, registers=registers)
    glyph = np.random.default_rng(2).random((8, 6)) < 0.5
    path = art.fit_glyphs(art.Font((6, 8), {5: glyph}, True), chip, name="reed").save(tmp_path)[0]
    frame = vdpsim.render(vdpsim.load_scene(path))
    assert np.array_equal((frame.rgb[:8, 2:8] == 255).all(axis=2), glyph)
    assert ('"a.x.foreground" = 1' in path.read_text("utf-8")) is written


def test_a_picture_of_several_sizes_is_shown_in_the_largest(tmp_path):
    sized = CHIP.replace("width = 64\nheight = 64\n", "sizes = [[64, 64], [64, 72]]\n", 1)
    found = art.fit(picture(2, (64, 32), 9), vdpsim.parse_chip(sized), layer="near")
    frame = draws(found.save(tmp_path)[0], found)
    assert frame.rgb.shape == (72, 64, 3)


def test_a_layer_that_cannot_be_switched_off_shows_nothing(tmp_path):
    """Reedling with registers for the far layer alone: the near one, in front of it, is always on."""
    widths = {
        "far.bitmap.bitmap": 12,
        "near.tiles.map": 12,
        "near.tiles.patterns": 8,
        "status.enable": 1,
        "sprites.enable": 1,
    }
    listed = "".join(f'"{name}" = {{ bits = {bits}, effect = "at once" }}\n' for name, bits in widths.items())
    chip = vdpsim.parse_chip(f'{CHIP}[registers]\nothers = "wired"\n{listed}')
    found = art.fit(picture(2, (16, 8), 9), chip, layer="far")
    frame = draws(found.save(tmp_path)[0], found)
    assert np.array_equal(frame.rgb[:8, :16], found.rgb)
    assert not frame.planes["near"].opaque.any()
    front = art.fit(picture(2, (16, 8), 9), chip, layer="near")
    draws(front.save(tmp_path / "front")[0], front)


def test_the_chips_own_file_is_copied_byte_for_byte(tmp_path):
    source = ROOT / "scenes/chips/curlew.chip.toml"
    found = art.fit(picture(2, (16, 8), 9), CURLEW, layer="far")
    found.save(tmp_path, source)
    assert (tmp_path / "curlew.chip.toml").read_bytes() == source.read_bytes()


@pytest.mark.parametrize("path", CHIPS, ids=lambda path: path.name)
def test_a_chip_is_written_as_it_is(path):
    chip = vdpsim.load_chip(path)
    assert vdpsim.parse_chip(chip_text(chip)) == chip
    assert vdpsim.parse_chip(chip_text(REEDLING)) == REEDLING
    for name in ("\U0001f426", "\"'\\", "\u00e9\U00020000"):
        odd = chip.model_copy(update={"name": name})
        assert vdpsim.parse_chip(chip_text(odd)) == odd


@pytest.mark.parametrize("name", ["../beyond", "/nowhere/beyond", "a/b", "..", "\U0001f426", "a  b", "x" * 60])
def test_a_chips_name_leads_nowhere(name, tmp_path):
    """Whatever a chip is called, its file lies in the folder that was asked for, and nothing anywhere else."""
    odd = CURLEW.model_copy(update={"name": name})
    found = art.fit(picture(2, (16, 8), 9), odd, layer="far")
    with tempfile.TemporaryDirectory(dir=tmp_path) as place, pytest.MonkeyPatch.context() as patch:
        patch.setattr(tempfile, "tempdir", place)
        written = art.save([found], tmp_path / "in" / "out")
        assert list(Path(place).iterdir()) == []
    assert {path.parent for path in written} == {tmp_path / "in" / "out"}
    assert [path.name for path in tmp_path.iterdir()] == ["in"]
    assert [path.name for path in (tmp_path / "in").iterdir()] == ["out"]
    assert vdpsim.load_scene(written[0]).chip == odd


def test_values_as_toml():
    told = {"a": True, "b c": [1, -2.5], "d": {"e": '\x7f\n"é'}}
    assert table("[t]", told) == '[t]\na = true\n"b c" = [1, -2.5]\nd = { e = "\\u007F\\n\\"é" }\n'
    with refused(TypeError, "TOML holds no object"):
        value(object())


def test_the_same_art_is_written_in_the_same_bytes(tmp_path):
    for folder in ("one", "two"):
        art.fit(picture(2, (32, 24), 40), CURLEW, layer="near", banks=[3]).save(tmp_path / folder)
    names = sorted(path.name for path in (tmp_path / "one").iterdir())
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_a_scene_that_memory_has_no_room_for_is_not_written(tmp_path):
    """32 tiles of 32 bytes and 64 bytes of map, 128 sprites of 16: 8 KB hold them, 2304 bytes do not."""
    rng = np.random.default_rng(3)
    dots = rng.integers(0, 2, (64, 128, 1)).astype(np.uint8).repeat(3, axis=2) * 255
    asks = [art.Ask(Image.fromarray(dots[:32, :64]), "near")]
    asks.append(art.Ask(Image.fromarray(dots), sprites=(8, 8), transparent=(0, 0, 0)))
    art.save(art.fit_together(asks, REEDLING), tmp_path / "fits")
    assert (tmp_path / "fits" / "picture.scene.toml").exists()
    small = vdpsim.parse_chip(CHIP.replace("size = 8192", "size = 2304"))
    with refused(vdpsim.InputError, "picture: Reedling cannot take the scene: .* finds no room for "):
        art.save(art.fit_together(asks, small), tmp_path / "out")
    assert not (tmp_path / "out").exists()
    assert art.save([], tmp_path / "none") == []


def shade(image, x, y):
    """A dot's colour."""
    return image.convert("RGB").getpixel((x, y))


def test_what_is_compared_stands_side_by_side():
    """An 8 x 8 picture, each dot 8 x 8: red as it is, white that became half as bright, and their difference."""
    image = Image.new("RGB", (8, 8), (255, 0, 0))
    found = art.fit(image, CURLEW, layer="near")
    sheet = art.compared(found)
    left = [8, 8 + 248, 8 + 2 * 248]
    assert [shade(sheet, x + 20, 40) for x in left] == [(255, 0, 0), (255, 0, 0), (0, 0, 0)]
    gone = art.fit(Image.new("RGB", (8, 8), (9, 9, 9)), CURLEW, layer="near")
    assert [shade(art.compared(gone), x + 20, 40) for x in left] == [(9, 9, 9), (17, 17, 17), (8 * 255 // 64,) * 3]
    clear = art.fit(Image.new("RGBA", (8, 8)), CURLEW, layer="near")
    assert shade(art.compared(clear), left[0] + 4, 40) == (204, 204, 204)


@pytest.mark.parametrize("side", [8, 408])
def test_the_difference_has_its_scale_below_it(side):
    """Sixteen fields from black to white, 8 dots each, and room for words, under the third picture of 8 x 8 or 408 x 8 dots."""
    sheet = art.compared(art.fit(Image.new("RGB", (side, 8), (9, 9, 9)), CURLEW, layer="near"))
    scale = 8 if side == 8 else 1
    wide = max(240, side * scale)
    lines = 2 if side == 8 else 1
    top, left = 8 + 14 * lines + 8 * scale + 8, 8 + 2 * (wide + 8)
    assert sheet.size == (8 + 3 * (wide + 8), top + 16 + 8)
    assert [shade(sheet, left + 4 + 8 * step, top + 8)[0] for step in range(16)] == [17 * step for step in range(16)]


def test_the_map_of_banks_has_a_colour_for_each():
    rng = np.random.default_rng(0)
    dots = np.concatenate([rng.integers(0, 8, (8, 8, 3)) * 34, rng.integers(0, 8, (8, 8, 3)) * 17], axis=1).astype(
        np.uint8
    )
    dots[0, 0] = 255
    found = art.fit(Image.fromarray(dots), CURLEW, layer="near", banks=[1, 6])
    assert sorted(np.unique(found.banks).tolist()) in ([1, 6], [1], [6])
    sheet = art.bank_map(found)
    seen = {shade(sheet, 8 + 4 + 64 * at, 12) for at in range(2)}
    assert len(seen) == len(np.unique(found.banks))
    assert art.bank_map(art.fit(Image.new("RGBA", (300, 8)), CURLEW, layer="near")).getpixel((20, 12)) == (0, 0, 0)
    data = io.BytesIO()
    sheet.save(data, "PNG")
    assert len(data.getvalue()) < 20_000


def test_one_bit_that_enables_two_layers(tmp_path):
    """Reedling's near and far layer are on together: the near one then shows nothing, though the scene cannot switch it off."""
    words = """
    [[registers]]
    name = "on"
    bits = 8
    fields = { on = { bits = "0", sets = ["near.enable", "far.enable"], reset = 0 } }
    [[registers]]
    others = "default"
    """
    chip = vdpsim.parse_chip(CHIP + "\n".join(line.strip() for line in words.splitlines()))
    found = art.fit(picture(2, (16, 8), 9), chip, layer="far")
    path = found.save(tmp_path)[0]
    frame = draws(path, found)
    assert np.array_equal(frame.rgb[:8, :16], found.rgb)
    assert not frame.planes["near"].opaque.any()
    assert "\non = 1\n" in path.read_text("utf-8")
