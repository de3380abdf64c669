"""Do pictures show what the frame holds, in the form that suits it?"""

from __future__ import annotations

import io

import numpy as np
import pytest
from little import machine as little
from PIL import Image
from refusal import refused

import vdpsim
from vdpsim.engine.frame import COLLISIONS, DROPS


def frame_of(indices, rgb, **more):
    """A frame of one source with these entries and colours."""
    indices, rgb = np.array(indices), np.array(rgb, np.uint8)
    lines, zeros = len(indices), np.zeros(np.shape(indices), np.uint8)
    given = {
        "log": vdpsim.Log(("all.dots",), np.ones((lines, 1), np.int64), *(np.zeros(lines, np.int64) for _ in range(2))),
        "drops": np.zeros(0, DROPS),
        "collisions": np.zeros(0, COLLISIONS),
        "border_rgb": np.zeros((lines, 3), np.uint8),
        "source": zeros,
    } | more
    return vdpsim.Frame(
        frame=0,
        first=0,
        indices=indices,
        rgb=rgb,
        rung=zeros,
        sprite=np.full(zeros.shape, -1, np.int16),
        collision_flags=0,
        sources=("backdrop", "all"),
        rungs=("all", "backdrop"),
        **given,
    )


CHIP = """
name = "Small"
memory = { size = 1024, bytes_per_access = 1 }
palette = { entries = 4, bank_size = 2, red = "0", green = "1", blue = "2" }
layers = [{ name = "all", modes = [{ name = "dots", kind = "bitmap", bits_per_dot = 1, width = 64, height = 64 }] }]
ladder = [{ source = "all" }]
[frame]
width = 64
height = 64
border = { bottom = 4, left = 3 }
dot_clock = 6_000_000
dots_per_line = 100
lines_per_frame = 80
"""

RED, GREEN, BLUE = (255, 0, 0), (0, 255, 0), (0, 0, 255)


def test_entries_become_the_png_palette():
    image = frame_of([[3, 0], [0, 3]], [[RED, BLUE], [BLUE, RED]]).image()
    assert image.mode == "P"
    assert np.asarray(image).tolist() == [[3, 0], [0, 3]]
    assert image.getpalette()[:12] == [*BLUE, 0, 0, 0, 0, 0, 0, *RED]


def test_an_entry_of_two_colours_makes_it_rgb():
    image = frame_of([[3, 3]], [[RED, BLUE]]).image()
    assert image.mode == "RGB"
    assert np.asarray(image).tolist() == [[list(RED), list(BLUE)]]


@pytest.mark.parametrize(("entry", "mode"), [(255, "P"), (256, "RGB")])
def test_a_png_palette_ends_at_entry_255(entry, mode):
    assert frame_of([[entry]], [[RED]]).image().mode == mode


def test_the_border_has_its_lines_colours():
    colours = np.array([RED, GREEN, BLUE], np.uint8)
    frame = frame_of([[0], [1]], [[RED], [GREEN]], border=(1, 2, 1, 1), border_rgb=colours)
    image = frame.image(border=True)
    assert image.mode == "P"
    assert np.asarray(image)[1:3, 1:2].tolist() == [[0], [1]]
    shown = np.asarray(image.convert("RGB"))
    assert shown.shape == (4, 4, 3)
    assert (shown[:2] == RED).all()
    assert (shown[2] == GREEN).all()
    assert (shown[3] == BLUE).all()


def test_a_border_of_one_colour_too_many_makes_it_rgb():
    """256 entries show, and the border has a colour of none of them."""
    ramp = [[(value, value, 0) for value in range(256)]]
    for colour, mode in (((255, 255, 0), "P"), ((1, 2, 3), "RGB")):
        frame = frame_of([list(range(256))], ramp, border=(1, 1, 0, 0), border_rgb=np.array([colour], np.uint8))
        image = frame.image(border=True)
        assert image.mode == mode
        assert image.convert("RGB").getpixel((0, 0)) == colour
        assert image.convert("RGB").getpixel((256, 0)) == (255, 255, 0)


