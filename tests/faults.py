"""Faults of the system, brought about at single system calls of a command, and what has to hold after each.

Law: a fault is one signal or one error at one call that touches the folder of results, by ``strace``. Whatever it is, each
file is whole, old or new; the files of one run are all old or all new, but where the process is killed between two
renames; the exit status says which; and the next run leaves nothing beside its results.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from vdpsim.cli import main

SCENES = Path(__file__).parents[1] / "scenes"
CHIP = str(SCENES / "chips/curlew.chip.toml")
MARSH, FERRY, FLOCK = (str(SCENES / f"{name}.scene.toml") for name in ("saltmarsh", "ferry", "flock"))
BIRDS = str(SCENES / "art/birds.png")

CASES = {
    "picture and log": (
        ["render", MARSH, "-o", "w/a.png", "--log", "w/a.csv"],
        ["render", FERRY, "-o", "w/a.png", "--log", "w/a.csv"],
    ),
    "folder that is there": (
        ["render", FLOCK, "-o", "w/", "--log", ".json"],
        ["render", FLOCK, "-o", "w/", "--log", ".json", "--frame", "7"],
    ),
    "new folder": ([], ["render", FLOCK, "-o", "w/new/er/", "--log", ".json"]),
    "fit": (
        ["fit", BIRDS, "--chip", CHIP, "--sprites", "16x16", "-o", "w"],
        ["fit", BIRDS, "--chip", CHIP, "--sprites", "16x16", "--banks", "5", "-o", "w"],
    ),
}
"""What is written first, and the command that a fault meets; both into ``w``."""

CHANGING = re.compile(
    r"(mkdir|write|rename|link|unlink|rmdir|symlink|chmod|fchmod|truncate|ftruncate|flock)(at2?)?(64)?$"
)
SIGNALS = {"KILL": signal.SIGKILL, "INT": signal.SIGINT, "TERM": signal.SIGTERM, "HUP": signal.SIGHUP}
SELDOM = "--seccomp-bpf"
"""Tells strace to stop at no other calls than those that are asked for: faster, but no signal gets through at such a stop."""
ERRORS = ("EIO", "ENOSPC", "EACCES")


@dataclass(frozen=True)
class Call:
    """A system call: its name, and the how manieth of that name it is in its process, from 1."""

    name: str
    number: int


@cache
def strace() -> list[str]:
    """The command strace with what all its runs have in common.

    Where it is missing or may not trace the test is left out; missing it fails where CI is set.
    """
    found = shutil.which("strace")
    if found is None:
        assert "CI" not in os.environ, "strace is missing: apt-get install strace"
        pytest.skip("strace is missing")
    words = [found, "-f", "-qq", "-y"]
    tried = subprocess.run([*words, "-o", os.devnull, "true"], capture_output=True, text=True, check=False)
    if tried.returncode:
        pytest.skip(f"strace may not trace here: {tried.stderr.strip()}")
    return words


def contents(folder: Path) -> dict[str, bytes]:
    """The bytes of each file below ``folder`` by its path, hidden ones too."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def hidden(folder: Path) -> list[str]:
    """The hidden folders that lie below ``folder``."""
    return [path.name for path in folder.rglob(".vdpsim-*")]


@contextmanager
def heeded() -> Iterator[None]:
    """A block whose child processes ignore no signal, though this one was started to, as by nohup or behind a shell's &."""
    before = {number: signal.getsignal(number) for number in SIGNALS.values()}
    ignored = [number for number, handler in before.items() if handler is signal.SIG_IGN]
    try:
        for number in ignored:
            signal.signal(number, lambda *_: None)  # a child begins with what the system does
        yield
    finally:
        for number in ignored:
            signal.signal(number, signal.SIG_IGN)


