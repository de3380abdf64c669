"""Modes of kind ``bitmap``: a value for each dot, line after line in memory.

Law: sizes in bytes are derived here from the description, once. Knows nothing of how it is drawn.
"""

from typing import Literal

from pydantic import Field

from ..modes import Mode
from ..table import Depth, Scroll


class BitmapMode(Mode):
    """A value for each dot, line after line in memory; it wraps both ways."""

    kind: Literal["bitmap"] = Field(description="a bitmap: a value for each dot")
    bits_per_dot: Depth = Field(description="bits of a dot's value")
    width: int = Field(ge=8, le=4096, description="dots of a line in memory; it wraps there")
    height: int = Field(ge=1, le=4096, description="lines in memory; it wraps there")
    stride: int | None = Field(
        default=None, ge=1, le=8192, description="bytes from a line to the next; left out: packed"
    )
    scroll: Scroll = Field(
        default="both", description="the axes on which it scrolls; on another it stands still, as though scrolled by 0"
    )

    @property
    def row_bytes(self) -> int:
        """Bytes of a line's dots."""
        return self.width * self.bits_per_dot // 8

    @property
    def stride_bytes(self) -> int:
        """Bytes from a line to the next."""
        return self.row_bytes if self.stride is None else self.stride

    @property
    def map_bytes(self) -> int:
        """Bytes from the first dot to the last."""
        return self.stride_bytes * (self.height - 1) + self.row_bytes
