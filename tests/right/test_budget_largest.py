"""The largest chips: their budgets come, and the work that they take is bounded in steps, whatever the machine.

Steps are what costs time on a long line: lines that are served, clients that are given slots, accesses and moments that the
bound looks at, and slots that the CPU's bytes are tried in. The time itself is a row of ``tools/bench``.
"""

from __future__ import annotations

from collections import Counter

import pytest
from largest import LARGEST
from soaked import every

from vdpsim.budgets import landing
from vdpsim.budgets.budget import budget
from vdpsim.budgets.landing import LineLanding
from vdpsim.budgets.line.bound import Bounder
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
