"""Values by name: one scene with names does the same on chips whose numbers differ, and what is told has the names."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from paper import BITMAP, SPRITES, TILES, small_chip
from refusal import refused

import vdpsim
from vdpsim.chip.controls import NO_NUMBER, choices, controls, name_of, number_of, told
from vdpsim.chip.load import chip_text
from vdpsim.chip.model import Chip
from vdpsim.chip.registers import fields, rest_values
from vdpsim.comparing.described import described, differing
from vdpsim.report.told.frame import WRITES_TOLD
from vdpsim.scene.load import load_scene
from vdpsim.state.writes import RegisterWrite

Json = dict[str, Any]

REGISTERS = """
[registers]
"a.mode" = "t"
"a.below" = "p"
"a.split" = 40

[[palette]]
colours = ["#000", "#123", "#456", "#789", "#abc", "#def", "#321", "#654", "#f00", "#0f0", "#00f", "#ff0", "#0ff"]

[[bitmaps]]
for = "a.b"
rows = [BITMAP_ROWS]

[[bitmaps]]
for = "a.p"
rows = [OTHER_ROWS]

[[patterns]]
for = "a.t"
at = 0
rows = ["10101010", "11001100", "11110000", "10000001", "00000000", "11111111", "00110011", "01010101"]

[[writes]]
line = 4
register = "a.mode"
value = "b"

[[writes]]
lines = "10:30"
register = "a.mode"
values = ["t", "p", "b", "p"]

[[writes]]
lines = "30:32"
register = "a.mode"
from = "p"
to = "t"

