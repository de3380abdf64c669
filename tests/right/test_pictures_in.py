"""Does any picture come in as a person sees it? Plain ones dot by dot, others as their standards say, and each change told."""

from __future__ import annotations

import io
import struct

import cv2
import numpy as np
import pytest
from art_files import chunk, linear_grey_profile, noise, png, saved, srgb_profile, swapped_profile
from PIL import Image, features

from vdpsim.images import pictures
from vdpsim.images.pictures import from_image, is_picture, open_picture, picture_from

RGB, ALPHA = noise(5, 7, 3), np.where(noise(5, 7, seed=1) < 128, 0, 255).astype(np.uint8)
GREY = noise(5, 7, seed=2)
WIDE = np.random.default_rng(3).integers(0, 65536, (5, 7, 4), np.uint16)

rgb, grey = Image.fromarray(RGB), Image.fromarray(GREY)
rgba = Image.fromarray(np.dstack([RGB, ALPHA]))


def rounded(numbers):
    """W3C, PNG, third edition, section 13.12: floor(input x 255 / 65535 + 0.5)."""
    return np.floor(numbers * 255.0 / 65535 + 0.5).astype(np.uint8)


def grey_rgb(dots):
    return np.repeat(dots[..., None], 3, axis=2)


def same(picture, dots, opaque=True, notes=()):
    """The picture has these dots where it is opaque, 0 elsewhere, and these notes."""
    opaque = np.broadcast_to(opaque, dots.shape[:2])
    assert picture.rgb.dtype == np.uint8 and picture.opaque.dtype == bool
    assert np.array_equal(picture.opaque, opaque)
    assert np.array_equal(picture.rgb, np.where(opaque[..., None], dots, 0))
    assert picture.notes == tuple(notes)
    return True


# plain pictures


@pytest.mark.parametrize("kind", ["PNG", "BMP", "TIFF", "PPM", "PCX", "TGA", "WEBP", "JPEG2000"])
def test_a_picture_in_plain_colours_keeps_each_of_them(tmp_path, kind):
    data = saved(rgb, kind, **({"lossless": True} if kind == "WEBP" else {}))
    (tmp_path / "reeds.dat").write_bytes(data)
    picture = open_picture(tmp_path / "reeds.dat")
    assert same(picture, RGB) and picture.name == "reeds.dat" and is_picture(data)
    assert not picture.rgb.flags.writeable and not picture.opaque.flags.writeable


@pytest.mark.parametrize("kind", ["JPEG", "AVIF"])
def test_a_picture_in_a_lossy_file_is_what_pillow_makes_of_it(kind):
    Image.init()
    if kind not in Image.SAVE:
        pytest.skip(f"this Pillow cannot read {kind}")
    data = saved(rgb.resize((32, 32)), kind)
    assert same(picture_from(data, "a"), np.asarray(Image.open(io.BytesIO(data)).convert("RGB")))


def test_a_qoi_file_is_read():
    """QOI specification, version 1.0 (2022): two dots, QOI_OP_RGB each, and the end marker."""
    data = b"qoif" + struct.pack(">IIBB", 2, 1, 3, 0) + b"\xfe\x01\x02\x03\xfe\xc8\x09\x40" + bytes(7) + b"\x01"
    assert same(picture_from(data, "a"), np.array([[[1, 2, 3], [200, 9, 64]]], np.uint8))


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "WEBP", "TGA"])
def test_transparent_dots_have_no_colour(kind):
    data = saved(rgba, kind, **({"lossless": True} if kind == "WEBP" else {}))
    assert same(picture_from(data, "a"), RGB, ALPHA == 255)


