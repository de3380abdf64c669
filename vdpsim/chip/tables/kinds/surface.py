"""What modes of kind ``tiles`` and ``bitmap`` have in common: a surface of dots that lies beneath the picture.

Law: a surface is scrolled, and goes on beyond its edges or ends there; what its dots are is the kinds' own. Knows nothing of how
it is drawn.
"""

from typing import Self

from pydantic import Field, model_validator

from ..modes import DotsMode
from ..table import Scroll, passed


class SurfaceMode(DotsMode):
    """A mode that shows a part of a surface."""

    scroll: Scroll = Field(
        default="both", description="the axes on which it scrolls; on another it stands still, as though scrolled by 0"
    )
    wrap: bool = Field(default=True, description="true: it goes on from the other edge; false: it ends at its edges")
    outside: int | None = Field(
        default=None,
        ge=0,
        description="the entry that shows beyond the edges, with wrap = false; left out: nothing shows",
    )

    @model_validator(mode="after")
    def _outside_needs_edges(self) -> Self:
        wrong = ["outside is only for a mode with wrap = false"] if self.wrap and self.outside is not None else []
        return passed(self, wrong)
