"""Blocks of a picture whose indices are palette entries: the two colours of each, and which dots have which.

Law: a block has one or two entries. The one that more of its dots have is its background, of two as frequent the lower; but where
only the other way round do both numbers fit their fields, it is that way. A block of one entry has it in both fields and
dots of value 0; a field that does not hold it is 0, and is that the background's, then its dots are 1. Knows no bitmap in memory.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from ....chip.model import BitmapMode, Chip
from ....chip.tables.bitmap import TWO_COLOURS, ColourCells
from ..dots import Dots
from .banks import Numbers, opaque_first, values_by_entry
from .pieces import Pieces

Mask = npt.NDArray[np.bool_]


def by_pair(
    chip: Chip, mode: BitmapMode, cells: ColourCells, bank: int, pieces: Pieces, key: str
) -> tuple[Dots, dict[str, Numbers]]:
    """The dots of the blocks, uint8 (count, down, across), and their cells' foreground and background, int64 (count) each.

    ``bank``: the layer's, from which the numbers count. Raises WrongError, at ``key``, that counts the blocks that have more
    entries or such as no number shows.
    """
    numbers = values_by_entry(chip, mode, bank, opaque_first(cells.top, mode.transparent))
    tops = {name: bits.top for name, bits in cells.cell.colouring.items()}
    back, fore, two = _two(pieces.entries)
    swapped = ~_fit(numbers, fore, back, tops) & _fit(numbers, back, fore, tops)
    back, fore = np.where(swapped, fore, back), np.where(swapped, back, fore)
    alone = (fore == back) & (numbers[back] >= 0)
    wrong = ~two | ~(_fit(numbers, fore, back, tops) | alone)
    if wrong.any():
        limits = ", ".join(f"0 to {tops[name]} ({name})" for name in TWO_COLOURS)
        demand = f"have one or two entries of numbers {limits}"
        raise pieces.refused(wrong, demand, lambda entry: _said(entry, int(numbers[entry])), key)
    dots = (pieces.entries != back[:, None, None]) | (alone & (numbers[back] > tops["background"]))[:, None, None]
    shown = {"foreground": numbers[fore], "background": numbers[back]}
    return dots.astype(np.uint8), {name: np.where(found > tops[name], 0, found) for name, found in shown.items()}


def _two(entries: Dots) -> tuple[Dots, Dots, Mask]:
    """The more frequent and the other entry of each block, the same where it has one, and whether it has no third."""
    flat = entries.reshape(len(entries), -1)
    low, high = flat.min(axis=1), flat.max(axis=1)
    lows, highs = (flat == low[:, None]).sum(axis=1), (flat == high[:, None]).sum(axis=1)
    often = np.where(highs > lows, high, low)
    return often, np.where(highs > lows, low, high), (lows + highs == flat.shape[1]) | (low == high)


def _fit(numbers: Numbers, fore: Dots, back: Dots, tops: dict[str, int]) -> Mask:
    """Whether each block's entries have numbers that fit these fields."""
    first, second = numbers[fore], numbers[back]
    return (first >= 0) & (first <= tops["foreground"]) & (second >= 0) & (second <= tops["background"])


def _said(entry: int, number: int) -> str:
    """What a message says of an entry beside how many dots have it: its number, where it is another."""
    if number < 0:
        return "no number"
    return "" if number == entry else f"number {number}"
