"""Which tests run which lines: a map from lines of vdpsim to the tests that executed them, and how long each test takes.

Law: the map is made by running the suites once under coverage, each test in a context of its own, and is kept as one JSON
file a test file, so that a few test files can be mapped again alone. Lines that only the import ran belong to no test. What a
fixture of a wider scope ran belongs to all tests that use it. Knows nothing of mutants; imports no vdpsim by itself.
"""

from __future__ import annotations

import functools
import gc
import json
import os
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

import coverage
import pytest
from hypothesis import Phase, settings

EXAMPLES = 25
"""How many random examples a property is tried on; the first ones of a normal run, which are the same each time."""

WORDS = ["-q", "-p", "no:cacheprovider", "-p", "no:vdpsim", "--assert=plain"]
"""What pytest is always told: vdpsim's own plugin and pytest's rewriting of asserts would load vdpsim in ways of their own."""

LEFT_OUT = ("test_page.py", "test_watch.py", "test_bench.py")
"""Test files that drive another program, which sees no mutant."""


def alive() -> list[Any]:
    """All objects in memory. The suites freeze what they have collected, and what is frozen is not listed: it is thawed first."""
    gc.unfreeze()
    return gc.get_objects()


def caches() -> list[Any]:
    """Every ``functools`` cache of vdpsim that there is by now."""
    kind = type(functools.lru_cache(int))
    found = [thing for thing in alive() if isinstance(thing, kind)]
    return [cache for cache in found if str(getattr(cache, "__module__", "")).startswith("vdpsim")]


class Fewer:
    """Plugin: properties are tried on few examples, and a failure is not shrunk."""

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Cut the examples of each property, and leave out what sees no mutant."""
        items[:] = [item for item in items if item.path.name not in LEFT_OUT]
        cut = set()
        for item in items:
            test: Any = getattr(item, "obj", None)
            test = getattr(test, "__func__", test)
            if not getattr(test, "is_hypothesis_test", False) or test in cut:
                continue
            cut.add(test)
            own: Any = getattr(test, "_hypothesis_internal_use_settings", None) or settings.default
            test._hypothesis_internal_use_settings = settings(  # noqa: SLF001 - hypothesis offers no other way in
                own,
                max_examples=min(own.max_examples, EXAMPLES),
                phases=(Phase.explicit, Phase.generate),
                database=None,
                deadline=None,
                derandomize=True,
            )


class Watching:
    """Plugin: each test runs in a context of its own, and its time is taken."""

    def __init__(self, watch: coverage.Coverage) -> None:
        self.watch, self.caches = watch, []  # type: coverage.Coverage, list[Any]
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()
        self.shared: dict[str, set[str]] = defaultdict(set)
        """For each context of a wider fixture the tests that use it."""
        self.users: list[tuple[str, frozenset[str]]] = []
        self.now = ""

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        """All of vdpsim that tests import is there now."""
        self.caches = caches()
        self.users = [(item.nodeid, frozenset(getattr(item, "fixturenames", ()))) for item in session.items]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Time it, in its context, with nothing kept from the tests before."""
        for cache in self.caches:
            cache.cache_clear()
        self.now = item.nodeid
        self.watch.switch_context(item.nodeid)
        before = sum(os.times()[:4])
        told = yield
        self.seconds[item.nodeid] = round(sum(os.times()[:4]) - before, 3)
        self.watch.switch_context("")
        return told

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[Any]:
        """Give a fixture of a wider scope a context of its own."""
        if fixturedef.scope == "function":
            return (yield)
        context = f"fixture {fixturedef.baseid}::{fixturedef.argname}"
        self.shared[context] |= {
            test for test, names in self.users if fixturedef.argname in names and test.startswith(fixturedef.baseid)
        }
        self.watch.switch_context(context)
        try:
            return (yield)
        finally:
            self.watch.switch_context(self.now)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Only tests that pass can kill."""
        if not report.passed:
            self.failed.add(report.nodeid)


@dataclass(frozen=True)
class TestMap:
    """The map: seconds of each test, and for each module and line the tests that executed it."""

    seconds: dict[str, float]
    lines: dict[str, dict[int, set[str]]]
    sources: dict[str, str]
    """For each module the digest of the text that the map was made from; "" where test files saw different texts."""

    def tests(self, module: str, lines: range) -> set[str]:
        """The tests that executed any of these lines."""
        known = self.lines.get(module, {})
        return set().union(*(known.get(line, ()) for line in lines))

    def users(self, module: str) -> set[str]:
        """The tests that executed any line of the module."""
        return set().union(*self.lines.get(module, {}).values())


def digest(text: str) -> str:
    """What a text is told apart by."""
    return sha256(text.encode()).hexdigest()[:16]


def _file_of(test: str) -> str:
    return test.partition("::")[0]


def make(root: Path, folder: Path, words: list[str]) -> int:
    """Run the suites that ``words`` name and write their part of the map; pytest's exit status.

    To be called in a process that has not imported vdpsim. Paths in the map are relative to ``root``.
    """
    watch = coverage.Coverage(data_file=None, source_pkgs=["vdpsim"], branch=False, config_file=False)
    watching = Watching(watch)
    watch.start()
    try:
        status = pytest.main([*WORDS, *words], [Fewer(), watching])
    finally:
        watch.stop()
    parts: dict[str, dict[str, Any]] = {}
    for test, seconds in watching.seconds.items():
        part = parts.setdefault(_file_of(test), {"tests": [], "seconds": [], "lines": {}, "sources": {}})
        if test not in watching.failed:
            part["tests"].append(test)
            part["seconds"].append(seconds)
    numbers = {test: number for part in parts.values() for number, test in enumerate(part["tests"])}
    data = watch.get_data()
    for name in data.measured_files():
        module = Path(name).relative_to(root).as_posix()
        text = digest(Path(name).read_text("utf-8"))
        for line, contexts in data.contexts_by_lineno(name).items():
            for test in set().union(*(watching.shared.get(context, {context}) for context in contexts)):
                if test in numbers:
                    part = parts[_file_of(test)]
                    part["lines"].setdefault(module, {}).setdefault(str(line), []).append(numbers[test])
                    part["sources"][module] = text
    folder.mkdir(parents=True, exist_ok=True)
    for file, part in parts.items():
        (folder / f"{file.replace('/', '-')}.json").write_text(json.dumps(part), "utf-8")
    return int(status)


def read(folder: Path) -> TestMap:
    """The map as it stands in that folder; empty where none was made."""
    seconds: dict[str, float] = {}
    lines: dict[str, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
    sources: dict[str, str] = {}
    for path in sorted(folder.glob("*.json")):
        part = json.loads(path.read_text("utf-8"))
        seconds |= dict(zip(part["tests"], part["seconds"], strict=True))
        for module, known in part["lines"].items():
            sources[module] = (
                part["sources"][module]
                if sources.get(module, part["sources"][module]) == part["sources"][module]
                else ""
            )
            for line, numbers in known.items():
                lines[module][int(line)] |= {part["tests"][number] for number in numbers}
    return TestMap(seconds, lines, sources)
