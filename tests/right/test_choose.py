"""Are banks and colours chosen well? Against optima by hand and by trying all, k-means of a second library, and photographs."""

from __future__ import annotations

from hashlib import blake2b
from importlib.util import find_spec
from itertools import combinations, product
from pathlib import Path

import numpy as np
import pytest
from brief import short_choice
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from refusal import refused
from soaked import every

from vdpsim.art.colours.choose import Chosen, Room, _ColourSearch, choose
from vdpsim.art.colours.choose_grid import Shelf, better
from vdpsim.art.colours.choose_points import first_least, form, grid, lifted, neighbours, points, product_of, snap
from vdpsim.art.colours.choose_search import Tiles, relax, thinned
from vdpsim.colour.space import psnr


def shown(found: Chosen, solid=None):
    """The colours of the dots (n, dots, 3); 0 where transparent."""
    out = np.zeros((*found.values.shape, 3), np.uint8)
    for tile, bank in enumerate(found.banks):
        opaque = found.values[tile] >= 0
        out[tile, opaque] = found.colours[bank][found.values[tile, opaque]]
    return out


def loss(tiles, opaque, out):
    return float((((points(tiles) - points(out)) ** 2).sum(axis=2) * opaque).sum())


def greys(rows):
    """Tiles of grey levels, a row each, all opaque."""
    tiles = np.repeat(np.array(rows, np.uint8)[:, :, None], 3, axis=2)
    return tiles, np.ones(tiles.shape[:2], bool)


def photograph(name, size=(320, 216)):
    home = find_spec("sklearn")  # not imported, which takes seconds
    if home is None or home.origin is None:
        pytest.skip("scikit-learn is not installed")
    with Image.open(Path(home.origin).parent / "datasets" / "images" / f"{name}.jpg") as image:
        return np.asarray(image.convert("RGB").resize(size, Image.Resampling.LANCZOS))


