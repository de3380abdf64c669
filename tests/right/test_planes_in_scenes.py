"""Dots in planes from a scene file to memory and back: patterns, bitmaps, timed writes, fitted art and a page's pictures."""

from __future__ import annotations

import base64
import io
from typing import Any

import numpy as np
import pytest
from brief import short_choice, short_packing
from PIL import Image
from scenery import CHIP, load, png, refusal

import vdpsim
from vdpsim import art
from vdpsim.art.scenes import encode
from vdpsim.chip.tables.pattern import Raster
from vdpsim.report.pictures import pattern_sheets
from vdpsim.scene.contents.dots import lay, read_back
from vdpsim.scene.contents.formats import Format
from vdpsim.state.writes import MemoryWrite, Transfer

PLANES = ("by row", "by pattern", "apart")
TILES, BITMAP = "bits_per_dot = 4\ncell_bytes", "bits_per_dot = 4\nwidth = 16\nheight = 8\nstride = 10"


@pytest.fixture(autouse=True)
def short_searches():
    """A scene draws what was fitted, however well its colours are chosen."""
    with short_choice(), short_packing():
        yield


def planar(tiles: str | None = None, bitmap: str | None = None, bits: int = 4, of_bitmap: int = 4) -> str:
    """The chip of ``scenery`` with planes in its tiles or its bitmap, which is packed line after line then."""
    text = CHIP
    if tiles:
        text = text.replace(TILES, f'bits_per_dot = {bits}\nplanes = "{tiles}"\ncell_bytes')
    if bitmap:
        text = text.replace(BITMAP, f'bits_per_dot = {of_bitmap}\nplanes = "{bitmap}"\nwidth = 16\nheight = 8')
    return text


def regions(scene: vdpsim.Scene, target: str) -> list[bytes]:
    """The bytes that lie at each address of a mode's dots, plane after plane."""
    memory = scene.state().memory
    rows = sorted((row for row in scene.layout if row.owner.startswith(f"{target}.")), key=lambda row: row.owner)
    return [memory[row.start : row.end].tobytes() for row in rows if not row.owner.endswith(".map")]


ROW = "12345678"
"""Bits 0 of the leftmost dots: 1 0 1 0 1 0 1 0; bits 1: 0 1 1 0 0 1 1 0; bits 2: 0 0 0 1 1 1 1 0; bits 3: only the last."""

PLANES_OF_ROW = [0b1010_1010, 0b0110_0110, 0b0001_1110, 0b0000_0001]
BLANK = '"........",'


def tile(row: int) -> str:
    """A pattern that has ``ROW`` in one row."""
    return BLANK * row + f'"{ROW}",' + BLANK * (7 - row)


@pytest.mark.parametrize("planes", PLANES)
def test_a_pattern_lies_in_planes(tmp_path, planes):
    """Two patterns, of 32 bytes: row 1 of the first and row 6 of the second. By row a row is 4 bytes; else a plane has 8."""
    text = f'[[patterns]]\nfor = "near.tiles"\nrows = [{tile(1)}{tile(6)}]\n'
    found = regions(load(tmp_path, text, planar(planes)), "near.tiles")
    wanted = {
        "by row": [bytes(4) + bytes(PLANES_OF_ROW) + bytes(24) + bytes(24) + bytes(PLANES_OF_ROW) + bytes(4)],
        "by pattern": [
            b"".join(bytes([*[0] * row, one, *[0] * (7 - row)]) for row in (1, 6) for one in PLANES_OF_ROW),
        ],
        "apart": [bytes([0, one, *[0] * 12, one, 0]) for one in PLANES_OF_ROW],
    }
    assert found == wanted[planes]


