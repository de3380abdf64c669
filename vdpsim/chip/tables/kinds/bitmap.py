"""Modes of kind ``bitmap``: a value for each dot, line after line in memory.

Law: sizes in bytes are derived here from the description, once. Knows nothing of how it is drawn.
"""

from functools import cached_property
from typing import Literal

from pydantic import Field

from ..modes import DotsMode
from ..planes import Raster
from ..table import Scroll


class BitmapMode(DotsMode):
    """A value for each dot, line after line in memory; it wraps both ways."""

    kind: Literal["bitmap"] = Field(description="a bitmap: a value for each dot")
    width: int = Field(ge=8, le=4096, description="dots of a line in memory; it wraps there")
    height: int = Field(ge=1, le=4096, description="lines in memory; it wraps there")
    stride: int | None = Field(
        default=None, ge=1, le=8192, description="bytes from a line to the next; left out: packed"
    )
    scroll: Scroll = Field(
        default="both", description="the axes on which it scrolls; on another it stands still, as though scrolled by 0"
    )

    @cached_property
    def raster(self) -> Raster:
        """How its lines lie in memory."""
        return Raster(self.width, self.height, self.bits_per_dot, self.planes, self.stride)

    @property
    def map_bytes(self) -> int:
        """Bytes from the first dot to the last, at each base address."""
        return self.raster.size
