"""Are chips put side by side as they are? Fields by hand, figures against budgets, pictures against numpy, the better one
both ways.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from copy import deepcopy
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from paper import BITMAP, SPRITES, TILES, small_chip
from PIL import Image, ImageDraw, ImageFont
from refusal import refused
from soaked import few

import vdpsim
from vdpsim.cli.main import main
from vdpsim.comparing import compared
from vdpsim.comparing.compare import compare
from vdpsim.comparing.described import described, differing, differing_data, fields_of
from vdpsim.comparing.weighed import NEVER, OTHER_SIZE, SCENE, SECTIONS, SEEN, figure_of
from vdpsim.door.plain import plain as plain_data
from vdpsim.images.paper import DIM, INK, LETTER, LINE
from vdpsim.images.png import FULL, difference

ROOT = Path(__file__).resolve().parents[2]
CHIPS = [str(ROOT / f"scenes/chips/{name}.chip.toml") for name in ("curlew", "dunlin")]
FERRY = str(ROOT / "scenes/ferry.scene.toml")


@pytest.fixture(scope="module")
def ferry():
    """Curlew and Dunlin, and frame 40 of ferry on both."""
    return compare([vdpsim.load_chip(path) for path in CHIPS], FERRY, 40)


def test_fields_that_differ_by_their_paths():
    """Layer a has the same tiles in both; the second chip has another memory and a second layer."""
    one, other = small_chip(TILES), small_chip(TILES, BITMAP, memory={"size": 2048, "bytes_per_access": 1})
    found = {field.path: field.values for field in differing([one, other])}
    assert found == {
        "memory.size": ("1024", "2048"),
        "layers.b.modes.b.kind": ("-", "bitmap"),
        "layers.b.modes.b.bits_per_dot": ("-", "2"),
        "layers.b.modes.b.first_dot": ("-", "high"),
        "layers.b.modes.b.origin": ("-", "picture"),
        "layers.b.modes.b.entries.base": ("-", "0"),
        "layers.b.modes.b.entries.value_step": ("-", "1"),
        "layers.b.modes.b.width": ("-", "64"),
        "layers.b.modes.b.height": ("-", "16"),
        "layers.b.modes.b.double": ("-", "[1, 1]"),
        "layers.b.modes.b.scroll": ("-", "both"),
        "layers.b.modes.b.wrap": ("-", "true"),
        "layers.b.modes.b.transparent": ("-", "none"),
        "ladder.1.source": ("-", "b"),
    }


def test_what_is_said_and_what_is_left_out_are_the_same():
    """The byte order is little where nothing is said."""
    said = small_chip(TILES, memory={"size": 1024, "bytes_per_access": 1, "byte_order": "little"})
    assert differing([said, small_chip(TILES)]) == ()
    assert described(said) == described(small_chip(TILES))


def test_names_with_a_dot_are_quoted():
    wired = small_chip(TILES, registers={"a.scroll_x": {"bits": 7, "effect": "at once"}})
    assert described(wired)['registers."a.scroll_x".bits'] == "7"


def changed(chip, change):
    """``chip`` with its data changed."""
    data = chip.model_dump(mode="json", exclude_none=True)
    change(data)
    return vdpsim.Chip.model_validate_json(json.dumps(data))


def test_layers_are_found_by_name_and_not_by_place():
    """The same two layers in another order, of equal contents: that order is all that is told."""
    one = small_chip(TILES, BITMAP)
    other = changed(one, lambda data: data["layers"].reverse())
    assert [(field.path, field.values) for field in differing([one, other])] == [("layers (order)", ("a, b", "b, a"))]


def test_the_order_of_registers_is_told_of_those_without_an_address_alone():
    """Where one stands that the CPU finds by its address makes no difference."""
    listed = [
        {"name": "layer control", "address": 4, "bits": 8, "fields": {"a.enable": "0"}},
        {"name": "across", "bits": 8, "fields": {"a.scroll_x": "6:0"}},
        {"name": "down", "bits": 8, "fields": {"a.scroll_y": "5:0"}},
    ]
    first, second, third = listed
    found = {}
    for name, order in (("address", [second, first, third]), ("none", [first, third, second])):
        chips = [small_chip(TILES, registers=[*each, {"others": "wired"}]) for each in (listed, order)]
        found[name] = [(field.path, field.values) for field in differing(chips)]
    assert found == {"address": [], "none": [("registers (order)", ("across, down", "down, across"))]}


def test_a_mode_more_at_the_front_moves_nothing():
    """Of the second chip's modes b and t the first is new; t, which both have, is alike, and alone has no order."""
    one = small_chip(TILES)
    other = changed(one, lambda data: data["layers"][0].update(modes=[BITMAP, TILES]))
    found = {field.path: field.values for field in differing([one, other])}
    assert {path.rpartition(".")[0] for path in found} == {"layers.a.modes.b", "layers.a.modes.b.entries"}
    assert {values[0] for values in found.values()} == {"-"}


