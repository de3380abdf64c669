"""Paths and values as messages show them: in one line, and never so long that they flood it.

Law: what is short and can be printed stays as it was given; what is long is cut in its middle, since a path is told by its
beginning and its end. Knows no file.
"""

from __future__ import annotations

import os

LONGEST_PATH = 240
"""Characters of a path; shorter ones are told whole, so that they can be found."""

LONGEST_VALUE = 80
"""Characters of any other value."""

_GAP = " ... "


def shown(path: str | os.PathLike[str]) -> str:
    """A path for a message: whole up to ``LONGEST_PATH`` characters, a longer one with its middle left out."""
    return cut(os.fspath(path), LONGEST_PATH)


def cut(text: str, most: int = LONGEST_VALUE) -> str:
    """``text`` in one line of at most ``most`` characters: what cannot be printed escaped, the middle left out."""
    if not text.isprintable():
        text = text.encode("unicode_escape").decode("ascii")
    if len(text) <= most:
        return text
    head = (most - len(_GAP)) // 2
    return text[:head] + _GAP + text[head + len(_GAP) - most :]
