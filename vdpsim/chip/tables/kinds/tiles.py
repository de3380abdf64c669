"""Modes of kind ``tiles``: a map of cells, each of which shows a pattern.

Law: sizes in bytes are derived here from the description, once. Knows nothing of how it is drawn.
"""

from functools import cached_property
from typing import Literal, Self

from pydantic import Field, model_validator

from ..bits import Bits, clashes
from ..modes import DotsMode
from ..planes import Raster
from ..table import Layout, Scroll, Table, passed, single


class TileCell(Table):
    """The fields of a packed cell of a tile map; only ``pattern`` must be there."""

    pattern: Layout = Field(description="the bits of the cell that hold the pattern's number")
    flip_x: Layout | None = Field(
        default=None, description="the bit that turns the pattern left for right; left out: never"
    )
    flip_y: Layout | None = Field(
        default=None, description="the bit that turns the pattern upside down; left out: never"
    )
    turn: Layout | None = Field(
        default=None, description="the bit that turns it a quarter clockwise, before the flips; left out: never"
    )
    bank: Layout | None = Field(
        default=None, description="the bits that hold the bank; left out: the layer's control holds it, or it is 0"
    )
    priority: Layout | None = Field(
        default=None, description="the bits that a rung's condition can ask; left out: none"
    )

    @cached_property
    def layout(self) -> dict[str, Bits]:
        """The fields that this layout names."""
        return {name: bits for name in type(self).model_fields if (bits := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _one_bit(self) -> Self:
        return passed(self, single(self.layout, ("flip_x", "flip_y", "turn")))


class TilesMode(DotsMode):
    """A map of cells, each of which shows a square pattern."""

    kind: Literal["tiles"] = Field(description="tiles: a map of cells, each of which shows a pattern")
    tile: Literal[8, 16] = Field(description="dots of a tile's side")
    cell_bytes: Literal[1, 2] = Field(description="bytes of a cell in memory")
    cell: TileCell = Field(description="which bits of a cell hold what")
    page: tuple[int, int] = Field(description="cells of a page, across and down; 1 to 256 each way")
    pages: tuple[int, int] = Field(default=(1, 1), description="pages of the map, across and down, 1 to 2 each way")
    scroll: Scroll = Field(
        default="both", description="the axes on which it scrolls; on another it stands still, as though scrolled by 0"
    )

    @model_validator(mode="after")
    def _fits(self) -> Self:
        wrong = clashes(self.cell.layout, 8 * self.cell_bytes)
        if not all(1 <= cells <= 256 for cells in self.page):
            wrong.append(f"page must have 1 to 256 cells each way, got {list(self.page)}")
        if not all(1 <= pages <= 2 for pages in self.pages):
            wrong.append(f"pages must be 1 or 2 each way, got {list(self.pages)}")
        return passed(self, wrong)

    @property
    def columns(self) -> int:
        """Cells of the whole map, across."""
        return self.page[0] * self.pages[0]

    @property
    def rows(self) -> int:
        """Cells of the whole map, down."""
        return self.page[1] * self.pages[1]

    @cached_property
    def raster(self) -> Raster:
        """How a pattern's rows lie in memory."""
        return Raster(self.tile, self.tile, self.bits_per_dot, self.planes)

    @property
    def pattern_bytes(self) -> int:
        """Bytes from a pattern to the next, at each base address."""
        return self.raster.size

    @property
    def map_bytes(self) -> int:
        """Bytes of a whole map, every page."""
        return self.columns * self.rows * self.cell_bytes
