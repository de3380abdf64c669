"""Colours that art lost, named: which they are, where, and why.

Law: a colour is lost where an opaque dot that asked for it shows another than the chip's nearest to it. Those of most dots are
named first, of equals the darker number. Pure: dots in, words out.
"""

from __future__ import annotations

import numpy as np

from ...colour.numbers import numbers_of, shade_of
from ..arrays import Dots, Mask, Size

NAMED = 6
"""Colours that are named; of the others only the number is told."""


def lost(wanted: Dots, given: Dots, opaque: Mask, cell: Size, thing: str, why: str) -> str:
    """The lost colours in words, empty where none is.

    ``wanted`` and ``given``: (lines, dots, 3), ``wanted`` as near as the chip has it; ``opaque``: (lines, dots), what counts.
    ``cell``: dots of a ``thing`` across and down; (1, 1) names dots. ``why``: in words.
    """
    numbers = numbers_of(wanted)
    changed = opaque & (wanted != given).any(axis=2)
    lines, dots = np.nonzero(changed)
    if not len(lines):
        return ""
    shades, first, often = np.unique(numbers[changed], return_index=True, return_counts=True)
    named = []
    for at in np.argsort(-often, kind="stable")[:NAMED].tolist():
        red, green, blue = shade_of(int(shades[at]))
        column, row = int(dots[first[at]]) // cell[0], int(lines[first[at]]) // cell[1]
        named.append(f"#{red:02x}{green:02x}{blue:02x} ({thing} at column {column}, row {row})")
    more = f" and {len(shades) - NAMED} more" if len(shades) > NAMED else ""
    count = f"{len(shades)} colours are" if len(shades) > 1 else "1 colour is"
    return f"{count} not kept everywhere{f' ({why})' if why else ''}: {', '.join(named)}{more}"
