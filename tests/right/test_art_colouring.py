"""Do things get banks and values that show what was asked for, exactly where that can be, whoever shares the entries?"""

from __future__ import annotations

import numpy as np
import pytest
from brief import short_choice, short_packing
from hypothesis import given, settings
from hypothesis import strategies as some
from refusal import refused

from vdpsim.art.colours.as_it_is import _apart
from vdpsim.art.colours.choose import choose
from vdpsim.art.colours.choose_points import points
from vdpsim.art.colours.colouring import colour
from vdpsim.art.colours.reach import Reach, View
from vdpsim.art.colours.shades import Shades
from vdpsim.art.colours.units import Units, grid, palette_of

BITS = (4, 4, 4)


@pytest.fixture(autouse=True)
def short_searches():
    """How well colours are chosen and banks are filled is asked in ``test_choose.py`` and ``test_pack.py``."""
    with short_choice(), short_packing():
        yield


def views(count, size, first=0, skip=1):
    """Banks of ``size`` entries one after another, of which the first ``skip`` values show nothing."""
    found = []
    for bank in range(count):
        start = first + bank * size
        found.append(View(bank, tuple(range(start + skip, start + size)), tuple(range(skip, size))))
    return tuple(found)


def units(sets, reach, dots=16, name="it"):
    """Things with the colours that each names, as greys of red; None is a transparent dot."""
    rgb, opaque = np.zeros((len(sets), dots, 3), np.uint8), np.zeros((len(sets), dots), bool)
    for at, one in enumerate(sets):
        for dot, number in enumerate(one):
            if number is not None:
                rgb[at, dot] = (number % 16 * 17, number // 16 * 17, 0)
                opaque[at, dot] = True
    return Units(rgb, opaque, np.ones(len(sets)), reach, name)


def shows(coloured, colours, given_):
    """Whether every dot has its own colour, and no dot that is transparent a value."""
    for at in range(len(given_.opaque)):
        known = dict(palette_of(coloured.reach.views[coloured.view[at]], colours))
        for dot in range(given_.opaque.shape[1]):
            value = int(coloured.value[at, dot])
            if given_.opaque[at, dot]:
                assert known[value] == tuple(given_.rgb[at, dot].tolist())
            else:
                assert value == -1


@given(some.integers(0, 2**32 - 1))
@settings(max_examples=30)
def test_whatever_has_a_place_is_shown_exactly(seed):
    """Sets drawn from banks that hold them, so that there is a way: two sources share four banks, one reaches two of them."""
    rng = np.random.default_rng(seed)
    banks = [rng.choice(64, 4, replace=False) for _ in range(4)]
    near, far = Reach(views(4, 5), single=False), Reach(views(2, 5, 10), single=False)
    first = [rng.choice(banks[rng.integers(4)], int(rng.integers(1, 5))) for _ in range(8)]
    second = [rng.choice(banks[2 + rng.integers(2)], int(rng.integers(0, 5))) for _ in range(5)]
    sources = [units(first, near), units(second, far)]
    found = colour(sources, BITS, {})
    for coloured, one in zip(found.sources, sources, strict=True):
        assert coloured.exact
        shows(coloured, found.colours, one)
    assert 0 < found.bound <= found.pages <= 4


def test_the_fewest_banks_are_taken_and_proved():
    """Six sets of two of four colours: any two banks of three hold only three of them each, so three sets or fewer go in each."""
    pairs = [(a, b) for a in range(4) for b in range(a)]
    found = colour([units(pairs, Reach(views(6, 4), single=False))], BITS, {})
    assert found.sources[0].exact
    assert (found.pages, found.bound) == (3, 3)


def test_colours_stand_from_dark_to_light():
    found = colour([units([[5, 1, 3]], Reach(views(2, 8), single=False))], BITS, {})
    assert [shade[0] // 17 for _, shade in sorted(found.colours.items())] == [1, 3, 5]


def test_a_bank_that_lies_over_others_takes_its_colours_from_all_of_them():
    """A picture of eight colours in one bank of eight entries, which are also two banks of four for things of four colours
    each: found for both together, in both groups, which eight colours need at least.
    """
    small = views(2, 5)
    wide = View(0, tuple(entry for view in small for entry in view.entries), tuple(range(1, 9)))
    sources = [units([range(8)], Reach((wide,), single=True)), units([(0, 2, 4, 6), (1, 3, 5, 7)], Reach(small, False))]
    found = colour(sources, BITS, {})
    for coloured, one in zip(found.sources, sources, strict=True):
        assert coloured.exact
        shows(coloured, found.colours, one)
    assert (found.pages, found.bound) == (2, 2)


def test_a_bank_without_a_colour_is_never_the_nearest():
    """Two banks of one entry, of which the second alone has a colour; and where none has any, nothing shows."""
    banks = (View(0, (1,), (1,)), View(1, (2,), (1,)))
    tiles, opaque = np.full((2, 1, 2, 3), 200, np.uint8), np.array([[[True, True]], [[False, True]]])
    view, value = Shades(banks, {2: (17, 0, 0)}, 2).nearest(tiles, opaque, 0)
    assert (view.tolist(), value.tolist()) == ([1, 1], [[[1, 1]], [[0, 1]]])
    view, value = Shades(banks, {}, 2).nearest(tiles, opaque, 0)
    assert (view.tolist(), value.tolist()) == ([0, 0], [[[0, 0]], [[0, 0]]])


def test_a_source_of_nothing_takes_the_first_of_its_banks():
    (one,) = colour([units([], Reach(views(3, 5), single=True))], BITS, {}).sources
    assert (one.exact, [view.bank for view in one.reach.views], one.value.shape) == (True, [0], (0, 16))
    (one,) = colour([units([], Reach(views(3, 5), single=False))], BITS, {}).sources
    assert (one.exact, one.value.shape, one.view.shape) == (True, (0, 16), (0,))


@pytest.mark.parametrize(
    "sets",
    [
        [range(5)],  # more than a bank holds
        [range(4), range(4, 8), range(8, 12)],  # more than all banks hold
        [(0, 1, 2), (3, 4, 5), (6, 7, 0)],  # eight colours, but no two of the three in one bank of four
        # a ring of eight
        pytest.param(
            [(0, 1), (2, 3), (0, 2), (1, 3), (0, 4), (2, 5), (4, 6), (5, 7), (6, 1), (7, 3)], marks=pytest.mark.soak
        ),
    ],
)
def test_where_there_is_no_place_colours_are_chosen(sets):
    reach = Reach(views(2, 5), single=False)
    given_ = units(sets, reach)
    found = colour([given_], BITS, {})
    (one,) = found.sources
    assert not one.exact
    assert found.bound == found.pages == 0
    assert len(found.colours) <= 8
    assert (one.value[given_.opaque] > 0).all()
    assert (one.value[~given_.opaque] == -1).all()


def test_sets_that_lie_apart_are_seen():
    """Three of which no two fit into four, and a fourth that goes with each of them."""
    apart = [frozenset({0, 1, 2}), frozenset({3, 4, 5}), frozenset({6, 7, 0})]
    assert _apart(apart, 4, 2)
    assert not _apart(apart, 4, 3)
    assert not _apart([*apart[:2], frozenset({0})], 4, 2)
    assert not _apart([frozenset()], 4, 1)


def test_kept_colours_serve_and_stay():
    """A bank of four with two that are kept: their colours cost no entry."""
    reach = Reach(views(1, 5), single=False)
    keep = {1: (17, 0, 0), 2: (34, 0, 0)}
    given_ = units([(1, 2, 3, 4)], reach)
    found = colour([given_], BITS, keep)
    assert found.sources[0].exact
    shows(found.sources[0], found.colours, given_)
    assert {entry: found.colours[entry] for entry in keep} == keep
    lossy = colour([units([(1, 2, 3, 4)], reach)], BITS, {1: (255, 255, 0), 2: None})
    assert not lossy.sources[0].exact
    assert 2 not in lossy.colours
    assert lossy.colours[1] == (255, 255, 0)


def test_a_source_that_shows_one_bank_takes_the_one_with_room():
    keep = dict.fromkeys((1, 2, 3, 6))
    found = colour([units([(1, 2), (3, 4)], Reach(views(3, 5), single=True))], BITS, keep)
    assert found.sources[0].reach.views[0].bank == 2
    assert found.sources[0].exact


def test_a_source_that_shows_one_bank_may_have_several_things_and_lose():
    given_ = units([range(16), range(8, 24), range(70, 74)], Reach(views(1, 5), single=True), dots=20)
    found = colour([given_], BITS, {})
    (one,) = found.sources
    assert not one.exact
    assert one.view.tolist() == [0, 0, 0]
    assert one.value.shape == (3, 20)
    assert ((one.value == -1) == ~given_.opaque).all()


def test_what_shows_one_bank_is_looked_at_in_pieces_when_colours_are_chosen(monkeypatch):
    """100 dots of five colours are 64 and 36, the rest of the second piece clear; what shows any bank stays whole."""
    looked = []

    def watched(rgb, opaque, *more, **options):
        looked.append((rgb.shape, opaque.sum(axis=1).tolist()))
        return choose(rgb, opaque, *more, **options)

    monkeypatch.setitem(colour.__globals__, "choose", watched)
    for single in (True, False):
        given_ = units([[at % 5 for at in range(100)]], Reach(views(1, 5), single=single), dots=100)
        (one,) = colour([given_], BITS, {}).sources
        assert (one.value > 0).all()
        assert one.value.shape == (1, 100)
    assert looked == [((2, 64, 3), [64, 36]), ((1, 100, 3), [100])]


def test_with_a_dithering_only_the_chips_own_colours_are_exact():
    reach = Reach(views(2, 5), single=False)
    off = units([(1, 2)], reach)
    off.rgb[0, 0] = (18, 0, 0)
    assert colour([off], BITS, {}).sources[0].exact
    assert not colour([off], BITS, {}, exact=False).sources[0].exact
    assert colour([units([(1, 2)], reach)], BITS, {}, exact=False).sources[0].exact


def test_what_fits_comes_first_but_leaves_the_others_something():
    """One source takes every entry that there is; the other sees the same, has its own colours and loses, but shows."""
    reach = Reach(views(1, 5), single=False)
    found = colour([units([range(4)], reach), units([range(10, 14)], reach)], BITS, {})
    assert [one.exact for one in found.sources] == [True, False]
    assert (found.sources[1].value[:, :4] > 0).all()


def test_sources_without_a_usable_entry_are_told():
    reach = Reach(views(1, 3), single=False)
    with refused(ValueError, "near.tiles: all entries that it can show are kept, and none of them has a colour"):
        colour([units([(1,)], reach, name="near.tiles")], BITS, {1: None, 2: None})
    empty = colour([units([(None,)], reach)], BITS, {1: None, 2: None})
    assert (empty.sources[0].value == -1).all()
    assert colour([units([(1,)], reach)], BITS, {1: None, 2: (17, 0, 0)}).sources[0].exact


def test_the_grid_is_the_chips():
    """Check-values 2.1: two bits show 0, 85, 170, 255; one bit 0 and 255; three bits 0, 36, 73 ..."""
    rgb = np.array([[42, 127, 54], [43, 128, 55]], np.uint8)
    assert grid(rgb, (2, 1, 3)).tolist() == [[0, 0, 36], [85, 255, 73]]


def test_things_of_unlike_sizes_share_banks_whose_colours_are_chosen():
    """Six colours in 16 dots and five in 6 dots, in one bank of four: colours are chosen for both together, and each dot shows
    the nearest of them.
    """
    reach = Reach(views(1, 5), single=False)
    sources = [units([range(6)], reach), units([[20, 21, 22, 23, 24, None]], reach, dots=6, name="other")]
    found = colour(sources, BITS, {})
    assert [one.value.shape for one in found.sources] == [(1, 16), (1, 6)]
    assert len(found.colours) == 4
    shown = np.array(sorted(found.colours.values()), np.int64)
    for coloured, one in zip(found.sources, sources, strict=True):
        known = dict(palette_of(coloured.reach.views[coloured.view[0]], found.colours))
        for dot, value in enumerate(coloured.value[0].tolist()):
            assert (value >= 0) == bool(one.opaque[0, dot])
            if value >= 0:
                apart = ((points(shown[:, None].astype(np.uint8)) - points(one.rgb[0, dot][None])) ** 2).sum(axis=-1)
                mine = ((points(np.array([known[value]], np.uint8)) - points(one.rgb[0, dot][None])) ** 2).sum()
                assert mine == apart.min()
