"""Does a font come in dot by dot? Every format by hand, by known bytes of installed fonts, and by other readers."""

from __future__ import annotations

import gzip
import io
import struct
import subprocess
from typing import Any

import numpy as np
import pytest
from art_files import BDF, DRAWN, installed, noise, pcf, png, psf1, psf2, rows, saved
from PIL import BdfFontFile, Image, ImageFont, PcfFontFile

from vdpsim.fonts.fonts import font_from, read_font

CONSOLE, X11, UNIFONT = "/usr/share/consolefonts", "/usr/share/fonts/X11/misc", "/usr/share/unifont"
LETTER_A = bytes.fromhex("0000000018242442427e424242420000")


def drawn(font) -> dict[int, str]:
    return {code: rows(glyph) for code, glyph in font.glyphs.items()}


def bytes_of(glyph) -> bytes:
    return np.packbits(glyph, axis=1).tobytes()


# PSF


@pytest.mark.parametrize(("mode", "count"), [(0, 256), (1, 512)])
def test_a_psf1_font_without_a_table_has_its_glyphs_by_number(mode, count):
    glyphs = noise(count, 5)
    font = font_from(psf1(glyphs.tobytes(), mode, 5), "a.psf")
    assert (font.size, font.characters, font.notes, list(font.glyphs)) == ((8, 5), False, (), list(range(count)))
    assert all(bytes_of(font.glyphs[number]) == glyphs[number].tobytes() for number in range(count))
    assert font.widths == dict.fromkeys(range(count), 8)


@pytest.mark.parametrize("mode", [2, 4, 6])
def test_a_psf1_table_gives_each_glyph_its_characters(mode):
    """Glyph 0: A and Greek Alpha, then a sequence; glyph 1: A again, which comes too late, and B; the others: none."""
    table = struct.pack("<8H", 0x41, 0x391, 0xFFFE, 0x41, 0x30A, 0xFFFF, 0x41, 0x42) + b"\xff\xff" * 255
    font = font_from(psf1(bytes([0x80, 0x40] + [0] * 254), mode, 1, table), "a.psf")
    assert drawn(font) == {0x41: "#.......", 0x391: "#.......", 0x42: ".#......"}
    assert font.glyphs[0x41] is font.glyphs[0x391] and font.characters
    assert font.notes == (
        "1 character had several glyphs: the first of them counts",
        "left out: 254 glyphs without a character",
        "left out: 1 sequence of several characters that share a glyph",
    )


def test_a_psf2_font_has_rows_of_whole_bytes_after_a_header_of_any_length():
    glyphs = bytes.fromhex("8010 7fe0 0040 ffff")
    font = font_from(psf2(glyphs, (10, 2), header=40), "a.psf")
    assert drawn(font) == {0: "#......... .#########", 1: ".........# ##########"}
    assert (font.size, font.characters) == ((10, 2), False)


def test_a_psf2_table_is_utf_8():
    """Characters of one to four bytes, and a sequence after FE that no single character stands for."""
    table = "A\N{EURO SIGN}\N{LATIN SMALL LETTER E WITH ACUTE}".encode() + b"\xfeA\xcc\x8a\xfeB\xcc\x8a\xff" + b"\xff"
    table += "\N{WATER WAVE}".encode() + b"\xff"
    font = font_from(psf2(b"\x80\x40\x20", (3, 1), table=table), "a.psf")
    assert drawn(font) == {0x41: "#..", 0x20AC: "#..", 0xE9: "#..", 0x1F30A: "..#"}
    assert font.notes == (
        "left out: 1 glyph without a character",
        "left out: 2 sequences of several characters that share a glyph",
    )


# BDF and PCF


def test_a_bdf_glyph_stands_in_the_fonts_box_where_its_own_box_says():
    font = font_from(BDF.encode(), "a.bdf")
    assert (font.size, font.characters, font.notes) == ((5, 8), True, ())
    assert drawn(font) == DRAWN
    assert font.widths == dict.fromkeys(DRAWN, 5)
    for was, now in (("\n", "\r\n"), ("\nSTARTCHAR", "\n\n \nSTARTCHAR")):  # blank lines say nothing
        assert drawn(font_from(BDF.replace(was, now).encode(), "a.bdf")) == DRAWN


def test_other_readers_of_bdf_see_the_same_dots():
    """Pillow's BdfFontFile: its glyph's own box, put at the place that it works out from the origin."""
    theirs: Any = BdfFontFile.BdfFontFile(io.BytesIO(BDF.encode())).glyph
    ours = font_from(BDF.encode(), "a.bdf")
    for number, code in ((65, 0x41), (164, 0x20AC)):
        _, (left, top, right, bottom), _, image = theirs[number]
        there = ours.glyphs[code][top + 7 : bottom + 7, left:right]
        assert np.array_equal(there, np.asarray(image) != 0)
        assert there.sum() == ours.glyphs[code].sum()


