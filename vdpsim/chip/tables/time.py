"""A chip's time on the line: in which slots of its memory each client's fetches may go, and who is served first.

Law: what the tables mean stands in DEVELOPERS.md, "Time on the line"; this module reads them and derives how many slots
there are. Knows no client by name: that the names fit the chip is for ``checks.py``.
"""

from fractions import Fraction
from typing import Literal, Self

from pydantic import Field, model_validator

from ...door.shown import value as shown
from .table import Table, passed


class SlotPattern(Table):
    """Which slots of a line may be used: those whose number modulo ``every`` is one of ``at``; left out: all."""

    every: int | None = Field(
        default=None,
        ge=1,
        le=1024,
        description="slots from one turn of the pattern to the next; left out, with at: all slots",
    )
    at: tuple[int, ...] | None = Field(
        default=None,
        min_length=1,
        max_length=1024,
        description="places within the turn, from 0, each below every; left out, with every: all slots",
    )

    @model_validator(mode="after")
    def _turn(self) -> Self:
        wrong = []
        if (self.every is None) != (self.at is None):
            wrong.append(f"every and at go together, got every {self.every} and at {self.at and list(self.at)}")
        elif self.every is not None and self.at is not None:
            wrong += [
                f"at must be places 0 to {self.every - 1}, got {at}" for at in self.at if not 0 <= at < self.every
            ]
        return passed(self, wrong)

    def mask(self, slots: int) -> int:
        """Which of ``slots`` slots the pattern has, as an integer with bit s set for slot s."""
        if self.every is None or self.at is None:
            return (1 << slots) - 1
        turn = "".join("1" if place in self.at else "0" for place in range(self.every))
        return int((turn * (slots // self.every + 1))[:slots][::-1] or "0", 2)


class ClientTime(SlotPattern):
    """When a client's fetches for a line are made."""

    when: Literal["in time", "blanking", "line before"] = Field(
        description="in time: each group before it shows; blanking: before the line; line before: into a line buffer"
    )
    lead: int | None = Field(
        default=None,
        ge=1,
        le=8192,
        description="in time: how many dots before a group shows its fetches may begin; left out: for the other times",
    )
    keep: bool = Field(default=False, description="cells: fetched on the first line of a row of cells, then kept")

    @model_validator(mode="after")
    def _led(self) -> Self:
        wrong = []
        if (self.when == "in time") != (self.lead is not None):
            wrong.append(f'lead is for "in time", which needs it: got when {shown(self.when)} and lead {self.lead}')
        return passed(self, wrong)


class Refresh(SlotPattern):
    """Slots of every line that keep the memory's contents alive: the first ones that the pattern has."""

    slots: int = Field(ge=1, le=8192, description="slots a line")


class CpuTime(SlotPattern):
    """Slots in which the CPU's transfers go on."""

    active: Literal["none", "reserved", "free"] = Field(
        description="while the picture shows: none; those of every and at, which no other client gets; any that "
        "is left",
    )
    blanking: bool = Field(default=True, description="whether it gets what is left in blanking")

    @model_validator(mode="after")
    def _reserved(self) -> Self:
        wrong = []
        if (self.active == "reserved") != (self.every is not None):
            wrong.append(f'every and at are for "reserved", which needs them: got active {shown(self.active)}')
        return passed(self, wrong)


class TimeTable(Table):
    """Who may fetch when; clients are served in the order in which they stand here."""

    clients: dict[str, ClientTime] = Field(
        description="when LAYER.CLIENT fetches, or LAYER.MODE.CLIENT in that mode alone (then LAYER.CLIENT is for the layer's "
        "other modes), and one for the sprites; the first is served first"
    )
    refresh: Refresh | None = Field(
        default=None, description="slots that keep the memory's contents alive; left out: none"
    )
    cpu: CpuTime = Field(
        default=CpuTime.model_construct(active="none"),
        description="slots for the CPU's transfers; left out: blanking alone",
    )

    def __eq__(self, other: object) -> bool:
        """Tables are the same only where clients are served in the same order."""
        if not isinstance(other, TimeTable):
            return NotImplemented
        return super().__eq__(other) is True and list(self.clients) == list(other.clients)

    __hash__ = None  # type: ignore[assignment]


def parse_rate(value: object) -> Fraction:
    """Accesses a dot as an exact fraction, from a whole number or a text such as ``"3/2"``. Raises ValueError."""
    if isinstance(value, Fraction):
        rate = value
    elif isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError(f'must be a whole number or a fraction such as "3/2", got {shown(value)}')  # noqa: TRY004 - as Layout
    else:
        text = str(value)
        parts = text.split("/")
        if len(parts) > 2 or not all(part.isascii() and part.isdigit() and len(part) <= 6 for part in parts):
            raise ValueError(f'must be a whole number or a fraction such as "3/2", got {shown(value)}')
        if not int(parts[-1]):
            raise ValueError(f"must be above 0, got {shown(value)}")
        rate = Fraction(text)
    if not Fraction(1, 64) <= rate <= 64:
        raise ValueError(f"must be 1/64 to 64, got {value}")
    return rate
