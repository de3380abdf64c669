"""On which line of a TOML text each key and each element stands.

Law: a light scan beside the real parser, for messages only, of a text that the parser has already taken. Keys are tuples
of names and positions, ``("layers", 0, "modes", 1, "name")`` or ``("maps", 0, "rows", 3, 12)``.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

from .bounds import LONG, STRING

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_STRING = re.compile(STRING)
_LONG = re.compile(LONG)
_PART = re.compile(r"[A-Za-z0-9_-]+")
_BARE = re.compile(r"[^,\]}#\n]*")


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
                names.append(self._pass(_PART))
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