def test_a_glyph_outside_the_fonts_box_makes_all_boxes_larger():
    """The euro sign's box moved 3 to the left and 1 down: it ends 2 left of, and 1 below, the font's."""
    font = font_from(BDF.replace("BBX 3 3 1 -1", "BBX 3 3 -2 -2").encode(), "a.bdf")
    assert font.size == (7, 9)
    assert rows(font.glyphs[0x41]) == "....#.. ...#.#. ..#...# ..#...# ..##### ..#...# ..#...# ....... ......."
    assert rows(font.glyphs[0x20AC]) == " ".join(["......."] * 6 + [".##....", "##.....", ".##...."])
    assert font.widths == {0x41: 7, 0x20AC: 7, 0x20: 7}


def test_a_narrow_glyphs_width_ends_where_the_next_glyph_begins_or_its_last_dot_is():
    narrow = BDF.replace("DWIDTH 5 0\nBBX 3 3", "DWIDTH 2 0\nBBX 3 3").replace(
        "DWIDTH 5 0\nBBX 0 0", "DWIDTH 2 0\nBBX 0 0"
    )
    assert font_from(narrow.encode(), "a.bdf").widths == {0x41: 5, 0x20AC: 4, 0x20: 2}
    backwards = BDF.replace("DWIDTH 5 0\nBBX 0 0", "DWIDTH -9 0\nBBX 0 0")
    assert font_from(backwards.encode(), "a.bdf").widths[0x20] == 0
    none = BDF.replace("SWIDTH 500 0\nDWIDTH 5 0\n", "")
    assert font_from(none.encode(), "a.bdf").widths == {0x41: 5, 0x20AC: 4, 0x20: 0}
    once = none.replace("SIZE 8", "DWIDTH 5 0\nSIZE 8")
    assert font_from(once.encode(), "a.bdf").widths == dict.fromkeys(DRAWN, 5)


def test_a_font_whose_numbering_says_nothing_keeps_its_numbers():
    other = BDF.replace('"ISO8859"', '"OWN"')
    font = font_from(other.encode(), "a.bdf")
    assert (list(font.glyphs), font.characters) == ([65, 164, 32], False)
    assert font.notes == ("numbered as own-15 does, whose characters are not known here",)
    silent = "".join(line for line in BDF.splitlines(keepends=True) if not line.startswith(("FONT ", "CHARSET")))
    font = font_from(silent.encode(), "a.bdf")
    assert (list(font.glyphs), font.characters, font.notes) == ([65, 164, 32], False, ())


@pytest.mark.parametrize(
    ("name", "characters", "euro"),
    [
        ("iso8859-15", True, 0x20AC),
        ("ISO8859-1", True, 0xA4),
        ("iso10646-1", True, 0xA4),
        ("koi8-r", True, 0x2553),
        ("iso646.1991-irv", True, None),
        ("iso8859-7", True, 0x20AC),
        ("tis620-0", True, 0xE04),
        ("iso8859-12", False, 0xA4),
    ],
)
def test_the_last_two_parts_of_a_fonts_name_tell_its_characters(name, characters, euro):
    """Number 164: the euro sign in ISO 8859-15, the currency sign in Latin 1, a box in KOI8-R, and none in ASCII.

    There is no part 12 of ISO 8859.
    """
    lines = [line for line in BDF.splitlines(keepends=True) if not line.startswith("CHARSET")]
    font = font_from("".join(lines).replace("iso8859-15", name).encode(), "a.bdf")
    assert list(font.glyphs) == [0x41, *([] if euro is None else [euro]), 0x20]
    assert font.characters == characters
    assert any("without a character" in note for note in font.notes) == (euro is None)


def test_bdf_glyphs_without_a_number_and_with_one_that_is_taken_are_told():
    text = (
        BDF.replace("ENCODING 164", "ENCODING -1 7").replace("ENCODING 32", "ENCODING 65").replace("CHARS 3", "CHARS 9")
    )
    font = font_from(text.encode(), "a.bdf")
    assert drawn(font) == {0x41: DRAWN[0x41]}
    assert font.notes == (
        "has 3 glyphs, although its line CHARS says 9",
        "1 character had several glyphs: the first of them counts",
        "left out: 1 glyph without a character",
    )


