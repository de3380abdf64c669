"""A chip's constants: numbers held against the chip file's own, names that clash, and remarks that foreign names cannot leave."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from bare import BARE, own
from hypothesis import HealthCheck, given, settings
from refusal import refused
from strategies import chips, timed_chips

from vdpsim import InputError
from vdpsim.chip.load import load_chip, parse_chip
from vdpsim.handoff.constants.files import constants_files, sections
from vdpsim.handoff.constants.table import Constant

CHIPS = Path(__file__).parents[2] / "scenes" / "chips"


def python(chip) -> dict[str, Any]:
    """The constants as Python has them."""
    found: dict[str, Any] = {}
    exec(dict(constants_files(chip))["constants.py"], found)  # noqa: S102 - our own text
    return found


ALWAYS = {name for name in python(parse_chip(BARE)) if not re.match(own(parse_chip(BARE)), name)}
"""The names that a chip with next to nothing has, but for its own."""


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
        told["CONTROLS_TOP"][told["CONTROL_FAR_SCROLL_X"]] == 511
    )  # nine bits, of a surface that repeats after 448 dots
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


@settings(max_examples=settings.default.max_examples // 4, deadline=None, suppress_health_check=list(HealthCheck))
@given(chip=chips() | timed_chips())
def test_every_chip_has_its_constants_each_name_once_and_all_names_but_its_own(chip):
    items = [item.words for section in sections(chip) for item in section.items]
    assert len(items) == len(set(items))
    told = python(chip)
    for section in sections(chip):
        for item in section.items:
            name = "_".join(re.findall("[A-Za-z0-9]+", " ".join(item.words))).upper()
            assert told[name] == (item.value if isinstance(item, Constant) else item.values)
    assert told.keys() >= ALWAYS
    assert [name for name in told.keys() - ALWAYS if not re.match(own(chip), name)] == []
    for top, field in zip(told["CONTROLS_TOP"], told["CONTROLS_FIELD"], strict=True):
        assert field < 0 or told["FIELDS_TOP"][field] <= top  # no field sets a control to more than its table tells


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


def test_what_a_chip_has_not_has_neutral_numbers():
    """By the rule in the files' heads: counts and flags 0, tables empty, all other numbers -1."""
    told = python(parse_chip(BARE))
    for name in ("SPRITES_COUNT", "SPRITES_RECORD_BYTES", "SPRITES_X_BITS", "SPRITE_PRIORITY_MASK", "SPRITES_WRAP_X", "PORTS",
                 "SPRITES_IN_MEMORY", "SPRITE_SIZES", "PLACES", "REFRESH_SLOTS", "GROUPS", "STATUS_CLEARED_BY_READ"):  # fmt: skip
        assert told[name] == 0, name
    for name in ("CLIENT_SPRITES_TABLE", "CLIENT_SPRITES_PATTERN", "CONTROL_SPRITES_PLANE_7", "CONTROL_LINE_FLAG",
                 "SOURCE_SPRITES", "CONTROL_PICTURE_SIZE", "PORT_MEMORY_DATA", "PORT_PALETTE_STEP", "SPRITES_PLANES",
                 "SPRITES_TRANSPARENT", "SPRITES_BASE", "SPRITE_X_LOWEST", "STATUS_ADDRESS"):  # fmt: skip
        assert told[name] == -1, name
    for name in ("SPRITE_SIZES_WIDTH", "PLACES_AFTER", "PORTS_DATA", "REGISTERS_BIT_FIELD", "FIELDS_BIT_REGISTER"):
        assert told[name] == (), name
    assert told["SPRITES_X_PLACES"] == (-1,) * 32


