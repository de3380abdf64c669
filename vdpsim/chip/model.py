"""The chip: one hardware design, as an immutable object.

Law: every size, limit and layout of a chip stands in this model and nowhere else. It is put together from the tables of
``tables``; other rooms import all of them from here. What several tables must agree on is checked
in ``checks.py``. Knows no scene, no pixels and no files.
"""

from functools import cached_property

from pydantic import Field

from .tables.basics import Border, FrameTable, MemoryTable, PaletteTable
from .tables.cpu import Cpu, Port, Status
from .tables.kinds.bitmap import BitmapMode
from .tables.kinds.text import TextCell, TextMode
from .tables.kinds.tiles import TileCell, TilesMode
from .tables.layers import AnyMode, Layer
from .tables.modes import Entries, Mode, Rung
from .tables.sprites import Collisions, SpriteFields, SpritesTable
from .tables.table import Depth, Effect, FirstDot, Layout, Name, Table, Title, ValueRef
from .tables.time import ClientTime, CpuTime, Refresh, SlotPattern, TimeTable

__all__ = [
    "AnyMode",
    "BitmapMode",
    "Border",
    "Chip",
    "ClientTime",
    "Collisions",
    "Cpu",
    "CpuTime",
    "Depth",
    "Effect",
    "Entries",
    "FirstDot",
    "FrameTable",
    "Layer",
    "Layout",
    "MemoryTable",
    "Mode",
    "Name",
    "PaletteTable",
    "Port",
    "Refresh",
    "RegisterTable",
    "Rung",
    "SlotPattern",
    "SpriteFields",
    "SpritesTable",
    "Status",
    "Table",
    "TextCell",
    "TextMode",
    "TileCell",
    "TilesMode",
    "TimeTable",
]

RESERVED = ("sprites", "backdrop", "palette", "memory")
"""Names that no layer can have: the chip itself uses them."""


class RegisterTable(Table):
    """A register: how many bits, what it holds at reset, when a write takes effect, and where the CPU finds it."""

    bits: int = Field(ge=1, le=32)
    reset: ValueRef | None = Field(
        default=None, description="what it sets at reset, a value or its name; left out: the control's own rest value"
    )
    effect: Effect
    step: int | None = Field(
        default=None, ge=1, description="what one unit of it is worth; left out: the control's own step"
    )
    address: int | None = Field(
        default=None, ge=0, le=0xFFFF, description="its number as the CPU sees it; left out: the next free"
    )


class Chip(Table):
    """One hardware design. Immutable; chips compare by their whole description."""

    name: Title
    about: str = Field("", max_length=2000)
    frame: FrameTable
    memory: MemoryTable
    palette: PaletteTable
    layers: tuple[Layer, ...] = Field(min_length=1, max_length=8)
    ladder: tuple[Rung, ...] = Field(min_length=1, max_length=64)
    sprites: SpritesTable | None = None
    collisions: Collisions | None = None
    registers: dict[str, RegisterTable] | None = Field(default=None, description="left out: the default map")
    constants: dict[str, ValueRef] | None = Field(
        default=None,
        description="controls that are wired instead of held in a register: each its value or the value's name",
    )
    time: TimeTable | None = Field(default=None, description="left out: fetches are counted, but not placed in time")
    cpu: Cpu | None = Field(default=None, description="left out: the CPU is as fast as the slots are")
    ports: tuple[Port, ...] = Field(default=(), max_length=8)
    status: Status | None = None

    @cached_property
    def layer_names(self) -> tuple[str, ...]:
        """The layers' names in the order of the file."""
        return tuple(layer.name for layer in self.layers)

    @cached_property
    def source_names(self) -> tuple[str, ...]:
        """Sources by number: 0 the backdrop, then the layers in the file's order, then the sprites."""
        return ("backdrop", *self.layer_names, *(("sprites",) if self.sprites else ()))

    def layer(self, name: str) -> Layer:
        """The layer called ``name``; KeyError where the chip has none."""
        for layer in self.layers:
            if layer.name == name:
                return layer
        raise KeyError(name)

    def entry_rule(self, entries: Entries) -> tuple[int, int, int]:
        """(base, bank step, value step) with a left-out bank step filled in."""
        step = self.palette.bank_size if entries.bank_step is None else entries.bank_step
        return entries.base, step, entries.value_step
