"""What a page tells of its frames, without a browser: what vanished, registers line by line, the verdict, memory, and names."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from random import Random

import little
import numpy as np
import pytest
from paper import SPRITES, TILES, small_chip
from refusal import refused
from scenery import load
from strategies import make_chip, make_state, make_writes
from witnesses import loaded

import vdpsim
from vdpsim.budgets.budget import budget
from vdpsim.budgets.told.data import budget_data
from vdpsim.budgets.told.verdict import verdict_lines
from vdpsim.chip.line.places import port_bytes
from vdpsim.chip.load import chip_text
from vdpsim.chip.registers import fields
from vdpsim.engine import Plan, draw
from vdpsim.report.facts import facts
from vdpsim.report.still.frame import frame_parts
from vdpsim.report.still.markup import Markup, table, tag
from vdpsim.report.tables import scene_budget
from vdpsim.report.told.cards import cards
from vdpsim.report.told.chip import chip_told
from vdpsim.report.told.frame import _table, frame_told
from vdpsim.report.told.registers import registers_told
from vdpsim.report.told.totals import Place, Totals
from vdpsim.report.told.vanished import lines_told, missing_dots, reason_told, runs, vanished
from vdpsim.testing import assert_source

SCENES = Path(__file__).parents[2] / "scenes"
CURLEW = (SCENES / "chips" / "curlew.chip.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def flock():
    return vdpsim.load_scene(SCENES / "flock.scene.toml")


# What vanished


@pytest.mark.parametrize(
    ("numbers", "told"),
    [
        ([4], "line 4"),
        ([4, 5], "lines 4 to 5"),
        ([9, 4, 6, 5, 5], "lines 4 to 6, 9"),
        ([1, 3], "lines 1, 3"),
        ([0, 1, 3, 4], "lines 0 to 1, 3 to 4"),
    ],
)
def test_lines_are_told_in_runs(numbers, told):
    assert lines_told(runs(numbers)) == told


def test_what_vanished_is_one_for_each_sprite_and_reason():
    drops = [(3, 7, "count"), (4, 7, "count"), (9, 7, "count"), (4, 2, "dots"), (5, 7, "dots")]
    assert [(one.sprite, one.reason, one.where, one.number) for one in vanished(drops)] == [
        (2, "dots", "line 4", 1),
        (7, "count", "lines 3 to 4, 9", 3),
        (7, "dots", "line 5", 1),
    ]
    assert vanished([]) == []


def test_a_reason_names_the_limit(flock):
    """A line of Curlew takes 12 sprites and 256 of their dots, as its file says."""
    assert reason_told(flock.chip, "count") == "count: more than 12 sprites on the line"
    assert reason_told(flock.chip, "dots") == "dots: more than 256 dots of sprites on the line"
    with refused(KeyError, "gulls"):
        reason_told(flock.chip, "gulls")


def test_what_is_missing_is_what_a_chip_without_limits_shows(flock):
    """The flock on a chip that takes 64 sprites and 2,048 dots: there the dropped sprites show just the dots that are told."""
    free = vdpsim.parse_chip(re.sub(r"(?m)^per_line = 12|^dots_per_line = 256", _lifted, CURLEW))
    shown = vdpsim.render(vdpsim.load_scene(SCENES / "flock.scene.toml", chip=free), planes=True, damage=True)
    assert not len(shown.drops)
    frame, state = vdpsim.render(flock), flock.state()
    told = frame_told(flock, Plan(flock.chip), frame)
    records = {one["number"]: one["fields"] for one in told["sprites"]}
    places = {one["number"]: one for one in told["sprites"]}
    rows = missing_dots(flock.chip, frame, state, records)
    stands = shown.planes["sprites"].standing.sprite
    seen = 0
    for line, number, _ in frame.drops.tolist():
        place = places[number]
        bits = int(rows[str(number)][line - place["y"]], 16)
        wanted = stands[line, place["x"] : place["x"] + place["width"]] == number
        dots = [bool(bits >> place["width"] - 1 - dot & 1) for dot in range(len(wanted))]
        assert dots == wanted.tolist(), (line, number)
        seen += sum(dots)
    assert seen > 100


def test_what_is_missing_of_a_sprite_that_is_turned_is_turned_too(flock):
    frame, state = vdpsim.render(flock), flock.state()
    told = frame_told(flock, Plan(flock.chip), frame)
    number, fields_, wide = next((one["number"], one["fields"], one["width"]) for one in told["sprites"]
                                 if one["number"] in set(frame.drops["sprite"].tolist()))  # fmt: skip
    rows = {
        flips: [f"{int(row, 16):0{wide}b}" for row in missing_dots(flock.chip, frame, state,
                {number: {**fields_, "flip_x": flips[0], "flip_y": flips[1]}})[str(number)]]
        for flips in ((0, 0), (1, 0), (0, 1), (1, 1))
    }  # fmt: skip
    plain = rows[0, 0]
    across = [row[::-1] for row in plain]
    assert plain != across != plain[::-1]
    assert (rows[1, 0], rows[0, 1], rows[1, 1]) == (across, plain[::-1], across[::-1])


def _lifted(found: re.Match[str]) -> str:
    return {"per_line = 12": "per_line = 64", "dots_per_line = 256": "dots_per_line = 2048"}[found[0]]


def test_what_came_too_late_is_told_by_line_and_client(flock):
    """The flock on a Curlew whose fetches may be two dots ahead, not 16: the lines' words add up to what drawing missed."""
    hasty = vdpsim.parse_chip(CURLEW.replace("lead = 16", "lead = 2"))
    scene = vdpsim.load_scene(flock.path, chip=hasty)
    frame = vdpsim.render(scene, damage=True)
    told = frame_told(scene, Plan(hasty), frame)
    assert {line: sum(count for _, count in late) for line, late in told["late"].items()} == {
        line: count for line, count in enumerate(told["missed"]) if count
    }
    assert dict(told["late"][40]) == {
        name: int(frame.missed[40, at]) for at, name in enumerate(frame.log.clients) if frame.missed[40, at]
    }
    assert told["late"][40]
    assert frame_told(flock, Plan(flock.chip), vdpsim.render(flock))["late"] == {}


