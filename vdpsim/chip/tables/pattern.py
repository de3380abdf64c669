"""How rows of dots lie in memory, packed or with each bit of their values in a plane of its own, and how sprites' patterns do.

Law: a raster is a pattern's or bitmap's rows apart from what they show: how many dots, how many bits each, which bytes hold them.
A sprite's pattern lies in runs of bytes, one for each tile that a row crosses; a sprite that is not made of tiles is one tile.
Whoever needs to know where a bit lies, or which accesses bring a row, asks here: engine, scenes, budgets and art. Knows no mode,
no record and no chip.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
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


Size = tuple[int, int]


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


@dataclass(frozen=True)
class SpritePattern:
    """The pattern of sprites of one ``size``, dots across and down.

    ``raster``: the rows of a tile. ``step``: bytes from a pattern number to the next. ``offsets``: for each row of tiles where
    each of its tiles begins, left to right, in bytes from the pattern's number on. As memory has them, ``run`` tiles lie one
    after the other, and each run begins ``stride`` tiles after the one before. Where planes lie apart all bytes are those in
    one plane, alike in each.
    """

    size: Size
    raster: Raster
    step: int
    offsets: tuple[tuple[int, ...], ...] = ((0,),)
    run: int = 1
    stride: int = 1

    @classmethod
    def of_tiles(
        cls, size: Size, raster: Raster, step: int | None, *, by_rows: bool, stride: int | None
    ) -> SpritePattern:
        """The pattern made of tiles: ``stride`` from row to row of them, or from column to column; None: packed.

        ``step`` None: the bytes of a tile.
        """
        across, down, each = size[0] // raster.across, size[1] // raster.down, raster.size
        run = across if by_rows else down
        apart = run if stride is None else stride
        right, below = (1, apart) if by_rows else (apart, 1)
        offsets = tuple(tuple((i * right + j * below) * each for i in range(across)) for j in range(down))
        return cls(size, raster, each if step is None else step, offsets, run, apart)

    @property
    def tile(self) -> Size:
        """Dots of a tile, across and down."""
        return self.raster.across, self.raster.down

    @cached_property
    def row_bytes(self) -> int:
        """Bytes of a tile's row that lie together."""
        return self.raster.row_bytes

    @cached_property
    def tile_bytes(self) -> int:
        """Bytes of a tile."""
        return self.raster.size

    @property
    def across(self) -> int:
        """Tiles that a row of dots crosses."""
        return len(self.offsets[0])

    @cached_property
    def runs(self) -> int:
        """How many runs of tiles there are."""
        return self.across * len(self.offsets) // self.run

    @cached_property
    def size_bytes(self) -> int:
        """Bytes of all its dots."""
        return self.tile_bytes * self.run * self.runs

    @cached_property
    def extent(self) -> int:
        """Bytes from its first to its last, those between them that are not its own among them."""
        return ((self.runs - 1) * self.stride + self.run) * self.tile_bytes

    @cached_property
    def own(self) -> tuple[range, int]:
        """Its own bytes, from the pattern's number on: where each stretch of them begins, and how many each has."""
        if self.extent == self.size_bytes:
            return range(1), self.extent
        apart = self.stride * self.tile_bytes
        return range(0, self.runs * apart, apart), self.run * self.tile_bytes

    @cached_property
    def beside(self) -> int:
        """How many patterns lie side by side, each between the runs of the others, before the next follow behind them."""
        return 1 if self.extent == self.size_bytes else self.stride // self.run

    @cached_property
    def units(self) -> int:
        """Numbers from one pattern to the next beside it, or behind it where none lies beside it."""
        return self.run if self.beside > 1 else self.band

    @cached_property
    def band(self) -> int:
        """Numbers from patterns that lie side by side to the next such."""
        whole = self.size_bytes if self.extent == self.size_bytes else self.runs * self.stride * self.tile_bytes
        return -(-whole // self.step)

    def nth(self, place: int) -> int:
        """How many numbers after the first of several patterns, laid as close as can be, that at ``place`` lies."""
        return place // self.beside * self.band + place % self.beside * self.units

    @cached_property
    def part(self) -> int:
        """The largest power of two in a tile's row: the row's address is a multiple of it."""
        return self.row_bytes & -self.row_bytes

    def accesses(self, width: int) -> int:
        """Accesses of ``width`` bytes for one row of dots: each tile's row is fetched by itself."""
        return self.across * self.raster.row_accesses(width)

    def fits(self, width: int) -> bool:
        """Whether a tile's row is whole accesses of ``width`` bytes, or an even part of one."""
        return not self.row_bytes % width or not width % self.row_bytes