@pytest.mark.parametrize("mode", ["1", "L", "P", "LA", "PA", "RGB", "RGBX", "RGBA", "La", "RGBa"])
def test_an_image_of_any_plain_mode_keeps_its_colours(mode):
    """Premultiplied colours come back exactly where alpha is 0 or 255."""
    source = rgba if "A" in mode or "a" in mode else rgb
    if mode in ("La", "RGBa"):
        image = source.convert(mode.upper()).convert(mode)
    elif mode == "PA":
        image = source.convert("RGB").quantize(16).convert("PA")
        image.putalpha(Image.fromarray(ALPHA))
    else:
        image = source.convert(mode)
    before = image.tobytes()
    opaque = ALPHA == 255 if "A" in mode or "a" in mode else True
    expected = (
        np.asarray(image.convert("RGBA"))[..., :3] if mode != "La" else np.asarray(image.convert("LA"))[..., [0, 0, 0]]
    )
    assert same(from_image(image), expected, opaque)
    assert image.mode == mode and image.tobytes() == before


@pytest.mark.parametrize("mode", ["HSV", "YCbCr"])
def test_images_in_other_ways_to_write_rgb_become_rgb(mode):
    image = rgb.convert(mode)
    assert same(from_image(image), np.asarray(image.convert("RGB")))


def test_a_palette_with_transparent_entries_is_cut_out():
    """PNG's tRNS: entry 1 is transparent, entry 2 is half (127) and entry 3 just more than half (128)."""
    colours = chunk(b"PLTE", bytes([1, 2, 3, 40, 50, 60, 7, 8, 9, 10, 11, 12])) + chunk(
        b"tRNS", bytes([255, 0, 127, 128])
    )
    picture = picture_from(png((4, 1), 2, 3, [b"\x1b"], before=colours), "a")
    told = "2 half-transparent dots became opaque or transparent at one half"
    assert same(
        picture, np.array([[[1, 2, 3], [0, 0, 0], [0, 0, 0], [10, 11, 12]]]), [[True, False, False, True]], [told]
    )
    gif = Image.new("P", (2, 1))
    gif.putpalette([5, 6, 7, 8, 9, 10])
    gif.putpixel((1, 0), 1)
    assert same(
        picture_from(saved(gif, "GIF", transparency=1), "a"), np.array([[[5, 6, 7], [0, 0, 0]]]), [[True, False]]
    )


@pytest.mark.parametrize(
    ("depth", "line", "clear", "expected", "where"),
    [
        (1, b"\x50", 1, [0, 255, 0, 255], [1, 3]),
        (2, b"\x1b", 2, [0, 85, 170, 255], [2]),
        (4, b"\x01\x2f", 2, [0, 17, 34, 255], [2]),
        (8, b"\x01\x02\x03\x02", 2, [1, 2, 3, 2], [1, 3]),
        (16, b"\x01\x01\x02\x02\x02\x03\x80\x80", 0x0202, [1, 2, 2, 128], [1]),
    ],
)
def test_one_grey_may_be_transparent_at_any_depth(depth, line, clear, expected, where):
    """W3C, PNG, third edition, section 11.3.1.1: tRNS holds a sample of the file's own depth, compared before it is scaled."""
    data = png((4, 1), depth, 0, [line], before=chunk(b"tRNS", struct.pack(">H", clear)))
    opaque = [[place not in where for place in range(4)]]
    notes = ["16 bits a channel were rounded to 8"] if depth == 16 else []
    assert same(picture_from(data, "a"), grey_rgb(np.array([expected])), opaque, notes)


@pytest.mark.parametrize(("depth", "kind"), [(8, "B"), (16, "H")])
def test_one_colour_may_be_transparent(depth, kind):
    numbers = [[1, 2, 3], [1, 2, 4], [4, 2, 3]]
    line = struct.pack(f">9{kind}", *(number for colour in numbers for number in colour))
    data = png((3, 1), depth, 2, [line], before=chunk(b"tRNS", struct.pack(">3H", 1, 2, 4)))
    expected = np.array([numbers]) if depth == 8 else np.zeros((1, 3, 3))
    notes = ["16 bits a channel were rounded to 8"] if depth == 16 else []
    assert same(picture_from(data, "a"), expected, [[True, False, True]], notes)


def test_a_transparent_colour_that_is_none_says_nothing():
    """What stands in an image's own notes may be anything; only a colour of its kind counts."""
    image = rgb.copy()
    image.info["transparency"] = b"\x00"
    assert same(from_image(image), RGB)
    image.info["transparency"] = 3
    assert same(from_image(image), RGB)