[[motion]]
register = "a.below"
from = "b"
to = "b"
""".replace("BITMAP_ROWS", ", ".join(['"' + "0123" * 16 + '"'] * 16)).replace(
    "OTHER_ROWS", ", ".join(['"' + "3210" * 16 + '"'] * 16)
)


def chip_with(*order: str) -> Chip:
    """A chip whose layer a has the modes t (tiles), b and p (bitmaps) in this order."""
    modes: dict[str, Json] = {"t": TILES, "b": BITMAP, "p": {**BITMAP, "name": "p"}}
    layer = {"name": "a", "modes": [modes[name] for name in order]}
    return small_chip(layers=[layer], ladder=[{"source": "a"}])


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    path = tmp_path / "names.scene.toml"
    path.write_text('name = "Names"\nchip = "none.chip.toml"\nframes = 3\n' + REGISTERS)
    return path


@pytest.mark.parametrize("order", ["tbp", "tpb", "btp", "bpt", "ptb", "pbt"])
def test_one_scene_with_names_is_drawn_alike_whatever_the_numbers_are(order, scene):
    first, other = (load_scene(scene, chip_with(*names)) for names in ("tbp", order))
    for frame in (0, 1, 2):
        assert np.array_equal(vdpsim.render(first, frame).rgb, vdpsim.render(other, frame).rgb)
    wanted = [order.index(name) for name in ("b", *"tpbp" * 5, "p", "t")]
    assert [write.value for write in other.writes() if isinstance(write, RegisterWrite)] == wanted
    at = [other.state(0).value(name) for name in ("a.mode", "a.below")]
    assert at == [order.index("t"), order.index("b")]  # motion has the last word of `below`


def test_three_modes_are_three_pictures(scene):
    rgb = vdpsim.render(load_scene(scene, chip_with("t", "b", "p")), 0).rgb
    assert len({rgb[line].tobytes() for line in (10, 11, 12)}) == 3  # t, p, b


def test_a_number_stands_for_what_it_is_on_the_chip(scene):
    text = scene.read_text()
    scene.write_text(text.replace('"a.mode" = "t"', '"a.mode" = 1').replace('value = "b"', "value = 2"))
    loaded = load_scene(scene, chip_with("b", "t", "p"))
    assert loaded.state(0).value("a.mode") == 1
    assert next(write.value for write in loaded.writes() if isinstance(write, RegisterWrite)) == 2


def test_a_machine_takes_names_and_gives_numbers():
    machine = vdpsim.Machine(chip_with("b", "t", "p"))
    machine.registers["a.mode"] = "p"
    assert machine.registers["a.mode"] == 2
    machine.registers["a.mode"] = 1
    assert machine.registers["a.mode"] == 1
    with refused(ValueError, r"a\.mode takes 0 to 2 \(0 b, 1 t, 2 p\), got 'x'"):
        machine.registers["a.mode"] = "x"
    with refused(ValueError, r"a\.mode takes 0 to 2 \(0 b, 1 t, 2 p\), got 3"):
        machine.registers["a.mode"] = 3
    with refused(TypeError, r"backdrop must be a whole number, got 'b'"):
        machine.registers["backdrop"] = "b"
    assert machine.registers["a.mode"] == 1


def wired(order: str, **names: str | int) -> Chip:
    chip = json.loads(chip_with(*order).model_dump_json(exclude_unset=True))
    register = {"a.mode": {"bits": 2, "effect": "at once", **({"reset": names["reset"]} if "reset" in names else {})}}
    return small_chip(**chip | {"registers": register, "constants": {"a.below": names["below"]}})


def test_a_chip_says_its_constants_and_resets_by_name():
    for order, mode, below in (("tbp", 1, 2), ("pbt", 1, 0), ("btp", 0, 2)):
        chip = wired(order, reset="b", below="p")
        assert fields(chip)["a.mode"].reset == mode
        assert {name: rest_values(chip)[name] for name in ("a.mode", "a.below")} == {"a.mode": mode, "a.below": below}
        assert vdpsim.parse_chip(chip_text(chip)) == chip
        assert 'reset = "b"' in chip_text(chip)


def test_what_is_compared_has_names_whichever_way_it_was_written():
    by_name, by_number = wired("tbp", reset="b", below="p"), wired("tbp", reset=1, below=2)
    assert differing([by_name, by_number]) == ()
    assert described(by_number)['constants."a.below"'] == "p"
    assert described(by_number)['registers."a.mode".reset'] == "b"
    fields = {field.path: field.values for field in differing([by_name, wired("tbp", reset=1, below=0)])}
    assert fields == {'constants."a.below"': ("p", "t")}


def test_a_page_tells_a_write_by_name():
    chip = chip_with("t", "b", "p")
    assert WRITES_TOLD[RegisterWrite](chip, RegisterWrite(3, "a.mode", 2)) == "a.mode = 2 (p)"
    assert WRITES_TOLD[RegisterWrite](chip, RegisterWrite(3, "a.split", 2)) == "a.split = 2"


def test_each_control_of_a_field_goes_by_its_own_names(tmp_path):
    """One bit sets the modes of two layers, whose modes have unlike names: the field itself goes by number alone."""
    layers = [
        {"name": "a", "modes": [TILES, BITMAP]},
        {"name": "b", "modes": [{**BITMAP, "name": "p"}, {**BITMAP, "name": "q"}]},
    ]
    words = [
        {"name": "r", "bits": 2, "fields": {"both": {"bits": "0", "sets": ["a.mode", "b.mode"]}, "b.below": "1"}},
        {"others": "wired"},
    ]
    chip = small_chip(layers=layers, ladder=[{"source": "a"}, {"source": "b"}], registers=words)
    machine = vdpsim.Machine(chip)
    for name, value, number in (("a.mode", "b", 1), ("b.mode", "p", 0), ("b.mode", "q", 1), ("both", 0, 0)):
        machine.registers[name] = value
        assert [machine.registers[one] for one in ("a.mode", "b.mode", "both")] == [number] * 3
    with refused(ValueError, r"both takes 0 to 1 \(0 p, 1 q\), got 'b'"):
        machine.registers["b.mode"] = "b"
    with refused(TypeError, r"both must be a whole number, got 'q'"):
        machine.registers["both"] = "q"
    path = tmp_path / "tied.scene.toml"
    told = '[registers]\n"b.mode" = "q"\n[[writes]]\nline = 3\nregister = "a.mode"\nvalue = "t"\n'
    path.write_text(f'name = "Tied"\nchip = "none.chip.toml"\nframes = 2\n{told}')
    scene = load_scene(path, chip)
    assert [scene.state(0).value(name) for name in ("a.mode", "b.mode")] == [1, 1]
    assert [write.value for write in scene.writes()] == [0]
    assert WRITES_TOLD[RegisterWrite](chip, RegisterWrite(3, "b.mode", 1)) == "b.mode = 1 (q)"


def test_only_controls_of_modes_have_names():
    found = {name: control.names for name, control in controls(chip_with("t", "b", "p")).items() if control.names}
    assert found == {"a.mode": ("t", "b", "p"), "a.below": ("t", "b", "p")}


def test_names_and_numbers():
    names = ("near", "far")
    assert [number_of(names, value) for value in (0, 1, 7, "near", "far", "none", "")] == [
        0,
        1,
        7,
        0,
        1,
        *[NO_NUMBER] * 2,
    ]
    assert [name_of(names, number) for number in (-1, 0, 1, 2)] == [-1, "near", "far", 2]
    assert [told(names, number) for number in (0, 2)] == ["0 (near)", "2"]
    assert (choices(names), choices(())) == (" (0 near, 1 far)", "")


SIZED = """
[[patterns]]
for = "sprites"
at = 0
size = [16, 4]
rows = ["1111111111111111", "1111111111111111", "1111111111111111", "1111111111111111"]

