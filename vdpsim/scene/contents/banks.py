"""Pieces of a picture whose indices are palette entries: the bank of each, the values of its dots, and what is wrong with any.

Law: the mode's own palette rule decides, entry = base + bank x bank_step + value x value_step; a piece has one bank that has all
of its entries. Of several banks the one wins in whose ``bank_size`` entries they lie, where the rule is the palette's own;
then one in which none of them is the value that shows nothing; then the lowest. Of several values that show one entry, which
a ``value_step`` of 0 makes, the lowest that is opaque wins. All pieces that are wrong are counted and the first are told, each
with its dots and its entries; how many of either is bounded, whatever the picture. Knows no map and no bitmap.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode, Chip, TilesMode
from ..findings import WrongError
from .dots import Dots

MOST_PIECES, MOST_ENTRIES = 2, 4
"""Pieces that a message tells of, and entries that it tells of each."""


Numbers = npt.NDArray[np.int64]

INDICES = 256
"""What a dot of a picture can have: entries from here on no picture names."""


class Pieces(NamedTuple):
    """A picture cut into pieces, ``entries`` uint8 (count, down, across), ``columns`` of them side by side.

    ``what`` is the picture's name, ``noun`` what a piece is called, ``first`` the column and row of the first in its map.
    """

    entries: Dots
    columns: int
    what: str
    noun: str
    first: tuple[int, int] = (0, 0)

    def refused(
        self, wrong: npt.NDArray[np.bool_], demand: str, said: Callable[[int], str], key: str = "png", rule: str = ""
    ) -> WrongError:
        """The error that tells which pieces are ``wrong`` (count), at least one, and the ``demand`` that they do not meet.

        ``said`` is what is said of an entry in brackets, after how many dots have it; nothing where it is empty. ``rule`` stands
        between the first piece and others.
        """
        first, *others = np.flatnonzero(wrong).tolist()
        told = f"{self.what}: the {self.noun} at {self._place(first)} must {demand}, but {self._has(first, said)}"
        if others:
            rest = "; ".join(f"{self._place(at)}: {self._has(at, said)}" for at in others[: MOST_PIECES - 1])
            beyond = "; ..." if len(others) >= MOST_PIECES else ""
            told += f"{rule}; {len(others) + 1} {self.noun}s are wrong, then {rest}{beyond}"
        return WrongError(told, key)

    def _place(self, at: int) -> str:
        column, row = self.first
        return f"column {column + at % self.columns}, row {row + at // self.columns}"

    def _has(self, at: int, said: Callable[[int], str]) -> str:
        """The dots of piece ``at``, and its entries: those of which something is said first, then the more frequent."""
        down, across = self.entries.shape[1:]
        dot, line = at % self.columns * across, at // self.columns * down
        found, often = np.unique(self.entries[at], return_counts=True)
        listed = sorted(zip(found.tolist(), often.tolist(), strict=True), key=lambda one: (not said(one[0]), -one[1]))
        counted = [
            (entry, ", ".join(filter(None, (str(count), said(entry))))) for entry, count in listed[:MOST_ENTRIES]
        ]
        told = ", ".join(f"{entry} ({words})" for entry, words in counted)
        beyond = f" and {len(listed) - MOST_ENTRIES} more" if len(listed) > MOST_ENTRIES else ""
        return f"dots {dot} to {dot + across - 1}, lines {line} to {line + down - 1} have entries {told}{beyond}"


class _Way(NamedTuple):
    """A bank, and the value that shows each entry in it: int64 (256), -1 where none does."""

    bank: int
    values: Numbers


def values_by_entry(chip: Chip, mode: TilesMode | BitmapMode, bank: int, values: Sequence[int]) -> Numbers:
    """Which of ``values`` shows each entry in ``bank``, int64 (256), -1 where none does; of several the first."""
    base, bank_step, value_step = chip.entry_rule(mode.entries)
    found = np.full(INDICES, -1, np.int64)
    for value in reversed(values):
        entry = base + bank * bank_step + value * value_step
        if entry < INDICES:
            found[entry] = value
    return found


def opaque_first(top: int, transparent: int | None) -> list[int]:
    """Values 0 to ``top``, the one that shows nothing behind the others."""
    return sorted(range(top + 1), key=lambda value: value == transparent)


def by_bank(chip: Chip, mode: TilesMode | BitmapMode, last: int, pieces: Pieces, key: str) -> tuple[Dots, Numbers]:
    """The values of the pieces' dots, uint8 (count, down, across), and the bank of each piece, int64 (count), 0 to ``last``.

    Raises WrongError, at ``key``, that counts the pieces whose entries no bank has together, and tells which no bank has at all.
    """
    ways = list(_ways(chip, mode, last))
    dots = np.ascontiguousarray(pieces.entries.reshape(len(pieces.entries), -1).T)
    chosen = _chosen(ways, dots)
    if (chosen < 0).any():
        reached = {entry for way in ways for entry in np.flatnonzero(way.values >= 0).tolist()}
        size = mode.top_value + 1
        demand = f"have all dots in one bank of {size} (0 to {last}) with values 0 to {mode.top_value}"
        base, bank_step, value_step = chip.entry_rule(mode.entries)
        rule = f"; the entry is {base} + bank x {bank_step} + value x {value_step}"
        raise pieces.refused(chosen < 0, demand, lambda entry: "" if entry in reached else "in no bank", key, rule)
    table = np.stack([way.values for way in ways]).astype(np.uint8)
    values = np.empty(dots.shape, np.uint8)
    for at, row in enumerate(dots):
        values[at] = table.take(chosen * INDICES + row)
    banks = np.array([way.bank for way in ways], np.int64)[chosen]
    return np.ascontiguousarray(values.T).reshape(pieces.entries.shape), banks


def _ways(chip: Chip, mode: TilesMode | BitmapMode, last: int) -> Iterator[_Way]:
    """Every bank with what it shows of a picture's entries, the most wanted first."""
    values = opaque_first(mode.top_value, mode.transparent)
    whole = [_Way(bank, values_by_entry(chip, mode, bank, values)) for bank in _banks(chip, mode, last)]
    if chip.entry_rule(mode.entries) == (0, chip.palette.bank_size, 1):
        yield from (_Way(way.bank, _own(way, chip.palette.bank_size)) for way in whole)
    if mode.transparent is not None:
        yield from (_Way(way.bank, _without(way, mode.transparent)) for way in whole)
    yield from whole