@pytest.mark.parametrize("high_byte", [True, False])
@pytest.mark.parametrize("high_bit", [True, False])
@pytest.mark.parametrize(("pad", "unit"), [(1, 1), (2, 1), (2, 2), (4, 1), (4, 2), (4, 4), (8, 1), (8, 4)])
def test_a_pcf_font_is_the_bdf_font_in_any_order_and_padding(pad, unit, high_bit, high_byte):
    for compressed in (True, False):
        data = pcf(pad=pad, unit=unit, high_bit=high_bit, high_byte=high_byte, compressed=compressed)
        font = font_from(data, "a.pcf")
        assert (drawn(font), font.size, font.characters, font.notes) == (DRAWN, (5, 8), True, ())
        assert font.widths == dict.fromkeys(DRAWN, 5)


def test_a_pcf_font_without_properties_keeps_its_numbers():
    for data in (pcf(charset=None), pcf(without=1)):
        font = font_from(data, "a.pcf")
        assert (sorted(font.glyphs), font.characters) == ([32, 65, 164], False)


def test_units_of_eight_bytes_need_no_turning_where_bits_and_bytes_have_one_order():
    for high in (True, False):
        assert drawn(font_from(pcf(pad=8, unit=8, high_bit=high, high_byte=high), "a.pcf")) == DRAWN


@pytest.mark.parametrize("high_byte", [True, False])
@pytest.mark.parametrize("high_bit", [True, False])
@pytest.mark.parametrize(("pad", "unit"), [(1, 1), (2, 2), (4, 1), (4, 2), (4, 4), (8, 4)])
def test_a_font_renderer_sees_the_same_dots_in_the_same_bytes(pad, unit, high_bit, high_byte):
    """FreeType's reader of PCF, by way of Pillow: the letter A is drawn from the file as it is drawn here."""
    data = pcf(pad=pad, unit=unit, high_bit=high_bit, high_byte=high_byte, charset=("ISO10646", "1"))
    mask = ImageFont.truetype(io.BytesIO(data), 8).getmask("A", "1")
    theirs = np.array(mask).reshape(mask.size[::-1]) != 0
    assert np.array_equal(theirs, font_from(data, "a.pcf").glyphs[0x41][:7])


@pytest.mark.parametrize(
    "options", ["-p1 -m -M", "-p1 -l -L", "-p2 -l -M", "-p4 -m -L", "-p2 -u2 -m -M", "-p4 -u4 -l -L", "-p4 -u2 -l -L"]
)
def test_a_compiled_font_is_the_font_that_it_was_compiled_from(tmp_path, options):
    """bdftopcf, X.Org's compiler of PCF fonts, in the orders and paddings in which it keeps the dots."""
    compiler = installed("/usr/bin/bdftopcf", "xfonts-utils")
    (tmp_path / "a.bdf").write_text(BDF)
    subprocess.run([compiler, *options.split(), "-o", tmp_path / "a.pcf", tmp_path / "a.bdf"], check=True)
    assert drawn(read_font(tmp_path / "a.pcf")) == DRAWN


# hex fonts


def test_a_hex_font_has_a_character_a_line_and_narrow_glyphs_at_the_left():
    wide = "8001" + "0000" * 14 + "FFFF"
    text = f"# reeds\n\n0041:{LETTER_A.hex().upper()}\r\n1F30A:{wide}\n"
    font = font_from(text.encode(), "a.hex")
    assert (font.size, font.characters, font.widths) == ((16, 16), True, {0x41: 8, 0x1F30A: 16})
    assert bytes_of(font.glyphs[0x41][:, :8]) == LETTER_A and not font.glyphs[0x41][:, 8:].any()
    assert bytes_of(font.glyphs[0x1F30A]).hex().upper() == wide
    assert font.notes == ("1 narrow glyph at the left of boxes 16 dots across",)


@pytest.mark.parametrize("across", [8, 16, 24, 32])
def test_a_hex_glyph_is_as_wide_as_its_digits_say(across):
    dots = noise(16, across // 8)
    font = font_from(f"0041:{dots.tobytes().hex()}\n".encode(), "a.hex")
    assert font.size == (across, 16) and bytes_of(font.glyphs[0x41]) == dots.tobytes() and font.notes == ()


# pictures of glyphs


def sheet(background, ink, mode="RGB") -> bytes:
    """Four glyphs of 3x2 dots, two a row."""
    image = Image.new(mode, (6, 4), background)
    for place in ((0, 0), (4, 1), (2, 2), (5, 3)):
        image.putpixel(place, ink)
    return saved(image, "PNG")


SHEET = {0: "#.. ...", 1: "... .#.", 2: "..# ...", 3: "... ..#"}


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (sheet((0, 0, 0), (255, 255, 255)), "#ffffff was taken as ink and #000000 as paper"),
        (sheet((250, 250, 200), (40, 0, 0)), "#280000 was taken as ink and #fafac8 as paper"),
        (sheet((9, 9, 9, 0), (9, 9, 9, 255), "RGBA"), "the opaque dots were taken as ink"),
        (sheet(0, 1, "1"), "#ffffff was taken as ink and #000000 as paper"),
    ],
    ids=["light on dark", "dark on light", "on transparent", "one bit"],
)
def test_a_picture_is_cut_into_glyphs_from_left_to_right_and_top_to_bottom(data, told):
    font = font_from(data, "a.png", cell=(3, 2))
    assert drawn(font) == SHEET
    assert (font.size, font.characters, font.notes) == ((3, 2), False, (told,))
    assert font.widths == dict.fromkeys(range(4), 3)


