"""What Python calls refuse: every argument of the public names, given values of the wrong kind and out of range.

Each is a TypeError or a ValueError, or the KeyError or IndexError that is documented, told at once, in words that name the
argument and repeat what was given; what was called with it is as it was.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import partial
from math import nan
from random import Random
from typing import Any

import numpy as np
import pytest
from budgeted import any_odd
from little import machine as little_machine
from refusal import refused
from wrong_values import FROM_ZERO, NO_OBJECT, NOT_BYTES, NOT_FLAG, NOT_SEVERAL, NOT_TEXT, NOT_WHOLE, WHOLE, names_it

import vdpsim

CURLEW, DUNLIN = (f"scenes/chips/{name}.chip.toml" for name in ("curlew", "dunlin"))
FERRY, SLIPWAY = (f"scenes/{name}.scene.toml" for name in ("ferry", "slipway"))


@pytest.fixture(scope="module")
def things() -> dict[str, Any]:
    chip, scene, slip = vdpsim.load_chip(CURLEW), vdpsim.load_scene(FERRY), vdpsim.load_scene(SLIPWAY)
    frame = vdpsim.render(scene, planes=True)
    return {
        "chip": chip,
        "scene": scene,
        "slip": slip,
        "frame": frame,
        "traced": vdpsim.render(slip, trace=True),
        "comparison": vdpsim.compare([chip, vdpsim.load_chip(DUNLIN)], FERRY),
    }


Call = Callable[[dict[str, Any], Any], Any]

TABLE: dict[str, tuple[Call, tuple[Any, ...], str]] = {
    "render scene": (lambda t, v: vdpsim.render(v), NO_OBJECT, "scene"),
    "render frame": (lambda t, v: vdpsim.render(t["scene"], v), FROM_ZERO, "frame"),
    "render rule": (lambda t, v: vdpsim.render(t["scene"], 0, v), NO_OBJECT[1:], "rule"),
    "render planes": (lambda t, v: vdpsim.render(t["scene"], planes=v), NOT_FLAG, "planes"),
    "render damage": (lambda t, v: vdpsim.render(t["scene"], damage=v), NOT_FLAG, "damage"),
    "render trace": (lambda t, v: vdpsim.render(t["scene"], trace=v), NOT_FLAG, "trace"),
    "frames scene": (lambda t, v: vdpsim.frames(v, [0]), NO_OBJECT, "scene"),
    "frames wanted": (lambda t, v: vdpsim.frames(t["scene"], v), (None, *NOT_SEVERAL), "wanted"),
    "frames number": (lambda t, v: list(vdpsim.frames(t["scene"], [v])), FROM_ZERO, "wanted"),
    "frames planes": (lambda t, v: vdpsim.frames(t["scene"], [0], planes=v), NOT_FLAG, "planes"),
    "state frame": (lambda t, v: t["scene"].state(v), FROM_ZERO, "frame"),
    "state left": (lambda t, v: t["scene"].state(0, v), NO_OBJECT[1:], "left"),
    "writes frame": (lambda t, v: t["scene"].writes(v), FROM_ZERO, "frame"),
    "Machine chip": (lambda t, v: vdpsim.Machine(v), NO_OBJECT, "chip"),
    "Machine state": (lambda t, v: vdpsim.Machine(t["chip"], v), NO_OBJECT[1:], "state"),
    "Machine.of scene": (lambda t, v: vdpsim.Machine.of(v), NO_OBJECT, "scene"),
    "Machine.of frame": (lambda t, v: vdpsim.Machine.of(t["scene"], v), FROM_ZERO, "frame"),
    "State.at_reset": (lambda t, v: vdpsim.State.at_reset(v), NO_OBJECT, "chip"),
    "image scale": (lambda t, v: t["frame"].image(v), WHOLE, "scale"),
    "image border": (lambda t, v: t["frame"].image(1, v), NOT_FLAG, "border"),
    "png scale": (lambda t, v: t["frame"].png(scale=v), WHOLE, "scale"),
    "save path": (lambda t, v: t["frame"].save(v), (None, nan, 1, True, b"bytes", [], object()), "path"),
    "save scale": (lambda t, v: t["frame"].save("/nowhere/x.png", v), WHOLE, "scale"),
    "views frame": (lambda t, v: vdpsim.views(v), NO_OBJECT, "frame"),
    "views scale": (lambda t, v: vdpsim.views(t["frame"], v), WHOLE, "scale"),
    "source_map frame": (lambda t, v: vdpsim.source_map(v), NO_OBJECT, "frame"),
    "source_map scale": (lambda t, v: vdpsim.source_map(t["frame"], v), WHOLE, "scale"),
    "bus_map frame": (lambda t, v: vdpsim.bus_map(v), NO_OBJECT, "frame"),
    "bus_map scale": (lambda t, v: vdpsim.bus_map(t["traced"], v), WHOLE, "scale"),
    "trace_npz": (lambda t, v: vdpsim.trace_npz(v), NO_OBJECT, "frame"),
    "png_bytes": (lambda t, v: vdpsim.png_bytes(v), NO_OBJECT, "image"),
    "join": (lambda t, v: vdpsim.join(v), (None, *NOT_SEVERAL, []), "parts"),
    "join part": (lambda t, v: vdpsim.join([t["frame"], v]), NO_OBJECT, "parts"),
    "log_data": (lambda t, v: vdpsim.log_data(v), NO_OBJECT, "result"),
    "log_text": (lambda t, v: vdpsim.log_text(v, ".csv"), NO_OBJECT, "result"),
    "log_text ending": (lambda t, v: vdpsim.log_text(t["frame"], v), (*NOT_TEXT, ".tsv", "x" * 9999), "a log file|ending"),
    "side_by_side": (lambda t, v: vdpsim.side_by_side(v), NO_OBJECT, "comparison"),
    "side_by_side scale": (lambda t, v: vdpsim.side_by_side(t["comparison"], v), WHOLE, "scale"),
    "budget chip": (lambda t, v: vdpsim.budget(v), NO_OBJECT, "chip"),
    "budget scene": (lambda t, v: vdpsim.budget(t["chip"], v), NO_OBJECT[1:], "scene"),
    "budget frames": (lambda t, v: vdpsim.budget(t["chip"], t["scene"], v), NOT_SEVERAL, "frames"),
    "budget frame": (lambda t, v: vdpsim.budget(t["chip"], t["scene"], [v]), FROM_ZERO, "frames"),
    "budget_data": (lambda t, v: vdpsim.budget_data(v), NO_OBJECT, "budget"),
    "witness_of": (lambda t, v: vdpsim.witness_of(v), NO_OBJECT, "found"),
    "compare chips": (lambda t, v: vdpsim.compare(v), (None, *NOT_SEVERAL, []), "chips"),
    "compare chip": (lambda t, v: vdpsim.compare([t["chip"], v]), NO_OBJECT, "chips"),
    "compare scene": (lambda t, v: vdpsim.compare([t["chip"]] * 2, v), (nan, 1, True, b"x", [], object()), "scene"),
    "compare frame": (lambda t, v: vdpsim.compare([t["chip"]] * 2, FERRY, v), FROM_ZERO, "frame"),
    "comparison_data": (lambda t, v: vdpsim.comparison_data(v), NO_OBJECT, "found"),
    "sweep chip": (lambda t, v: vdpsim.sweep(v, {}), (None, nan, 1, True, b"x", [], object()), "chip"),
    "sweep vary": (lambda t, v: vdpsim.sweep(CURLEW, v), NO_OBJECT, "vary"),
    "sweep vary name": (lambda t, v: vdpsim.sweep(CURLEW, {v: [1]}), (None, nan, 1, True, b"x"), "vary"),
    "sweep values": (lambda t, v: vdpsim.sweep(CURLEW, {"frame.width": v}), (None, *NOT_SEVERAL), "frame.width"),
    "sweep scene": (lambda t, v: vdpsim.sweep(CURLEW, {}, scene=v), (nan, 1, True, b"x", [], object()), "scene"),
    "sweep frame": (lambda t, v: vdpsim.sweep(CURLEW, {"frame.width": [256]}, frame=v), FROM_ZERO, "frame"),
    "sweep jobs": (lambda t, v: vdpsim.sweep(CURLEW, {}, jobs=v), (*NOT_WHOLE[1:], 0, -1), "jobs"),
    "sweep executor": (lambda t, v: vdpsim.sweep(CURLEW, {}, executor=v), NO_OBJECT[1:], "executor"),
    "sweep journal": (lambda t, v: vdpsim.sweep(CURLEW, {}, journal=v), (nan, 1, True, b"x", [], object()), "journal"),
    "sweep told": (lambda t, v: vdpsim.sweep(CURLEW, {}, told=v), NO_OBJECT[1:], "told"),
    "load_chip": (lambda t, v: vdpsim.load_chip(v), (None, nan, 0, True, b"x", [], object()), "path"),
    "parse_chip": (lambda t, v: vdpsim.parse_chip(v), NOT_TEXT, "text"),
    "parse_chip name": (lambda t, v: vdpsim.parse_chip("", v), NOT_TEXT, "name"),
    "load_scene": (lambda t, v: vdpsim.load_scene(v), (None, nan, 0, True, b"x", [], object()), "path"),
    "load_scene chip": (lambda t, v: vdpsim.load_scene(FERRY, v), NO_OBJECT[1:], "chip"),
    "line_rate": (lambda t, v: vdpsim.line_rate(v), NO_OBJECT, "frame"),
    "frame_rate": (lambda t, v: vdpsim.frame_rate(v), NO_OBJECT, "frame"),
    "display_frame name": (lambda t, v: vdpsim.display_frame(v, 256, 192), (*NOT_TEXT, "none"), "name|display"),
    "display_frame width": (lambda t, v: vdpsim.display_frame("625 lines", v, 192), WHOLE, "width"),
    "display_frame height": (lambda t, v: vdpsim.display_frame("625 lines", 256, v), WHOLE, "height"),
    "display_frame dots": (lambda t, v: vdpsim.display_frame("625 lines", 256, 192, v), WHOLE[1:], "dots"),
    "frame_text": (lambda t, v: vdpsim.frame_text(v), NO_OBJECT, "frame"),
    "display_warnings": (lambda t, v: vdpsim.display_warnings(v), NO_OBJECT, "frame"),
    "design_warnings": (lambda t, v: vdpsim.design_warnings(v), NO_OBJECT, "chip"),
    "schema": (lambda t, v: vdpsim.schema(v), (*NOT_TEXT, "picture"), "kind"),
    "animation frames": (lambda t, v: vdpsim.animation(v, t["chip"]), (None, *NOT_SEVERAL), "frames"),
    "animation frame": (lambda t, v: vdpsim.animation([v], t["chip"]), NO_OBJECT, "frames"),
    "animation chip": (lambda t, v: vdpsim.animation([t["frame"]], v), NO_OBJECT, "chip"),
    "animation ending": (lambda t, v: vdpsim.animation([t["frame"]], t["chip"], v), (*NOT_TEXT, ".bmp"), "ending|ends"),
    "animation step": (lambda t, v: vdpsim.animation([t["frame"]], t["chip"], step=v), (*NOT_WHOLE, 0, -1, 2**70), "step"),
    "animation scale": (lambda t, v: vdpsim.animation([t["frame"]], t["chip"], scale=v), WHOLE, "scale"),
    "animation border": (lambda t, v: vdpsim.animation([t["frame"]], t["chip"], border=v), NOT_FLAG, "border"),
    "flashes": (lambda t, v: vdpsim.flashes(v, 50), (None, *NOT_SEVERAL, []), "pictures?"),
    "flashes picture": (lambda t, v: vdpsim.flashes([v], 50), (None, 5, "text", [], object(), np.zeros(3)), "picture"),
    "flashes rate": (lambda t, v: vdpsim.flashes([t["frame"].rgb], v), (None, nan, 0, -1, "text", True, [], object()), "rate"),
    "report_page": (lambda t, v: vdpsim.report_page(v), NO_OBJECT, "scene"),
    "report_page wanted": (lambda t, v: vdpsim.report_page(t["scene"], v), NOT_SEVERAL, "wanted"),
    "report_page frame": (lambda t, v: vdpsim.report_page(t["scene"], [v]), FROM_ZERO, "wanted"),
    "report_page progress": (lambda t, v: vdpsim.report_page(t["scene"], [0], v), NO_OBJECT[1:], "progress"),
    "RegisterWrite line": (lambda t, v: vdpsim.RegisterWrite(v, "backdrop", 0), NOT_WHOLE, "line"),
    "RegisterWrite name": (lambda t, v: vdpsim.RegisterWrite(0, v, 0), NOT_TEXT, "name"),
    "RegisterWrite value": (lambda t, v: vdpsim.RegisterWrite(0, "backdrop", v), NOT_WHOLE, "value"),
    "RegisterWrite dot": (lambda t, v: vdpsim.RegisterWrite(0, "backdrop", 0, v), NOT_WHOLE, "dot"),
    "PaletteWrite entry": (lambda t, v: vdpsim.PaletteWrite(0, v, (1,)), NOT_WHOLE, "entry"),
    "PaletteWrite words": (lambda t, v: vdpsim.PaletteWrite(0, 0, v), (None, *NOT_SEVERAL), "words"),
    "PaletteWrite word": (lambda t, v: vdpsim.PaletteWrite(0, 0, (v,)), NOT_WHOLE, "words"),
    "SpriteWrite offset": (lambda t, v: vdpsim.SpriteWrite(0, v, b"x"), NOT_WHOLE, "offset"),
    "SpriteWrite data": (lambda t, v: vdpsim.SpriteWrite(0, 0, v), NOT_BYTES, "data"),
    "MemoryWrite address": (lambda t, v: vdpsim.MemoryWrite(0, v, b"x"), NOT_WHOLE, "address"),
    "MemoryWrite data": (lambda t, v: vdpsim.MemoryWrite(0, 0, v), NOT_BYTES, "data"),
    "Transfer line": (lambda t, v: vdpsim.Transfer(v, 0, b"x"), NOT_WHOLE, "line"),
    "Transfer address": (lambda t, v: vdpsim.Transfer(0, v, b"x"), NOT_WHOLE, "address"),
    "Transfer data": (lambda t, v: vdpsim.Transfer(0, 0, v), NOT_BYTES, "data"),
    "Transfer step": (lambda t, v: vdpsim.Transfer(0, 0, b"x", 0, v), NOT_WHOLE, "step"),
    "PortWrite address": (lambda t, v: vdpsim.PortWrite(0, v, 0), NOT_WHOLE, "address"),
    "PortWrite value": (lambda t, v: vdpsim.PortWrite(0, 0, v), NOT_WHOLE, "value"),
}  # fmt: skip

ODD = (KeyError, IndexError)


def told(call: Callable[[], Any]) -> str:
    """What is said of a refusal; fails for anything else."""
    try:
        call()
    except (TypeError, ValueError, *ODD) as refusal:
        return str(refusal)
    pytest.fail("it is not refused")


@pytest.mark.parametrize("row", TABLE)
def test_a_wrong_argument_is_refused(things, row):
    call, wrong, name = TABLE[row]
    for value in wrong:
        text = told(partial(call, things, value))
        names_it(text, name, value)


def test_a_budget_of_a_scene_is_of_its_chip_and_of_a_frame_at_least(things):
    with refused(ValueError, "the scene is made for Curlew; load it with chip=Dunlin"):
        vdpsim.budget(vdpsim.load_chip(DUNLIN), things["scene"])
    with refused(ValueError, "a budget of a scene needs one frame at least"):
        vdpsim.budget(things["slip"].chip, things["slip"], [])


MACHINE: dict[str, tuple[Callable[[Any, Any], Any], tuple[Any, ...], str]] = {
    "collision_flags": (lambda m, v: setattr(m, "collision_flags", v), WHOLE, "collision_flags"),
    "colour entry": (lambda m, v: m.colour(v, 0, 0, 0), WHOLE, "entry"),
    "colour red": (lambda m, v: m.colour(0, v, 0, 0), WHOLE, "red"),
    "colour blue": (lambda m, v: m.colour(0, 0, 0, v), WHOLE, "blue"),
    "read": (lambda m, v: m.read(v), WHOLE, "address|nothing to read"),
    "write address": (lambda m, v: m.write(v, 0), WHOLE, "address"),
    "write byte": (lambda m, v: m.write(0, v), WHOLE, "value|byte"),
    "compile": (lambda m, v: m.compile(v), (None, *NOT_SEVERAL), "writes"),
    "compile write": (lambda m, v: m.compile([v]), NO_OBJECT, "writes"),
    "frame writes": (lambda m, v: m.frame(v), (None, *NOT_SEVERAL), "writes"),
    "frame rule": (lambda m, v: m.frame(rule=v), NO_OBJECT[1:], "rule"),
    "frame planes": (lambda m, v: m.frame(planes=v), NOT_FLAG, "planes"),
    "lines": (lambda m, v: m.lines(v), WHOLE[1:], "count|lines"),
    "lines damage": (lambda m, v: m.lines(1, damage=v), NOT_FLAG, "damage"),
    "lines trace": (lambda m, v: m.lines(1, trace=v), NOT_FLAG, "trace"),
    "register": (lambda m, v: m.registers.__setitem__("backdrop", v), WHOLE, "backdrop"),
    "register's name": (lambda m, v: m.registers.__setitem__(v, 0), (*NOT_TEXT, "none"), "register"),
    "register read": (lambda m, v: m.registers[v], (*NOT_TEXT, "none"), "register"),
    "sprite": (lambda m, v: m.sprites[v], (*NOT_WHOLE, 4, -5, 2**70), "sprite"),
    "sprite's field": (lambda m, v: setattr(m.sprites[0], "x", v), WHOLE, "x"),
    "value": (lambda m, v: m.state.value(v), (*NOT_TEXT, "none"), "name"),
}  # fmt: skip


@pytest.mark.parametrize("row", MACHINE)
def test_a_machine_refuses_and_stays_as_it_was(row):
    call, wrong, name = MACHINE[row]
    machine = little_machine()
    before = machine.state.copy()
    for value in wrong:
        names_it(told(partial(call, machine, value)), name, value)
        for key in vars(before):
            assert np.array_equal(getattr(before, key), getattr(machine.state, key)), key


@pytest.mark.parametrize("kind", [np.int8, np.uint8, np.int64, np.uint64])
def test_numpy_whole_numbers_are_whole_numbers(things, kind):
    machine = little_machine()
    machine.sprites[kind(1)].x = kind(40)
    machine.registers["backdrop"] = kind(3)
    machine.colour(kind(2), kind(1), kind(2), kind(3))
    machine.lines(
        kind(3), [vdpsim.RegisterWrite(kind(1), "backdrop", kind(5)), vdpsim.PaletteWrite(kind(0), kind(1), (kind(2),))]
    )
    assert (machine.sprites[1].x, machine.state.line) == (40, 3)
    assert vdpsim.render(things["scene"], kind(2)).frame == 2
    assert things["frame"].image(kind(2)).width == 2 * things["frame"].indices.shape[1]


def test_bytes_like_data_is_kept_as_bytes():
    assert vdpsim.MemoryWrite(0, 0, bytearray(b"xy")) == vdpsim.MemoryWrite(0, 0, memoryview(b"xy"))
    assert hash(vdpsim.PaletteWrite(0, 0, [1, 2])) == hash(vdpsim.PaletteWrite(0, 0, (1, 2)))


def test_a_value_that_cannot_show_itself_is_told_by_its_kind():
    class Shy:
        def __repr__(self):
            raise RuntimeError("not now")

    with refused(TypeError, "got <Shy>$"):
        vdpsim.Machine(Shy())


def test_a_number_beyond_every_float_is_out_of_range(things):
    with refused(ValueError, "rate must be 0 to .*, got a number of 13288 bits"):
        vdpsim.flashes([things["frame"]], 10**4000)


def test_a_state_of_another_chip_is_no_machine_s(things):
    with refused(ValueError, "state must be one of Curlew, got one of Small"):
        vdpsim.Machine(things["chip"], little_machine().state)


def test_plain_data_is_plain(things):
    """What says that it is plain data is what ``json`` makes of it: no tuple, no fraction, no number of numpy's."""
    found = [vdpsim.log_data(things[name]) for name in ("frame", "traced")]
    found += [
        vdpsim.comparison_data(things["comparison"]),
        vdpsim.budget_data(vdpsim.budget(things["slip"].chip, things["slip"])),
    ]
    found += [
        vdpsim.budget_data(vdpsim.budget(vdpsim.load_chip(DUNLIN))),
        vdpsim.schema("chip"),
        vdpsim.schema("scene"),
    ]
    found += [vdpsim.budget_data(vdpsim.budget(any_odd(Random(seed)))) for seed in range(2)]
    for data in found:
        assert json.loads(json.dumps(data)) == data


def test_a_picture_that_is_too_large_is_refused_with_its_size(monkeypatch, things):
    """320 x 240 dots by 2 are 307,200; one fewer is too few."""
    frame = things["frame"]
    high, wide = frame.indices.shape
    monkeypatch.setattr("vdpsim.door.given.MOST_DOTS", wide * high * 4)
    assert frame.image(2).size == (2 * wide, 2 * high)
    monkeypatch.setattr("vdpsim.door.given.MOST_DOTS", wide * high * 4 - 1)
    with refused(ValueError, f"got 2: {wide} x 2 by {high} x 2 is {wide * high * 4:,}"):
        frame.image(2)
    with refused(ValueError, "scale must leave at most"):
        vdpsim.views(frame, 2)