[[sprites]]
name = "one"
x = 4
y = 3
pattern = 0
size = [8, 4]

[[writes]]
frame = 0
line = 0
sprite = "one"
set = { size = [16, 4] }

[[motion]]
sprite = "one"
field = "size"
from = [8, 4]
to = [16, 4]
"""


@pytest.mark.parametrize("swapped", [False, True])
def test_sizes_by_their_dots_in_writes_and_motion(swapped, tmp_path):
    sizes = [[16, 4], [8, 4]] if swapped else [[8, 4], [16, 4]]
    fields = {"x": "6:0", "y": "14:8", "pattern": "18:16", "size": "20"}
    chip = small_chip(TILES, sprites={**SPRITES, "sizes": sizes, "fields": fields, "pattern_bytes": 4})
    path = tmp_path / "sizes.scene.toml"
    text = SIZED.replace("to = [16, 4]", "to = [8, 4]") if swapped else SIZED
    path.write_text('name = "Sizes"\nchip = "none.chip.toml"\nframes = 3\n' + text)
    scene = load_scene(path, chip)
    small, large = (sizes.index(size) for size in ([8, 4], [16, 4]))
    seen = [vdpsim.Machine(chip, scene.state(frame)).sprites[0].size for frame in (0, 1)]
    assert seen == [small, small if swapped else large]
    record = next(write for write in scene.writes(0) if hasattr(write, "offset"))
    assert int.from_bytes(record.data, chip.memory.byte_order) >> 20 == large


GROUPS = {"groups": ["bird", "reed"], "pairs": [["bird", "reed"]]}


def test_a_group_moves_by_name(tmp_path):
    chip = small_chip(TILES, sprites=SPRITES, collisions=GROUPS)
    path = tmp_path / "groups.scene.toml"
    text = (
        SIZED.replace("size = [8, 4]", "")
        .split("[[writes]]")[0]
        .replace("[16, 4]", "[8, 4]")
        .replace("1" * 16, "1" * 8)
    )
    text += '[[motion]]\nsprite = "one"\nfield = "group"\nfrom = "bird"\nto = "reed"\n'
    path.write_text('name = "Groups"\nchip = "none.chip.toml"\nframes = 3\n' + text)
    scene = load_scene(path, chip)
    assert [vdpsim.Machine(chip, scene.state(frame)).sprites[0].group for frame in (0, 1, 2)] == [0, 1, 1]