def test_where_two_colours_are_as_many_the_lighter_is_ink():
    for first, second in ((b"\x00\xff", b"\xff\x00"), (b"\xff\x00", b"\x00\xff")):
        font = font_from(png((2, 2), 8, 0, [first, second]), "a.png", cell=(2, 2))
        assert bytes_of(font.glyphs[0]) == bytes(0x40 if line[0] == 0 else 0x80 for line in (first, second))


def test_a_picture_of_one_colour_is_blank():
    font = font_from(png((2, 2), 8, 0, [b"\x80\x80"] * 2), "a.png", cell=(1, 2))
    assert drawn(font) == {0: ". .", 1: ". ."} and font.notes == ("all dots are #808080 and were taken as paper",)


# all of them


def test_a_font_is_known_by_its_bytes_packed_or_not_whatever_its_name(tmp_path):
    for number, data in enumerate(
        (psf1(bytes(256), 0, 1), psf2(b"\1", (8, 1)), BDF.encode(), pcf(), b"0041:" + b"00" * 16)
    ):
        plain, packed, twice = (tmp_path / f"{number}.{end}" for end in ("txt", "gz", "dat"))
        plain.write_bytes(data)
        packed.write_bytes(gzip.compress(data, mtime=0))
        twice.write_bytes(gzip.compress(data[:7]) + gzip.compress(data[7:]) + b"\0" * 9)  # members follow each other
        fonts = [read_font(path) for path in (plain, packed, twice)]
        assert drawn(fonts[0]) == drawn(fonts[1]) == drawn(fonts[2])


def test_no_glyph_can_be_written_to():
    fonts = [psf1(bytes(256), 0, 1), BDF.encode(), pcf(), b"0041:" + b"00" * 16, sheet(0, 1, "1")]
    for data in fonts:
        font = font_from(data, "a", cell=(3, 2))
        assert not any(glyph.flags.writeable for glyph in font.glyphs.values())
        assert {glyph.dtype for glyph in font.glyphs.values()} == {np.dtype(bool)}
        assert {glyph.shape for glyph in font.glyphs.values()} == {font.size[::-1]}


# installed fonts


def test_console_fonts_have_the_known_bytes():
    """Debian console-setup-linux: Lat15-Fixed16 is PSF1, height 16, glyph 65 = 0000000018242442427e424242420000."""
    font = read_font(installed(f"{CONSOLE}/Lat15-Fixed16.psf.gz", "console-setup-linux"))
    assert font.size == (8, 16) and font.characters and bytes_of(font.glyphs[65]) == LETTER_A


def test_every_seventh_console_font_can_be_read():
    paths = sorted(installed(CONSOLE, "console-setup-linux").glob("*.psf*"))
    assert len(paths) > 400
    for path in paths[::7]:
        font = read_font(path)
        assert 128 < len(font.glyphs) and font.size[1] <= 32


def test_unifont_has_the_known_bytes():
    """Debian unifont: the line 0041:0000000018242442427E424242420000."""
    path = installed(f"{UNIFONT}/unifont.hex", "unifont")
    lines = path.read_bytes().splitlines()
    font = font_from(b"\n".join(lines[:3000]), "unifont.hex")
    assert font.size == (16, 16) and len(font.glyphs) == 3000 and bytes_of(font.glyphs[0x41][:, :8]) == LETTER_A


@pytest.mark.parametrize("name", ["5x7", "6x10", "8x13", "9x18B"])
def test_other_readers_of_pcf_see_the_same_dots(name):
    """Debian xfonts-base, with Pillow's PcfFontFile, which reads the first 256 characters."""
    path = installed(f"{X11}/{name}-ISO8859-1.pcf.gz", "xfonts-base")
    with gzip.open(path) as file:
        theirs = PcfFontFile.PcfFontFile(file).glyph
    ours = read_font(path)
    assert ours.size == tuple(map(int, name.rstrip("B").split("x"))) and ours.characters
    compared = 0
    for code, glyph in enumerate(theirs):
        assert (glyph is not None) == (code in ours.glyphs)
        if glyph is not None:
            assert np.array_equal(np.asarray(glyph[3]) != 0, ours.glyphs[code]), code
            compared += 1
    assert compared > 190
