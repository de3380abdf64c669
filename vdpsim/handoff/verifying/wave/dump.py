"""A value change dump (VCD, IEEE 1364-2005, clause 18), read as it comes: its signals, then what changes at each time.

Law: all that a Verilog or VHDL simulator writes is read: scopes, id codes of any length, several names of one id code,
scalars, vectors, comments and commands anywhere. Reals and texts are passed over, as are signals that nobody asked for. A
value with a bit that is not known is UNKNOWN. Bounded: what is no dump, or larger than any that can be looked at, is a
mistake with its line.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import NamedTuple

from ....door.shown import clipped

UNKNOWN = -1

LONGEST = 1 << 16
"""Bytes of a line."""

MOST_SIGNALS, MOST_HEADER = 1 << 18, 1 << 26
"""Signals, and bytes of all that comes before the first time."""

WIDEST = 64
"""Bits of a signal that is looked at."""

DEEPEST = 256
"""Scopes within each other."""

Change = tuple[int, int]
"""A signal by its number among those asked for, and its value."""

_BITS = bytes.maketrans(b"lLhH", b"0011")
# VHDL has nine values (IEEE 1164): l and h are weak 0 and 1, u, w and - are not known.
_SCALARS = {
    bytes([letter]): value
    for letters, value in ((b"1hH", 1), (b"0lL", 0), (b"xXzZuUwW-", UNKNOWN))
    for letter in letters
}
"""What each letter of a signal of one bit stands for."""
_PASSED = (b"$dumpvars", b"$dumpall", b"$dumpon", b"$dumpoff", b"$end")
"""Words between changes that change nothing themselves."""


class UnreadableDumpError(ValueError):
    """Something that stands in no dump; ``line`` is its number, from 1."""

    def __init__(self, line: int, message: str) -> None:
        super().__init__(message)
        self.line = line


class Signal(NamedTuple):
    """A signal: its id code, its path with dots between scopes, its bits."""

    code: bytes
    path: str
    bits: int


class Dump:
    """A dump that comes in ``pieces``: its ``signals`` at once, then what changes, ``now``. Raises UnreadableDumpError."""

    def __init__(self, pieces: Iterable[bytes]) -> None:
        self.line, self.now = 0, -1
        self._lines = self._numbered(pieces)
        self._scopes: list[str] = []
        self.signals: list[Signal] = []
        self._words = self._all_words(MOST_HEADER)
        for word in self._words:
            if word == b"$enddefinitions":
                self._until_end()
                break
            if not word.startswith(b"$"):
                self._refuse(f"a dump begins with its commands, got {clipped(word.decode('latin-1'), 40)}")
            self._declare(word, self._until_end())
        else:
            self._refuse("the dump ends within its header: it has no $enddefinitions")

    def changes(self, wanted: Mapping[bytes, int]) -> Iterator[list[Change]]:
        """What changes at each time of the signals whose id codes are ``wanted``, with their numbers there."""
        found: list[Change] = []
        # The lines are counted as they are taken: words come one by one, but no slower than they are split.
        words = chain(self._left, chain.from_iterable(map(bytes.split, self._lines)))
        for word in words:
            first = word[:1]
            if first in _SCALARS:
                number = wanted.get(word[1:])
                if number is not None:
                    found.append((number, _SCALARS[first]))
            elif first in b"bB":
                number = wanted.get(next(words, b""))
                if number is not None:
                    found.append((number, self._number(word[1:])))
            elif first == b"#":
                if found:
                    yield found
                    found = []
                self.now = self._time(word, self.now)
            elif first in b"rRsS":
                next(words, None)
            elif word not in _PASSED:
                self._other(word, words)
        if found:
            yield found

    def _number(self, bits: bytes) -> int:
        if bits.strip(b"01"):  # int() would take signs and underscores too
            bits = bits.translate(_BITS)
            if bits.strip(b"01xXzZuUwW-"):
                self._refuse(f"a vector must have the bits 0, 1, x and z, got {clipped(bits.decode('latin-1'), 40)}")
            if bits.strip(b"01"):
                return UNKNOWN
        return int(bits or b"0", 2)

    def _time(self, word: bytes, before: int) -> int:
        if not word[1:].isdigit() or len(word) > 40:
            self._refuse(f"a time must be # and a whole number, got {clipped(word.decode('latin-1'), 40)}")
        now = int(word[1:])
        if now < before:
            self._refuse(f"times must grow, got #{now} after #{before}")
        return now

    def _other(self, word: bytes, words: Iterator[bytes]) -> None:
        """A command between changes, whose words are passed over; anything else is refused."""
        if not word.startswith(b"$"):
            hint = "; extended dumps ($dumpports) are not read" if word[:1] == b"p" else ""
            self._refuse(f"must be a change, a time or a command, got {clipped(word.decode('latin-1'), 40)}{hint}")
        for inner in words:
            if inner == b"$end":
                return

    def _declare(self, command: bytes, words: list[bytes]) -> None:
        if command == b"$scope":
            if len(words) != 2 or len(self._scopes) >= DEEPEST:
                self._refuse(f"$scope must have a kind and a name, at most {DEEPEST} within each other")
            self._scopes.append(words[1].decode("latin-1"))
        elif command == b"$upscope":
            if not self._scopes:
                self._refuse("$upscope ends no scope")
            self._scopes.pop()
        elif command == b"$var":
            if len(words) < 4 or not words[1].isdigit() or len(words[1]) > 9:
                self._refuse("$var must have a kind, a number of bits, an id code and a name")
            if words[0] not in {b"real", b"realtime", b"string", b"event"}:
                name = words[3].decode("latin-1").partition("[")[0] or words[3].decode("latin-1")
                self.signals.append(Signal(words[2], ".".join([*self._scopes, name]), int(words[1])))
            if len(self.signals) > MOST_SIGNALS:
                self._refuse(
                    f"a dump must have at most {MOST_SIGNALS:,} signals: dump the scope that is to be compared alone"
                )

    def _until_end(self) -> list[bytes]:
        found: list[bytes] = []
        for word in self._words:
            if word == b"$end":
                return found
            if len(found) < 8:
                found.append(word)
        self._refuse("the dump ends within a command: it has no $end")
        return found

    def _all_words(self, most: int) -> Iterator[bytes]:
        """Words with their lines' numbers kept in step; ``most`` bytes."""
        for line in self._lines:
            most -= len(line) + 1
            if most < 0:
                self._refuse(f"the header must be at most {MOST_HEADER} bytes long")
            self._left = iter(line.split())
            yield from self._left

    def _numbered(self, pieces: Iterable[bytes]) -> Iterator[bytes]:
        rest = b""
        for piece in pieces:
            lines = (rest + piece).split(b"\n")
            rest = lines.pop()
            for line in lines:
                self.line += 1
                if len(line) > LONGEST:
                    self._refuse(f"a line must be at most {LONGEST} bytes long")
                yield line
            if len(rest) > LONGEST:
                self.line += 1
                self._refuse(f"a line must be at most {LONGEST} bytes long")
        self.line += 1
        yield rest

    def _refuse(self, message: str) -> None:
        raise UnreadableDumpError(self.line, message)
