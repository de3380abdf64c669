"""A mode that scrolls on one axis, or on none: which controls there are, which dots show, and what a budget has to allow for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from paper import BITMAP, TEXT, TILES, both, holding, small_chip

from vdpsim.budgets.budget import budget
from vdpsim.chip.controls import controls
from vdpsim.chip.model import Chip

Json = dict[str, Any]

AXES = {"both": "xy", "x": "x", "y": "y", "none": "", True: "xy", False: ""}

PICTURE = {row * 16 + place: bytes([(7 * row + 3 * place) % 256]) for row in range(16) for place in range(16)}
"""A bitmap of 64 x 16 dots of 2 bits, no row or column of which is like another near it."""


def scrolls_of(chip: Chip) -> set[str]:
    """The scroll controls of a chip."""
    return {name for name in controls(chip) if ".scroll_" in name}


@pytest.mark.parametrize("mode", [TILES, BITMAP], ids=["tiles", "bitmap"])
@pytest.mark.parametrize(("said", "axes"), AXES.items())
def test_a_control_for_each_axis_that_scrolls(said, axes, mode):
    chip = small_chip({**mode, "scroll": said})
    assert scrolls_of(chip) == {f"a.scroll_{axis}" for axis in axes}
    extent = {"x": 127, "y": 63} if mode is TILES else {"x": 63, "y": 15}
    assert {name: controls(chip)[name].top for name in scrolls_of(chip)} == {
        f"a.scroll_{axis}": extent[axis] for axis in axes
    }


def test_left_out_is_both_and_text_never_scrolls():
    assert scrolls_of(small_chip(BITMAP)) == {"a.scroll_x", "a.scroll_y"}
    assert scrolls_of(small_chip(TEXT)) == set()


def test_a_control_reaches_as_far_as_the_largest_mode_that_scrolls_on_its_axis():
    """Tiles of 128 x 64 dots that scroll down, a bitmap of 64 x 16 that scrolls across: x to 63, y to 63."""
    modes = [{**TILES, "scroll": "y"}, {**BITMAP, "scroll": "x"}]
    chip = small_chip(layers=[{"name": "a", "modes": modes}], ladder=[{"source": "a"}])
    assert {name: controls(chip)[name].top for name in scrolls_of(chip)} == {"a.scroll_x": 63, "a.scroll_y": 63}


def picture(chip: Chip, **values: int) -> np.ndarray[Any, Any]:
    """The frame's entries by engine and twin, which agree."""
    return np.array(both(holding(chip, PICTURE, **values)).indices)


def test_each_axis_alone_moves_the_picture_along_itself_and_the_other_stands_still():
    modes = [{**BITMAP, "name": name, "scroll": name} for name in ("both", "x", "y", "none")]
    chip = small_chip(layers=[{"name": "a", "modes": modes}], ladder=[{"source": "a"}])
    plain = picture(chip)
    for mode, (across, down) in enumerate([(5, 3), (5, 0), (0, 3), (0, 0)]):
        seen = picture(chip, a__mode=mode, a__scroll_x=5, a__scroll_y=3)
        assert (seen == np.roll(plain, (-down, -across), axis=(0, 1))).all()


@pytest.mark.parametrize(("said", "groups"), [("both", 9), ("x", 9), ("y", 8), ("none", 8), (True, 9), (False, 8)])
def test_a_line_touches_one_tile_more_only_where_it_scrolls_across(said, groups):
    """64 dots are 8 tiles of 8, or 9 where the first shows in part: cells and patterns of one access each, twice as many."""
    clients = {name: {"when": "line before"} for name in ("a.cells", "a.pattern")}
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
    chip = small_chip({**TILES, "scroll": said}, memory=memory, time={"clients": clients})
    found = budget(chip)
    assert found.lines is not None
    assert found.lines.fullest.used == 2 * groups
