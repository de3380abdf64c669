"""Does each check of ``vdpsim.testing`` hold what it says, fail for one dot, drop or fetch more, and name who drew it?

The frames are of the shipped scene *flock*, whose crowded lines are worked out on paper in its file, and of a small machine.
"""

from __future__ import annotations

import pickle
import unittest
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy as np
import pytest
from little import CHIP, machine
from paper import BITMAP, TILES, small_chip
from PIL import Image
from refusal import refused

import vdpsim
from vdpsim.engine import Plan, draw
from vdpsim.handoff.verifying.told.words import drawn_by
from vdpsim.testing import (
    CheckFailedError,
    UnfinishedCheckWarning,
    assert_fetches,
    assert_frame,
    assert_same,
    assert_source,
    assert_sprite,
    assert_sprites,
    build_scene,
    chip_text,
    soft,
    use,
)
from vdpsim.testing.using import Using, said

SCENES = Path(__file__).resolve().parents[2] / "scenes"


@pytest.fixture(scope="module")
def flock():
    return vdpsim.load_scene(SCENES / "flock.scene.toml")


@pytest.fixture(scope="module")
def frame(flock):
    return vdpsim.render(flock)


@pytest.fixture(scope="module")
def tidetable():
    return vdpsim.render(vdpsim.load_scene(SCENES / "tidetable.scene.toml"), planes=True)


@pytest.fixture
def outside():
    """As outside pytest: the plugin has said nothing."""
    with said(Using()):
        yield


@pytest.fixture(scope="module")
def seen(frame):
    """A line and dot at which a sprite shows on one of the crowded lines, and its number."""
    line, dot = (int(one) for one in np.argwhere(frame.sprite[30:40] >= 0)[0])
    return 30 + line, dot, int(frame.sprite[30 + line, dot])


def fails(told):
    """A block in which a check fails, with words that ``told``, a regular expression, finds."""
    return refused(CheckFailedError, told)


def with_drop(frame, line, sprite, reason="count"):
    """The frame with one drop more."""
    return replace(frame, drops=np.concatenate([frame.drops, np.array([(line, sprite, reason)], frame.drops.dtype)]))


def with_fetch(frame, line, client):
    """The frame with one fetch more."""
    counts = frame.log.counts.copy()
    counts[line, frame.log.clients.index(client)] += 1
    return replace(frame, log=replace(frame.log, counts=counts))


# What a line has


def test_sprites_on_both_sides_of_a_limit(frame):
    assert_sprites(frame).on_every_line().at_most(12).at_least(0)
    with fails(r"sprites drawn on every line: must be at most 11\n  first on line 30: 12: shown: lapwing_0, .*"
               r"dropped: lapwing_12 \(count\), lapwing_13 \(count\)\n  on 10 of 216 lines: lines 30 to 39"):  # fmt: skip
        assert_sprites(frame).on_every_line().at_most(11)
    assert_sprites(frame, "found").on_lines(30, 39).exactly(14)
    with fails("must be exactly 14\n  first on line 29"):
        assert_sprites(frame, "found").on_lines(29, 39).exactly(14)
    assert_sprites(frame, "dropped").in_the_frame().exactly(30)
    with fails("in the frame: must be exactly 29\n  there are 30"):
        assert_sprites(frame, "dropped").in_the_frame().exactly(29)


def test_one_fetch_more_is_noticed(frame):
    most = int(frame.log.by_line["near.cells"].max())
    assert_fetches(frame, "near.cells").on_every_line().at_most(most)
    with fails(
        f"fetches of near.cells on every line: must be at most {most}\n  first on line 35: {most + 1}: near.cells"
    ):
        assert_fetches(with_fetch(frame, 35, "near.cells"), "near.cells").on_every_line().at_most(most)
    total = frame.log.total
    assert_fetches(frame).in_the_frame().exactly(total)
    with fails(f"there are {total + 1}"):
        assert_fetches(with_fetch(frame, 35, "near.cells")).in_the_frame().exactly(total)