def _banks(chip: Chip, mode: TilesMode | BitmapMode, last: int) -> range:
    """The banks whose first entry a picture can name; where all are alike, the first."""
    base, bank_step, _ = chip.entry_rule(mode.entries)
    reach = (INDICES - 1 - base) // bank_step if bank_step else 0
    return range(min(last, reach) + 1)


def _own(way: _Way, size: int) -> Numbers:
    """What of ``way`` lies in the ``size`` entries of its bank, before those of the next."""
    return np.where(way.values < size, way.values, -1)


def _without(way: _Way, transparent: int) -> Numbers:
    """What of ``way`` is seen: the value ``transparent`` shows nothing."""
    return np.where(way.values == transparent, -1, way.values)


def _chosen(ways: Sequence[_Way], dots: Dots) -> Numbers:
    """The first of ``ways`` that has all entries of each piece, int64 (count), -1 where none has; ``dots`` (dots, count).

    A bit for each of 64 ways says whether it has an entry, so that a piece needs one look at each of its dots.
    """
    chosen = np.full(dots.shape[1], -1, np.int64)
    for first in range(0, len(ways), 64):
        has = np.zeros(INDICES, np.uint64)
        for bit, way in enumerate(ways[first : first + 64]):
            has |= (way.values >= 0).astype(np.uint64) << np.uint64(bit)
        left = np.flatnonzero(chosen < 0)
        common = np.full(len(left), ~np.uint64(0))
        for row in dots[:, left] if first else dots:
            common &= has[row]
        some = common != 0
        lowest = common[some] & (~common[some] + np.uint64(1))
        chosen[left[some]] = first + np.log2(lowest.astype(np.float64)).astype(np.int64)  # exact: a power of two
    return chosen
