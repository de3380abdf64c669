"""The reference design in a simulator against exported folders of random chips and scenes: every record, to the last.

A case is a chip and a scene of a seed and a number (``tests/designed.py``). What the design does not do it says by its name; such
a case counts as refused. Where a CPU's byte lands within a burst, the model's text lets a memory differ: such accesses are held
to what a memory gives (``tests/excepted.py``), and the case is counted for itself. A disagreement is printed with what the
bench says and its number, which ``--only`` tries again.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from designed import EXCEPTED, design_run, design_scene

REFUSED = "this design does not do: "
MATCHES = ("match", "match, with bytes that land within a burst")


def tried(seed: int, number: int) -> tuple[str, str]:
    """How case ``number`` ended, and what the bench said."""
    with TemporaryDirectory() as folder:
        done = design_run(design_scene(seed, number), Path(folder) / "out")
    said = done.stdout + done.stderr
    return ("refused" if REFUSED in said else "differ" if done.returncode else MATCHES[EXCEPTED in said]), said


def soak(seed: int, numbers: range) -> int:
    """Try the cases and tell how it goes on, then how it went."""
    ends: Counter[str] = Counter()
    reasons: Counter[str] = Counter()
    begin = time.monotonic()
    for number in numbers:
        end, said = tried(seed, number)
        ends[end] += 1
        reasons.update({line.partition(REFUSED)[2] for line in said.splitlines() if REFUSED in line})
        if end == "differ":
            print(f"case {number} of seed {seed}:\n{said}", flush=True)
        print(f"{number}: {dict(ends)}, {time.monotonic() - begin:.0f} s", file=sys.stderr, flush=True)
    for name, count in [*ends.most_common(), *reasons.most_common()]:
        print(f"{count:8} {name}")
    return int(ends["differ"] > 0)


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="tools/soak design", description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=100, help="how many cases")
    parser.add_argument("--seed", type=int, default=1, help="other cases for each seed")
    parser.add_argument("--only", type=int, help="this case alone")
    asked = parser.parse_args()
    if asked.cases < 1:
        parser.error(f"--cases must be 1 or more, got {asked.cases}")
    return soak(asked.seed, range(asked.cases) if asked.only is None else range(asked.only, asked.only + 1))


if __name__ == "__main__":
    sys.exit(main())