def test_a_chip_without_sprites_has_a_page_of_layers_alone(tmp_path):
    """Its frames are counted as they are drawn."""
    scene, counts = load(tmp_path, "frames = 3", chip_text(small_chip(TILES))), []
    told = facts(scene, range(3), counts.append)
    assert counts == [1, 2, 3]
    assert told["chip"]["sprites"] is None
    assert frame_told(scene, Plan(scene.chip), vdpsim.render(scene))["sprites"] == []


@pytest.mark.parametrize(("base", "numbers"), [(8176, [0, 1, 2, 3]), (8184, [0, 1])])
def test_of_a_table_that_sticks_out_of_memory_the_sprites_within_are_told(tmp_path, base, numbers):
    """Four records of four bytes, all enabled, where 16 or eight bytes are left."""
    scene = load(tmp_path, f'[registers]\n"sprites.table" = {base}', little.text("memory"))
    state = scene.state()
    state.memory[base:] = 0x80
    told = list(_table(scene, Plan(scene.chip), state))
    assert [one["number"] for one in told] == numbers


def test_a_write_of_several_palette_entries_names_the_first_and_the_last(tmp_path):
    words = '[[writes]]\nline = 3\nentry = 9\ncolours = ["#fff", "#000", "#fff"]\n'
    scene = load(tmp_path, words + '[[writes]]\nline = 4\nentry = 2\ncolour = "#0f0"\n', little.text("chip"))
    told = frame_told(scene, Plan(scene.chip), vdpsim.render(scene))
    assert [one["what"] for one in told["writes"]] == ["entries 9 to 11", "entry 2 = 0xF0"]


# Registers