@pytest.mark.parametrize("planes", PLANES)
def test_a_bitmap_lies_in_planes(tmp_path, planes):
    """16 x 8 dots: 2 bytes a row of a plane. Dots 8 to 15 of line 2."""
    text = f'[[bitmaps]]\nfor = "far.bitmap"\nat = [8, 2]\nrows = ["{ROW}"]\n'
    found = regions(load(tmp_path, text, planar(bitmap=planes)), "far.bitmap")
    low = [int(f"{one:08b}"[::-1], 2) for one in PLANES_OF_ROW]  # the leftmost dot in bit 0
    by_row = bytes(16) + b"".join(bytes([0, one]) for one in low) + bytes(40)
    of_each = [bytes([*[0] * 5, one, *[0] * 10]) for one in low]
    assert found == {"by row": [by_row], "by pattern": [b"".join(of_each)], "apart": of_each}[planes]


def test_raw_patterns_lie_as_they_are_all_of_a_plane_together_where_planes_lie_apart(tmp_path):
    data = bytes(range(64))
    text = '[[patterns]]\nfor = "near.tiles"\nraw = "art.bin"\n'
    for planes in PLANES[:2]:
        assert regions(load(tmp_path, text, planar(planes), art_bin=data), "near.tiles") == [data]
    found = regions(load(tmp_path, text, planar("apart"), art_bin=data), "near.tiles")
    assert found == [data[16 * plane : 16 * plane + 16] for plane in range(4)]
    told = refusal(tmp_path, text, planar("apart"), art_bin=data[:40])
    assert "art.bin must be whole patterns of 32 bytes, got 40 bytes" in told


def test_raw_bitmaps_lie_as_they_are(tmp_path):
    """By row a line is 8 bytes, and raw bytes may start with any; planes that lie apart come one after another."""
    data = bytes(range(64))
    text = '[[bitmaps]]\nfor = "far.bitmap"\nat = [0, 1]\nraw = "art.bin"\n'
    assert regions(load(tmp_path, text, planar(bitmap="by row"), art_bin=data[:56]), "far.bitmap") == [
        bytes(8) + data[:56]
    ]
    assert "must be at most 56 bytes from line 1 on, got 57" in refusal(
        tmp_path, text, planar(bitmap="by row"), art_bin=data[:57]
    )
    for planes in PLANES[1:]:
        told = refusal(tmp_path, text, planar(bitmap=planes), art_bin=data)
        assert f"raw bytes of planes {planes} start at the first dot of all: must be [0, 0], got [0, 1]" in told
    text = text.replace("at = [0, 1]\n", "")
    assert regions(load(tmp_path, text, planar(bitmap="by pattern"), art_bin=data), "far.bitmap") == [data]
    found = regions(load(tmp_path, text, planar(bitmap="apart"), art_bin=data), "far.bitmap")
    assert found == [data[16 * plane : 16 * plane + 16] for plane in range(4)]
    assert "must be at most 64 bytes from line 0 on, got 65" in refusal(
        tmp_path, text, planar(bitmap="apart"), art_bin=bytes(65)
    )


def test_five_planes_are_written_with_two_digits_a_dot(tmp_path):
    """Values 0 to 31: 1f has a bit in each plane."""
    row = '"1f00000000000000",'
    text = f'[[patterns]]\nfor = "near.tiles"\nrows = [{row * 8}]\n'
    chip = planar("apart", bits=5).replace("bank_size = 16", "bank_size = 8")
    assert regions(load(tmp_path, text, chip), "near.tiles") == [b"\x80" * 8] * 5
    for wrong, told in (
        ("20", "values must be 0 to 1f, got '20' at dot 0"),
        ("3f", "values must be 0 to 1f, got '3f' at dot 0"),
    ):
        assert told in refusal(tmp_path, text.replace("1f", wrong), chip)
    picture = png(np.full((8, 8), 31))
    text = '[[patterns]]\nfor = "near.tiles"\npng = "art.png"\n'
    assert regions(load(tmp_path, text, chip, art_png=picture), "near.tiles") == [b"\xff" * 8] * 5


def test_a_picture_is_found_again_among_patterns_in_planes(tmp_path):
    """Two tiles of 8 x 8: the first, and its likeness flipped in x; with ``make`` one pattern does for both."""
    dots = np.random.default_rng(4).integers(0, 8, (8, 8)).astype(np.uint8)
    both = np.concatenate([dots, dots[:, ::-1]], axis=1)
    text = '[[maps]]\nfor = "near.tiles"\npicture = "art.png"\nmake = true\n'
    for planes in PLANES:
        scene = load(tmp_path, text, planar(planes), art_png=png(both))
        plane = vdpsim.render(scene, planes=True).planes["near"]
        assert np.array_equal(plane.entry[:8, :16], both)
        assert sum(map(len, regions(scene, "near.tiles"))) == 32


