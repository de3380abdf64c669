"""Where things stand in a TOML text: how deep it goes, told before it is read, and on which line each key and each element is.

Law: light scans beside the real parser. ``too_deep`` takes a time that grows as the text does, whatever the text. It knows texts,
comments, brackets and dotted keys, and nothing else of TOML: what is no TOML is for the parser to complain of. Python's parser
takes a time that grows with the square of a dotted key's parts, and calls itself for each bracket; so both have a limit here, at
which nobody's file arrives. ``places`` is for messages only, of a text that the parser has already taken. Keys are tuples of
names and positions, ``("layers", 0, "modes", 1, "name")`` or ``("maps", 0, "rows", 3, 12)``.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

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


Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")

_STRING = re.compile(STRING)

_LONG = re.compile(LONG)

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")

_BARE = re.compile(r"[^,\]}#\n]*")


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


def places(text: str) -> dict[Path, int]:
    """Line numbers, counted from 1, by key path."""
    scan = _KeyFinder(text.replace("\r\n", "\n"))
    scan.whole()
    return scan.found


class _KeyFinder:
    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.found: dict[Path, int] = {}
        self._breaks = [match.start() for match in re.finditer("\n", text)]
        self._counts: dict[Path, int] = {}

    def whole(self) -> None:
        here: Path = ()
        self._blank()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                here = self._header()
            else:
                self._pair(here)
            self._blank()

    def _note(self, path: Path) -> None:
        self.found.setdefault(path, bisect_right(self._breaks, self.at - 1) + 1)

    def _blank(self) -> None:
        self._pass(_BLANK)

    def _pass(self, pattern: re.Pattern[str]) -> str:
        """Go behind what ``pattern`` matches here, and return it; at least one character, so that the scan always ends."""
        match = pattern.match(self.text, self.at)
        taken = match[0] if match else ""
        self.at += len(taken) if match and (taken or pattern is _BLANK) else 1
        return taken

    def _header(self) -> Path:
        many = self.text.startswith("[[", self.at)
        start = self.at
        self.at += 2 if many else 1
        names = self._names()
        end, self.at = self.at, start
        here: Path = ()
        for depth, name in enumerate(names, 1):
            here = (*here, name)
            if many and depth == len(names):
                self._counts[here] = self._counts.get(here, -1) + 1
            self._note(here)
            if here in self._counts:
                here = (*here, self._counts[here])
                self._note(here)
        self.at = end + (2 if many else 1)
        return here

    def _names(self) -> list[str]:
        """The names of a dotted key, up to what follows it."""
        names = []
        while True:
            self._blank()
            if self.text[self.at : self.at + 1] in {'"', "'"}:
                names.append(str(tomllib.loads(f"key = {self._pass(_STRING)}")["key"]))
            else:
                names.append(self._pass(_BARE_KEY))
            self._blank()
            if self.text[self.at : self.at + 1] != ".":
                return names
            self.at += 1

    def _pair(self, here: Path) -> None:
        start = self.at
        names = self._names()
        end, self.at = self.at, start
        for name in names:
            here = (*here, name)
            self._note(here)
        self.at = end + 1
        self._blank()
        self._value(here)

    def _value(self, path: Path) -> None:
        self._note(path)
        first = self.text[self.at : self.at + 3]
        if first in {'"""', "'''"}:
            self._pass(_LONG)
        elif first[:1] in {'"', "'"}:
            self._pass(_STRING)
        elif first[:1] == "[":
            self._list(path)
        elif first[:1] == "{":
            self._inline(path)
        else:
            self._pass(_BARE)

    def _list(self, path: Path) -> None:
        position = 0
        while self._more("]"):
            self._value((*path, position))
            position += 1

    def _inline(self, path: Path) -> None:
        while self._more("}"):
            self._pair(path)

    def _more(self, end: str) -> bool:
        """Go behind the bracket or comma that stands here; whether another element follows, and not ``end``."""
        self._blank()
        closed = self.text.startswith(end, self.at)
        self.at += 1
        self._blank()
        if not closed and self.text.startswith(end, self.at):
            closed = True
            self.at += 1
        return not closed and self.at < len(self.text)
