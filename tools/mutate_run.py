"""Mutants tried: a warm process forks a child for each, the child has the mutant in place and runs tests until one fails.

Law: nothing is written into the source tree. A mutant in a function's body is put in place in a process that has collected all
tests already: the function's code object is exchanged, wherever the function is kept, and every cache is emptied. All others,
and any on request, go the slow way: an import hook hands out the mutated module in a process that has not imported vdpsim yet.
A child has a limit of its own for memory, for each test's time, and for all tests together; one that runs out of a test's
time or of memory has been found out as much as one whose test fails.
"""

from __future__ import annotations

import ast
import gc
import importlib
import importlib.util
import json
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from mutate_choice import Choice, Trial, file_of
from mutate_map import WORDS, Fewer, alive, caches
from mutate_places import mutated

MEMORY = 4 << 30
"""Bytes of address space that a child may have."""
SLOWER = 5
"""A test may take this many times as long as it took for the map, and ``GRACE`` seconds more."""
GRACE = 8.0
SURVIVED, KILLED, UNPLACED = 0, 1, 3
"""A child's exit statuses; 3: this mutant's function is not to be found in memory."""


@dataclass(frozen=True)
class Result:
    """What came of a mutant; ``by``: the test that failed, or what else ended it."""

    status: str
    by: str
    tests: int
    seconds: float
    left: int = 0
    """Tests that there was no time for."""


# --- in the child --------------------------------------------------------------------------------------------------------


class _Judge:
    """Plugin: runs the tests of one mutant in their order until one fails or the time is over."""

    def __init__(self, seconds: dict[str, float], budget: float, tell: Callable[[dict[str, Any]], None]) -> None:
        self.seconds, self.budget, self.tell = seconds, budget, tell
        self.failed = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """See whether it failed."""
        if report.failed:
            self.failed = report.nodeid

    def judge(self, items: dict[str, pytest.Item], tests: list[str]) -> int:
        """Run them; the child's exit status."""
        wanted = [items[test] for test in tests if test in items]
        start = time.process_time()
        for number, item in enumerate(wanted):
            self.tell({"by": item.nodeid, "tests": number + 1, "left": len(wanted) - number - 1})
            limit = GRACE + SLOWER * self.seconds.get(item.nodeid, 0)
            signal.setitimer(signal.ITIMER_PROF, limit)  # whose signal ends the process
            item.ihook.pytest_runtest_protocol(
                item=item, nextitem=wanted[number + 1] if number + 1 < len(wanted) else None
            )
            if self.failed:
                return KILLED
            if time.process_time() - start > self.budget:
                break
        return SURVIVED


class _Once(_Judge):
    """Plugin for the slow way: judges what this session has collected."""

    def __init__(self, choice: Choice, wanted: list[str], *words: Any) -> None:
        super().__init__(choice.tests.seconds, *words)
        self.choice, self.wanted = choice, wanted

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Judge, and end the child."""
        items = {item.nodeid: item for item in session.items}
        ahead = self.choice.ahead(items)
        os._exit(self.judge(items, [*ahead, *(test for test in self.wanted if test not in set(ahead))]))


class _Hook:
    """An import hook that gives one module's mutated code."""

    def __init__(self, name: str, path: Path, code: CodeType) -> None:
        class Loader(SourceFileLoader):
            def get_code(self, _fullname: str) -> CodeType:
                return code

        self.name, self.path, self.loader = name, path, Loader(name, str(path))

    def find_spec(self, name: str, *_: Any) -> ModuleSpec | None:
        """Only the one."""
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self.loader)


def _name_of(module: str) -> str:
    return module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def _codes(code: CodeType) -> Iterator[CodeType]:
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield inner
            yield from _codes(inner)


def _place_of(code: CodeType) -> tuple[str, str, int]:
    return code.co_filename, code.co_qualname, code.co_firstlineno


def functions_of(package: Path) -> dict[tuple[str, str, int], list[FunctionType]]:
    """Every function in memory whose code comes from that folder, by file, name and first line."""
    found: dict[tuple[str, str, int], list[FunctionType]] = {}
    for thing in alive():
        if isinstance(thing, FunctionType) and thing.__code__.co_filename.startswith(str(package)):
            found.setdefault(_place_of(thing.__code__), []).append(thing)
    return found


def exchange(functions: dict[tuple[str, str, int], list[FunctionType]], text: str, tree: ast.Module, path: str) -> int:
    """Give the functions of that file the code that they have in ``tree``; how many were changed."""
    old = {_place_of(code): code for code in _codes(compile(text, path, "exec", dont_inherit=True))}
    changed = 0
    for code in _codes(compile(tree, path, "exec", dont_inherit=True)):
        place = _place_of(code)
        if place in old and old[place] != code:
            for function in functions.get(place, ()):
                if function.__code__.co_freevars == code.co_freevars:
                    function.__code__ = code
                    changed += 1
    return changed


