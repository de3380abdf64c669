"""Pieces of a picture whose indices are palette entries: where they lie, and what is told of those that are wrong.

Law: all such pieces are counted and the first are told, each with its dots and its entries; how many of either are told is
bounded, whatever the picture. Knows no palette rule: what is to be said of an entry it is told.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ...findings import WrongError
from ..dots import Dots

MOST_PIECES, MOST_ENTRIES = 2, 4
"""Pieces that a message tells of, and entries that it tells of each."""


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
