"""Are flashes counted as WCAG 2.3.1 defines them? Both sides of each threshold, with published and derived values.

The definition: w3c/wcag, guidelines/terms/20/general-flash-and-red-flash-thresholds.html. Luminances of greys, the u'v' of the
primaries and the area of a quarter of the field follow from it by arithmetic: 341 x 256 / 4 = 21,824 dots.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from refusal import refused

import vdpsim
from vdpsim.output.flashes import KINDS, Watcher
from vdpsim.output.flashing.changes import chromaticity, linear, luminance, saturated_red

RED, WHITE, BLACK, GREEN = (255, 0, 0), (255, 255, 255), (0, 0, 0), (0, 255, 0)


def flat(colour, size=(90, 90)):
    """A picture of one colour."""
    return np.full((*size, 3), colour, np.uint8)


def blinking(one, other, count, size=(90, 90)):
    """``count`` pictures, the one and the other in turns."""
    return [flat(other if number % 2 else one, size) for number in range(count)]


def kinds(found):
    """Which kinds come too often."""
    return [kind for kind in KINDS if found.too_many[kind]]


@pytest.mark.parametrize(
    ("code", "value"),
    [(89, 0.0998987), (90, 0.1022417), (231, 0.7991027), (119, 0.184475), (255, 1.0), (0, 0.0)],
)
def test_luminance_of_greys(code, value):
    """WCAG 2.x relative luminance; sRGB's curve is IEC 61966-2-1. Grey 119 from its contrast with white, 4.4781."""
    assert luminance(linear(flat(code, (1, 1))))[0, 0] == pytest.approx(value, abs=5e-6)


@pytest.mark.parametrize(
    ("colour", "at"),
    [
        (WHITE, (0.197840, 0.468336)),
        (RED, (0.450704, 0.522887)),
        (GREEN, (0.125000, 0.562500)),
        ((0, 0, 255), (0.175439, 0.157895)),
        (BLACK, (0.197840, 0.468336)),
    ],
)
def test_chromaticity_of_the_primaries(colour, at):
    """u'v' of sRGB's primaries by CIE 1976 UCS, to what four digits of the matrix give; black counts as white."""
    assert chromaticity(linear(flat(colour, (1, 1))))[0, 0] == pytest.approx(at, abs=1e-4)


@pytest.mark.parametrize(
    ("one", "other", "found"),
    [
        ((0, 0, 0), (89, 89, 89), []),  # 9.99 % of luminance
        ((0, 0, 0), (90, 90, 90), ["general"]),  # 10.2 %
        ((231, 231, 231), (255, 255, 255), ["general"]),  # the darker one is at 0.799
        ((232, 232, 232), (255, 255, 255), []),  # at 0.806
        ((200, 200, 200), (209, 209, 209), []),  # near each other
        (RED, WHITE, ["general", "red"]),  # 0.2587 apart in u'v'
        (RED, (188, 0, 0), ["general"]),  # another luminance, the same chromaticity
        (RED, (0, 140, 0), ["red"]),  # luminances 0.2126 and 0.190: only the colour changes
        ((0, 60, 255), (0, 140, 0), []),  # far from each other, but neither is a red
    ],
)
def test_which_changes_count(one, other, found):
    """Ten changes a second: five flashes, if they are any."""
    assert kinds(vdpsim.flashes(blinking(one, other, 20), 10)) == found


@pytest.mark.parametrize(
    ("red", "saturated"), [((1.0, 0.2, 0.05), True), ((1.0, 0.2, 0.051), False), ((0, 0, 0), False)]
)
def test_saturated_is_four_fifths_of_red(red, saturated):
    assert bool(saturated_red(np.array([red], np.float64))[0]) == saturated


@pytest.mark.parametrize(("changes", "too_many"), [(6, ()), (7, ()), (8, (8,)), (9, (8,)), (10, (8, 10))])
def test_the_fourth_flash_within_a_second_is_too_many(changes, too_many):
    """Twenty pictures a second, with so many changes at the start: two are a flash, and the fourth flash ends on frame 8."""
    pictures = blinking(BLACK, WHITE, changes + 1)
    found = vdpsim.flashes([*pictures, *[pictures[-1]] * 40], 20)
    assert found.too_many["general"] == too_many
    assert found.passes == (not too_many)


@pytest.mark.parametrize(("rate", "passes"), [(Fraction(69, 10), True), (7, False)])
def test_a_second_has_both_its_ends(rate, passes):
    """Eight changes are seven frames' time apart: at 7 pictures a second just one second, at 6.9 more."""
    assert vdpsim.flashes(blinking(BLACK, WHITE, 40), rate).passes == passes


@pytest.mark.unmeasured
@pytest.mark.parametrize(("dots", "passes"), [(21_824, True), (21_825, False)])
def test_a_quarter_of_the_field_is_allowed(dots, passes):
    """1024 x 768 dots have a field of 341 x 256; a quarter of it is 21,824 dots, here from the field's upper left on."""
    pictures = []
    for number in range(10):
        picture = flat(BLACK, (768, 1024))
        whole, rest = divmod(dots, 341)
        if number % 2:
            picture[:whole, :341] = 255
            picture[whole, :rest] = 255
        pictures.append(picture)
    found = vdpsim.flashes(pictures, 10)
    assert found.passes == passes
    if not passes:
        assert found.where["general"] == (0, 0, 341, 256)