def test_a_dot_is_opaque_from_half_on():
    levels = np.array([[0, 1, 127, 128, 254, 255]], np.uint8)
    image = Image.fromarray(np.dstack([np.full((1, 6, 3), 9, np.uint8), levels]))
    told = "4 half-transparent dots became opaque or transparent at one half"
    assert same(from_image(image), np.full((1, 6, 3), 9), levels >= 128, [told])
    one = Image.fromarray(np.array([[[9, 9, 9, 127]]], np.uint8))
    assert from_image(one).notes == ("1 half-transparent dot became opaque or transparent at one half",)


# 16 bits


@pytest.mark.parametrize("channels", [1, 3, 4])
def test_sixteen_bits_are_rounded_and_not_cut(channels):
    """The file is written by OpenCV, in its order of blue, green and red."""
    wide = WIDE[..., :channels].copy()
    wide[0, :2] = 65535
    wide[0, 0, :3], wide[0, 1, :3] = 0x00FF, 0x8100  # cut: 0 and 129; rounded: 1 and 128
    order = [0] if channels == 1 else [2, 1, 0, 3][:channels]
    data = cv2.imencode(".png", np.squeeze(wide[..., order]))[1].tobytes()
    picture = picture_from(data, "a")
    expected = grey_rgb(rounded(wide[..., 0])) if channels == 1 else rounded(wide[..., :3])
    alpha = rounded(wide[..., 3]) if channels == 4 else np.full((5, 7), 255)
    opaque = alpha >= 128
    assert picture.rgb[0, :2].tolist() == [[1, 1, 1], [128, 128, 128]]
    half = [f"{((alpha > 0) & (alpha < 255)).sum()} half-transparent dots became opaque or transparent at one half"]
    assert same(picture, expected, opaque, ["16 bits a channel were rounded to 8", *half[: channels == 4]])


def test_grey_with_alpha_of_sixteen_bits_is_rounded():
    """Alpha 32767 is less than half of 65535, 32768 is more."""
    numbers = [[0x00FF, 65535], [300, 32767], [300, 32768], [65535, 0]]
    data = png((4, 1), 16, 4, [struct.pack(">8H", *(number for dot in numbers for number in dot))])
    told = "2 half-transparent dots became opaque or transparent at one half"
    notes = ["16 bits a channel were rounded to 8", told]
    assert same(picture_from(data, "a"), grey_rgb(np.array([[1, 0, 1, 0]])), [[True, False, True, False]], notes)


@pytest.mark.parametrize("mode", ["I;16", "I;16B", "I"])
def test_images_of_sixteen_bits_are_rounded(mode):
    wide = WIDE[..., 0]
    if mode == "I;16":
        image = Image.fromarray(wide)
    elif mode == "I":
        image = Image.fromarray(wide.astype(np.int32))
    else:
        image = Image.frombytes("I;16B", (7, 5), wide.astype(">u2").tobytes())
    assert image.mode == mode
    assert same(from_image(image), grey_rgb(rounded(wide)), notes=["16 bits a channel were rounded to 8"])


def test_sixteen_bits_of_a_tiff_file_are_cut_and_that_is_told():
    """Pillow reads such colours as their upper 8 bits."""
    data = cv2.imencode(".tif", WIDE[..., [2, 1, 0]])[1].tobytes()
    told = "of 16 bits a channel the upper 8 were kept"
    assert same(picture_from(data, "a"), WIDE[..., :3] >> 8, notes=[told])


# colour spaces


def test_cmyk_becomes_rgb():
    """Ink takes light away: red is what cyan and black leave. Without a profile by the plain formula."""
    ink = np.array([[[0, 0, 0, 0], [255, 0, 0, 0], [0, 255, 255, 0], [0, 0, 0, 255]]], np.uint8)
    expected = np.array([[[255, 255, 255], [0, 255, 255], [255, 0, 0], [0, 0, 0]]])
    told = "CMYK without a profile that can be used became RGB by the plain formula"
    image = Image.merge("CMYK", [Image.fromarray(ink[..., channel].copy()) for channel in range(4)])
    for picture in (from_image(image), picture_from(saved(image, "TIFF"), "a")):
        assert same(picture, expected, notes=[told])


