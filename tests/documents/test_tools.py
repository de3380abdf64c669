"""Do the scripts that a person runs hold together?"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPTS = [
    ROOT / name
    for name in (
        "tools/demo",
        "tools/test",
        "tools/check",
        "tools/bench",
        "tools/soak",
        "tools/mutate",
        "tools/common.sh",
        ".ci/run",
    )
]


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_bash_can_read_it(script):
    subprocess.run(["bash", "-n", str(script)], check=True)


def run(*words, **more):
    """Run a script of tools/ with this Python, which shall find the script's neighbours."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONSAFEPATH"}
    command = [sys.executable, *map(str, words)]
    return subprocess.run(command, env=env, capture_output=True, text=True, check=False, **more)


@pytest.fixture
def tool(monkeypatch):
    """A script of tools/ by its name, as a module of this process, which finds the script's neighbours."""
    monkeypatch.syspath_prepend(ROOT / "tools")
    return import_module


def test_bench_gives_json(tool, monkeypatch, capsys):
    """One row, measured in few rounds; whether it holds is the bench's matter. right/test_bench.py has the table."""
    monkeypatch.setattr(tool("bench_measure").ratio, "__defaults__", (3,))
    status = tool("bench_rows").main(["--only", "PALETTE", "--json"])
    (found,) = json.loads(capsys.readouterr().out)
    assert list(found) == ["name", "value", "target", "holds", "unit"]
    assert found["holds"] is (None if found["value"] is None else found["value"] <= found["target"])
    assert status == {True: 0, False: 1, None: 3}[found["holds"]]


def test_the_second_checker_of_types_tells_what_it_does_not_know(tool):
    """Planted reports: a member without a type, one that checkers may take otherwise, a name that is not told of."""
    typed = tool("typed")

    def symbol(name, known=True, guessed=False):
        return {"name": name, "isTypeKnown": known, "isTypeAmbiguous": guessed, "diagnostics": []}

    names = {"v.Good": "v.a.Good", "v.Bad": "v.b.Bad", "v.Gone": "v.c.Gone"}
    symbols = [
        symbol("v.a.Good"),
        symbol("v.b.Bad"),
        symbol("v.b.Bad.x", known=False),
        symbol("v.b.Bad.y", guessed=True),
    ]
    assert list(typed.unknown(names, [*symbols, symbol("v.b.Badly", known=False)])) == [
        "v.Gone: nothing is told of it",
        "v.b.Bad.x: by what it is made of",
        "v.b.Bad.y: by what it is made of",
    ]
    assert typed.public()["vdpsim.Machine"] == "vdpsim.machine.machine.Machine"
    assert "vdpsim.testing.soft" in typed.public()


@pytest.mark.ci
def test_soak_counts_its_chips():
    told = run(ROOT / "tools/soak_budget.py", "--chips", 1, "--scripts", 1, "--seed", 9)
    assert told.returncode == 0, told.stdout
    assert told.stdout.splitlines()[-2] == "       0 broken"
    assert "1 of 1 chips" in told.stderr


def test_a_soak_of_no_chips_is_refused(tool, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["soak", "--chips", "0"])
    with pytest.raises(SystemExit, match=r"^2$"):
        tool("soak_budget").main()
    assert "--chips must be 1 or more, got 0" in capsys.readouterr().err


PLANTED = """
LIMIT = 7
UNASKED = 5
def at_least_three(n):
    if n < 3:
        return 3
    return n
def counted_down(n):
    while n > 0:
        n -= 1
    return n
"""

ASKING = """
from vdpsim import planted
def test_three():
    assert [planted.at_least_three(n) for n in (2, 3, 5)] == [3, 3, 5]
    assert planted.LIMIT == 7
def test_down():
    assert planted.counted_down(2) == 0
"""

FROZEN = """
import gc
def pytest_collection_finish():
    gc.freeze()
"""
"""As the suites' own ``conftest.py`` does: what was collected is then found by nobody who does not ask for it."""

