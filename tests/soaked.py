"""Which cases of a test every run tries, and which only ``.ci/run`` or ``tools/soak suites`` does.

Law: what is left to the soak goes ways that the other cases of the same test go as well, with other numbers. What is left to
``.ci/run`` goes ways of its own too, but takes a browser, a simulator, a compiler, other programs, a large library or a search
so long that nobody would wait for it after each change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest


def few(cases: Iterable[Any], kept: Callable[[Any], bool]) -> list[Any]:
    """The cases for ``parametrize``: those that are ``kept`` are tried on every run, the others in the soak."""
    return [one if kept(one) else pytest.param(*_values(one), marks=pytest.mark.soak) for one in cases]


def quick(cases: Iterable[Any], kept: Callable[[Any], bool]) -> list[Any]:
    """The cases for ``parametrize``: those that are ``kept`` are tried on every run, the others by ``.ci/run``."""
    return [one if kept(one) else pytest.param(*_values(one), marks=pytest.mark.ci) for one in cases]


def every(step: int, cases: Iterable[Any]) -> list[Any]:
    """The same, with the first of every ``step`` cases kept."""
    return [
        one if place % step == 0 else pytest.param(*_values(one), marks=pytest.mark.soak)
        for place, one in enumerate(cases)
    ]


def _values(one: Any) -> tuple[Any, ...]:
    return one if isinstance(one, tuple) else (one,)