def _settle(folder: str) -> None:
    """What every child does first: be quiet, keep to itself, and have its limits."""
    os.setpgid(0, 0)
    nowhere = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(nowhere, number)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    os.environ |= {"PYTEST_DEBUG_TEMPROOT": folder, "TMPDIR": folder, "XDG_CACHE_HOME": folder}
    tempfile.tempdir = folder


def forked(work: Callable[[Callable[[dict[str, Any]], None]], int], wall: float) -> Result:
    """Do ``work`` in a child, which is ended after ``wall`` seconds; ``work`` gets a way to tell what it is at."""
    folder = tempfile.mkdtemp(prefix="mutant-")
    reading, writing = os.pipe()
    start = time.monotonic()
    child = os.fork()
    if child == 0:
        code = UNPLACED + 1
        try:
            _settle(folder)
            told = os.open(f"{folder}/told", os.O_CREAT | os.O_WRONLY)

            def tell(words: dict[str, Any]) -> None:
                os.ftruncate(told, 0)
                os.pwrite(told, json.dumps(words).encode(), 0)

            code = work(tell)
        finally:
            os._exit(code)
    os.close(writing)
    os.close(reading)
    status: int | None = None
    while status is None:
        done, word = os.waitpid(child, os.WNOHANG)
        if done:
            status = word
        elif time.monotonic() - start > wall:
            os.kill(child, signal.SIGKILL)
        else:
            time.sleep(0.005)
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # what the child has left behind
    told_path = Path(folder, "told")
    words = json.loads(told_path.read_text("utf-8") or "{}") if told_path.exists() else {}
    shutil.rmtree(folder, ignore_errors=True)
    seconds = round(time.monotonic() - start, 2)
    by, tests = words.get("by", "before any test"), words.get("tests", 0)
    if os.WIFSIGNALED(status):
        return Result("killed", f"{signal.Signals(os.WTERMSIG(status)).name} in {by}", tests, seconds)
    names = {SURVIVED: "survived", KILLED: "killed", UNPLACED: "unplaced"}
    code = os.WEXITSTATUS(status)
    if code == SURVIVED and not tests:
        return Result("untested", "", 0, seconds)
    return Result(names.get(code, "killed"), by if code != SURVIVED else "", tests, seconds, words.get("left", 0))


# --- in the parents ------------------------------------------------------------------------------------------------------


class _Loop:
    """Plugin: instead of running the collected tests, forks for one mutant after the other."""

    def __init__(
        self, root: Path, trials: list[Trial], choice: Choice, budget: float, done: Callable[..., None]
    ) -> None:
        self.root, self.trials, self.choice, self.budget, self.done = root, trials, choice, budget, done

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try each."""
        items = {item.nodeid: item for item in session.items}
        for one in self.trials:  # some are imported only where they are needed
            importlib.import_module(_name_of(one.mutant.module))
        functions, kept = functions_of(self.root / "vdpsim"), caches()
        gc.collect()
        gc.freeze()
        for one in self.trials:
            path = str(self.root / one.mutant.module)

            def work(tell: Callable[[dict[str, Any]], None], one: Trial = one, path: str = path) -> int:
                if not exchange(functions, one.text, mutated(one.text, one.mutant), path):
                    return UNPLACED
                for cache in kept:
                    cache.cache_clear()
                judge = _Judge(self.choice.tests.seconds, self.budget, tell)
                session.config.pluginmanager.register(judge)
                return judge.judge(items, self.choice.ordered(one, items))

            self.done(one.mutant, forked(work, 120 + 40 * self.budget))
        return True


def run_warm(root: Path, trials: list[Trial], choice: Choice, budget: float, done: Callable[..., None]) -> None:
    """Try mutants of functions' bodies. Imports vdpsim: to be called in a process that is for nothing else."""
    loop = _Loop(root, trials, choice, budget, done)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # what pytest has to say
    status = pytest.main([*WORDS, "-s", *choice.files(trials)], [Fewer(), loop])
    if status != pytest.ExitCode.OK:
        message = f"the tests could not be collected: pytest's exit status was {int(status)}"
        raise RuntimeError(message)


def run_fresh(root: Path, one: Trial, choice: Choice, budget: float) -> Result:
    """Try one mutant by importing its module anew. To be called in a process that has not imported vdpsim."""
    path = root / one.mutant.module
    code = compile(mutated(one.text, one.mutant), str(path), "exec", dont_inherit=True)
    chosen = choice.ordered(one)

    def work(tell: Callable[[dict[str, Any]], None]) -> int:
        sys.meta_path.insert(0, _Hook(_name_of(one.mutant.module), path, code))
        tell({"by": "collecting", "tests": 1})
        signal.setitimer(signal.ITIMER_PROF, 120)
        files = sorted({file_of(test) for test in chosen} | choice.first_files)
        once = _Once(choice, chosen, budget, tell)
        pytest.main([*WORDS, "-s", *files], [Fewer(), once])
        return KILLED  # a test file could not be imported: with a sound module the loop has ended the process

    return forked(work, 300 + 40 * budget)