EQUAL = """
[[mutant]]
module = "vdpsim/planted.py"
where = "at_least_three"
line = "if n < 3:"
change = "n < 3 -> n <= 3"
why = "3 is 3 either way"
"""


@pytest.mark.ci
def test_mutants_that_a_test_can_notice_are_told_from_those_that_none_can(tmp_path):
    """By hand: a number that a test asks for and one that none does, a limit whose neighbour is as good, a loop without end."""
    for name, text in {
        "vdpsim/__init__.py": "", "vdpsim/planted.py": PLANTED, "tests/right/test_planted.py": ASKING, "tests/refuses/x": "",
        "tests/conftest.py": FROZEN,
    }.items():  # fmt: skip
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, "utf-8")
    mutate = [ROOT / "tools/mutate.py", "--root", tmp_path]
    refused = run(*mutate, "vdpsim/planted.py", "--all")
    assert refused.returncode == 2
    assert "there is no map of lines to tests yet" in refused.stderr
    assert run(*mutate, "--map").returncode == 0
    told = run(*mutate, "vdpsim/planted.py", "--all", "--grace", 0.3)
    assert told.returncode == 0, told.stderr
    results = [json.loads(line) for line in (tmp_path / ".mutants/results.jsonl").read_text("utf-8").splitlines()]
    assert [one["key"] for one in results if one["status"] == "unplaced"] == [], "each function's code was exchanged"
    found = {one["key"].partition(" | ")[2]: (one["status"], one["by"]) for one in results}
    three, down = "tests/right/test_planted.py::test_three", "tests/right/test_planted.py::test_down"
    assert {key for key, (status, _) in found.items() if status == "survived"} == {
        " | UNASKED = 5 | 5 -> 6", " | UNASKED = 5 | 5 -> 4", "counted_down | n -= 1 | 1 -> 2",
        "at_least_three | if n < 3: | n < 3 -> n <= 3", "at_least_three | if n < 3: | 3 -> 4",
    }  # fmt: skip
    assert found[" | LIMIT = 7 | 7 -> 8"] == ("killed", three)
    assert found["at_least_three | if n < 3: | n < 3 -> False"] == ("killed", three)
    assert found["counted_down | n -= 1 | n -= 1 -> nothing"] == ("killed", f"SIGPROF in {down}")
    assert (tmp_path / "vdpsim/planted.py").read_text("utf-8") == PLANTED, "nothing is written into the source tree"

    (tmp_path / "tools").mkdir()
    (tmp_path / "tools/mutants_equivalent.toml").write_text(EQUAL, "utf-8")
    shown = run(*mutate, "vdpsim/planted.py", "--all", "--show").stdout
    assert "    -UNASKED = 5\n    +UNASKED = 6" in shown
    assert "n <= 3" not in shown
    again = run(*mutate, "vdpsim/planted.py", "--all")
    room, total, killed, survived, equal, untried, rate, _ = again.stdout.splitlines()[-1].split()
    assert (room, int(total), int(equal), int(untried)) == ("vdpsim/planted.py", len(found), 1, 0)
    assert int(killed) + int(survived) + 1 == len(found)
    assert float(rate) == round(100 * int(killed) / (len(found) - 1), 1)
    assert "mutants in" not in again.stderr, "what is known is not tried again"


LATE = """
def test_down():
    from vdpsim import planted
    assert planted.counted_down(2) == 0
def test_limit():
    from vdpsim import planted
    assert planted.LIMIT == 7
"""

MANY = """
import pytest

pytestmark = pytest.mark.unmeasured
@pytest.mark.parametrize("n", range(400))
def test_nothing(n):
    pass
"""


