"""Is a sweep every combination, each with the figures of that chip alone, whoever works them out and in whatever order?"""

from __future__ import annotations

import csv
import importlib.util
import io
import json
import os
import re
import subprocess
import sys
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from threading import Barrier
from typing import Any

import numpy as np
import pytest
from PIL import Image
from refusal import refused
from scenery import png
from soaked import quick

import vdpsim
from vdpsim.sweeping import fields, inputs, journal, points, sheet, swept, workers
from vdpsim.sweeping.fields import parts_of, place_of, put
from vdpsim.sweeping.rows import COLUMNS, SCENE_COLUMNS, counted, outcome
from vdpsim.sweeping.rows import OUTCOMES as OUTCOMES_OF_ROWS

SCENES = Path(__file__).resolve().parents[2] / "scenes"
CURLEW = SCENES / "chips" / "curlew.chip.toml"

CHIP = """
name = "Knot"
ladder = [{ source = "sprites" }, { source = "mud" }]
[frame]
width = 64
height = 64
dot_clock = 1_000_000
dots_per_line = 80
lines_per_frame = 70
[memory]
size = 8192
bytes_per_access = 1
accesses_per_dot = 1
[palette]
entries = 16
bank_size = 4
red = "11:8"
green = "7:4"
blue = "3:0"
[[layers]]
name = "mud"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = 8
bits_per_dot = 2
cell_bytes = 2
cell = { pattern = "7:0", bank = "9:8" }
page = [16, 8]
[sprites]
count = 8
table = "chip"
record_bytes = 4
fields = { x = "7:0", y = "15:8", pattern = "19:16", enable = "31" }
sizes = [[8, 8]]
bits_per_dot = 2
transparent = 0
per_line = 4
[registers]
others = "wired"
"mud.scroll_x" = { bits = 7, effect = "at once" }
"sprites.patterns" = { bits = 11, effect = "at once", step = 16 }
[constants]
backdrop = 2
"mud.tiles.patterns" = 0x400
[time]
refresh = { slots = 2 }
[time.clients]
"mud.cells" = { when = "in time", lead = 8 }
"mud.pattern" = { when = "in time", lead = 8 }
sprites = { when = "line before" }
"""

SCENE = """
name = "Mudflat"
chip = "knot.chip.toml"
[[palette]]
colours = ["#000", "#f00", "#0f0", "#00f", "#ff0", "#0ff", "#f0f", "#fff"]
[[patterns]]
name = "mud"
for = "mud.tiles"
png = "mud.png"
[[patterns]]
name = "knot"
for = "sprites"
rows = ["11111111", "11111111", "11111111", "11111111", "22222222", "22222222", "33333333", "33333333"]
[[maps]]
for = "mud.tiles"
fill = { pattern = "mud", bank = 1 }
"""
SCENE += "".join(f'[[sprites]]\nname = "k{n}"\nx = {8 * n}\ny = {20 + n % 2}\npattern = "knot"\n' for n in range(6))


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with a small chip and its scene, to work in."""
    (tmp_path / "knot.chip.toml").write_text(CHIP, "utf-8")
    (tmp_path / "mud.scene.toml").write_text(SCENE, "utf-8")
    (tmp_path / "mud.png").write_bytes(png(np.arange(64).reshape(8, 8) % 4, 4))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(points, "_KEPT", [])
    return tmp_path


# --- paths ---------------------------------------------------------------------------------------------------------------

PATHS = {
    "sprites.per_line": ("sprites", "per_line"),
    "name": ("name",),
    "layers.0.modes.1.columns": ("layers", 0, "modes", 1, "columns"),
    "layers.near.modes.tiles.tile": ("layers", 0, "modes", 0, "tile"),
    "layers.far.modes.2.exclusive.0": ("layers", 1, "modes", 2, "exclusive", 0),
    "layers.far.modes.picture.ladder.1.source": ("layers", 1, "modes", 2, "ladder", 1, "source"),
    'registers."near.scroll_x".bits': ("registers", "near.scroll_x", "bits"),
    "registers.'near.scroll_x'.bits": ("registers", "near.scroll_x", "bits"),
    "registers.near.scroll_x.bits": ("registers", "near.scroll_x", "bits"),
    "registers.near.tiles.map.step": ("registers", "near.tiles.map", "step"),
    'time.clients."near.cells".lead': ("time", "clients", "near.cells", "lead"),
    "time.clients.near.cells.lead": ("time", "clients", "near.cells", "lead"),
    "time.clients.sprites.when": ("time", "clients", "sprites", "when"),
    'time . "clients" . near.cells . lead': ("time", "clients", "near.cells", "lead"),
    "ladder.0.when": ("ladder", 0, "when"),
    "sprites.sizes.3.1": ("sprites", "sizes", 3, 1),
    "layers.near.modes.tiles": ("layers", 0, "modes", 0),
    # not in the file, but fields of a chip file all the same
    "sprites.wrap_x": ("sprites", "wrap_x"),
    "layers.near.modes.tiles.entries.base": ("layers", 0, "modes", 0, "entries", "base"),
    "registers.near.scroll_x.reset": ("registers", "near.scroll_x", "reset"),
    "constants.near.mode": ("constants", "near.mode"),
    "time.cpu.blanking": ("time", "cpu", "blanking"),
    "sprites.fields.turn": None,
    "layers.near.modes.tiles.columns": None,
    "layers.near.modes.text.columns": ("layers", 0, "modes", 1, "columns"),
    "sprites.perline": None,
}


@pytest.fixture(scope="module")
def curlew():
    """Curlew's data as its file has it, and the chip."""
    _, source, chip = inputs.read_chip(CURLEW)
    return source.data, chip


@pytest.mark.parametrize("path", [path for path, place in PATHS.items() if place])
def test_a_path_leads_to_its_place(curlew, path):
    assert place_of(path, *curlew) == PATHS[path]


def leaves(here, at=()):
    """The place of everything in a chip file's data."""
    inner = here.items() if isinstance(here, dict) else enumerate(here) if isinstance(here, list) else ()
    for key, value in inner:
        yield (*at, key)
        yield from leaves(value, (*at, key))


def test_everything_that_stands_in_a_chip_file_has_a_path(curlew):
    data, chip = curlew
    places = list(leaves(data))
    assert len(places) > 300
    for place in places:
        assert place_of(".".join(map(str, place)), data, chip) == place
        quoted = ".".join(f'"{part}"' if isinstance(part, str) else str(part) for part in place)
        assert place_of(quoted, data, chip) == place


