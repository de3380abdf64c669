"""Does it refuse well? Pictures and fonts that are damaged, cut off, too large or none: told by name, and nothing worse."""

from __future__ import annotations

import gzip
import io
import os
import re
import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from art_files import BDF, chunk, noise, pcf, png, psf1, psf2, saved
from hypothesis import example, given
from hypothesis import strategies as st
from PIL import Image
from refusal import refused

from vdpsim.files.problems import InputError
from vdpsim.fonts import fonts
from vdpsim.fonts.fonts import font_from, read_font
from vdpsim.images import pictures
from vdpsim.images.pictures import from_image, open_picture, picture_from

RGB = Image.fromarray(noise(9, 11, 3))
HEX = b"0041:" + b"A5" * 16 + b"\n"
PSF_1 = psf1(noise(256, 4).tobytes(), 2, 4, b"\x41\0\xff\xff" * 256)
PSF_2 = psf2(noise(6).tobytes(), (10, 1), table=b"A\xff\xc3\xa9\xfeab\xffC\xff")
FONTS = {"PSF1": PSF_1, "PSF2": PSF_2, "BDF": BDF.encode(), "PCF": pcf(), "hex": HEX, "picture": saved(RGB, "PNG")}
FILES = {kind: saved(RGB, kind) for kind in ("PNG", "GIF", "BMP", "TIFF", "PPM", "PCX", "JPEG", "WEBP")}
FILES["wide PNG"] = png((3, 2), 16, 2, [noise(18, seed=4).tobytes()] * 2)


def said(file, told):
    """The words of an error: the file's name, and then what is wrong."""
    return f"^{re.escape(str(file))}(:[0-9]+)?: {re.escape(told)}"


def tried(read, *given, **options):
    """What ``read`` makes of it, or None; and what was wrong with it."""
    try:
        return read(*given, **options), ()
    except InputError as error:
        return None, error.problems


# files


@pytest.mark.parametrize("read", [open_picture, read_font])
def test_a_file_that_cannot_be_read_is_told(tmp_path, read):
    (tmp_path / "empty").write_bytes(b"")
    os.mkfifo(tmp_path / "pipe")
    cases = {
        tmp_path / "none": "cannot be read: No such file or directory",
        tmp_path: "cannot be read: it is no regular file",
        tmp_path / "pipe": "cannot be read: it is no regular file",
        tmp_path / "empty": "is empty",
        f"{tmp_path}/a\0b": "cannot be read: embedded null byte",
    }
    for path, told in cases.items():
        with refused(InputError, said(str(path).replace("\0", "\\u0000"), told)):
            read(path)


@pytest.mark.parametrize(("read", "module"), [(open_picture, pictures), (read_font, fonts)])
def test_a_file_that_is_too_long_is_not_read(tmp_path, monkeypatch, read, module):
    monkeypatch.setattr(module, "LARGEST", 99)
    (tmp_path / "a").write_bytes(bytes(100))
    with refused(InputError, said(tmp_path / "a", "must be at most 99 bytes long")):
        read(tmp_path / "a")


# pictures


def test_what_is_no_picture_is_told_with_the_kinds_that_are():
    for data in (b"reeds", b"GIF89a", b"%!PS-Adobe-3.0 EPSF-3.0\n", bytes(99)):
        with refused(InputError, "^a: is no picture of a kind that is read here, or is damaged .*: PNG, JPEG, GIF, "):
            picture_from(data, "a")


@pytest.mark.parametrize("kind", FILES)
def test_a_picture_that_is_cut_off_is_damaged(kind):
    """Wherever it is cut, up to the last bytes: PNG's last check sum, the filling of BMP's last line, marks of an end."""
    data = FILES[kind]
    picture = picture_from(data, "a")
    spare = {"BMP": 3, "GIF": 3, "JPEG": 2, "PNG": 4, "wide PNG": 4}.get(kind, 0)
    for end in range(1, len(data)):
        cut, problems = tried(picture_from, data[:end], "a")
        if cut is None:
            assert re.match("is (no picture|damaged or cut off)", problems[0].message), (end, problems)
        else:
            assert end >= len(data) - spare and np.array_equal(cut.rgb, picture.rgb), (end, len(data))


