"""A chip's constants: numbers held against the chip file's own, names that clash, and remarks that foreign names cannot leave."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from refusal import refused
from strategies import chips, timed_chips

from vdpsim import InputError
from vdpsim.chip.load import load_chip, parse_chip
from vdpsim.handoff.constants.files import constants_files, sections
from vdpsim.handoff.constants.table import Constant

CHIPS = Path(__file__).parents[2] / "scenes" / "chips"


def python(chip) -> dict[str, object]:
    """The constants as Python has them."""
    found: dict[str, object] = {}
    exec(dict(constants_files(chip))["constants.py"], found)  # noqa: S102 - our own text
    return found


def test_curlew_by_its_file():
    """By hand, from the numbers in scenes/chips/curlew.chip.toml."""
    told = python(load_chip(CHIPS / "curlew.chip.toml"))
    assert (told["FRAME_WIDTH"], told["FRAME_DOTS_PER_LINE"], told["MEMORY_SLOTS_PER_LINE"]) == (288, 384, 384)
    assert told["MEMORY_BLANK_SLOTS"] == 96
    assert told["MODES_KIND"] == (0, 2, 0, 1, 1, 2)
    assert told["MODE_FAR_PICTURE"] == 4
    assert told["LAYERS_FIRST_MODE"] == (0, 2)
    assert told["CELLS_PATTERN"][:16] == (*range(5, 15), -1, -1, -1, -1, -1, -1)
    assert told["CELL_NEAR_TILES_PATTERN_MASK"] == 0x7FE0
    assert told["MODES_EXCLUSIVE"] == (-1, -1, -1, -1, 1, -1)  # the picture switches layer 0 off
    assert told["MODES_LADDER"] == (-1, -1, -1, -1, 1, -1)
    assert told["LADDERS_FIRST"] == (0, 5)
    assert told["RUNGS_TEST"][:3] == (told["TEST_EQUAL"], told["TEST_EQUAL"], told["TEST_ALWAYS"])
    assert told["RUNGS_FIELD"][0] == told["CONDITION_PRIORITY"]
    assert told["SPRITES_X_PLACES"][:10] == (*range(9), -1)
    assert told["SPRITE_SIZES_WIDTH"] == (8, 16, 16, 32, 32, 16, 8, 64)
    assert told["SPRITE_SIZES_STEP"] == (32,) * 8
    assert told["GROUPS_COLLIDE"][0 * 8 + 1] == 1  # boat and bird
    assert told["GROUPS_COLLIDE"][1 * 8 + 1] == 1  # birds among each other
    assert told["GROUPS_COLLIDE"][0 * 8 + 0] == 0
    assert told["CPU_BYTE_DOTS_OVER"] == 21
    assert told["CPU_BYTE_DOTS_UNDER"] == 1
    assert (told["CPU_EVERY"], told["CPU_AT"]) == ((8,), (7,))
    assert told["PORT_MEMORY_STEP"] == 0x83
    assert told["PORTS_STEP"] == (0x83, -1, -1)
    assert told["REGISTER_FAR_SPLIT_RESET"] == 216
    assert told["STATUS_COLLISION"] == 3


def test_sanderling_by_its_file():
    """By hand, from the numbers in scenes/chips/sanderling.chip.toml: fields, halves that wait, planes and tiles of sprites."""
    told = python(load_chip(CHIPS / "sanderling.chip.toml"))
    across = told["FIELD_FAR_SCROLL_X"]
    places = [bit for bit, field in enumerate(told["REGISTERS_BIT_FIELD"]) if field == across]
    assert len(places) == 9
    assert [told["REGISTERS_BIT_OF"][bit] for bit in places] == [*range(9)]
    assert [told["REGISTERS_WAITS"][bit // 32] for bit in places] == [1] * 8 + [0]
    assert told["FIELDS_SPLIT"][across] == 1
    assert (
        told["CONTROLS_FIELD"][told["CONTROL_NEAR_SPLIT"]]
        == told["CONTROLS_FIELD"][told["CONTROL_FAR_SPLIT"]]
        == told["FIELD_SPLIT"]
    )
    night = told["MODE_FAR_NIGHT"]
    assert told["MODES_PLANES"][night] == told["PLANES_APART"]
    assert told["MODES_BASES"][night * 8 : night * 8 + 8] == (
        *[told[f"CONTROL_FAR_NIGHT_PLANE_{plane}"] for plane in range(7)],
        -1,
    )
    assert told["SPRITE_SIZES_RIGHT"][1] == 32
    assert told["SPRITE_SIZES_BELOW"][1] == 16 * 32
    assert told["MODES_PLACE_BITMAP"][night] != told["MODES_PLACE_BITMAP"][told["MODE_FAR_CHART"]]


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(chip=chips() | timed_chips())
def test_every_chip_has_its_constants_each_name_once(chip):
    items = [item.words for section in sections(chip) for item in section.items]
    assert len(items) == len(set(items))
    told = python(chip)
    for section in sections(chip):
        for item in section.items:
            name = "_".join(re.findall("[A-Za-z0-9]+", " ".join(item.words))).upper()
            assert told[name] == (item.value if isinstance(item, Constant) else item.values)


def test_the_same_constants_stand_in_all_files():
    files = dict(constants_files(load_chip(CHIPS / "curlew.chip.toml")))
    names = [
        set(re.findall(rb"(?:#define|integer|constant|\]|^) ?([A-Z][A-Z0-9_]+)(?= )", data, re.MULTILINE))
        for data in files.values()
    ]
    assert all(b"MODES_KIND" in each and b"FRAME_WIDTH" in each for each in names)


def test_names_that_would_be_one_are_told():
    text = (CHIPS / "dunlin.chip.toml").read_text()
    text = text.replace('"boat"', '"a_b"').replace('"bird"', '"a__b"')
    chip = parse_chip(text)
    told = "constants.svh: 'group' 'a__b': would be GROUP_A_B in Verilog, as 'group' 'a_b' is: names must differ"
    with refused(InputError, re.escape(told)):
        list(constants_files(chip))


@pytest.mark.parametrize("name", ["ends in a backslash \\", "Großer Brachvogel", "??/", "*/ int x; /*", '"; evil();'])
def test_a_chips_name_stays_within_its_remark(name):
    text = (CHIPS / "dunlin.chip.toml").read_text()
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    chip = parse_chip(text.replace('name = "Dunlin"', f'name = "{quoted}"'))
    assert chip.name == name
    for file, data in constants_files(chip):
        first = data.decode("ascii").splitlines()[0]
        assert first.startswith({"svh": "//", "vhd": "--", "h": "//", "py": "#"}[file.rpartition(".")[2]])
        assert "\\" not in first
    assert python(chip)["FRAME_WIDTH"] == 288