def cut(picture):
    height, width, _ = picture.shape
    tiles = picture.reshape(height // 8, 8, width // 8, 8, 3).swapaxes(1, 2).reshape(-1, 64, 3)
    return tiles, np.ones(tiles.shape[:2], bool)


@pytest.mark.unmeasured
@pytest.mark.parametrize(
    ("name", "least"),
    [
        pytest.param("china", 32.0, marks=pytest.mark.soak),
        pytest.param("flower", 34.8, marks=pytest.mark.soak),
    ],
)
def test_photographs_keep_what_was_promised(name, least):
    tiles, opaque = cut(photograph(name))
    found = choose(tiles, opaque, [Room(15)] * 16, (5, 5, 5))
    assert psnr(shown(found), tiles) >= least
    assert all(len(each) <= 15 for each in found.colours)


@pytest.mark.ci
def test_one_bank_is_as_good_as_k_means_of_a_second_library():
    cluster = pytest.importorskip("sklearn.cluster", reason="scikit-learn is not installed")
    tiles, opaque = cut(photograph("flower", (64, 40)))
    dots = points(tiles).reshape(-1, 6)
    means = cluster.KMeans(12, n_init=4, random_state=0).fit(dots)
    found = choose(tiles, opaque, [Room(12)], (8, 8, 8))
    # Its means may lie between the colours of 8 bits and off the surface that they form: that is worth a hundredth or two.
    assert loss(tiles, opaque, shown(found)) <= 1.03 * means.inertia_


def test_nine_greys_have_the_three_middles_that_paper_gives():
    # Exact k-means on a line: 0, 1, 2, 10, 11, 12, 20, 21, 22 have the middles 1, 11 and 21; here 100 lighter.
    tiles, opaque = greys([[100, 101, 102, 110, 111, 112, 120, 121, 122]])
    found = choose(tiles, opaque, [Room(3)], (8, 8, 8))
    assert sorted(found.colours[0][:, 0].tolist()) == [101, 111, 121]


def test_banks_that_can_show_everything_do():
    # Three kinds of tiles with four colours each; three banks of four.
    kinds = np.random.default_rng(5).permutation(512)[:12].reshape(3, 4)
    shades = np.stack(np.unravel_index(kinds, (8, 8, 8)), -1)
    eight = grid(3)[shades]
    order = np.random.default_rng(6).integers(0, 4, (30, 16))
    tiles = np.stack([eight[number % 3][order[number]] for number in range(30)]).astype(np.uint8)
    found = choose(tiles, np.ones((30, 16), bool), [Room(4)] * 3, (3, 3, 3))
    assert (shown(found) == tiles).all()


@pytest.mark.unmeasured
@pytest.mark.parametrize("seeds", every(2, [1, 3]))
def test_small_cases_come_near_the_best_of_all_choices(seeds):
    corners = np.array(list(product((0, 255), repeat=3)), np.uint8)
    ratios = []
    for seed in range(seeds):
        tiles = np.random.default_rng(seed).integers(0, 256, (5, 4, 3), dtype=np.uint8)
        opaque = np.ones((5, 4), bool)
        apart = ((points(tiles)[:, :, None] - points(corners)) ** 2).sum(axis=3)
        single = np.array([apart[:, :, list(pair)].min(axis=2).sum(axis=1) for pair in combinations(range(8), 2)])
        best = min(float(np.minimum(one, two).sum()) for one, two in combinations(single, 2))
        found = choose(tiles, opaque, [Room(2)] * 2, (1, 1, 1))
        ratios.append(loss(tiles, opaque, shown(found)) / best)
    assert min(ratios) >= 1 and max(ratios) <= 1.1 and np.mean(ratios) <= 1.01, ratios


@st.composite
def cases(draw):
    chance = np.random.default_rng(draw(st.integers(0, 1 << 30)))
    count, dots = draw(st.integers(0, 6)), draw(st.integers(0, 20))
    tiles = chance.integers(0, draw(st.sampled_from([2, 256])), (count, dots, 3), dtype=np.uint8)
    opaque = chance.random((count, dots)) < draw(st.sampled_from([0.1, 0.9]))
    channels = draw(st.sampled_from([(1, 1, 1), (3, 3, 2), (5, 5, 5), (8, 8, 8)]))
    rooms = []
    for _ in range(draw(st.integers(1, 4))):
        fixed = tuple(tuple(map(int, chance.integers(0, 256, 3))) for _ in range(draw(st.integers(0, 2))))
        rooms.append(Room(draw(st.integers(0, 4)), fixed))
    reach = chance.random((count, len(rooms))) < 0.6
    able = [number for number, room in enumerate(rooms) if room.free + len(room.fixed)]
    if not able:
        rooms.append(Room(1))
        reach = np.concatenate([reach, np.zeros((count, 1), bool)], axis=1)
    reach[:, able[-1] if able else -1] = True
    return tiles, opaque, rooms, channels, reach, chance.integers(0, 5, count)


@pytest.mark.unmeasured
@given(cases())
@settings(max_examples=12, deadline=None)
def test_what_is_chosen_is_what_was_allowed(case):
    tiles, opaque, rooms, channels, reach, weights = case
    with short_choice():
        found = choose(tiles, opaque, rooms, channels, reach=reach, weights=weights)
    assert found.banks.shape == (len(tiles),) and found.values.shape == opaque.shape
    assert ((found.values == -1) == ~opaque).all()
    assert reach[np.arange(len(tiles)), found.banks].all()
    for number, (room, colours) in enumerate(zip(rooms, found.colours, strict=True)):
        first = len(room.fixed)
        assert colours.dtype == np.uint8 and colours.shape[1:] == (3,)
        assert [tuple(each) for each in colours[:first].tolist()] == list(room.fixed)
        new = [tuple(each) for each in colours[first:].tolist()]
        assert len(new) <= room.free and len(set(new) | set(room.fixed)) == len(new) + len(set(room.fixed))
        assert all(part in grid(bits) for each in new for part, bits in zip(each, channels, strict=True))
        used = np.unique(found.values[found.banks == number])
        assert set(range(first, len(colours))) <= set(used.tolist()), "a colour that no dot has"
    each = [form(points(colours)) @ lifted(points(tiles).reshape(-1, 6)) for colours in found.colours]
    for tile, bank in enumerate(found.banks):
        for dot in np.flatnonzero(opaque[tile]):
            assert found.values[tile, dot] == each[bank][:, tile * opaque.shape[1] + dot].argmin()


@pytest.mark.unmeasured
def test_the_same_seed_chooses_the_same_and_tells_its_progress():
    tiles, opaque = cut(photograph("flower", (40, 24)))
    told: list[float] = []
    with short_choice():
        one = choose(tiles, opaque, [Room(4)] * 3, (4, 4, 4), seed=7, progress=told.append)
        two = choose(tiles, opaque, [Room(4)] * 3, (4, 4, 4), seed=7)
    assert (one.banks == two.banks).all() and (one.values == two.values).all()
    assert all((left == right).all() for left, right in zip(one.colours, two.colours, strict=True))
    assert told == sorted(told) and told[0] < 0.1 and told[-1] == 1


def test_a_tile_that_stands_often_counts_as_often():
    tiles, opaque = greys([[0] * 4, [100] * 4])
    middle = choose(tiles, opaque, [Room(1)], (8, 8, 8)).colours[0][0, 0]
    assert 40 < middle < 60
    assert choose(tiles, opaque, [Room(1)], (8, 8, 8), weights=[1, 1000]).colours[0][0, 0] >= 99
    assert choose(tiles, opaque, [Room(1)], (8, 8, 8), weights=[1, 0]).colours[0][0, 0] == 0


def test_fixed_colours_are_used_and_leave_room_for_others():
    tiles, opaque = greys([[0, 255, 80, 81]])
    found = choose(tiles, opaque, [Room(1, ((0, 0, 0), (255, 255, 255)))], (8, 8, 8))
    assert found.values.tolist() == [[0, 1, 2, 2]]
    assert found.colours[0].tolist()[:2] == [[0, 0, 0], [255, 255, 255]]
    full = choose(tiles, opaque, [Room(0, ((0, 0, 0), (255, 255, 255)))], (8, 8, 8))
    assert full.values.tolist() == [[0, 1, 0, 0]] and len(full.colours[0]) == 2


def test_tiles_go_only_where_they_reach():
    tiles, opaque = greys([[0, 0], [255, 255], [0, 255]])
    reach = np.array([[False, True], [True, False], [True, True]])
    found = choose(tiles, opaque, [Room(1), Room(1)], (8, 8, 8), reach=reach)
    assert found.banks[:2].tolist() == [1, 0]


def test_tiles_without_an_opaque_dot_take_the_lowest_room_that_they_reach():
    tiles, opaque = greys([[9, 9], [9, 9]])
    opaque[1] = False
    reach = np.array([[True, True], [False, True]])
    found = choose(tiles, opaque, [Room(2), Room(0)], (8, 8, 8), reach=reach)
    assert found.banks.tolist() == [0, 1] and found.values[1].tolist() == [-1, -1]
    assert [len(each) for each in found.colours] == [1, 0]
    nothing = choose(tiles, opaque & False, [Room(2)], (8, 8, 8))
    assert nothing.banks.tolist() == [0, 0] and len(nothing.colours[0]) == 0


@pytest.mark.unmeasured
def test_large_banks_and_wide_tiles_are_searched_too():
    picture = photograph("china", (96, 64))
    tiles = picture.reshape(4, 16, 6, 16, 3).swapaxes(1, 2).reshape(-1, 256, 3)
    found = choose(tiles, np.ones(tiles.shape[:2], bool), [Room(200)], (5, 5, 5))
    assert psnr(shown(found), tiles) > 34.5


def test_snapping_finds_the_nearest_of_the_whole_grid():
    colours = np.random.default_rng(4).integers(0, 256, (200, 3))
    for channels in ((1, 1, 1), (3, 3, 2), (4, 4, 4)):
        levels = [grid(bits) for bits in channels]
        every = np.array(list(product(*[each.tolist() for each in levels])), np.uint8)
        places = points(colours).astype(np.float64)
        best = ((places[:, None] - points(every)) ** 2).sum(axis=2).min(axis=1)
        found = ((places - points(snap(places, channels))) ** 2).sum(axis=1)
        assert (found == best).mean() > 0.99 and (found >= best).all()


def test_points_keep_their_promise_of_exact_sums():
    corners = points(np.array(list(product((0, 255), repeat=3))))
    assert (corners == np.rint(corners)).all()
    most = np.abs(form(corners)).T.max(axis=1) * np.append(np.abs(corners).max(axis=0), 1)
    assert most.sum() < 1 << 24  # no sum of products is larger, in whatever order it is added up
    rows, columns = form(corners), lifted(points(np.random.default_rng(0).integers(0, 256, (30_000, 3))))
    exact = rows.astype(np.float64) @ columns.astype(np.float64)
    assert (product_of(rows, columns) == exact).all() and (rows @ columns == exact).all()


@pytest.mark.parametrize("columns", [0, 5, 5000])
def test_the_first_of_equals_is_the_least(columns):
    apart = np.random.default_rng(1).integers(0, 9, (12, columns)).astype(np.float32)
    assert (first_least(apart) == apart.argmin(axis=0)).all()


def test_thinned_tiles_keep_few_colours_and_all_weight():
    tiles, opaque = greys([[5, 5, 5, 90, 90, 7, 7, 7], [0, 30, 60, 90, 120, 150, 180, 210]])
    opaque[0, 0] = False
    whole = Tiles(points(tiles), opaque.astype(float), np.ones(2), np.ones((2, 1), bool))
    thin = thinned(whole, 3)
    assert thin.weight.sum(axis=1).tolist() == [7, 8]
    assert sorted(thin.weight[0].tolist()) == [2, 2, 3]
    kept = {tuple(place) for place in thin.places[0].tolist()}
    assert kept == {tuple(place) for place in points(tiles[0, 1:]).tolist()}
    assert thinned(whole, 8) is whole


def test_each_entry_goes_to_the_middle_of_its_dots_if_only_one():
    """Greys 0 and 200 stand once each, 100 and 102 make a middle; what is fixed stays."""
    tiles, opaque = greys([[0, 200, 100, 102]])
    whole = Tiles(points(tiles), opaque.astype(float), np.ones(1), np.ones((1, 1), bool))
    rooms, wanted = (points([[level] * 3 for level in levels]) for levels in ((10, 190, 110), (0, 200, 101)))
    middle = np.rint((points([100] * 3) + points([102] * 3)) / 2)
    for fixed in (0, 1):
        (found,) = relax(whole, [rooms], [fixed], 1, 0, np.random.default_rng(0), lambda _: None)
        assert found[0].tolist() == (rooms if fixed else wanted)[0].tolist()
        assert found[1].tolist() == wanted[1].tolist()
        assert found[2].tolist() == middle.tolist()


def shelf(levels, colours, fixed=0):
    tiles, _ = greys([levels])
    raw = np.repeat(np.array(colours, np.uint8)[:, None], 3, axis=1)
    return Shelf(lifted(points(tiles[0])), np.ones(len(levels)), raw, fixed, (8, 8, 8))


def test_a_nudge_goes_to_the_best_neighbour_and_stops_at_the_best_place():
    one = shelf([10, 10, 10], [8])
    assert one.nudge(0) and one.colours[0].tolist() == [9, 9, 9]
    assert one.nudge(0) and one.colours[0].tolist() == [10, 10, 10]
    assert not one.nudge(0)


def test_a_jump_takes_the_entry_that_is_missed_least():
    three = shelf([0, 100, 100, 200], [0, 100, 99])
    candidates = np.array([[200, 200, 200], [50, 50, 50]], np.uint8)
    assert three.jump(candidates) and three.colours[:, 0].tolist() == [0, 100, 200]
    assert not three.jump(candidates)
    assert not shelf([0, 100], [0], fixed=1).jump(candidates)


@pytest.mark.parametrize(("work", "nudged"), [(0, 4), (2060 * 5 - 1, 4), (2060 * 5, 5), (2060 * 6, 6), (2060 * 9, 6)])
def test_as_many_entries_are_nudged_as_work_allows_and_four_at_least(work, nudged, monkeypatch):
    """Ten dots and six entries: a nudge costs 10 x (6 + 200) distances."""
    done = []
    monkeypatch.setattr("vdpsim.art.colours.choose_grid._NUDGES", work)
    monkeypatch.setattr(Shelf, "nudge", lambda _, entry: done.append(entry))
    one = shelf([25 * level for level in range(10)], [5, 45, 85, 125, 165, 205])
    better(one, np.zeros((10, 3), np.uint8), np.random.default_rng(0), jumps=0)
    assert len(done) == nudged
    assert done == sorted(set(done))


def test_dots_that_are_served_exactly_ask_for_no_jump():
    one = shelf([10, 20], [10, 20])
    assert better(one, np.array([[10] * 3, [20] * 3], np.uint8), np.random.default_rng(0))[:, 0].tolist() == [10, 20]


def test_a_jump_that_wins_nothing_is_not_made():
    """Of two entries that are missed alike the first would go, to where it is."""
    assert not shelf([0, 100], [0, 100]).jump(np.zeros((1, 3), np.uint8))


@pytest.mark.parametrize(
    ("entries", "dots", "work", "starts", "steps"),
    [
        (1, 5, 320, 2, (175, 5, 4)),  # 32 x 5 goes into 320 twice, and each start gets half of 350, 10 and 8
        (1, 6, 320, 1, (350, 10, 8)),  # 32 x 6 once
        (1, 11, 320, 1, (350, 10, 8)),  # 32 x 11 is more than all: once all the same
        (1, 1, 512, 16, (21, 3, 2)),  # 350 / 16, and of the others the fewest
        (1, 1, 32 * 17, 16, (21, 3, 2)),
        (1, 1, 32 * 15, 15, (23, 3, 2)),
        (1, 1, 7, 1, (350, 10, 7)),  # 7 distances of one dot to one entry are 7 rounds
        (1, 1, 9, 1, (350, 10, 8)),
        (1, 4, 13, 1, (350, 10, 3)),
        (1, 4, 7, 1, (350, 10, 2)),
        (0, 1, 7, 7, (50, 3, 2)),  # no entry at all counts as one distance
    ],
)
def test_the_work_is_shared_out_by_its_size(entries, dots, work, starts, steps, monkeypatch):
    monkeypatch.setitem(_ColourSearch.__init__.__globals__, "_THIRD", (work, 2, 8))
    tiles, opaque = greys([[0] * dots])
    whole = Tiles(points(tiles), opaque.astype(float), np.ones(1), np.ones((1, 1), bool))
    found = _ColourSearch(whole, tiles, [Room(entries)], (8, 8, 8), lambda _: None)
    assert (found.starts, found.steps) == (starts, steps)


def test_each_part_of_the_search_has_the_steps_that_were_counted_for_it(monkeypatch):
    """Thinned tiles first, then all dots, then the grid; only the first part is shaken."""
    done = []
    tiles, opaque = greys([list(range(20))])
    whole = Tiles(points(tiles), opaque.astype(float), np.ones(1), np.ones((1, 1), bool))
    one = _ColourSearch(whole, tiles, [Room(2)], (8, 8, 8), lambda _: None)

    def relaxed(tiles, places, counts, steps, shake, *_):
        done.append((tiles.weight.shape[1], steps, shake > 0))
        return places

    def polished(tiles, raw, rooms, counts, channels, rounds, *_):
        done.append((tiles.weight.shape[1], rounds))
        return rooms

    monkeypatch.setitem(_ColourSearch.run.__globals__, "relax", relaxed)
    monkeypatch.setitem(_ColourSearch.run.__globals__, "polish", polished)
    one.steps = (5, 6, 7)
    one.run(0, 0)
    assert done == [(12, 5, True), (20, 6, False), (20, 7)]


def test_neighbours_lie_one_level_away_and_within_the_grid():
    assert len(neighbours(np.array([33, 33, 33], np.uint8), (5, 5, 5))) == 26
    corner = neighbours(np.array([0, 0, 255], np.uint8), (5, 5, 1))
    assert len(corner) == 7 and {tuple(each) for each in corner.tolist()} >= {(8, 0, 255), (0, 0, 0)}


def test_wrong_arguments_are_refused():
    tiles, opaque = greys([[1, 2], [3, 4]])
    with refused(ValueError, r"as tiles have them: \(2, 2\), got bool \(2, 3\)"):
        choose(tiles, np.ones((2, 3), bool), [Room(1)], (5, 5, 5))
    for odd in (tiles[..., 0], tiles[..., :2]):
        with refused(ValueError, r"tiles must be whole numbers \(n, dots, 3\), 0 to 255, got uint8 \(2, 2"):
            choose(odd, opaque, [Room(1)], (5, 5, 5))
    with refused(ValueError, "at least one Room, got none"):
        choose(tiles, opaque, [], (5, 5, 5))
    with refused(ValueError, "free must be 0 to 4096, got -1"):
        choose(tiles, opaque, [Room(1), Room(-1)], (5, 5, 5))
    with refused(ValueError, "each part of each of fixed must be 0 to 255, got 256"):
        choose(tiles, opaque, [Room(1, ((0, 0, 256),))], (5, 5, 5))
    with refused(ValueError, "each of channels must be 1 to 8, got 0"):
        choose(tiles, opaque, [Room(1)], (5, 0, 5))
    with refused(ValueError, r"a column a room, \(2, 1\), got bool \(2, 2\)"):
        choose(tiles, opaque, [Room(1)], (5, 5, 5), reach=np.ones((2, 2), bool))
    with refused(ValueError, "for each of 2 tiles, got"):
        choose(tiles, opaque, [Room(1)], (5, 5, 5), weights=[1, -1])
    for solid in (opaque, [[True, True], [False, True]]):  # one dot is enough
        with refused(ValueError, "got none for tile 1"):
            choose(tiles, solid, [Room(1), Room(0)], (5, 5, 5), reach=np.array([[True, True], [False, True]]))
    with refused(ValueError, "got none for tile 0"):
        choose(tiles, opaque & False, [Room(1)], (5, 5, 5), reach=np.zeros((2, 1), bool))


def mixed(count, start):
    """Numbers 0 to 255 without a pattern, the same everywhere: the congruence that ISO C shows for ``rand``, 7.22.2.2."""
    found = []
    for _ in range(count):
        start = (start * 1103515245 + 12345) & 0x7FFFFFFF
        found.append(start >> 16 & 255)
    return np.array(found, np.uint8)


def a_case(count, dots):
    """Tiles that lie about a colour each, most of their dots opaque, and how often each stands: 1 to 4 times."""
    own, dot = mixed(count * 3, 7).reshape(count, 1, 3), mixed(count * dots * 3, count).reshape(count, dots, 3)
    return (
        (own // 8 * 7 + dot // 8).astype(np.uint8),
        mixed(count * dots, 3).reshape(count, dots) > 40,
        mixed(count, 5) // 64 + 1,
    )


RECORDED = {
    (24, 16): (
        [Room(3, ((0, 0, 0),)), Room(3), Room(2, ((255, 255, 255), (128, 0, 0)))],
        (3, 3, 2),
        6_284_006,
        "25106890419175dd",
    ),
    (60, 64): ([Room(4)] * 4, (4, 4, 4), 33_260_746, "09f3e37969eb6843"),
    (40, 4): ([Room(1)] * 6 + [Room(2, ((255, 0, 0),))], (5, 6, 5), 2_000_189, "11bdd9d1a98feaef"),
    (12, 9): ([Room(2), Room(0, ((9, 9, 9),)), Room(5)], (8, 8, 8), 525_988, "2ee93e6b8c28a77f"),
}
"""By tiles and dots: rooms, channels, what was lost, and a digest of the answer."""


@pytest.mark.parametrize("size", [(24, 16), (12, 9), (40, 4), pytest.param((60, 64), marks=pytest.mark.soak)])
def test_the_answer_is_the_same_on_every_machine(size):
    """Recorded once. Who changes the search looks at what is lost, and puts the new answer here."""
    rooms, channels, lost, answer = RECORDED[size]
    tiles, opaque, often = a_case(*size)
    reach = np.ones((size[0], len(rooms)), bool)
    reach[::5, 0] = False
    told = []
    found = choose(tiles, opaque, rooms, channels, reach=reach, weights=often, progress=told.append)
    costs = ((points(tiles) - points(shown(found))) ** 2).sum(axis=2) * opaque
    digest = blake2b(digest_size=8)
    for part in (found.banks, found.values, *found.colours):
        digest.update(np.ascontiguousarray(part, "<i8").tobytes())
    assert (int((costs.sum(axis=1) * often).sum()), digest.hexdigest()) == (lost, answer)
    assert all(reach[tile, bank] for tile, bank in enumerate(found.banks))
    assert told == sorted(told) and 0 <= told[0] and told[-1] == 1


def test_tiles_without_a_dot_go_to_the_first_room_that_they_reach():
    none = np.zeros((2, 0, 3), np.uint8)
    found = choose(
        none, np.zeros((2, 0), bool), [Room(1), Room(2, ((1, 2, 3),))], (8, 8, 8), reach=[[False, True], [True, True]]
    )
    assert found.banks.tolist() == [1, 0]
    assert [each.tolist() for each in found.colours] == [[], [[1, 2, 3]]]
    assert found.values.shape == (2, 0)
    clear = choose(np.zeros((1, 3, 3), np.uint8), np.zeros((1, 3), bool), [Room(2)], (8, 8, 8))
    assert clear.values.tolist() == [[-1, -1, -1]]
