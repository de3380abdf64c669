"""Random scenes drawn by the engine and by its twin, as many as one likes, to see whether the two ever disagree.

Law: what a case is stands in ``tests/twin_cases.py``; here is the counting. Case number n of a soak follows from the seed and n
alone, whatever the jobs. A disagreement is printed as one line of JSON, from which ``--replay`` draws it again. Exit status 1
where there is any.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from twin_cases import Drawn, case, compared, drawn
from twin_features import features
from twin_printed import printed, read

from vdpsim.engine import Plan


@dataclass
class One:
    """What came of one case: its features, how much was drawn, and where the two disagree."""

    number: int
    features: set[str] = field(default_factory=set)
    parts: int = 0
    lines: int = 0
    dots: int = 0
    refused: int = 0
    wrong: list[str] = field(default_factory=list)
    replay: str = ""


def tried(number: int, seed: int) -> One:
    """Make case ``number`` and draw it with both. An error of either is a disagreement as well."""
    one = One(number)
    try:
        with TemporaryDirectory() as folder:
            made = case(seed, number, Path(folder))
            parts = list(drawn(made))
    except Exception as error:  # noqa: BLE001 - whatever goes wrong is told with its number, and the soak goes on
        one.wrong = [f"{type(error).__name__}: {error}"]
        one.replay = json.dumps({"seed": seed, "number": number})
        return one
    one.features, one.parts, one.refused = features(made, parts), len(parts), made.refused
    one.lines = sum(part.lines for part in parts)
    one.dots = sum(len(row) for part in parts for row in part.twin.indices)
    last = parts[-1]
    if last.wrong:
        one.wrong = last.wrong
        one.replay = printed(shrunk(last, planes=made.planes), seed=seed, number=number, planes=made.planes)
    return one


def shrunk(part: Drawn, *, planes: bool) -> Drawn:
    """The same disagreement with fewer writes and fewer lines, if that can be had by leaving out."""
    plan = Plan(part.state.chip)
    smaller = True
    while smaller:
        smaller = False
        fewer = [(part.writes[:at] + part.writes[at + 1 :], part.last) for at in range(len(part.writes))]
        for writes, last in [(part.writes, part.last - 1), *fewer]:
            if last > part.state.line:
                other = compared(plan, part.state.copy(), writes, last, planes=planes)
                if other.wrong:
                    part, smaller = other, True
                    break
    return part


def attempts(numbers: Iterable[int], jobs: int, seed: int) -> Iterator[One]:
    """All cases, as they are done."""
    work = partial(tried, seed=seed)
    if jobs == 1:
        yield from map(work, numbers)
        return
    with get_context("spawn").Pool(jobs) as pool:
        yield from pool.imap_unordered(work, numbers, chunksize=16)


def soak(scenes: int, seed: int, jobs: int) -> int:
    """Try the cases, tell how it goes on, and at last how it went."""
    counts: Counter[str] = Counter()
    seen: Counter[str] = Counter()
    begin, shown, done = time.monotonic(), 0.0, 0
    with suppress(KeyboardInterrupt):  # what was tried until then is told all the same
        for done, one in enumerate(attempts(range(scenes), jobs, seed), 1):
            seen.update(one.features)
            for name in ("parts", "lines", "dots", "refused"):
                counts[name] += getattr(one, name)
            counts["wrong"] += bool(one.wrong)
            if one.wrong:
                print(f"case {one.number} of seed {seed}: {'; '.join(one.wrong[:4])}", file=sys.stderr, flush=True)
            if one.replay:
                print(one.replay, flush=True)
            if time.monotonic() - shown > 10 or done == scenes:
                shown = time.monotonic()
                told = f"{done} of {scenes} cases, {counts['wrong']} disagreements"
                print(f"{told}, {done / max(shown - begin, 0.001):.0f} a second", file=sys.stderr, flush=True)
    tell(counts, seen, done, time.monotonic() - begin)
    return int(counts["wrong"] > 0)


def tell(counts: Counter[str], seen: Counter[str], cases: int, seconds: float) -> None:
    """The soak in figures: how many cases had which feature, then the sums."""
    for name in sorted(seen):
        print(f"{seen[name]:8} {name}")
    print(f"{cases:8} cases, {counts['parts']} drawings, {counts['lines']} lines, {counts['dots']} dots of pictures")
    print(f"{counts['refused']:8} scene files found no room in memory and were made anew")
    print(f"{counts['wrong']:8} disagreements")
    print(f"{cases / max(seconds, 0.001):8.1f} cases a second, {seconds:.0f} s in all")


def again(path: Path) -> int:
    """Draw what a soak printed: each line of JSON is a drawing, or a whole case where one of the two broke off."""
    wrong = 0
    for line in path.read_text(encoding="utf-8").splitlines():
        if not line.startswith("{"):
            continue
        data = json.loads(line)
        if "chip" in data:
            state, writes, last = read(line)
            found = compared(Plan(state.chip), state, writes, last, planes=data.get("planes", False)).wrong
        else:
            found = tried(data["number"], data["seed"]).wrong
        print("\n".join(found) or "the two agree")
        wrong += bool(found)
    return int(wrong > 0)


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="tools/soak twin", description=__doc__.splitlines()[0])
    parser.add_argument("--scenes", type=int, default=1000, help="how many cases")
    parser.add_argument("--seed", type=int, default=1, help="other cases for each seed")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--replay", type=Path, help="a file with lines that a soak printed of disagreements")
    asked = parser.parse_args()
    for name in ("scenes", "jobs"):
        if getattr(asked, name) < 1:
            parser.error(f"--{name} must be 1 or more, got {getattr(asked, name)}")
    return again(asked.replay) if asked.replay else soak(asked.scenes, asked.seed, asked.jobs)


if __name__ == "__main__":
    sys.exit(main())