WRONG = {
    "sprites.perline": r"sprites has the keys count, table, .*; got 'perline'",
    "sprite.count": r"the chip file has the keys name, about, .*, status; got 'sprite.count'",
    "sprites.count.more": r"sprites.count is a value and has no keys, got 'more'",
    "layers.mid.name": r"layers has elements 0 to 1 called near, far; got 'mid'",
    "layers.2.name": r"layers has elements 0 to 1 called near, far; got '2'",
    "sprites.sizes.8": r"sprites.sizes has elements 0 to 7; got '8'",
    "registers.near.scrol_x.bits": r"registers has the keys backdrop, .*near.scroll_x.*; got 'near.scrol_x.bits'",
    "registers.near.scroll_x.wide": r"registers.near.scroll_x has the keys bits, reset, effect, step, address; got 'wide'",
    "time.clients.near.cell.lead": r"time.clients has the keys near.cells, .*; got 'near.cell.lead'",
    "constants.near.mood": r"constants has no keys; got 'near.mood'",
    # a key of another kind of mode
    "layers.near.modes.tiles.columns": r"layers.0.modes.0 has the keys .*tile, .*; got 'columns'",
    "sprites..count": r"must be keys with dots between them, such as sprites.per_line, got 'sprites..count'",
    "sprites.": r"must be keys with dots between them",
    'registers."near': r"must be keys with dots between them",
    'registers."near".x': r"registers has the keys .*; got 'near.x'",
    "": r"must be keys with dots between them",
}


@pytest.mark.parametrize("path", WRONG)
def test_a_path_that_leads_nowhere_is_told_which_keys_there_are(curlew, path):
    with refused(ValueError, WRONG[path]):
        place_of(path, *curlew)


ABSENT = {
    "sprites.per_line": r"the chip file has no sprites, which would also need count, .*: vary sprites as a whole",
    "registers.a.scroll_x.bits": r"the chip file has no registers, .*write the table first",
    "layers.a.modes.b.ladder.0.source": r"layers.0.modes.0.ladder has the keys|has no keys",
}


@pytest.mark.parametrize("path", ABSENT)
def test_what_the_file_leaves_out_cannot_be_made_by_one_key(path):
    text = """
        name = "Still"
        palette = { entries = 4, bank_size = 2, red = "0", green = "1", blue = "2" }
        memory = { size = 1024, bytes_per_access = 1 }
        layers = [{ name = "a", modes = [{ name = "b", kind = "bitmap", bits_per_dot = 1, width = 64, height = 64 }] }]
        ladder = [{ source = "a" }]
        frame = { width = 64, height = 64, dot_clock = 1_000_000, dots_per_line = 80, lines_per_frame = 80 }
    """
    chip = vdpsim.parse_chip("\n".join(line.strip() for line in text.splitlines()))
    _, source, _ = inputs.read_chip(chip)
    with refused(ValueError, ABSENT[path]):
        place_of(path, source.data, chip)
    assert place_of("frame.border.left", source.data, chip) == ("frame", "border", "left")
    assert place_of("constants.backdrop", source.data, chip) == ("constants", "backdrop")


def test_the_longest_known_key_wins(curlew):
    data, chip = curlew
    both = {**data, "registers": {"near": {}, "near.scroll_x": {"bits": 9}, "near.scroll_x.bits": {}}}
    assert place_of("registers.near.scroll_x.bits", both, chip) == ("registers", "near.scroll_x.bits")
    del both["registers"]["near.scroll_x.bits"]
    assert place_of("registers.near.scroll_x.bits", both, chip) == ("registers", "near.scroll_x", "bits")


def test_put_sets_leaves_out_and_makes_tables_on_the_way():
    data = {"a": {"b": [1, {"c": 2}]}, "d": 3}
    put(data, ("a", "b", 1, "c"), 5)
    put(data, ("a", "e", "f"), 6)
    put(data, ("d",), None)
    put(data, ("g",), None)
    assert data == {"a": {"b": [1, {"c": 5}], "e": {"f": 6}}}


def test_parts_in_quotes_keep_their_dots():
    assert parts_of("""a."b.c".'d.e' . f""") == ["a", "b.c", "d.e", "f"]


# --- figures -------------------------------------------------------------------------------------------------------------


def edited(**values):
    """The small chip with its text changed as a person would: the key's first line gets another value, or goes."""
    text = CHIP
    for key, value in values.items():
        line = "" if value is None else f"{key} = {value}"
        text, count = re.subn(rf"(?m)^{key} = .*$", line, text, count=1)
        assert count
    return vdpsim.parse_chip(text)


VARY: dict[str, list[Any]] = {
    "sprites.per_line": [1, 4, None],
    "memory.accesses_per_dot": [1, "1/2"],
    "layers.mud.modes.tiles.tile": [8, 16],
}


def test_every_combination_has_the_figures_of_the_chip_file_that_says_so(place):
    """Each row against a budget of the file's text, edited line by line."""
    found = vdpsim.sweep("knot.chip.toml", VARY, jobs=1)
    assert found.columns == ("point", *VARY, *COLUMNS, "error")
    combinations = [(a, b, c) for a in VARY["sprites.per_line"] for b in (1, "1/2") for c in (8, 16)]
    assert len(found.rows) == len(combinations) == 12
    for number, (row, (per_line, rate, tile)) in enumerate(zip(found.rows, combinations, strict=True)):
        assert tuple(row) == found.columns
        assert list(row.values())[:4] == [number, per_line, rate, tile]
        chip = edited(per_line=per_line, accesses_per_dot=json.dumps(rate), tile=tile)
        budget = vdpsim.budget(chip)
        assert (row["verdict"], row["error"]) == (budget.verdict, None)
        first = budget.first
        told = f"{abs(first.slots)} {'missed' if first.slots < 0 else 'slot' if first.slots == 1 else 'slots'}"
        assert (row["gives_way"], row["slack"]) == (f"{first.client}, {told}", first.proved)
        assert (row["slots_per_line"], row["worst_line"]) == (budget.lines.slots, budget.worst_line.name)
        assert (row["used"], row["free"]) == (budget.worst_line.used, budget.free_slots)
        sprites = budget.sprites
        assert (row["sprites_asked"], row["sprites_room"], row["sprites_fit"]) == (
            sprites.asked,
            sprites.room,
            sprites.fit,
        )
        assert row["cpu_bytes_per_frame"] == budget.cpu.bytes_per_frame
        assert (row["chip_bits"], row["memory_free"]) == (budget.chip_bits, budget.memory.free)
    assert {row["verdict"] for row in found.rows} == {"fits", "does not fit"}


