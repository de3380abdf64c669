"""How a sprite's pattern lies in memory: which bytes hold a row of its dots, and how many accesses bring them.

Law: the one place that turns a row of a sprite into addresses; the engine, scenes, budgets and art all ask here. A row lies in
runs of bytes, one for each tile that it crosses; a sprite that is not made of tiles is one tile. Knows no record and no chip.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from .planes import Raster

Size = tuple[int, int]


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
