"""Do the soaks of inputs find what is there to be found? Planted faults are told, each kind once, and nothing else."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.unmeasured

ROOT = Path(__file__).resolve().parents[2]

PLANTED = """
import os, sys, time
from pathlib import Path
from soak_guard import Limits, FaultError, step
import soak_guard

LIMITS = Limits(wall={wall}, memory=200 << 20)
soak_guard.CPU = 0.1

def case(seed, number, folder):
    (folder / "input.txt").write_text(f"{{seed}} {{number}}")
    step("try")
    if number == 1 or number == 4:
        len(number)
    if number == 2:
        while True:
            pass
    if number == 3:
        os.abort()
    if number == 5:
        bytes(1 << 30)
    if number == 6:
        time.sleep(60)
    if number == 7:
        raise FaultError("half a file", "a.png")
    return "refused" if number % 2 else "drawn"
"""


def soak(folder, *words):
    """A soak of a planted target."""
    (folder / "soak_planted.py").write_text(PLANTED.format(wall=4), encoding="utf-8")
    program = (
        f"import sys; sys.path[:0] = [{str(ROOT / 'tools')!r}, {str(folder)!r}]\n"
        "import soak_inputs\n"
        "soak_inputs.TARGETS['planted'] = 'soak_planted'\n"
        "if __name__ == '__main__': sys.exit(soak_inputs.main())\n"
    )
    (folder / "soak.py").write_text(program, encoding="utf-8")
    env = {name: value for name, value in os.environ.items() if name != "PYTHONSAFEPATH"}
    env["PYTHONPATH"] = os.pathsep.join([str(folder), str(ROOT / "tools"), env.get("PYTHONPATH", "")])
    command = [sys.executable, str(folder / "soak.py"), "--only", "planted", *words]
    return subprocess.run(command, env=env, capture_output=True, text=True, check=False, timeout=60)


@pytest.mark.ci
def test_planted_faults_are_found(tmp_path):
    """A wrong exception, a loop without end, a process that dies, a memory bomb, a wait without end, and half a file."""
    told = soak(tmp_path, "--cases", "9", "--jobs", "2", "--finds", str(tmp_path / "finds"))
    assert told.returncode == 1, told.stderr
    lines = told.stdout.splitlines()
    found = {line.split("--replay planted/1/")[1].rstrip(")"): line for line in lines if "--replay" in line}
    assert sorted(found) == ["1", "2", "3", "5", "6", "7"]
    assert "planted: TypeError in soak_planted.py" in found["1"]
    assert "takes too long" in found["2"]
    assert "process ended by 6" in found["3"]
    assert "MemoryError" in found["5"]
    assert "waits too long" in found["6"]
    assert "half a file" in found["7"]
    row = lines[-1].split()
    assert row[:6] == ["planted", "9", "0", "2", "6", "7"], "nine cases, two drawn, six kinds of find, seven in all"
    assert (tmp_path / "finds/planted-1-2/input.txt").read_text(encoding="utf-8") == "1 2"
    assert "soak_planted.py" in (tmp_path / "finds/planted-1-2/find.txt").read_text(encoding="utf-8")


def test_a_find_is_tried_again_by_its_words(tmp_path):
    told = soak(tmp_path, "--replay", "planted/1/7", "--finds", str(tmp_path))
    assert told.returncode == 1
    assert "planted/1/7: half a file" in told.stdout
    assert (tmp_path / "planted-1-7/input.txt").exists()


def test_words_that_no_soak_knows_are_refused(tmp_path):
    told = soak(tmp_path, "--only", "nothing")
    assert told.returncode == 2
    assert "targets are files, art, python, commands, watch, planted, got 'nothing'" in told.stderr
