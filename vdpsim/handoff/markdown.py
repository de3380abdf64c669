"""Markdown: foreign text made text, and tables.

Law: whatever characters a name has, it is shown and does nothing. Knows no folder.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence

from ..door.shown import printable

_SIGNS = re.compile(r"[\\`*\[\]<>&#|~!$@/{}^]|(?<![^\W_])_|_(?![^\W_])|(?<=www)\.|(?<!\d):(?=\w)", re.IGNORECASE)
"""What could mean something in a line: signs of markup, underscores but within words, the dot of an address."""


def one_line(text: str) -> str:
    """A text of any lines as one: its runs of spaces and ends of lines are a space each."""
    return printable(" ".join(text.split()))


def shown(text: str) -> str:
    """Foreign text within a line of Markdown (CommonMark 0.31, with GitHub's tables): signs that could mean something as numbers.

    >>> shown("near.scroll_x"), shown("a|b *c* _d_")
    ('near.scroll_x', 'a&#124;b &#42;c&#42; &#95;d&#95;')
    """
    return _SIGNS.sub(lambda found: f"&#{ord(found[0])};", one_line(text))


def paragraph(text: str) -> str:
    """Foreign text as a paragraph: how a list would begin, or a line that underlines, is written as a number too.

    >>> paragraph("1. x"), paragraph("- y")
    ('&#49;. x', '&#45; y')
    """
    told = shown(text)
    return f"&#{ord(told[0])};{told[1:]}" if re.match(r"[-+=\d]", told) else told


def table(columns: Sequence[str], rows: Iterable[Sequence[object]], *, right: Collection[int] = ()) -> Iterator[str]:
    """A Markdown table; the columns of the numbers in ``right`` are set to the right."""
    yield f"| {' | '.join(columns)} |"
    yield f"| {' | '.join('---:' if place in right else '---' for place, _ in enumerate(columns))} |"
    yield from (f"| {' | '.join(map(str, row))} |" for row in rows)
