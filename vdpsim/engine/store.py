"""Memory's bytes decoded into dots, kept while the bytes stay the same.

Law: what is here follows from the bytes alone: for a depth and an order of dots, dot n of the memory; for tiles, the rows of
dots flipped and turned too. A cache compares the memory with the copy it was made from, so that memory may be changed by
anyone in any way. Knows no chip, no layer and no time.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.model import FirstDot

Dots = npt.NDArray[np.uint8]


def decoder(bits: int, first_dot: FirstDot) -> Dots:
    """uint8 (256, dots a byte): the values of a byte's dots, left to right."""
    shifts = np.arange(0, 8, bits)
    if first_dot == "high":
        shifts = shifts[::-1]
    return ((np.arange(256)[:, None] >> shifts) & ((1 << bits) - 1)).astype(np.uint8)


class Store:
    """Decoded memory. ``use`` it with the bytes at hand, then ask for dots, cells or tile rows."""

    def __init__(self, byte_order: str) -> None:
        self._order = "<" if byte_order == "little" else ">"
        self._bytes = np.empty(0, np.uint8)
        self._base = np.empty(0, np.uint8)
        self._kept: dict[tuple[Any, ...], Any] = {}
        self._further: dict[tuple[Any, ...], Any] = {}
        self._decoders: dict[tuple[int, FirstDot], Dots] = {}

    def use(self, memory: npt.NDArray[np.uint8], size: int) -> None:
        """Take ``memory``: ``size`` bytes of base memory, and behind them further versions of some of its units."""
        base = memory[:size]
        if len(self._base) != size or not np.array_equal(base, self._base):
            self._base = base.copy()
            self._kept.clear()
        self._bytes = memory
        self._further.clear()

    def _table(self, key: tuple[Any, ...], make: Callable[[npt.NDArray[np.uint8]], Any]) -> Any:
        """What ``make`` makes of the bytes: kept for the base memory, made anew for the further units."""
        if key not in self._kept:
            self._kept[key] = make(self._base)
        if len(self._bytes) == len(self._base):
            return self._kept[key]
        if key not in self._further:
            self._further[key] = np.concatenate([self._kept[key], make(self._bytes[len(self._base) :])], axis=-2)
        return self._further[key]

    def _decode(self, raw: npt.NDArray[np.uint8], bits: int, first_dot: FirstDot) -> Dots:
        if (bits, first_dot) not in self._decoders:
            self._decoders[bits, first_dot] = decoder(bits, first_dot)
        return self._decoders[bits, first_dot].take(raw, axis=0)

    def dots(self, bits: int, first_dot: FirstDot) -> Dots:
        """uint8 (bytes, dots a byte): the dots of each byte."""
        found: Dots = self._table(("dots", bits, first_dot), lambda raw: self._decode(raw, bits, first_dot))
        return found

    def bytes(self) -> npt.NDArray[np.uint8]:
        """The bytes themselves."""
        return self._bytes

    def cells(self, size: int) -> npt.NDArray[Any]:
        """The memory as cells of ``size`` bytes (1 or 2), in the chip's byte order."""
        return self._bytes if size == 1 else self._bytes.view(f"{self._order}u2")

    def tile_rows(
        self, bits: int, first_dot: FirstDot, tile: tuple[int, int], *, flips: bool, turns: bool
    ) -> npt.NDArray[np.uint64]:
        """uint64 (variants, rows, dots across / 8): eight dots a word, in the order of the picture.

        Row r holds the dots of the row of a pattern that stands at byte r x dots across x bits / 8. Variants: as stored, flipped
        in x (with ``flips``), turned and turned then flipped (with ``turns``; row v of a turned pattern stands where row v
        of the pattern does).
        """
        across, down = tile

        def make(raw: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint64]:
            rows = self._decode(raw, bits, first_dot).reshape(-1, across)
            variants = [rows]
            if turns:
                patterns = rows.reshape(-1, down, across)
                variants += [patterns[:, ::-1].transpose(0, 2, 1).reshape(-1, across)]
            if flips:
                variants = [v for plain in variants for v in (plain, plain[:, ::-1])]
            return np.ascontiguousarray(np.stack(variants)).view(np.uint64)

        found: npt.NDArray[np.uint64] = self._table(("tile", bits, first_dot, tile, flips, turns), make)
        return found
