"""Does art that is known to fit keep every colour? Banks are filled first, and what is fitted is drawn from them."""

from __future__ import annotations

import os
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from brief import short_choice, short_packing
from PIL import Image
from planted import SHAPES, planted
from soaked import few

from vdpsim import art, load_chip
from vdpsim.art.colours.as_it_is import as_it_is
from vdpsim.art.colours.colouring import colour
from vdpsim.art.colours.lost import lost
from vdpsim.art.colours.reach import Reach, View, groups
from vdpsim.art.colours.units import Units, palette_of

SEEDS = int(os.environ.get("VDPSIM_PLANTED", "5"))
"""Seeds of each shape."""
EVERY_RUN = {*product([2], SHAPES), *product([1], SHAPES[::3])}
"""Banks with colours of their own, in each shape; and some that share colours, where the search is ten times as long."""
BITS = (4, 4, 4)
CURLEW = Path(__file__).parents[2] / "scenes" / "chips" / "curlew.chip.toml"


@pytest.fixture(autouse=True)
def short_searches():
    """Whether fewer banks would do, and which colours are best where art does not fit, is asked elsewhere."""
    with short_choice(), short_packing():
        yield


def faults(given, found):
    """What is wrong with a scheme for planted art, in words."""
    told = []
    for at, (units, one) in enumerate(zip(given.sources, found.sources, strict=True)):
        if not one.exact:
            told.append(f"source {at} lost colours: {one.why}")
            continue
        if units.reach.single and len(set(one.view.tolist())) > 1:
            told.append(f"source {at} shows several banks")
        for number, shows in enumerate(units.opaque):
            known = dict(palette_of(one.reach.views[one.view[number]], found.colours))
            wrong = [
                dot
                for dot in np.flatnonzero(shows).tolist()
                if known.get(int(one.value[number, dot])) != tuple(units.rgb[number, dot].tolist())
            ]
            if wrong:
                told.append(f"source {at}, thing {number}, dots {wrong}")
    for entry, shade in given.kept.items():
        if found.colours.get(entry) != shade:
            told.append(f"kept entry {entry} has {found.colours.get(entry)}")
    return told


@pytest.mark.parametrize(("seed", "shape"), few(product(range(SEEDS), SHAPES), EVERY_RUN.__contains__))
def test_art_that_was_planted_keeps_every_colour(seed, shape):
    given = planted(seed, shape)
    assert faults(given, colour(given.sources, BITS, given.kept)) == [], given.told


def test_a_wrong_scheme_is_seen():
    """The checker above sees a colour changed, and a kept entry that got another."""
    given = planted(2, "kept")
    found = colour(given.sources, BITS, given.kept)
    entry = next(entry for entry in found.colours if entry not in given.kept)
    found.colours[entry] = (1, 2, 3)
    assert "thing" in faults(given, found)[0]
    found.colours[next(iter(given.kept))] = (1, 2, 3)
    assert "kept entry" in faults(given, found)[-1]


def eight_banks(seed):
    """300 tiles of 2 to 6 of one bank's colours; of eight banks of 16, 8 colours are common to all."""
    rng = np.random.default_rng(seed)
    number = rng.permutation(4096)
    views = tuple(View(bank, tuple(range(bank * 16, bank * 16 + 16)), tuple(range(16))) for bank in range(8))
    rgb = np.zeros((300, 64, 3), np.uint8)
    for tile in rgb:
        bank = int(rng.integers(8))
        colours = number[[*range(8), *range(8 + 8 * bank, 16 + 8 * bank)]]
        few = rng.choice(colours, int(rng.integers(2, 7)), replace=False)
        dots = rng.choice(few, 64)
        dots[: len(few)] = few
        tile[:] = np.stack([dots >> 8, dots >> 4 & 15, dots & 15], axis=1) * 17
    return Units(rgb, np.ones((300, 64), bool), np.ones(300), Reach(views, single=False))


@pytest.mark.parametrize("seed", few(range(8), lambda seed: seed == 2))
def test_colours_that_all_banks_share_are_found(seed):
    found = colour([eight_banks(seed)], BITS, {})
    assert found.sources[0].exact
    assert found.pages <= 8


def bank(number, *entries):
    return View(number, entries, tuple(range(len(entries))))


def greys(sets, reach):
    """Things of these colours, as greys of red and green; 8 dots each."""
    rgb = np.zeros((len(sets), 8, 3), np.uint8)
    for tile, one in zip(rgb, sets, strict=True):
        numbers = np.resize(list(one), 8)
        tile[:, 0], tile[:, 1] = numbers % 16 * 17, numbers // 16 * 17
    return Units(rgb, np.ones((len(sets), 8), bool), np.ones(len(sets)), reach)


