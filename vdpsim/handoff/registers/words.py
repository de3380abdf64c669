"""Foreign text in SystemRDL and in Markdown: it is shown, and nothing else.

Law: whatever a chip's file says, a text of it ends no string, no cell and no line, begins no markup, and sets off neither of the
two preprocessors of SystemRDL. Knows no chip.
"""

from __future__ import annotations

import re

from ...door.shown import printable

_ALIKE = str.maketrans({"`": "'", "[": "(", "]": ")", "<": "(", ">": ")", '"': "'", "\\": "/"})
_SIGNS = re.compile(r"[\\`*\[\]<>&#|~!$@/{}^]|(?<![^\W_])_|_(?![^\W_])|(?<=www)\.|(?<!\d):(?=\w)", re.IGNORECASE)
"""What could mean something in a line: signs of markup, underscores but within words, the dot of an address."""


def one_line(text: str) -> str:
    """A text of any lines as one, its runs of spaces and ends of lines each a space."""
    return printable(" ".join(text.split()))


def rdl(text: str) -> str:
    r"""``text`` as a string of SystemRDL 2.0, with its quotes.

    A string ends at a quote; ``<%`` begins Perl and a backtick a macro, wherever they stand; square brackets are markup, and what
    reads a description as Markdown takes ``<`` for HTML. So all these brackets are written as round ones, quotes and backticks
    as apostrophes, and backslashes as slashes.

    >>> print(rdl('<%= 1 %> "x" [b]'))
    "(%= 1 %) 'x' (b)"
    """
    return f'"{one_line(text).translate(_ALIKE)}"'


def markdown(text: str) -> str:
    """``text`` within a line of Markdown (CommonMark 0.31, with GitHub's tables): what could mean something as its number.

    >>> markdown("near.scroll_x"), markdown("a|b *c* _d_")
    ('near.scroll_x', 'a&#124;b &#42;c&#42; &#95;d&#95;')
    """
    return _SIGNS.sub(lambda found: f"&#{ord(found[0])};", one_line(text))


def paragraph(text: str) -> str:
    """``text`` as a paragraph of Markdown: how a list or a line under a heading would begin is written as its number too.

    >>> paragraph("1. x"), paragraph("- y")
    ('&#49;. x', '&#45; y')
    """
    told = markdown(text)
    return f"&#{ord(told[0])};{told[1:]}" if re.match(r"[-+=\d]", told) else told
