"""Are displays' timings those of the published tables, does a chip outside them get a warning, and no chip within?"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
from fractions import Fraction
from pathlib import Path
from typing import get_args

import pytest
from refusal import refused

import vdpsim
from vdpsim.chip.model import FrameTable
from vdpsim.cli import main
from vdpsim.cli.commands.frame import EXAMPLES

CHIPS = Path(__file__).resolve().parents[2] / "scenes/chips"
CURLEW = (CHIPS / "curlew.chip.toml").read_text(encoding="utf-8")
CHIP = """
name = "Displayed"
{frame}
[memory]
size = 262_144
bytes_per_access = 1
[palette]
entries = 2
bank_size = 2
red = "2"
green = "1"
blue = "0"
[[layers]]
name = "all"
[[layers.modes]]
name = "dots"
kind = "bitmap"
bits_per_dot = 1
width = 64
height = 64
[[ladder]]
source = "all"
"""

PUBLISHED = [
    # CTA-861 by video identification code and VESA DMT by number, as edid-decode prints them: whose rates they are; active
    # dots and lines; front porch, sync, back porch and border at each side, of a line and of a frame; clock in Hz; and how
    # often each dot of VIC 8, 9, 23 and 24 is sent (CTA-861, "720(1440)": from memory)
    ("--vic 1", "640x480", (640, 480), (16, 96, 48, 0), (10, 2, 33, 0), 25_175_000, 1),
    ("--vic 8", "525 lines", (1440, 240), (38, 124, 114, 0), (4, 3, 15, 0), 27_000_000, 2),
    ("--vic 9", "525 lines", (1440, 240), (38, 124, 114, 0), (4, 3, 15, 0), 27_000_000, 2),
    ("--vic 23", "625 lines", (1440, 288), (24, 126, 138, 0), (2, 3, 19, 0), 27_000_000, 2),
    ("--vic 24", "625 lines", (1440, 288), (24, 126, 138, 0), (2, 3, 19, 0), 27_000_000, 2),
    ("--dmt 0x04", "640x480", (640, 480), (8, 96, 40, 8), (2, 2, 25, 8), 25_175_000, 1),
]
TABLES = pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row[0])


def found(program):
    """The path of ``program``; without it the test is left out, or fails where CI is set."""
    path = shutil.which(program)
    if path is None:
        assert "CI" not in os.environ, f"{program} is missing: apt-get install {program}"
        pytest.skip(f"{program} is not installed")
    return path


def frame(display=None, width=64, height=64, sides=(0, 0, 0, 0), **rates):
    """A frame of which the display, the size, the border (left, right, top, bottom) and ``rates`` are given."""
    border = dict(zip(("left", "right", "top", "bottom"), sides, strict=True))
    return FrameTable(width=width, height=height, border=border, display=display, **rates)


def like(name, /, **changed):
    """A small frame with the usual rates of the display called ``name``, some of it ``changed``."""
    known = vdpsim.DISPLAYS[name]
    dots = changed.get("dots_per_line", known.dots[0])
    rates = {"dot_clock": round(known.line_rate * dots), "dots_per_line": dots, "lines_per_frame": known.lines[0]}
    return frame(**{"display": name, **rates, **changed})


def published(row, display):
    """A row of ``PUBLISHED`` as a frame that is meant for ``display``."""
    _, _, (dots, lines), line, high, clock, sent = row
    return frame(
        display,
        width=dots // sent,
        height=lines,
        sides=(line[3] // sent, line[3] // sent, high[3], high[3]),
        dot_clock=clock // sent,
        dots_per_line=(dots + sum(line) + line[3]) // sent,
        lines_per_frame=lines + sum(high) + high[3],
    )


@TABLES
def test_the_table_above_is_what_edid_decode_prints(row):
    """So that no number of it is a slip of the pen."""
    text = subprocess.run([found("edid-decode"), *row[0].split()], capture_output=True, text=True, check=True).stdout
    told = {name: int(number) for name, number in re.findall(r"\b([HV](?:front|sync|back|border))\s+(\d+)", text)}
    for axis, numbers in (("H", row[3]), ("V", row[4])):
        assert tuple(told.get(axis + part, 0) for part in ("front", "sync", "back", "border")) == numbers
    assert tuple(map(int, re.search(r"(\d{3,})x(\d{3,})", text).groups())) == row[2]
    assert round(float(re.search(r"([\d.]+) MHz", text)[1]) * 1e6) == row[5]


@TABLES
def test_a_display_has_the_published_rates_and_blanking(row):
    """CTA-861 and VESA DMT, from edid-decode's copy of them."""
    _, name, (dots, lines), line, high, clock, sent = row
    display, whole = vdpsim.DISPLAYS[name], dots + sum(line) + line[3]
    assert display.line_rate == Fraction(clock, whole)
    assert display.lines[0] == lines + sum(high) + high[3]
    assert {whole, whole // sent} <= set(display.dots)
    assert display.height == lines
    assert display.active == Fraction(dots, whole)
    if line[3] or name != "640x480":
        assert display.bordered == Fraction(dots + 2 * line[3], whole)
        assert display.bordered_blank_lines == sum(high[:3])


@TABLES
def test_a_published_frame_gives_no_warning(row):
    assert vdpsim.display_warnings(published(row, row[1])) == ()
    assert vdpsim.display_warnings(published(row, None)) == ()


@pytest.mark.parametrize(("name", "clock", "dots"), [("640x480", 25_200_000, 800), ("525 lines", 13_513_500, 858)])
def test_the_variants_of_sixty_frames_give_no_warning(name, clock, dots):
    """HDMI's 60.000 Hz variants of CTA-861: the clock x 1.001, 25.2 MHz, and 27.027 MHz with each dot sent twice."""
    assert vdpsim.display_warnings(like(name, dot_clock=clock, dots_per_line=dots)) == ()


def test_the_525_line_rate_is_the_broadcasters():
    """47 CFR 73.682(a)(5) and (6): 2/455 of 315/88 MHz, 15,734.264 Hz +- 0.044 Hz, and 227.5 cycles of it a line."""
    rate = vdpsim.DISPLAYS["525 lines"].line_rate
    assert abs(rate - Fraction("15734.264")) < Fraction("0.044")
    assert Fraction(315_000_000, 88) / rate == Fraction(455, 2)


def test_sampling_is_that_of_the_studio_standard():
    """ITU-R BT.601: 858 and 864 samples a line at 13.5 MHz, half of them at 6.75 MHz; 720 and 360 are active."""
    for name, dots in (("525 lines", 858), ("625 lines", 864)):
        display = vdpsim.DISPLAYS[name]
        assert display.line_rate * dots == 13_500_000
        assert display.dots[:2] == (dots // 2, dots)
        assert [display.room(published)[0] for published in display.dots[:2]] == [360, 720]


@pytest.mark.parametrize(
    ("name", "rates"),
    [
        # CTA-861 VIC 8 and 23 for 262 and 312 lines, as edid-decode prints them; the others by division
        ("525 lines", ["60.054449", "59.826105"]),
        ("625 lines", ["50.080128", "49.920128", "49.761146"]),
        ("640x480", ["59.940476"]),
    ],
)
def test_frames_a_second(name, rates):
    display = vdpsim.DISPLAYS[name]
    dots = display.dots[0]
    told = [vdpsim.frame_rate(like(name, lines_per_frame=lines, dots_per_line=dots)) for lines in display.lines]
    assert [f"{float(rate):.6f}" for rate in told] == rates


@pytest.mark.parametrize(
    ("name", "nominal", "tolerance"),
    [
        # Y. C. Kuan, table of composite signals (2002): blanking of 10.90 us and 12.05 us. +- 0.2 us and +- 0.3 us are what
        # SMPTE ST 170 and ITU-R BT.1700 allow (from memory)
        ("525 lines", Fraction(572, 9) - Fraction("10.90"), Fraction("0.2")),
        ("625 lines", 64 - Fraction("12.05"), Fraction("0.3")),
        # VESA DMT 0x04: 640 / 25.175 us
        ("640x480", Fraction(640) / Fraction("25.175"), 0),
    ],
)
def test_the_picture_lasts_as_long_as_published(name, nominal, tolerance):
    display = vdpsim.DISPLAYS[name]
    assert display.picture / display.line_rate * 1_000_000 == nominal + tolerance


EDGES = [
    # Slowest and fastest dot clock. 1 % for analogue displays is common practice; 0.5 % is CTA-861's tolerance (from memory)
    ("525 lines", 429, 6_682_500, 6_817_500),
    ("625 lines", 432, 6_682_500, 6_817_500),
    ("640x480", 800, 25_049_125, 25_300_875),
]


@pytest.mark.parametrize(("name", "dots", "slowest", "fastest"), EDGES)
def test_both_sides_of_the_line_rates_tolerance(name, dots, slowest, fastest):
    for named in (name, None):
        for clock in (slowest, fastest):
            assert vdpsim.display_warnings(like(name, display=named, dots_per_line=dots, dot_clock=clock)) == ()
        for clock in (slowest - 1, fastest + 1):
            told, *rest = vdpsim.display_warnings(like(name, display=named, dots_per_line=dots, dot_clock=clock))
            assert f"{clock / dots:.3f} lines a second" in told
            assert f'"{name}"' in told
            assert f"take {slowest / dots:.3f} to {fastest / dots:.3f}" in told
            assert vdpsim.DISPLAYS[name].line_rate_source in told
            assert "A tube display can whine or be damaged" in told
            assert len(rest) == (named is None)


@pytest.mark.parametrize(
    ("name", "lines", "told"),
    [
        ("525 lines", (262, 263), "262 or 263"),
        ("625 lines", (312, 314), "312, 313 or 314"),
        ("640x480", (525, 525), "525"),
    ],
)
def test_both_sides_of_the_lines_of_a_frame(name, lines, told):
    for count in lines:
        assert vdpsim.display_warnings(like(name, lines_per_frame=count)) == ()
    for count in (lines[0] - 1, lines[1] + 1, 2 * lines[1]):
        (warning,) = vdpsim.display_warnings(like(name, lines_per_frame=count))
        assert f"{count} lines a frame" in warning
        assert f"take {told} lines without interlace ({vdpsim.DISPLAYS[name].lines_source})" in warning


@pytest.mark.parametrize(
    ("name", "dots", "room"),
    [
        # published lines: CTA-861 VIC 8, 23 and 1; then 400 / 63.5556 us x 52.8556 us and 400 / 64 us x 52.25 us
        ("525 lines", 429, 360),
        ("625 lines", 432, 360),
        ("640x480", 800, 640),
        ("525 lines", 385, 320),
        ("625 lines", 392, 320),
        ("640x480", 650, 520),
    ],
)
def test_both_sides_of_the_dots_of_picture(name, dots, room):
    assert vdpsim.display_warnings(like(name, dots_per_line=dots, width=room)) == ()
    (warning,) = vdpsim.display_warnings(like(name, dots_per_line=dots, width=room + 8))
    assert f"{room + 8} dots of picture a line" in warning
    assert f"have room for {room} of {dots} ({vdpsim.DISPLAYS[name].room(dots)[1]}), so that 8 fall" in warning


@pytest.mark.parametrize(
    ("name", "dots", "room"), [("525 lines", 858, 720), ("625 lines", 384, 320), ("640x480", 800, 656)]
)
def test_both_sides_of_the_dots_of_picture_and_border(name, dots, room):
    """CTA-861 VIC 8; VIC 23's 720 of 864 for a line of 384; VESA DMT 0x04 with its border of 8 dots at each side."""
    width = room - 24
    assert vdpsim.display_warnings(like(name, dots_per_line=dots, width=width, sides=(10, 14, 0, 0))) == ()
    (warning,) = vdpsim.display_warnings(like(name, dots_per_line=dots, width=width, sides=(10, 15, 0, 0)))
    assert f"{room + 1} dots of picture and border a line" in warning
    assert f"room for {room} of {dots} ({vdpsim.DISPLAYS[name].bordered_source}), so that 1 fall" in warning


@pytest.mark.parametrize(
    ("name", "lines", "bordered"), [("525 lines", 240, 240), ("625 lines", 288, 288), ("640x480", 480, 496)]
)
def test_both_sides_of_the_lines_without_picture(name, lines, bordered):
    """CTA-861 VIC 8, 23 and 1; VESA DMT 0x04 with its border of 8 lines above and below."""
    whole, source = vdpsim.DISPLAYS[name].lines[0], vdpsim.DISPLAYS[name].lines_source
    assert vdpsim.display_warnings(like(name, height=lines)) == ()
    (warning,) = vdpsim.display_warnings(like(name, height=lines + 1))
    assert f"{whole - lines - 1} lines without picture; " in warning
    assert f"need at least {whole - lines} ({source})" in warning
    assert vdpsim.display_warnings(like(name, height=lines - 9, sides=(0, 0, bordered - lines, 9))) == ()
    (warning,) = vdpsim.display_warnings(like(name, height=lines - 9, sides=(0, 0, bordered - lines + 1, 9)))
    assert f"{whole - bordered - 1} lines without picture and border; " in warning
    assert f"need at least {whole - bordered} ({source})" in warning


@pytest.mark.parametrize(
    ("lines_a_second", "lines", "nearest"),
    [(15_200, 262, "525 lines"), (15_200, 312, "625 lines"), (14_000, 300, "625 lines"), (38_000, 628, "640x480")],
)
def test_a_chip_that_names_no_display_hears_of_the_nearest(lines_a_second, lines, nearest):
    rates = {"dot_clock": lines_a_second * 400, "dots_per_line": 400, "lines_per_frame": lines}
    *told, last = vdpsim.display_warnings(frame(**rates))
    assert told
    assert all(f'displays of "{nearest}", the nearest of those known,' in warning for warning in told)
    assert last == 'a chip for any other display says so with display = "other"'
    assert vdpsim.display_warnings(frame("other", **rates)) == ()


def test_a_chip_is_held_against_the_display_that_it_names():
    """A frame that is right for one display is wrong for the others, in line rate or in lines."""
    for right in vdpsim.DISPLAYS:
        for named in vdpsim.DISPLAYS:
            warnings = vdpsim.display_warnings(like(right, display=named))
            assert bool(warnings) == (right != named)
            assert all(f'displays of "{named}" ' in warning for warning in warnings)


def test_the_frames_key_knows_exactly_the_displays():
    literal = get_args(FrameTable.model_fields["display"].annotation)[0]
    assert set(get_args(literal)) == {*vdpsim.DISPLAYS, "other"}
    assert [display.name for display in vdpsim.DISPLAYS.values()] == list(vdpsim.DISPLAYS)


def test_a_display_that_is_not_known_is_a_mistake_of_the_file():
    with refused(
        vdpsim.InputError, r"display: must be '525 lines', '625 lines', '640x480' or 'other', got '600 lines'"
    ):
        vdpsim.parse_chip(CURLEW.replace('display = "625 lines"', 'display = "600 lines"'))


@pytest.mark.parametrize("name", ["curlew", "dunlin", "sanderling"])
def test_the_shipped_chips_suit_the_display_that_they_name(name, capsys):
    path = CHIPS / f"{name}.chip.toml"
    assert vdpsim.load_chip(path).frame.display == "625 lines"
    assert main(["check", str(path)]) == 0
    assert not capsys.readouterr().err


PLANTED = {
    # in Curlew's file: what is put in whose place, and what the warnings say
    "14 kHz": ([("6_000_000", "5_376_000")], ["14000.000 lines a second", "15468.750 to 15781.250", "ITU-R BT.1700"]),
    "300 lines": (
        [("lines_per_frame = 312", "lines_per_frame = 300")],
        ["300 lines a frame, 52.083", "CTA-861 VIC 23"],
    ),
    "wide border": ([("left = 16", "left = 17")], ["321 dots of picture and border", "room for 320", "ITU-R BT.601"]),
    "wide picture": (
        [("width = 288", "width = 320")],
        ["320 dots of picture a line", "room for 313", "so that 7 fall"],
    ),
    "high border": (
        [("top = 12", "top = 61")],
        ["23 lines without picture and border", "at least 24", "CTA-861 VIC 23"],
    ),
    "two faults": (
        [("6_000_000", "5_376_000"), ("lines_per_frame = 312", "lines_per_frame = 300")],
        ["14000.000 lines a second", "300 lines a frame, 46.667 frames a second"],
    ),
    "another display": ([('"625 lines"', '"525 lines"')], ['"525 lines"', "312 lines a frame", "262 or 263 lines"]),
    "no display": (
        [('display = "625 lines"', ""), ("lines_per_frame = 312", "lines_per_frame = 280")],
        ['displays of "525 lines", the nearest', "280 lines a frame", 'display = "other"'],
    ),
}


@pytest.mark.parametrize("name", PLANTED)
def test_check_warns_of_a_planted_fault_and_names_the_standard(tmp_path, capsys, name):
    """A warning is no mistake: the chip is right, and so is the exit status."""
    changes, told = PLANTED[name]
    text = CURLEW
    for old, new in changes:
        assert text.count(old) >= 1
        text = text.replace(old, new, 1)
    path = tmp_path / "planted.chip.toml"
    path.write_text(text, encoding="utf-8")
    assert main(["check", str(path)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith(f"OK {path}: Curlew, ")
    assert all(line.startswith(f"warning: {path}: frame: ") for line in err.splitlines())
    for words in told:
        assert words in err


def test_check_goes_on_after_a_warning(tmp_path, capsys):
    """Mistakes in another file still count, and a chip with mistakes gets no warnings."""
    odd, wrong = tmp_path / "odd.chip.toml", tmp_path / "wrong.chip.toml"
    odd.write_text(CURLEW.replace("6_000_000", "5_376_000", 1), encoding="utf-8")
    wrong.write_text(CURLEW.replace("6_000_000", "5_376_000\nhight = 1", 1), encoding="utf-8")
    assert main(["check", str(odd), str(wrong)]) == 2
    warning, mistake = capsys.readouterr().err.splitlines()
    assert warning.startswith(f"warning: {odd}: frame: 14000.000 lines a second")
    assert mistake.startswith(f"{wrong}:")


SIZES = [
    # what is asked for; the clock, dots, lines and border (left, right, top, bottom) that the published table gives
    (("525 lines", 256, 224), (6_750_000, 429, 262, (52, 52, 8, 8))),
    (("525 lines", 352, 240), (6_750_000, 429, 262, (4, 4, 0, 0))),
    (("525 lines", 720, 240), (13_500_000, 858, 262, (0, 0, 0, 0))),
    (("525 lines", 320, 224, 400), (6_293_706, 400, 262, (7, 8, 8, 8))),
    (("625 lines", 288, 216, 384), (6_000_000, 384, 312, (16, 16, 36, 36))),
    (("625 lines", 360, 287), (6_750_000, 432, 312, (0, 0, 0, 1))),
    (("625 lines", 1024, 288), (27_000_000, 1728, 312, (208, 208, 0, 0))),
    (("625 lines", 64, 64, 8192), (128_000_000, 8192, 312, (256, 256, 112, 112))),
    (("640x480", 640, 480), (25_175_000, 800, 525, (0, 0, 0, 0))),
    (("640x480", 320, 240), (12_587_500, 400, 525, (0, 0, 120, 120))),
    (("640x480", 1024, 480, 1280), (40_280_000, 1280, 525, (0, 0, 0, 0))),
]


def words(asked):
    """The command line that asks for a row of ``SIZES``."""
    name, width, height, *dots = asked
    return ["frame", name, f"{width}x{height}", *(f"--dots={number}" for number in dots)]


@pytest.mark.parametrize(("asked", "given"), SIZES, ids=lambda row: "-".join(map(str, row)))
def test_a_printed_table_loads_and_its_display_takes_it(capsys, asked, given):
    table = vdpsim.display_frame(*asked)
    sides = tuple(extent for _, extent in table.border)
    assert (table.dot_clock, table.dots_per_line, table.lines_per_frame, sides) == given
    assert (table.display, table.width, table.height) == asked[:3]
    assert main(words(asked)) == 0
    out, err = capsys.readouterr()
    assert not err
    assert vdpsim.parse_chip(CHIP.format(frame=out)).frame == table
    assert vdpsim.display_warnings(table) == ()
    assert vdpsim.display_warnings(table.model_copy(update={"display": None})) == ()


def test_a_printed_table_names_the_source_of_its_numbers():
    text = vdpsim.frame_text(vdpsim.display_frame("525 lines", 720, 240))
    for key, source in (
        ("width", "a tube shows 713 (blanking of 10.9 us less 0.2 us: SMPTE ST 170)"),
        ("height", "240 at most: CTA-861 VIC 8 and 9"),
        ("dot_clock", "15734.266 lines a second; 47 CFR 73.682, ITU-R BT.1700"),
        ("dots_per_line", "ITU-R BT.601, CTA-861 VIC 8"),
        ("lines_per_frame", "60.054 Hz: CTA-861 VIC 8 and 9"),
    ):
        assert re.search(rf"^{key} = \S+ +# .*{re.escape(source)}$", text, re.MULTILINE), key
    assert "the fewest" not in text
    text = vdpsim.frame_text(vdpsim.display_frame("525 lines", 320, 224, 400))
    assert "# With 385 dots a line, the fewest, " in text
    assert "rounded to a whole Hz from 15734.266" in text
    assert "with blanking; as asked for" in text


@pytest.mark.parametrize("name", vdpsim.DISPLAYS)
def test_every_width_that_is_given_a_table_is_taken(name):
    """With the published dots a line, and with the fewest; one dot fewer is refused."""
    display = vdpsim.DISPLAYS[name]
    for width in range(64, 1025, 8):
        fewest = -int(-width / display.picture // 1)
        for dots in (None, fewest, fewest + 1):
            if dots is None and width > display.room(display.dots[-1])[0]:
                continue
            assert vdpsim.display_warnings(vdpsim.display_frame(name, width, 200, dots)) == (), (width, dots)
        if fewest > 64 and fewest - 1 not in display.dots:
            with refused(vdpsim.InputError, f"dots: must be {fewest} to 8192 for a picture of {width} dots, got"):
                vdpsim.display_frame(name, width, 200, fewest - 1)


REFUSED = {
    "no such display": (
        ("600 lines", 256, 224),
        ["display: must be one of 525 lines, 625 lines, 640x480, got '600 lines'"],
    ),
    "odd width": (("525 lines", 260, 224), ["width: must be 64 to 1024, a multiple of 8 dots, got 260"]),
    "narrow": (("525 lines", 56, 224), ["width: must be 64 to 1024, a multiple of 8 dots, got 56"]),
    "wide": (("640x480", 1032, 480, 2000), ["width: must be 64 to 1024, a multiple of 8 dots, got 1032"]),
    "wider than published": (
        ("640x480", 648, 480),
        ["width: must be at most 640 where dots of the whole line, from 810 on, are not given, got 648"],
    ),
    "low": (("525 lines", 256, 63), ["height: must be 64 to 240 lines (CTA-861 VIC 8 and 9), got 63"]),
    "high": (("525 lines", 256, 241), ["height: must be 64 to 240 lines (CTA-861 VIC 8 and 9), got 241"]),
    "high on 625 lines": (
        ("625 lines", 256, 289),
        ["height: must be 64 to 288 lines (CTA-861 VIC 23 and 24), got 289"],
    ),
    "high on a monitor": (
        ("640x480", 256, 481),
        ["height: must be 64 to 480 lines (VESA DMT 0x04, CTA-861 VIC 1), got 481"],
    ),
    "few dots": (("625 lines", 288, 216, 352), ["dots: must be 353 to 8192 for a picture of 288 dots, got 352"]),
    "many dots": (("625 lines", 288, 216, 8193), ["dots: must be 353 to 8192 for a picture of 288 dots, got 8193"]),
    "all at once": (("625 lines", 288, 300, 100), ["dots: must be 353", "height: must be 64 to 288"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_has_no_table_is_refused_with_what_is_allowed(capsys, name):
    asked, told = REFUSED[name]
    with refused(vdpsim.InputError, re.escape(told[0])):
        vdpsim.display_frame(*asked)
    assert main(words(asked)) == 2
    out, err = capsys.readouterr()
    assert not out
    assert [line for line in err.splitlines() if not line.startswith("frame: ")] == []
    for sentence in told:
        assert f"frame: {sentence}" in err


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (["frame", "625 lines", "288"], "must be WIDTHxHEIGHT such as 288x216, got '288'"),
        (["frame", "625 lines", "288x-1"], "must be WIDTHxHEIGHT such as 288x216, got '288x-1'"),
        (["frame", "625 lines", "288x216", "--dots", "many"], "must be a whole number of dots, got 'many'"),
        (["frame", "625 lines"], "required: WIDTHxHEIGHT"),
        (["frame"], "required: DISPLAY, WIDTHxHEIGHT"),
    ],
)
def test_a_wrong_command_line_is_told(capsys, line, told):
    assert main(line) == 2
    out, err = capsys.readouterr()
    assert not out
    assert told in err


def test_help_teaches_by_examples_that_run(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["frame", "--help"]) == 0
    assert EXAMPLES in capsys.readouterr().out
    lines = [re.split(r"   +| > ", line.strip())[0] for line in EXAMPLES.splitlines()[1:]]
    assert len(lines) >= 3
    for line in lines:
        command, *rest = shlex.split(line)
        assert command == "vdpsim"
        assert main(rest) == 0, line
        assert "[frame]" in capsys.readouterr().out


def test_a_frame_for_no_known_display_has_no_text():
    with refused(KeyError, "other"):
        vdpsim.frame_text(frame("other", dot_clock=6_000_000, dots_per_line=400, lines_per_frame=300))