@pytest.mark.ci
def test_what_lies_outside_of_functions_is_tried_with_more_than_the_test_that_imports_it(tmp_path):
    """The first test imports the module and so runs its LIMIT; only the second, which runs no line of it, asks for that number,
    and of tests that know nothing of it there are more than the slow way looks at.
    """
    for name, text in {
        "vdpsim/__init__.py": "", "vdpsim/planted.py": PLANTED, "tests/right/test_late.py": LATE,
        "tests/right/test_many.py": MANY, "tests/refuses/x": "",
    }.items():  # fmt: skip
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, "utf-8")
    mutate = [ROOT / "tools/mutate.py", "--root", tmp_path]
    assert run(*mutate, "--map").returncode == 0
    told = run(*mutate, "vdpsim/planted.py", "--all", "--only", "LIMIT = 7")
    assert told.returncode == 0, told.stderr
    results = [json.loads(line) for line in (tmp_path / ".mutants/results.jsonl").read_text("utf-8").splitlines()]
    assert [(one["status"], one["by"]) for one in results] == [("killed", "tests/right/test_late.py::test_limit")] * 2


def test_demo_draws_a_scene_with_its_log_and_views(tool, tmp_path, monkeypatch, capsys):
    """Over what an earlier run may have left there."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes")
    (tmp_path / "out/views-flock").mkdir(parents=True)
    (tmp_path / "out/flock.png").write_bytes(b"older")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", ["demo", "flock"])
    tool("draw_scenes").main()
    assert "$ vdpsim render scenes/flock.scene.toml" in capsys.readouterr().out
    for name in ("flock.png", "flock.csv", "views-flock/flock-source-map.png"):
        assert (tmp_path / "out" / name).stat().st_size > 1000


def bare(tmp_path, python):
    """What a tool says on a machine whose only python3 is the script ``python``."""
    programs = tmp_path / "bin"
    programs.mkdir()
    for name in ("bash", "dirname", "uname", "cat", "tr"):
        (programs / name).symlink_to(shutil.which(name))
    if python is not None:
        (programs / "python3").write_text(f"#!/bin/sh\n{python}\n", encoding="utf-8")
        (programs / "python3").chmod(0o755)
    shutil.copytree(ROOT / "tools", tmp_path / "project/tools")
    env = {"PATH": str(programs)}
    done = subprocess.run(
        ["bash", "tools/demo"], cwd=tmp_path / "project", env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert not (tmp_path / "project/.venv").exists()
    return done.stderr


def test_without_a_python_the_tools_say_so(tmp_path):
    assert "needs Python 3.11 or newer, and there is no python3 here" in bare(tmp_path, None)


def test_with_an_old_python_the_tools_say_so(tmp_path):
    told = bare(tmp_path, 'test "$1" = --version && echo Python 3.9.2; exit 1')
    assert "needs Python 3.11 or newer" in told
    assert "is Python 3.9.2" in told


def test_without_the_venv_module_the_tools_name_the_package(tmp_path):
    told = bare(tmp_path, 'case "$2" in *venv*) exit 1;; esac; exit 0')
    assert "apt-get install python3-venv" in told


def test_the_tools_end_no_process():
    """They end by themselves, and leave other people's alone."""
    for script in SCRIPTS:
        assert "kill" not in script.read_text(encoding="utf-8")


def test_a_missing_checker_is_a_failure_in_ci():
    assert "export CI=true" in (ROOT / ".ci/run").read_text(encoding="utf-8")
    assert os.access(ROOT / ".ci/run", os.X_OK)


@pytest.mark.unmeasured
def test_mutants_that_are_listed_as_equivalent_are_there(tool):
    """An entry whose line has changed would excuse nothing, and its reason may no longer hold."""
    mutants = tool("mutate_places").mutants
    listed = tomllib.loads((ROOT / "tools/mutants_equivalent.toml").read_text("utf-8"))["mutant"]
    there = {
        (module, one.where, one.text, one.change)
        for module in {one["module"] for one in listed}
        for one in mutants(module, (ROOT / module).read_text("utf-8"))
    }
    gone = [one for one in listed if (one["module"], one["where"], one["line"], one["change"]) not in there]
    assert gone == []