def test_a_dot_becomes_a_square():
    frame = frame_of([[0, 1]], [[RED, BLUE]])
    assert np.asarray(frame.image(3)).tolist() == [[0, 0, 0, 1, 1, 1]] * 3
    for scale in (0, 17):
        with refused(ValueError, f"scale must be 1 to 16, got {scale}"):
            frame.image(scale)


def test_a_notebook_gets_a_png():
    frame = frame_of([[0, 1]], [[RED, BLUE]])
    with Image.open(io.BytesIO(frame._repr_png_())) as image:
        assert (image.format, image.size) == ("PNG", (2, 1))


def test_a_frame_says_what_it_is_in_a_line():
    assert repr(frame_of([[0, 1]] * 3, [[RED, BLUE]] * 3)) == "<Frame 0: lines 0 to 2 of 2 dots, 3 fetches>"


def test_lines_drawn_one_by_one_join_into_the_same_picture():
    """The border goes with them."""
    chip = vdpsim.parse_chip(CHIP)
    whole = vdpsim.Machine(chip)
    whole.palette[:2], whole.memory[:] = (3, 5), 0x5A
    parts = vdpsim.Machine(chip, whole.state.copy())
    drawn = [parts.lines() for _ in range(chip.frame.lines_per_frame)]
    assert vdpsim.join(drawn).png(border=True) == whole.frame().png(border=True)


def test_views_need_planes():
    with refused(ValueError, "drawn without its planes"):
        vdpsim.views(frame_of([[0]], [[RED]]))


def test_a_source_alone_is_transparent_where_it_shows_nothing():
    """RGBA, so that it can be laid over anything; at each scale alike."""
    plane = vdpsim.Plane(np.zeros((1, 16), int), np.arange(16)[np.newaxis] % 8 == 0, np.full((1, 16, 3), RED, np.uint8))
    frame = frame_of([[0] * 16], [[RED] * 16], planes={"all": plane})
    for scale in (1, 2):
        image = vdpsim.views(frame, scale)["all"]
        with Image.open(io.BytesIO(vdpsim.png_bytes(image))) as written:
            shown = np.asarray(written)
        assert (image.mode, shown.shape) == ("RGBA", (scale, 16 * scale, 4))
        assert shown[0, :: 8 * scale].tolist() == [[*RED, 255]] * 2
        assert (shown[:, scale : 8 * scale] == 0).all()


def test_the_source_map_has_a_legend_for_every_source():
    frame = frame_of([[0] * 64], [[RED] * 64], source=np.array([[0] * 16 + [1] * 48], np.uint8))
    for scale, size in ((2, 1), (3, 2)):
        image = vdpsim.source_map(frame, scale)
        assert image.height == scale + (3 * 14 + 4) * size
        assert image.width == max(64 * scale, (20 + 6 * len("frame 0: who shows")) * size)
        shown = np.asarray(image)
        assert len({tuple(colour) for colour in shown[0, : 64 * scale].tolist()}) == 2
        for number, dot in enumerate((0, 64 * scale - 1)):
            top = scale + (3 + 14 * (number + 1) + 5) * size
            assert shown[top, 8 * size].tolist() == shown[0, dot].tolist()


def test_a_log_has_one_of_two_formats():
    frame = frame_of([[0], [0]], [[RED], [RED]])
    expected = "line,all.dots,total,sprites_found,sprites_drawn,sprites_dropped\n0,1,1,0,0,0\n1,1,1,0,0,0\n"
    assert vdpsim.log_text(frame, ".csv") == expected
    assert '"drops": []' in vdpsim.log_text(frame, ".json")
    with refused(ValueError, r"ends in \.csv or \.json, got '\.txt'"):
        vdpsim.log_text(frame, ".txt")


def test_lines_of_blanking_alone_have_no_picture():
    it = little()
    it.lines(it.chip.frame.height)
    frame = it.frame()
    assert frame.height == 0
    assert frame._repr_png_() is None
    for ask in (frame.image, frame.png):
        with refused(ValueError, "needs a line of the picture at least"):
            ask()