def test_who_is_served_first_is_told():
    """Two clients of Curlew's change places: of its time table nothing but their order differs."""
    curlew = vdpsim.load_chip(CHIPS[0])
    clients = list(curlew.time.clients)
    swapped = [clients[1], clients[0], *clients[2:]]

    def swap(data):
        data["time"]["clients"] = {name: data["time"]["clients"][name] for name in swapped}

    (found,) = differing([curlew, changed(curlew, swap)])
    assert found.path == "time.clients (order)"
    assert found.values == (", ".join(clients), ", ".join(swapped))


def leaves(value, place=()):
    """The places of all values of ``value`` that are no tables and no lists of tables."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*place, key))
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for number, inner in enumerate(value):
            yield from leaves(inner, (*place, number))
    else:
        yield place


@pytest.mark.parametrize("path", few(CHIPS, CHIPS[1].__eq__), ids=lambda path: Path(path).name)
def test_every_planted_fault_is_told_alone(path):
    """Each value of a shipped chip's file in turn is another in its copy; and each in turn is missing there."""
    data = vdpsim.load_chip(path).model_dump(mode="json", exclude_none=True)
    whole, told = fields_of(data), []
    for place in leaves(data):
        if place[-1] in {"name", "target"} and len(place) > 1:
            continue  # what a table is called by: with another it is another table
        for planted in ("planted", None):
            copy = deepcopy(data)
            table = copy
            for part in place[:-1]:
                table = table[part]
            if planted is None:
                del table[place[-1]]
            else:
                table[place[-1]] = planted
            found = [field for field in differing_data([data, copy]) if not field.path.startswith("registers (order)")]
            assert len(found) == 1, place
            assert found[0].values == (whole[found[0].path], planted or "-")
            told.append(found[0].path)
    assert sorted(told) == sorted([*whole] * 2)


@pytest.mark.parametrize(
    ("better", "values", "best"),
    [
        ("more", [3, 5, 5], (1, 2)),
        ("less", [3, 5, 3], (0, 2)),
        ("more", [4, 4, 4], ()),
        ("", [1, 2, 3], ()),
        ("less", [4, 4], ()),
        ("more", [None, 2, 1], (1,)),
        ("less", [None, 2, 1], (2,)),
        ("more", [None, 2], ()),
        ("more", [False, True], (1,)),
        ("less", [NEVER, 7, 9], (1,)),
        ("more", ["does not fit", "open", "fits", "open"], (2,)),
        ("more", ["does not fit", "open", None, "open"], (1, 3)),
        ("more", ["fits", "fits"], ()),
    ],
)
def test_the_better_figure_is_marked_both_ways(better, values, best):
    assert figure_of("", "x", better, values).best == best


def figures_of(found):
    """A comparison's figures by section and name."""
    return {(figure.section, figure.name): figure for figure in found.figures}


def test_figures_are_those_of_budgets(ferry):
    budgets = [vdpsim.budget(chip) for chip in ferry.chips]
    told = {key: figure.values for key, figure in figures_of(ferry).items()}
    for section, rows in SECTIONS.items():
        assert [name for name, *_ in rows] == [name for where, name in told if where == section][: len(rows)]
    lines = [found.lines for found in budgets]
    time, sprites, cpu = "Time on the line", "Sprites of a line", "CPU"
    assert told[time, "verdict"] == tuple(found.verdict for found in budgets)
    assert told[time, "first to give way, slack proved"] == tuple(found.first.proved for found in budgets)
    assert told[time, "clients with an access too late"] == tuple(len(x.late) for x in lines) == (0, 0)
    assert told[time, "slots a line"] == (384, 576)
    assert told[time, "fullest line, slots used"] == tuple(found.worst_line.used for found in budgets)
    assert told[time, "fullest line, slots free"] == tuple(found.free_slots for found in budgets)
    assert told[time, "fullest line, share used %"] == tuple(round(100 * x.fullest.used / x.slots, 1) for x in lines)
    assert told[sprites, "slots to spare"] == tuple(x.sprites.room - x.sprites.asked for x in budgets)
    assert told[sprites, "of the dearest size, find slots"] == tuple(x.sprites.fit for x in budgets)
    assert told[cpu, "bytes a frame"] == tuple(x.cpu.bytes_per_frame for x in budgets)
    assert told["On the chip", "bits together"] == tuple(x.chip_bits for x in budgets)


