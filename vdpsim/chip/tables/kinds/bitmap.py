"""Modes of kind ``bitmap``: a value for each dot, line after line in memory.

Law: sizes in bytes are derived here from the description, once. Knows nothing of how it is drawn.
"""

from functools import cached_property
from typing import Literal

from pydantic import Field

from ..planes import Raster
from .surface import SurfaceMode


class BitmapMode(SurfaceMode):
    """A value for each dot, line after line in memory."""

    kind: Literal["bitmap"]
    width: int = Field(ge=8, le=4096, description="dots of a line in memory")
    height: int = Field(ge=1, le=4096, description="lines in memory")
    stride: int | None = Field(
        default=None, ge=1, le=8192, description="bytes from a line to the next; left out: packed"
    )

    @property
    def size(self) -> tuple[int, int]:
        """Dots of a line, and lines."""
        return self.width, self.height

    @cached_property
    def raster(self) -> Raster:
        """How its lines lie in memory."""
        return Raster(self.width, self.height, self.bits_per_dot, self.planes, self.stride)

    @property
    def map_bytes(self) -> int:
        """Bytes from the first dot to the last, at each base address."""
        return self.raster.size
