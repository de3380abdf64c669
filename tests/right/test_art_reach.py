"""Which entries a source sees, and which of them several sources have in common: worked out by hand from chips' palette rules."""

from __future__ import annotations

from pathlib import Path

import pytest
from refusal import refused
from scenery import CHIP

import vdpsim
from vdpsim.art.colours.reach import Reach, View, layer_banks, layer_reach, pages, rung_fields, sprite_reach
from vdpsim.chip.model import Rung
from vdpsim.chip.tables.bits import Bits

CHIPS = Path(__file__).resolve().parents[2] / "scenes/chips"
CURLEW = vdpsim.load_chip(CHIPS / "curlew.chip.toml")


def reach(layer, mode, banks=None, chip=CURLEW):
    """A layer's."""
    return layer_reach(chip, layer, chip.layer(layer).mode(mode), banks)


def test_a_layer_with_a_transparent_value_sees_all_but_one_of_a_bank():
    found = reach("near", "tiles")
    assert len(found.views) == 8
    assert not found.single
    assert found.views[2] == View(2, tuple(range(33, 48)), tuple(range(1, 16)))
    assert found.views[2].value(40) == 8


def test_a_layer_without_one_sees_all_of_it():
    assert reach("far", "tiles").views[7].entries == tuple(range(112, 128))


def test_a_bitmap_shows_one_bank():
    assert reach("far", "picture") == Reach((View(0, tuple(range(256)), tuple(range(256))),), single=True)
    assert len(reach("far", "chart").views) == 1, (
        "the picture's 256 entries leave the layer's bank register no second value"
    )


def test_sprites_begin_at_their_base():
    """Base 32 and eight banks: entries 33 to 47, and so on to 145 to 159."""
    assert CURLEW.sprites is not None
    found = sprite_reach(CURLEW, CURLEW.sprites)
    assert [(view.bank, view.entries[0], view.entries[-1]) for view in found.views][::7] == [(0, 33, 47), (7, 145, 159)]


def test_only_the_banks_that_are_asked_for():
    assert [view.bank for view in reach("near", "tiles", [5, 2, 5]).views] == [2, 5]
    assert [view.bank for view in reach("near", "tiles", 3).views] == [0, 1, 2]
    with refused(ValueError, "there are 8 banks, got 9"):
        reach("near", "tiles", 9)
    with refused(ValueError, "banks must be 0 to 7, got 8, 9"):
        reach("near", "tiles", [1, 9, 8])
    with refused(ValueError, "banks must be 0 to 7, got none"):
        reach("near", "tiles", [])
    with refused(ValueError, "banks must be 0, the only one, got 1"):
        reach("far", "picture", [1])


def changed(old, new, text=CHIP):
    """A chip like the one of ``scenery``, with a line changed."""
    assert old in text
    return vdpsim.parse_chip(text.replace(old, new))


def test_a_layer_whose_cells_name_no_bank_has_the_registers():
    """Reedling's far layer: 64 entries, 16 a bank, so banks 0 to 3."""
    chip = vdpsim.parse_chip(CHIP)
    assert list(layer_banks(chip, "far")) == [0, 1, 2, 3]
    found = reach("far", "bitmap", chip=chip)
    assert found.single
    assert [view.entries[0] for view in found.views] == [0, 16, 32, 48]
    listed = vdpsim.parse_chip(
        CHIP
        + '\n[constants]\n"far.bank" = 2\n[registers]\nothers = "wired"\nbackdrop = { bits = 6, effect = "at once" }\n'
    )
    assert list(layer_banks(listed, "far")) == [2]
    assert reach("far", "bitmap", chip=listed).views[0].entries == tuple(range(32, 48))


def test_of_banks_that_share_entries_the_first_is_taken():
    """Banks two entries apart, sixteen values: bank 0 has 0 to 15, bank 8 is the next that shares none of them."""
    chip = changed('first_dot = "low"', 'first_dot = "low"\nentries = { bank_step = 2 }')
    tiles = changed(
        'transparent = 0\n[[layers]]\nname = "far"', 'entries = { bank_step = 8 }\n[[layers]]\nname = "far"'
    )
    assert [view.bank for view in reach("near", "tiles", chip=tiles).views] == [0, 2]
    assert len(reach("far", "bitmap", chip=chip).views) > 2, "a bitmap shows one of them alone"


def test_values_that_show_the_same_entry_count_once():
    chip = changed('first_dot = "low"', 'first_dot = "low"\nentries = { base = 3, value_step = 0 }')
    assert reach("far", "bitmap", chip=chip).views[0] == View(0, (3,), (0,))


def test_pages_are_what_all_see():
    """Near sees 16n + 1 to 16n + 15, far 16n to 16n + 15, sprites the banks from 2 on: each has the fifteen."""
    assert CURLEW.sprites is not None
    sources = [reach("near", "tiles"), reach("far", "tiles"), sprite_reach(CURLEW, CURLEW.sprites)]
    found = pages(sources)
    assert found is not None
    entries, places = found
    assert entries == [tuple(range(16 * bank + 1, 16 * bank + 16)) for bank in range(10)]
    assert places[0] == places[1] == {bank: bank for bank in range(8)}
    assert places[2] == {bank: bank + 2 for bank in range(8)}


def test_a_page_of_one_source_has_all_that_it_sees():
    found = pages([reach("far", "tiles", [0, 3])])
    assert found == ([tuple(range(16)), tuple(range(48, 64))], [{0: 0, 1: 1}])


def test_views_of_one_source_in_one_page_cannot_be_shared():
    """The picture sees all entries at once, and so joins all banks of the near layer."""
    assert pages([reach("near", "tiles"), reach("far", "picture")]) is None
    assert pages([reach("near", "tiles", [0]), reach("far", "picture")]) is not None


def test_views_that_touch_through_a_third_have_to_have_entries_in_common():
    first, second = Reach((View(0, (0, 1), (0, 1)),), single=False), Reach((View(0, (2, 3), (0, 1)),), single=False)
    both = Reach((View(0, (1, 2), (0, 1)),), single=False)
    assert pages([first, second]) == ([(0, 1), (2, 3)], [{0: 0}, {0: 1}])
    assert pages([first, second, both]) is None


@pytest.mark.parametrize(
    ("rungs", "needed"),
    [
        ([None], {}),
        (["priority = 1", None], {}),
        (["priority = 1"], {"priority": 1}),
        (["priority = 1", "priority = 0"], {}),
        (["priority >= 2"], {"priority": 2}),
        (["group = 1", "priority != 0"], {"priority": 1}),
        (["priority = 9"], {}),
        ([], {}),
    ],
)
def test_what_a_cell_has_to_say_to_stand_on_the_ladder(rungs, needed):
    ladder = [Rung.model_validate({"source": "near", **({"when": when} if when else {})}) for when in rungs]
    ladder.append(Rung.model_validate({"source": "far"}))
    assert rung_fields(ladder, "near", {"priority": Bits.parse("1:0")}) == needed
