"""Attacks on the budgets of odd chips, as many as one likes, to see whether any that says "fits" can be broken.

Law: what is asked of a budget stands in ``tests/attack_judge.py``; here is the counting. Chip number n of a soak follows from
the seed and n alone, whatever the jobs. What is broken is printed as JSON, from which ``--replay`` draws it again. Exit
status 1 where anything is.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from random import Random

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from attack import attack
from attack_judge import lacking, seems_by_budget, seems_by_scenes, told_slack, verdict_of, witness_of, witnessed
from attack_script import Script, replay, script_from, shrunk
from odd_chips import odd_chip

from vdpsim.budgets.budget import budget
from vdpsim.chip.checks import check
from vdpsim.chip.model import Chip


@dataclass
class One:
    """What came of one chip; ``nearest``: the least slack that was told, and that was seen, of any client."""

    number: int
    verdict: str
    missed: bool
    scripts: int
    lines: int
    told: int | None
    seen: int | None
    wrong: list[str] = field(default_factory=list)
    replay: str = ""


def tried(number: int, seed: int, scripts: int) -> One:
    """Make chip ``number``, ask for its budget and attack it."""
    random = Random(f"{seed}/{number}")  # noqa: S311 - a choice of examples, the same each time
    seems = seems_by_budget if number % 2 else seems_by_scenes
    chip = odd_chip(random, seems)
    try:
        told = budget(chip)
    except ValueError:  # more choices of modes than are looked through
        told = None
    verdict, slack = ("open", {}) if told is None else (verdict_of(told), told_slack(told))
    found = attack(chip, number, scripts)
    wrong = lacking(chip, verdict, found, slack)
    script = found.script
    if told is not None and verdict == "does not fit":
        witness = witness_of(told)
        wrong += witnessed(chip, witness)
        script = script or witness
    elif wrong and script:
        script = shrunk(chip, script)
    least = min(slack.values(), default=None)
    seen = min(found.slack.values(), default=None)
    line = ""
    if wrong:
        closest = script or found.closest[min(found.slack, key=lambda client: found.slack[client])]
        line = json.dumps({"chip": json.loads(chip.model_dump_json(exclude_defaults=True)), "script": str(closest)})
    return One(number, verdict, bool(found.misses), found.scripts, found.lines, least, seen, wrong, line)


def attempts(numbers: Iterable[int], jobs: int, seed: int, scripts: int) -> Iterator[One]:
    """All chips, as they are done."""
    work = partial(tried, seed=seed, scripts=scripts)
    if jobs == 1:
        yield from map(work, numbers)
        return
    with get_context("spawn").Pool(jobs) as pool:
        yield from pool.imap_unordered(work, numbers, chunksize=4)


def soak(chips: int, seed: int, jobs: int, scripts: int) -> int:
    """Try the chips, tell how it goes on, and at last how it went."""
    counts: Counter[str] = Counter()
    gaps: Counter[int] = Counter()
    begin, shown = time.monotonic(), 0.0
    for done, one in enumerate(attempts(range(chips), jobs, seed, scripts), 1):
        counts[one.verdict] += 1
        counts["scripts"] += one.scripts
        counts["lines"] += one.lines
        counts[f"{one.verdict}, missed"] += one.missed
        counts["broken"] += bool(one.wrong)
        if one.told is not None and one.seen is not None:
            gaps[one.seen - one.told] += 1
        for wrong in one.wrong:
            print(f"chip {one.number} of seed {seed} {wrong}", flush=True)
        if one.replay:
            print(one.replay, flush=True)
        if time.monotonic() - shown > 5 or done == chips:
            shown = time.monotonic()
            told = ", ".join(f"{counts[verdict]} {verdict}" for verdict in ("fits", "does not fit", "open"))
            print(f"{done} of {chips} chips: {told}; {counts['broken']} broken", file=sys.stderr, flush=True)
    tell(counts, gaps, chips, time.monotonic() - begin)
    return int(counts["broken"] > 0)


def tell(counts: Counter[str], gaps: Counter[int], chips: int, seconds: float) -> None:
    """The soak in figures."""
    for verdict in ("fits", "does not fit", "open"):
        print(f"{counts[verdict]:8} {verdict:13} {counts[f'{verdict}, missed']:6} of them seen to miss something")
    print(f"{counts['scripts']:8} scripts, {counts['lines']} lines")
    if gaps:
        told = ", ".join(f"{gap}: {gaps[gap]}" for gap in sorted(gaps))
        print(f"{sum(gaps.values()):8} chips by least slack seen less least slack told: {told}")
    print(f"{counts['broken']:8} broken")
    print(f"{60 * chips / max(seconds, 0.001):8.0f} chips a minute, {seconds:.0f} s in all")


def again(path: Path) -> int:
    """Draw what a soak printed."""
    data = json.loads(path.read_text(encoding="utf-8"))
    chip = Chip.model_validate_json(json.dumps(data["chip"]))
    assert list(check(chip)) == []
    script: Script = script_from(data["script"])
    print(f"budget: {verdict_of(budget(chip))}")
    misses = replay(chip, script)
    for miss in misses:
        print(f"frame {miss.frame}, line {miss.line}: {miss.count} of {miss.client} missed")
    return int(bool(misses))


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="tools/soak budget", description=__doc__.splitlines()[0])
    parser.add_argument("--chips", type=int, default=200, help="how many odd chips")
    parser.add_argument("--seed", type=int, default=1, help="other chips for each seed")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--scripts", type=int, default=40, help="most scripts an attack draws")
    parser.add_argument("--replay", type=Path, help="a file with a line that a soak printed of a broken chip")
    asked = parser.parse_args()
    for name in ("chips", "jobs", "scripts"):
        if getattr(asked, name) < 1:
            parser.error(f"--{name} must be 1 or more, got {getattr(asked, name)}")
    if asked.replay:
        return again(asked.replay)
    return soak(asked.chips, asked.seed, asked.jobs, asked.scripts)


if __name__ == "__main__":
    sys.exit(main())