def test_the_figures_of_one_point_worked_out_on_paper(place):
    """80 dots are 80 slots. 9 tiles of 8 dots touch a line that scrolls, each with a cell and a row of 2 accesses: 36. Two of
    refresh and 4 sprites of 2 accesses make 46; 34 are left.
    """
    (row,) = vdpsim.sweep("knot.chip.toml", {"sprites.per_line": [4]}, jobs=1).rows
    assert (row["slots_per_line"], row["used"], row["free"], row["sprites_asked"]) == (80, 46, 34, 8)


def fresh(place, changes, frame=0):
    """A point's frame, by a chip and a scene that nothing else has been made from."""
    _, source, _ = inputs.read_chip("knot.chip.toml")
    for at, value in changes:
        put(source.data, at, value)
    chip = vdpsim.Chip.model_validate_json(json.dumps(source.data))
    return vdpsim.render(vdpsim.load_scene("mud.scene.toml", chip=chip), frame, damage=True)


SEEN = {
    "sprites.per_line": [2, 4, None],
    "sprites.dots_per_line": [None, 16],
    "sprites.front": ["first", "last"],
    "memory.accesses_per_dot": [1, "1/4"],
}


def differences_from_fresh(place, vary):
    """Points of a sweep with the scene whose figures or picture are not those of a scene loaded for it alone."""
    found = vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", jobs=1)
    _, source, chip = inputs.read_chip("knot.chip.toml")
    places = [place_of(name, source.data, chip) for name in found.vary]
    wrong = []
    for row in found.rows:
        frame = fresh(place, [(at, row[name]) for at, name in zip(places, found.vary, strict=True)])
        reasons = frame.drops["reason"].tolist()
        used = frame.slots.counts[:, :-1].sum(axis=1)
        figures = {
            "scene_line": int(used.argmax()),
            "scene_used": int(used.max()),
            "scene_missed": int(frame.missed.sum()),
            "scene_unread": 0 if frame.slots.unread is None else int(frame.slots.unread.sum()),
            **{f"scene_dropped_{why}": reasons.count(why) for why in ("count", "dots", "slots")},
            "scene_fetches": frame.log.total,
        }
        if figures != {name: row[name] for name in SCENE_COLUMNS} or found.pictures[row["point"]] != points.small_png(
            frame
        ):
            wrong.append(row["point"])
    return found, wrong


def test_with_a_scene_each_point_is_drawn_as_it_would_be_alone(place):
    found, wrong = differences_from_fresh(place, SEEN)
    assert not wrong
    assert found.columns == ("point", *SEEN, *COLUMNS, *SCENE_COLUMNS, "error")
    assert any(row["scene_missed"] for row in found.rows)
    for why in ("count", "dots"):
        assert len({row[f"scene_dropped_{why}"] for row in found.rows}) > 1
    assert all(row["verdict"] == "does not fit" for row in found.rows if row["scene_missed"])


UNSEEN_VALUES: dict[str, list[Any]] = {
    "name": ["Knot", "Dunlin"],
    "about": ["one", "another"],
    "ladder": [[{"source": "sprites"}, {"source": "mud"}], [{"source": "mud"}]],
    "cpu": [None, {"clock": 1_000_000, "cycles_per_byte": 2}],
    "time": [
        None,
        {"clients": {"mud.cells": {"when": "in time", "lead": 16}, "mud.pattern": {"when": "blanking"},
                     "sprites": {"when": "blanking"}}},
    ],
    "memory.accesses_per_dot": [1, 2],
    "sprites.per_line": [1, 4],
    "sprites.dots_per_line": [8, 16],
    "sprites.front": ["first", "last"],
    "sprites.dropped": ["back", "front"],
    "sprites.resolve": ["before the ladder", "rung by rung"],
}  # fmt: skip


def test_every_field_that_a_scene_is_said_not_to_ask_for_is_tried():
    assert [".".join(map(str, at)) for at in points.UNSEEN] == list(UNSEEN_VALUES)


@pytest.mark.parametrize("name", [name for name in UNSEEN_VALUES if name != "time"])
def test_a_scene_made_once_serves_chips_that_differ_in_what_it_does_not_ask_for(place, monkeypatch, name):
    loads = []
    loading = vdpsim.scene.load.scene_from

    def noted(*words):
        loads.append(words)
        return loading(*words)

    monkeypatch.setattr("vdpsim.scene.load.scene_from", noted)
    found, wrong = differences_from_fresh(place, {name: UNSEEN_VALUES[name]})
    assert not wrong
    assert not found.failed
    known, *worked = [words for words in loads if words[0].name == "mud.scene.toml" and words[1].is_absolute()]
    assert known[2] == vdpsim.load_chip("knot.chip.toml"), "once on the chip that is varied, to know the scene's files"
    assert len(worked) == 1


def test_without_a_time_table_a_scene_is_made_anew_and_has_no_slots(place):
    found = vdpsim.sweep("knot.chip.toml", {"time": UNSEEN_VALUES["time"]}, scene="mud.scene.toml", jobs=1)
    without, with_time = found.rows
    assert [name for name in found.columns if without[name] is None] == [
        "time", "verdict", "gives_way", "slack", "slots_per_line", "worst_line", "used", "free", "sprites_asked",
        "sprites_room", "sprites_fit", "cpu_bytes_per_frame", "scene_line", "scene_used", "scene_missed",
        "scene_unread", "error",
    ]  # fmt: skip
    assert without["scene_fetches"] > 0
    assert with_time["slots_per_line"] == 80
    assert "no time table" in sheet.verdict(without)


def test_a_scene_kept_too_long_would_be_seen(place, monkeypatch):
    """A planted fault: were the byte order said not to matter to a scene, its cells would be read the wrong way round."""
    assert differences_from_fresh(place, {"memory.byte_order": ["little", "big"]})[1] == []
    monkeypatch.setattr(points, "UNSEEN", (*points.UNSEEN, ("memory", "byte_order")))
    monkeypatch.setattr(points, "_KEPT", [])
    assert differences_from_fresh(place, {"memory.byte_order": ["little", "big"]})[1] == [1]


