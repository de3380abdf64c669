"""Each step of the packing on cases of two or three sets, worked out on paper: growing, moving, spreading, matching, telling."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from brief import short_packing

from vdpsim.art.colours import as_it_is
from vdpsim.art.colours.as_it_is import _matched
from vdpsim.art.colours.colouring import colour
from vdpsim.art.colours.lost import NAMED, lost
from vdpsim.art.colours.reach import Reach, View
from vdpsim.art.colours.units import Units, by_light
from vdpsim.art.packing.exact import exact
from vdpsim.art.packing.fill import _Growing, filled
from vdpsim.art.packing.pack import FAR, FIRST_STEPS, MORE_STEPS, NEAR, STARTS, _greedy, bound, pack
from vdpsim.art.packing.place import Page, _stated, place
from vdpsim.art.packing.search import PackingProblem, _start, as_matrix, search, without_a_page

SYMBOLS = range(9)
SEEDS = range(30)
PAIRS = [(one, other) for one in range(4) for other in range(one)]


def problem(sets, rooms, fixed=None, allowed=None):
    """Sets of symbols 0 to 8, the room of each page, what lies there anyway, and who may go where."""
    return PackingProblem(
        as_matrix(sets, SYMBOLS),
        as_matrix(fixed or [()] * len(rooms), SYMBOLS),
        np.array(rooms, np.int64),
        np.ones((len(sets), len(rooms)), bool) if allowed is None else np.array(allowed, bool),
    )


def chances(seed=0):
    return np.random.default_rng(seed)


# Growing


@pytest.mark.parametrize(("away", "fillings"), [(39, 20), (40, 5)])
def test_a_place_is_looked_for_from_twenty_fillings_unless_the_first_five_are_far_away(away, fillings, monkeypatch):
    """In all pages; in fewer once, and in half the moves. Every other filling is shuffled, and three of each kind are grown."""
    fill = place.__globals__["filled"]
    tried: list[tuple[int, ...]] = []

    def watched(stated, random, grown, *, shuffled):
        tried.append((len(stated.fixed), grown, shuffled))
        return fill(stated, random, grown, shuffled=shuffled)

    def nearly(stated, steps, random, start):
        tried[-1] += (steps,)
        return None, away

    monkeypatch.setitem(place.__globals__, "filled", watched)
    monkeypatch.setitem(place.__globals__, "search", nearly)
    assert place([{1, 2}, {2, 3}], [Page(3), Page(3)]) is None
    grown = [8] * 3 + [16] * 3 + [32] * 3 + [64] * 11
    wanted: list[tuple[int, ...]] = [
        (1, 8, False, 800),
        *((2, many, number % 2 == 1, 1600) for number, many in enumerate(grown)),
    ]
    assert tried == wanted[: 1 + fillings]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_page_of_little_room_is_grown_first(seed):
    """Rooms of 1 and 2 for two sets of 1: the first takes one and leaves one; were the larger the first, it took both."""
    assert sorted(filled(problem([{0}, {1}], [1, 2]), chances(seed), 3).tolist()) == [0, 1]
    assert sorted(filled(problem([{0}, {1}], [2, 1]), chances(seed), 3).tolist()) == [0, 1]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_page_that_few_may_use_is_grown_before_one_of_little_room(seed):
    """Page 0 has room 2 and is open to both; page 1 has room 3 and is open to one, which it takes before page 0 takes both."""
    assert filled(problem([{0}, {1}], [2, 3], allowed=[[1, 1], [1, 0]]), chances(seed), 3).tolist() == [1, 0]


def test_a_set_counts_by_its_size_and_more_where_few_pages_take_it():
    """Two symbols that may go anywhere count 2; two that may go to one page of two, 2 x (1 + 2 x 1/2) = 4; both, 6."""
    growing = _Growing(problem([{0, 1}, {2, 3}], [4, 4], allowed=[[1, 1], [1, 0]]))
    counted = [growing.worth((np.array(taken, bool), np.zeros(9, bool))) for taken in ([1, 0], [0, 1], [1, 1], [0, 0])]
    assert counted == [2, 4, 6, 0]


def test_a_page_is_grown_by_what_shares_most_and_is_never_overfilled():
    """Room 4: {0, 1, 2} is the largest; {1, 2, 3} shares two and adds one; then the page is full, and has {3} as well."""
    growing = _Growing(problem([{0, 1, 2}, {5, 6}, {1, 2, 3}, {3}, {8}], [4]))
    taken, present = growing.grow(0, np.ones(5, bool), chances(), wild=False)
    assert taken.tolist() == [True, False, True, True, False]
    assert np.flatnonzero(present).tolist() == [0, 1, 2, 3]


def test_what_a_page_has_anyway_takes_no_room_when_it_grows():
    """{0, 1} lies there, so that room 1 is enough for {0, 1, 2}; {3, 4} would need 2."""
    growing = _Growing(problem([{3, 4}, {0, 1, 2}, {0}], [1], fixed=[{0, 1}]))
    taken, present = growing.grow(0, np.ones(3, bool), chances(), wild=False)
    assert taken.tolist() == [False, True, True]
    assert np.flatnonzero(present).tolist() == [0, 1, 2]


@pytest.mark.parametrize("seed", SEEDS)
def test_of_sets_that_add_as_much_the_one_with_the_rarer_symbol_is_taken(seed):
    """0 lies there, and there is room for one more: 1, which one set has, comes before 2, which two have."""
    for sets, wanted in (([{0, 1}, {0, 2}, {2, 3, 4}], 0), ([{0, 2}, {0, 1}, {2, 3, 4}], 1)):
        growing = _Growing(problem(sets, [1], fixed=[{0}]))
        taken, _ = growing.grow(0, np.ones(3, bool), chances(seed), wild=False)
        assert np.flatnonzero(taken).tolist() == [wanted]


def test_a_set_of_nothing_is_filled_in_without_a_division_by_it():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        page = filled(problem([{0, 1}, (), {1, 2}, {3}], [4, 4]), chances(), 3)
    assert len(set(page.tolist())) == 1


def test_what_no_page_took_goes_where_it_overfills_least():
    """Rooms of 1 and 3; {0, 1, 2} fills the second, and {3, 4} is two too many there and one in the first."""
    assert filled(problem([{0, 1, 2}, {3, 4}], [1, 3]), chances(), 3).tolist() == [1, 0]


# Moving


def test_what_a_page_has_anyway_costs_no_move():
    """Both in page 1, room 2: five symbols, three too many. {0, 1, 2, 3} brings page 0, which has three of them, one: the way.

    Were those three counted, that move would bring four into room 1, three too many, and win nothing, and that of {8} one.
    """
    stated = problem([{0, 1, 2, 3}, {8}], [1, 2], fixed=[{0, 1, 2}, ()])
    for seed in SEEDS:
        page, away = search(stated, 2, chances(seed), np.array([1, 1]))
        assert page is not None and page.tolist() == [0, 1]
        assert away == 0


def test_a_move_is_made_and_then_looked_at():
    """Four sets of one, two pages of two, all in one: two moves, and a third look to see it. With fewer none is found."""
    stated = problem([{0}, {1}, {2}, {3}], [2, 2])
    start = np.zeros(4, np.int64)
    assert [search(stated, steps, chances(), start)[1] for steps in (1, 2, 3)] == [2, 1, 0]
    assert search(stated, 2, chances(), start)[0] is None
    page, _ = search(stated, 3, chances(), start)
    assert sorted(page.tolist()) == [0, 0, 1, 1]
    assert start.tolist() == [0] * 4


def test_a_set_moves_only_where_it_may():
    """{0} and {1} in a page of 1; only {1} may leave it."""
    for seed in SEEDS:
        page, _ = search(problem([{0}, {1}], [1, 1], allowed=[[1, 0], [1, 1]]), 2, chances(seed), np.array([0, 0]))
        assert page.tolist() == [0, 1]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_first_way_thinks_of_what_it_has_put_there(seed):
    """Of sets of 4, 2 and 2, the chance of less than 2 keeps the first first: {0, 1, 2, 3} in a page of 4, {0, 1} with it for
    nothing, and {4, 5}, two too many there, in the other.
    """
    for sets in ([{0, 1, 2, 3}, {0, 1}, {4, 5}], [{0, 1, 2, 3}, {4, 5}, {2, 3}]):
        page = _start(problem(sets, [4, 4]), chances(seed)).tolist()
        apart = next(number for number, one in enumerate(sets) if one == {4, 5})
        assert [one == page[0] for one in page] == [number != apart for number in range(3)]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_first_way_overfills_no_page_where_another_has_room(seed):
    """Page 0 has 0 and room for none: {0, 1} would bring it one symbol, one too many, and brings page 1 two, for which it has
    room.
    """
    assert _start(problem([{0, 1}], [0, 2], fixed=[{0}, ()]), chances(seed)).tolist() == [1]


def test_a_first_way_goes_by_chance_only_where_pages_would_grow_alike():
    """{0, 1} in two empty pages of two: either; where the second has 0 already, that one."""
    assert {_start(problem([{0, 1}], [2, 2]), chances(seed)).tolist()[0] for seed in SEEDS} == {0, 1}
    assert {_start(problem([{0, 1}], [2, 1], [(), {0}]), chances(seed)).tolist()[0] for seed in SEEDS} == {1}


def test_a_page_is_spread_over_the_others():
    """{4} is the smallest page: it goes to {2, 3}, which has room for one, not to {0, 1, 5}, which is full."""
    stated = problem([{0, 1, 5}, {4}, {2, 3}], [3, 3])
    assert without_a_page(stated, np.array([0, 1, 2])).tolist() == [0, 1, 1]


def test_a_page_is_filled_with_what_shares_most():
    """Room 4: {0, 1, 2} is the first of the largest; {1, 2, 3} adds one; then nothing fits but what lies there."""
    sets = as_matrix([{0, 1, 2}, {4, 5, 6}, {1, 2, 3}, {4, 7}], SYMBOLS)
    assert _greedy(sets[:, :8], 4).tolist() == [0, 1, 0, 1]


def test_three_of_which_no_two_go_together_have_no_place_in_two(monkeypatch):
    """Eight colours are no more than two pages of four hold, so that all fillings are searched from, and no way is found."""
    monkeypatch.setitem(place.__globals__, "STEPS", 60)
    apart = [{0, 1, 2}, {3, 4, 5}, {6, 7, 0}]
    assert place(apart, [Page(4)] * 2) is None
    assert place(apart, [Page(5)] * 2) in {(0, 1, 0), (1, 0, 1)}


def test_pages_that_a_set_does_not_reach_are_closed_to_it():
    """Page 0 has room for all, and each set is given another page by its reach alone."""
    assert place([{0}, {1}, {2}], [Page(9)] * 3, [[2], [1], [0]]) == (2, 1, 0)


def test_a_set_goes_with_one_that_holds_it_wherever_that_one_may_go():
    """{0} may go where {0, 1} may, page 0. {1} may go to page 1 alone, and {0, 1} and {1, 2}, which hold it, also to page 0."""
    sets = [frozenset(one) for one in ({0}, {0, 1}, {1, 2}, {1})]
    reach = [frozenset(pages) for pages in ({0, 1}, {0}, {0, 1}, {1})]
    stated, home = _stated(sets, [Page(3)] * 2, reach)
    assert [np.flatnonzero(row).tolist() for row in stated.sets] == [[0, 1], [1, 2], [1]]
    assert home.tolist() == [0, 0, 1, 2]


def test_of_sets_with_as_many_places_the_first_is_put_first():
    """Room 3, two pages: {0, 1} opens page 0; {2} and {3} have two places each: {2} comes first, and fills page 0."""
    found, sure = exact(as_matrix([{0, 1}, {2}, {3}], SYMBOLS), 3, 2, 99)
    assert (found.tolist(), sure) == ([0, 0, 1], True)


@pytest.mark.parametrize(("others", "least"), [(2, 2), (3, 3), (6, 3), (7, 4)])
def test_what_has_no_room_beside_sets_that_lie_apart_lies_in_further_pages(others, least):
    """Pages of four: {0, 1, 2} and {0, 3, 4} do not go together, and each leaves room for one of the other symbols."""
    sets = [{0, 1, 2}, {0, 3, 4}, *({5 + number} for number in range(others))]
    assert bound(as_matrix(sets), 4) == least


def test_fewer_pages_are_looked_for_from_a_page_that_is_spread_and_from_nothing_in_turn(monkeypatch):
    """The six pairs of four symbols in pages of three: three are found, two are tried, of which all in one is one too many."""
    tried = []

    def watched(stated, steps, random, start):
        tried.append((len(stated.room), steps, start is not None))
        return search(stated, steps, random, start)

    monkeypatch.setitem(pack.__globals__, "search", watched)
    monkeypatch.setitem(pack.__globals__, "FIRST_STEPS", 60)
    monkeypatch.setitem(pack.__globals__, "MORE_STEPS", 200)
    packing = pack(PAIRS, 3)
    assert (len(packing.pages), packing.bound) == (3, 3)
    assert tried == [(2, 60, True), (2, 60, False), (2, 60, True), (2, 200, True)]


@pytest.mark.parametrize(
    ("away", "steps"),
    [
        (NEAR, [FIRST_STEPS] * STARTS + [MORE_STEPS]),
        (NEAR + 1, [FIRST_STEPS] * STARTS),
        (FAR, [FIRST_STEPS] * STARTS),
        (FAR + 1, [FIRST_STEPS]),
    ],
)
def test_how_long_is_searched_follows_from_how_near_a_search_came(away, steps, monkeypatch):
    """The same six pairs; each search says that it had so many symbols too many at best."""
    tried = []

    def far(stated, steps, random, start):
        tried.append(steps)
        return None, away

    monkeypatch.setitem(pack.__globals__, "search", far)
    assert len(pack(PAIRS, 3).pages) == 3
    assert tried == steps


# Matching and telling


@pytest.mark.parametrize(
    ("open_", "given"),
    [
        ([], []),
        ([[3]], [3]),
        ([[1, 2], [1, 2]], [1, 2]),
        ([[1, 2], [1]], [2, 1]),  # the first moves on
        ([[1, 2], [2, 3], [1], [2]], None),  # four, and three entries
        ([[1, 2], [2, 3], [1]], [2, 3, 1]),  # two move on, one after the other
        ([[1], [1]], None),
        ([[]], None),
    ],
)
def test_each_colour_gets_an_entry_of_its_own(open_, given):
    assert _matched(open_) == given


def greys(sets):
    """Things of two dots each, whose colours are greys of the chip's four bits."""
    rgb = np.array([[(17 * number,) * 3 for number in one] for one in sets], np.uint8)
    banks = tuple(View(bank, tuple(range(4 * bank + 1, 4 * bank + 4)), (1, 2, 3)) for bank in range(6))
    return Units(rgb, np.ones(rgb.shape[:2], bool), np.ones(len(sets)), Reach(banks, single=False))