def test_registers_at_a_line_are_those_of_a_chip_that_was_drawn_up_to_it():
    """Random chips, states and writes: at the first dot of a line, before what is written there, all fields and ports."""
    compared = changed = 0
    for seed in range(40):
        random = Random(seed)
        chip = make_chip(random)
        state, writes = make_state(random, chip), make_writes(random, chip)
        state.line = 0
        plan, line = Plan(chip), random.randrange(1, chip.frame.height)
        if any(write.line == line and write.dot == 0 for write in writes):
            continue
        told = registers_told(plan.of(state), state, writes)
        draw(plan, state, writes, line, damage=chip.time is not None)
        first = [int(re.match(r"\d+", value)[0]) for value in told["values"]]
        now = list(first)
        for at, dot, row, value in told["sets"]:
            if (at, dot) <= (line, 0):
                now[row] = int(re.match(r"\d+", value)[0])
        assert now == [state.value(field.controls[0]) for field in fields(chip).values()], seed
        ports = list(told["ports"])
        for at, _, row, value in told["moves"]:
            if at < line:
                ports[row] = value
        each = zip(state.ports, chip.ports, strict=True)
        assert ports == [f"at 0x{at % port_bytes(chip, port):04X}, step {step}" for (at, step), port in each], seed
        compared += 1
        changed += now != first
    assert compared > 25
    assert changed > 5


# The verdict and the budget


def test_the_verdict_of_the_flock(flock):
    """Three sprites on 30 lines, as its text says; three pairs; where the first vanishes is where the card leads."""
    totals, frame = Totals(), vdpsim.render(flock, trace=True)
    marks = totals.add(frame, frame_told(flock, Plan(flock.chip), frame))
    assert marks == {"gone": 3, "late": 0, "unread": 0, "pairs": 3}
    told = {card.word: card for card in cards(scene_budget(flock, totals.seen), totals)}
    assert list(told)[:4] == ["Fits", "3 sprites vanish", "Nothing late", "3 pairs collide"]
    assert told["3 sprites vanish"].text == "on 30 lines: 20 by count, 10 by dots"
    place = told["3 sprites vanish"].to
    assert isinstance(place, Place)
    assert (place.frame, place.line) == (0, 30)
    assert 0 <= place.dot < 288


SLOTS = {
    ("blanking", 10): (0, ""),
    ("blanking", 11): (
        1,
        "Of lines 0 to 63 the sprite table is not read to its end: 64 accesses find no slot, and no sprite",
    ),
    ("blanking", 13): (
        3,
        "Of lines 0 to 63 the sprite table is not read to its end: 192 accesses find no slot, and no sprite",
    ),
    ("line before", 77): (
        1,
        "Of lines 1 to 63 and of line 0 of the next frame the sprite table is not read to its end: 64",
    ),
}
"""When sprites are fetched, and slots of a line that refresh takes: accesses to the table for which a line has none, in words."""


