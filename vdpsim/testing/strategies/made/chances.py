"""Choices by chance, each so that its simplest one comes first.

Law: all chance comes from the ``Random`` that is handed in; the strategies hand in one whose numbers hypothesis chooses, so
that a failure shrinks to the simplest choices that have it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random
from typing import Any

from hypothesis import strategies as st

Draw = Callable[[st.SearchStrategy[Any]], Any]
Json = dict[str, Any]


def pick(random: Random, *choices: Any) -> Any:
    """One of ``choices``; the first is the simplest."""
    return random.choice(choices)


def chance(random: Random, percent: int) -> bool:
    """True about ``percent`` times in a hundred; shrinks to False."""
    return random.randint(0, 99) >= 100 - percent


def shuffled(random: Random, items: Iterable[Any]) -> list[Any]:
    """The items in any order."""
    items = list(items)
    random.shuffle(items)
    return items


def bulk(random: Random) -> Random:
    """A source for many numbers that need not shrink one by one."""
    return Random(random.randint(0, 1 << 32))


def randoms() -> st.SearchStrategy[Random]:
    """Where all choices come from: each is one of hypothesis's own."""
    return st.randoms(use_true_random=False)
