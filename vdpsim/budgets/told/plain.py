"""The whole budget as plain text.

Law: lays out what ``sections.py`` and ``verdict.py`` say; no word and no figure of its own.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...door.columns import lines
from ...door.shown import WIDEST
from ..budget import Budget
from .explain import EXPLAIN
from .section import Section
from .sections import sections
from .verdict import verdict_lines

INDENT = 2
"""Blanks before a row."""

VERDICTS = ("fits", "does not fit", "open", "first to give way")
"""What is explained of the verdict itself."""


def plain(budget: Budget, *, explain: bool = False, everything: bool = False) -> str:
    """The whole budget as plain text; ``explain``: with the formulas, ``everything``: each kind of line."""
    told = [*verdict_lines(budget), ""]
    for section in sections(budget, everything=everything):
        told += [section.title, *table_lines(section)]
        if explain:
            told += [f"    {name} = {EXPLAIN[name]}" for name in section.explained]
        told.append("")
    if explain:
        told += [f"{name} = {EXPLAIN[name]}" for name in VERDICTS]
    return "\n".join(told).rstrip() + "\n"


def table_lines(section: Section, width: int = WIDEST) -> Iterator[str]:
    """The head and the rows, in columns that are as wide as their widest cell where ``width`` has room for that."""
    for line in lines([section.head, *section.rows], width - INDENT, right=section.right):
        yield f"{' ' * INDENT}{line}".rstrip()
