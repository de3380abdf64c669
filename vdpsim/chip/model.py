"""The chip: one hardware design, as an immutable object.

Law: every size, limit and layout of a chip stands in this model and nowhere else. It is put together from the tables of
``tables``; other rooms import all of them from here. A layer's modes are of whatever kinds, one class of ``tables`` each, told
apart by ``kind``. What several tables must agree on is checked in ``checks.py``. Knows no scene, no pixels and no files.
"""

from functools import cached_property
from typing import Annotated

from pydantic import Field

from ..door.lazy import by_notebook
from .tables.basics import Border, FrameTable, MemoryTable, PaletteTable
from .tables.bitmap import BitmapMode
from .tables.cells import TextCell, TextMode, TileCell, TilesMode
from .tables.modes import Entries, Mode, Rung
from .tables.registers import Registers
from .tables.sprites import Collisions, SpriteFields, SpritesTable, SpriteTiles
from .tables.table import Depth, Effect, FirstDot, Layout, Name, Table, Title, ValueRef
from .tables.time import ClientTime, Cpu, CpuTime, Port, Refresh, SlotPattern, Status, TimeTable

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
    "Rung",
    "SlotPattern",
    "SpriteFields",
    "SpriteTiles",
    "SpritesTable",
    "Status",
    "Table",
    "TextCell",
    "TextMode",
    "TileCell",
    "TilesMode",
    "TimeTable",
]

AnyMode = Annotated[TilesMode | BitmapMode | TextMode, Field(discriminator="kind")]


RESERVED = ("sprites", "backdrop", "palette", "memory")
"""Names that no layer can have: the chip itself uses them."""


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


class Chip(Table):
    """One hardware design. Immutable; chips compare by their whole description."""

    name: Title = Field(description="what people call it, in messages and on pages")
    about: str = Field("", max_length=2000, description="why it exists, for people; left out: nothing")
    frame: FrameTable = Field(description="the frame: its size in dots and lines, and how fast the dots come")
    memory: MemoryTable = Field(description="video memory: bytes, and how they are fetched")
    palette: PaletteTable = Field(description="the palette that all sources share")
    layers: tuple[Layer, ...] = Field(
        min_length=1,
        max_length=8,
        description="full-width sources of dots, which are asked in this order who has the say",
    )
    ladder: tuple[Rung, ...] = Field(
        min_length=1,
        max_length=64,
        description="the order of sources, the front first, wherever no mode's own ladder is in force",
    )
    sprites: SpritesTable | None = Field(default=None, description="the sprite engine; left out: the chip has none")
    collisions: Collisions | None = Field(
        default=None, description="which sprites are told to collide; left out: none are"
    )
    registers: Registers | None = Field(
        default=None,
        description="a table with a register for each control, or a list of registers with fields; left out: the default map, "
        "one register for every control",
    )
    constants: dict[str, ValueRef] | None = Field(
        default=None,
        description="controls that are wired instead of held in a register: each its value or the value's name, "
        "up to what the control takes; left out: none",
    )
    time: TimeTable | None = Field(
        default=None,
        description="in which slots of the memory who may fetch; left out: fetches are counted, but not placed in time",
    )
    cpu: Cpu | None = Field(
        default=None, description="how fast the CPU moves bytes; left out: as fast as the slots are"
    )
    ports: tuple[Port, ...] = Field(
        default=(),
        max_length=8,
        description="windows through which the CPU reaches memory, palette and sprites, one a target; left out: none",
    )
    status: Status | None = Field(default=None, description="flags that the CPU reads; left out: none")

    @cached_property
    def layer_names(self) -> tuple[str, ...]:
        """The layers' names in the order of the file."""
        return tuple(layer.name for layer in self.layers)

    @cached_property
    def source_names(self) -> tuple[str, ...]:
        """Sources by number: 0 the backdrop, then the layers in the file's order, then the sprites."""
        return ("backdrop", *self.layer_names, *(("sprites",) if self.sprites else ()))

    def __repr__(self) -> str:
        return f"<Chip {self.name!r}: {self.frame.width} x {self.frame.height} dots, {len(self.layers)} layers>"

    _repr_html_ = by_notebook("scenes", "chip_html")

    @property
    def transparency(self) -> dict[str, str]:
        """What shows nothing, by LAYER.MODE and for ``sprites``: a value or ``none``, ``(left out)`` where nothing is said."""
        tables: dict[str, Table] = {f"{layer.name}.{mode.name}": mode for layer in self.layers for mode in layer.modes}
        found = {}
        for name, table in (tables | ({"sprites": self.sprites} if self.sprites else {})).items():
            value = getattr(table, "transparent", None)
            said = "" if "transparent" in table.model_fields_set else " (left out)"
            found[name] = f"{'none' if value is None else value}{said}"
        return found

    def layer(self, name: str) -> Layer:
        """The layer called ``name``; KeyError where the chip has none."""
        for layer in self.layers:
            if layer.name == name:
                return layer
        raise KeyError(name)

    @property
    def each_size(self) -> tuple["Chip", ...]:
        """The chip at each size of its picture, by the size's number; that alone where it is at a size or has just one."""
        if self.frame.number is not None:
            return (self,)
        made: tuple[Chip, ...]
        of, made = vars(self).get("_sizes", (None, ()))
        if of is not self.frame:  # never asked, or copied from a chip that was
            frames = (self.frame.at_size(number) for number in range(len(self.frame.sizes)))
            made = tuple(self.model_copy(update={"frame": frame}) for frame in frames)
            vars(self)["_sizes"] = self.frame, made
        return made

    def at_size(self, number: int) -> "Chip":
        """The chip with the width and height of size ``number``, and the same controls and registers.

        A frame in which ``picture_size`` is that number is drawn as by this chip. Raises IndexError for a size that it has not,
        ValueError for another size of a chip that is at one.
        """
        return self if self.frame.at_size(number) is self.frame else self.each_size[number]

    def entry_rule(self, entries: Entries) -> tuple[int, int, int]:
        """(base, bank step, value step) with a left-out bank step filled in."""
        step = self.palette.bank_size if entries.bank_step is None else entries.bank_step
        return entries.base, step, entries.value_step
