"""Numbers on a command line: each says what is allowed and what was given.

Law: what several commands ask for in the same words is read here, once. Errors are argparse's.
"""

from __future__ import annotations

import argparse

from ..door.shown import value

LAST_FRAME = 99_999
LAST_LINE = 8191


def whole(text: str, least: int, most: int) -> int | None:
    """The whole number ``text``, told by its value however many zeros begin it; None where it is none, or not in reach."""
    digits = text.lstrip("0") or "0"
    if not (text.isascii() and text.isdigit() and len(digits) <= len(str(most)) and least <= int(digits) <= most):
        return None
    return int(digits)


def number_within(text: str, least: int, most: int) -> int:
    """The whole number ``text``. Raises ArgumentTypeError where it is none, or not from ``least`` to ``most``."""
    found = whole(text, least, most)
    if found is None:
        raise argparse.ArgumentTypeError(f"must be {least} to {most}, got {value(text)}")
    return found


def frame_number(text: str) -> int:
    """A frame, from 0."""
    return number_within(text, 0, LAST_FRAME)


def frame_range(text: str) -> range:
    """``A:B`` or ``A:B:STEP``. Raises ArgumentTypeError where it has no frame."""
    told = f"must be A:B or A:B:STEP with A below B and a STEP from 1, got {value(text)}"
    parts = _parts(text, LAST_FRAME + 1, told)
    if len(parts) not in {2, 3} or parts[0] >= parts[1] or parts[2:] == [0]:
        raise argparse.ArgumentTypeError(told)
    return range(*parts)


def line_range(text: str) -> range:
    """``A:B``. Raises ArgumentTypeError where it has no line."""
    told = f"must be A:B with A below B, got {value(text)}"
    parts = _parts(text, LAST_LINE + 1, told)
    if len(parts) != 2 or parts[0] >= parts[1]:
        raise argparse.ArgumentTypeError(told)
    return range(*parts)


def _parts(text: str, most: int, told: str) -> list[int]:
    """The numbers between colons. Raises ArgumentTypeError: with ``told`` where there is no colon."""
    if ":" not in text:
        raise argparse.ArgumentTypeError(told)
    return [number_within(part, 0, most) for part in text.split(":")]
