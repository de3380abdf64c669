"""A comparator that never failed is no comparator: every fault planted in a good account of a frame is reported, in its place."""

from __future__ import annotations

import dataclasses
from copy import deepcopy
from functools import partial
from typing import Any

import numpy as np
import pytest
from agreement import differences, plane_differences, result_differences, state_differences
from paper import BITMAP, SPRITES, TILES, holding, small_chip, sprite
from twin import draw_frame

from vdpsim.engine import Plan, draw

FIELDS = {**SPRITES["fields"], "y": "13:8"}
ENGINE = {**SPRITES, "fields": FIELDS, "per_line": 3, "resolve": "rung by rung"}
TABLE = [sprite(4, 8, 1), sprite(7, 9, 1, priority=1), sprite(9, 9, 1), sprite(30, 9, 1)]
LADDER = [{"source": "sprites", "when": "priority = 1"}, {"source": "a"}, {"source": "sprites"}, {"source": "b"}]
COLLISIONS = {"groups": ["hull"], "pairs": [["hull", "hull"]]}


@pytest.fixture(scope="module")
def scene():
    """(chip, twin, result, twin's state, engine's state) of a frame with drops, collisions and every client of two layers."""
    chip = small_chip({**TILES, "transparent": 0}, BITMAP, sprites=ENGINE, ladder=LADDER, collisions=COLLISIONS)
    memory = {0: bytes(range(128)), 128: bytes(range(1, 256)), 512 + 4: b"\xff" * 4}
    state = holding(chip, memory, TABLE, sprites__patterns=512, a__t__patterns=128, b__b__bitmap=256)
    other = state.copy()
    twin = draw_frame(state)
    return chip, twin, draw(Plan(chip), other, planes=True), state, other


def test_the_scene_is_rich_and_agrees(scene):
    chip, twin, result, state, other = scene
    assert (
        differences(chip, twin, result) + plane_differences(chip, twin, result) + state_differences(state, other) == []
    )
    assert result_differences(result, result) == []
    assert twin.drops == [(line, 3, "count") for line in (9, 10, 11)]
    assert {record[1:3] for record in twin.collisions} == {(0, 1), (0, 2), (1, 2)}
    assert {number for row in twin.source for number in row} == {1, 2, 3}


def changed(array: np.ndarray, at: Any, value: Any) -> np.ndarray:
    """A copy of ``array`` with another value at one place."""
    copy = array.copy()
    assert copy[at] != value
    copy[at] = value
    return copy


def log_with(result, **parts):
    return dataclasses.replace(result, log=dataclasses.replace(result.log, **parts))


def one_more(array: np.ndarray, at: Any) -> np.ndarray:
    """A copy of ``array`` with one place counted one up."""
    copy = array.copy()
    copy[at] += 1
    return copy