def test_lab_colours_are_converted():
    """L* 0, 100 and 50.2, which is sRGB's grey 119 or 120 (119.4, by CIE 15 and IEC 61966-2-1)."""
    levels = Image.fromarray(np.array([[0, 255, 128]], np.uint8))
    picture = from_image(Image.merge("LAB", [levels, *[Image.new("L", (3, 1), 128)] * 2]))
    assert np.abs(picture.rgb - np.array([[[0] * 3, [255] * 3, [119.4] * 3]])).max() <= 1
    assert picture.notes == ("Lab colours were converted to sRGB",)


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P", "L"])
def test_a_profile_that_means_srgb_changes_no_colour(mode):
    image = rgba.convert(mode) if mode == "RGBA" else rgb.quantize(30) if mode == "P" else rgb.convert(mode)
    data = saved(image, "PNG", icc_profile=srgb_profile())
    assert same(picture_from(data, "a"), np.asarray(image.convert("RGB")), ALPHA == 255 if mode == "RGBA" else True)


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P"])
def test_a_profile_is_converted_to_srgb(mode):
    """Where the profile calls red what sRGB calls blue, the two change places."""
    image = rgba if mode == "RGBA" else rgb.quantize(30) if mode == "P" else rgb
    picture = picture_from(saved(image, "PNG", icc_profile=swapped_profile()), "a")
    opaque = ALPHA == 255 if mode == "RGBA" else np.full(ALPHA.shape, fill_value=True)
    assert np.array_equal(picture.opaque, opaque)
    expected = np.asarray(image.convert("RGB"))[..., ::-1].astype(int)
    assert np.abs(picture.rgb - expected)[opaque].max() <= 2 and not picture.rgb[~opaque].any()
    assert picture.notes == ("a colour profile was converted to sRGB",)


def test_a_grey_profile_is_converted_to_srgb():
    """colour-science's table of sRGB's codes: 188 is light 0.5028864580, the nearest to 128 / 255 = 0.50196."""
    data = saved(Image.fromarray(np.array([[0, 128, 255]], np.uint8)), "PNG", icc_profile=linear_grey_profile())
    picture = picture_from(data, "a")
    assert picture.rgb.tolist() == [[[0] * 3, [188] * 3, [255] * 3]]
    assert picture.notes == ("a colour profile was converted to sRGB",)


@pytest.mark.parametrize(
    ("image", "profile", "told"),
    [
        (rgb, b"reeds", "its colour profile was left aside: cannot open profile"),
        (rgb, linear_grey_profile(), "its colour profile was left aside: it is for GRAY, the picture is RGB"),
        (rgb, srgb_profile()[:300], "its colour profile was left aside: cannot "),
    ],
    ids=["none at all", "of another space", "cut off"],
)
def test_a_profile_that_cannot_be_used_is_left_aside(image, profile, told):
    picture = picture_from(saved(image, "PNG", icc_profile=profile), "a")
    assert same(picture, RGB, notes=picture.notes)
    assert len(picture.notes) == 1 and picture.notes[0].startswith(told)


def test_without_colour_management_profiles_are_left_aside(monkeypatch):
    monkeypatch.setattr(features, "check", lambda name: False)
    picture = picture_from(saved(rgb, "PNG", icc_profile=swapped_profile()), "a")
    assert same(picture, RGB, notes=["its colour profile was left aside: this Pillow cannot read profiles"])


@pytest.mark.parametrize(("gamma", "told"), [(45455, ""), (100000, "its gamma of 1 was left aside"), (46000, "")])
def test_a_gamma_that_is_not_srgbs_is_told(gamma, told):
    data = png((1, 1), 8, 0, [b"\x40"], before=chunk(b"gAMA", struct.pack(">I", gamma)))
    picture = picture_from(data, "a")
    assert picture.rgb.tolist() == [[[64] * 3]]
    assert [note.partition(":")[0] for note in picture.notes] == [told] * bool(told)
    both = chunk(b"gAMA", struct.pack(">I", gamma)) + chunk(b"sRGB", b"\0")
    assert picture_from(png((1, 1), 8, 0, [b"\x40"], before=both), "a").notes == ()