def test_a_pattern_counts_clients_together(frame):
    line = int(sum(counts for name, counts in frame.log.by_line.items() if name.startswith("near."))[35])
    assert_fetches(frame, "near.*").on_line(35).exactly(line)
    with fails(f"must be exactly {line - 1}"):
        assert_fetches(frame, "near.*").on_line(35).exactly(line - 1)


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda frame: assert_fetches(frame, "nearest.*"), "client must match one of .*near.cells.*got 'nearest"),
        (lambda frame: assert_fetches(frame, "NEAR.*"), "client must match"),
        (lambda frame: assert_fetches(frame, "near"), "client must match"),
        (lambda frame: assert_sprites(frame, "lost"), "which must be drawn, found, dropped, got 'lost'"),
        (lambda frame: assert_sprites(frame).on_lines(39, 30), "lines must be the first and then the last"),
        (lambda frame: assert_sprites(frame).on_lines(210, 216), "lines must be 0 to 215, got 216"),
        (lambda frame: assert_sprites(frame).on_line(-1), "line must be 0 to 215, got -1"),
        (lambda frame: assert_sprites(frame).on_every_line().at_most(-1), "count must be 0 or more"),
        (lambda frame: assert_sprite(frame, "lapwing_14"), "sprite must be one of the scene's, .*got 'lapwing_14'"),
        (lambda frame: assert_sprite(frame, 48), "sprite must be 0 to 47, got 48"),
        (lambda frame: assert_sprite(frame, "harrier").dropped(reason="late"), "reason must be count, dots, slots"),
        (lambda frame: assert_sprite(frame, "harrier").dropped(lines=range(30, 30)), "range of lines"),
        (lambda frame: assert_source(frame, line=216, dot=0), "line must be 0 to 215, got 216"),
        (lambda frame: assert_source(frame, line=0, dot=288), "dot must be 0 to 287, got 288"),
        (lambda frame: assert_source(frame, line=0, dot=0).shows("middle"), "source must be one of backdrop, near, far, sprites"),
        (lambda frame: assert_source(frame).has_colour("red"), "must be written as #rrggbb"),
        (lambda frame: assert_frame(frame, "../flock"), "name must be letters"),
        (lambda frame: assert_frame(frame, "flock", folder=None), "no folder of recorded frames was said"),
    ],
)  # fmt: skip
def test_what_is_not_there_is_a_mistake_and_no_pass_in_a_soft_block_too(frame, ask, told):
    with said(Using()), refused(ValueError, told), soft():
        ask(frame)


def test_a_frame_without_a_line_holds_nothing(flock):
    running = vdpsim.Machine.of(flock)
    running.lines(216)
    with refused(ValueError, "needs a line of the picture"):
        assert_sprites(running.lines(10))
    with refused(TypeError, "sprite must be a name, or a place in the sprite table, got True"):
        assert_sprite(vdpsim.render(flock), True)
    with refused(TypeError, "frame must be a Frame"):
        assert_sprites(flock)


def test_what_the_engine_draws_is_a_frame_too():
    made = machine()
    result = draw(Plan(made.chip), made.state)
    assert not isinstance(result, vdpsim.Frame)
    assert_fetches(result).in_the_frame().exactly(result.log.total)
    with fails("frame 0: fetches in the frame: must be exactly 0"):
        assert_fetches(result).in_the_frame().exactly(0)


def test_lines_and_sprites_of_another_kind_are_mistakes(frame):
    for lines in (1.5, "30", (30,), (30, 34, 39)):
        with refused(TypeError, "lines must be a number, or the first and the last of some lines, got "):
            assert_sprite(frame, 12).dropped(lines=lines)
    bare = vdpsim.Machine(small_chip(TILES)).frame()
    with refused(ValueError, "is of a chip without sprites, got sprite 0"):
        assert_sprite(bare, 0)


def test_a_check_that_asks_nothing_is_told():
    frame = machine().frame()
    for ask in (assert_sprites, lambda one: assert_sprites(one).on_every_line(), assert_source):
        with said(Using()) as using, pytest.warns(UnfinishedCheckWarning, match="was begun and asked nothing"):
            ask(frame)
        assert len(using.unfinished) == 1


