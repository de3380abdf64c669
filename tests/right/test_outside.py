"""Do colours, PNG files and rates agree with what others publish? Each check names its source beside it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from fractions import Fraction

import cv2
import numpy as np
import pytest
from PIL import Image

import vdpsim
from vdpsim.chip.model import FrameTable

CHIP = """
name = "Outside"
[frame]
width = {width}
height = 64
border = {{ left = 8, right = 4, top = 3, bottom = 5 }}
dot_clock = 6_000_000
dots_per_line = 384
lines_per_frame = 312
[memory]
size = 65_536
bytes_per_access = 1
[palette]
entries = 256
bank_size = 16
red = "{red}"
green = "{green}"
blue = "{blue}"
[[layers]]
name = "all"
[[layers.modes]]
name = "dots"
kind = "bitmap"
bits_per_dot = 8
width = {width}
height = 64
[[ladder]]
source = "all"
"""

SCENE = """
name = "Outside"
chip = "outside.chip.toml"
[[palette]]
colours = {colours}
[[bitmaps]]
for = "all.dots"
rows = {rows}
"""


def draw(folder, layout, colours, rows, width=256):
    """The frame in which dot values are entries of a palette of ``colours`` with the bit ``layout`` of red, green and blue."""
    red, green, blue = layout
    (folder / "outside.chip.toml").write_text(CHIP.format(width=width, red=red, green=green, blue=blue))
    text = SCENE.format(colours=list(colours), rows=["".join(f"{dot:02x}" for dot in row) for row in rows])
    (folder / "outside.scene.toml").write_text(text.replace("'", '"'))
    return vdpsim.render(vdpsim.load_scene(folder / "outside.scene.toml"))


def found(program):
    """The path of ``program``; without it the test is left out, or fails where CI is set."""
    path = shutil.which(program)
    if path is None:
        assert "CI" not in os.environ, f"{program} is missing: apt-get install {program}"
        pytest.skip(f"{program} is not installed")
    return path


@pytest.mark.parametrize("bits", range(1, 9))
def test_a_channel_becomes_eight_bits_by_the_published_formula(tmp_path, bits):
    """Vulkan specification, "Conversion From Normalized Fixed-Point to Floating-Point": f = c / (2^b - 1), back by rounding to
    the nearest of f x (2^b - 1). Each of red, green and blue alone, every value.
    """
    high = f"{2 * bits + bits - 1}:{2 * bits}", f"{2 * bits - 1}:{bits}", f"{bits - 1}:0"
    expected = [int(Fraction(value, 2**bits - 1) * 255 + Fraction(1, 2)) for value in range(1 << bits)]
    for channel, shift in enumerate((2 * bits, bits, 0)):
        words = [value << shift for value in range(1 << bits)]
        frame = draw(tmp_path, high, words, [[dot % (1 << bits) for dot in range(256)]])
        shown = frame.rgb[0, : 1 << bits]
        assert shown[:, channel].tolist() == expected
        assert not shown[:, [other for other in range(3) if other != channel]].any()


def test_the_worked_example_of_the_png_standard(tmp_path):
    """PNG, third edition, "Sample depth scaling": the 5-bit sample 27 becomes 222."""
    frame = draw(tmp_path, ("14:10", "9:5", "4:0"), [27 << 10 | 27 << 5 | 27], [[0] * 256])
    assert frame.rgb[0, 0].tolist() == [222, 222, 222]


BARS = {
    "white": (1, 1, 1, (180, 128, 128), (235, 128, 128)),
    "yellow": (1, 1, 0, (162, 44, 142), (210, 16, 146)),
    "cyan": (0, 1, 1, (131, 156, 44), (170, 166, 16)),
    "green": (0, 1, 0, (112, 72, 58), (145, 54, 34)),
    "magenta": (1, 0, 1, (84, 184, 198), (106, 202, 222)),
    "red": (1, 0, 0, (65, 100, 212), (81, 90, 240)),
    "blue": (0, 0, 1, (35, 212, 114), (41, 240, 110)),
    "black": (0, 0, 0, (16, 128, 128), (16, 128, 128)),
}
"""Colour bars in Y, Cb, Cr at 75 % and 100 %: FFmpeg, vsrc_testsrc.c, ``rainbow[]`` and ``rainbow100[]``; GStreamer,
videotestsrc, ``vts_colors_bt601_ycbcr_75`` and ``_100``; colour-science, ``RGB_to_YCbCr(K=BT.601)``. All three agree.
"""


def ycbcr(rgb):
    """ITU-R BT.601: luma with the weights 0.299, 0.587, 0.114; 219 and 224 levels on 16 and 128. Not rounded."""
    red, green, blue = (rgb.astype(float) / 255).T
    luma = 0.299 * red + 0.587 * green + 0.114 * blue
    return np.stack([16 + 219 * luma, 128 + 112 * (blue - luma) / 0.886, 128 + 112 * (red - luma) / 0.701], axis=-1)


@pytest.mark.parametrize(("level", "column"), [(191, 3), (255, 4)])
def test_colour_bars_have_the_published_luma_and_colour_difference(tmp_path, level, column):
    """100 % bars are the published codes. 75 % of full scale lies between two 8-bit values; with the nearer one, 191, every
    component is less than a quarter of a code (224 x (0.75 - 191/255)) off before it is rounded.
    """
    colours = ["#" + "".join(f"{level * part:02x}" for part in bar[:3]) for bar in BARS.values()]
    frame = draw(tmp_path, ("23:16", "15:8", "7:0"), colours, [[dot // 8 for dot in range(64)]] * 64, width=64)
    shown = ycbcr(frame.rgb[32, 4::8])
    published = np.array([bar[column] for bar in BARS.values()])
    if level == 255:
        assert np.rint(shown).astype(int).tolist() == published.tolist()
    else:
        assert np.abs(shown - published).max() < 0.5 + 0.25


RATES = [
    # CTA-861 by video identification code, and VESA DMT by number, as edid-decode prints them: dots a line, lines, clock in
    # Hz, all dots of a line, all lines of a frame, line rate in kHz, frame rate in Hz
    ("--vic 1", 640, 480, 25_175_000, 800, 525, "31.469", "59.940476"),
    ("--vic 2", 720, 480, 27_000_000, 858, 525, "31.469", "59.940060"),
    ("--vic 17", 720, 576, 27_000_000, 864, 625, "31.250", "50.000000"),
    ("--dmt 0x05", 640, 480, 31_500_000, 832, 520, "37.861", "72.808802"),
    ("--dmt 0x06", 640, 480, 31_500_000, 840, 500, "37.500", "75.000000"),
    ("--dmt 0x09", 800, 600, 40_000_000, 1056, 628, "37.879", "60.316541"),
    ("--dmt 0x10", 1024, 768, 65_000_000, 1344, 806, "48.363", "60.003840"),
]


def told(width, height, clock, dots, lines):
    """Line rate in kHz and frame rate in Hz of such a frame, as the tables print them."""
    frame = FrameTable(width=width, height=height, dot_clock=clock, dots_per_line=dots, lines_per_frame=lines)
    return f"{float(vdpsim.line_rate(frame)) / 1000:.3f}", f"{float(vdpsim.frame_rate(frame)):.6f}"


@pytest.mark.parametrize("row", RATES, ids=lambda row: row[0])
def test_line_and_frame_rate_are_those_of_the_published_tables(row):
    """CTA-861 and VESA DMT, from edid-decode's copy of them."""
    assert told(*row[1:6]) == row[6:]


