"""A rule written in Python takes the ladder's place: what it is given, what it may answer, and a half-transparency."""

from __future__ import annotations

import numpy as np
import pytest
from little import machine
from paper import BITMAP, TILES, holding, small_chip
from refusal import refused

from vdpsim.engine import Plan, draw
from vdpsim.testing import assert_same


def shown():
    """A machine with the ground, and one sprite at 8, 8 whose pattern is solid: value 5."""
    it = machine()
    it.memory[0x1000:0x1020] = 0x55
    it.sprites[0].x, it.sprites[0].y, it.sprites[0].enable = 8, 8, 1
    return it


def test_a_rule_that_repeats_the_ladder_changes_nothing():
    by_ladder, by_rule = shown().frame(), shown().frame(rule=lambda sources: sources.winner)
    assert_same(by_rule, by_ladder)
    for name in ("source", "sprite"):
        assert np.array_equal(getattr(by_ladder, name), getattr(by_rule, name)), name
    assert by_rule.rungs == ("rule",)


def test_a_rule_sees_every_source_with_its_fields():
    seen = {}

    def look(sources):
        seen["names"] = sources.names
        seen["pattern"] = sources.fields[1]["pattern"][0, :9].tolist()
        seen["sprite"] = sources.entry[2][8, 8:16].tolist()
        seen["y"] = int(sources.fields[2]["y"][8, 8])
        return np.where(sources.opaque[1], 1, 0).astype(np.uint8)

    frame = shown().frame(rule=look)
    cells = [(0x1F00 + n) * 37 % 251 for n in (0, 1)]
    assert seen == {
        "names": ("backdrop", "ground", "sprites"),
        "pattern": [cells[0]] * 8 + [cells[1]],
        "sprite": [5] * 8,
        "y": 8,
    }
    assert (frame.source == 1).all()
    assert (frame.sprite == -1).all()


def test_a_rule_sees_no_sprites_on_a_chip_that_has_none():
    """A bitmap of 2 bits a dot, all of value 1; the backdrop is entry 7."""
    seen = []

    def look(sources):
        seen.extend((sources.names, [int(entry[0, 0]) for entry in sources.entry], sources.fields))
        return np.zeros_like(sources.winner)

    result = draw(Plan(small_chip(BITMAP)), holding(small_chip(BITMAP), {0: b"\x55" * 256}, backdrop=7), rule=look)
    assert seen == [("backdrop", "a"), [7, 1], ({}, {})]
    assert set(result.indices.flat) == {7}
    assert set(result.sprite.flat) == {-1}


def test_a_rule_sees_the_cells_of_a_layer_that_comes_from_a_line_buffer():
    """Cells of line 0 lie at 0, of line 8 at 16: patterns 1 and 2. The buffer of line 8 is filled on line 7."""
    time = {"clients": {"a.cells": {"when": "line before"}, "a.pattern": {"when": "line before"}}}
    chip = small_chip(TILES, memory={"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}, time=time)
    rows = []

    def look(sources):
        rows.extend(sources.fields[1]["pattern"][:, 9].tolist())
        return sources.winner

    draw(Plan(chip), holding(chip, {0: b"\1" * 8, 16: b"\2" * 8}), last=10, rule=look)
    assert rows == [1] * 8 + [2] * 2


def half(sources):
    """Sprites let half of the ground through: each channel is the mean of the two, rounded down."""
    rgb = sources.colours(0).copy()
    for number in (1, 2):
        opaque = sources.opaque[number]
        rgb[opaque] = sources.colours(number)[opaque]
    both = sources.opaque[1] & sources.opaque[2]
    mean = (sources.colours(1).astype(int) + sources.colours(2)) // 2
    rgb[both] = mean[both]
    return sources.winner, rgb


def test_half_transparency_by_rule():
    """Entry n is the grey n x 17 (4 bits a channel), so a sprite dot over ground value g shows (85 + 17 g) // 2."""
    plain, mixed = shown().frame(), shown().frame(rule=half)
    under = shown()
    under.registers["sprites.patterns"] = 0  # anything: what counts is the ground, drawn without sprites
    under.sprites[0].enable = 0
    ground = under.frame().indices[8:16, 8:16].astype(int)
    assert mixed.rgb[8:16, 8:16, 0].tolist() == ((85 + 17 * ground) // 2).tolist()
    assert np.array_equal(mixed.rgb[:8], plain.rgb[:8])
    assert np.array_equal(mixed.indices, plain.indices)


@pytest.mark.parametrize(
    ("rule", "told"),
    [
        (lambda s: s.winner[1:], r"integers of shape \(64, 64\), got uint8 of shape \(63, 64\)"),
        (lambda s: s.winner.astype(float), r"integers of shape \(64, 64\), got float64"),
        (lambda s: s.winner + 3, r"names sources 0 to 2, got 4 to 5"),
        (lambda s: np.full_like(s.winner, 2), r"a source at a dot where that source shows nothing"),
        (lambda s: (s.winner, s.colours(0)[..., :2]), r"colours are uint8 of shape \(64, 64, 3\)"),
    ],
)
def test_a_wrong_answer_is_refused(rule, told):
    with refused(ValueError, told):
        shown().frame(rule=rule)