def test_a_png_with_a_flipped_bit_anywhere_is_refused():
    """Every chunk has its check sum, the dots too; only the last chunk's, which holds nothing, is not looked at."""
    data = FILES["PNG"]
    for place in (*range(8, len(data) - 12), *range(len(data) - 8, len(data) - 4)):
        flipped = bytearray(data)
        flipped[place] ^= 4
        with refused(InputError, "^a: (is|must)"):
            picture_from(bytes(flipped), "a")


def test_a_picture_is_refused_for_its_size_before_it_is_unpacked(tmp_path):
    (tmp_path / "a.png").write_bytes(png((4097, 4096), 8, 2, []))
    with refused(InputError, said(tmp_path / "a.png", "must have at most 16777216 dots, has 4097x4096 = 16781312")):
        open_picture(tmp_path / "a.png")
    with refused(InputError, "^a: must have at most 98 dots, has 11x9 = 99"):
        picture_from(FILES["PNG"], "a", most=98)
    with refused(InputError, "^reeds: must have at most 98 dots, has 11x9 = 99"):
        from_image(RGB, "reeds", most=98)
    with refused(InputError, "^a: must have at most 16777216 dots, has far more"):
        picture_from(png((1 << 16, 1 << 16), 8, 2, []), "a")


def test_a_bomb_stays_small():
    """A picture with a profile and a text of 64 MB each, packed small: memory grows by less than a tenth of them."""
    bomb = zlib.compress(bytes(64 << 20), 9)
    before = chunk(b"iCCP", b"a\0\0" + bomb) + chunk(b"zTXt", b"a\0\0" + bomb)
    data = png((1, 1), 8, 0, [b"\0"], before=before)
    assert len(data) < 200_000
    tracemalloc.start()
    _, problems = tried(picture_from, data, "a")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 13 << 20
    assert "too large" in problems[0].message.lower()


def test_numbers_that_are_no_colours_are_refused():
    floats = Image.fromarray(np.zeros((2, 2), np.float32))
    told = "must have whole numbers of at most 16 bits a channel, has floating-point numbers"
    with refused(InputError, said("reeds", told)):
        from_image(floats, "reeds")
    with refused(InputError, said("a", told)):
        picture_from(saved(floats, "TIFF"), "a")
    for numbers in ((0, 65536), (-1, 5)):
        image = Image.fromarray(np.array([numbers], np.int32))
        told = f"must have at most 16 bits a channel, numbers 0 to 65535, has {numbers[0]} to {numbers[1]}"
        with refused(InputError, said("picture", told)):
            from_image(image)


def test_an_image_without_dots_or_with_a_broken_file_behind_it_is_refused():
    with refused(InputError, "^picture: must have at least one dot, is 0x3"):
        from_image(Image.new("RGB", (0, 3)))
    with refused(InputError, "^reeds: cannot be loaded: "):
        from_image(Image.open(io.BytesIO(FILES["BMP"][:200])), "reeds")


def test_an_image_of_a_mode_that_nobody_knows_is_refused():
    class Odd(Image.Image):
        """An image of a mode that Pillow may have one day."""

        mode = "XYZ"
        size = (1, 1)

        def load(self):
            """Do nothing."""

    with refused(InputError, "^picture: must have colours as RGB, CMYK, Lab, grey or a palette, has Pillow's mode XYZ"):
        from_image(Odd())


# fonts, each kind


def bdf(old, new):
    """The good font with one thing in it changed."""
    assert old in BDF
    return BDF.replace(old, new, 1).encode()


def table_2(text):
    return psf2(b"\1\2", (8, 1), table=text)


