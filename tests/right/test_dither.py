"""Does dithering show what it says? Against a second account, dot by dot; mixes by hand; error stays in its bank."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused

from vdpsim.art.colours.choose_points import points
from vdpsim.art.colours.dither import _thresholds, _widest_step, dither

BLACK_WHITE = [np.array([[0, 0, 0], [255, 255, 255]], np.uint8)]
SHARES = (
    (0, 1, 7),
    (1, -1, 3),
    (1, 0, 5),
    (1, 1, 1),
)  # down, right, sixteenths: Floyd and Steinberg, 1976 (from memory)


def flat(level, height=32, width=32):
    return np.full((height, width, 3), level, np.uint8)


def whole(kind, picture, colours=BLACK_WHITE):
    return dither(picture, np.ones(picture.shape[:2], bool), np.zeros(picture.shape[:2], int), colours, kind)


def diffused_dot_by_dot(rgb, opaque, banks, colours):
    """Diffusion once more, in reading order and one dot at a time."""
    height, width = opaque.shape
    carried = np.zeros((height, width, 3), int)
    values = np.full((height, width), -1)
    most = [_widest_step(each) * 8 for each in colours]
    for y in range(height):
        for x in range(width):
            if not opaque[y, x]:
                continue
            bank = banks[y, x]
            wanted = [
                min(max(int(part) * 16 + int(more), 0), 4080)
                for part, more in zip(rgb[y, x], carried[y, x], strict=True)
            ]
            losses = [
                sum((16 * int(c) - w) ** 2 for c, w in zip(colour, wanted, strict=True)) for colour in colours[bank]
            ]
            values[y, x] = losses.index(min(losses))
            shown = colours[bank][values[y, x]]
            for part in range(3):
                missed = wanted[part] - 16 * int(shown[part])
                missed = min(max(missed, -int(most[bank][part])), int(most[bank][part]))
                for down, right, sixteenths in SHARES:
                    to_y, to_x = y + down, x + right
                    inside = 0 <= to_x < width and to_y < height
                    if inside and opaque[to_y, to_x] and banks[to_y, to_x] == bank:
                        carried[to_y, to_x, part] += (missed * sixteenths + 8) // 16
    return values


@st.composite
def pictures(draw):
    height, width = draw(st.integers(1, 9)), draw(st.integers(1, 11))
    chance = np.random.default_rng(draw(st.integers(0, 1 << 30)))
    count = draw(st.integers(1, 3))
    colours = [chance.integers(0, 256, (draw(st.integers(1, 6)), 3), dtype=np.uint8) for _ in range(count)]
    rgb = chance.integers(0, 256, (height, width, 3), dtype=np.uint8)
    return rgb, chance.random((height, width)) < 0.9, chance.integers(count, size=(height, width)), colours


@given(pictures())
@settings(max_examples=60, deadline=None)
def test_diffusion_along_slants_is_diffusion_dot_by_dot(picture):
    rgb, opaque, banks, colours = picture
    assert (dither(rgb, opaque, banks, colours, "diffusion") == diffused_dot_by_dot(*picture)).all()


@given(pictures())
@settings(max_examples=60, deadline=None)
def test_plain_takes_the_nearest_of_the_dots_own_bank(picture):
    rgb, opaque, banks, colours = picture
    values = dither(rgb, opaque, banks, colours)
    assert ((values == -1) == ~opaque).all()
    for y, x in np.argwhere(opaque):
        apart = ((points(rgb[y, x]) - points(colours[banks[y, x]])) ** 2).sum(axis=1)
        assert values[y, x] == apart.argmin()


@given(pictures())
@settings(max_examples=60, deadline=None)
def test_ordered_stays_in_the_dots_own_bank_and_repeats_every_eight_dots(picture):
    rgb, opaque, banks, colours = picture
    values = dither(rgb, opaque, banks, colours, "ordered")
    assert ((values == -1) == ~opaque).all()
    sizes = np.array([len(each) for each in colours])
    assert (values < sizes[banks]).all()
    wide = [np.pad(each, [(0, 8), (0, 8)] + [(0, 0)] * (each.ndim - 2)) for each in (rgb, opaque, banks)]
    dots, solid, homes = (np.roll(each, (8, 8), (0, 1)) for each in wide)
    assert (dither(dots, solid, homes, colours, "ordered")[8:, 8:] == values).all()


def test_thresholds_are_each_number_once_and_spread_out():
    square = _thresholds()
    assert sorted(square.ravel().tolist()) == list(range(64))
    assert square[:2, :2].tolist() == [
        [0, 32],
        [48, 16],
    ]  # the order of Bayer, 1973 (from memory): a quarter in each quadrant


@pytest.mark.parametrize("kind", ["ordered", "diffusion"])
@pytest.mark.parametrize("level", [40, 100, 128, 155, 215])
def test_black_and_white_mix_to_the_grey_that_was_asked(kind, level):
    shown = whole(kind, flat(level)).mean() * 255
    # Ordered mixes in OKLab as well as in sRGB, so that its greys are a little lighter or darker than the channel's mean.
    assert shown == pytest.approx(level, abs=16 if kind == "ordered" else 6)


def test_ordered_mixes_grow_with_the_shade_and_never_break_their_pattern():
    before = np.zeros((8, 8), int)
    for level in range(256):
        now = whole("ordered", flat(level, 8, 8))
        assert (now >= before).all(), level  # a dot that is white stays white as the shade gets lighter
        before = now
    assert before.all()


def test_what_a_bank_shows_well_is_not_mixed():
    colours = [np.array([[0, 0, 0], [96, 96, 96], [104, 104, 104], [255, 255, 255]], np.uint8)]
    assert set(whole("ordered", flat(100), colours).ravel().tolist()) == {1, 2}
    for kind in ("ordered", "diffusion"):
        assert (whole(kind, flat(96), colours) == 1).all()


def test_error_stays_among_the_dots_of_its_bank():
    # Left, a bank of black alone misses everything; right, grey is shown as it is.
    colours = [np.array([[0, 0, 0]], np.uint8), np.array([[0, 0, 0], [128, 128, 128], [255, 255, 255]], np.uint8)]
    banks = np.zeros((16, 16), int)
    banks[:, 8:] = 1
    values = dither(flat(128, 16, 16), np.ones((16, 16), bool), banks, colours, "diffusion")
    assert (values[:, 8:] == 1).all()


def test_transparent_dots_take_no_error_and_hand_none_on():
    picture, opaque = flat(128, 8, 8), np.ones((8, 8), bool)
    opaque[:, 3] = False
    values = dither(picture, opaque, np.zeros((8, 8), int), BLACK_WHITE, "diffusion")
    assert (values[:, 3] == -1).all()
    assert (values[:, 4:] == whole("diffusion", picture[:, 4:])).all()


def test_a_shade_that_no_mix_reaches_does_not_flare_up():
    # A teal between dark greens and one orange: without a bound, error gathers until orange dots show.
    colours = [np.array([[0, 40, 40], [0, 60, 60], [0, 80, 80], [10, 60, 80], [220, 150, 90]], np.uint8)]
    picture = np.empty((40, 40, 3), np.uint8)
    picture[:] = (0, 120, 70)
    assert 4 not in whole("diffusion", picture, colours)


def test_the_widest_step_by_hand():
    colours = np.array([[0, 0, 0], [10, 0, 0], [10, 30, 0], [200, 30, 5]], np.uint8)
    assert _widest_step(colours).tolist() == [190, 30, 5]
    assert _widest_step(colours[:1]).tolist() == [0, 0, 0]
    assert _widest_step(colours[:0]).tolist() == [0, 0, 0]


def test_pictures_without_an_opaque_dot_have_no_values():
    for kind in ("none", "ordered", "diffusion"):
        assert (dither(flat(9, 2, 3), np.zeros((2, 3), bool), np.zeros((2, 3), int), [], kind) == -1).all()


def test_wrong_arguments_are_refused():
    picture, opaque, banks = flat(1, 2, 2), np.ones((2, 2), bool), np.zeros((2, 2), int)
    with refused(ValueError, "dither takes none, ordered, diffusion, got 'much'"):
        dither(picture, opaque, banks, BLACK_WHITE, "much")
    with refused(ValueError, r"got \(2, 2, 3\), \(2, 2\) and \(2, 3\)"):
        dither(picture, opaque, np.zeros((2, 3), int), BLACK_WHITE)
    with refused(ValueError, "of 1 banks it got number 1"):
        dither(picture, opaque, banks + 1, BLACK_WHITE)
    with refused(ValueError, "of 1 banks it got number 0"):
        dither(picture, opaque, banks, [np.zeros((0, 3), np.uint8)])
