"""A chip's time on the line, and the CPU's side of it: who may use which slots of its memory, ports, and flags.

Law: what the tables of time mean stands in DEVELOPERS.md, "Time on the line"; this module reads them and derives how many slots
there are. Addresses are those of the CPU's own address space, a byte each. Knows no client by name: that the names fit the
chip, and that no two things share an address, is for ``checks.py``; when something written counts is for the engine.
"""

from fractions import Fraction
from typing import Literal, Self

from pydantic import Field, model_validator

from ...door.shown import value as shown
from .table import Table, passed

FLAGS = ("line", "picture_end", "dropped", "collision")


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


class Cpu(Table):
    """How fast the CPU moves bytes, and how many the chip takes off it before they land.

    A byte is at hand ``cycles_per_byte`` / ``clock`` after the byte before it, or after a place of the queue has come free,
    whichever is later; a place is held until the slot begins in which its byte lands.
    """

    clock: int = Field(ge=1_000, le=1_000_000_000, description="cycles a second, Hz")
    cycles_per_byte: int = Field(ge=1, le=10_000, description="cycles of its fastest loop for a byte of a transfer")
    queue: int = Field(
        default=1, ge=1, le=4096, description="bytes that the chip holds: begun by the CPU, and not landed yet"
    )


class Port(Table):
    """A window to ``target``, byte by byte: an address that counts on by the step with each byte of data.

    The address port is as many bytes as the target's last byte address needs, the lowest first.
    """

    target: Literal["memory", "palette", "sprites"] = Field(
        description="what it reaches: memory, the palette, or the sprite table on the chip"
    )
    address: int = Field(ge=0, le=0xFFFF, description="where the CPU writes the byte address, the low byte first")
    data: int = Field(ge=0, le=0xFFFF, description="where it reads and writes the bytes")
    step: int | None = Field(default=None, ge=0, le=0xFFFF, description="where it writes the step; left out: nowhere")
    advance: int = Field(default=1, ge=0, le=255, description="the step at reset")


class Status(Table):
    """Flags that the CPU reads at ``address``: bit numbers of those that the chip has."""

    address: int = Field(ge=0, le=0xFFFF, description="where the CPU reads the flags")
    line: int | None = Field(
        default=None,
        ge=0,
        le=7,
        description="raised at dot 0 of the line that the control line_flag names; left out: no such flag",
    )
    picture_end: int | None = Field(
        default=None, ge=0, le=7, description="raised after the picture's last line; left out: no such flag"
    )
    dropped: int | None = Field(
        default=None, ge=0, le=7, description="raised on a line that loses a sprite; left out: no such flag"
    )
    collision: int | None = Field(
        default=None, ge=0, le=7, description="raised where sprites collide; left out: no such flag"
    )
    groups: int | None = Field(
        default=None, ge=0, le=0xFFFF, description="where the collided groups are read, a bit each; left out: nowhere"
    )
    cleared: Literal["read", "write"] = Field(description="by reading, or by writing a 1 to the flag's bit")

    @property
    def bits(self) -> dict[str, int]:
        """The flags that the chip has, each with its bit number."""
        return {name: bit for name in FLAGS if (bit := getattr(self, name)) is not None}

    @model_validator(mode="after")
    def _apart(self) -> Self:
        bits = self.bits
        wrong = [
            f"{name} must have a bit of its own, got {bit}, the bit of {first}"
            for place, (name, bit) in enumerate(bits.items())
            for first, other in list(bits.items())[:place]
            if bit == other
        ]
        return passed(self, wrong)
