"""Numbers as a data sheet writes them.

Law: exact fractions are rounded here and nowhere else. Knows no chip.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

NONE = "-"
"""What stands in a table where there is nothing."""

TOLD = 8
"""Numbers of a list that are written one by one."""


def plain(number: int | None) -> str:
    """A whole number with commas; a dash for none."""
    return NONE if number is None else f"{number:,}"


def size(number: int) -> str:
    """Bytes, in KiB as well where they are many whole ones."""
    kib = f" ({number // 1024:,} KiB)" if number >= 1024 and number % 1024 == 0 else ""
    return f"{number:,} bytes{kib}"


def micro(seconds: Fraction) -> str:
    """A time in microseconds, to a nanosecond."""
    return f"{float(seconds * 1_000_000):,.3f}"


def nano(seconds: Fraction) -> str:
    """A time in nanoseconds, to a thousandth."""
    return f"{float(seconds * 1_000_000_000):,.3f} ns"


def cycles(hertz: int | Fraction) -> str:
    """A rate in MHz, kHz or Hz, with as many digits as it needs, six behind the point at most."""
    for unit, name in ((1_000_000, "MHz"), (1_000, "kHz")):
        if hertz >= unit:
            return f"{trimmed(Fraction(hertz) / unit)} {name}"
    return f"{trimmed(Fraction(hertz))} Hz"


def trimmed(number: Fraction) -> str:
    """A number to six digits behind the point, without zeros at its end."""
    return f"{float(number):,.6f}".rstrip("0").rstrip(".")


def address(number: int) -> str:
    """An address of the CPU's, as messages have it."""
    return f"0x{number:02X}"


def by(pair: tuple[int, int]) -> str:
    """Dots across and down."""
    return f"{pair[0]} x {pair[1]}"


def listed(words: Iterable[str]) -> str:
    """Words with commas, and an ``and`` before the last."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def some(numbers: Iterable[int]) -> str:
    """Numbers with commas, those after the first few as a count."""
    known = list(numbers)
    told = ", ".join(map(str, known[:TOLD]))
    return told if len(known) <= TOLD else f"{told} and {len(known) - TOLD} more"


def yes(given: object) -> str:
    """Yes or no."""
    return "yes" if given else "no"