@pytest.mark.parametrize("row", RATES, ids=lambda row: row[0])
def test_the_table_above_is_what_edid_decode_prints(row):
    """So that no number of it is a slip of the pen."""
    text = subprocess.run([found("edid-decode"), *row[0].split()], capture_output=True, text=True, check=True).stdout
    size, rates = re.search(r"(\d{3,})x(\d{3,})", text), re.search(r"([\d.]+) Hz.*?([\d.]+) kHz\s+([\d.]+) MHz", text)
    assert (int(size[1]), int(size[2])) == row[1:3]
    assert (rates[2], rates[1], round(float(rates[3]) * 1e6)) == (row[6], row[7], row[3])


def test_half_the_clock_of_doubled_dots():
    """CTA-861 VIC 8 and 23 send each of 720 dots twice at 27 MHz: 60.054449 and 50.080128 Hz for 262 and 312 lines."""
    assert told(720, 240, 13_500_000, 858, 262) == ("15.734", "60.054449")
    assert told(720, 288, 13_500_000, 864, 312) == ("15.625", "50.080128")


def test_rates_are_exact_fractions():
    """13.5 MHz / 858 / 525 is 60000/1001 of a field rate's half: 47 CFR 73.682 gives 2/525 of the line rate as field rate."""
    frame = FrameTable(width=720, height=480, dot_clock=13_500_000, dots_per_line=858, lines_per_frame=525)
    assert vdpsim.frame_rate(frame) * 2 == Fraction(60000, 1001)


