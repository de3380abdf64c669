"""A chip's layers: each with its modes, of whatever kinds.

Law: a kind of layer is one class of ``kinds``, told apart by ``kind``; here all of them come together. Knows no sprite and
nothing of how a layer is drawn.
"""

from typing import Annotated

from pydantic import Field

from .bitmap import BitmapMode
from .cells import TextMode, TilesMode
from .table import Name, Table

AnyMode = Annotated[TilesMode | BitmapMode | TextMode, Field(discriminator="kind")]


class Layer(Table):
    """A full-width source of dots. With two modes or more, registers say which runs above and below a line."""

    name: Name = Field(description="what the layer is called in controls, clients and ladders; no two alike")
    modes: tuple[AnyMode, ...] = Field(
        min_length=1,
        max_length=8,
        description="what it can show; with two or more, controls say which runs above and below a line",
    )

    def mode(self, name: str) -> TilesMode | BitmapMode | TextMode:
        """The mode called ``name``; KeyError where the layer has none."""
        for mode in self.modes:
            if mode.name == name:
                return mode
        raise KeyError(name)
