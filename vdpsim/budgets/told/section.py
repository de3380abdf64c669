"""A table of a budget: a title, the names of its columns, rows of texts.

Law: plain data, for whoever lays it out: as plain text, at a terminal, on a page.
"""

from __future__ import annotations

from dataclasses import dataclass

TextRow = tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """A table with a title: ``head`` names its columns, ``rows`` are texts; the last ``right`` columns are numbers.

    ``explained``: the figures in it, by their names in EXPLAIN. ``beside``: whether it stands in the second of two columns.
    """

    title: str
    head: TextRow
    rows: tuple[TextRow, ...]
    right: int
    explained: tuple[str, ...]
    beside: bool = False


def plural(count: int, word: str) -> str:
    """The word as it stands after ``count``: with an s, unless there is one."""
    return word if count == 1 else f"{word}s"