# One sprite


def test_a_sprite_is_dropped_on_these_lines_and_on_no_other(frame):
    assert_sprite(frame, "lapwing_12").dropped(lines=(30, 39), reason="count").dropped().dropped(reason="count")
    assert_sprite(frame, 12).dropped(lines=range(30, 40))
    for lines, wrong in (((30, 38), "line 39"), ((29, 39), "line 29"), ((31, 40), "lines 30, 40")):
        with fails(f"otherwise on {wrong}\n  it is dropped on lines 30 to 39 \\(count\\)"):
            assert_sprite(frame, "lapwing_12").dropped(lines=lines)
    with fails("must be dropped on lines 30 to 39 for dots\n  otherwise on lines 30 to 39"):
        assert_sprite(frame, "lapwing_12").dropped(lines=(30, 39), reason="dots")
    with fails("otherwise on line 50"):
        assert_sprite(with_drop(frame, 50, 12), "lapwing_12").dropped(lines=(30, 39))
    with fails("must be dropped on some line.*\n.*\n  no line drops it\n  its record as the frame begins: x "):
        assert_sprite(frame, "harrier").dropped()


def test_a_sprite_that_must_never_be_dropped(frame):
    assert_sprite(frame, "harrier").never_dropped().shows()
    with fails(
        r"frame 0 of Flock on Curlew: sprite harrier \(30 in the table\) must be dropped on no line\n  otherwise on line 7"
    ):
        assert_sprite(with_drop(frame, 7, 30), "harrier").never_dropped()


def test_where_a_sprite_shows(frame, seen):
    line, _, number = seen
    assert_sprite(frame, number).shows(lines=line)
    with fails(f"must be hidden on line {line}"):
        assert_sprite(frame, number).hidden(lines=line)
    assert_sprite(frame, "lapwing_12").hidden(lines=(30, 39))
    with fails("must show on line 30\n  otherwise on line 30"):
        assert_sprite(frame, "lapwing_12").shows(lines=30)


def test_collisions(frame):
    line, first, second, _ = frame.collisions[0].tolist()
    assert_sprite(frame, first).collides(second, lines=line).collides(second)
    assert_sprite(frame, second).collides(first)
    with fails("must collide with no sprite"):
        assert_sprite(frame, first).collides_with_none()
    free = min({*range(31)} - {*frame.collisions["first"].tolist()} - {*frame.collisions["second"].tolist()})
    assert_sprite(frame, free).collides_with_none()
    with fails("must collide with .* on some line"):
        assert_sprite(frame, free).collides(first)
    with refused(ValueError, "does not list"):
        assert_sprite(replace(frame, collisions_left_out=1), free).collides_with_none()


# Who shows


def test_who_shows_and_before_whom(frame, seen):
    line, dot, number = seen
    assert_source(frame, line=line, dot=dot).shows("sprites").shows_sprite(number).before("far").never_shows("near")
    with fails("far must show"):
        assert_source(frame, line=line, dot=dot).shows("far")
    hidden = int(np.argwhere(frame.source[line] == 0)[0][0]) if (frame.source[line] == 0).any() else None
    assert hidden is None, "the marsh covers the line"
    with fails("what shows must stand before a dot of near"):
        assert_source(frame, line=line, dot=dot).before("near")


def test_entries_colours_and_the_backdrop(outside):
    """Dew's ground is not transparent: it hides the backdrop at every dot. Entry 5 has the colour 0x555, all alike."""
    made = machine()
    made.memory[:] = 0x55
    made.palette[5] = 0xF80
    shown = made.frame(planes=True)
    assert_source(shown).has_entry(5).has_colour("#ff8800").has_colour("FF8800").shows("ground").before("backdrop")
    with fails(
        r"entry 0x004 must show\n  first at line 0, dot 0; at 4096 of 4096 dots\n  came entry 0x005, colour #ff8800"
    ):
        assert_source(shown).has_entry(4)
    with fails("#ff8801 must show"):
        assert_source(shown).has_colour("#FF8801")
    for colour in ("#ff880", "#ff88000", "#ff 88 00"):
        with refused(ValueError, "must be written as #rrggbb"):
            assert_source(shown).has_colour(colour)


