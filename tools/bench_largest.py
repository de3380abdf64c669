"""Rows of the bench about the largest chips that a chip file may describe: what the dearest of their budgets takes.

Law: each budget is made in a process of its own. CPU time counts, never the clock on the wall, and so does the most memory.
"""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path

from bench_measure import row

TESTS = Path(__file__).resolve().parents[1] / "tests"

ASKED = """
import resource, sys
sys.path.insert(0, sys.argv[1])
from largest import LARGEST
from vdpsim.budgets.budget import budget
from vdpsim.budgets.told.plain import plain
for name in sys.argv[2:]:
    plain(budget(LARGEST[name]()), everything=True)
used = resource.getrusage(resource.RUSAGE_SELF)
print(used.ru_utime + used.ru_stime, used.ru_maxrss / 1000, *LARGEST, sep="\\n")
"""


def _asked(*names: str) -> list[str]:
    """What a process that makes these budgets prints: CPU seconds, most megabytes, and the names of all chips."""
    command = [sys.executable, "-c", ASKED, str(TESTS), *names]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()


@cache
def _dearest() -> tuple[float, float]:
    """The most CPU seconds and the most megabytes that the budget of any of the chips takes."""
    found = [_asked(name)[:2] for name in _asked()[2:]]
    return max(float(seconds) for seconds, _ in found), max(float(megabytes) for _, megabytes in found)


@row("budget of the largest chip, CPU of its process", 10, "s")
def _seconds() -> float:
    return _dearest()[0]


@row("budget of the largest chip, memory of its process at most", 1_000, "MB")
def _megabytes() -> float:
    return _dearest()[1]
