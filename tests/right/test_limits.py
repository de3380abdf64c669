"""Both sides of each limit of the sprite engine, worked by hand on one line."""

from __future__ import annotations

import pytest

from vdpsim.chip.load import parse_chip
from vdpsim.machine.machine import Machine
from vdpsim.testing import assert_sprite, assert_sprites

CHIP = """
name = "Limits"
ladder = [{ source = "sprites" }]
[frame]
width = 128
height = 64
dot_clock = 1_000_000
dots_per_line = 160
lines_per_frame = 70
[memory]
size = 4096
bytes_per_access = 2
[palette]
entries = 16
bank_size = 16
red = "2:0"
green = "5:3"
blue = "8:6"
[[layers]]
name = "ground"
[[layers.modes]]
name = "bitmap"
kind = "bitmap"
bits_per_dot = 1
width = 128
height = 64
[sprites]
count = 8
table = "chip"
record_bytes = 4
fields = { x = "7:0", y = "15:8", pattern = "19:16", size = "20", group = "22:21", enable = "31" }
sizes = [[8, 8], [16, 16]]
bits_per_dot = 4
transparent = 0
OPTIONS
[collisions]
groups = ["walker", "bird", "water"]
pairs = [["walker", "bird"], ["bird", "bird"]]
hidden_dots = HIDDEN
"""


def row_of(count, options="", hidden="true", apart=12, **fields):
    """``count`` sprites of solid dots side by side on line 10, on a machine whose sprite engine has ``options``."""
    it = Machine(parse_chip(CHIP.replace("OPTIONS", options).replace("HIDDEN", hidden)))
    it.memory[:2048] = 0x11
    for number in range(count):
        sprite = it.sprites[number]
        sprite.x, sprite.y, sprite.enable = number * apart, 10, 1
        for name, value in fields.items():
            setattr(sprite, name, value)
    return it


@pytest.mark.parametrize(("count", "dropped"), [(4, []), (5, [4]), (6, [4, 5])])
def test_the_count_limit_at_n_and_one_more(count, dropped):
    frame = row_of(count, "per_line = 4").frame()
    assert_sprites(frame, "found").on_lines(10, 17).exactly(count)
    assert_sprites(frame, "found").in_the_frame().exactly(8 * count)
    assert_sprites(frame).on_lines(10, 17).exactly(min(count, 4))
    for sprite in dropped:
        assert_sprite(frame, sprite).dropped(lines=(10, 17), reason="count")
    for sprite in {*range(8)} - {*dropped}:
        assert_sprite(frame, sprite).never_dropped()


@pytest.mark.parametrize(
    ("options", "dropped"),
    [
        ('front = "first"\ndropped = "back"', [4, 5]),
        ('front = "first"\ndropped = "front"', [1, 0]),
        ('front = "last"\ndropped = "back"', [1, 0]),
        ('front = "last"\ndropped = "front"', [4, 5]),
    ],
)
def test_which_are_dropped(options, dropped):
    """Six on a line that takes four: the back or the front of the order gives way, in the order of the search."""
    frame = row_of(6, "per_line = 4\n" + options).frame()
    assert [int(d["sprite"]) for d in frame.drops if d["line"] == 10] == dropped


@pytest.mark.parametrize(("limit", "dropped"), [(48, []), (47, [2]), (32, [2]), (31, [1, 2])])
def test_the_dot_limit_at_n_and_one_less(limit, dropped):
    """Three sprites 16 dots wide take 48 dots; one dot less and the third does not fit."""
    frame = row_of(3, f"dots_per_line = {limit}", apart=20, size=1).frame()
    assert [(int(d["sprite"]), str(d["reason"])) for d in frame.drops if d["line"] == 10] == [
        (n, "dots") for n in dropped
    ]


def test_the_count_is_the_reason_where_both_limits_are_passed():
    frame = row_of(3, "per_line = 2\ndots_per_line = 24", apart=20, size=1).frame()
    reasons = [(int(d["sprite"]), str(d["reason"])) for d in frame.drops if d["line"] == 10]
    assert reasons == [(1, "dots"), (2, "count")]


@pytest.mark.parametrize(("apart", "dots"), [(8, None), (7, 7)])
def test_sprites_collide_from_the_first_shared_dot(apart, dots):
    """Two 8 dots wide: side by side at 8 they share none, at 7 they share dot 7, on each of their 8 lines."""
    frame = row_of(2, apart=apart, group=1).frame()
    told = [tuple(c) for c in frame.collisions.tolist()]
    assert told == ([] if dots is None else [(line, 0, 1, dots) for line in range(10, 18)])
    assert frame.collision_flags == (0 if dots is None else 0b010)


@pytest.mark.parametrize(("first", "second", "flags"), [(0, 0, 0), (0, 1, 0b011), (1, 1, 0b010), (1, 2, 0), (3, 1, 0)])
def test_only_the_pairs_that_are_set_collide(first, second, flags):
    """walker meets bird, bird meets bird; members of walker do not see each other, and group 3 has no name."""
    it = row_of(2, apart=4)
    it.sprites[0].group, it.sprites[1].group = first, second
    assert it.frame().collision_flags == flags
    assert it.collision_flags == flags


@pytest.mark.parametrize(("hidden", "collides"), [("true", True), ("false", False)])
def test_dots_that_a_layer_covers_count_only_where_the_chip_says_so(hidden, collides):
    text = CHIP.replace('[{ source = "sprites" }]', '[{ source = "ground" }, { source = "sprites" }]')
    it = Machine(parse_chip(text.replace("OPTIONS", "").replace("HIDDEN", hidden)))
    it.memory[:2048] = 0x11
    for number in (0, 1):
        sprite = it.sprites[number]
        sprite.x, sprite.y, sprite.enable, sprite.group = 4 * number, 10, 1, 1
    assert bool(it.frame().collision_flags) is collides


def test_flags_stay_until_they_are_cleared():
    it = row_of(2, apart=4, group=1)
    it.frame()
    it.sprites[0].enable = 0
    assert it.frame().collision_flags == 0
    assert it.collision_flags == 0b010
    it.collision_flags = 0
    it.frame()
    assert it.collision_flags == 0