def test_dots_that_flash_apart_do_not_add_up():
    """A quarter of the picture at either end: the two are never in one field of a third."""
    pictures = [flat(BLACK, (90, 270)) for _ in range(20)]
    for picture in pictures[1::2]:
        picture[:10, :40] = picture[-10:, -40:] = 255
    assert vdpsim.flashes(pictures, 10).passes


def test_flashes_of_several_places_add_up_in_time():
    """Two flashes on the left and then two on the right within a second are four, though no dot has four."""
    pictures = [flat(BLACK) for _ in range(30)]
    for number in (1, 3):
        pictures[number][:, :40] = 255
    for number in (5, 7):
        pictures[number][:, 50:] = 255
    assert vdpsim.flashes(pictures, 20).too_many["general"] == (8,)
    assert vdpsim.flashes(pictures[:7], 20).passes


def test_slow_changes_are_taken_together():
    """Steps of 4 % of luminance: the way from the darkest to the brightest counts. A flicker of less than 10 % does not."""
    steps = np.searchsorted(
        luminance(linear(np.arange(256, dtype=np.uint8)[:, None].repeat(3, 1))), np.arange(0, 0.5, 0.04)
    )
    wave = [*steps, *steps[::-1]] * 5
    assert not vdpsim.flashes([flat(int(code)) for code in wave], 100).passes
    near = [flat(128 + 6 * (number % 2)) for number in range(40)]
    assert vdpsim.flashes(near, 20).passes


def test_what_shows_over_and_over_is_looked_at_over_and_over():
    """One flash in seven frames at 28 a second: once it is nothing, over and over it comes four times a second."""
    pictures = [flat(WHITE if number == 3 else BLACK) for number in range(7)]
    assert vdpsim.flashes(pictures, 28).passes
    assert vdpsim.flashes(pictures, 28, again=True).too_many["general"][0] == 3 * 7 + 4


def test_what_is_told():
    """The frames, the place and the standard's numbers; never that a picture is safe."""
    told = vdpsim.flashes(blinking(BLACK, WHITE, 12), 20).told()
    assert (
        told == "more than 3 general flashes within a second on frames 8, 10 of the 12, counted from 0; "
        "first at dots 0 to 29 of lines 0 to 29"
    )
    several = [*blinking(BLACK, WHITE, 12), *[flat(BLACK, (90, 90))] * 60, *blinking(WHITE, BLACK, 11)]
    assert "frames 8, 10, 12, 79, 81 of" in vdpsim.flashes(several, 20).told()
    quiet = vdpsim.flashes([flat(0)], 50).told()
    assert quiet == "no more than 3 flashes within a second by the numbers of WCAG 2.3.1"


def test_frames_that_are_named_are_in_the_animation():
    """Frame 25 of seven is frame 4 again; of many so many are named; a scene's own numbers stand beside the file's."""
    pictures = [flat(WHITE if number == 3 else BLACK) for number in range(7)]
    assert (
        " when it begins again on frames 4 of the 7, counted from 0; first"
        in vdpsim.flashes(pictures, 28, again=True).told()
    )
    short = vdpsim.flashes(blinking(BLACK, WHITE, 10), 20, again=True)
    assert max(short.too_many["general"]) >= 10
    assert (
        " on frames 8 of the 10, counted from 0, when it begins again on frames 0, 2, 4, 6 too; first" in short.told()
    )
    assert (
        "frames 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30 and 4 more of the 40"
        in vdpsim.flashes(blinking(BLACK, WHITE, 40), 20).told()
    )
    for numbers, words in (
        (range(30, 42), " (the scene's 38, 40); first"),
        (range(12), "; first"),
        ([number // 2 for number in range(12)], " (the scene's 4 to 5); first"),
    ):
        watcher = Watcher(20)
        for picture, number in zip(blinking(BLACK, WHITE, 12), numbers, strict=True):
            watcher.look(picture, number)
        assert f"on frames 8, 10 of the 12, counted from 0{words}" in watcher.found().told()


def test_what_cannot_be_looked_at():
    with refused(ValueError, "needs a picture at least, got none"):
        vdpsim.flashes([], 50)
    with refused(ValueError, "one size, got 90x90 and 64x90"):
        vdpsim.flashes([flat(0), flat(0, (90, 64))], 50)
    with refused(ValueError, "rate must be above 0, got 0"):
        vdpsim.flashes([flat(0)], 0)


@pytest.mark.parametrize(("rate", "unseen"), [(249, 0), (250, 2), (1_000_000, 1_999_502)])
def test_a_second_of_too_many_frames_is_not_said_to_be_checked(rate, unseen):
    """Two seconds and two frames of the return are looked at, 2 x 249 + 2 = 500 at most; a single picture never changes."""
    dark, darker = np.zeros((6, 6, 3), np.uint8), np.ones((6, 6, 3), np.uint8)
    found = vdpsim.flashes([dark, darker], rate, again=True)
    assert (found.unseen, found.passes) == (unseen, not unseen)
    assert ("not checked to the end" in found.told()) == bool(unseen)
    assert vdpsim.flashes([dark], rate, again=True).passes
    assert vdpsim.flashes([dark, darker], rate).passes