WRONG = {
    "none": (
        b"reeds",
        0,
        "is no font of a kind that is known: PSF, BDF, PCF, a hex font and a picture of glyphs are known",
    ),
    "PSF1 header": (b"\x36\x04\0", 0, "is cut off in its header: a PSF1 font has 4 bytes there, this has 3"),
    "PSF1 mode": (psf1(bytes(256), 8, 1), 0, "a PSF1 font's mode must be 0 to 7, is 8"),
    "PSF1 height": (psf1(b"", 0, 0), 0, "glyphs must be 1x1 to 256x256 dots, are 8x0"),
    "PSF1 glyphs": (
        psf1(bytes(511), 1, 1),
        0,
        "is cut off in its glyphs: 512 glyphs of 1 bytes are wanted, 511 bytes are there",
    ),
    "PSF1 table": (
        psf1(bytes(256), 2, 1, b"\xff\xff" * 255),
        0,
        "is cut off in its table of characters, at glyph 255 of 256",
    ),
    "PSF1 half a number": (
        psf1(bytes(256), 2, 1, b"\xff\xff" * 255 + b"\xff"),
        0,
        "is cut off in its table of characters, at glyph 255 of 256",
    ),
    "PSF1 surrogate": (
        psf1(bytes(256), 2, 1, b"\0\xd8" + b"\xff\xff" * 256),
        0,
        "the table of characters gives glyph 0 the number D800: no character",
    ),
    "PSF2 header": (PSF_2[:31], 0, "is cut off in its header: a PSF2 font has 32 bytes there, this has 31"),
    "PSF2 version": (psf2(b"\1", (8, 1), version=1), 0, "a PSF2 font's version must be 0, is 1"),
    "PSF2 short header": (
        psf2(b"\1", (8, 1))[:8] + struct.pack("<I", 31) + psf2(b"\1", (8, 1))[12:],
        0,
        "a PSF2 font's header must be 32 to 33 bytes long, is 31",
    ),
    "PSF2 size of a glyph": (
        psf2(b"\1", (9, 1), count=1, each=1),
        0,
        "glyphs of 9x1 dots take 2 bytes each, the header says 1",
    ),
    "PSF2 no glyphs": (psf2(b"", (8, 1)), 0, "has no glyphs"),
    "PSF2 wide": (psf2(bytes(33), (257, 1)), 0, "glyphs must be 1x1 to 256x256 dots, are 257x1"),
    "PSF2 flat": (psf2(b"", (8, 0), count=5), 0, "glyphs must be 1x1 to 256x256 dots, are 8x0"),
    "PSF2 many": (
        psf2(b"", (256, 256), count=513),
        0,
        "all glyphs together must have at most 33554432 dots, 513 of 256x256 have 33619968",
    ),
    "PSF2 glyphs": (
        psf2(b"\1", (8, 1), count=2),
        0,
        "is cut off in its glyphs: 2 glyphs of 1 bytes are wanted, 1 bytes are",
    ),
    "PSF2 table": (table_2(b"A\xffB"), 0, "is cut off in its table of characters, at glyph 1 of 2"),
    "PSF2 UTF-8": (table_2(b"A\xff\xc3\xff"), 0, "the table of characters is no UTF-8 at glyph 1: c3"),
    "hex digits": (
        b"0041:" + b"0" * 31,
        1,
        "a glyph must have 32, 64, 96, 128 hexadecimal digits, 0041 has 31",
    ),
    "hex character": (b"\n110000:" + b"0" * 32, 2, "characters go up to 10FFFF, got 110000"),
    "hex twice": (
        HEX + b"041 :00\n",
        2,
        "must be a character's number of 4 to 6 hexadecimal digits, a colon and its rows, is",
    ),
    "hex again": (HEX + HEX, 2, "the character 0041 is there already"),
    "BDF box": (
        bdf("FONTBOUNDINGBOX 5 8 0 -1", "FONTBOUNDINGBOX 5 x 0 -1"),
        5,
        "FONTBOUNDINGBOX must be followed by 4 whole numbers of at most six digits, is by '5 x 0 -1'",
    ),
    "BDF few numbers": (bdf("BBX 3 3 1 -1", "BBX 3 3 1"), 31, "BBX must be followed by 4 whole numbers"),
    "BDF long number": (bdf("ENCODING 65", "ENCODING 1234567"), 14, "ENCODING must be followed by 1 whole number"),
    "BDF large": (bdf("BBX 3 3 1 -1", "BBX 257 3 1 -1"), 31, "glyphs must be 1x1 to 256x256 dots, are 257x3"),
    "BDF negative": (bdf("BBX 3 3 1 -1", "BBX 3 -3 1 -1"), 31, "glyphs must be 1x1 to 256x256 dots, are 3x-3"),
    "BDF font's box": (
        bdf("FONTBOUNDINGBOX 5 8", "FONTBOUNDINGBOX 5 999"),
        5,
        "glyphs must be 1x1 to 256x256 dots, are 5x999",
    ),
    "BDF far apart": (bdf("BBX 3 3 1 -1", "BBX 3 3 300 -1"), 0, "glyphs must be 1x1 to 256x256 dots, are 303x8"),
    "BDF row": (bdf("50\n", "5\n"), 20, "a row of 5 dots must be 2 hexadecimal digits, is '5'"),
    "BDF row's digits": (bdf("50\n", "5G\n"), 20, "a row of 5 dots must be 2 hexadecimal digits, is '5G'"),
    "BDF rows": (bdf("88\nENDCHAR", "ENDCHAR"), 25, "a row of 5 dots must be 2 hexadecimal digits, is 'ENDCHAR'"),
    "BDF BBX": (bdf("BBX 5 7 0 0\n", ""), 17, "BBX must stand before BITMAP"),
    "BDF two BBX": (bdf("88\nENDCHAR", "88\nBBX 5 7 0 0\nENDCHAR"), 26, "BBX must stand before BITMAP"),
    "BDF ENCODING": (bdf("ENCODING 65\n", ""), 25, "the glyph that ends here lacks ENCODING"),
    "BDF BITMAP": (bdf("BITMAP\nENDCHAR\n", "ENDCHAR\n"), 42, "the glyph that ends here lacks BITMAP"),
    "BDF ENDCHAR": (bdf("60\nENDCHAR\n", "60\n"), 35, "the glyph must end with ENDCHAR before STARTCHAR"),
    "BDF last ENDCHAR": (bdf("BITMAP\nENDCHAR\n", "BITMAP\n"), 42, "the glyph must end with ENDCHAR before ENDFONT"),
    "BDF ENDFONT": (BDF.removesuffix("ENDFONT\n").encode(), 43, "is cut off here: the line ENDFONT is missing"),
    "BDF no glyphs": (BDF.partition("STARTCHAR")[0].encode() + b"ENDFONT\n", 0, "has no glyphs"),
    "BDF no characters": (
        bdf("ENCODING 65", "ENCODING -1").replace(b"G 164", b"G -1").replace(b"G 32", b"G -1"),
        0,
        "has no glyph that stands for a character",
    ),
    "BDF no dots": (
        b"STARTFONT 2.1\nSTARTCHAR a\nENCODING 5\nBBX 0 0 0 0\nBITMAP\nENDCHAR\nENDFONT\n",
        0,
        "has no glyph with any dots",
    ),
    "PCF list": (pcf()[:30], 0, "is cut off: its table of properties ends at byte 184, the file has 30"),
    "PCF short list": (b"\x01fcp" + b"\xff" * 4, 0, "is cut off in its list of tables"),
    "PCF no list": (b"\x01fcp", 0, "is cut off in its list of tables"),
    "PCF empty": (b"\x01fcp" + bytes(4), 0, "must have a table of metrics"),
    "PCF metrics": (pcf(without=4), 0, "must have a table of metrics"),
    "PCF bitmaps": (pcf(without=8), 0, "must have a table of bitmaps"),
    "PCF encodings": (pcf(without=32), 0, "must have a table of encodings"),
    "PCF cut": (pcf()[:-9], 0, "is cut off: its table of encodings ends at byte "),
    "PCF no table": (b"\x01fcp" + struct.pack("<5I", 1, 4, 0, 3, 9) + bytes(3), 0, "is cut off in its list of tables"),
    "PCF numbers": (
        pcf(metrics=9),
        0,
        "is damaged or cut off: its table of metrics has 44 bytes, at least 116 are wanted",
    ),
    "PCF counts": (pcf(metrics=2), 0, "is damaged or cut off: it has bitmaps of 3 glyphs and metrics of 2"),
    "PCF start": (pcf(start=99), 0, "is damaged or cut off: glyph 0 ends at byte 127 of 40 bytes of bitmaps"),
    "PCF place": (pcf(place=3), 0, "is damaged or cut off: a character has glyph 3, there are 3"),
    "PCF characters": (
        pcf(encodings=(32, 300, 0, 0, 32)),
        0,
        "is damaged or cut off: its characters go from 0, 32 to 0, 300; 0 to 255 is allowed",
    ),
    "PCF units": (
        pcf(pad=8, unit=8, high_bit=False),
        0,
        "is damaged or cut off: its bits and bytes have different orders",
    ),
    "picture without a size": (FILES["PNG"], 0, "a picture of glyphs needs the size of a glyph, none was given"),
    "gzip": (gzip.compress(HEX)[:10] + b"\xff" * 9, 0, "is a damaged gzip file: "),
    "gzip cut": (gzip.compress(HEX)[:-1], 0, "is a gzip file that is cut off"),
    "gzip check sum": (gzip.compress(HEX)[:-8] + bytes(8), 0, "is a damaged gzip file: "),
    "gzip within": (gzip.compress(gzip.compress(HEX)), 0, "is no font of a kind that is known: "),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_font_with_a_mistake_is_told_with_its_line(name):
    data, line, told = WRONG[name]
    with refused(InputError, said("a.font", told)) as caught:
        font_from(data, "a.font")
    assert [(problem.file, problem.line) for problem in caught.value.problems] == [("a.font", line)]


@pytest.mark.parametrize(
    ("data", "cell", "told"),
    [
        (FILES["PNG"], (4, 3), "a picture of glyphs must be a multiple of 4x3 dots, is 11x9"),
        (FILES["PNG"], (11, 4), "a picture of glyphs must be a multiple of 11x4 dots, is 11x9"),
        (FILES["PNG"], (11, 0), "glyphs must be 1x1 to 256x256 dots, are 11x0"),
        (FILES["PNG"], (257, 1), "glyphs must be 1x1 to 256x256 dots, are 257x1"),
        (FILES["PNG"], (11, 9), "a picture of glyphs must have two colours, ink and paper, has 99"),
        (
            saved(Image.fromarray(np.array([[[1, 1, 1, 255], [2, 2, 2, 255], [0, 0, 0, 0]]], np.uint8)), "PNG"),
            (1, 1),
            "a picture of glyphs with transparent dots must have one colour beside them, has 2",
        ),
        (FILES["PNG"][:99], (11, 9), "is damaged or cut off: "),
        (png((1 << 16, 1 << 16), 8, 2, []), (8, 8), "must have at most 16777216 dots, has far more"),
    ],
    ids=["across", "down", "flat", "wide", "colours", "colours beside transparent ones", "cut off", "huge"],
)
def test_a_picture_that_is_no_font_is_told(data, cell, told):
    with refused(InputError, said("a.png", told)):
        font_from(data, "a.png", cell=cell)


def test_the_last_size_that_is_allowed_is_taken():
    assert font_from(psf2(bytes(32 * 256), (256, 256)), "a").size == (256, 256)
    assert len(font_from(psf2(bytes(512 << 13), (256, 256)), "a").glyphs) == 512
    assert font_from(bdf("BBX 3 3 1 -1", "BBX 3 3 253 -1"), "a").size == (256, 8)


def test_mistakes_that_have_nothing_to_do_with_each_other_are_told_together():
    text = BDF.replace("50\n", "5\n", 1).replace("C0\n", "G0\n").replace("ENCODING 32", "ENCODING")
    with refused(InputError, "^a:20: ") as caught:
        font_from(text.encode(), "a")
    assert [problem.line for problem in caught.value.problems] == [20, 34, 38]
    cut = text.replace("ENCODING\nSWIDTH", "ENCODING 9\nSWIDTH").removesuffix("ENDFONT\n")
    with refused(InputError, "ENDFONT is missing$") as caught:
        font_from(cut.encode(), "a")
    assert [problem.line for problem in caught.value.problems] == [20, 34, 43]
    with refused(InputError, "^a:1: ") as caught:
        font_from(b"0041:\n" * 30, "a")
    assert [problem.line for problem in caught.value.problems] == list(range(1, 21))
    glyphs = "STARTCHAR\nENDCHAR\n" * 30
    with refused(InputError, "^a:3: ") as caught:
        font_from(f"STARTFONT 2.1\n{glyphs}ENDFONT\n".encode(), "a")
    assert [problem.line for problem in caught.value.problems] == list(range(3, 43, 2))


@pytest.mark.parametrize("kind", FONTS)
def test_a_font_that_is_cut_off_is_refused_wherever_it_is_cut(kind):
    data = FONTS[kind].rstrip(b"\n")
    for end in range(len(data)):
        with refused(InputError, "^a(:[0-9]+)?: "):
            font_from(data[:end], "a", cell=(1, 1))


def test_a_packed_bomb_is_not_unpacked(monkeypatch):
    """64 MB of zeros where 1 MB is allowed: no more than a few pieces of a megabyte are ever there."""
    monkeypatch.setattr(fonts, "LARGEST", 1 << 20)
    bomb = gzip.compress(bytes(64 << 20))
    tracemalloc.start()
    with refused(InputError, "^a: must be at most 1048576 bytes long once it is unpacked"):
        font_from(bomb, "a")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 8 << 20


def test_a_packed_font_may_be_as_long_as_is_allowed(monkeypatch):
    monkeypatch.setattr(fonts, "LARGEST", len(HEX))
    assert list(font_from(gzip.compress(HEX), "a").glyphs) == [0x41]
    with refused(InputError, "^a: must be at most 38 bytes long once it is unpacked"):
        font_from(gzip.compress(HEX + b"\n"), "a")


# any bytes at all

CHANGES = st.lists(
    st.tuples(st.integers(0, 1 << 16), st.sampled_from(["set", "cut", "word", "drop"]), st.integers(0, 255)), max_size=8
)


def changed(data, changes):
    """``data`` with some bytes set, left out or made extreme, or all cut off."""
    data = bytearray(data)
    for place, what, value in changes:
        at = place % (len(data) + 1)
        if what == "set":
            data[at : at + 1] = bytes([value])
        elif what == "cut":
            del data[at + value * 4 :]
        elif what == "word":
            data[at : at + 4] = struct.pack("<I", (value & 1) * 0xFFFFFFFF ^ (1 << (value >> 3)))
        else:
            del data[at : at + value % 8]
    return bytes(data)


@given(st.sampled_from(sorted(FONTS)), CHANGES, st.booleans())
@example("hex", [(0, "set", 35)], False)
def test_whatever_a_fonts_bytes_are_it_is_a_font_or_refused(kind, changes, packed):
    data = changed(FONTS[kind], changes)
    font, problems = tried(font_from, gzip.compress(data) if packed else data, "a", cell=(11, 3))
    assert (font is None) == bool(problems) and {problem.file for problem in problems} <= {"a"}
    if font is not None:
        across, down = font.size
        assert font.glyphs and set(font.widths) == set(font.glyphs)
        assert all(glyph.shape == (down, across) for glyph in font.glyphs.values())
        assert all(0 <= width <= across for width in font.widths.values())


@given(
    st.sampled_from([b"\x36\x04", b"\x72\xb5\x4a\x86", b"\x01fcp", b"STARTFONT", b"0041:", b"\x1f\x8b", b""]),
    st.binary(),
)
def test_whatever_follows_a_fonts_beginning_it_is_a_font_or_refused(beginning, rest):
    font, problems = tried(font_from, beginning + rest, "a", cell=(1, 1))
    assert (font is None) == bool(problems) and {problem.file for problem in problems} <= {"a"}
    assert font is None or font.glyphs


@given(st.sampled_from(sorted(set(FILES) - {"TIFF"})), CHANGES)
def test_whatever_a_pictures_bytes_are_it_is_a_picture_or_refused(kind, changes):
    """TIFF files are left out: the library that reads them writes to the terminal."""
    picture, problems = tried(picture_from, changed(FILES[kind], changes), "a", most=1 << 16)
    assert (picture is None) == bool(problems) and {problem.file for problem in problems} <= {"a"}
    if picture is not None:
        assert picture.rgb.shape == (*picture.opaque.shape, 3) and not picture.rgb[~picture.opaque].any()


def test_a_hex_font_is_looked_for_in_a_time_that_grows_with_its_length():
    """Two million blanks and comments before nothing: each is looked at once."""
    for data in (b" " * 2_000_000, b"#\n" * 1_000_000):
        with refused(InputError, "^a: is no font of a kind that is known: "):
            font_from(data, "a")