@pytest.mark.parametrize(
    ("line", "dot", "told"),
    [
        (150, 2, r"mode text \(text\): it came from the margin, which is not fetched"),
        (150, 20, r"mode text \(text\): cell at 0x48bc, its word 0x1652 \(character 101, .*glyph row at 0x572e"),
        (50, 20, r"mode chart \(bitmap\): access at 0x1c2a"),
    ],
)
def test_a_dot_of_a_layer_tells_its_mode_and_where_it_came_from(tidetable, line, dot, told, outside):
    with fails(told):
        assert_source(tidetable, line=line, dot=dot).shows("backdrop")


def test_a_dot_of_a_bitmap_in_colours_tells_its_colour_cell(outside):
    """Blocks of 16 dots by 4 lines, of which the second has bank 2; a line is 64 dots of 2 bits, so its dot 16 is in byte 4."""
    colours = {"block": [16, 4], "cell_bytes": 2, "cell": {"bank": "9:8"}}
    made = vdpsim.Machine(small_chip({**BITMAP, "colours": colours}))
    made.registers["a.b.colours"], made.memory[515] = 512, 2
    with fails(r"colour cell at 0x202, its word 0x200 \(bank 2\); access at 0x4$"):
        assert_source(made.frame(planes=True), line=0, dot=16).shows("backdrop")


def test_a_dot_that_nothing_fetched_in_the_frame_tells_so(outside):
    """Beyond the edge of a map of 4 cells; and a line buffer's first line, which was fetched before the frame."""
    ends = vdpsim.Machine(small_chip({**TILES, "page": [4, 8], "wrap": False, "outside": 7}))
    with fails(r"mode t \(tiles\): it came from beyond the edge, which is not fetched"):
        assert_source(ends.frame(planes=True), line=0, dot=40).shows("backdrop")
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
    held = vdpsim.Machine(small_chip(BITMAP, memory=memory, time={"clients": {"a.bitmap": {"when": "line before"}}}))
    shown = held.frame(planes=True)
    with fails("it came from the line buffer, filled before the first frame here"):
        assert_source(shown, line=0, dot=0).shows("backdrop")
    with fails(r"\(bitmap\): access at 0x10$"):
        assert_source(shown, line=1, dot=0).shows("backdrop")


def test_a_sprite_of_a_frame_without_a_scene_is_told_by_its_number_alone(outside):
    """Nobody knows what its record was as the frame began."""
    made = machine()
    made.memory[:] = 0x11
    made.sprites[2].x, made.sprites[2].y, made.sprites[2].enable = 8, 8, 1
    with fails("drawn by sprite 2, which wins at rung 0: sprites\n") as caught:
        assert_source(made.frame(planes=True), line=9, dot=9).shows("ground")
    assert "beneath: ground, by rung 1" in str(caught.value)
    assert "record" not in str(caught.value)


def test_a_dropped_sprite_that_wraps_is_told_where_it_would_stand(outside):
    """One sprite a line. Each is 8 dots from 252 on, of 256: dots 252 to 255 and, where x wraps, 0 to 3 of the next round."""
    for wraps, there in ((True, (True, False)), (False, (False,))):
        limits = f"transparent = 0\nper_line = 1\nwrap_x = {str(wraps).lower()}\n"
        text = CHIP.replace('"sprites.table" = { bits = 13, effect = "at once", reset = 0x1800 }', "")
        chip = vdpsim.parse_chip(text.replace("TABLE", "chip").replace("transparent = 0\n", limits))
        both = [{"name": name, "x": 252, "y": 8, "pattern": "bird", "enable": 1} for name in ("first", "second")]
        bird = {"for": "sprites", "name": "bird", "rows": ["1" * 8] * 8}
        shown = vdpsim.render(build_scene(chip, name="Wrap", patterns=[bird], sprites=both), planes=True)
        assert shown.drops["line"].tolist() == list(range(8, 16)), "a sprite counts on its lines wherever it stands"
        for dot, stands in zip((3, 4), there, strict=False):
            with fails("must show") as caught:
                assert_source(shown, line=9, dot=dot).has_entry(15)
            assert ("stands here and is dropped on this line by count" in str(caught.value)) is stands