def test_another_frame_is_drawn_where_it_is_asked_for(place):
    text = SCENE + '[[motion]]\nregister = "mud.scroll_x"\nfrom = 0\nstep = 4\n'
    (place / "mud.scene.toml").write_text(f"frames = 4\n{text}", "utf-8")
    for frame in (0, 3):
        found = vdpsim.sweep("knot.chip.toml", {"sprites.per_line": [2]}, scene="mud.scene.toml", frame=frame, jobs=1)
        assert found.pictures[0] == points.small_png(fresh(place, [(("sprites", "per_line"), 2)], frame))
        assert json.loads(found.json())["frame"] == frame


def test_a_chip_object_gives_what_its_file_gives(place):
    by_file = vdpsim.sweep("knot.chip.toml", VARY, jobs=1)
    by_object = vdpsim.sweep(vdpsim.load_chip("knot.chip.toml"), VARY, jobs=1)
    assert by_file.csv() == by_object.csv()


def test_values_of_python_become_those_of_a_file(place):
    vary = {"memory.accesses_per_dot": [Fraction(1, 2), np.int64(1)], "sprites.sizes": [((8, 8),), [(8, 16)]]}
    found = vdpsim.sweep("knot.chip.toml", vary, jobs=1)
    assert found.vary == {"memory.accesses_per_dot": ("1/2", 1), "sprites.sizes": ([[8, 8]], [[8, 16]])}
    assert not found.failed


# --- the same, whoever works it out --------------------------------------------------------------------------------------


class Backwards(Executor):
    """Keeps what it is sent until it has a few, or all of ``total`` points, and does the last first."""

    def __init__(self, few, total):
        self.few, self.total, self.kept, self.sent = few, total, [], 0

    def submit(self, work, /, *words, **named):
        """Keep it, or do it with the others."""
        future = Future()
        self.kept.append((future, work, words))
        self.sent += len(words[1])
        if len(self.kept) >= self.few or self.sent == self.total:
            while self.kept:
                last, job, given = self.kept.pop()
                last.set_result(job(*given))
        return future


def everything(found):
    """All that a sweep gives."""
    return found.csv(), found.json(), vdpsim.png_bytes(found.picture())