def test_groups_of_unlike_views():
    """Two banks of three, of which a second source sees the last two entries; a third sees all, and one more."""
    first = Reach((bank(0, 0, 1, 2), bank(1, 3, 4, 5)), single=False)
    second = Reach((bank(0, 1, 2), bank(1, 4, 5)), single=False)
    wide = Reach((bank(0, *range(7)),), single=True)
    found = groups([first, second])
    assert [(one.entries, one.common) for one in found] == [((0, 1, 2), (1, 2)), ((3, 4, 5), (4, 5))]
    found = groups([first, second, wide])
    assert [one.entries for one in found] == [(0, 1, 2), (3, 4, 5), (6,)]
    assert [sorted(one.views) for one in found] == [[0, 1, 2], [0, 1, 2], [2]]
    assert groups([first, Reach((bank(0, 0, 1, 2, 3), bank(1, 4, 5)), single=False)]) is None


def test_a_colour_goes_where_all_who_need_it_see_it():
    """Entry 0 is the first's alone: what both need stands in 1 and 2, the first's third colour in 0, though it is lightest."""
    first, second = Reach((bank(0, 0, 1, 2),), single=False), Reach((bank(0, 1, 2),), single=False)
    found, _ = as_it_is([greys([(1, 2, 9)], first), greys([(1, 2)], second)], BITS, {})
    assert {entry: shade[0] // 17 for entry, shade in found.colours.items()} == {0: 9, 1: 1, 2: 2}


def test_two_that_show_one_bank_each_take_two():
    reach = Reach((bank(0, 0, 1), bank(1, 2, 3)), single=True)
    found, _ = as_it_is([greys([(1, 2)], reach), greys([(3,), (4,)], reach)], BITS, {})
    assert sorted(one.reach.views[0].bank for one in found.sources) == [0, 1]


def why(sets, views, kept=None, *, part=False):
    found, reason = as_it_is([greys(sets, Reach(views, single=False, part=part))], BITS, kept or {})
    assert found is None
    return reason.text, reason.proved


def test_reasons_say_what_is_proved():
    two = (bank(0, 0, 1), bank(1, 2, 3))
    assert why([(1, 2), (3, 4), (5,)], two) == ("5 colours, and room for 4", True)
    assert why([(1, 2, 3)], two) == ("one bank would have to show 3 colours, and holds at most 2", True)
    assert why([(1, 2), (2, 3), (3, 1)], two) == (
        "more things than banks, no two of which fit into one bank together",
        True,
    )
    assert why([(1, 2), (3, 4), (5,)], two, part=True)[1] is False
    assert why([(1, 2), (3, 4)], two, {0: None}) == ("4 colours, and room for 3", True)
    assert why([(1, 2), (3, 4), (5,)], two, {0: (17, 0, 0)}) == ("4 colours beside what is there, and room for 3", True)


def test_what_is_not_found_is_not_called_impossible(monkeypatch):
    import vdpsim.art.colours.as_it_is as home  # noqa: PLC0415

    monkeypatch.setattr(home, "place", lambda *_, **__: None)
    text, proved = why([(1, 2), (3, 4)], (bank(0, 0, 1), bank(1, 2, 3, 4)))
    assert text == "the search for banks ended without one, there may be a way"
    assert not proved


def test_where_the_first_search_finds_nothing_the_strongest_is_asked(monkeypatch):
    import vdpsim.art.colours.as_it_is as home  # noqa: PLC0415

    monkeypatch.setattr(home, "place", lambda *_, **__: None)
    given = eight_banks(2)
    assert colour([given], BITS, {}).sources[0].exact


def test_lost_colours_are_named():
    wanted = np.zeros((4, 8, 3), np.uint8)
    wanted[0, 5], wanted[3, 2:4] = (255, 0, 0), (0, 0, 17)
    given = np.zeros_like(wanted)
    opaque = np.ones((4, 8), bool)
    assert lost(wanted, wanted, opaque, (2, 2), "tile", "x") == ""
    assert lost(wanted, given, opaque, (2, 2), "tile", "no room") == (
        "2 colours are not kept everywhere (no room): #000011 (tile at column 1, row 1), #ff0000 (tile at column 2, row 0)"
    )
    opaque[0, 5] = False
    assert lost(wanted, given, opaque, (1, 1), "dot", "") == (
        "1 colour is not kept everywhere: #000011 (dot at column 2, row 3)"
    )
    many = np.arange(8 * 3, dtype=np.uint8).reshape(1, 8, 3)
    assert lost(many + 1, many, np.ones((1, 8), bool), (8, 1), "sprite", "").endswith(" and 2 more")


def test_a_picture_that_does_not_fit_says_what_was_lost(tmp_path):
    """Curlew's near layer: one tile of 20 colours, more than a bank has."""
    chip = load_chip(CURLEW)
    rgb = np.zeros((8, 8, 3), np.uint8)
    rgb[..., 0] = np.resize(np.arange(20), 64).reshape(8, 8) % 16 * 17
    rgb[..., 1] = np.resize(np.arange(20), 64).reshape(8, 8) // 16 * 17
    found = art.fit(Image.fromarray(rgb), chip, layer="near")
    assert not found.report.loss.none
    assert "there is no way: one bank would have to show 20 colours" in found.report.notes[-1]
    assert "(tile at column 0, row 0)" in found.report.notes[-1]
    assert "not kept" in found.report.text()
