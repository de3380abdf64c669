"""The CPU's side of a chip: how fast it is, the ports that reach memory, palette and sprites, and the flags that it reads.

Law: addresses are those of the CPU's own address space, a byte each; that no two things share one is checked in
``checks.py``. Knows no time: when something written counts is for ``memory.py`` and the engine.
"""

from typing import Literal, Self

from pydantic import Field, model_validator

from .table import Table, passed

Address = Field(ge=0, le=0xFFFF)
FLAGS = ("line", "picture_end", "dropped", "collision")


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