def test_a_fields_bits_are_found_from_the_field_as_from_the_register():
    """Sanderling's far.scroll_x: bits 7:0 in one register, bit 8 in another, by hand from its file."""
    chip = load_chip(CHIPS / "sanderling.chip.toml")
    told = python(chip)
    at = 32 * told["FIELD_FAR_SCROLL_X"]
    low, high = (told["FIELDS_BIT_REGISTER"][at + bit] for bit in (0, 8))
    assert told["FIELDS_BIT_REGISTER"][at : at + 10] == (*[low] * 8, high, -1) and low != high
    assert told["FIELDS_BIT_AT"][at : at + 8] == (*range(8),)
    both = [
        {(field, of, place // 32, place % 32) for place, (field, of) in enumerate(pairs) if field != -1}
        for pairs in [list(zip(told["REGISTERS_BIT_FIELD"], told["REGISTERS_BIT_OF"], strict=True))]
    ]
    back = {
        (place // 32, place % 32, register, bit)
        for place, (register, bit) in enumerate(zip(told["FIELDS_BIT_REGISTER"], told["FIELDS_BIT_AT"], strict=True))
        if register != -1
    }
    assert both == [back]


def test_what_groups_cost_and_where_conditions_look_by_curlews_file():
    """Two-byte accesses: 4-bit rows of 8 dots are 2, a glyph 1, a bitmap's group 1; priority is bit 15 of near's cells."""
    told = python(load_chip(CHIPS / "curlew.chip.toml"))
    assert told["MODES_CELLS_ACCESSES"] == (1, 1, 1, -1, -1, 1)
    assert told["MODES_PATTERN_ACCESSES"] == (2, -1, 2, -1, -1, -1)
    assert told["MODES_GLYPHS_ACCESSES"] == (-1, 1, -1, -1, -1, 1)
    assert told["MODES_BITMAP_ACCESSES"] == (-1, -1, -1, 1, 1, -1)
    assert told["MODES_GROUP_BYTES"] == (-1, -1, -1, 2, 2, -1)
    near, modes = told["MODE_NEAR_TILES"], told["MODES"]
    place = (told["CONDITION_PRIORITY"] * modes + near) * 16
    assert told["CONDITIONS_CELL_PLACES"][place : place + 2] == (15, -1)
    assert told["CONDITIONS_CELL_PLACES"][place + 16] == -1  # a text has none
    record = told["CONDITION_PRIORITY"] * 32
    assert told["CONDITIONS_RECORD_PLACES"][record : record + 2] == (32, -1)
    assert told["PLACES_AFTER"][told["MODES_PLACE_PATTERN"][near]] == told["MODES_PLACE_CELLS"][near]
    assert told["PLACES_AFTER"][told["MODES_PLACE_CELLS"][near]] == -1


def test_colour_cells_and_planes_have_their_costs_too():
    """By hand: blocks of 16 dots with 2-byte cells, 4 planes apart, 2-byte accesses: 16 dots a group, a plane an access."""
    text = BARE.replace('name = "chart"', 'name = "chart"\nplanes = "apart"').replace(
        "[registers]", 'colours = { block = [16, 8], cell_bytes = 2, cell = { bank = "0" } }\n[registers]'
    )
    told = python(parse_chip(text))
    assert (told["MODES_COLOURS_ACCESSES"], told["MODES_BITMAP_ACCESSES"]) == ((1,), (4,))
    assert (told["MODES_GROUP_DOTS"], told["MODES_GROUP_BYTES"]) == ((16,), (2,))


def test_conditions_ask_only_what_rungs_may_ask():
    """A text's colours in its cells are no condition's: all fields count as 0 there, as the model's text has it."""
    chip = load_chip(CHIPS / "curlew.chip.toml")
    told = python(chip)
    modes = [mode for layer in chip.layers for mode in layer.modes]
    for number, mode in enumerate(modes):
        for field in ("foreground", "background", "character", "priority"):
            place = (told[f"CONDITION_{field.upper()}"] * told["MODES"] + number) * 16
            there = set(told["CONDITIONS_CELL_PLACES"][place : place + 16]) - {-1}
            assert bool(there) is (field in mode.asked), (mode.name, field)
    assert any("foreground" in mode.cell.layout for mode in modes if mode.kind == "text")


def test_what_constants_say_of_slots_fields_and_controls():
    told = {"_".join(item.words): item.about for section in sections(parse_chip(BARE)) for item in section.items}
    assert "of the slots that are not blank" in told["cpu_every"] and told["places_every"].endswith("0: all")
    assert told["layers_enable"] == "number of its control enable"  # every layer has it
    assert told["layers_bank"].endswith("0 stands for it")
