"""Foreign text in SystemRDL: it is shown, and nothing else.

Law: whatever a chip's file says, a text of it ends no string and no line, begins no markup, and sets off neither of the two
preprocessors of SystemRDL. Knows no chip.

What a text would set off is told from memory of SystemRDL 2.0; tests hold quotes and markup against
systemrdl-compiler (``tests/hardware/test_keywords.py``), and whole files of hostile names.
"""

from __future__ import annotations

from ..markdown import one_line

_ALIKE = str.maketrans({"`": "'", "[": "(", "]": ")", "<": "(", ">": ")", '"': "'", "\\": "/"})


def inside(text: str) -> str:
    """``text`` as it stands in a comment or between a string's quotes.

    A string ends at a quote; ``<%`` begins Perl and a backtick a macro, wherever they stand; square brackets are markup, and what
    reads a description as Markdown takes ``<`` for HTML. So all these brackets are written as round ones, quotes and backticks
    as apostrophes, and backslashes as slashes.

    >>> inside('<%= 1 %> "x" [b]')
    "(%= 1 %) 'x' (b)"
    """
    return one_line(text).translate(_ALIKE)


def string(text: str) -> str:
    """``text`` as a string of SystemRDL 2.0, with its quotes."""
    return f'"{inside(text)}"'
