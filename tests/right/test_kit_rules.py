"""Is a rule in Python held to what it must do, and is each way to fail told with its dot? Planted: a rule for each way."""

from __future__ import annotations

from itertools import count
from pathlib import Path

import numpy as np
import pytest
from refusal import refused

import vdpsim
from vdpsim.testing import CheckFailedError, assert_rule, soft

SCENES = Path(__file__).resolve().parents[2] / "scenes"


@pytest.fixture(scope="module")
def flock():
    return vdpsim.load_scene(SCENES / "flock.scene.toml")


def ladder(sources):
    """The ladder itself."""
    return sources.winner


def sprites_last(sources):
    """Sprites behind everything on lines 90 to 130, where anything else shows."""
    far, sprites = sources.names.index("far"), sources.names.index("sprites")
    winner = sources.winner.copy()
    part = winner[90:131]
    part[(part == sprites) & sources.opaque[far][90:131]] = far
    return winner


def band(sources):
    """Lines 90 to 130."""
    found = np.zeros(sources.winner.shape, np.bool_)
    found[90:131] = True
    return found


def test_a_good_rule_holds(flock):
    held = assert_rule(sprites_last, flock).total().pure().shows_what_is_there()
    held.agrees_with_the_ladder(outside=band)
    assert_rule(ladder, flock).agrees_with_the_ladder()
    told = (
        r"the rule sprites_last must agree with the ladder there\n  on frame 0 of Flock on Curlew: first at line \d+, dot \d+, "
        r"at \d+ of \d+ dots: it shows far, the ladder sprites; there are backdrop, far, sprites"
    )
    with refused(CheckFailedError, told):
        assert_rule(sprites_last, flock).agrees_with_the_ladder()


TIMES = count()


def raises_on_one_line(sources):
    """Looks at the line below the first."""
    below = sources.winner[1]
    return np.where(below < 200, sources.winner, below)


def too_wide(sources):
    """Answers with a column more."""
    return np.pad(sources.winner, ((0, 0), (0, 1)))


def no_numbers(sources):
    """Answers with masks."""
    return sources.winner > 0


def beyond(sources):
    """Names a source that there is not."""
    return sources.winner + np.uint8(1)


def wide_colours(sources):
    """Colours of another kind."""
    return sources.winner, np.zeros((*sources.winner.shape, 3), np.int64)


def first_of_all(sources):
    """Shows the near layer everywhere."""
    return np.full_like(sources.winner, 1)


def changes(sources):
    """Writes into what it sees."""
    sources.opaque[1][0, 0] ^= True
    return sources.winner


def counts(sources):
    """Answers otherwise each time: its colours do."""
    return sources.winner, np.full((*sources.winner.shape, 3), next(TIMES) % 256, np.uint8)


def grey(sources):
    """Recolours all of the picture."""
    return sources.winner, np.full((*sources.winner.shape, 3), 128, np.uint8)


@pytest.mark.parametrize(
    ("rule", "asked", "told"),
    [
        (raises_on_one_line, "total", "on line 0 of frame 0 of Flock on Curlew alone: it raises IndexError"),
        (
            too_wide,
            "total",
            r"it answers with uint8 of shape \(216, 289\), and must with whole numbers of shape \(216, 288\)",
        ),
        (no_numbers, "total", "it answers with bool"),
        (beyond, "total", "it names sources 2 to 4, of 0 to 3"),
        (wide_colours, "total", "its colours are int64"),
        (first_of_all, "shows_what_is_there", "must show no dot.*\n  .*first at line 0, dot 0, at .* it shows near"),
        (changes, "pure", "it changed what it was given"),
        (counts, "pure", "asked again, it answers otherwise"),
        (grey, "agrees_with_the_ladder", "must agree with the ladder there"),
        (too_wide, "shows_what_is_there", "it answers with uint8"),
        (too_wide, "pure", "it answers with uint8"),
        (too_wide, "agrees_with_the_ladder", "it answers with uint8"),
    ],
)
def test_each_way_to_fail_is_told(flock, rule, asked, told):
    with refused(CheckFailedError, told):
        getattr(assert_rule(rule, flock), asked)()


@pytest.mark.parametrize("rule", [too_wide, first_of_all])
@pytest.mark.parametrize("asked", ["total", "shows_what_is_there", "pure", "agrees_with_the_ladder"])
def test_softly_a_failure_is_one_finding(flock, rule, asked):
    """A rule that answers in the right shape fails by its dots alone."""
    if rule is first_of_all and asked in {"total", "pure"}:
        getattr(assert_rule(rule, flock), asked)()
        return
    with (
        refused(CheckFailedError, "it answers with uint8" if rule is too_wide else "first at line 0, dot 0") as caught,
        soft(),
    ):
        getattr(assert_rule(rule, flock), asked)()
    assert len(caught.value.findings) == 1


def test_a_rule_that_answers_once_is_not_pure(flock):
    times = count()

    def once(sources):
        if next(times):
            raise RuntimeError("asked already")
        return sources.winner

    with refused(CheckFailedError, "asked again, it answers otherwise"):
        assert_rule(once, flock).pure()


def test_what_is_asked_wrongly(flock):
    for given, told in (
        ((None, flock), "rule must be a function"),
        ((ladder, 1), "scene must be a Scene"),
        ((1, flock), "rule must be"),
    ):
        with refused(TypeError, told):
            assert_rule(*given)
    with refused(ValueError, "tried on a frame at least"):
        assert_rule(ladder, flock, frames=[])
    with refused(ValueError, r"outside must give bool of shape \(216, 288\)"):
        assert_rule(ladder, flock).agrees_with_the_ladder(outside=lambda sources: sources.winner)
