"""How a sprite's pattern lies in memory: which bytes hold a row of its dots, and how many accesses bring them.

Law: the one place that turns a row of a sprite into addresses; the engine, scenes, budgets and art all ask here. A row lies in
runs of bytes, one for each tile that it crosses; a sprite that is not made of tiles is one tile. Knows no record and no chip.
"""

from __future__ import annotations

from dataclasses import dataclass

Size = tuple[int, int]


@dataclass(frozen=True)
class SpritePattern:
    """The pattern of sprites of one ``size``, dots across and down.

    ``tile``: dots of a tile, across and down. ``row_bytes``: of one row of a tile. ``step``: bytes from a pattern number to the
    next. ``offsets``: for each row of tiles where each of its tiles begins, left to right, in bytes from the pattern's number on.
    """

    size: Size
    tile: Size
    row_bytes: int
    step: int
    offsets: tuple[tuple[int, ...], ...]

    @property
    def tile_bytes(self) -> int:
        """Bytes of a tile."""
        return self.row_bytes * self.tile[1]

    @property
    def across(self) -> int:
        """Tiles that a row of dots crosses."""
        return len(self.offsets[0])

    @property
    def size_bytes(self) -> int:
        """Bytes of all its dots."""
        return self.tile_bytes * self.across * len(self.offsets)

    @property
    def extent(self) -> int:
        """Bytes from its first to its last, those between them that are not its own among them."""
        return max(map(max, self.offsets)) + self.tile_bytes

    @property
    def part(self) -> int:
        """The largest power of two in a tile's row: the row's address is a multiple of it."""
        return self.row_bytes & -self.row_bytes

    def row(self, number: int) -> list[int]:
        """Where row ``number`` of the dots lies, before flips: the first byte in each tile, from the pattern's number on."""
        of_tiles, inner = divmod(number, self.tile[1])
        return [offset + inner * self.row_bytes for offset in self.offsets[of_tiles]]

    def accesses(self, width: int) -> int:
        """Accesses of ``width`` bytes for one row of dots: each tile's row is fetched by itself."""
        return self.across * max(1, self.row_bytes // width)

    def fits(self, width: int) -> bool:
        """Whether a tile's row is whole accesses of ``width`` bytes, or an even part of one."""
        return not self.row_bytes % width or not width % self.row_bytes