class Stage:
    """A folder with what one of ``CASES`` wrote first, and its command to be struck again and again."""

    def __init__(self, place: Path, case: str) -> None:
        self.place, self.results, self.case = place, place / "w", case
        first, self.words = CASES[case]
        # A run that kept bytecode would make more calls than the next: they are told by their numbers.
        fixed = {"PYTHONHASHSEED": "0", "PYTHONDONTWRITEBYTECODE": "1"}
        self.env = {**os.environ, "XDG_STATE_HOME": str(place / "state"), **fixed}
        self.results.mkdir()
        if first:
            assert not self._here(first)
        self.old = contents(self.results)
        state = place / "state/vdpsim/written"
        self.record = state.read_bytes() if first else b""
        assert not self._here(self.words)
        self.new = contents(self.results)
        assert set(self.old) <= set(self.new) | set(self.old)
        self.new = {**self.old, **self.new}
        assert self.old != self.new

    def calls(self) -> list[Call]:
        """The calls of the command that change something below the folder of results, in their order."""
        self.reset()
        log = self.place / "log"
        done = self._run([*strace(), SELDOM, "-o", str(log), "-e", "trace=%file,write,ftruncate,flock,fchmod"])
        assert done.returncode == 0, done.stderr
        seen: Counter[str] = Counter()
        found = []
        for line in log.read_text("utf-8", "replace").splitlines():
            name = line.split(maxsplit=1)[1].partition("(")[0]
            seen[name] += 1
            opens = name.startswith("open") and "O_CREAT" in line
            if (opens or CHANGING.fullmatch(name)) and str(self.results) in line:
                found.append(Call(name, seen[name]))
        return found

    def reset(self) -> None:
        """Everything as it was before the command."""
        shutil.rmtree(self.results)
        for name, data in self.old.items():
            (self.results / name).parent.mkdir(parents=True, exist_ok=True)
            (self.results / name).write_bytes(data)
        self.results.mkdir(exist_ok=True)
        (self.place / "state/vdpsim/written").write_bytes(self.record)

    def struck(self, call: Call, fault: str) -> list[str]:
        """What does not hold after ``fault``, a signal or an error, at ``call`` of the command."""
        self.reset()
        kind = "signal" if fault in SIGNALS else "error"
        inject = f"inject={call.name}:{kind}={fault}:when={call.number}"
        how = [SELDOM] if kind == "error" else []
        watch = [*strace(), *how, "-o", str(self.place / "log"), "-e", f"trace={call.name}", "-e", inject]
        done = self._run(watch)
        log = (self.place / "log").read_text("utf-8", "replace")
        met = [line for line in log.splitlines() if f" {call.name}(" in line][call.number - 1 :][:1]
        if not met or str(self.results) not in met[0] or not ("INJECTED" in met[0] or f"SIG{fault}" in log):
            return ["the fault has not come about where it should"]
        wrong = self._judged(done, fault)
        if fault == "KILL" or hidden(self.place):
            if ended := self._here(self.words):
                wrong.append(f"the next run ends with {ended}")
            if contents(self.results) != self.new:
                wrong.append("the next run does not write what it should")
        if hidden(self.place):
            wrong.append(f"left behind: {hidden(self.place)}")
        return wrong

    def _judged(self, done: subprocess.CompletedProcess[str], fault: str) -> list[str]:
        there = {name: data for name, data in contents(self.results).items() if ".vdpsim-" not in name}
        number = SIGNALS.get(fault)
        wrong = []
        if fault == "KILL":
            names = {*self.old, *self.new, *there}
            mixed = [name for name in names if there.get(name) not in {self.old.get(name), self.new.get(name)}]
            wrong += [f"{name} is neither old nor new" for name in mixed]
            if self.case == "new folder" and there not in ({}, self.new):
                wrong.append("the new folder is there in part")
            expected: tuple[int, ...] = (-signal.SIGKILL, 128 + signal.SIGKILL)
        else:
            if there not in (self.old, self.new):
                wrong.append(f"some old, some new: {[name for name in there if there[name] != self.old.get(name)]}")
            expected = (128 + number,) if number else ((0,) if there == self.new else (2,))
            told = "interrupted" if number else "" if there == self.new else "vdpsim: w/"
            if told not in done.stderr or ".vdpsim-" in done.stderr or "Traceback" in done.stderr:
                wrong.append(f"told: {done.stderr}")
        if done.returncode not in expected:
            wrong.append(f"exit status {done.returncode}, not {expected}")
        return wrong

    def _here(self, words: list[str]) -> str:
        """What is wrong with the end of a command that no fault meets, done without a process of its own."""
        told = io.StringIO()
        with pytest.MonkeyPatch.context() as patch, redirect_stdout(told), redirect_stderr(told):
            patch.chdir(self.place)
            patch.setenv("XDG_STATE_HOME", self.env["XDG_STATE_HOME"])
            status = main(words)
        return f"{status}: {told.getvalue()}" if status else ""

    def _run(self, before: list[str]) -> subprocess.CompletedProcess[str]:
        command = [*before, sys.executable, "-m", "vdpsim", *self.words]
        with heeded():
            return subprocess.run(command, cwd=self.place, env=self.env, capture_output=True, text=True, check=False)
