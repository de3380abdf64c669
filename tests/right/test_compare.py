"""Are chips put side by side as they are? Fields by hand, figures against budgets, pictures against numpy, the better one
both ways.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from paper import BITMAP, SPRITES, TILES, small_chip
from refusal import refused

import vdpsim
from vdpsim.beside import FULL, difference
from vdpsim.budgets.compare import FIGURES, SEEN, compare, figure_of
from vdpsim.budgets.described import described, differing
from vdpsim.cli.main import main

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
        "layers.b.modes.b.scroll": ("-", "true"),
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


def test_modes_are_found_by_name_and_not_by_place():
    """The same two layers in another order: only the order of the ladder is told."""
    one = small_chip(TILES, BITMAP)
    data = one.model_dump(mode="json", exclude_none=True)
    data["layers"] = data["layers"][::-1]
    other = vdpsim.Chip.model_validate_json(json.dumps(data))
    assert differing([one, other]) == ()


@pytest.mark.parametrize(
    ("better", "values", "best"),
    [
        ("more", [3, 5, 5], (1, 2)),
        ("less", [3, 5, 3], (0, 2)),
        ("more", [4, 4, 4], ()),
        ("", [1, 2, 3], ()),
        ("more", [None, 2, 1], (1,)),
    ],
)
def test_the_better_figure_is_marked_both_ways(better, values, best):
    assert figure_of("x", better, values).best == best


def test_figures_are_those_of_budgets_and_frames(ferry):
    budgets = [vdpsim.budget(chip) for chip in ferry.chips]
    told = {figure.name: figure.values for figure in ferry.figures}
    assert [figure.name for figure in ferry.figures] == [name for name, *_ in (*FIGURES, *SEEN)]
    assert told["fullest line, slots used"] == tuple(found.worst_line.used for found in budgets)
    assert told["CPU bytes a frame"] == tuple(found.cpu.bytes_per_frame for found in budgets)
    assert told["bits on the chip"] == tuple(found.chip_bits for found in budgets)
    frames = [vdpsim.render(vdpsim.load_scene(FERRY, chip=chip), 40) for chip in ferry.chips]
    assert told["in the scene: fetches"] == tuple(frame.log.total for frame in frames)
    assert told["in the scene: dropped for dots"] == tuple(int((f.drops["reason"] == "dots").sum()) for f in frames)


def test_dots_that_differ_are_counted(ferry):
    first, second = (one.frame.rgb.astype(int) for one in ferry.shown)
    apart = np.abs(first - second)
    other = (first != second).any(axis=2)
    assert ferry.shown[0].differ is None
    assert ferry.shown[1].differ == other.sum()
    assert ferry.shown[1].largest == apart.max()
    assert ferry.shown[1].mean == pytest.approx(apart[other].mean())


def test_a_difference_by_hand():
    """Alike is black; 16 of 255 in the furthest channel is 16 x 255 / 64 = 63; from 64 on it is white."""
    one = np.array([[[10, 20, 30], [0, 0, 0], [0, 0, 0], [255, 255, 255]]], np.uint8)
    other = np.array([[[10, 20, 30], [1, 16, 3], [0, FULL, 0], [0, 255, 255]]], np.uint8)
    assert difference(one, other)[0].tolist() == [[0] * 3, [63] * 3, [255] * 3, [255] * 3]
    assert np.array_equal(difference(other, one), difference(one, other))


def test_the_picture_has_both_frames_and_the_difference(ferry):
    picture = np.asarray(vdpsim.side_by_side(ferry))
    first, second = (one.frame.rgb for one in ferry.shown)
    high, wide, _ = first.shape
    assert np.array_equal(picture[24 : 24 + high, 8 : 8 + wide], first)
    assert np.array_equal(picture[24 : 24 + high, 16 + wide : 16 + 2 * wide], second)
    below = 24 + high + 8 + 16
    assert np.array_equal(picture[below : below + high, 16 + wide : 16 + 2 * wide], difference(first, second))


def test_pictures_of_other_sizes_are_not_subtracted(tmp_path):
    """Terns of another height: both are drawn, and no dots are said to differ."""
    readme = (ROOT / "README.md").read_text("utf-8")
    chip, scene = (
        readme.split(f"```toml {name}\n")[1].split("```")[0] for name in ("tern.chip.toml", "terns.scene.toml")
    )
    (tmp_path / "tern.chip.toml").write_text(chip)
    (tmp_path / "low.chip.toml").write_text(chip.replace("height = 120", "height = 112"))
    (tmp_path / "terns.scene.toml").write_text(scene)
    chips = [vdpsim.load_chip(tmp_path / f"{name}.chip.toml") for name in ("tern", "low")]
    found = compare(chips, tmp_path / "terns.scene.toml")
    assert [one.differ for one in found.shown] == [None, None]
    assert found.names == ("Tern (1)", "Tern (2)")
    assert vdpsim.side_by_side(found, 2).size == (8 + 2 * (320 + 8), 8 + 16 + 240 + 8)


def test_a_scene_that_one_chip_cannot_load_is_a_result(tmp_path, capsys):
    flock = str(ROOT / "scenes/flock.scene.toml")
    assert main(["compare", *CHIPS, "--scene", flock, "-o", f"{tmp_path}/out/"]) == 0
    told = capsys.readouterr().out
    assert "Dunlin cannot load the scene: 16 mistakes" in told
    data = json.loads((tmp_path / "out/flock-compare.json").read_text())
    assert [one["drawn"] for one in data["scene"]] == [True, False]
    assert len(data["scene"][1]["problems"]) == 16
    assert (tmp_path / "out/flock-compare.png").exists()


def test_the_command_tells_a_table(capsys):
    assert main(["compare", *CHIPS]) == 0
    told = capsys.readouterr().out
    rows = [line.split() for line in told.splitlines()]
    assert ["fits", "yes", "yes"] in rows
    assert ["palette", "entries", "256", "*", "64"] in rows
    assert 'registers."near.text.foreground".bits' in told


def test_json_is_the_same_as_the_comparison(capsys, ferry):
    assert main(["compare", *CHIPS, "--scene", FERRY, "--frame", "40", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["chips"] == list(ferry.names)
    assert [tuple(one["values"]) for one in data["figures"]] == [figure.values for figure in ferry.figures]
    assert data["scene"][1]["dots_differ"] == ferry.shown[1].differ


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (CHIPS[:1], "2 to 8 chips are compared, got 1"),
        (CHIPS * 5, "2 to 8 chips are compared, got 10"),
        ([*CHIPS, "-o", "OUT/"], "a picture needs --scene"),
        ([*CHIPS, "--scene", FERRY, "-o", "OUT/x.png"], "must be a folder"),
        ([CHIPS[0], "nowhere.chip.toml"], "nowhere.chip.toml"),
        ([*CHIPS, "--scene", "nowhere.scene.toml", "-o", "OUT/"], "nowhere.scene.toml"),
        ([*CHIPS, "--scene", FERRY, "--scale", "9", "-o", "OUT/"], "must be 1 to 8"),
    ],
)
def test_wrong_input_ends_with_2_and_writes_nothing(words, told, tmp_path, capsys):
    assert main(["compare", *(word.replace("OUT", str(tmp_path)) for word in words)]) == 2
    assert told in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_refusals_from_python(ferry):
    with refused(ValueError, "2 to 8 chips are compared, got 1"):
        compare(ferry.chips[:1])
    with refused(ValueError, "scale must be 1 to 8, got 0"):
        vdpsim.side_by_side(ferry, 0)
    with refused(ValueError, "no chip could draw the scene"):
        vdpsim.side_by_side(compare(ferry.chips))


def test_chips_without_a_time_table_are_compared_too():
    """Nothing is known of their slots: no figure of them, and none is the better one."""
    found = {figure.name: figure for figure in compare([small_chip(TILES), small_chip(TILES, sprites=SPRITES)]).figures}
    assert found["fits"].values == (None, None)
    assert found["sprites in the table"].values == (None, 4)
    assert found["bits on the chip"].best == (0,)


def test_a_copied_chip_file_is_alike(tmp_path):
    shutil.copy(CHIPS[0], tmp_path / "twin.chip.toml")
    found = compare([vdpsim.load_chip(CHIPS[0]), vdpsim.load_chip(tmp_path / "twin.chip.toml")], FERRY)
    assert found.fields == ()
    assert found.shown[1].differ == 0
    assert all(figure.best == () for figure in found.figures)
