"""How deep a TOML text goes, told before it is read.

Law: one pass that takes a time that grows as the text does, whatever the text. It knows texts, comments, brackets and dotted
keys, and nothing else of TOML: what is no TOML is for the parser to complain of. Python's parser takes a time that grows with the
square of a dotted key's parts, and calls itself for each bracket; so both have a limit here, at which nobody's file arrives.
"""

from __future__ import annotations

import re

DEEPEST = 64
"""Parts of a dotted key, and brackets within brackets."""

STRING = r"""(?:"(?:[^"\\\n]++|\\[^\n])*+"?|'[^'\n]*+'?)"""
LONG = r"""(?:\"{3}(?:[^"\\]++|\\[\s\S]|"{1,2}(?!"))*+"{0,5}|'{3}(?:[^']++|'{1,2}(?!'))*+'{0,5})"""
"""Texts of one line and of several: to the end, or to the line's or the file's where there is none."""

_PART = rf"(?:[\w-]++|{STRING})"
_TOKEN = re.compile(
    rf"#[^\n]*+|{LONG}"
    rf"|(?P<key>{_PART}(?:[ \t]*+\.[ \t]*+{_PART})*+)"
    r"|(?P<opens>[\[{])|(?P<closes>[\]}])"
)
_PARTS = re.compile(_PART)


def too_deep(text: str) -> tuple[int, str] | None:
    """The line, from 1, on which ``text`` goes deeper than ``DEEPEST``, and what does; None where it does not.

    ``text`` is any text; its lines end with line feeds.
    """
    depth = 0
    for found in _TOKEN.finditer(text):
        kind = found.lastgroup
        if kind == "opens":
            depth += 1
            if depth > DEEPEST:
                return _line(text, found), f"brackets must stand in at most {DEEPEST} others"
        elif kind == "closes":
            depth = max(0, depth - 1)
        elif kind == "key" and _parts(found[0]) > DEEPEST:
            return _line(text, found), f"a key must have at most {DEEPEST} parts"
    return None


def _parts(key: str) -> int:
    """Parts of a dotted key; counted in full only where there are enough dots."""
    return 1 if key.count(".") < DEEPEST else sum(1 for _ in _PARTS.finditer(key))


def _line(text: str, found: re.Match[str]) -> int:
    return text.count("\n", 0, found.start()) + 1