def test_a_failure_names_who_drew_the_dot_in_verifys_own_words(frame, flock, seen):
    line, dot, number = seen

    class Index:
        sources, rungs, sprites = frame.sources, frame.rungs, flock.sprite_names

    source, rung = int(frame.source[line, dot]), int(frame.rung[line, dot])
    (words,) = drawn_by(Index, {"source": source, "rung": rung, "sprite": number})
    with fails("far must show") as caught:
        assert_source(frame, line=line, dot=dot).shows("far")
    told = str(caught.value).splitlines()
    assert f"  {words}" in told
    name = next(one for one, place in flock.sprite_names.items() if place == number)
    assert f"sprite {name} ({number} in the table)" in words
    assert any(each.startswith("  beneath: far, by rung 4: far: entry 0x") for each in told)
    missing = (
        r"by far, which.*\n  mode tiles \(tiles\): cell at 0x938.*\n.*lapwing_12 \(12 in the table\) stands here and is"
    )
    with fails(f"{missing} dropped on this line by "):
        assert_source(frame, line=35, dot=250).shows("sprites")


def test_a_part_of_the_picture_tells_its_first_wrong_dot(frame, seen):
    line = seen[0]
    with fails(
        rf"lines {line} to {line + 1}, dots 0 to 287: far must show\n  first at line {line}, dot {seen[1]}; at \d+ of 576 dots"
    ):
        assert_source(frame, line=(line, line + 1)).shows("far")
    assert_source(frame).never_shows("backdrop")


def test_frames_that_are_not_what_their_scene_draws_are_not_explained_by_it(frame, seen):
    """A planted dot: the scene's planes say of another picture, so nothing is told of them, and none is asked for them."""
    line, dot, _ = seen
    source, sprite = frame.source.copy(), frame.sprite.copy()
    source[line, dot], sprite[line, dot] = frame.sources.index("near"), -1
    planted = replace(frame, source=source, sprite=sprite)
    with fails("drawn by near") as caught:
        assert_source(planted, line=line, dot=dot).shows("sprites")
    assert "beneath" not in str(caught.value)
    with refused(ValueError, "must be drawn with planes=True"):
        assert_source(planted, line=line, dot=dot).before("far")


def test_a_part_of_a_frame_is_counted_by_the_frames_own_lines(flock, frame):
    running = vdpsim.Machine.of(flock)
    running.lines(30)
    part = running.lines(10)
    assert_sprite(part, 12).dropped(lines=(30, 39))
    assert_sprites(part).on_lines(30, 39).at_least(12)
    with refused(ValueError, "line must be 30 to 39, got 29"):
        assert_source(part, line=29, dot=0)
    with fails("first at line 30, dot 0"):
        assert_source(part).shows("near")
    with refused(ValueError, "have numbers alone, got 'lapwing_12'"):
        assert_sprite(part, "lapwing_12")


# Frames


def test_two_frames_that_differ(frame, flock):
    assert_same(frame, vdpsim.render(flock))
    entries = frame.indices.copy()
    entries[35, 200] ^= 1
    with fails(
        r"dots: 1 differ, first at line 35, dot 200\n  expected entry 0x004.*\n  drawn by .*\n(.*\n)*  came entry 0x005"
    ):
        assert_same(replace(frame, indices=entries), frame)
    with fails("fetch log: 1 of 216 rows differ, the first at line 9"):
        assert_same(with_fetch(frame, 9, "far.cells"), frame)
    with fails(r"1 not expected, the first: line 9, sprite harrier \(30 in the table\), reason dots"):
        assert_same(with_drop(frame, 9, 30, "dots"), frame)
    with fails("the frame has 64 x 64 dots from line 0 on, the expected one 288 x 216"):
        assert_same(machine().frame(), frame)