@pytest.fixture(scope="module")
def pictures(tmp_path_factory):
    """A paletted frame, and one in which an entry changes its colour on the way down."""
    rng = np.random.default_rng(2)
    rows = rng.integers(0, 256, (64, 256)).tolist()
    colours = [int(word) for word in rng.integers(0, 1 << 12, 256)]
    folder = tmp_path_factory.mktemp("pictures")
    plain = draw(folder, ("11:8", "7:4", "3:0"), colours, rows)
    text = (folder / "outside.scene.toml").read_text()
    (folder / "outside.scene.toml").write_text(
        f"{text}\n[[writes]]\nline = 30\nentry = 7\ncolour = {colours[7] ^ 0xFFF}\n"
    )
    return {"P": plain, "RGB": vdpsim.render(vdpsim.load_scene(folder / "outside.scene.toml"))}


@pytest.mark.parametrize("mode", ["P", "RGB"])
@pytest.mark.parametrize(("scale", "border"), [(1, False), (3, True)])
def test_png_files_are_sound_and_a_second_decoder_sees_the_same_dots(tmp_path, pictures, mode, scale, border):
    """pngcheck finds no fault, and OpenCV's decoder, which is not Pillow's, yields ``frame.rgb``, each dot scaled."""
    frame, path = pictures[mode], tmp_path / "frame.png"
    frame.save(path, scale, border)
    checked = subprocess.run([found("pngcheck"), str(path)], capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stdout
    seen = cv2.imdecode(np.frombuffer(path.read_bytes(), np.uint8), cv2.IMREAD_COLOR)[..., ::-1]
    above, left = (3 * scale, 8 * scale) if border else (0, 0)
    assert seen.shape == ((64 + 8 * border) * scale, (256 + 12 * border) * scale, 3)
    inside = seen[above : above + 64 * scale, left : left + 256 * scale]
    assert np.array_equal(inside, frame.rgb.repeat(scale, axis=0).repeat(scale, axis=1))
    if border:
        assert (seen[:above] == frame.border_rgb[0]).all()
        assert (seen[above + 64 * scale :] == frame.border_rgb[-1]).all()
    with Image.open(path) as image:
        assert image.mode == mode


def test_a_paletted_png_holds_the_chips_own_entry_numbers(tmp_path, pictures):
    """So that a picture drawn by the chip can be read back as its dots."""
    pictures["P"].save(tmp_path / "frame.png")
    with Image.open(tmp_path / "frame.png") as image:
        assert np.array_equal(np.asarray(image), pictures["P"].indices)


def test_pngcheck_notices_a_flipped_bit(tmp_path, pictures):
    """A checker that never failed is no checker."""
    data = bytearray(pictures["P"].png())
    data[len(data) // 2] ^= 1
    (tmp_path / "broken.png").write_bytes(data)
    checked = subprocess.run([found("pngcheck"), str(tmp_path / "broken.png")], capture_output=True, check=False)
    assert checked.returncode == 2
