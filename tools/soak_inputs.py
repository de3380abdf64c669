"""Whatever takes a stranger's input, attacked for as long as one likes: files, art, the Python door, commands, the watcher.

Law: case number n of a target follows from the seed and n alone, whatever the jobs and the time. A find is told in one line, with
the words that try it again; alike finds are counted together and told once. Exit status 1 where there is any.
"""

from __future__ import annotations

import argparse
import faulthandler
import shutil
import signal
import sys
import tempfile
import time
from importlib import import_module
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from soak_guard import Done, Tally, cases, tried, until

TARGETS = {
    "files": "soak_files",
    "art": "soak_art",
    "python": "soak_python",
    "commands": "soak_commands",
    "watch": "soak_watch",
}
"""Targets by name, each with the module whose ``case`` tries one input and whose ``LIMITS`` say what it may take."""


def soak(name: str, target: str, seed: int, end: float, most: int | None, jobs: int, finds: Path | None) -> Tally:
    """The cases of one target, counted; what goes on stands on stderr, each new kind of find on stdout."""
    tally, shown = Tally(), time.monotonic()
    with tempfile.TemporaryDirectory(prefix="soak-") as place:
        folder = Path(place)
        for done in cases(target, seed, until(end, most), jobs, folder, import_module(target).LIMITS.wall):
            tally.cases += 1
            tally.slowest = max(tally.slowest, done.seconds)
            tally.memory = max(tally.memory, done.memory)
            if done.kind:
                _found(tally, done, name, seed, folder, finds)
            else:
                tally.ends[done.end] += 1
            if time.monotonic() - shown > 10:
                shown = time.monotonic()
                print(f"{name}: {_told(tally)}", file=sys.stderr, flush=True)
    print(f"{name}: {_told(tally)}", file=sys.stderr, flush=True)
    return tally


def _told(tally: Tally) -> str:
    ends = ", ".join(f"{count} {end}" for end, count in sorted(tally.ends.items()))
    return f"{tally.cases} cases: {ends or 'none came through'}; {len(tally.finds)} kinds of find"


def _found(tally: Tally, done: Done, name: str, seed: int, folder: Path, finds: Path | None) -> None:
    """Count a find; tell and keep the first of its kind."""
    known = tally.finds.setdefault(done.kind, [done, 0])
    known[1] += 1
    place = folder / str(done.number)
    if known[1] == 1:
        first = done.told.strip().splitlines()[:1] or [""]
        print(f"{name}: {done.kind}: {first[0][:500]!r} (--replay {name}/{seed}/{done.number})", flush=True)
        if finds is not None and place.exists():
            kept = finds / f"{name}-{seed}-{done.number}"
            shutil.copytree(place, kept, symlinks=True, dirs_exist_ok=True, copy_function=_copy)
            (kept / "find.txt").write_text(f"{done.kind}\n{done.told}\n", encoding="utf-8", errors="backslashreplace")
    shutil.rmtree(place, ignore_errors=True)


def _copy(source: str, target: str) -> None:
    """A file to keep; pipes and the like are left behind."""
    if Path(source).is_file():
        shutil.copy2(source, target)


def again(words: str, keep: Path | None) -> int:
    """Try one case in this process, and say all of it; its files stay."""
    name, seed, number = words.split("/")
    folder = (keep or Path(tempfile.mkdtemp(prefix="soak-"))) / f"{name}-{seed}-{number}"
    shutil.rmtree(folder, ignore_errors=True)
    faulthandler.register(signal.SIGPROF)  # says where it is where that takes long, and goes on
    done = tried(import_module(TARGETS[name]).case, int(seed), int(number), folder, keep=True)
    print(f"{words}: {done.kind or done.end}, {done.seconds:.1f} s, {done.memory >> 20} MB; its files are in {folder}")
    print(done.told)
    return int(bool(done.kind))


def table(tallies: dict[str, Tally]) -> str:
    """All targets in figures."""
    rows: list[tuple[str, ...]] = [("target", "cases", "refused", "drawn", "finds", "alike", "slowest s", "most MB")]
    for name, one in tallies.items():
        alike = sum(count for _, count in one.finds.values())
        rows.append(
            (name, *map(str, (one.cases, one.ends["refused"], one.ends["drawn"], len(one.finds), alike)),
             f"{one.slowest:.1f}", str(one.memory >> 20))
        )  # fmt: skip
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    return "\n".join("  ".join(text.rjust(width) for text, width in zip(row, widths, strict=True)) for row in rows)


def _targets(text: str) -> dict[str, str]:
    names = text.split(",")
    wrong = [name for name in names if name not in TARGETS]
    if wrong:
        raise argparse.ArgumentTypeError(f"targets are {', '.join(TARGETS)}, got {wrong[0]!r}")
    return {name: TARGETS[name] for name in TARGETS if name in names}


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="tools/soak inputs", description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=5.0, help="how long, shared by the targets")
    parser.add_argument("--cases", type=int, help="instead so many cases of each target")
    parser.add_argument("--seed", type=int, default=1, help="other cases for each seed")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--only", type=_targets, default=TARGETS, help=f"some of {','.join(TARGETS)}")
    parser.add_argument("--finds", type=Path, help="a folder for the files of each find")
    parser.add_argument("--replay", help="TARGET/SEED/NUMBER, as a soak printed it")
    asked = parser.parse_args()
    if asked.minutes <= 0 or asked.jobs < 1 or (asked.cases is not None and asked.cases < 1):
        parser.error("--minutes must be above 0, --jobs and --cases 1 or more")
    if asked.replay:
        return again(asked.replay, asked.finds)
    begin, tallies = time.monotonic(), {}
    for place, (name, target) in enumerate(asked.only.items(), 1):
        end = begin + 60 * asked.minutes * place / len(asked.only)
        tallies[name] = soak(name, target, asked.seed, end, asked.cases, asked.jobs, asked.finds)
    print(table(tallies))
    return int(any(one.finds for one in tallies.values()))


if __name__ == "__main__":
    sys.exit(main())
