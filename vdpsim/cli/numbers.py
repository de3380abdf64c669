"""Numbers on a command line: each says what is allowed and what was given.

Law: what several commands ask for in the same words is read here, once. Errors are argparse's.
"""

from __future__ import annotations

import argparse

LAST_FRAME = 99_999


def number_within(text: str, least: int, most: int) -> int:
    """The whole number ``text``. Raises ArgumentTypeError where it is none, or not from ``least`` to ``most``."""
    if not (text.isascii() and text.isdigit() and least <= int(text[:9]) <= most):
        raise argparse.ArgumentTypeError(f"must be {least} to {most}, got {text!r}")
    return int(text)


def frame_number(text: str) -> int:
    """A frame, from 0."""
    return number_within(text, 0, LAST_FRAME)


def frame_range(text: str) -> range:
    """``A:B`` or ``A:B:STEP``. Raises ArgumentTypeError where it has no frame."""
    parts = [number_within(part, 0, LAST_FRAME + 1) for part in text.split(":")]
    if len(parts) not in {2, 3} or parts[0] >= parts[1] or parts[2:] == [0]:
        raise argparse.ArgumentTypeError(f"must be A:B or A:B:STEP with A below B and a STEP from 1, got {text!r}")
    return range(*parts)
