"""Values of the options of ``vdpsim fit``: sizes, counts, lists of numbers, colours.

Law: each says what is allowed and what was given. Errors are argparse's.
"""

from __future__ import annotations

import argparse

from ..door.shown import value
from .parsing import whole

MOST, MOST_OF_LIST = 999_999_999, 9_999
"""The largest number, and the largest in a list."""


def size(text: str) -> tuple[int, int]:
    """Dots across and down, such as ``16x16``."""
    across, sign, down = text.lower().partition("x")
    wide, high = whole(across, 1, 4096), whole(down, 1, 4096)
    if not sign or wide is None or high is None:
        raise argparse.ArgumentTypeError(f"must be dots across and down, such as 16x16, got {value(text)}")
    return wide, high


def whole_count(text: str) -> int:
    """A whole number."""
    found = whole(text, 0, MOST)
    if found is None:
        raise argparse.ArgumentTypeError(f"must be a whole number, 0 to {MOST}, got {value(text)}")
    return found


def number_list(text: str) -> tuple[int, ...] | None:
    """Numbers and ranges, such as ``0:4,7``; a range ends before its second number. None for ``-``."""
    if text == "-":
        return None
    found: list[int] = []
    for part in text.split(","):
        first, sign, last = part.partition(":")
        begin, end = whole(first, 0, MOST_OF_LIST), whole(last, 0, MOST_OF_LIST) if sign else 0
        if begin is None or end is None:
            raise argparse.ArgumentTypeError(f"must be numbers and ranges such as 0:4,7, got {value(text)}")
        some = range(begin, end) if sign else (begin,)
        if not some:
            raise argparse.ArgumentTypeError(f"a range must be FIRST:END with FIRST below END, got {value(text)}")
        found += some
    return tuple(found)


def colour(text: str) -> tuple[int, int, int] | None:
    """A colour, such as ``#1a2b3c``; None for ``-``."""
    from vdpsim.scene.tables.values import HEX_COLOUR, channels  # noqa: PLC0415 - --help needs no scene

    if text == "-":
        return None
    if not HEX_COLOUR.fullmatch(text):
        raise argparse.ArgumentTypeError(f'must be a colour such as "#1a2b3c" or "#123", got {value(text)}')
    return channels(text)