@pytest.mark.parametrize(("most", "bound"), [(5, 2), (6, 3)])
def test_the_fewest_banks_are_proved_for_so_many_sets(most, bound, monkeypatch):
    """The six pairs of four colours: four colours need two banks of three, and the packer proves three, if it is asked."""
    monkeypatch.setattr(as_it_is, "MOST_PACKED", most)
    with short_packing():
        found = colour([greys(PAIRS)], (4, 4, 4), {})
    assert found.sources[0].exact
    assert found.bound == bound


@pytest.mark.parametrize("colours", [3, 4])
def test_a_bank_that_is_just_full_keeps_everything(colours):
    """One bank of three entries: three colours fill it, and a fourth has no place."""
    one = View(0, (1, 2, 3), (1, 2, 3))
    rgb = np.array([[(17 * number,) * 3 for number in range(colours)]], np.uint8)
    art = Units(rgb, np.ones((1, colours), bool), np.ones(1), Reach((one,), single=False))
    assert colour([art], (4, 4, 4), {}).sources[0].exact == (colours == 3)


def test_light_is_weighed_as_rec_601_does():
    """Luma of ITU-R BT.601-7, 2.5.1: 0.299 red, 0.587 green, 0.114 blue. Each weight decides one of these orders."""
    assert [by_light(shade)[0] for shade in ((1, 0, 0), (0, 1, 0), (0, 0, 1))] == [299, 587, 114]
    assert sorted([(255, 255, 255), (0, 0, 255), (0, 255, 0), (255, 0, 0)], key=by_light) == [
        (0, 0, 255),
        (255, 0, 0),
        (0, 255, 0),
        (255, 255, 255),
    ]


@pytest.mark.parametrize("more", [0, 1, 2])
def test_lost_colours_are_named_most_dots_first(more):
    """Six are named and the rest counted; of equals the darker first, each where it first stands, in cells of 2 x 1 dots."""
    count = NAMED + more
    levels = [9, 9, *range(1, count)]
    wanted = np.zeros((2, len(levels), 3), np.uint8)
    wanted[1] = np.array(levels)[:, None]
    opaque = np.zeros(wanted.shape[:2], bool)
    opaque[1] = True
    told = lost(wanted, np.zeros_like(wanted), opaque, (2, 1), "cell", "why")
    assert told.startswith(
        f"{count} colours are not kept everywhere (why): #090909 (cell at column 0, row 1), #010101 (cell at column 1, row 1)"
    )
    assert told.count("#") == NAMED
    assert told.endswith(f" and {more} more") == bool(more)
