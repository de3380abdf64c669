"""Mutation testing: small faults are put into vdpsim, one at a time, and the suites have to notice each.

Two published tools were looked at, mutmut and cosmic-ray: both start the test command anew for each mutant or write it into
the source tree, which with these suites would take minutes a mutant. Law: here is the choice of mutants, the record of what
became of them, and the report; how they are made, which tests run, and how they are tried stand in modules of their own.
Everything is kept in ``.mutants``; a run goes on where the last one stopped. What no test can notice is listed with its
reason in ``mutants_equivalent.toml``.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import sys
import time
import tomllib
import traceback
from collections import Counter
from dataclasses import asdict
from difflib import unified_diff
from pathlib import Path
from random import Random

import mutate_map
import mutate_run
from mutate_choice import Choice
from mutate_places import Mutant, mutants, mutated

TOOLS = Path(__file__).resolve().parent

ROOMS = {
    "chip": ["vdpsim/chip/*.py"],
    "scene": ["vdpsim/scene/*.py"],
    "memory": [f"vdpsim/{name}.py" for name in ("memory", "addresses", "handles", "machine", "cpu_side")],
    "engine": ["vdpsim/engine/**/*.py"],
    "budgets": ["vdpsim/budgets/**/*.py"],
    "packing": [
        f"vdpsim/art/{name}.py" for name in ("pack*", "place", "units", "as_it_is", "lost", "choose*", "colouring")
    ],
}
EQUIVALENT = "tools/mutants_equivalent.toml"


def sources(root: Path, room: str) -> dict[str, str]:
    """The texts of a room's modules, by their paths; a module's own path is a room too."""
    paths = sorted({path for pattern in ROOMS.get(room, [room]) for path in root.glob(pattern)})
    return {path.relative_to(root).as_posix(): path.read_text("utf-8") for path in paths}


def sample(texts: dict[str, str], count: int | None, seed: int) -> list[Mutant]:
    """So many mutants of these modules, each module's share as its share of all mutants; ``None`` for all.

    What is drawn of a module follows from the seed and the module alone, and is drawn again where more are drawn of it; it lies
    in the order of the text.
    """
    every = {module: mutants(module, text) for module, text in texts.items()}
    total = sum(map(len, every.values()))
    if count is None or count >= total:
        return [one for found in every.values() for one in found]
    shares = {module: count * len(found) / total for module, found in every.items()}
    counts = {module: int(share) for module, share in shares.items()}
    by_rest = sorted(shares, key=lambda module: (counts[module] - shares[module], module))
    for module in by_rest[: count - sum(counts.values())]:
        counts[module] += 1
    chosen = []
    for module, found in every.items():
        random = Random(f"{seed}/{module}")  # noqa: S311 - a choice of examples, the same each time
        random.shuffle(found)
        chosen += sorted(found[: counts[module]], key=lambda one: one.number)
    return chosen


def known(path: Path) -> dict[str, dict[str, object]]:
    """What became of mutants, by their keys: the last word on each."""
    if not path.exists():
        return {}
    return {told["key"]: told for told in map(json.loads, path.read_text("utf-8").splitlines())}


def reasons(path: Path) -> dict[str, str]:
    """Why mutants are equivalent, by their keys."""
    told = tomllib.loads(path.read_text("utf-8")) if path.exists() else {}
    return {
        f"{one['module']} | {one['where']} | {one['line']} | {one['change']}": one["why"]
        for one in told.get("mutant", [])
    }


def try_all(root: Path, folder: Path, chosen: list[Mutant], texts: dict[str, str], words: argparse.Namespace) -> None:
    """Try these mutants and write what became of each."""
    tests = mutate_map.read(folder / "map")
    if not tests.seconds:
        print("there is no map of lines to tests yet: tools/mutate --map", file=sys.stderr)
        sys.exit(2)
    moved = [name for name, text in texts.items() if tests.sources.get(name, "") not in {"", mutate_map.digest(text)}]
    if moved:
        print(
            f"changed since the map was made, so that tests may be chosen wrongly: {', '.join(moved)}", file=sys.stderr
        )
    total, start = len(chosen), time.monotonic()

    def done(mutant: Mutant, result: mutate_run.Result) -> None:
        if result.status == "killed":
            choice.found_out(result.by)
        record = {"key": mutant.key, **asdict(result)}
        with (folder / "results.jsonl").open("a", encoding="utf-8") as file:
            file.write(json.dumps(record) + "\n")
        os.write(
            told,
            f"{result.status:9}{result.seconds:7.2f} s  {mutant.module}:{mutant.lines.start}  {mutant.change}\n".encode(),
        )

    told = os.dup(2)
    choice = Choice(tests, words.first)
    for record in known(folder / "results.jsonl").values():
        if record["status"] == "killed":
            choice.found_out(str(record["by"]))
    trials = [choice.trial(one, texts[one.module]) for one in chosen]
    warm = [one for one in trials if one.placeable and not words.fresh]
    children = []
    for number in range(min(words.jobs, len(warm))):
        child = os.fork()
        if child == 0:
            status = 70
            try:
                mutate_run.run_warm(root, warm[number :: words.jobs], choice, words.budget, done)
                status = 0
            except BaseException:  # noqa: BLE001 - a child has to end here, whatever it was
                traceback.print_exc()
            finally:
                os._exit(status)
        children.append(child)
    if any(os.waitpid(child, 0)[1] for child in children):
        sys.exit("a process that tries mutants has failed")
    unplaced = {key for key, told in known(folder / "results.jsonl").items() if told["status"] == "unplaced"}
    for one in trials:
        if not one.placeable or words.fresh or one.mutant.key in unplaced:
            done(one.mutant, mutate_run.run_fresh(root, one, choice, words.budget))
    print(f"{total} mutants in {time.monotonic() - start:.0f} s", file=sys.stderr)


def report(rooms: dict[str, list[Mutant]], results: dict[str, dict[str, object]], equal: dict[str, str]) -> str:
    """A row a room: how many mutants, what became of them, and the rate of those killed among all that can be noticed."""
    lines = [f"{'room':24}{'mutants':>8}{'killed':>8}{'survived':>10}{'equivalent':>12}{'untried':>9}{'rate':>8}"]
    for room, chosen in rooms.items():
        counts = Counter(
            "equivalent" if one.key in equal else str(results.get(one.key, {}).get("status", "untried"))
            for one in chosen
        )
        killed, survived = counts["killed"], counts["survived"] + counts["untested"]
        rate = f"{100 * killed / (killed + survived):.1f} %" if killed + survived else "-"
        lines.append(
            f"{room:24}{len(chosen):8}{killed:8}{survived:10}{counts['equivalent']:12}{counts['untried']:9}{rate:>8}"
        )
    return "\n".join(lines)


def shown(one: Mutant, text: str) -> str:
    """A mutant as a difference."""
    old, new = ast.unparse(ast.parse(text)).splitlines(), ast.unparse(mutated(text, one)).splitlines()
    rows = [row for row in unified_diff(old, new, lineterm="", n=1) if not row.startswith(("---", "+++", "@@"))]
    return "\n".join(
        [
            f"{one.module}:{one.lines.start} in {one.where or 'the module'}: {one.change}",
            *(f"    {row}" for row in rows),
        ]
    )


def read_words() -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(
        prog="tools/mutate", description="Puts small faults into vdpsim and sees whether a test fails."
    )
    parser.add_argument("rooms", nargs="*", help=f"{', '.join(ROOMS)}, or a module's path; none: all rooms")
    parser.add_argument("--count", type=int, default=120, help="how many mutants a room")
    parser.add_argument("--all", action="store_true", help="all mutants of the room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--budget", type=float, default=60, help="seconds of tests a mutant")
    parser.add_argument("--again", action="store_true", help="try those that survived once more")
    parser.add_argument("--fresh", action="store_true", help="import the mutated module anew, which is slow")
    parser.add_argument("--first", nargs="*", default=[], help="test files whose tests go first")
    parser.add_argument("--only", default="", help="only mutants whose key has this text in it")
    parser.add_argument("--report", action="store_true", help="print the table and try nothing")
    parser.add_argument("--show", action="store_true", help="print those that survived and try nothing")
    parser.add_argument(
        "--map", nargs="*", help="make the map of lines to tests, or the part of it for these test files"
    )
    parser.add_argument("--grace", type=float, default=8, help=argparse.SUPPRESS)
    parser.add_argument("--root", type=Path, default=TOOLS.parent, help=argparse.SUPPRESS)
    words = parser.parse_args()
    for room in words.rooms:
        if room not in ROOMS and not (words.root / room).is_file():
            parser.error(f"rooms are {', '.join(ROOMS)} and modules by their paths, got {room!r}")
    for name in ("count", "jobs", "budget"):
        if getattr(words, name) <= 0:
            parser.error(f"--{name} must be above 0, got {getattr(words, name)}")
    return words


def main() -> int:
    """Do what was asked; exit status 0."""
    words = read_words()
    root = words.root.resolve()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.chdir(root)
    sys.path[:0] = [str(root)]
    folder = root / ".mutants"
    if words.map is not None:
        return mutate_map.make(root, folder / "map", words.map or ["tests/right", "tests/refuses"])
    mutate_run.GRACE = words.grace
    texts = {room: sources(root, room) for room in words.rooms or ROOMS}
    rooms = {room: sample(found, None if words.all else words.count, words.seed) for room, found in texts.items()}
    equal, path = reasons(root / EQUIVALENT), folder / "results.jsonl"
    results = known(path)
    if words.show:
        alive = [(room, one) for room, chosen in rooms.items() for one in chosen if one.key not in equal]
        alive = [
            (room, one) for room, one in alive if results.get(one.key, {}).get("status") in {"survived", "untested"}
        ]
        print("\n".join(shown(one, texts[room][one.module]) for room, one in alive))
    elif not words.report:
        finished = {"killed"} if words.again else {"killed", "survived", "untested"}
        for room, chosen in rooms.items():
            left = [
                one for one in chosen if one.key not in equal and results.get(one.key, {}).get("status") not in finished
            ]
            if words.again:
                left = [one for one in left if one.key in results]
            left = [one for one in left if words.only in one.key]
            if left:
                try_all(root, folder, left, texts[room], words)
        results = known(path)
    if not words.show:
        print(report(rooms, results, equal))
    return 0


if __name__ == "__main__":
    sys.exit(main())
