"""Who collides, where very many do: pairs against a plain count of shared dots, both sides of the list's bound, and its cost."""

from __future__ import annotations

import base64
import json
import sys
import tracemalloc
import zlib
from itertools import combinations

import numpy as np
import pytest
from agreement import result_differences, state_differences
from refusal import refused

import vdpsim
from vdpsim.chip.load import parse_chip
from vdpsim.cli import main
from vdpsim.door.telling import telling
from vdpsim.engine import frame as frames
from vdpsim.engine import plan as plans
from vdpsim.engine.sprites import collisions as room
from vdpsim.report.facts import facts
from vdpsim.report.told.frame import MOST_COLLISIONS as MOST_TOLD
from vdpsim.report.told.frame import frame_told

CHIP = """
name = "Crowd"
ladder = [{ source = "sprites" }, { source = "ground" }]
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
count = COUNT
table = "chip"
record_bytes = 8
fields = { x = "7:0", y = "15:8", pattern = "23:16", enable = "24", group = "GROUP" }
sizes = [[SIZE, SIZE]]
bits_per_dot = 4
transparent = 0
pattern_bytes = 32
[collisions]
groups = ["walker", "bird", "water"]
pairs = [["walker", "walker"], ["walker", "bird"]]
[status]
address = 0x200
collision = 5
cleared = "read"
groups = 0x201
"""
drawing, joining = sys.modules["vdpsim.engine.draw"], sys.modules["vdpsim.engine.join"]
WALKER, BIRD, WATER = range(3)


def crowd(count, size=64, group="26:25"):
    """A machine with ``count`` solid sprites on one spot, all walkers."""
    text = CHIP.replace("COUNT", str(count)).replace("GROUP", group).replace("SIZE", str(size))
    it = vdpsim.Machine(parse_chip(text))
    it.memory[:] = 0x11
    for sprite in it.sprites:
        sprite.x, sprite.enable = 20, 1
    return it


def holed(seed, count=24, size=16):
    """A machine with sprites full of holes, close together, of all groups."""
    it, chance = crowd(count, size), np.random.default_rng(seed)
    it.memory[:] = chance.choice(np.array([0, 0, 0x01, 0x10], np.uint8), 4096)
    for sprite in it.sprites:
        for name, most in (("x", 30), ("y", 12), ("pattern", 120), ("group", 4)):
            setattr(sprite, name, int(chance.integers(most)))
    return it


