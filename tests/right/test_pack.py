"""Are colour sets packed right, and into as few banks as can be? Against every way for tiny cases, and published instances.

Published: the instances of A. Grange, I. Kacem, S. Martin, "Algorithms for the bin packing problem with overlapping items",
arXiv:1605.00558, in ``tests/published`` with their licence; ``best_published`` is the best of that paper's six solvers.
"""

from __future__ import annotations

import gzip
import json
from hashlib import blake2b
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from brief import short_place
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused

from vdpsim.art.packing.exact import exact
from vdpsim.art.packing.pack import Packing, pack, reduced
from vdpsim.art.packing.place import Page, place

DATA = Path(__file__).parents[1] / "published" / "packing.json.gz"


def faults(sets, capacity, packing, shared=frozenset()):
    """What is wrong with a packing, in words."""
    found = []
    there = sorted(number for page in packing.pages for number in page)
    if there != list(range(len(sets))):
        found.append(f"sets in pages: {there}")
    for number, page in enumerate(packing.pages):
        union = frozenset().union(*(sets[one] for one in page)) - frozenset(shared)
        if len(union) > capacity:
            found.append(f"page {number} holds {len(union)}")
        if not page:
            found.append(f"page {number} is empty")
    if packing.bound > len(packing.pages):
        found.append(f"bound {packing.bound} above {len(packing.pages)} pages")
    return found


def fewest(sets, capacity):
    """The fewest pages, by trying every way."""
    for pages in range(1, len(sets) + 1):
        for way in product(range(pages), repeat=len(sets)):
            unions = [
                frozenset().union(*(one for one, at in zip(sets, way, strict=True) if at == page))
                for page in range(pages)
            ]
            if all(len(union) <= capacity for union in unions):
                return pages
    return 0


MANY = st.lists(st.frozensets(st.integers(0, 40), min_size=1, max_size=9), min_size=1, max_size=40)
SETS = st.lists(st.frozensets(st.integers(0, 9), min_size=1, max_size=4), min_size=1, max_size=6)


