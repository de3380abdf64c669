r"""Words of a message: foreign text made fit to be shown, and what somebody may have meant by a word that is not known.

Law: what comes out is one line that does what it says and no more: nothing in it moves a cursor, changes a colour, turns the
direction of reading or begins a line of its own, and every surrogate, control and separator is an escape. What is too long is
cut in its middle. Every escape of ``printable`` and ``block`` but those of one letter is ``\uXXXX``, so that JSON stays JSON.
Of the words that there are at most one is told as meant, and none where none comes near. Knows no stream; ``cli/say.py`` holds
every text that is printed to this.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable

LONGEST_NAME = 80
"""Characters of a name or value in a message; what stands in a file can be of any length."""

LONGEST_PATH = 240
"""Characters of a path in a message; shorter ones are told whole, so that they can be found."""

WIDEST = 120
"""Columns of a line that nobody's terminal shows."""

HARMFUL = (
    "\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters but for tab and line feed
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # marks and overrides of the direction of reading
    "\u2028\u2029"  # separators of lines and paragraphs
    "\ud800-\udfff"  # half characters: bytes of a path that are no UTF-8
)
"""What must not reach a terminal, as the inside of a class of a regular expression."""

PLAIN = r"^[^\u0000-\u001f\u007f-\u009f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\u2028\u2029]*$"
"""A text that needs no escapes, as a pattern for a file's schema; half characters cannot stand in a file."""

_RAW = re.compile(f"[{HARMFUL}]")
_RAW_IN_LINE = re.compile(f"[{HARMFUL}\t\n]")
_LETTERS = {"\t": "\\t", "\n": "\\n", "\r": "\\r"}


LONGEST_WORD = 80
"""Characters of a word that is compared: nobody's slip of the finger is longer, and comparing takes their square."""


def printable(text: object) -> str:
    r"""``text`` as one line without anything that a terminal would obey.

    >>> printable("a\x1b[2Jb")
    'a\\u001b[2Jb'
    """
    return _RAW_IN_LINE.sub(_escape, str(text))


def block(text: str) -> str:
    """``text`` of several lines without anything that a terminal would obey but tabs and ends of lines."""
    return _RAW.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def clipped(text: object, most: int = LONGEST_NAME) -> str:
    """``text`` as ``printable`` gives it, cut in its middle to ``most`` characters.

    >>> clipped("abcdefghijklmnop", 11)
    'abcd...mnop'
    """
    given = str(text)
    if len(given) > 2 * most:  # no need to look at megabytes of which some letters remain
        given = f"{given[:most]}{given[-most:]}"
    told = printable(given)
    if len(told) <= most:
        return told
    kept = most - 3
    return f"{told[: kept - kept // 2]}...{told[len(told) - kept // 2 :]}"


def shown_path(path: str | os.PathLike[str]) -> str:
    """A path as ``clipped`` gives it: it is told by its beginning and its end."""
    return clipped(os.fspath(path), LONGEST_PATH)


def value(given: object, most: int = LONGEST_NAME) -> str:
    """A value as Python writes it, cut to ``most`` characters. A number of any size is shown, or its size is."""
    if isinstance(given, str) and len(given) > most:
        given = f"{given[:most]}{given[-most:]}"
    if isinstance(given, int) and given.bit_length() > 4 * most:
        return f"a number of {given.bit_length()} bits"
    if isinstance(given, list | tuple) and len(given) > most:
        given = [*given[:most]]
    try:
        told = repr(given)
    except Exception:  # noqa: BLE001 - a value that cannot show itself is still known by its kind
        told = f"<{type(given).__name__}>"
    return clipped(told, most)


def named(given: object, most: int = LONGEST_NAME) -> str:
    """Several names with commas between, as many as fit into about ``most`` characters."""
    found: list[str] = []
    room = most
    names = list(given) if not isinstance(given, str) else [given]  # type: ignore[call-overload]
    for name in names:
        told = clipped(name, 40)
        if found and len(told) > room:
            return f"{', '.join(found)} and {len(names) - len(found)} more"
        found.append(told)
        room -= len(told) + 2
    return ", ".join(found)


def _escape(found: re.Match[str]) -> str:
    return _LETTERS.get(found[0]) or f"\\u{ord(found[0]):04x}"


def counted(number: int, what: str) -> str:
    """``number`` and the word for so many of them.

    >>> counted(1, "glyph"), counted(12, "glyph")
    ('1 glyph', '12 glyphs')
    """
    return f"{number} {what}{'' if number == 1 else 's'}"


def nearest(word: object, known: Iterable[str]) -> str:
    """The one of ``known`` that comes nearest to ``word``, whatever its case; "" where none comes near.

    >>> nearest("Per_lines", ["per_line", "count"])
    'per_line'
    """
    from difflib import get_close_matches  # noqa: PLC0415 - where all words are known it is not needed

    text = str(word)
    by_low = {one.lower(): one for one in known}
    found = get_close_matches(text.lower(), [*by_low], 1) if len(text) <= LONGEST_WORD else []
    return by_low[found[0]] if found else ""


def meant(word: object, known: Iterable[str]) -> str:
    """``; did you mean X?`` with the one of ``known`` that comes nearest to ``word``; "" where none does."""
    found = nearest(word, known)
    return f"; did you mean {clipped(found)}?" if found else ""
