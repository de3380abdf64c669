"""How rows of dots lie in memory: packed, or with each bit of their values in a plane of its own.

Law: a raster is a pattern's or bitmap's rows apart from what they show: how many dots, how many bits each, which bytes hold them.
Whoever needs to know where a bit lies, or what a row costs, asks here. Knows no memory and no mode.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from pydantic import ValidationInfo

Planes = Literal["by row", "by pattern", "apart"]

PACKED = (1, 2, 4, 8)
"""Bits of a dot that is packed: a byte holds whole dots."""

ABOUT_PLANES = (
    "where bit p of the dots' values lies, in plane p: by row, a row's planes one after another; by pattern, all of plane 0, "
    "then of plane 1 ...; apart, at an address register for each plane; left out: no planes, dots are packed"
)

ABOUT_BITS = "bits of a dot's value: 1, 2, 4 or 8, or with planes 1 to 8"


class Piece(NamedTuple):
    """Bytes that lie together: from ``offset`` on, counted from base address number ``base``."""

    base: int
    offset: int


class Raster(NamedTuple):
    """Rows of dots, ``across`` dots each and ``down`` of them, of ``bits`` bits a dot, as they lie in memory.

    ``stride``: bytes from a row to the next; None where they are packed. Row v of a piece stands v x ``step`` bytes after it.
    """

    across: int
    down: int
    bits: int
    planes: Planes | None = None
    stride: int | None = None

    @property
    def bases(self) -> int:
        """How many addresses say where the raster lies: one, or one for each plane."""
        return self.bits if self.planes == "apart" else 1

    @property
    def row_bytes(self) -> int:
        """Bytes of a row that lie together: all of them, or those of one plane."""
        return self.across * self.bits // 8 if self.planes in (None, "by row") else self.plane_bytes

    @property
    def plane_bytes(self) -> int:
        """Bytes of a row in one plane."""
        return self.across // 8

    @property
    def step(self) -> int:
        """Bytes from a row to the next."""
        return self.row_bytes if self.stride is None else self.stride

    @property
    def size(self) -> int:
        """Bytes at each base address, from the first dot to the last."""
        before = self.bits - 1 if self.planes == "by pattern" else 0
        return (before * self.down + self.down - 1) * self.step + self.row_bytes

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """Where row 0 lies, piece by piece in the order in which they are fetched."""
        return self.bit_places if self.planes in ("by pattern", "apart") else (Piece(0, 0),)

    @property
    def bit_places(self) -> tuple[Piece, ...]:
        """Where row 0 of each plane lies; packed dots are all in one place."""
        if self.planes is None:
            return (Piece(0, 0),)
        if self.planes == "apart":
            return tuple(Piece(plane, 0) for plane in range(self.bits))
        away = self.plane_bytes if self.planes == "by row" else self.down * self.step
        return tuple(Piece(0, plane * away) for plane in range(self.bits))

    def row_accesses(self, access: int) -> int:
        """Accesses of ``access`` bytes that bring a row."""
        return len(self.pieces) * max(1, self.row_bytes // access)

    def dot_accesses(self, access: int) -> int:
        """Accesses of ``access`` bytes that bring one dot: those that hold a bit of it, however many they hold."""
        if self.planes is None:
            return 1
        if self.planes == "by row" and self.plane_bytes < access:
            return max(1, self.row_bytes // access)
        return self.bits

    def dots_per_access(self, access: int) -> int:
        """Dots of which an access of ``access`` bytes brings some bits, or all."""
        return 8 * access // (self.bits if self.planes is None else 1)

    def base_names(self, prefix: str, name: str) -> tuple[str, ...]:
        """The controls that hold its addresses: ``name``, or one for each plane."""
        if self.planes != "apart":
            return (f"{prefix}.{name}",)
        return tuple(f"{prefix}.plane_{plane}" for plane in range(self.bits))

    @property
    def alignment(self) -> int:
        """What its addresses are multiples of: its size, or the largest power of two of which that is a multiple."""
        return self.size & -self.size

    def row_fault(self, access: int) -> str | None:
        """What is wrong with its rows, in words: they are whole bytes, and whole accesses or an even part of one; else None."""
        in_planes = self.planes is not None
        if self.across * (1 if in_planes else self.bits) % 8:
            each = "each plane" if in_planes else f"{self.bits} bits a dot"
            return f"rows must be whole bytes, got {self.across} dots of {each}"
        if self.row_bytes % access and access % self.row_bytes:
            told = f"must be whole accesses of {access} bytes, or an even part of one"
            return f"the bytes of a row that lie together {told}, got {self.row_bytes}"
        return None


def depth(bits: int, info: ValidationInfo) -> int:
    """``bits`` a dot of a table whose key ``planes`` was read before. Raises ValueError where packed dots cannot have so many."""
    if info.data.get("planes", "wrong") is None and bits not in PACKED:
        raise ValueError(f"must be 1, 2, 4 or 8, got {bits}; in planes it may be 1 to 8")
    return bits