def counted(it, size=16):
    """The pairs of ``holed`` that share an opaque dot, each with the leftmost on a line, from memory and table alone."""
    dots = {}
    for number, sprite in enumerate(it.sprites):
        for y in range(size):
            begin = sprite.pattern * 32 + y * size // 2
            row = it.memory[begin : begin + size // 2].tolist()
            values = [half for byte in row for half in (byte >> 4, byte & 15)]
            dots[number, sprite.y + y] = {sprite.x + x for x, value in enumerate(values) if value}
    meet = ({WALKER}, {WALKER, BIRD})
    found = []
    for line in range(64):
        for one, other in combinations(range(len(it.sprites)), 2):
            shared = dots.get((one, line), set()) & dots.get((other, line), set())
            if shared and {it.sprites[one].group, it.sprites[other].group} in meet:
                found.append((line, one, other, min(shared)))
    return found


@pytest.mark.parametrize("way", ["few", "many", "many, a line at a time"])
@pytest.mark.parametrize("seed", range(6))
def test_all_pairs_are_found_with_their_leftmost_dots(monkeypatch, way, seed):
    """By either way of the engine, and however many lines it takes together."""
    it = holed(seed)
    expected = counted(it)
    assert expected
    if way != "few":
        monkeypatch.setattr(room, "FEW", 0)
    if way.endswith("time"):
        monkeypatch.setattr(room, "MOST_WORDS", 1)
    frame = it.frame()
    assert frame.collisions.tolist() == expected
    assert frame.collisions_left_out == 0
    groups = [1 << it.sprites[one].group | 1 << it.sprites[other].group for _, one, other, _ in expected]
    assert frame.collision_groups.tolist() == groups
    assert frame.collision_flags == it.collision_flags == np.bitwise_or.reduce(groups)
    leftmost = {}
    for line, _, _, dot in expected:
        leftmost[line] = min(dot, leftmost.get(line, dot))
    assert [one for one in frame.raised.tolist() if one[2] == "collision"] == [
        (line, dot, "collision") for line, dot in leftmost.items()
    ]


def test_where_few_end_and_many_begin(monkeypatch):
    """Two sprites of 16 x 16 dots share 256: so many are gone through one by one, one more not, and both tell the same."""
    told = []
    for most in (256, 255):
        monkeypatch.setattr(room, "FEW", most)
        told.append(crowd(2, 16).frame())
    assert told[0].collisions.tolist() == told[1].collisions.tolist() == [(line, 0, 1, 20) for line in range(16)]
    assert result_differences(*told) == []


@pytest.mark.parametrize("count", [63, 64, 65, 128, 129])
def test_a_line_may_have_more_sprites_than_a_word_has_bits(count):
    frame = crowd(count).lines(1)
    assert frame.collisions.tolist() == [(0, *pair, 20) for pair in combinations(range(count), 2)]


def most_listed(monkeypatch, most):
    for module in (frames, drawing, joining):
        monkeypatch.setattr(module, "MOST_COLLISIONS", most)


@pytest.mark.parametrize("few", [0, 1 << 20])
@pytest.mark.parametrize(("most", "left_out"), [(161, 0), (160, 0), (159, 1), (151, 9), (1, 159)])
def test_both_sides_of_the_bound(monkeypatch, few, most, left_out):
    """Five solid sprites on 16 lines are 160 pairs. Beyond the bound the list ends; flags and states are the same."""
    monkeypatch.setattr(room, "FEW", few)
    it, whole = crowd(5, 16), crowd(5, 16)
    for one in (it, whole):
        one.sprites[4].group = BIRD  # no pair of birds is listed where the list is short
    everything = whole.frame()
    assert len(everything.collisions) == 160
    most_listed(monkeypatch, most)
    frame = it.frame()
    assert frame.collisions.tolist() == everything.collisions.tolist()[:most]
    assert frame.collision_groups.tolist() == everything.collision_groups.tolist()[:most]
    assert (len(frame.collisions) + left_out, frame.collisions_left_out) == (160, left_out)
    assert frame.collision_flags == everything.collision_flags == 0b11
    assert frame.raised.tolist() == everything.raised.tolist()
    assert state_differences(it.state, whole.state) == []


@pytest.mark.parametrize("seed", range(3))
def test_the_list_may_be_full_before_all_lines_are_gone_through(monkeypatch, seed):
    """A line at a time: once half of the pairs are listed none is, but how many there are, and all flags, are told."""
    monkeypatch.setattr(room, "FEW", 0)
    monkeypatch.setattr(room, "MOST_WORDS", 1)
    whole, it = holed(seed), holed(seed)
    everything, expected = whole.frame(), counted(it)
    most = len(expected) // 2
    most_listed(monkeypatch, most)
    frame = it.frame()
    assert frame.collisions.tolist() == expected[:most]
    assert frame.collisions_left_out == len(expected) - most
    assert frame.collision_flags == everything.collision_flags
    assert frame.raised.tolist() == everything.raised.tolist()
    assert state_differences(it.state, whole.state) == []


@pytest.mark.parametrize("cuts", [(1,) * 70, (3, 8, 59), (16, 54), (70,)])
def test_slices_join_to_what_the_frame_lists(monkeypatch, cuts):
    """However the lines are cut: ten pairs a line on 16 lines, of which 25 are listed; a line alone lists all its own."""
    most_listed(monkeypatch, 25)
    whole, it = crowd(5, 16).frame(), crowd(5, 16)
    parts = [it.lines(count) for count in cuts]
    assert result_differences(vdpsim.join(parts), whole) == []
    assert vdpsim.join(parts).collisions_left_out == whole.collisions_left_out == 135
    if cuts[0] == 1:
        assert [part.collisions_left_out for part in parts] == [0] * 70


@pytest.mark.parametrize("most", [1, 3 * 80, 15 * 80, 16 * 80, 70 * 80])
def test_a_frame_of_very_many_sprite_dots_is_drawn_in_cuts(monkeypatch, most):
    """Five sprites of 16 dots are 80 a line. However few dots are held at once, the frame and what it leaves are the same."""
    most_listed(monkeypatch, 25)
    it, whole = crowd(5, 16), crowd(5, 16)
    expected = whole.frame(planes=True)
    monkeypatch.setattr(plans, "MOST_DOTS", most)
    it = vdpsim.Machine(it.chip, it.state)
    assert it.plan.lines_at_once == max(1, most // 80)
    cuts, one_pass = [], drawing._drawn

    def counted(*args, **more):
        cuts.append(args[3])
        return one_pass(*args, **more)

    monkeypatch.setattr(drawing, "_drawn", counted)
    frame = it.frame(planes=True)
    assert len(cuts) == -(-70 // max(1, most // 80))
    assert result_differences(frame, expected) == []
    assert frame.collisions_left_out == expected.collisions_left_out == 135
    assert state_differences(it.state, whole.state) == []
    for name, plane in expected.planes.items():
        assert np.array_equal(frame.planes[name].entry, plane.entry)
        assert np.array_equal(frame.planes[name].standing.rung, plane.standing.rung)


def test_lines_that_are_drawn_in_cuts_are_told_before(monkeypatch):
    """Five sprites of 16 dots are 80 dots a line: with 1,600 at once a frame of 64 lines has cuts of 20 lines."""
    told = []
    it = crowd(5, 16)
    with telling(lambda *_: None, lambda *words: told.append(words)):
        it.frame()
        monkeypatch.setattr(plans, "MOST_DOTS", 20 * 80)
        vdpsim.Machine(it.chip, it.state).frame()
    assert told[:4] == [(1, 0, told[0][2]), (1, 20, told[0][2]), (1, 40, told[0][2]), (1, 60, told[0][2])]


def test_a_rule_sees_the_frame_whole(monkeypatch):
    monkeypatch.setattr(plans, "MOST_DOTS", 1)
    seen = []

    def rule(sources):
        seen.append(sources.entry[0].shape)
        return sources.winner

    crowd(5, 16).frame(rule=rule)
    assert seen == [(64, 128)]


TIME = """
[time]
cpu = { active = "free" }
[time.clients]
"ground.bitmap" = { when = "in time", lead = 8 }
sprites = { when = "line before" }
"""


def test_a_frame_that_is_late_is_refused_as_it_stood_though_drawn_in_cuts(monkeypatch):
    """The words are those of the frame as a whole, and neither memory nor line nor flags are other than before."""
    slow = CHIP.replace("bytes_per_access = 2", 'bytes_per_access = 1\naccesses_per_dot = "1/32"') + TIME
    chip = parse_chip(slow.replace("COUNT", "5").replace("SIZE", "16").replace("GROUP", "26:25"))
    told = []
    for most in (1 << 22, 1, 17 * 80):
        monkeypatch.setattr(plans, "MOST_DOTS", most)
        it = vdpsim.Machine(chip)
        it.memory[:] = 0x11
        before, memory = it.state.copy(), it.memory
        with refused(
            vdpsim.NotInTimeError, r"^Crowd does not fit: on line 0 .* are missed on 64 lines in all "
        ) as error:
            it.frame([vdpsim.MemoryWrite(30, 100, b"\x22")])
        told.append(str(error.value))
        assert state_differences(it.state, before) == []
        assert it.memory is memory
        assert it.frame(damage=True).missed.sum() > 0
    assert len(set(told)) == 1


def test_what_the_cpu_clears_is_raised_again_by_pairs_that_are_not_listed(monkeypatch):
    """Groups are cleared by a write amid the lines; the walkers below, beyond the list's end, raise theirs again."""
    clear = CHIP.replace('cleared = "read"', 'cleared = "write"').replace("COUNT", "4").replace("SIZE", "16")
    most_listed(monkeypatch, 1)
    it = vdpsim.Machine(parse_chip(clear.replace("GROUP", "26:25")))
    it.memory[:] = 0x11
    for number, sprite in enumerate(it.sprites):
        sprite.x, sprite.y, sprite.enable = 20, 30 * (number // 2), 1
    it.sprites[1].group = BIRD
    frame = it.frame([vdpsim.PortWrite(20, 0x201, 0b11)])
    assert frame.collisions.tolist() == [(0, 0, 1, 20)]
    assert (frame.collision_flags, it.collision_flags) == (0b11, 0b01)


def test_the_fullest_line_is_listed_whole():
    """1,024 sprites on one line are 523,776 pairs, which the bound lets through; a second line is told by its number."""
    assert frames.MOST_COLLISIONS >= 1024 * 1023 // 2
    frame = crowd(1024).lines(1)
    assert (len(frame.collisions), frame.collisions_left_out) == (523_776, 0)
    assert frame.collisions[[0, -1]].tolist() == [(0, 0, 1, 20), (0, 1022, 1023, 20)]


def test_a_crowd_takes_little_memory():
    """64 sprites of 64 x 64 dots on one spot: 2,016 pairs on each of 64 lines, for which 8 million pairs of dots are not kept."""
    it = crowd(64)
    tracemalloc.start()
    frame = it.frame()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(frame.collisions) == 64 * 2016
    assert peak < 64 << 20


def test_a_group_without_a_name_never_collides_however_wide_its_field():
    """A field of 32 bits: number 0 has a name and is set to collide, number 3 is the first without, and the last is as well."""
    for group, pairs in ((0, 16), (2, 0), (3, 0), ((1 << 32) - 1, 0)):
        it = crowd(2, 16, "63:32")
        for sprite in it.sprites:
            sprite.group = group
        frame = it.frame()
        assert (len(frame.collisions), frame.collision_flags) == (pairs, int(pairs > 0))


SCENE = 'name = "Crowd"\nchip = "crowd.chip.toml"\n[[patterns]]\nname = "solid"\nfor = "sprites"\nrows = ROWS\n'


@pytest.fixture
def scene(tmp_path):
    """A scene file of five solid sprites on 16 lines: 160 pairs."""
    text = CHIP.replace("COUNT", "5").replace("SIZE", "16").replace("GROUP", "26:25")
    (tmp_path / "crowd.chip.toml").write_text(text.replace("pattern_bytes = 32\n", ""), encoding="utf-8")
    sprites = '[[sprites]]\nname = "s{}"\npattern = "solid"\nx = 20\ny = 0\ngroup = "walker"\n'
    text = SCENE.replace("ROWS", json.dumps(["1" * 16] * 16)) + "".join(sprites.format(number) for number in range(5))
    (tmp_path / "crowd.scene.toml").write_text(text, encoding="utf-8")
    return tmp_path / "crowd.scene.toml"


@pytest.mark.parametrize(("most", "left_out"), [(160, 0), (159, 1)])
@pytest.mark.parametrize("log", ["crowd.json", "crowd.csv"])
def test_the_log_says_where_its_list_ends(scene, monkeypatch, capsys, most, left_out, log):
    """In its summary, and to whoever asked for it; a log without the list says nothing of it."""
    most_listed(monkeypatch, most)
    assert main(["render", str(scene), "--log", str(scene.parent / log)]) == 0
    told = capsys.readouterr().err
    if not left_out or log.endswith(".csv"):
        assert told == ""
    else:
        assert told == "crowd: the log lists the first 159 of 160 collisions; flags are those of all\n"
    if log.endswith(".json"):
        data = json.loads((scene.parent / log).read_text(encoding="utf-8"))
        assert len(data["collisions"]) == 160 - left_out
        assert data["summary"].get("collisions_left_out", 0) == left_out
        assert ("collisions_left_out" in data["summary"]) is bool(left_out)
        assert data == vdpsim.log_data(vdpsim.render(vdpsim.load_scene(scene)))


@pytest.mark.parametrize(("most", "told", "more"), [(161, 160, 0), (160, 160, 0), (159, 159, 1)])
def test_a_page_tells_so_many_and_how_many_more(scene, monkeypatch, most, told, more):
    """Its own bound, and what the frame does not list itself."""
    monkeypatch.setattr(sys.modules[frame_told.__module__], "MOST_COLLISIONS", most)
    of_frame = _told(scene)
    assert (len(of_frame["collisions"]), of_frame["moreCollisions"]) == (told, more)
    most_listed(monkeypatch, 100)
    of_frame = _told(scene)
    assert (len(of_frame["collisions"]), of_frame["moreCollisions"]) == (100, 60)
    assert MOST_TOLD == 10_000


def _told(scene):
    data = facts(vdpsim.load_scene(scene), [0])["frames"][0]["facts"]
    return json.loads(zlib.decompress(base64.b64decode(data), -15))