def test_recorded_frames(frame, tmp_path, outside):
    """Recorded only where that is asked for, compared exactly, and written again only where something changed."""
    folder = tmp_path / "frames"
    with use(frames=folder):
        with fails("nothing is recorded under that name: record it with vdpsim.testing.use"):
            assert_frame(frame, "flock-0")
        assert not folder.exists()
        assert_frame(frame, "flock-0", update=True)
        assert sorted(path.name for path in folder.iterdir()) == [
            f"flock-0.{ending}" for ending in ("events.json", "log.csv", "palette.csv", "png", "slots.csv")
        ]
        assert_frame(frame, "flock-0")
        before = {path: path.stat().st_mtime_ns for path in folder.iterdir()}
        with use(update=True):
            assert_frame(with_drop(frame, 9, 30), "flock-0")
        assert [path.name for path, time in before.items() if path.stat().st_mtime_ns != time] == [
            "flock-0.events.json"
        ]
        with fails("1 recorded and did not come, the first: line 9, sprite harrier"):
            assert_frame(frame, "flock-0")
        with refused(ValueError, "not recorded in a block of soft"), soft():
            assert_frame(frame, "flock-0", update=True)


def test_a_frame_is_wanted_once_under_each_name(frame, tmp_path):
    """Where somebody waits for the test's end; the same frame twice under one name is one."""
    with said(Using(frames=tmp_path, update=True, waits=True)) as using:
        for name in ("one", "other", "one"):
            assert_frame(frame, name)
        with refused(ValueError, "other would be recorded twice"):
            assert_frame(machine().frame(), "other")
    assert [wanted.name for wanted in using.wanted] == ["one", "other"]
    assert not list(tmp_path.iterdir())


def test_parts_that_lack_or_are_too_many_or_are_garbled_are_told(frame, tmp_path, outside):
    with use(frames=tmp_path, update=True):
        assert_frame(frame, "flock")
        assert_frame(frame, "little")
        assert_frame(machine().frame(), "little")
    assert not (tmp_path / "little.slots.csv").exists(), "a part that the frame has not is taken away"
    with use(frames=tmp_path):
        assert_frame(machine().frame(), "little")
        (tmp_path / "little.png").unlink()
        with fails("must be as recorded under little\n  entries: not recorded$"):
            assert_frame(machine().frame(), "little")
        log, events, palette = (tmp_path / f"flock{ending}" for ending in (".log.csv", ".events.json", ".palette.csv"))
        rows = log.read_text("utf-8").splitlines()
        log.write_text("\n".join(rows[:-1]), "utf-8")
        with fails(r"fetch log: 1 of 216 rows differ, the first is not recorded: 215,"):
            assert_frame(frame, "flock")
        log.write_text("\n".join([*rows, "216,0"]), "utf-8")
        with fails(r"fetch log: 1 of 217 rows differ, the first is recorded and did not come: 216,0"):
            assert_frame(frame, "flock")
        log.write_text("\n".join(["lines", *rows[1:]]), "utf-8")
        with fails(r"fetch log: its columns are line,.*, recorded lines"):
            assert_frame(frame, "flock")
        log.write_text("\n".join(rows) + "\n", "utf-8")
        events.write_text("no record\n" + events.read_text("utf-8"), "utf-8")
        palette.write_text(palette.read_text("utf-8") + "x,y,z\n", "utf-8")
        with fails("1 recorded and did not come, the first: no record") as caught:
            assert_frame(frame, "flock")
        assert "palette: 1 recorded and did not come, the first: " in str(caught.value)


