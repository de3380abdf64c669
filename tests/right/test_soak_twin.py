"""The soak of engine and twin: a planted fault is found in some tens of cases, printed, shrunk and drawn again."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
import twin_cases
from agreement import state_differences
from twin_cases import Drawn, case, drawn
from twin_features import features
from twin_printed import printed, read

from vdpsim.engine import draw

ROOT = Path(__file__).resolve().parents[2]
SEED = 7


def parts(numbers: range, folder: Path) -> list[Drawn]:
    """All drawings of these cases."""
    return [part for number in numbers for part in drawn(case(SEED, number, folder))]


def test_a_case_follows_from_seed_and_number_alone(tmp_path):
    for number in range(6):
        one, other = (list(drawn(case(SEED, number, tmp_path))) for _ in range(2))
        assert [printed(part) for part in one] == [printed(part) for part in other]
    assert printed(parts(range(1), tmp_path)[0]) != printed(parts(range(1, 2), tmp_path)[0])


def test_every_kind_of_case_comes_up_and_agrees(tmp_path):
    kinds, seen = set(), set()
    for number in range(40):
        made = case(SEED, number, tmp_path)
        told = list(drawn(made))
        assert told and not told[-1].wrong, told[-1].wrong
        kinds.add(made.kind)
        seen |= features(made, told)
    assert {"little", "lines", "scene"} <= kinds
    assert {"seen: late", "seen: in time", "seen: collision", "scene: motion", "write: Transfer"} <= seen


def test_what_is_printed_comes_back(tmp_path):
    """States with transfers that wait, buffers and cells that are kept among them."""
    had = set()
    for part in parts(range(40), tmp_path):
        state, writes, last = read(printed(part))
        assert (state.chip, writes, last) == (part.state.chip, part.writes, part.last)
        assert state_differences(state, part.state) == []
        had |= {name for name in ("waiting", "buffers", "kept", "ahead", "next_frame") if getattr(state, name)}
    assert had == {"waiting", "buffers", "kept", "ahead", "next_frame"}


def one_dot(result):
    """A wrong entry on the last line that was drawn."""
    if not result.indices.size:
        return result
    indices = result.indices.copy()
    indices[-1, -1] += 1
    return replace(result, indices=indices)


def one_drop(result):
    """The last sprite that is dropped goes untold."""
    return replace(result, drops=result.drops[:-1])


def no_late(result):
    """What is missed is not told."""
    return replace(result, missed=np.zeros_like(result.missed))


@pytest.mark.parametrize("fault", [one_dot, one_drop, no_late])
def test_a_planted_fault_is_found(monkeypatch, tmp_path, fault):
    def faulty(*args, **more):
        return fault(draw(*args, **more))

    monkeypatch.setattr(twin_cases, "draw", faulty)
    found = next(islice((part for number in range(40) for part in drawn(case(SEED, number, tmp_path)) if part.wrong), 1))
    state, writes, last = read(printed(found))
    plan = twin_cases.Plan(state.chip)
    assert twin_cases.compared(plan, state.copy(), writes, last, planes=False).wrong
    monkeypatch.undo()
    assert twin_cases.compared(plan, state, writes, last, planes=False).wrong == []


def soak(*arguments: str) -> subprocess.CompletedProcess[str]:
    """The command."""
    command = [sys.executable, str(ROOT / "tools" / "soak_twin.py"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - the project's own tool


def test_the_command_counts_and_tells(tmp_path):
    done = soak("--scenes", "6", "--seed", "7")
    assert done.returncode == 0, done.stderr
    assert "6 of 6 cases, 0 disagreements" in done.stderr
    assert "       0 disagreements\n" in done.stdout and "case: little" in done.stdout
    path = tmp_path / "printed"
    path.write_text(printed(parts(range(1), tmp_path)[0]) + "\n", "utf-8")
    again = soak("--replay", str(path))
    assert (again.returncode, again.stdout) == (0, "the two agree\n")
    refused = soak("--scenes", "0")
    assert refused.returncode == 2 and "--scenes must be 1 or more, got 0" in refused.stderr
