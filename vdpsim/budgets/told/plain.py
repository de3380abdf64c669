"""The whole budget as plain text.

Law: lays out what ``sections.py`` and ``verdict.py`` say; no word and no figure of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from ..budget import Budget
from .explain import EXPLAIN
from .section import Section
from .sections import sections
from .verdict import verdict_lines

WIDEST = 120
"""Columns of a table."""

VERDICTS = ("fits", "does not fit", "open", "first to give way")
"""What is explained of the verdict itself."""


def plain(budget: Budget, *, explain: bool = False, everything: bool = False) -> str:
    """The whole budget as plain text; ``explain``: with the formulas, ``everything``: each kind of line."""
    lines = [*verdict_lines(budget), ""]
    for section in sections(budget, everything=everything):
        lines += [section.title, *table_lines(section)]
        if explain:
            lines += [f"    {name} = {EXPLAIN[name]}" for name in section.explained]
        lines.append("")
    if explain:
        lines += [f"{name} = {EXPLAIN[name]}" for name in VERDICTS]
    return "\n".join(lines).rstrip() + "\n"


def table_lines(section: Section) -> Iterator[str]:
    """The head and the rows, in columns that are as wide as their widest cell."""
    widths = [max(map(len, column)) for column in zip(section.head, *section.rows, strict=True)]
    first_number = len(section.head) - section.right
    for row in (section.head, *section.rows):
        cells = [
            cell.rjust(width) if place >= first_number else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        line = f"  {'  '.join(cells)}".rstrip()
        start = 2 + sum(width + 2 for width in widths[:-1])
        yield from [line] if section.right or start > WIDEST // 2 else _broken(line, start)


def _broken(line: str, start: int) -> Iterator[str]:
    """A row in lines of at most ``WIDEST`` columns; its last cell, a text, goes on where it begins."""
    pieces = wrap(line[start:], WIDEST - start, break_on_hyphens=False) or [""]
    yield f"{line[:start]}{pieces[0]}".rstrip()
    yield from (" " * start + piece for piece in pieces[1:])