@pytest.mark.parametrize("by", ["", 'by = "cpu"\n'])
def test_a_pattern_is_written_to_each_of_its_planes(tmp_path, by):
    """Planes apart are as many writes of 8 bytes; by pattern and by row one of 32."""
    patterns = f'[[patterns]]\nname = "one"\nfor = "near.tiles"\nrows = [{BLANK * 16}]\n'
    write = f'[[writes]]\nline = 3\npatterns = "one+1"\nrows = [{tile(1)}]\n{by}'
    kind: Any = Transfer if by else MemoryWrite
    for planes in PLANES:
        chip = planar(planes)
        if by:
            chip = chip.replace("bytes_per_access = 2", "bytes_per_access = 2\naccesses_per_dot = 8")
            names = ["near.cells", "near.pattern", "far.bitmap", "status.cells", "status.glyphs", "sprites"]
            chip += "[time]\n[time.clients]\n" + "".join(f'"{name}" = {{ when = "blanking" }}\n' for name in names)
        scene = load(tmp_path, patterns + write, chip)
        state, found = scene.state(), scene.writes()
        assert {type(one) for one in found} == {kind}
        assert {one.line for one in found} == {3}
        if planes == "apart":
            at = [state.value(f"near.tiles.plane_{plane}") + 8 for plane in range(4)]
            wanted = [(one, bytes([0, bits, *[0] * 6])) for one, bits in zip(at, PLANES_OF_ROW, strict=True)]
        else:
            rows = bytes(4) + bytes(PLANES_OF_ROW) + bytes(24)
            spread = b"".join(bytes([0, bits, *[0] * 6]) for bits in PLANES_OF_ROW)
            wanted = [(state.value("near.tiles.patterns") + 32, rows if planes == "by row" else spread)]
        assert [(one.address, one.data) for one in found] == wanted


def test_a_pattern_of_another_mode_is_found_where_all_planes_lie_as_its_own():
    """Names of another target count where the patterns lie at the same addresses: in every plane, and as many of them."""
    rasters = [Format(8, 8, bits, "high", planes="apart") for bits in (2, 3)]
    assert [(one.raster.bases, one.size_bytes) for one in rasters] == [(2, 16), (3, 24)]


@pytest.mark.parametrize("planes", [None, *PLANES])
@pytest.mark.parametrize("first_dot", ["high", "low"])
def test_every_depth_is_read_back(planes, first_dot):
    """Dots of 1 to 8 bits, with a stride and without, as bytes and back; what lies between rows stays as it was."""
    rng = np.random.default_rng(7)
    for bits in range(1, 9) if planes else (1, 2, 4, 8):
        for stride in (None, 40):
            raster = Raster(16, 5, bits, planes, stride)
            dots = rng.integers(0, 1 << bits, (3, 5, 16)).astype(np.uint8)
            image = rng.integers(0, 256, (3, raster.bases, raster.size)).astype(np.uint8)
            before = image.copy()
            lay(dots, raster, first_dot, image)
            assert np.array_equal(read_back(image, raster, first_dot), dots)
            changed = (image != before).any(axis=0).sum()
            assert changed <= 5 * 2 * bits
            assert lay(dots, raster, first_dot).shape == image.shape


@pytest.mark.parametrize("planes", PLANES)
def test_patterns_and_bitmaps_of_fitted_art_are_read_back(planes):
    rng = np.random.default_rng(8)
    look = Format(16, 16, 3, "low", planes=planes)
    patterns = rng.integers(0, 8, (5, 16, 16)).astype(np.uint8)
    data = encode.pattern_bytes(look, patterns)
    assert len(data) == 5 * 16 * 2 * 3
    assert np.array_equal(encode.pattern_dots(look, data), patterns)
    mode = vdpsim.parse_chip(planar(bitmap=planes)).layer("far").modes[0]
    values = rng.integers(0, 16, (8, 16)).astype(np.uint8)
    assert np.array_equal(encode.bitmap_dots(mode, encode.bitmap_bytes(mode, values)), values)