def test_a_picture_that_is_no_plane_of_entries_is_refused(frame, tmp_path, outside):
    with use(frames=tmp_path, update=True):
        assert_frame(frame, "flock")
        Image.new("RGB", (288, 216)).save(tmp_path / "flock.png")
        with use(update=False), refused(ValueError, "flock.png is no plane of entries: 288 x 216, RGB"):
            assert_frame(frame, "flock")
        Image.new("L", (1025, 1)).save(tmp_path / "flock.png")
        with use(update=False), refused(ValueError, "flock.png is no plane of entries: 1025 x 1, L"):
            assert_frame(frame, "flock")
        (tmp_path / "flock.png").write_bytes(b"no picture")
        assert_frame(frame, "flock")
    with use(frames=tmp_path):
        assert_frame(frame, "flock")


def test_the_same_picture_in_other_bytes_is_not_written_again(frame, tmp_path, outside):
    """As another release of Pillow writes it; with another colour in its palette it is another picture."""
    path = tmp_path / "flock.png"
    with use(frames=tmp_path, update=True):
        assert_frame(frame, "flock")
        with Image.open(path) as picture:
            picture.load()
        ours = path.read_bytes()
        picture.save(path, compress_level=1)
        other = path.read_bytes()
        assert other != ours
        assert_frame(frame, "flock")
        assert path.read_bytes() == other
        colours, shown = picture.getpalette(), 3 * int(frame.indices[0, 0])
        picture.putpalette([*colours[:shown], 255 - colours[shown], *colours[shown + 1 :]])
        picture.save(path)
        assert_frame(frame, "flock")
        assert path.read_bytes() == ours


def test_what_is_recorded_wrongly_is_told(frame, tmp_path, outside):
    with use(frames=tmp_path, update=True):
        assert_frame(machine().frame(), "little")
        assert_frame(frame, "flock")
    with use(frames=tmp_path):
        (tmp_path / "flock.slots.csv").unlink()
        with fails("slots: not recorded"):
            assert_frame(frame, "flock")
        with fails("entries: the frame has 288 x 216 dots, the recorded one 64 x 64"):
            assert_frame(frame, "little")
        (tmp_path / "little.slots.csv").write_text("line\n0\n", "utf-8")
        with fails("slots: recorded, and the frame has none"):
            assert_frame(machine().frame(), "little")
        (tmp_path / "flock.slots.csv").mkdir()
        with refused(ValueError, "flock.slots.csv: cannot be read"):
            assert_frame(frame, "flock")
        (tmp_path / "flock.slots.csv").rmdir()
        (tmp_path / "flock.png").write_bytes(b"no picture")
        with refused(ValueError, "flock.png is no plane of entries"):
            assert_frame(frame, "flock")
        (tmp_path / "flock.png").unlink()
        (tmp_path / "flock.png").symlink_to(SCENES / "pictures" / "saltmarsh.png")
        for update in (False, True):
            with refused(ValueError, "a link that leads out of it"):
                assert_frame(frame, "flock", update=update)


@pytest.fixture(scope="module")
def tried():
    """Frames of chips that have what others have not: entries above 255, colours that change on the way down, no time table."""
    text = chip_text(machine().chip).replace("entries = 16\nbank_size = 16", "entries = 512\nbank_size = 512")
    wide = vdpsim.parse_chip(text.replace("page = [16, 8]", "page = [16, 8], entries = { base = 400 }"))
    dusk = vdpsim.render(vdpsim.load_scene(SCENES / "dusk.scene.toml"), 20)
    return {"wide": vdpsim.Machine(wide).frame(), "dusk": dusk, "little": machine().frame()}


def planted(frame, random):
    """The frame with one number other than it was, in any of its recorded parts."""
    arrays = {"indices": frame.indices, "rgb": frame.rgb, "counts": frame.log.counts, "drawn": frame.log.drawn}
    if frame.slots is not None:
        arrays["slots"] = frame.slots.counts
    name = random.choice(sorted(arrays))
    array = arrays[name].copy()
    place = tuple(random.randrange(extent) for extent in array.shape)
    array[place] = array[place] + 1 if array[place] < 255 else 0
    if name in {"indices", "rgb"}:
        return replace(frame, **{name: array})
    part = "slots" if name == "slots" else "log"
    return replace(frame, **{part: replace(getattr(frame, part), **{"counts" if name == "slots" else name: array})})