RESULT_FAULTS = {
    "indices line 5 dot 63": lambda r: dataclasses.replace(r, indices=one_more(r.indices, (5, 63))),
    "source line 0 dot 0": lambda r: dataclasses.replace(r, source=changed(r.source, (0, 0), 0)),
    "rung line 63 dot 1": lambda r: dataclasses.replace(r, rung=one_more(r.rung, (63, 1))),
    "sprite line 9 dot 8": lambda r: dataclasses.replace(r, sprite=one_more(r.sprite, (9, 8))),
    "rgb line 7 dot 2": lambda r: dataclasses.replace(r, rgb=one_more(r.rgb, (7, 2, 2))),
    "indices: 64 lines and 63": lambda r: dataclasses.replace(r, indices=r.indices[:63]),
    "indices line 0: 64 dots and 63": lambda r: dataclasses.replace(r, indices=r.indices[:, :63]),
    "border colour line 8": lambda r: dataclasses.replace(r, border_rgb=one_more(r.border_rgb, (8, 0))),
    "border colour: 64 rows and 63": lambda r: dataclasses.replace(r, border_rgb=r.border_rgb[1:]),
    "first line": lambda r: dataclasses.replace(r, first=1),
    "fetches of a.cells line 3": lambda r: log_with(r, counts=one_more(r.log.counts, (3, 0))),
    "fetches of a.pattern line 4": lambda r: log_with(r, counts=one_more(r.log.counts, (4, 1))),
    "fetches of b.bitmap line 5": lambda r: log_with(r, counts=one_more(r.log.counts, (5, 2))),
    "fetches of sprites.pattern line 6": lambda r: log_with(r, counts=one_more(r.log.counts, (6, 3))),
    "fetches of all clients line 0": lambda r: log_with(r, counts=r.log.counts[:, :3]),
    "fetches of a.cells: 64 rows and 63": lambda r: log_with(r, counts=r.log.counts[:63]),
    "clients": lambda r: log_with(r, clients=r.log.clients[::-1]),
    "sprites found line 9": lambda r: log_with(r, found=one_more(r.log.found, 9)),
    "sprites drawn line 9": lambda r: log_with(r, drawn=one_more(r.log.drawn, 9)),
    "drops: only the twin has (9, 3, 'count')": lambda r: dataclasses.replace(r, drops=r.drops[1:]),
    "drops: 3 records and 4": lambda r: dataclasses.replace(r, drops=np.concatenate([r.drops, r.drops[:1]])),
    "drops: another order": lambda r: dataclasses.replace(r, drops=r.drops[::-1]),
    "drops: only the engine has (9, 2, 'count')": lambda r: dataclasses.replace(r, drops=_record(r.drops, "sprite", 2)),
    "drops: only the engine has (9, 3, 'dots')": lambda r: dataclasses.replace(r, drops=_record(r.drops, "reason", "dots")),
    "collisions: only the engine has (9, 0, 1, 8)": lambda r: dataclasses.replace(r, collisions=_record(r.collisions, "dot", 8)),
    "collisions: another order": lambda r: dataclasses.replace(r, collisions=r.collisions[::-1]),
    "collisions: only the twin has (9, 0, 1, 7)": lambda r: dataclasses.replace(r, collisions=r.collisions[1:]),
    "collision flags": lambda r: dataclasses.replace(r, collision_flags=r.collision_flags ^ 2),
}  # fmt: skip


def one_more_in(name: str, result: Any) -> Any:
    """The result with one place of its array ``name`` counted one up."""
    return dataclasses.replace(result, **{name: one_more(getattr(result, name), (5, 0))})


def _record(records: np.ndarray, field: str, value: Any) -> np.ndarray:
    copy = records.copy()
    copy[field][0] = value
    return copy


@pytest.mark.parametrize("told", RESULT_FAULTS)
def test_a_fault_in_the_result_is_told(scene, told):
    """One wrong dot, fetch, drop or collision of the engine's is found against the twin."""
    chip, twin, result, *_ = scene
    found = differences(chip, twin, RESULT_FAULTS[told](result))
    assert any(text.startswith(told) for text in found), found


SLICE_FAULTS = {
    "frame": lambda r: dataclasses.replace(r, frame=1),
    "sources": lambda r: dataclasses.replace(r, sources=r.sources[1:]),
    "rungs": lambda r: dataclasses.replace(r, rungs=r.rungs[1:]),
    "log": lambda r: log_with(r, first=1),
    "log counts line 3": lambda r: log_with(r, counts=one_more(r.log.counts, (3, 0))),
    "log found line 9": lambda r: log_with(r, found=one_more(r.log.found, 9)),
    "log drawn line 9": lambda r: log_with(r, drawn=one_more(r.log.drawn, 9)),
    "border_rgb line 8": lambda r: dataclasses.replace(r, border_rgb=one_more(r.border_rgb, (8, 0))),
    "drops: 3 rows and 2": lambda r: dataclasses.replace(r, drops=r.drops[1:]),
    "collisions line 0": lambda r: dataclasses.replace(r, collisions=_record(r.collisions, "dot", 8)),
    **{f"{name} line 5": partial(one_more_in, name) for name in ("indices", "source", "rung", "sprite", "rgb")},
}


