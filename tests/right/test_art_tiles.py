"""Are tiles found again in just the ways that a layout has, and merged with little loss?"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from refusal import refused

from vdpsim.art.merge import MOST_PAIRED, _settled, means_of, merge, nearest
from vdpsim.art.tiles import PLAIN, alike, back, cut, turned
from vdpsim.scene.contents.dots import joined
from vdpsim.scene.contents.match import shown

FLIPS = [{"flip_x": 0, "flip_y": 0}, {"flip_x": 1, "flip_y": 0}, {"flip_x": 0, "flip_y": 1}, {"flip_x": 1, "flip_y": 1}]
TURN = [{"turn": 0}, {"turn": 1}]
ALL = [{**flip, "turn": turn} for turn in (0, 1) for flip in FLIPS]
SHAPES = some.tuples(some.integers(1, 3), some.integers(1, 3), some.integers(1, 4), some.integers(1, 4))


@given(SHAPES, some.booleans())
def test_what_is_cut_is_joined_again(shape, coloured):
    down, across, high, wide = shape
    more = (3,) if coloured else ()
    picture = np.random.default_rng(0).integers(0, 256, (down * high, across * wide, *more))
    tiles = cut(picture, wide, high)
    assert tiles.shape == (down * across, high, wide, *more)
    assert np.array_equal(tiles[across - 1], picture[:high, (across - 1) * wide :])
    assert np.array_equal(joined(tiles, across), picture)


@pytest.mark.parametrize("options", [list(PLAIN), FLIPS, TURN, ALL], ids=["plain", "flips", "turn", "all"])
def test_tiles_are_alike_in_the_ways_that_there_are_and_in_no_others(options):
    """Against every pair tried: a tile is kept where none of those before it shows it."""
    rng = np.random.default_rng(5)
    base = rng.integers(0, 2, (6, 3, 3))
    tiles = np.concatenate([shown(base, ALL[number]) for number in rng.permutation(8)])
    found = alike(tiles, options)
    kept = []
    for number, tile in enumerate(tiles):
        if not any(np.array_equal(shown(tiles[at : at + 1], way)[0], tile) for at in kept for way in options):
            kept.append(number)
    assert found.first.tolist() == kept
    assert np.array_equal(turned(tiles[found.first][found.of], found.way, options), tiles)


def test_the_plainest_way_wins_and_then_the_earlier_tile():
    same_both_ways = np.array([[[1, 1], [2, 2]]])
    found = alike(np.concatenate([same_both_ways, same_both_ways]), FLIPS)
    assert found.first.tolist() == [0]
    assert found.way.tolist() == [0, 0]


@pytest.mark.parametrize("way", ALL)
def test_back_is_the_reverse_of_shown(way):
    tiles = np.arange(18).reshape(2, 3, 3)
    assert np.array_equal(back(shown(tiles, way), way), tiles)


def lost(found, tiles, options):
    """The squares that merging loses."""
    drawn = turned(found.rgb[found.of], found.way, options).astype(int)
    return int(((drawn - tiles) ** 2).sum())


def greys(values):
    """Tiles of one dot in these greys, opaque."""
    rgb = np.repeat(np.array(values, np.uint8).reshape(-1, 1, 1, 1), 3, axis=3)
    return rgb, np.ones(rgb.shape[:3], bool)


def test_merging_by_hand():
    """Check-values 5.1: points 0 1 2, 10 11 12, 20 21 22 in three groups have the centres 1, 11, 21 and lose 6 a channel."""
    rgb, opaque = greys([0, 10, 20, 1, 11, 21, 2, 12, 22])
    found = merge(rgb, opaque, np.ones(9), list(PLAIN), 3, members=False)
    assert sorted(found.rgb[:, 0, 0, 0].tolist()) == [1, 11, 21]
    assert lost(found, rgb, list(PLAIN)) == 3 * 6


@pytest.mark.parametrize("members", [False, True])
def test_patterns_that_have_no_time_to_settle_serve_all_the_same(monkeypatch, members):
    monkeypatch.setattr("vdpsim.art.merge.ROUNDS", 0)
    rgb, opaque = greys([0, 10, 20, 1, 11, 21, 2, 12, 22])
    found = merge(rgb, opaque, np.ones(9), list(PLAIN), 3, members=members)
    assert sorted(found.rgb[:, 0, 0, 0].tolist()) == [1, 11, 21]
    assert lost(found, rgb, list(PLAIN)) == 3 * 6


def test_a_pattern_that_no_tile_goes_to_is_given_to_the_tile_that_loses_most():
    """All three go to the first of three means at 5, which moves to 29/3; 0 is then nearer to the second, and 20 loses most."""
    tiles, weight = np.array([0.0, 9.0, 20.0]).reshape(3, 1, 1, 1), np.ones(3)
    means, of, _ = _settled(tiles, weight, list(PLAIN), np.full((3, 1, 1, 1), 5.0), 1)
    assert of.tolist() == [1, 0, 2] and means[1:].reshape(-1).tolist() == [5, 20]
    # where nobody loses anything, a mean that is nobody's stays where it is
    means, of, _ = _settled(tiles[:2], weight[:2], list(PLAIN), np.array([0.0, 9.0, 9.0]).reshape(3, 1, 1, 1), 9)
    assert means.reshape(-1).tolist() == [0, 9, 9] and of.tolist() == [0, 1]


def test_how_often_a_tile_stands_counts():
    """Two groups of 0, 4 | 10: the mean of 0 (nine times) and 4 is 0.4; a member alone is 0."""
    rgb, opaque = greys([0, 4, 10])
    mean = merge(rgb, opaque, np.array([9, 1, 9]), list(PLAIN), 2, members=False)
    assert mean.rgb[mean.of[0], 0, 0, 0] == 0
    assert mean.of[0] == mean.of[1] != mean.of[2]
    even = merge(rgb, opaque, np.array([1, 1, 9]), list(PLAIN), 2, members=False)
    assert even.rgb[even.of[0], 0, 0, 0] == 2
    member = merge(rgb, opaque, np.array([9, 1, 9]), list(PLAIN), 2, members=True)
    assert set(member.rgb[:, 0, 0, 0].tolist()) <= {0, 4, 10}


@pytest.mark.parametrize("options", [FLIPS, TURN, ALL], ids=["flips", "turn", "all"])
def test_as_few_patterns_as_there_are_unlike_tiles_lose_nothing(options):
    base = np.random.default_rng(6).integers(0, 256, (3, 4, 4, 3)).astype(np.uint8)
    tiles = np.concatenate([shown(base, way) for way in options])
    found = merge(tiles, np.ones(tiles.shape[:3], bool), np.ones(len(tiles)), options, 3, members=False)
    if options is not TURN:  # two tiles of which each is the other's quarter turn are no pair there
        assert lost(found, tiles, options) == 0
    assert len(found.rgb) == 3


def test_transparent_dots_stay_so():
    rgb = np.zeros((3, 1, 2, 3), np.uint8)
    rgb[0, 0, 0], rgb[1, 0, 0], rgb[2, 0] = 250, 200, 225
    opaque = np.array([[[True, False]], [[True, False]], [[True, True]]])
    found = merge(rgb, opaque, np.ones(3), list(PLAIN), 2, members=False)
    assert found.of[0] == found.of[1] != found.of[2]
    assert np.array_equal(found.opaque[found.of], opaque)
    assert found.rgb[found.of[0], 0, 0].tolist() == [225, 225, 225]


def test_more_tiles_than_are_paired_are_merged_too():
    """Beyond the limit a start is drawn; groups that lie far apart are found all the same."""
    rng = np.random.default_rng(2)
    centre = rng.integers(20, 236, (12, 2, 2, 3))
    which = rng.integers(0, 12, MOST_PAIRED + 1)
    tiles = (centre[which] + rng.integers(-2, 3, (len(which), 2, 2, 3))).astype(np.uint8)
    found = merge(tiles, np.ones(tiles.shape[:3], bool), np.ones(len(tiles)), list(PLAIN), 12, members=False)
    assert len({(a, b) for a, b in zip(which.tolist(), found.of.tolist(), strict=True)}) == 12
    few = merge(
        np.repeat(tiles[:2], MOST_PAIRED, axis=0),
        np.ones((2 * MOST_PAIRED, 2, 2), bool),
        np.ones(2 * MOST_PAIRED),
        list(PLAIN),
        12,
        members=False,
    )
    assert len(few.rgb) == 2


def test_progress_goes_up():
    rgb, opaque = greys(range(200))
    told = []
    merge(rgb, opaque, np.ones(200), list(PLAIN), 5, members=False, progress=told.append)
    assert told == sorted(told)
    assert 0 <= told[0] <= told[-1] <= 1


def test_the_nearest_pattern_and_the_means():
    rgb, opaque = greys([0, 9, 12])
    patterns, clear = greys([10, 1])
    of, way, loss = nearest(rgb, opaque, patterns, clear, list(PLAIN))
    assert of.tolist() == [1, 0, 0]
    assert loss.tolist() == [3.0, 3.0, 12.0]
    assert means_of(rgb, np.array([1, 3, 1]), of, way, list(PLAIN), 3)[:, 0, 0, 0].tolist() == [10, 0, 0]


def kmeans(tiles, count):
    """What dropping tiles by scikit-learn's k-means loses, its centres rounded to 8 bits."""
    cluster = pytest.importorskip("sklearn.cluster", reason="scikit-learn is in the test extra")
    flat = tiles.reshape(len(tiles), -1).astype(float)
    made = cluster.KMeans(count, n_init=1, random_state=0).fit(flat)
    centre = np.rint(made.cluster_centers_).clip(0, 255)
    return float(((centre[made.labels_] - flat) ** 2).sum())