def test_figures_of_lists_are_found_by_name_and_refills_by_their_bytes_too(ferry):
    """Dunlin has no bitmaps; both maps are 4,096 bytes; 256 entries of two bytes are no refill like 64 of one."""
    told = {key: figure.values for key, figure in figures_of(ferry).items()}
    budgets = [vdpsim.budget(chip) for chip in ferry.chips]
    kept = [{one.name: one.bits for one in found.on_chip} for found in budgets]
    assert {name: values for (where, name), values in told.items() if where == "On the chip"} == {
        "bits together": tuple(sum(each.values()) for each in kept),
        **{f"{name}, bits": tuple(each.get(name) for each in kept) for name in kept[0] | kept[1]},
    }
    assert told["Memory", "far.chart bitmap, most at once"] == (65_536 // (288 * 128 // 2), None)
    assert told["Memory", "near.tiles map, most at once"] == (65_536 // 4096, 32_768 // 4096)
    lines = [{one.name: one.lines for one in found.cpu.refills} for found in budgets]
    assert told["CPU", "refill of near.tiles map, 4,096 bytes: lines"] == tuple(x["near.tiles map"] for x in lines)
    palette = "palette (on the chip)"
    assert told["CPU", f"refill of {palette}, 512 bytes: lines"] == (lines[0][palette], None)
    assert told["CPU", f"refill of {palette}, 64 bytes: lines"] == (None, lines[1][palette])


def test_figures_of_the_scene_are_those_of_its_frames(ferry):
    told = {name: figure.values for (where, name), figure in figures_of(ferry).items() if where == SCENE}
    assert list(told) == [name for name, *_ in SEEN]
    frames = [vdpsim.render(vdpsim.load_scene(FERRY, chip=chip), 40) for chip in ferry.chips]
    assert told["accesses fetched"] == tuple(frame.log.total for frame in frames)
    assert told["bytes fetched"] == (2 * frames[0].log.total, frames[1].log.total)
    assert told["fullest line, slots used with the CPU's"] == tuple(int(x.slots.used.max()) for x in frames)
    assert told["sprites drawn, over all lines"] == tuple(int(frame.log.drawn.sum()) for frame in frames)
    assert told["dropped for dots"] == tuple(int((x.drops["reason"] == "dots").sum()) for x in frames) == (0, 8)
    assert told["dropped for count"] == told["dropped for slots"] == told["accesses too late"] == (0, 0)
    assert told["colours"] == tuple(len({tuple(dot) for row in x.rgb.tolist() for dot in row}) for x in frames)


def test_what_comes_too_late_is_counted(tmp_path):
    """With two thirds of its memory's speed Dunlin has eight slots for a tile's two layers, which take twelve."""
    text = Path(CHIPS[1]).read_text("utf-8").replace('accesses_per_dot = "3/2"', "accesses_per_dot = 1")
    (tmp_path / "late.chip.toml").write_text(text, "utf-8")
    found = compare([vdpsim.load_chip(CHIPS[0]), vdpsim.load_chip(tmp_path / "late.chip.toml")], FERRY)
    late = figures_of(found)[SCENE, "accesses too late"]
    assert late.values == (0, int(found.shown[1].frame.missed.sum()))
    assert late.values[1] > 0
    assert late.best == (0,)
    time = {name: figure for (where, name), figure in figures_of(found).items() if where == "Time on the line"}
    assert (time["verdict"].values, time["verdict"].best) == (("fits", "does not fit"), (0,))
    clients = found.budgets[1].lines.late
    assert time["clients with an access too late"].values == (0, len(clients))
    assert time["first to give way, slack proved"].values[1] == -clients[0].missed < 0


def test_dots_that_differ_are_counted(ferry):
    first, second = (one.frame.rgb.astype(int) for one in ferry.shown)
    apart = np.abs(first - second)
    other = (first != second).any(axis=2)
    assert ferry.shown[0].differ is None
    assert ferry.shown[1].differ == other.sum()
    assert ferry.shown[1].largest == apart.max()
    assert ferry.shown[1].mean == pytest.approx(apart[other].mean())


BARE = """
name = "Bare"
palette = { entries = 4, bank_size = 2, red = "11:8", green = "7:4", blue = "3:0" }
memory = { size = 1024, bytes_per_access = 1 }
layers = [{ name = "all", modes = [{ name = "dots", kind = "bitmap", bits_per_dot = 1, width = 64, height = 64 }] }]
ladder = [{ source = "all" }]
frame = { width = 64, height = 64, dot_clock = 1_000_000, dots_per_line = 80, lines_per_frame = 80 }
"""
LAST_DOTS = """
name = "Last dots"
chip = "bare.chip.toml"
[[writes]]
line = 63
dot = 56
entry = 0
colour = "#123"
"""


def bare(tmp_path, **changes):
    """The chip of BARE with some texts replaced, and the scene LAST_DOTS."""
    text = BARE
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "bare.chip.toml").write_text(BARE)
    (tmp_path / "last.scene.toml").write_text(LAST_DOTS)
    return vdpsim.parse_chip(text)


def test_eight_dots_differ_by_hand(tmp_path):
    """All is black but the last eight dots of the last line: there #123 is (17, 34, 51) with four bits a channel. With one bit
    the nearest is black, and with one bit of red alone only red is: 17 off, so the mean of a channel is 17 / 3.
    """
    dim = bare(tmp_path, p=('red = "11:8", green = "7:4", blue = "3:0"', 'red = "2", green = "1", blue = "0"'))
    redless = bare(tmp_path, p=('red = "11:8"', 'red = "8"'))
    found = compare([bare(tmp_path), dim, redless], tmp_path / "last.scene.toml")
    assert [one.differ for one in found.shown] == [None, 8, 8]
    assert [one.largest for one in found.shown] == [0, 51, 17]
    assert [one.mean for one in found.shown] == [0.0, 34.0, pytest.approx(17 / 3)]
    assert [one.share for one in found.shown] == [0.0, 8 / 4096, 8 / 4096]
    told = figures_of(found)
    assert told[SCENE, "colours"].values == (2, 1, 2)
    assert told[SCENE, "dots unlike the first picture"].values == (None, 8, 8)
    assert told[SCENE, "dots unlike it, share %"].values == (None, 0.2, 0.2)
    assert told[SCENE, "mean difference of a channel over these dots"].values == (None, 34.0, 5.7)


def test_one_planted_dot_is_counted(ferry, monkeypatch):
    """A dot of the second chip's picture that is one off in one channel: one dot more, no more and no less."""
    drawn = vdpsim.render(vdpsim.load_scene(FERRY, chip=ferry.chips[0]), 40)
    rgb = drawn.rgb.copy()
    rgb[100, 7, 2] ^= 1
    frames = iter([drawn, replace(drawn, rgb=rgb)])
    monkeypatch.setattr("vdpsim.machine.machine.render", lambda *_, **__: next(frames))
    found = compare([ferry.chips[0]] * 2, FERRY, 40)
    assert (found.shown[1].differ, found.shown[1].largest) == (1, 1)
    assert found.shown[1].mean == pytest.approx(1 / 3)
    places = np.argwhere(difference(drawn.rgb, rgb).any(axis=2))
    assert places.tolist() == [[100, 7]]


def test_a_difference_by_hand():
    """Alike is black; 16 of 255 in the furthest channel is 16 x 255 / 64 = 63; from 64 on it is white."""
    one = np.array([[[10, 20, 30], [0, 0, 0], [0, 0, 0], [255, 255, 255]]], np.uint8)
    other = np.array([[[10, 20, 30], [1, 16, 3], [0, FULL, 0], [0, 255, 255]]], np.uint8)
    assert difference(one, other)[0].tolist() == [[0] * 3, [63] * 3, [255] * 3, [255] * 3]
    assert np.array_equal(difference(other, one), difference(one, other))


@pytest.mark.parametrize(("scale", "lines"), [(1, 2), (2, 1)])
def test_the_picture_has_both_frames_and_the_difference(ferry, scale, lines):
    """A line says what is shown, and one above each its name; below the frames the longer caption, 83 letters, takes two lines of
    48, or one of 96.
    """
    picture = np.asarray(vdpsim.side_by_side(ferry, scale))
    first, second = (one.frame.rgb.repeat(scale, 0).repeat(scale, 1) for one in ferry.shown)
    high, wide, _ = first.shape
    top, left = 8 + 2 * LINE, 16 + wide
    assert np.array_equal(picture[top : top + high, 8 : 8 + wide], first)
    assert np.array_equal(picture[top : top + high, left : left + wide], second)
    below = top + high + 8 + lines * LINE
    assert np.array_equal(picture[below : below + high, left : left + wide], difference(first, second))
    assert picture.shape == (below + high + 8, left + wide + 8, 3)
    captions = picture[top + high + 8 : below]
    assert (captions[:, 8 : 8 + wide] == INK).all(axis=2).any(), "the legend's words"
    assert (captions[:, left : left + wide] == INK).all(axis=2).any(), "the difference's caption"
    wedge = picture[below + 8, 8 + 4 : 8 + 8 * 16 : 8, 0]
    assert wedge.tolist() == [255 * step // 15 for step in range(16)]


def test_large_pictures_have_large_letters(ferry):
    """Each dot of a letter is half as large as one of the frames, rounded up."""
    for scale, size in ((1, 1), (2, 1), (3, 2), (5, 3)):
        begin, end = 8 * size, 8 * size + 2 * LINE * size
        head = (np.asarray(vdpsim.side_by_side(ferry, scale))[begin:end, begin : begin + 36 * size] == INK).all(axis=2)
        assert head.any()
        assert np.array_equal(head, head[::size, ::size].repeat(size, 0).repeat(size, 1))
        wider = head[::size, ::size]
        assert not np.array_equal(wider, wider[::2, ::2].repeat(2, 0).repeat(2, 1)), "no larger than that"


def test_the_picture_says_which_frame_of_what_it_shows(ferry):
    """Its first line, as Pillow draws it."""
    text = "Ferry, frame 40, on 2 chips"
    mask = Image.new("1", (LETTER * len(text), LINE))
    ImageDraw.Draw(mask).text((0, 0), text, fill=1, font=ImageFont.load_default_imagefont())
    line = np.asarray(vdpsim.side_by_side(ferry))[8 : 8 + LINE, 8 : 8 + mask.width]
    assert np.array_equal((line == INK).all(axis=2), np.asarray(mask))


def test_pictures_of_other_sizes_are_not_subtracted(tmp_path):
    """56 lines fewer: both are drawn, no dots are said to differ, and that is told in the table, below it and in the picture."""
    low = bare(
        tmp_path, h=("width = 64, height = 64, dot", "width = 128, height = 64, dot"), d=("= 80, lines", "= 160, lines")
    )
    found = compare([bare(tmp_path), low], tmp_path / "last.scene.toml")
    assert [(one.differ, one.other_size) for one in found.shown] == [(None, False), (None, True)]
    assert figures_of(found)[SCENE, "dots unlike the first picture"].values == (None, OTHER_SIZE)
    assert found.names == ("Bare (1)", "Bare (2)")
    assert compared.notes(found) == ["Bare (2)'s picture has another size than Bare (1)'s: no difference is told"]
    told = compared.plain(found)
    assert "no difference is told" in told
    picture = vdpsim.side_by_side(found, 2)
    captions = -(-len("128 x 64 dots, Bare (1) has 64 x 64: no difference is shown") // (256 // 6))
    assert picture.size == (8 + 2 * (256 + 8), 8 + 2 * LINE + 128 + 8 + captions * LINE + 8)
    assert (np.asarray(picture)[8 + 2 * LINE + 128 + 8 :, 8 + 256 + 8 :] == INK).all(axis=2).any()


def test_a_scene_that_the_first_chip_cannot_load_is_drawn_by_the_others(tmp_path):
    """Then the second chip's picture is the one that the third is held against."""
    curlew, dunlin = (vdpsim.load_chip(path) for path in CHIPS)
    found = compare([dunlin, curlew, curlew], ROOT / "scenes/flock.scene.toml")
    assert found.first == 1
    assert [one.frame is None for one in found.shown] == [True, False, False]
    assert [one.differ for one in found.shown] == [None, None, 0]
    told = figures_of(found)
    assert told[SCENE, "drawn"].values == (False, True, True)
    assert told[SCENE, "colours"].values[0] is None
    picture = np.asarray(vdpsim.side_by_side(found))
    assert (picture[8 + 2 * LINE : 8 + 2 * LINE + 216, 8 : 8 + 288] == DIM).all(axis=2).any(), "why there is no picture"
    assert np.array_equal(picture[8 + 2 * LINE : 8 + 2 * LINE + 216, 16 + 288 : 16 + 576], found.shown[1].frame.rgb)


def test_a_scene_that_one_chip_cannot_load_is_a_result(tmp_path, capsys):
    flock = str(ROOT / "scenes/flock.scene.toml")
    assert main(["compare", *CHIPS, "--scene", flock, "-o", f"{tmp_path}/out/"]) == 0
    told = capsys.readouterr().out
    notes = told[told.index("Dunlin cannot load the scene") :].splitlines()
    assert notes[0] == "Dunlin cannot load the scene: 23 mistakes"
    assert [line.startswith(f"  {flock}:") for line in notes[1:4]] == [True] * 3
    assert notes[4:] == ["  and 20 more"]
    data = json.loads((tmp_path / "out/flock-compare.json").read_text())
    assert [one["drawn"] for one in data["scene"]] == [True, False]
    assert len(data["scene"][1]["problems"]) == 23
    assert (tmp_path / "out/flock-compare.png").exists()


def test_the_command_tells_a_table(capsys):
    """The better one has a sign; without it the numbers stand where they stood."""
    assert main(["compare", *CHIPS]) == 0
    told = capsys.readouterr().out
    rows = [line.split() for line in told.splitlines()]
    assert ["verdict", "fits", "fits"] in rows
    assert ["palette", "entries", "256", "*", "64"] in rows
    assert ["bits", "together", "11,261", "6,662", "*"] in rows
    assert 'registers."near.text.foreground".bits' in told
    assert "Curlew fits: " in told
    assert SCENE not in told
    lines = {line.split("  ")[1]: line for line in told.splitlines() if line.startswith("  ")}
    ends = {
        lines[name].index(text) + len(text) for name, text in (("palette entries", "256"), ("bits together", "11,261"))
    }
    assert len(ends) == 1


def test_a_terminal_gets_the_same_rows(capsys, monkeypatch, ferry):
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["compare", *CHIPS, "--scene", FERRY, "--frame", "40"]) == 0
    told = [line.split() for line in capsys.readouterr().out.splitlines()]
    for part in compared.parts(ferry):
        for row in part.rows:
            assert " ".join(row).split() in told


def test_json_is_all_of_the_comparison(capsys, ferry):
    assert main(["compare", *CHIPS, "--scene", FERRY, "--frame", "40", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data == json.loads(json.dumps(vdpsim.comparison_data(ferry), default=str))
    assert data["chips"] == list(ferry.names)
    assert [tuple(one["values"]) for one in data["figures"]] == [figure.values for figure in ferry.figures]
    assert [tuple(one["best"]) for one in data["figures"]] == [figure.best for figure in ferry.figures]
    assert [(one["field"], tuple(one["values"])) for one in data["description"]] == [
        (field.path, field.values) for field in ferry.fields
    ]
    assert data["scene"][1]["dots_differ"] == ferry.shown[1].differ
    told = [[one[key] for key in ("share", "largest", "mean")] for one in data["scene"]]
    small = ferry.shown[1]
    assert told == [[None] * 3, [round(small.share, 6), small.largest, round(small.mean, 3)]]
    assert [one["chip"] for one in data["budgets"]] == ["Curlew", "Dunlin"]


def test_the_command_writes_what_python_gets(tmp_path, capsys, ferry):
    assert main(["compare", *CHIPS, "--scene", FERRY, "--frame", "40", "--scale", "2", "-o", f"{tmp_path}/out"]) == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["ferry-compare.json", "ferry-compare.png"]
    assert (tmp_path / "out/ferry-compare.png").read_bytes() == vdpsim.png_bytes(vdpsim.side_by_side(ferry, 2))
    assert (tmp_path / "out/ferry-compare.json").read_text("utf-8") == compared.comparison_json(ferry)


def test_long_values_are_shown_from_where_they_differ():
    """44 letters are shown whole; of longer ones 12 before the first that differs, and all where the rest would hide it."""
    assert compared.shortened(("x" * 44, "-")) == ("x" * 44, "-")
    assert compared.shortened(("x" * 45, "-")) == ("x" * 41 + "...", "-")
    long = [f"{'same ' * 10}{end}" for end in ("one", "two")]
    assert compared.shortened([*long, "-"]) == ("...e same same one", "...e same same two", "-")
    hidden = ["b", "a" + "c" * 50 + "d", "a" + "c" * 50 + "e"]
    assert compared.shortened(hidden) == tuple(hidden)


def test_no_more_than_it_needs_is_loaded():
    """Without a scene there are no arrays and no pictures to load."""
    code = f"import vdpsim, sys\nvdpsim.compare([vdpsim.load_chip(path) for path in {CHIPS!r}])\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "PIL", "rich"} & set(done.stdout.split())


def test_a_scene_that_is_wrong_on_its_own_chip_too_is_wrong_input(tmp_path, capsys):
    """It is no chip's failure: its mistakes are told once, with exit status 2, and nothing is written."""
    for path in CHIPS:
        shutil.copy(path, tmp_path)
    (tmp_path / "x.scene.toml").write_text('name = "X"\nchip = "curlew.chip.toml"\nbroken = 1\n')
    before = sorted(tmp_path.iterdir())
    assert main(["compare", *CHIPS, "--scene", f"{tmp_path}/x.scene.toml", "-o", f"{tmp_path}/out/"]) == 2
    out, err = capsys.readouterr()
    assert not out
    assert err.count("broken: is not a known key") == 1
    assert sorted(tmp_path.iterdir()) == before


def test_a_scene_that_no_chip_but_its_own_can_load_is_a_result(tmp_path, capsys):
    dunlin = str(CHIPS[1])
    flock = str(ROOT / "scenes/flock.scene.toml")
    assert main(["compare", dunlin, dunlin, "--scene", flock, "-o", f"{tmp_path}/out/"]) == 0
    assert "Dunlin (2) cannot load the scene: 23 mistakes" in capsys.readouterr().out
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["flock-compare.json"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (CHIPS[:1], "2 to 8 chips are compared, got 1"),
        (CHIPS * 5, "2 to 8 chips are compared, got 10"),
        ([*CHIPS, "-o", "OUT/"], "a picture needs --scene"),
        ([*CHIPS, "--scene", FERRY, "-o", "OUT/x.png"], "must be a folder"),
        ([CHIPS[0], "nowhere.chip.toml"], "nowhere.chip.toml: cannot be read"),
        ([CHIPS[0], FERRY], "ferry.scene.toml"),
        ([*CHIPS, "--scene", "nowhere.scene.toml", "-o", "OUT/"], "nowhere.scene.toml: cannot be read"),
        ([*CHIPS, "--scene", FERRY, "--scale", "9", "-o", "OUT/"], "must be 1 to 8, got '9'"),
        ([*CHIPS, "--scene", FERRY, "--scale", "0", "-o", "OUT/"], "must be 1 to 8, got '0'"),
        ([*CHIPS, "--scene", FERRY, "--frame=-1", "-o", "OUT/"], "must be 0 to 99999, got '-1'"),
    ],
)
def test_wrong_input_ends_with_2_and_writes_nothing(words, told, tmp_path, capsys):
    assert main(["compare", *(word.replace("OUT", str(tmp_path)) for word in words)]) == 2
    out, err = capsys.readouterr()
    assert told in err
    assert not out
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_refusals_from_python(ferry):
    with refused(ValueError, "2 to 8 chips are compared, got 1"):
        compare(ferry.chips[:1])
    with refused(ValueError, "2 to 8 chips are compared, got 9"):
        compare([ferry.chips[0]] * 9)
    with refused(ValueError, "frame must be 0 or more, got -1"):
        compare(ferry.chips, FERRY, -1)
    for scale in (0, 9):
        with refused(ValueError, f"scale must be 1 to 8, got {scale}"):
            vdpsim.side_by_side(ferry, scale)
    with refused(ValueError, "no chip could draw the scene"):
        vdpsim.side_by_side(compare(ferry.chips))


def test_both_sides_of_the_largest_picture(ferry, monkeypatch):
    across, down = vdpsim.side_by_side(ferry).size
    monkeypatch.setattr("vdpsim.comparing.beside.MOST_DOTS", across * down)
    assert vdpsim.side_by_side(ferry).size == (across, down)
    monkeypatch.setattr("vdpsim.comparing.beside.MOST_DOTS", across * down - 1)
    told = f"at most {across * down - 1:,} dots, got 1: {across} x {down} is {across * down:,}"
    with refused(ValueError, f"scale must leave {told}"):
        vdpsim.side_by_side(ferry)


def test_eight_chips_are_compared(tmp_path):
    found = compare([bare(tmp_path)] * 8, tmp_path / "last.scene.toml")
    assert found.names == tuple(f"Bare ({number})" for number in range(1, 9))
    assert [one.differ for one in found.shown] == [None, *[0] * 7]
    assert vdpsim.side_by_side(found, 1).width == 8 + 8 * (240 + 8)


def test_chips_without_a_time_table_are_compared_too():
    """Nothing is known of their slots: no figure of them, and none is the better one. In the table there is no row for them."""
    comparison = compare([small_chip(TILES), small_chip(TILES, sprites=SPRITES)])
    found = figures_of(comparison)
    assert found["Time on the line", "verdict"].values == (None, None)
    assert found["Sprites of a line", "sprites in the table"].values == (None, 4)
    assert found["On the chip", "bits together"].best == (0,)
    assert "Time on the line" not in compared.plain(comparison)


def test_a_copied_chip_file_is_alike(tmp_path):
    shutil.copy(CHIPS[0], tmp_path / "twin.chip.toml")
    found = compare([vdpsim.load_chip(CHIPS[0]), vdpsim.load_chip(tmp_path / "twin.chip.toml")], FERRY)
    assert found.fields == ()
    assert found.shown[1].differ == 0
    assert all(figure.best == () for figure in found.figures)
    assert compared.plain(found).endswith("Their files say the same\n")


@pytest.mark.ci
def test_a_chip_with_very_many_modes_is_compared_like_any_other():
    """Eight layers of eight modes, each of which registers can choose above and below."""
    modes = [BITMAP | {"name": f"m{number}"} for number in range(8)]
    layers = [{"name": name, "modes": modes} for name in "abcdefgh"]
    time = {
        "clients": {f"{name}.bitmap": {"when": "in time", "lead": 16} for name in "abcdefgh"},
        "cpu": {"active": "none"},
    }
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 8}
    chip = small_chip(memory=memory, layers=layers, ladder=[{"source": "a"}], time=time)
    found = compare([chip, small_chip(TILES)])
    assert figures_of(found)["Time on the line", "verdict"].values == (found.budgets[0].verdict, None)


@pytest.mark.parametrize(("word", "colour"), [("fits", "32"), ("does not fit", "31"), ("open", "33")])
def test_a_terminal_shows_each_verdict_in_its_colour_and_its_word(capsys, monkeypatch, ferry, word, colour):
    """Green, red and yellow, all bold, by their numbers in ISO/IEC 6429, 8.3.117."""
    budgets = tuple(replace(one, verdict=word) for one in ferry.budgets)
    monkeypatch.setattr("vdpsim.compare", lambda *_: replace(ferry, budgets=budgets), raising=False)
    monkeypatch.setattr(
        compared, "verdicts", lambda found: [f"{one.chip.name}: {one.verdict}." for one in found.budgets]
    )
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    assert main(["compare", *CHIPS]) == 0
    assert f"\x1b[1;{colour}mCurlew: {word}." in capsys.readouterr().out


def test_values_as_plain_data():
    """What json.dumps takes as it is, and the same back; a name of a row is text, a set is in order."""
    given = {
        1: (Fraction(2, 7), Path("a/b")),
        "n": np.int64(5),
        "rows": np.array([[1, 2]]),
        "some": {8, 1, 2},
        "of": range(2),
    }
    wanted = {"1": ["2/7", "a/b"], "n": 5, "rows": [[1, 2]], "some": [1, 2, 8], "of": [0, 1]}
    assert plain_data(given) == json.loads(json.dumps(plain_data(given))) == wanted
    with refused(TypeError, "object is no plain data"):
        plain_data([object()])


def test_a_terminal_is_told_what_the_tables_have_no_room_for(capsys, monkeypatch, ferry):
    wrong = replace(ferry.shown[1], problems=(vdpsim.Problem("a.scene.toml", 3, "maps.0", "must be less"),))
    found = replace(ferry, shown=(ferry.shown[0], wrong))
    monkeypatch.setattr("vdpsim.compare", lambda *_: found, raising=False)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert main(["compare", *CHIPS]) == 0
    assert capsys.readouterr().out.endswith(
        "Dunlin cannot load the scene: 1 mistake\n  a.scene.toml:3: maps.0: must be less\n"
    )


def test_values_in_words():
    """A truth is no number; a part of a whole has four places at most, and none that says nothing."""
    values = (None, True, False, 0, 1, 1234567, 0.5, 2.0, 1234.56789, "text")
    words = [compared.MISSING, "yes", "no", "0", "1", "1,234,567", "0.5", "2", "1,234.5679", "text"]
    assert [compared._number(value) for value in values] == words