def test_rows_and_bytes_do_not_depend_on_who_works_or_in_which_order(place):
    vary = {"sprites.per_line": [4, 1, 0, 9], "memory.accesses_per_dot": [1, "1/2"]}
    alone = everything(vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", jobs=1))
    assert everything(vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", jobs=2)) == alone
    with ThreadPoolExecutor(3) as threads:
        assert everything(vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", executor=threads)) == alone
    backwards = Backwards(3, 8)
    assert everything(vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", executor=backwards)) == alone
    assert backwards.sent == 8


def test_threads_that_meet_in_the_middle_of_a_point_keep_their_points_apart(place, monkeypatch):
    """Both have their own copy of the file's data before either sets its value in it; neither sees the other's."""
    meeting, putting = Barrier(2, timeout=60), points.put

    def met(*words):
        meeting.wait()
        putting(*words)
        meeting.wait()

    vary = {"sprites.per_line": [4, 1]}
    alone = vdpsim.sweep("knot.chip.toml", vary, jobs=1).csv()
    monkeypatch.setattr(points, "put", met)
    with ThreadPoolExecutor(2) as threads:
        assert vdpsim.sweep("knot.chip.toml", vary, executor=threads).csv() == alone


SCRIPT = """
import vdpsim
print("once")
found = vdpsim.sweep("knot.chip.toml", {"sprites.per_line": [1, 2, 3, 4]}, jobs=2)
print(len(found.rows), len(found.failed))
"""


@pytest.mark.unmeasured
@pytest.mark.parametrize(
    "words",
    quick([["script.py"], ["-"], ["-c", SCRIPT], ["-m", "script"]], ["script.py"].__eq__),
    ids=lambda words: words[0],
)
def test_a_script_is_not_run_again_by_its_workers(place, words):
    """Guarded or not, from a file or a pipe: the workers need nothing of it."""
    Path("script.py").write_text(SCRIPT, "utf-8")
    done = subprocess.run(
        [sys.executable, *words], input=SCRIPT, capture_output=True, text=True, check=False, env=_finding(place)
    )
    assert (done.stdout, done.stderr) == ("once\n4 0\n", "")


def _finding(place):
    """An environment in which Python finds modules of that folder."""
    return {**os.environ, "PYTHONPATH": str(place)}


def test_a_wrong_order_would_be_seen(place, monkeypatch):
    """A planted fault: rows in the order in which points come back."""
    vary = {"sprites.per_line": [4, 1, 9, 2]}
    right = vdpsim.sweep("knot.chip.toml", vary, jobs=1).csv()
    sent = workers._Sending.sent
    monkeypatch.setattr(
        workers._Sending,
        "sent",
        lambda *words: ((one._replace(number=at), result) for at, (one, result) in enumerate(sent(*words))),
    )
    monkeypatch.setattr(workers, "wait", lambda waiting, **_: (list(reversed(waiting)), []))
    assert vdpsim.sweep("knot.chip.toml", vary, executor=Backwards(4, 4)).csv() != right


def test_points_go_out_in_small_groups_and_not_all_at_once(place, monkeypatch):
    monkeypatch.setattr(points, "budget", lambda chip: 1 / 0)
    monkeypatch.setattr(workers, "FAR", 8)
    sizes = []

    class Counting(Backwards):
        def submit(self, work, /, *words, **named):
            """Count it."""
            sizes.append(len(words[1]))
            assert len(self.kept) < workers.FAR
            return super().submit(work, *words)

    found = vdpsim.sweep(
        "knot.chip.toml", {"frame.dot_clock": range(1_000_000, 1_000_200)}, executor=Counting(workers.FAR, 200)
    )
    assert len(found.failed) == sum(sizes) == 200
    assert max(sizes) == workers.LARGEST_GROUP
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-1] == 1


def cluster(processes):
    """A cluster's client on this machine; without the package the test is left out, or fails where CI is set."""
    if importlib.util.find_spec("distributed") is None:
        assert "CI" not in os.environ, "distributed is missing: pip install distributed"
        pytest.skip("distributed is not installed")
    from dask.distributed import Client, LocalCluster  # noqa: PLC0415 - only where it is there

    made = LocalCluster(n_workers=1, threads_per_worker=2, processes=processes, dashboard_address=None)
    return made, Client(made)


@pytest.mark.ci
@pytest.mark.unmeasured
@pytest.mark.parametrize("processes", [False, True])
def test_a_cluster_gives_the_same_through_its_own_engine(place, processes):
    """Its client's ``get_executor()`` is an executor as any other. https://distributed.dask.org, "Client.get_executor"."""
    vary = {"sprites.per_line": [4, 0, 9], "memory.accesses_per_dot": [1, "1/2"]}
    alone = everything(vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", jobs=1))
    made, client = cluster(processes)
    with made, client, client.get_executor() as executor:
        found = vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", executor=executor)
    assert everything(found) == alone


# --- points that fail ----------------------------------------------------------------------------------------------------


def test_a_point_that_is_no_chip_is_a_row_with_the_words_of_a_chip_file(place):
    found = vdpsim.sweep("knot.chip.toml", {"sprites.per_line": [4, 0, 9]}, scene="mud.scene.toml", jobs=1)
    line = CHIP.splitlines().index("per_line = 4") + 1
    assert [row["error"] for row in found.rows] == [
        None,
        f"knot.chip.toml:{line}: sprites.per_line: must be 1 to 1024, got 0",
        None,
    ]
    (failed,) = found.failed
    assert all(failed[name] is None for name in (*COLUMNS, *SCENE_COLUMNS))
    assert sorted(found.pictures) == [0, 2]
    others = vdpsim.sweep("knot.chip.toml", {"sprites.per_line": [4, 9]}, scene="mud.scene.toml", jobs=1)
    same = [name for name in found.columns if name != "point"]
    assert [[row[name] for name in same] for row in others.rows] == [
        [found.rows[number][name] for name in same] for number in (0, 2)
    ]


def test_a_scene_that_a_point_cannot_show_is_a_row_with_its_mistakes(place):
    """A memory of 256 bytes cannot hold the map of 256 and the patterns; without a bank the fill has a field too many."""
    vary = {"memory.size": [8192, 256], "layers.mud.modes.tiles.cell.bank": ["9:8", None]}
    found = vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", jobs=1)
    first, *others = (row["error"] for row in found.rows)
    assert first is None
    assert "mud.scene.toml" in others[0]
    assert "bank" in others[0]
    assert all(others)


def test_many_mistakes_of_a_point_are_counted(place):
    names = {
        "sprites.per_line": [0],
        "sprites.count": [0],
        "memory.size": [0],
        "palette.entries": [0],
        "frame.width": [0],
    }
    (row,) = vdpsim.sweep("knot.chip.toml", names, jobs=1).rows
    assert row["error"].count("knot.chip.toml:") == points.MOST_TOLD
    assert row["error"].endswith("; and 1 more")


def failing_at(monkeypatch, value, error):
    """Let the point whose chip takes ``value`` sprites a line fail of what nobody has foreseen."""
    right = points.budget

    def wrong(chip, *words):
        if chip.sprites.per_line == value:
            raise error
        return right(chip, *words)

    monkeypatch.setattr(points, "budget", wrong)
    return lambda: monkeypatch.setattr(points, "budget", right)


def test_a_point_that_fails_of_what_nobody_has_foreseen_takes_no_other_with_it(place, monkeypatch):
    failing_at(monkeypatch, 4, MemoryError("no more"))
    found = vdpsim.sweep("knot.chip.toml", {"sprites.per_line": [3, 4, 5]}, jobs=1)
    assert [row["error"] for row in found.rows] == [None, "MemoryError: no more", None]
    assert [row["used"] for row in found.rows] == [44, None, 48]


# --- going on ------------------------------------------------------------------------------------------------------------


class Dying(Executor):
    """Does what it is sent until it has done ``most`` points; from then on it fails, as a broken pool does."""

    def __init__(self, most=1 << 30):
        self.most, self.points = most, []

    def submit(self, work, /, *words, **named):
        """Do it at once, or fail."""
        future = Future()
        if len(self.points) + len(words[1]) > self.most:
            future.set_exception(RuntimeError("a worker has died"))
        else:
            self.points += [changes for changes, _ in words[1]]
            future.set_result(work(*words))
        return future


LONG = {"sprites.per_line": [1, 2, 3, 4, 5], "memory.accesses_per_dot": [1, "1/2"]}


def stopped(place, after=6, **more):
    """A sweep that has stopped after so many of its ten points, and its journal."""
    dying = Dying(after)
    with refused(vdpsim.SweepStoppedError, "the sweep has stopped: RuntimeError: a worker has died"):
        vdpsim.sweep("knot.chip.toml", LONG, scene="mud.scene.toml", executor=dying, journal="j/k.journal", **more)
    assert len(dying.points) == after
    return Path("j/k.journal")


def again(**more):
    """The same sweep once more: what it gave, and how many points had to be worked out."""
    living = Dying()
    words = {"scene": "mud.scene.toml", "executor": living, "journal": "j/k.journal", **more}
    found = vdpsim.sweep("knot.chip.toml", LONG, **words)
    assert found.reused + len(living.points) == len(found.rows)
    return found, len(living.points)


def test_a_stopped_sweep_goes_on_where_it_was(place):
    whole = everything(vdpsim.sweep("knot.chip.toml", LONG, scene="mud.scene.toml", jobs=1))
    kept = stopped(place)
    assert len(kept.read_text("utf-8").splitlines()) == 1 + 6
    found, worked = again()
    assert worked == 4
    assert everything(found) == whole
    found, worked = again()
    assert worked == 0
    assert everything(found) == whole


def test_an_executor_that_takes_nothing_more_stops_the_sweep(place):
    class Closed(Executor):
        def submit(self, work, /, *words, **named):
            """Refuse it."""
            raise RuntimeError("it is shut down")

    with refused(vdpsim.SweepStoppedError, "the sweep has stopped: RuntimeError: it is shut down"):
        vdpsim.sweep("knot.chip.toml", LONG, executor=Closed())


def test_what_comes_back_after_the_first_failure_is_kept_too(place):
    """Groups that are under way when one fails are awaited."""

    class Holed(Dying):
        def submit(self, work, /, *words, **named):
            """Fail once."""
            if len(self.points) == 2:
                self.points.append(None)
                future = Future()
                future.set_exception(RuntimeError("a worker has died"))
                return future
            return super().submit(work, *words)

    with refused(vdpsim.SweepStoppedError, "a worker has died"):
        vdpsim.sweep("knot.chip.toml", LONG, executor=Holed(), journal="k.journal")
    assert len(Path("k.journal").read_text("utf-8").splitlines()) == 1 + 9


def test_a_line_that_was_cut_off_is_worked_out_again(place):
    kept = stopped(place)
    whole = kept.read_bytes()
    kept.write_bytes(whole[:-40])
    found, worked = again()
    assert worked == 5
    assert not found.failed
    assert again()[1] == 0, "the line that was cut off has not spoiled the next"


def test_a_longer_sweep_takes_what_is_known(place, monkeypatch):
    stopped(place)
    monkeypatch.setitem(LONG, "sprites.per_line", [3, 9, 1])
    found, worked = again()
    assert worked == 6 - 4, "points 0, 1, 4 and 5 of the first sweep were known"
    assert [row["sprites.per_line"] for row in found.rows] == [3, 3, 9, 9, 1, 1]


CHANGES = {
    "the chip file": lambda place, monkeypatch: (place / "knot.chip.toml").write_text(
        CHIP.replace("slots = 2", "slots = 3"), "utf-8"
    ),
    "the scene file": lambda place, monkeypatch: (place / "mud.scene.toml").write_text(
        SCENE.replace("bank = 1", "bank = 0"), "utf-8"
    ),
    "a picture of the scene": lambda place, monkeypatch: (place / "mud.png").write_bytes(png(np.ones((8, 8)), 4)),
    "the release": lambda place, monkeypatch: monkeypatch.setattr(journal, "__version__", "0.0.0"),
    "the program": lambda place, monkeypatch: monkeypatch.setattr(journal, "_program", lambda: "another"),
}


@pytest.mark.parametrize("what", CHANGES)
def test_a_journal_is_not_used_once_something_has_changed(place, monkeypatch, what):
    stopped(place)
    CHANGES[what](place, monkeypatch)
    found, worked = again()
    assert worked == 10
    if what not in {"the release", "the program"}:
        fresh = vdpsim.sweep("knot.chip.toml", LONG, scene="mud.scene.toml", jobs=1)
        assert everything(found) == everything(fresh)
    assert again()[1] == 0


def test_another_frame_or_no_scene_is_another_sweep(place):
    stopped(place)
    assert again(frame=1)[1] == 10
    stopped(place)
    assert again(scene=None)[1] == 10


def test_what_hangs_on_a_file_that_the_sweep_does_not_have_is_neither_noted_nor_kept(place):
    """A point whose chip makes the scene open one file more than the chip that is varied does: its bytes are in no digest."""
    source, chip = inputs.read_chip("knot.chip.toml")[1:]
    task = inputs.task_of(source.text, source, chip, "mud.scene.toml", 0)
    assert set(task.files) == {str((place / name).resolve()) for name in ("mud.scene.toml", "mud.png")}
    less = replace(task, files={path: data for path, data in task.files.items() if not path.endswith(".png")})
    (found,) = points.run(less, [((), False)])
    assert (found.sure, points._KEPT) == (False, [])
    (same,) = points.run(task, [((), False)])
    assert (same.sure, len(points._KEPT)) == (True, 1)
    assert same.figures == found.figures


def test_a_failure_that_may_not_come_again_is_not_noted(place, monkeypatch):
    heal = failing_at(monkeypatch, 4, MemoryError("no more"))
    found, _ = again()
    assert len(found.failed) == 2
    heal()
    found, worked = again()
    assert worked == 2
    assert not found.failed


def test_a_point_without_its_picture_is_drawn_again(place):
    kept = stopped(place)
    lines = kept.read_text("utf-8").splitlines()
    told = json.loads(lines[1])
    lines[1] = json.dumps({**told, "picture": None})
    kept.write_text("\n".join(lines) + "\n", "utf-8")
    assert again()[1] == 5


def test_no_other_file_is_taken_for_a_journal(place):
    Path("notes.txt").write_text("remember the milk\n", "utf-8")
    with refused(vdpsim.InputError, "notes.txt: is not a sweep's journal: give another name, or remove it"):
        vdpsim.sweep("knot.chip.toml", LONG, journal="notes.txt", jobs=1)
    assert Path("notes.txt").read_text("utf-8") == "remember the milk\n"
    with refused(vdpsim.InputError, "cannot be read: it is no regular file"):
        vdpsim.sweep("knot.chip.toml", LONG, journal=".", jobs=1)


def test_an_interruption_leaves_what_is_finished(place):
    def told(done, total):
        if done == 3:
            raise KeyboardInterrupt("enough")

    with refused(KeyboardInterrupt, "enough"):
        vdpsim.sweep("knot.chip.toml", LONG, jobs=1, journal="k.journal", told=told)
    assert vdpsim.sweep("knot.chip.toml", LONG, jobs=1, journal="k.journal").reused == 3


def test_progress_is_told_point_by_point(place):
    told = []
    vdpsim.sweep("knot.chip.toml", {"sprites.per_line": [1, 2, 3]}, jobs=1, told=lambda *words: told.append(words))
    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]


# --- the table and the picture -------------------------------------------------------------------------------------------


def test_csv_and_json_say_what_python_gets(place):
    vary = {"sprites.per_line": [4, None, 0], "sprites.sizes": [[[8, 8]], [[16, 16]]], "sprites.front": ["first"]}
    found = vdpsim.sweep("knot.chip.toml", vary, scene="mud.scene.toml", jobs=1)
    told = json.loads(found.json())
    assert list(told) == ["chip", "vary", "scene", "frame", "rows"]
    assert told["rows"] == list(found.rows)
    assert (told["chip"], told["vary"], told["scene"]) == ("Knot", vary, "mud.scene.toml")
    read = list(csv.DictReader(io.StringIO(found.csv())))
    assert [list(row) for row in read] == [list(found.columns)] * 6

    def known(text):
        try:
            return json.loads(text)
        except ValueError:
            return text or None

    assert [{name: known(text) for name, text in row.items()} for row in read] == list(found.rows)


def test_the_picture_has_each_points_frame_and_says_what_became_of_it(place):
    found = vdpsim.sweep(
        "knot.chip.toml", {"sprites.per_line": [4, 0, 1], "sprites.front": ["first", "last"]}, scene="mud.scene.toml",
        jobs=1,
    )  # fmt: skip
    shown = np.asarray(found.picture())
    corners = []
    for data in found.pictures.values():
        with Image.open(io.BytesIO(data)) as image:
            small = np.asarray(image.convert("RGB"))
        assert small.shape == (128, 128, 3), "64 x 64 dots, each twice as large both ways"
        windows = np.lib.stride_tricks.sliding_window_view(shown, (128, 128, 3))[:, :, 0]
        row = np.flatnonzero((windows[:, :, 40:44, ::16] == small[40:44, ::16]).all(axis=(2, 3, 4)))
        here = [divmod(int(at), windows.shape[1]) for at in row]
        corners.append([(y, x) for y, x in here if (shown[y : y + 128, x : x + 128] == small).all()])
    assert all(corners)
    assert len({corner for some in corners for corner in some}) == 4


def test_bars_are_as_long_as_the_slots_that_they_stand_for(place):
    """80 and 40 slots; where the point does not fit the bar is of another colour, and hatched."""
    found = vdpsim.sweep("knot.chip.toml", {"memory.accesses_per_dot": [1, "1/2"]}, jobs=1)
    image = np.asarray(found.picture())
    bars = [(image == colour).all(axis=2).any(axis=0) for colour in (sheet.FITTING, sheet.OVER)]
    lengths = [int(np.flatnonzero(bar).max() - np.flatnonzero(bar).min()) for bar in bars]
    for row, length in zip(found.rows, lengths, strict=True):
        assert abs(length - row["used"] * sheet.BAR / 80) <= 4
    assert [row["verdict"] for row in found.rows] == ["fits", "does not fit"]


def test_bars_have_an_axis(place):
    """Ticks below it, 90 dots apart: 20 of 80 slots; the first beneath the left edge of the bars."""
    image = np.asarray(vdpsim.sweep("knot.chip.toml", {"memory.accesses_per_dot": [1]}, jobs=1).picture())
    ink = (image == sheet.INK).all(axis=2)
    line = next(y for y in range(len(ink) - 1, 0, -1) if ink[y].sum() == sheet.BAR + 1)
    assert np.diff(np.flatnonzero(ink[line + 1])).tolist() == [90] * 4
    assert np.flatnonzero(ink[line + 1])[0] == np.flatnonzero(ink[line])[0]
    assert ink[line - 8, np.flatnonzero(ink[line])[0]], "the edge of the bar"


@pytest.mark.parametrize("found", ["fits", "does not fit", "open"])
def test_no_hatching_breaks_the_edge_of_a_bar(found):
    """A bar of 60 dots from (20, 5) on, 11 dots below its top: its edges are ink from end to end."""
    body = Image.new("RGB", (200, 30), sheet.PAPER)
    row = {**ROW, "verdict": found, "used": 60, "slots_per_line": 80}
    sheet._bar(sheet.ImageDraw.Draw(body), (20, 5), row, 1.0)
    dots = np.asarray(body)
    assert (dots[5:17, 20] == sheet.INK).all() and (dots[5:17, 80] == sheet.INK).all()
    assert (dots[5, 20:81] == sheet.INK).all() and (dots[16, 20:81] == sheet.INK).all()
    assert (dots[:, :20] == sheet.PAPER).all()


def test_a_bar_too_short_for_its_number_has_it_beside():
    """Three digits of 6 dots and room for two more letters take 31 dots: a bar of 30 is paper, or its own colour, inside."""
    width = sheet.LETTER[0] * 5
    for used in (width, width + 1):
        body = Image.new("RGB", (400, 30), sheet.PAPER)
        row = {**ROW, "used": 100, "slots_per_line": 300}
        sheet._bar(sheet.ImageDraw.Draw(body), (20, 5), row, used / 100)
        dots = np.asarray(body)
        inside = (dots[7:15, 22 : 20 + used - 1] != sheet.FITTING).any()
        beside = (dots[7:15, 20 + used + 2 : 20 + used + 30] != sheet.PAPER).any()
        assert (inside, beside) == ((False, True) if used == width else (True, False))


ROW = {"error": None, "verdict": "fits", "gives_way": "far.cells, 2 slots", "slots_per_line": 80, "used": 77, "free": 3}
"""What the sheet shows of a point."""


def test_verdicts_stand_in_words():
    assert sheet.verdict(ROW) == "fits: 3 of 80 slots free"
    drawn = {**ROW, "verdict": "does not fit", "scene_missed": 7, "scene_dropped_count": 1, "scene_dropped_slots": 2}
    assert sheet.verdict(drawn) == "DOES NOT FIT: 3 of 80 slots free, 7 missed, 3 dropped"
    drawn |= {"scene_missed": 0, "scene_unread": 4}
    assert sheet.verdict(drawn) == "DOES NOT FIT: 3 of 80 slots free, 4 of the table not read, 3 dropped"
    late = {**ROW, "verdict": "does not fit", "gives_way": "far.cells, 4 missed"}
    assert sheet.verdict(late) == "DOES NOT FIT: 3 of 80 slots free, far.cells 4 missed"
    assert sheet.verdict({**ROW, "verdict": "open"}) == "OPEN: 3 of 80 slots free, far.cells 2 slots"
    bare = dict.fromkeys(ROW) | {"chip_bits": 1234}
    assert sheet.verdict(bare) == "no time table: 1,234 bits on the chip"
    assert sheet.verdict({**ROW, "error": "no chip"}) == "FAILED: no chip"


OUTCOMES = ("fits", "does not fit", "open", None, "failed")
"""One of each: three verdicts, none without a time table, and a point that is no chip."""


def rows_of_each(**figures):
    """A row for each of ``OUTCOMES``."""
    rows = [{"point": number, "x": number, **ROW, "verdict": one, **figures} for number, one in enumerate(OUTCOMES)]
    rows[3] |= dict.fromkeys(ROW) | {"chip_bits": 1234}
    rows[4] |= dict.fromkeys(ROW) | {"error": "no chip"}
    return tuple(rows)


def test_points_are_counted_by_what_became_of_them():
    """The words of the summary, and each outcome is there once however many points there are of another."""
    assert counted(rows_of_each()) == "1 fit, 1 do not fit, 1 open, 1 without a time table, 1 failed"
    assert counted([ROW, ROW]) == "2 fit"
    assert set(map(outcome, rows_of_each())) == set(OUTCOMES_OF_ROWS) == set(sheet.LOOKS)


def lightness(colour):
    """CIE 1931 luminance of an sRGB colour, 0 to 1 (IEC 61966-2-1)."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


def test_each_outcome_has_a_bar_of_its_own_even_without_colours():
    """What differs in colour differs in light too, and ink on it can be read: contrast as WCAG 2.2 reckons it, 1.4.3."""
    shares = []
    for row in rows_of_each()[:3]:
        image = np.asarray(sheet.sheet(vdpsim.Sweep("x", {"x": (row["x"],)}, None, 0, (row,))))
        shares.append(int((image == sheet.LOOKS[row["verdict"]].colour).all(axis=2).sum()))
    assert shares[0] > shares[1] > shares[2], "bars of one length, hatched and dotted ones show less of their colour"
    looks = [sheet.LOOKS[one] for one in OUTCOMES[:3]]
    lights = sorted(lightness(look.colour) for look in looks)
    assert all((b + 0.05) / (a + 0.05) > 1.3 for a, b in pairwise(lights))
    for look in looks:
        dark, light = sorted((lightness(look.colour), lightness(look.ink)))
        assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_a_frame_has_a_broken_edge_only_where_it_is_open():
    picture = io.BytesIO()
    Image.new("RGB", (100, 100), sheet.NONE).save(picture, "PNG")
    colours = []
    for row in rows_of_each():
        rows, pictures = ({**row, "point": 0},), {0: picture.getvalue()}
        image = np.asarray(sheet.sheet(vdpsim.Sweep("x", {"x": (row["x"],)}, "s", 0, rows, 0, pictures)))
        beside = image[:, sheet.GAP - 3]  # the left edge of the frame: above and below it is paper, or what is written
        middle = len(beside) // 2
        edge = {tuple(map(int, dot)) for dot in beside[middle - 20 : middle + 20]}
        assert sheet.LOOKS[outcome(row)].colour in edge
        colours.append(len(edge))
    assert colours == [1, 1, 2, 1, 1]


@pytest.mark.parametrize(
    ("given", "plain"),
    [
        (0.5, 0.5), (-1e308, -1e308), (3, 3), (True, True), (None, None), ("1/2", "1/2"), (Fraction(1, 2), "1/2"),
        (np.float32(0.5), 0.5), (np.int8(-3), -3), ((1, 0.5), [1, 0.5]), ({1: (2,)}, {"1": [2]}),
    ],
)  # fmt: skip
def test_a_value_is_what_a_chip_file_could_hold(given, plain):
    found = fields.plain_value(given)
    assert (found, type(found)) == (plain, type(plain))


@pytest.mark.parametrize("given", [float("inf"), float("nan"), {1, 2}, object(), [float("-inf")]])
def test_a_value_that_no_chip_file_could_hold_is_refused(given):
    with refused(ValueError, "must be numbers, texts, lists or tables, as a chip file holds them, got"):
        fields.plain_value(given)


def test_where_no_point_has_a_picture_each_has_room_of_a_line_of_letters():
    """13 dots for the picture that is not there, 13 for each line of words and 4, and a gap of 12 above and below."""
    found = vdpsim.Sweep("x", {"x": (0,)}, "s", 0, ({**rows_of_each()[0], "point": 0},), 0, {})
    words = sheet._caption(found, ["x"], found.rows[0], sheet.PICTURE[0])
    assert sheet._frames(found).size == (sheet.PICTURE[0] + 24, 13 + 13 * len(words) + 4 + 24)


def test_fields_are_labelled_by_as_few_parts_as_tell_them_apart():
    assert sheet.short_names(["sprites.per_line", "memory.size"]) == ["per_line", "size"]
    names = ["layers.near.modes.tiles.tile", "layers.far.modes.tiles.tile"]
    assert sheet.short_names(names) == ["near.modes.tiles.tile", "far.modes.tiles.tile"]
    assert sheet.short_names(['registers."a.b".bits']) == ["bits"]
    same = ["memory.size", 'memory."size"']
    assert sheet.short_names(same) == same, "two ways to write one path have all of it"


def test_points_without_slots_have_no_axis():
    row = {**rows_of_each()[0], "point": 0, "x": 0}
    for slots, axis in ((80, True), (None, False)):
        found = vdpsim.Sweep("x", {"x": (0,)}, None, 0, ({**row, "slots_per_line": slots, "used": 77},), 0, {})
        ink = (np.asarray(sheet._bars(found)) == sheet.INK).all(axis=2)
        assert (ink.sum(axis=1) == sheet.BAR + 1).any() == axis


def test_a_journal_that_the_disk_has_no_room_for_is_named(tmp_path):
    one = journal.Journal(tmp_path / "k.journal", "it")
    result = points.PointResult({"error": None}, None, sure=True)
    one.add({"x": 1}, result)
    (tmp_path / "k.journal").unlink()
    (tmp_path / "k.journal").symlink_to("/dev/full")
    with pytest.raises(OSError, match=r"No space left on device: .*k\.journal"):
        one.add({"x": 2}, result)


def test_a_picture_of_many_points_shows_every_so_manieth(place, monkeypatch):
    monkeypatch.setattr(swept, "MOST_SHOWN", 3)
    found = vdpsim.sweep("knot.chip.toml", {"sprites.per_line": range(1, 9)}, scene="mud.scene.toml", jobs=1)
    assert list(found.shown) == sorted(found.pictures) == [0, 3, 6]
    assert "shown: 3 of them, one in 3" in "\n".join(sheet._head(found))


def test_a_name_that_the_font_does_not_have_is_drawn_all_the_same(place):
    chip = vdpsim.parse_chip(CHIP.replace('"Knot"', '"\u9dfa"'))
    found = vdpsim.sweep(chip, {"sprites.per_line": [1]}, jobs=1)
    assert found.picture().width > 100
    assert "\u9dfa" in found.json()


@pytest.mark.parametrize(
    ("counts", "across"), [((4,), 4), ((2, 3), 3), ((12, 2), 4), ((9,), 8), ((40, 3), 6), ((1,), 1), ((30, 7), 7)]
)
def test_columns_of_frames_agree_with_the_last_field(counts, across):
    total = int(np.prod(counts))
    vary = {f"f{number}": tuple(range(count)) for number, count in enumerate(counts)}
    rows = tuple({"point": number} for number in range(total))
    assert sheet._across(vdpsim.Sweep("x", vary, "s", 0, rows)) == across


def test_bars_have_the_published_colours():
    """Blue, vermillion and yellow of M. Okabe and K. Ito, "Color Universal Design", https://jfly.uni-koeln.de/color/."""
    assert (sheet.FITTING, sheet.OVER, sheet.OPEN) == ((0, 114, 178), (213, 94, 0), (240, 228, 66))


def test_what_is_too_long_for_the_sheet_is_cut_with_dots():
    assert [sheet._cut("abcdefgh", longest) for longest in (7, 8, 9)] == ["abcd...", "abcdefgh", "abcdefgh"]


@pytest.mark.parametrize(("told", "cores"), [(5, 5), (None, 1)])
def test_cores_where_the_system_does_not_say_which_are_ours(monkeypatch, told, cores):
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: told)
    assert workers.cores() == cores