@pytest.mark.parametrize(("when", "refresh"), SLOTS)
def test_a_table_that_is_not_read_to_its_end_is_told_where_its_sprites_are_missing(when, refresh):
    """Of 16 blank slots the layer has two and refresh its own; the scan of four records takes four.
    Of 80 slots refresh leaves three.
    """
    lead = {"when": "in time", "lead": 8}
    found = budget(
        small_chip(
            {**TILES, "scroll": False},
            sprites={**SPRITES, "table": "memory", "per_line": 1},
            memory={"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1},
            time={
                "clients": {"a.cells": lead, "a.pattern": lead, "sprites": {"when": when}},
                "refresh": {"slots": refresh},
            },
        )
    )
    scene, (each, said) = loaded(found.chip, found.witness), SLOTS[when, refresh]
    frame = vdpsim.render(scene, damage=True)
    told, totals = frame_told(scene, Plan(scene.chip), frame), Totals()
    number = totals.add(frame, told)["unread"]
    assert number == 64 * each
    assert said in frame_parts(scene.chip, 0, told)["vanished"]
    assert ("not read to its end" in frame_parts(scene.chip, 0, told)["vanished"]) == bool(each)
    late = "1,024 too late" if refresh == 77 else f"{number} not made" if each else "Nothing late"
    assert late in [card.word for card in cards(found, totals)]
    gone = "None dropped" if each else "Nothing vanishes"
    assert gone in [card.word for card in cards(found, Totals(frames=1, unread=totals.unread))]
    for line in (0, 5):
        with pytest.raises(AssertionError, match="must show") as caught:
            assert_source(frame, line=line, dot=63).shows("sprites")
        assert ("of this line the sprite table is not read to its end" in str(caught.value)) == (line in told["unread"])
    assert set(told["unread"]) == ({*range(1, 64), 70} if refresh == 77 else set(range(64)) if each else set())


def test_totals_of_several_frames_add_up():
    scene = vdpsim.load_scene(SCENES / "regatta.scene.toml")
    totals = Totals()
    drawn = list(vdpsim.frames(scene, range(3), trace=True))
    for frame in drawn:
        totals.add(frame, frame_told(scene, Plan(scene.chip), frame))
    assert totals.gone.number == sum(len(frame.drops) for frame in drawn)
    assert totals.gone.frames == 3
    assert totals.collided.number == sum(len(frame.collisions) for frame in drawn)
    assert budget_data(scene_budget(scene, totals.seen)) == budget_data(vdpsim.budget(scene.chip, scene, range(3)))


def test_a_scene_that_misses_does_not_fit_here_either(flock):
    """Of a budget that fits, with frames in which an access is late: as ``vdpsim.budget`` has it."""
    seen = vdpsim.budget(flock.chip, flock, [0]).seen
    assert seen is not None
    late = scene_budget(flock, replace(seen, missed=1))
    assert (late.verdict, late.how) == ("does not fit", "scene")
    first = late.first
    assert verdict_lines(late)[:2] == [
        "Curlew does not fit: in the scene 1 accesses come too late, and 0 sprites find no slot.",
        f"Closest of the others: {first.client}, {first.slots} to spare.",
    ]
    unread = verdict_lines(scene_budget(flock, replace(seen, unread=3)))[0]
    assert unread.endswith("come too late, and 0 sprites find no slot, and 3 accesses to the sprite table find none.")
    assert next(iter(cards(late, Totals(frames=1)))).word == "Does not fit"
    assert scene_budget(flock, seen).verdict == "fits"


def test_free_memory_is_one_figure(flock):
    """In the memory map and in the budget: all bytes that no part of the scene lies in."""
    owned = np.zeros(65536, bool)
    for row in flock.layout:
        owned[row.start : row.end] = True
    free = f"{int((~owned).sum()):,} free"
    still = facts(flock, [0])["still"]
    assert free in still["memory"]
    assert set(re.findall(r"[\d,]+ free", still["budget"])) == {free}


def test_of_a_chip_that_fetches_nothing_no_client_is_named():
    timed = {"clients": {"a.cells": {"when": "in time", "lead": 8}, "a.pattern": {"when": "in time", "lead": 8}}}
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
    chip = small_chip(TILES, memory=memory, time=timed, registers={"a.scroll_x": {"bits": 3, "effect": "at once"}},
                      constants={"a.enable": 0})  # fmt: skip
    first = next(iter(cards(budget(chip), Totals(frames=1))))
    assert (first.word, first.text) == ("Fits", "nothing is fetched")


# The chip


def test_a_chips_bits_are_told_as_its_file_has_them():
    """Sanderling: a map's cells, a bitmap with two colours a block, one without; each bit range as [highest, lowest]."""
    layers = chip_told(vdpsim.load_chip(SCENES / "chips" / "sanderling.chip.toml"))["layers"]
    modes = {f"{layer['name']}.{mode['name']}": mode for layer in layers for mode in layer["modes"]}
    assert modes["far.chart"]["cell"] == {"foreground": [[6, 0]], "background": [[14, 8]]}
    night = modes["far.night"]
    assert "cell" not in night
    assert (night["kind"], night["bits"], night["planes"]) == ("bitmap", 7, "apart")
    assert modes["near.shore"]["cell"]["bank"] == [[11, 8]]


# Names


def test_names_stay_text():
    evil = "<img src=x onerror=bad>"
    told = {
        "size": (288, 216), "missed": [], "unread": {},
        "writes": [{"line": 1, "dot": 2, "what": evil}], "moreWrites": 0, "collisions": [(1, 0, 1, 5)],
        "moreCollisions": 0, "raised": [(1, 2, evil)], "transfers": [], "drops": [(1, 0, "count")],
        "sprites": [{"number": n, "name": evil, "x": 0, "y": 0, "width": 8, "height": 8} for n in range(2)],
    }  # fmt: skip
    parts = frame_parts(vdpsim.parse_chip(CURLEW), 0, told)
    assert [name for name, html in parts.items() if "<img" in html] == []
    assert all("&lt;img" in html for html in parts.values())


def test_each_transfer_has_a_row():
    told = {
        "size": (288, 216), "missed": [], "unread": {}, "writes": [], "moreWrites": 0, "moreCollisions": 0, "raised": [],
        "transfers": [(0, 3, 71, 9, 12, 2048, 17, True), (1, 9, 14, 215, 99, 6, 1234, False)],
        "drops": [], "sprites": [], "collisions": [],
    }  # fmt: skip
    html = frame_parts(vdpsim.parse_chip(CURLEW), 0, told)["happened"]
    rows = [re.findall(r"<td[^>]*>(?:<[^>]*>)*([^<]*)", row) for row in html.split("<tr>")[2:]]
    assert rows == [
        ["0", "3, 71", "9, 12", "2,048", "17", "yes"],
        ["1", "9, 14", "215, 99", "6", "1,234", "goes on"],
    ]


@pytest.mark.parametrize(("pairs", "more"), [(200, ""), (201, "and 1 more pairs")])
def test_so_many_pairs_are_listed(pairs, more):
    told = {
        "size": (288, 216), "missed": [], "unread": {},
        "writes": [], "moreWrites": 0, "moreCollisions": 0, "raised": [], "transfers": [],
        "drops": [], "sprites": [], "collisions": [(1, 0, number, 5) for number in range(1, pairs + 1)],
    }  # fmt: skip
    html = frame_parts(vdpsim.parse_chip(CURLEW), 0, told)["happened"]
    assert html.count("#frame=0") == 200
    assert more in html
    assert ("more pairs" in html) is bool(more)


def test_only_markup_is_left_alone():
    assert tag("p", "<b>", Markup("<b>"), title='"&') == '<p title="&quot;&amp;">&lt;b&gt;<b></p>'
    assert tag("p", hidden=None, class_="a", aria_label="b") == '<p class="a" aria-label="b"></p>'


@pytest.mark.parametrize(("rows", "folded"), [(13, False), (14, True)])
def test_a_long_table_is_folded(rows, folded):
    assert table("Reeds", ["one"], [[row] for row in range(rows)]).startswith("<details>") is folded


def test_what_leads_to_a_dot_leads_there(flock):
    """Every link of the flock's page names a frame that it has, and a place; each anchor is there."""
    html = vdpsim.report_page(flock)
    still = html.partition('<script type="application/json"')[0]
    links = set(re.findall(r'href="#([^"]*)"', still))
    places = [link for link in links if "=" in link]
    assert len(places) > 3
    for link in places:
        frame, line, dot = map(int, re.fullmatch(r"frame=(\d+)&(?:amp;)?line=(\d+)&(?:amp;)?dot=(\d+)", link).groups())
        assert (frame, line < 216, dot < 288) == (0, True, True)
    assert [link for link in links - set(places) if f'id="{link}"' not in still] == []
