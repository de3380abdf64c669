"""What somebody may have meant by a word that is not known.

Law: says at most one of the words that there are, and nothing where none comes near; what is told is in the form of a message.
"""

from __future__ import annotations

from collections.abc import Iterable

from .shown import clipped

LONGEST = 80
"""Characters of a word that is compared: nobody's slip of the finger is longer, and comparing takes their square."""


def nearest(word: object, known: Iterable[str]) -> str:
    """The one of ``known`` that comes nearest to ``word``, whatever its case; "" where none comes near.

    >>> nearest("Per_lines", ["per_line", "count"])
    'per_line'
    """
    from difflib import get_close_matches  # noqa: PLC0415 - where all words are known it is not needed

    text = str(word)
    by_low = {one.lower(): one for one in known}
    found = get_close_matches(text.lower(), [*by_low], 1) if len(text) <= LONGEST else []
    return by_low[found[0]] if found else ""


def meant(word: object, known: Iterable[str]) -> str:
    """``; did you mean X?`` with the one of ``known`` that comes nearest to ``word``; "" where none does."""
    found = nearest(word, known)
    return f"; did you mean {clipped(found)}?" if found else ""
