"""Hex fonts: text with a line for each character, its number and its rows in hexadecimal.

Law: a function from bytes to a Font; whatever the bytes, it is a Font or an InputError that names every wrong line, twenty at
most. The form is the GNU Unifont project's: ``0041:`` and then 16 rows of 8, 16, 24 or 32 dots. Lines that are empty or
begin with ``#`` say nothing.
"""

from __future__ import annotations

import re

from ..door.shown import counted
from ..files.problems import InputError, Problem
from .glyphs import LAST_CHARACTER, MOST_TOLD, DrawnGlyph, Font, placed

HEIGHT = 16
"""Rows of every glyph."""

WIDTHS = {digits // (HEIGHT // 4): digits for digits in (32, 64, 96, 128)}
"""Digits of a glyph by its dots across."""

_DIGITS = {digits: across for across, digits in WIDTHS.items()}
_LINE = re.compile(rb"([0-9A-Fa-f]{4,6}):([0-9A-Fa-f]*)")
_BEGINS = re.compile(rb"(?:\s|#[^\n]*\n)*+[0-9A-Fa-f]{4,6}:")


def is_hex(data: bytes) -> bool:
    """Whether ``data`` begins as a hex font does."""
    return _BEGINS.match(data) is not None


def parse(data: bytes, file: str) -> Font:
    """The font by characters. Narrow glyphs stand at the left of a box that is as wide as the widest."""
    problems: list[Problem] = []
    drawn: dict[int, DrawnGlyph] = {}
    for number, line in enumerate(data.splitlines(), 1):
        text = line.strip()
        if not text or text.startswith(b"#"):
            continue
        message = _take(text, drawn)
        if message:
            problems.append(Problem(file, number, "", message))
            if len(problems) == MOST_TOLD:
                break
    if problems:
        raise InputError(problems)
    size, glyphs, _ = placed(file, list(drawn.values()))
    widths = {code: one.advance for code, one in drawn.items()}
    narrow = sum(width < size[0] for width in widths.values())
    notes = (f"{counted(narrow, 'narrow glyph')} at the left of boxes {size[0]} dots across",) if narrow else ()
    return Font(size, dict(zip(drawn, glyphs, strict=True)), characters=True, notes=notes, widths=widths)


def _take(text: bytes, drawn: dict[int, DrawnGlyph]) -> str | None:
    """Enter one line's glyph into ``drawn``; what is wrong with the line, or None."""
    found = _LINE.fullmatch(text)
    if found is None:
        shown = text[:24].decode("latin-1")
        return f"must be a character's number of 4 to 6 hexadecimal digits, a colon and its rows, is {shown!r}"
    code, digits = int(found[1], 16), len(found[2])
    if code > LAST_CHARACTER:
        return f"characters go up to {LAST_CHARACTER:X}, got {code:X}"
    if digits not in _DIGITS:
        return f"a glyph must have {', '.join(map(str, _DIGITS))} hexadecimal digits, {found[1].decode()} has {digits}"
    if code in drawn:
        return f"the character {found[1].decode()} is there already"
    across = _DIGITS[digits]
    drawn[code] = DrawnGlyph((across, HEIGHT), (0, 0), bytes.fromhex(found[2].decode()), across)
    return None