@pytest.mark.parametrize("told", SLICE_FAULTS)
def test_a_fault_between_two_results_is_told(scene, told):
    """The same where a frame drawn in slices is held against the whole."""
    result = scene[2]
    found = result_differences(result, SLICE_FAULTS[told](result))
    assert any(text.startswith(told) for text in found), found


@pytest.mark.parametrize("name", ["a", "b", "sprites"])
@pytest.mark.parametrize("part", ["entry", "opaque", "missing"])
def test_a_fault_in_a_source_alone_is_told(scene, name, part):
    """A wrong entry where the source shows something, a dot too many or too few, a source that is not there."""
    chip, twin, result, *_ = scene
    planes = dict(result.planes)
    plane = planes.pop(name)
    line, dot = np.argwhere(plane.opaque)[0].tolist()
    if part == "entry":
        planes[name] = dataclasses.replace(plane, entry=one_more(plane.entry, (line, dot)))
    elif part == "opaque":
        planes[name] = dataclasses.replace(plane, opaque=changed(plane.opaque, (line, dot), value=False))
    found = plane_differences(chip, twin, dataclasses.replace(result, planes=planes))
    place = f"plane {name}: only one" if part == "missing" else f"plane {name} line {line} dot {dot}:"
    assert any(text.startswith(place) for text in found), found


@pytest.mark.parametrize("part", ["cell", "word", "data"])
def test_a_fault_in_what_fed_a_dot_is_told(scene, part):
    chip, twin, result, *_ = scene
    plane = result.planes["a"]
    line, dot = np.argwhere(plane.fed.data >= 0)[0].tolist()
    fed = dataclasses.replace(plane.fed, **{part: one_more(getattr(plane.fed, part), (line, dot))})
    planes = {**result.planes, "a": dataclasses.replace(plane, fed=fed)}
    found = plane_differences(chip, twin, dataclasses.replace(result, planes=planes))
    assert any(text.startswith(f"feeds of a line {line} dot {dot}:") for text in found), found


@pytest.mark.parametrize(("part", "told"), [("rung", "lowest rung line"), ("entry", "standing entry of source")])
def test_a_fault_in_where_a_source_stands_is_told(scene, part, told):
    chip, twin, result, *_ = scene
    line, dot = np.argwhere(result.source == 1)[0].tolist()
    plane = result.planes["a"]
    stands = dataclasses.replace(plane.standing, **{part: one_more(getattr(plane.standing, part), (line, dot))})
    planes = {**result.planes, "a": dataclasses.replace(plane, standing=stands)}
    found = plane_differences(chip, twin, dataclasses.replace(result, planes=planes))
    assert any(text.startswith(told) for text in found), found


STATE_FAULTS = {
    "state memory at 1023": lambda s: s.memory.__setitem__(1023, s.memory[1023] ^ 1),
    "state palette at 2": lambda s: s.palette.__setitem__(2, 99),
    "state sprites at 4": lambda s: s.sprites.__setitem__((1, 1), 99),
    "state controls at 1": lambda s: s.controls.__setitem__(1, 0),
    "state next_frame": lambda s: s.next_frame.__setitem__(0, 1),
    "state frame": lambda s: setattr(s, "frame", 2),
    "state line": lambda s: setattr(s, "line", 1),
    "state collision_flags": lambda s: setattr(s, "collision_flags", 0),
    "state memory: 1024 rows and 1023": lambda s: setattr(s, "memory", s.memory[1:]),
}


@pytest.mark.parametrize("told", STATE_FAULTS)
def test_a_fault_in_the_state_is_told(scene, told):
    """One wrong byte, word, register or flag of what the chip holds afterwards."""
    state = scene[3]
    other = state.copy()
    STATE_FAULTS[told](other)
    found = state_differences(state, other)
    assert any(text.startswith(told) for text in found), found


def test_a_fault_in_the_twin_is_told_too(scene):
    """The comparator takes no side: a wrong dot of the twin's is a difference as well."""
    chip, twin, result, *_ = scene
    wrong = deepcopy(twin)
    wrong.indices[12][34] += 1
    assert differences(chip, wrong, result) == [
        f"indices line 12 dot 34: {twin.indices[12][34] + 1} and {twin.indices[12][34]}"
    ]
