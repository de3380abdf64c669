"""What every mode of a chip's layers has, how a value becomes an entry, and the rungs of a ladder.

Law: what all kinds of mode have stands in Mode; DotsMode has what those have whose dots lie in memory as values, and SurfaceMode
what those have that show a part of a surface, which is scrolled, and goes on beyond its edges or ends there. What one kind has of
its own stands in ``cells.py`` and ``bitmap.py``. Knows no sprite and nothing of how a layer is drawn.
"""

from collections.abc import Mapping
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from .bits import Bits
from .pattern import ABOUT_BITS, ABOUT_PLANES, Planes, depth
from .table import AXES, FirstDot, Name, Origin, Scroll, Table, Transparent, When, passed


class Entries(Table):
    """How a value becomes an entry: ``base + bank x bank_step + value x value_step``.

    With the steps left out it is base + bank x bank_size + value. A ``value_step`` of the bank size lets a source live in
    just those entries that the others give up as transparent (the first of each bank).
    """

    base: int = Field(default=0, ge=0, description="the entry of bank 0 and value 0; an entry of the palette")
    bank_step: int | None = Field(
        default=None, ge=0, description="entries from one bank to the next; left out: the bank size"
    )
    value_step: int = Field(default=1, ge=0, description="entries from one value to the next")


class Rung(Table):
    """One step of the ladder: a layer's name or ``sprites``, and the condition under which it stands here."""

    source: Name = Field(description="a layer's name, or sprites")
    when: When | None = Field(
        default=None,
        description='a field of the source\'s cell or record and a number, such as "priority >= 2"; left out: always',
    )

    def __str__(self) -> str:
        return self.source if self.when is None else f"{self.source} when {self.when}"


Times = Literal[1, 2, 4]


class Mode(Table):
    """What every kind of mode has."""

    name: Name = Field(description="what the mode is called in controls and scenes; no two of a layer alike")
    first_dot: FirstDot = Field(default="high", description="which end of a byte holds the leftmost dot")
    origin: Origin = Field(
        default="picture", description="where line 0 of the mode lies: at the picture's top or its zone's"
    )
    double: tuple[Times, Times] = Field(
        default=(1, 1),
        description="dots of the picture that each dot shows, and lines that each line does; one of 1, 2 and 4 each",
    )
    entries: Entries = Field(
        default=Entries.model_construct(),
        description="how a value becomes an entry; left out: base 0, the palette's bank size from bank to bank",
    )
    transparent: Transparent = Field(
        default=None, description='the value that shows nothing, 0 to 255, or "none"; left out: none'
    )
    exclusive: tuple[Name, ...] | None = Field(
        default=None,
        description="layers that are switched off where this mode shows; left out: it has no say over others",
    )
    ladder: tuple[Rung, ...] | None = Field(
        default=None, description="the ladder where this exclusive mode shows; left out: the chip's"
    )

    @property
    def asked(self) -> Mapping[str, Bits]:
        """The fields of the mode's cells that a rung's condition can ask; of what has none of a name it counts as 0."""
        return {}

    def doubled(self, sides: tuple[int, int]) -> tuple[int, int]:
        """So many dots and lines of the mode's own as dots and lines of the picture."""
        return sides[0] * self.double[0], sides[1] * self.double[1]

    def scrolls(self, axis: Literal["x", "y"]) -> bool:
        """Whether the mode follows its layer's scroll control of this axis."""
        return axis in AXES[getattr(self, "scroll", "none")]

    @model_validator(mode="after")
    def _ladder_needs_exclusive(self) -> Self:
        wrong = (
            ["ladder is only for a mode that says exclusive"]
            if self.ladder is not None and self.exclusive is None
            else []
        )
        return passed(self, wrong)


class DotsMode(Mode):
    """What kinds of mode have whose dots lie in memory as values."""

    planes: Planes | None = Field(default=None, description=ABOUT_PLANES)
    bits_per_dot: int = Field(ge=1, le=8, description=ABOUT_BITS)

    _depth = field_validator("bits_per_dot")(depth)

    @property
    def top_value(self) -> int:
        """The largest value of a dot."""
        return (1 << self.bits_per_dot) - 1


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
