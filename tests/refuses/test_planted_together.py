"""Are mistakes in a chip and its scene told together, each that hangs on no other, and nothing that only follows from them?

Shipped chips and scenes with one to four mistakes in tables of their own, by chance. More of them, with other seeds:
``VDPSIM_PLANTED_TOGETHER=300``.
"""

from __future__ import annotations

import os
from random import Random

import pytest
from planted_mistakes import GONE, PAIRS, Files, Mistake, planted
from soaked import every

TRIALS = int(os.environ.get("VDPSIM_PLANTED_TOGETHER", "12"))

HIDES: dict[str, tuple[str, ...]] = {
    "chip layers": ("chip", "scene"),
    "chip name": ("scene",),
    "chip sprites": ("chip", "scene"),
    "chip registers": ("chip", "scene"),
    "chip palette": ("chip layers", "chip registers", "chip sprites", "scene"),
    "chip memory": ("chip layers", "chip registers", "chip sprites", "chip time", "chip ports", "scene"),
    "chip frame": ("chip layers", "chip registers", "chip time", "scene"),
    "chip status": ("chip registers", "chip ports", "scene registers", "scene writes", "scene motion"),
    "chip ports": ("chip status", "chip registers", "chip ports", "scene writes"),
    "chip time": ("scene writes",),
    "chip cpu": ("scene writes",),
    "chip collisions": ("chip status", "scene sprites", "scene writes", "scene motion"),
    "scene registers": ("scene",),
    "scene patterns": ("scene",),
    "scene maps": ("scene",),
    "scene bitmaps": ("scene",),
    "scene text": ("scene",),
    "scene colours": ("scene",),
    "scene sprites": ("scene",),
    "scene palette": ("scene patterns", "scene maps"),
}
"""Tables in which a mistake may hide others, and where: what hangs on the very key. Any other mistake hides none."""


def kind(mistake: Mistake) -> str:
    return f"{mistake.of} {mistake.place[0]}"


def may_hide(one: Mistake, other: Mistake) -> bool:
    """Whether a mistake like ``other`` can hang on one like ``one``."""
    return any(kind(other) == found or other.of == found for found in HIDES.get(kind(one), ()))


@pytest.fixture(name="files", scope="module")
def _files(tmp_path_factory):
    """The files of each shipped scene that was asked for."""
    found: dict[str, Files] = {}

    def of(scene: str) -> Files:
        if scene not in found:
            found[scene] = Files(tmp_path_factory.mktemp(scene), scene)
        return found[scene]

    return of


@pytest.mark.parametrize("scene", every(3, PAIRS))
def test_each_planted_mistake_is_told_and_nothing_that_follows(scene, files):
    random, together = Random(f"together {scene} {TRIALS}"), files(scene)
    pool = together.mistakes(random, "chip", 6 + TRIALS) + together.mistakes(random, "scene", 6 + TRIALS)
    for _ in range(TRIALS):
        mistakes = planted(random, pool)
        told = [str(one) for one in mistakes]
        assert together.unfounded(mistakes) == [], told
        for one in together.hidden(mistakes):
            assert any(may_hide(other, one) for other in mistakes if other is not one), (str(one), told)


@pytest.mark.parametrize("scene", every(3, PAIRS))
def test_a_right_scene_has_no_mistake_on_a_wrong_chip(scene, files):
    random, one = Random(f"alone {scene} {TRIALS}"), files(scene)
    for mistake in one.mistakes(random, "chip", 6 + TRIALS):
        told = one.told(mistake)
        if any(of == "chip" for of, _, _ in told):
            assert [each for each in told if each[0] == "scene"] == [], str(mistake)


SEEN = [
    Mistake("chip", ("memory", "size"), 65_535),
    Mistake("chip", ("frame", "width"), 290),
    Mistake("chip", ("layers", 0, "modes", 1, "glyph"), [6, 0]),
    Mistake("chip", ("sprites", "per_line"), 0),
    Mistake("chip", ("registers", "line_flag", "bits"), 0),
    Mistake("chip", ("status", "line"), 9),
    Mistake("chip", ("time", "refresh", "slots"), -1),
    Mistake("chip", ("palette", "red"), "11:8z"),
    Mistake("chip", ("layers", 1, "modes", 1, "kind"), "bits"),
    Mistake("chip", ("layers", 1, "modes", 0, "unknown"), 1),
    Mistake("chip", ("cpu", "clock"), GONE),
    Mistake("chip", ("name",), 5),
]
"""A mistake in each table of a chip, on none of which the scene's below hang."""

OWN = [
    Mistake("scene", ("maps", 0, "at"), [0, 99]),
    Mistake("scene", ("sprites", 1, "bank"), 400),
    Mistake("scene", ("palette", 0, "at"), 4_000),
]


@pytest.mark.parametrize("mistake", SEEN, ids=str)
def test_what_a_scene_holds_is_looked_at_on_a_chip_that_is_wrong_elsewhere(mistake, files):
    saltmarsh = files("saltmarsh")
    alone = [one for own in OWN for one in saltmarsh.told(own)]
    told = saltmarsh.told(mistake, *OWN)
    assert len(alone) >= len(OWN)
    assert [one for one in alone if one not in told] == []
    assert [one for one in told if one[0] == "chip"] == list(saltmarsh.told(mistake))


def test_what_hangs_on_a_wrong_key_is_not_told(files):
    saltmarsh = files("saltmarsh")
    hung = [
        (Mistake("chip", ("palette", "entries"), 0), OWN[2]),
        (Mistake("chip", ("sprites", "fields", "bank"), "31:29z"), OWN[1]),
        (Mistake("chip", ("layers", 1, "modes", 0, "page"), [32, 0]), OWN[0]),
    ]
    for mistake, own in hung:
        told = saltmarsh.told(mistake, *OWN)
        assert set(saltmarsh.told(own)).isdisjoint(told), str(mistake)
        assert [one for other in OWN if other is not own for one in saltmarsh.told(other) if one not in told] == []
