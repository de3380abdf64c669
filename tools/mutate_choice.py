"""Which tests a mutant is tried with, and in which order.

Law: follows from the map of lines to tests, from what the tests have found out before, and from the test files that are to go
first. Runs nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from mutate_map import TestMap
from mutate_places import Mutant


def file_of(test: str) -> str:
    """The test file that a test stands in."""
    return test.partition("::")[0]


@dataclass(frozen=True)
class Trial:
    """A mutant, its module's text, and the tests that may notice it.

    ``near`` ran its lines or, where none did, something of its module; of a mutant outside of functions they are all tests of
    the files that use the module. ``far`` are all others, where the mutant lies there or only the import ran its lines.
    """

    mutant: Mutant
    text: str
    near: Sequence[str]
    far: Sequence[str]

    @property
    def placeable(self) -> bool:
        """Whether a function's code is all that has to be exchanged, in a process that has imported the module before."""
        return self.mutant.inside and not self.far


class Choice:
    """The tests of each mutant: cheap ones first, and the sooner the more mutants they and their file have found out.

    ``first``: beginnings of tests' names, such as a file's, that go before all others, whether the map knows them or not.
    """

    def __init__(self, tests: TestMap, first: Iterable[str]) -> None:
        self.tests, self.first = tests, tuple(first)
        self.kills: Counter[str] = Counter()

    def trial(self, mutant: Mutant, text: str) -> Trial:
        """A mutant with its tests."""
        seconds = self.tests.seconds
        # what lies outside of functions runs once, in whichever test imports the module first, and is asked for in any
        ran = self.tests.tests(mutant.module, mutant.lines) if mutant.inside else set()
        near = ran or self.tests.users(mutant.module)
        if not mutant.inside:
            files = {file_of(test) for test in near}
            near = {test for test in seconds if file_of(test) in files}
        return Trial(mutant, text, sorted(near), () if ran else sorted(set(seconds) - near))

    @property
    def first_files(self) -> set[str]:
        """The files of the tests that go first."""
        return {file_of(test) for test in self.first}

    def ahead(self, collected: Iterable[str]) -> list[str]:
        """Those that go first."""
        return [test for test in collected if test.startswith(self.first)] if self.first else []

    def found_out(self, by: str) -> None:
        """A test has found out a mutant."""
        self.kills[by] += 1
        self.kills[file_of(by)] += 1

    def files(self, trials: Iterable[Trial]) -> list[str]:
        """The test files that these mutants may need."""
        return sorted({file_of(test) for one in trials for test in (*one.near, *one.far)} | self.first_files)

    def ordered(self, one: Trial, collected: Iterable[str] = ()) -> list[str]:
        """The tests of a mutant in their order; of ``collected`` ones those that go first."""
        seconds = self.tests.seconds

        def price(test: str, times: int) -> tuple[float, str]:
            return times * (seconds[test] + 0.01) / (1 + 4 * self.kills[test] + self.kills[file_of(test)]), test

        ahead = self.ahead(collected)
        known = set(ahead)
        rest = sorted([price(test, 1) for test in one.near] + [price(test, 3) for test in one.far])
        return ahead + [test for _, test in rest if test not in known]