@pytest.mark.parametrize("name", ["wide", "dusk", "little"])
@pytest.mark.parametrize("rounds", [3, pytest.param(100, marks=pytest.mark.soak)])
def test_any_one_number_other_than_it_was_is_noticed(tried, name, rounds, tmp_path, outside):
    frame, random = tried[name], Random(rounds)
    with use(frames=tmp_path, update=True):
        assert_frame(frame, name)
    with use(frames=tmp_path):
        assert_frame(pickle.loads(pickle.dumps(frame)), name)  # noqa: S301 - its own bytes
        for _ in range(rounds):
            other = planted(frame, random)
            with fails("must be as recorded under"):
                assert_frame(other, name)
            with fails("must be as"):
                assert_same(other, frame)


# How it is told


def test_soft_tells_all_that_fails_at_once(frame):
    with fails("must be at most 11") as caught, soft():
        assert_sprites(frame).on_every_line().at_most(11)
        assert_sprite(frame, "lapwing_12").never_dropped()
        with soft():
            assert_sprite(frame, "harrier").never_dropped()
            assert_sprite(frame, "lapwing_13").never_dropped()
    assert [one.rule.partition(": ")[2] for one in caught.value.findings] == [
        "sprites drawn on every line: must be at most 11",
        "sprite lapwing_12 (12 in the table) must be dropped on no line",
        "sprite lapwing_13 (13 in the table) must be dropped on no line",
    ]
    with refused(KeyError, "other") as other, soft():
        assert_sprite(frame, "lapwing_12").never_dropped()
        raise KeyError("other")
    assert "before this had failed: frame 0 of Flock on Curlew: sprite lapwing_12" in other.value.__notes__[0]
    with soft():
        assert_sprites(frame).on_every_line().at_most(12)


def test_pictures_and_a_page_are_left(frame, tmp_path):
    entries = frame.indices.copy()
    entries[35, 200] ^= 1
    with use(failures=tmp_path), fails("left: ") as caught:
        assert_same(replace(frame, indices=entries), frame)
    left = {path.name: path for path in caught.value.left}
    assert set(left) == {"actual.png", "expected.png", "difference.png", "page.html"}
    assert all(path.is_file() and f"left: {path}" in str(caught.value) for path in left.values())
    with Image.open(left["difference.png"]) as picture:
        white = np.argwhere((np.asarray(picture) == 255).all(axis=2))
    assert white.tolist() == [[35, 200]]
    with Image.open(left["expected.png"]) as picture:
        assert np.array_equal(np.asarray(picture), frame.rgb)
    with use(failures=tmp_path), fails("no page: the frame is not one of a scene\nleft: ") as caught:
        assert_sprites(machine().frame()).on_every_line().exactly(5)
    assert [path.name for path in caught.value.left] == ["actual.png", "where.png"]


def test_of_many_frames_the_first_have_pictures(tmp_path):
    with use(failures=tmp_path), fails("of 5 frames the first 4 have pictures\nleft: ") as caught, soft():
        for _ in range(5):
            assert_sprites(machine().frame()).on_every_line().exactly(5)
    assert sorted(path.name for path in caught.value.left if "actual" in path.name) == [
        "2-actual.png", "3-actual.png", "4-actual.png", "actual.png"
    ]  # fmt: skip


def test_what_cannot_be_left_takes_no_failures_place(frame, tmp_path):
    (tmp_path / "file").write_text("", "utf-8")
    with use(failures=tmp_path / "file"), fails("must be exactly 5\n(.*\n)*no pictures could be left"):
        assert_sprites(frame).on_every_line().exactly(5)


class InUnittest(unittest.TestCase):
    """The same in a plain test case."""

    def test_it(self):
        """It fails as any assertion does."""
        frame = machine().frame()
        with (
            use(),
            self.assertRaisesRegex(  # noqa: PT027 - as people write it there
                AssertionError, "must be exactly 5"
            ),
        ):
            assert_sprites(frame).on_every_line().exactly(5)
