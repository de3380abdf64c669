"""Every fault at every system call by which a command touches its folder of results: signals, and errors of the system.

Law: what has to hold stands in ``tests/faults.py``; here is the counting. Needs ``strace``. Exit status 1 where anything does not
hold, and then each such fault is told.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from faults import CASES, ERRORS, SIGNALS, Stage


def soak(case: str, faults: list[str]) -> tuple[int, int]:
    """Try all ``faults`` at all calls of one case: how many there were, and how many left what should not be."""
    with tempfile.TemporaryDirectory() as place:
        stage = Stage(Path(place), case)
        count = broken = 0
        for call in stage.calls():
            for fault in faults:
                wrong = stage.struck(call, fault)
                count += 1
                broken += bool(wrong)
                for one in wrong:
                    print(f"{case}: {fault} at {call.name} number {call.number}: {one}", flush=True)
    return count, broken


def main() -> int:
    """Try what the command line asks for."""
    parser = argparse.ArgumentParser(prog="tools/soak faults", description=__doc__.partition("\n")[0])
    parser.add_argument("--case", choices=CASES, action="append", help="one case; left out: all")
    parser.add_argument("--fault", choices=[*SIGNALS, *ERRORS], action="append", help="one fault; left out: all")
    options = parser.parse_args()
    total = 0
    for case in options.case or CASES:
        count, broken = soak(case, options.fault or [*SIGNALS, *ERRORS])
        print(f"{case}: {count} faults, {broken} broken", flush=True)
        total += broken
    return 1 if total else 0


if __name__ == "__main__":
    sys.exit(main())