# Art


def picture(seed: int, size: tuple[int, int], colours: int) -> Image.Image:
    """Random squares of so many colours."""
    rng = np.random.default_rng(seed)
    dots = rng.integers(0, 16, (colours, 3))[rng.integers(0, colours, (size[1] // 2, size[0] // 2))] * 17
    return Image.fromarray(dots.repeat(2, 0).repeat(2, 1).astype(np.uint8))


@pytest.mark.parametrize("planes", PLANES)
@pytest.mark.parametrize(
    ("layer", "size", "colours"), [("near", (64, 32), 9), ("near", (40, 24), 40), ("far", (16, 8), 16)]
)
def test_a_fitted_scene_draws_just_what_the_report_speaks_of(tmp_path, planes, layer, size, colours):
    chip = vdpsim.parse_chip(planar(planes, planes))
    found = art.fit(picture(3, size, colours), chip, layer=layer)
    packed = art.fit(picture(3, size, colours), vdpsim.parse_chip(CHIP), layer=layer)
    assert np.array_equal(found.rgb, packed.rgb)
    scene = vdpsim.load_scene(found.save(tmp_path)[0])
    plane = vdpsim.render(scene, planes=True).planes[layer]
    high, wide = (min(one, other) for one, other in zip(found.opaque.shape, plane.opaque.shape, strict=True))
    shows = found.opaque[:high, :wide]
    assert np.array_equal(plane.opaque[:high, :wide], shows)
    assert np.array_equal(plane.rgb[:high, :wide][shows], found.rgb[:high, :wide][shows])


def test_three_planes_have_room_for_more_patterns_than_four_bits():
    """8,192 bytes less 64 of map: 254 patterns of 32 bytes, 338 of 24 of which a cell can name 256."""
    many = picture(9, (64, 32), 8)
    chips = [
        vdpsim.parse_chip(planar(planes, bits=bits)) for planes, bits in (("apart", 4), ("apart", 3), ("by pattern", 3))
    ]
    limits = [art.fit(many, chip, layer="near").report.limit for chip in chips]
    assert limits == [254, 256, 256]


# The page


@pytest.mark.parametrize("planes", PLANES)
def test_a_page_shows_patterns_as_they_are(tmp_path, planes):
    """Three patterns, side by side, in the colours of bank 0: entry n is the grey n x 17."""
    dots = np.random.default_rng(5).integers(0, 16, (8, 24)).astype(np.uint8)
    greys = ", ".join(f'"#{value:x}{value:x}{value:x}"' for value in range(16))
    text = f'[[palette]]\ncolours = [{greys}]\n[[patterns]]\nfor = "near.tiles"\npng = "art.png"\n'
    (sheet,) = pattern_sheets(load(tmp_path, text, planar(planes), art_png=png(dots)))
    assert (sheet["count"], sheet["width"], sheet["height"]) == (3, 8, 8)
    owner = "near.tiles.plane_0 to plane_3" if planes == "apart" else "near.tiles.patterns"
    assert sheet["owner"] == owner
    with Image.open(io.BytesIO(base64.b64decode(sheet["picture"].partition(",")[2]))) as image:
        assert np.array_equal(np.asarray(image.convert("L"))[:8, :24], dots * 17)


# Sprites


def planar_sprites(planes: str, more: str = "") -> str:
    """The chip of ``scenery`` whose sprites have 4 bits in planes."""
    old = "sizes = [[8, 8], [16, 16]]\nbits_per_dot = 2"
    assert old in CHIP
    return CHIP.replace(old, f'sizes = [[8, 8], [16, 16]]\nplanes = "{planes}"\nbits_per_dot = 4\n{more}')


@pytest.mark.parametrize("planes", PLANES)
@pytest.mark.parametrize("more", ["", "tiles = { size = [8, 8] }\n", "tiles = { size = [8, 8], stride = 4 }\n"])
def test_sprites_of_a_scene_show_what_is_told(tmp_path, planes, more):
    """A sprite of each size, alone and made of tiles: dots from a picture, shown at their place."""
    rng = np.random.default_rng(6)
    small, large = (rng.integers(1, 16, (side, side)).astype(np.uint8) for side in (8, 16))
    text = "".join(
        f'[[patterns]]\nname = "{name}"\nfor = "sprites"\nsize = [{side}, {side}]\npng = "{name}.png"\n'
        f'[[sprites]]\nname = "{name}_one"\nx = {x}\ny = 20\npattern = "{name}"\nsize = [{side}, {side}]\n'
        for name, side, x in (("small", 8, 4), ("large", 16, 32))
    )
    scene = load(tmp_path, text, planar_sprites(planes, more), small_png=png(small), large_png=png(large))
    plane = vdpsim.render(scene, planes=True).planes["sprites"]
    assert np.array_equal(plane.entry[20:28, 4:12], small)
    assert np.array_equal(plane.entry[20:36, 32:48], large)


def test_raw_sprites_in_planes_that_lie_apart_come_plane_after_plane(tmp_path):
    """Two of 8 x 8 dots of 4 bits: 16 bytes of each plane, 64 in all; by pattern a sprite's 32 bytes after the other's."""
    data = bytes(range(1, 65))
    text = '[[patterns]]\nfor = "sprites"\nraw = "art.bin"\n'
    found = regions(load(tmp_path, text, planar_sprites("apart"), art_bin=data), "sprites")
    assert [part for part in found if part != bytes(24)] == [data[16 * plane : 16 * plane + 16] for plane in range(4)]
    assert data in regions(load(tmp_path, text, planar_sprites("by pattern"), art_bin=data), "sprites")
    told = refusal(tmp_path, text, planar_sprites("apart"), art_bin=data[:40])
    assert "must be whole patterns of" in told


@pytest.mark.parametrize("planes", PLANES)
@pytest.mark.parametrize("more", ["", "tiles = { size = [8, 8] }\n"])
def test_a_fitted_sheet_draws_just_what_the_report_speaks_of(tmp_path, planes, more):
    sheet = picture(11, (32, 16), 9).convert("RGBA")
    alpha = np.array(sheet)
    alpha[::3, ::5, 3] = 0
    chip = vdpsim.parse_chip(planar_sprites(planes, more))
    (found,) = art.fit_together([art.Ask(Image.fromarray(alpha), sprites=(16, 16), name="birds")], chip)
    scene = vdpsim.load_scene(art.save([found], tmp_path)[0])
    plain = vdpsim.parse_chip(planar_sprites("by row").replace('planes = "by row"\n', ""))
    (packed,) = art.fit_together([art.Ask(Image.fromarray(alpha), sprites=(16, 16), name="birds")], plain)
    other = vdpsim.load_scene(art.save([packed], tmp_path / "packed")[0])
    one, two = (vdpsim.render(each, planes=True).planes["sprites"] for each in (scene, other))
    assert one.opaque.any()
    assert np.array_equal(one.opaque, two.opaque)
    assert np.array_equal(one.rgb, two.rgb)


@pytest.mark.parametrize("planes", PLANES)
def test_a_page_shows_sprites_as_they_are(tmp_path, planes):
    dots = np.random.default_rng(5).integers(0, 16, (8, 24)).astype(np.uint8)
    greys = ", ".join(f'"#{value:x}{value:x}{value:x}"' for value in range(16))
    text = f'[[palette]]\ncolours = [{greys}]\n[[patterns]]\nfor = "sprites"\npng = "art.png"\n'
    (sheet,) = pattern_sheets(load(tmp_path, text, planar_sprites(planes), art_png=png(dots)))
    assert (sheet["count"], sheet["owner"][:8]) == (3, "sprites.")
    with Image.open(io.BytesIO(base64.b64decode(sheet["picture"].partition(",")[2]))) as image:
        assert np.array_equal(np.asarray(image.convert("L"))[:8, :24], dots * 17)