# orientation, frames


UPRIGHT = {  # Exif 2.3, tag 0x0112: which side of the seen picture the file's row 0 and column 0 are
    1: lambda dots: dots,  # top, left
    2: lambda dots: dots[:, ::-1],  # top, right
    3: lambda dots: dots[::-1, ::-1],  # bottom, right
    4: lambda dots: dots[::-1],  # bottom, left
    5: lambda dots: dots.swapaxes(0, 1),  # left, top
    6: lambda dots: dots.swapaxes(0, 1)[:, ::-1],  # right, top
    7: lambda dots: dots.swapaxes(0, 1)[::-1, ::-1],  # right, bottom
    8: lambda dots: dots.swapaxes(0, 1)[::-1],  # left, bottom
}


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("turn", UPRIGHT)
def test_a_picture_is_turned_upright(turn, kind):
    exif = Image.Exif()
    exif[0x0112] = turn
    options = {"exif": exif, **({"lossless": True} if kind == "WEBP" else {})}
    notes = ["turned upright, as its EXIF orientation says"] if turn > 1 else []
    picture = picture_from(saved(rgba, kind, **options), "a")
    assert same(picture, UPRIGHT[turn](RGB), UPRIGHT[turn](ALPHA == 255), notes)


def test_sixteen_bits_are_turned_upright_too():
    exif = Image.Exif()
    exif[0x0112] = 6
    data = cv2.imencode(".png", WIDE[..., [2, 1, 0]])[1].tobytes()
    data = data[:33] + chunk(b"eXIf", exif.tobytes().removeprefix(b"Exif\0\0")) + data[33:]
    told = "turned upright, as its EXIF orientation says"
    expected = UPRIGHT[6](rounded(WIDE[..., :3]))
    assert same(picture_from(data, "a"), expected, notes=["16 bits a channel were rounded to 8", told])


@pytest.mark.parametrize("exif", [b"reeds", b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x02\0\0\0\x02up\0\0\0\0\0\0"])
def test_exif_data_that_say_nothing_are_left_aside(exif):
    data = png((1, 1), 8, 0, [b"\x40"], before=chunk(b"eXIf", exif))
    assert same(picture_from(data, "a"), np.full((1, 1, 3), 64))


@pytest.mark.parametrize(
    ("kind", "what"), [("GIF", "frames"), ("PNG", "frames"), ("WEBP", "frames"), ("TIFF", "pictures")]
)
def test_of_several_frames_the_first_comes_in(kind, what):
    frames = [rgb.quantize(60), *(Image.fromarray(noise(5, 7, 3, seed=seed)).quantize(60) for seed in (8, 9))]
    frames = [frame if kind == "GIF" else frame.convert("RGB") for frame in frames]
    options = {"lossless": True} if kind == "WEBP" else {}
    data = saved(frames[0], kind, save_all=True, append_images=frames[1:], **options)
    expected = np.asarray(frames[0].convert("RGB"))
    assert same(picture_from(data, "a"), expected, notes=[f"the first of 3 {what} in the file"])


# what is given


def test_an_image_may_be_given_with_a_name():
    assert from_image(rgb).name == "picture" and from_image(rgb, "reeds").name == "reeds"


def test_a_picture_may_have_as_many_dots_as_are_allowed(tmp_path):
    (tmp_path / "a.png").write_bytes(saved(rgb, "PNG"))
    assert same(open_picture(tmp_path / "a.png", most=35), RGB)
    assert same(from_image(rgb, most=35), RGB)


def test_a_file_may_be_as_long_as_is_allowed(tmp_path, monkeypatch):
    data = saved(rgb, "PNG")
    (tmp_path / "a.png").write_bytes(data)
    monkeypatch.setattr(pictures, "LARGEST", len(data))
    assert same(open_picture(tmp_path / "a.png"), RGB)


def test_only_pictures_are_taken_for_pictures():
    assert not is_picture(b"reeds") and not is_picture(b"")
    assert not is_picture(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n")
    assert is_picture(png((1 << 20, 1 << 20), 8, 0, []))