@pytest.mark.ci
@pytest.mark.parametrize("name", ["china.jpg", "flower.jpg"])
def test_merging_loses_no_more_than_plain_k_means(name):
    """Photographs of scikit-learn, a quarter of the tiles: even without any flip."""
    datasets = pytest.importorskip("sklearn.datasets", reason="scikit-learn is in the test extra")
    tiles = cut(datasets.load_sample_image(name)[100:228:1, 200:392], 8, 8)
    opaque = np.ones(tiles.shape[:3], bool)
    count = len(tiles) // 4
    plain = merge(tiles, opaque, np.ones(len(tiles)), list(PLAIN), count, members=False)
    flips = merge(tiles, opaque, np.ones(len(tiles)), FLIPS, count, members=False)
    assert lost(plain, tiles, list(PLAIN)) <= kmeans(tiles, count)
    assert lost(flips, tiles, FLIPS) < lost(plain, tiles, list(PLAIN))


def test_what_cannot_be_is_refused():
    with refused(ValueError, "must be a multiple of 8x4 dots, is 10x8"):
        cut(np.zeros((8, 10)), 8, 4)
    rgb, opaque = greys([1, 2])
    with refused(ValueError, "at least one tile must be allowed, got 0"):
        merge(rgb, opaque, np.ones(2), list(PLAIN), 0, members=False)
