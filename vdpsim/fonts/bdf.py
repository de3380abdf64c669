"""BDF fonts: glyphs as text, each with its own box in the font's box.

Law: a function from bytes to a Font; whatever the bytes, it is a Font or an InputError that names every wrong glyph's line,
twenty at most. The form is that of Adobe's "Glyph Bitmap Distribution Format (BDF) Specification", version 2.2 (1993).
"""

from __future__ import annotations

import re

from ..files.packed import wrong
from ..files.problems import InputError, Problem
from .glyphs import MOST_TOLD, Charset, DrawnGlyph, Font, by_code, check_size, row_bytes

BEGINS = b"STARTFONT"

_NUMBER = re.compile(r"[+-]?\d{1,6}", re.ASCII)
_HEX = re.compile(rb"[0-9A-Fa-f]*")


def parse(data: bytes, file: str) -> Font:
    """A font by characters where its character set is known, else by the numbers after ENCODING.

    Every glyph stands in the font's bounding box, at the place that its own box has there; a glyph that leaves it makes all
    boxes larger.
    """
    reader = _Reader(data, file)
    problems: list[Problem] = []
    try:
        more = reader.font()
        while more:
            try:
                reader.glyph()
                more = reader.font()
            except InputError as error:
                problems.extend(error.problems)
                more = len(problems) < MOST_TOLD and reader.skip()
    except InputError as error:
        problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    return reader.made()


class _Reader:
    """The lines one by one, and what has been read of the font so far."""

    def __init__(self, data: bytes, file: str) -> None:
        self.file = file
        self._lines = data.splitlines()
        self._number = 0
        self._box: list[DrawnGlyph] = []
        self._name = ""
        self._properties: dict[str, str] = {}
        self._advance: int | None = None
        self._told: int | None = None
        self._codes: list[int] = []
        self._drawn: list[DrawnGlyph] = []

    def font(self) -> bool:
        """Read on to behind the next glyph's first line (true), or to the end of the font."""
        while True:
            word, rest = self._next()
            if word in ("ENDFONT", "STARTCHAR"):
                return word == "STARTCHAR"
            if word == "FONTBOUNDINGBOX":
                across, down, x, y = self._numbers(word, rest, 4)
                self._check((across, down))
                self._box = [DrawnGlyph((across, down), (x, y), b"", across)]
            elif word == "FONT":
                self._name = rest
            elif word in ("CHARSET_REGISTRY", "CHARSET_ENCODING"):
                self._properties[word] = rest.strip('"')
            elif word == "DWIDTH":
                self._advance = self._numbers(word, rest, 2)[0]
            elif word == "CHARS":
                self._told = self._numbers(word, rest, 1)[0]

    def glyph(self) -> None:
        """Read one glyph, from the line after STARTCHAR to ENDCHAR."""
        code: int | None = None
        box: tuple[int, ...] | None = None
        bits: bytes | None = None
        advance = self._advance
        while True:
            word, rest = self._next()
            if word == "ENDCHAR":
                break
            if word in ("STARTCHAR", "ENDFONT"):
                self._number -= 1
                raise self._wrong(f"the glyph must end with ENDCHAR before {word}")
            if word == "ENCODING":
                code = self._numbers(word, rest, 1)[0]
            elif word == "DWIDTH":
                advance = self._numbers(word, rest, 2)[0]
            elif word == "BBX":
                if bits is not None:
                    raise self._wrong("BBX must stand before BITMAP")
                box = self._numbers(word, rest, 4)
                self._check((box[0], box[1]))
            elif word == "BITMAP":
                if box is None:
                    raise self._wrong("BBX must stand before BITMAP")
                bits = self._rows(box[0], box[1])
        if code is None or box is None or bits is None:
            lacking = [name for name, what in (("ENCODING", code), ("BITMAP", bits)) if what is None]
            raise self._wrong(f"the glyph that ends here lacks {' and '.join(lacking)}")
        self._codes.append(code)
        self._drawn.append(DrawnGlyph((box[0], box[1]), (box[2], box[3]), bits, box[0] if advance is None else advance))

    def skip(self) -> bool:
        """Go on after a mistake: to behind the next glyph's first line (true), or to the end."""
        while self._number < len(self._lines):
            word = self._raw()
            if word.startswith((b"ENDFONT", b"STARTCHAR")):
                return word.startswith(b"STARTCHAR")
        return False

    def made(self) -> Font:
        """The font, once all of it is read."""
        notes = []
        if self._told is not None and self._told != len(self._drawn):
            notes.append(f"has {len(self._drawn)} glyphs, although its line CHARS says {self._told}")
        parts = self._name.split("-")
        last = parts[-2:] if self._name.startswith("-") and len(parts) == 15 else ("", "")
        charset = Charset(
            self._properties.get("CHARSET_REGISTRY", last[0]), self._properties.get("CHARSET_ENCODING", last[1])
        )
        numbered = ((code, place) for place, code in enumerate(self._codes))
        return by_code(self.file, charset, numbered, self._drawn, notes, self._box)

    def _raw(self) -> bytes:
        """The next line without the white space around it."""
        if self._number == len(self._lines):
            raise self._wrong("is cut off here: the line ENDFONT is missing")
        self._number += 1
        return self._lines[self._number - 1].strip()

    def _next(self) -> tuple[str, str]:
        """The next line that says anything, as a keyword and what follows it."""
        while not (line := self._raw()):
            pass
        word, *rest = (part.decode("latin-1") for part in line.split(maxsplit=1))
        return word, rest[0] if rest else ""

    def _numbers(self, word: str, rest: str, count: int) -> tuple[int, ...]:
        parts = rest.split()[:count]
        if len(parts) < count or not all(map(_NUMBER.fullmatch, parts)):
            raise self._wrong(
                f"{word} must be followed by {count} whole numbers of at most six digits, is by {rest[:40]!r}"
            )
        return tuple(map(int, parts))

    def _check(self, size: tuple[int, int]) -> None:
        """A box without any dots is allowed: a space's may be."""
        check_size(self.file, (size[0] or 1, size[1] or 1), 1, self._number)

    def _rows(self, across: int, down: int) -> bytes:
        digits = 2 * row_bytes(across)
        rows = bytearray()
        for _ in range(down):
            row = self._raw()
            if len(row) != digits or not _HEX.fullmatch(row):
                shown = row[:24].decode("latin-1")
                raise self._wrong(f"a row of {across} dots must be {digits} hexadecimal digits, is {shown!r}")
            rows += bytes.fromhex(row.decode("ascii"))
        return bytes(rows)

    def _wrong(self, message: str) -> InputError:
        return wrong(self.file, message, self._number)
