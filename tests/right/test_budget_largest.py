"""The largest chips: their budgets come, and the work that they take is bounded in steps, whatever the machine.

Steps are what costs time on a long line: lines that are served, clients that are given slots, accesses and moments that the
bound looks at, and slots that the CPU's bytes are tried in. The time itself is a row of ``tools/bench``.
"""

from __future__ import annotations

from collections import Counter
from time import process_time

import pytest
from largest import LARGEST
from soaked import every

from vdpsim.budgets import landing
from vdpsim.budgets.budget import budget
from vdpsim.budgets.landing import LineLanding
from vdpsim.budgets.line.bound import Bounder
from vdpsim.budgets.reach import most_accesses
from vdpsim.chip.line.slots import Server

pytestmark = pytest.mark.unmeasured

CHEAP = {"few dots": "does not fit", "small sprites": "fits", "sprites": "fits", "a slow queue": "does not fit"}
"""Chips whose budgets take no more than a few seconds each, and their verdicts."""

MOST = {"give": 2_000, "rows": 200_000, "moments": 20_000}
"""Most steps of one budget: calls for slots, rows of the bound, and moments of the CPU's bytes that are left by lines."""


@pytest.fixture
def steps(monkeypatch) -> Counter[str]:
    """Steps as they are made."""
    found: Counter[str] = Counter()
    give, others, run = Server.give, Bounder._others, landing.run

    def giving(self, name, free, jobs, ready):
        found["give"] += 1
        return give(self, name, free, jobs, ready)

    def bounding(self, name, layer, mode, at):
        found["rows"] += len(at)
        return others(self, name, layer, mode, at)

    def running(pace, slots, at_hand, blank) -> LineLanding:
        left = run(pace, slots, at_hand, blank)
        found["moments"] += len(left.at_hand)
        return left

    monkeypatch.setattr(Server, "give", giving)
    monkeypatch.setattr(Bounder, "_others", bounding)
    monkeypatch.setattr(landing, "run", running)
    return found


@pytest.mark.parametrize("name", every(4, CHEAP))
def test_the_budget_of_a_largest_chip_comes_in_bounded_steps(name, steps):
    """Verdict and figures are there, and the work is bounded."""
    found = budget(LARGEST[name]())
    assert found.verdict == CHEAP[name]
    assert found.lines is not None
    assert 0 < found.worst_line.used <= found.lines.slots
    assert found.cpu is not None
    assert found.cpu.refills
    assert steps["give"]
    assert {kind: count for kind, count in steps.items() if count > MOST[kind]} == {}


def test_the_dearest_sprites_of_sixteen_widths_are_found_at_once():
    """A dot costs an access whatever the width, and a record two besides the scan: 1,024 sprites and 60,000 dots, all of both."""
    chip = LARGEST["sprites of all widths"]()
    assert chip.sprites is not None
    begun = process_time()
    most, chosen, scan = most_accesses(chip)
    assert process_time() - begun < 10
    rest = 8 - scan // 1024
    assert most == scan + 60_000 + 1024 * rest
    assert sum(count for _, count in chosen) == 1024
    dots = [chip.sprites.sizes[size][0] * count for size, count in chosen]
    assert sum(dots) == 60_000
