"""The soak of engine and twin: a planted fault is found in some tens of cases, printed and drawn again."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from dataclasses import replace
from importlib import import_module
from pathlib import Path

import pytest
from agreement import state_differences
from twin_cases import Drawn, case, compared, drawn
from twin_features import features
from twin_printed import printed, read

from vdpsim.engine import Plan

ROOT = Path(__file__).resolve().parents[2]
SEED = 7


def parts(numbers: range, folder: Path) -> list[Drawn]:
    """All drawings of these cases."""
    return [part for number in numbers for part in drawn(case(SEED, number, folder))]


@pytest.mark.unmeasured
def test_a_case_follows_from_seed_and_number_alone(tmp_path):
    for number in range(4):
        one, other = (list(drawn(case(SEED, number, tmp_path))) for _ in range(2))
        assert [printed(part) for part in one] == [printed(part) for part in other]
    assert printed(parts(range(1), tmp_path)[0]) != printed(parts(range(1, 2), tmp_path)[0])


NUMBERS = [*range(22), 38, 39, 44, 46, 48]
"""Cases of this seed in which every kind comes up and every part of a state is kept."""


@pytest.fixture(scope="module")
def cases(tmp_path_factory):
    """These cases, each with all its drawings."""
    folder = tmp_path_factory.mktemp("cases")
    return [(made, list(drawn(made))) for made in (case(SEED, number, folder) for number in NUMBERS)]


def test_every_kind_of_case_comes_up_and_agrees(cases):
    kinds, seen = set(), set()
    for made, told in cases:
        assert told and not told[-1].wrong, told[-1].wrong
        kinds.add(made.kind)
        seen |= features(made, told)
    assert {"little", "lines", "scene", "frame"} == kinds
    assert {"seen: late", "seen: in time", "seen: collision", "scene: motion", "write: Transfer"} <= seen


@pytest.mark.unmeasured
def test_what_is_printed_comes_back(cases):
    """States with transfers that wait, buffers and cells that are kept among them."""
    had = set()
    for part in (part for _, told in cases for part in told):
        state, writes, last = read(printed(part))
        assert (state.chip, writes, last) == (part.state.chip, part.writes, part.last)
        assert state_differences(state, part.state) == []
        had |= {name for name in ("waiting", "buffers", "kept", "ahead", "next_frame") if getattr(state, name)}
    assert had == {"waiting", "buffers", "kept", "ahead", "next_frame"}


def one_dot(compose):
    """The last dot of the last row shows entry 0."""

    def faulty(*args):
        winners = compose(*args)
        winners.entry[-1, -1] = 0
        return winners

    return faulty


def one_collision(collide):
    """The last collision goes untold."""

    def faulty(*args, **more):
        found = collide(*args, **more)
        return replace(found, records=found.records[:-1], groups=found.groups[:-1])

    return faulty


def no_mark(_settle_flags):
    """What was raised is not kept."""
    return lambda *_: None


def nothing_waits(settle):
    """A register that waits for the next frame is forgotten."""

    def faulty(plan, state, *more):
        settle(plan, state, *more)
        state.next_frame.clear()

    return faulty


FAULTS = {"compose": one_dot, "collide": one_collision, "settle_flags": no_mark, "settle": nothing_waits}
"""Functions that ``engine/draw.py`` calls, and what is wrong with them."""


@pytest.mark.unmeasured
@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_planted_in_the_engine_is_found(monkeypatch, tmp_path, name):
    """It is found, and again where what was printed of it is drawn; without the fault that agrees."""
    engine = sys.modules["vdpsim.engine.draw"]
    monkeypatch.setattr(engine, name, FAULTS[name](getattr(engine, name)))
    told = (part for number in range(60) for part in drawn(case(SEED, number, tmp_path)))
    state, writes, last = read(printed(next(part for part in told if part.wrong)))
    plan = Plan(state.chip)
    assert compared(plan, state.copy(), writes, last, planes=False).wrong
    monkeypatch.undo()
    assert compared(plan, state, writes, last, planes=False).wrong == []


def soak(*arguments: str) -> subprocess.CompletedProcess[str]:
    """The command."""
    command = [sys.executable, str(ROOT / "tools" / "soak_twin.py"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.unmeasured
def test_the_command_counts_and_tells(tmp_path, monkeypatch, capsys):
    monkeypatch.syspath_prepend(str(ROOT / "tools"))
    soak_twin = import_module("soak_twin")
    done = soak("--scenes", "4", "--seed", "7")
    assert done.returncode == 0, done.stderr
    assert "4 of 4 cases, 0 disagreements" in done.stderr
    assert "       0 disagreements\n" in done.stdout and "case: little" in done.stdout
    path = tmp_path / "printed"
    path.write_text(printed(parts(range(1), tmp_path)[0]) + '\n{"seed": 7, "number": 1}\n', "utf-8")
    monkeypatch.setattr(sys, "argv", ["soak", "--replay", str(path)])
    assert soak_twin.main() == 0
    assert capsys.readouterr().out == 2 * "the two agree\n"
    monkeypatch.setattr(sys, "argv", ["soak", "--scenes", "0"])
    with pytest.raises(SystemExit, match=r"^2$"):
        soak_twin.main()
    assert "--scenes must be 1 or more, got 0" in capsys.readouterr().err


@pytest.mark.unmeasured
def test_what_was_tried_until_somebody_stops_it_is_told():
    command = [sys.executable, str(ROOT / "tools" / "soak_twin.py"), "--scenes", "100000", "--seed", "7"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as running:
        first = running.stderr.readline()
        running.send_signal(signal.SIGINT)
        told, said = running.communicate(timeout=120)
    assert first.startswith("1 of 100000 cases")
    tried = int(re.search(r"^ *(\d+) cases,", told, re.MULTILINE)[1])
    assert tried in range(1, 100_000) and "       0 disagreements\n" in told
    assert (running.returncode, "Traceback" in said) == (0, False)