@settings(max_examples=settings.default.max_examples // 4)
@given(SETS, st.integers(4, 6))
def test_tiny_cases_are_packed_best_and_proved(sets, capacity):
    packing = pack(sets, capacity)
    assert faults(sets, capacity, packing) == []
    assert len(packing.pages) == fewest(sets, capacity)
    assert packing.proved


@settings(max_examples=settings.default.max_examples // 5)
@given(
    st.lists(st.frozensets(st.integers(0, 40), min_size=1, max_size=9), min_size=1, max_size=40),
    st.integers(9, 16),
    st.integers(0, 3),
)
def test_any_packing_stands(sets, capacity, shared):
    """Every set in one page, no page too full, never below the bound; shared symbols take no room."""
    common = frozenset(range(shared))
    packing = pack(sets, capacity, shared=common)
    assert faults(sets, capacity, packing, common) == []
    assert pack(sets, capacity, shared=common) == packing


def test_a_wrong_packing_is_seen():
    """The checker above sees a page too full, a set twice or missing, an empty page and a bound that is none."""
    sets = [{1, 2}, {3}, {4}]
    good = Packing(((0, 1), (2,)), 2)
    assert faults(sets, 3, good) == []
    assert faults(sets, 2, good) == ["page 0 holds 3"]
    assert faults(sets, 3, Packing(((0, 1), (1, 2)), 2)) == ["sets in pages: [0, 1, 1, 2]"]
    assert faults(sets, 4, Packing(((0, 1, 2), ()), 1)) == ["page 1 is empty"]
    assert faults(sets, 3, Packing(((0, 1), (2,)), 3)) == ["bound 3 above 2 pages"]


def test_bounds():
    """31 symbols in pages of 15 need 3; three sets of which no two fit together need 3 too; a set in another needs nothing."""
    assert pack([{number} for number in range(31)], 15).bound == 3
    apart = [set(range(10)), set(range(10, 20)), set(range(20, 30))]
    assert pack(apart, 15).pages == ((0,), (1,), (2,))
    assert pack([*apart, {3, 4}, {25}], 15).pages == ((0, 3), (1,), (2, 4))
    assert pack([], 15) == Packing((), 0)
    assert pack([set(), set()], 15).pages == ((0, 1),)


def test_sets_that_lie_in_others_need_no_thought():
    whole, home = reduced([frozenset(one) for one in ({1}, {1, 2}, {3}, {2, 1}, {1, 2, 3})])
    assert whole == [frozenset({1, 2, 3})]
    assert home == [0] * 5


def test_what_cannot_be_packed():
    with refused(ValueError, "set 1 has 3 symbols, more than a page's 2"):
        pack([{1}, {1, 2, 3}], 2)
    with refused(ValueError, "capacity must be 1 or more, got 0"):
        pack([{1}], 0)
    with refused(ValueError, r"set 0 must reach pages 0 to 0, got \[1\]"):
        place([{1}], [Page(3)], [[1]])


def test_unlike_pages():
    """A page with fixed symbols takes what uses them; a set goes only where it reaches; no way is None."""
    pages = [Page(2, frozenset({1, 2})), Page(3)]
    assert place([{1, 2, 3, 4}, {5, 6, 7}], pages) == (0, 1)
    assert place([{1, 2, 3, 4}, {5, 6, 7, 8}], pages) is None
    assert place([{5, 6}, {7}], pages, [[1], [1]]) == (1, 1)
    assert place([{5, 6}], pages) == (0,)
    assert place([], pages) == ()
    assert place([{9, 10, 11}], [Page(2), Page(2)]) is None


@settings(max_examples=settings.default.max_examples // 4)
@given(SETS, st.lists(st.integers(1, 5), min_size=1, max_size=3), st.data())
def test_a_place_that_is_found_stands(sets, rooms, data):
    pages = [Page(room, data.draw(st.frozensets(st.integers(0, 9), max_size=3))) for room in rooms]
    reach = [data.draw(st.sets(st.integers(0, len(pages) - 1), min_size=1)) for _ in sets]
    with short_place():
        found = place(sets, pages, reach)
    if found is None:
        return
    for number, page in enumerate(pages):
        union = frozenset().union(*(one for one, at in zip(sets, found, strict=True) if at == number)) - page.fixed
        assert len(union) <= page.room
    assert all(at in way for at, way in zip(found, reach, strict=True))


@pytest.mark.unmeasured
@pytest.mark.parametrize(("step", "step_of_proved"), [(312, 20), pytest.param(20, 4, marks=pytest.mark.soak)])
def test_published_instances(step, step_of_proved):
    """Some of all, no worse than the best published; every proved optimum of those with 20 sets that are tried; some better."""
    instances = json.loads(gzip.decompress(DATA.read_bytes()))
    assert len(instances) == 390
    chosen = instances[::step] + [one for one in instances if one["proved_optimal"] is not None][::step_of_proved]
    better = 0
    for one in chosen:
        packing = pack(one["tiles"], one["capacity"])
        assert faults([frozenset(tile) for tile in one["tiles"]], one["capacity"], packing) == [], one["name"]
        assert one["lower_bound"] <= packing.bound <= len(packing.pages) <= one["best_published"], one["name"]
        if one["proved_optimal"] is not None:
            assert packing.bound <= len(packing.pages) == one["proved_optimal"], one["name"]
        better += len(packing.pages) < one["best_published"]
    assert better


def mixed(start):
    """Numbers 0 to 255 without a pattern, the same everywhere: the congruence that ISO C shows for ``rand``, 7.22.2.2."""
    while True:
        start = (start * 1103515245 + 12345) & 0x7FFFFFFF
        yield start >> 16 & 255


@pytest.mark.parametrize(
    ("count", "symbols", "most", "capacity", "pages", "bound", "answer"),
    [
        (120, 60, 8, 15, 19, 4, "7589e6032412d147"),
        pytest.param(40, 30, 6, 9, 7, 4, "b911a57dd9bd452e", marks=pytest.mark.soak),
        pytest.param(25, 16, 5, 7, 5, 5, "d378e1f7d36e65af", marks=pytest.mark.soak),
    ],
)
def test_the_answer_is_the_same_on_every_machine(count, symbols, most, capacity, pages, bound, answer):
    """Recorded once. Who changes the search looks at how many pages it takes, and puts the new answer here."""
    source = mixed(count)
    sets = [{next(source) % symbols for _ in range(1 + next(source) % most)} for _ in range(count)]
    packing = pack(sets, capacity)
    told = blake2b(repr(packing.pages).encode(), digest_size=8).hexdigest()
    assert (len(packing.pages), packing.bound, told) == (pages, bound, answer)


def rows(*sets):
    """Sets of small numbers as a matrix, a row a set."""
    return np.array([[symbol in one for symbol in range(9)] for one in sets])


@pytest.mark.parametrize(
    ("sets", "capacity", "pages", "nodes", "answer", "sure"),
    [
        ([{1}], 1, 1, 1, [0], True),
        ([{1}], 1, 1, 0, None, False),
        ([{1}, {2}], 1, 2, 2, [0, 1], True),
        ([{1}, {2}], 1, 2, 1, None, False),
        ([{1}, {2}], 1, 1, 9, None, True),
        ([{1, 2}, {2, 3}, {4, 5}, {5, 6}], 3, 2, 99, [0, 0, 1, 1], True),
        ([{1, 2}, {3, 4}, {5, 6}, {7, 8}], 4, 2, 99, [0, 0, 1, 1], True),
        ([{1, 2}, {3, 4}, {5, 6}, {7, 8}], 3, 3, 99, None, True),
        ([{1, 2, 3}, {1}, {4, 5, 6}, {5}], 3, 2, 99, [0, 0, 1, 1], True),
    ],
)
def test_every_way_is_looked_through_within_so_many_places(sets, capacity, pages, nodes, answer, sure):
    """Each set that is put somewhere is a place looked at: one for one set, two for two that lie apart."""
    found, proved = exact(rows(*sets), capacity, pages, nodes)
    assert (found is None, proved) == (answer is None, sure)
    if found is not None:
        assert found.tolist() == answer


@pytest.mark.parametrize("seed", range(4))
def test_what_the_search_does_not_find_is_found_by_looking_through_all(monkeypatch, seed):
    """A search that never finds anything: the fewest pages all the same, and proved."""
    monkeypatch.setattr("vdpsim.art.packing.pack.search", lambda *given: (None, 1 << 30))
    random = np.random.default_rng(seed)
    for _ in range(20):
        sets = [frozenset(random.choice(9, random.integers(1, 4), replace=False).tolist()) for _ in range(6)]
        packing = pack(sets, 4)
        assert faults(sets, 4, packing) == []
        assert len(packing.pages) == packing.bound == fewest(sets, 4)
