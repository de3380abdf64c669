"""A chip's changing state, and the timed writes that change it.

Law: everything that a running chip holds stands in one State: video memory, palette, sprite table, control values, what
waits to take effect, and where in time it stands. Time is frame, line, dot; two writes of the same instant act in the
order in which they are given. Knows chip/ and draws nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import ClassVar, NamedTuple

import numpy as np
import numpy.typing as npt

from .chip.controls import registers, rest_values, unfit
from .chip.model import Chip
from .given import instance, items, raw_bytes, text, whole
from .shown import value as shown


class _Timed:
    """What every timed write checks of what it is given: the kinds of value. Whether they fit is a chip's to say."""

    WHOLE: ClassVar[tuple[str, ...]] = ()
    BYTES: ClassVar[str | None] = None

    def __post_init__(self) -> None:
        """Raise TypeError for a wrong kind; keep numbers and bytes as Python's own."""
        for name in self.WHOLE:
            if type(getattr(self, name)) is not int:
                object.__setattr__(self, name, whole(name, getattr(self, name)))
        if self.BYTES is not None and type(getattr(self, self.BYTES)) is not bytes:
            object.__setattr__(self, self.BYTES, raw_bytes(self.BYTES, getattr(self, self.BYTES)))


@dataclass(frozen=True)
class RegisterWrite(_Timed):
    """Register ``name`` gets ``value`` (control units) at ``line``, ``dot``; its effect says from when it counts."""

    WHOLE = ("line", "value", "dot")

    line: int
    name: str
    value: int
    dot: int = 0

    def __post_init__(self) -> None:
        """Raise TypeError for a wrong kind."""
        text("name", self.name)
        super().__post_init__()


@dataclass(frozen=True)
class PaletteWrite(_Timed):
    """Palette entries from ``entry`` on get the packed ``words`` from ``line``, ``dot`` on."""

    WHOLE = ("line", "entry", "dot")

    line: int
    entry: int
    words: tuple[int, ...]
    dot: int = 0

    def __post_init__(self) -> None:
        """Raise TypeError for a wrong kind."""
        words = items("words", self.words, "colour words")
        object.__setattr__(self, "words", tuple(whole("each of words", word) for word in words))
        super().__post_init__()


@dataclass(frozen=True)
class SpriteWrite(_Timed):
    """The on-chip sprite table gets ``data`` from its byte ``offset`` on, before ``line`` is prepared."""

    WHOLE = ("line", "offset", "dot")
    BYTES = "data"

    line: int
    offset: int
    data: bytes
    dot: int = 0


@dataclass(frozen=True)
class MemoryWrite(_Timed):
    """Video memory gets ``data`` from ``address`` on, before ``line`` is fetched."""

    WHOLE = ("line", "address", "dot")
    BYTES = "data"

    line: int
    address: int
    data: bytes
    dot: int = 0


@dataclass(frozen=True)
class Transfer(_Timed):
    """The CPU puts ``data`` into video memory from ``line``, ``dot`` on, a byte a slot, as slots are free for it.

    The first byte goes to ``address``, each further one ``step`` bytes on, modulo the memory's size.
    """

    WHOLE = ("line", "address", "dot", "step")
    BYTES = "data"

    line: int
    address: int
    data: bytes
    dot: int = 0
    step: int = 1


@dataclass(frozen=True)
class PortWrite(_Timed):
    """The CPU writes the byte ``value`` to ``address``, a register's or a port's, at ``line``, ``dot``."""

    WHOLE = ("line", "address", "value", "dot")

    line: int
    address: int
    value: int
    dot: int = 0


WRITES = (RegisterWrite, PaletteWrite, SpriteWrite, MemoryWrite, Transfer, PortWrite)
"""The kinds of timed write."""

Write = RegisterWrite | PaletteWrite | SpriteWrite | MemoryWrite | Transfer | PortWrite


class Waiting(NamedTuple):
    """What is left of a transfer: ``data`` from byte ``done`` on has still to land.

    ``number`` counts transfers since reset. Moments are in dots from the beginning of the slots of the line before which the
    state stands, and 0 once they are past: ``start``, at which it was begun, and ``at_hand``, at which the CPU has its next
    bytes at hand, as far as the queue has places for them (none at all without a ``cpu`` table, or where nothing was drawn
    since it was begun: they then follow from the start).
    """

    number: int
    start: int
    address: int
    data: bytes
    step: int
    done: int = 0
    at_hand: tuple[Fraction, ...] = ()


class Ahead(NamedTuple):
    """The sprites of the next line where they are prepared a line ahead.

    ``drops``: (sprite, reason) in the order of the walk. ``kept``: (sprite, record as an integer, row, the row's bytes) from
    the back to the front.
    """

    found: int
    drops: tuple[tuple[int, str], ...]
    kept: tuple[tuple[int, int, int, bytes], ...]


class LineBuffer(NamedTuple):
    """The next line of a layer that is fetched a line ahead.

    ``mode`` that the layer asked for (-1: it is disabled). ``dots``: the entry of each dot, -1 where nothing shows; none at
    all where the layer was switched off. ``fields``: the cell's fields of each dot, 0 where nothing shows. ``missed``:
    accesses of its clients that found no slot, those above 0.
    """

    mode: int
    dots: tuple[int, ...]
    fields: tuple[tuple[str, tuple[int, ...]], ...]
    missed: tuple[tuple[str, int], ...]


class KeptCells(NamedTuple):
    """The cells that a layer keeps: the index of their ``mode``, its map address, map row and scroll, and the ``words``."""

    mode: int
    address: int
    row: int
    scroll: int
    words: tuple[int, ...]


@dataclass(eq=False)
class State:
    """What a chip holds while it runs.

    ``memory`` uint8 (size,); ``palette`` uint32 (entries,) of packed words; ``sprites`` uint8 (count, record_bytes), the
    on-chip table (no rows where the table lies in memory); ``controls`` int64, one for each of ``names``. ``next_frame``
    holds register values by control number that wait for a frame to begin. The state stands
    before dot 0 of ``line`` in ``frame``. ``collision_flags`` has bit g set once group g has collided, until cleared.
    ``status`` has the bits of the chip's status that are raised; ``ports`` [address, step] of each port. With a time table:
    ``ahead`` the sprites that were prepared for ``line`` (None: nothing has, and they count as prepared from what stands
    here), ``buffers`` the same for layers that are fetched a line ahead, by the layer's number (none: nothing has), ``kept`` the
    cells that layers keep by the layer's number, ``waiting`` the transfers that have not ended, in order.
    """

    chip: Chip
    memory: npt.NDArray[np.uint8]
    palette: npt.NDArray[np.uint32]
    sprites: npt.NDArray[np.uint8]
    controls: npt.NDArray[np.int64]
    names: tuple[str, ...]
    next_frame: dict[int, int] = field(default_factory=dict)
    frame: int = 0
    line: int = 0
    collision_flags: int = 0
    status: int = 0
    ports: list[list[int]] = field(default_factory=list)
    ahead: Ahead | None = None
    buffers: dict[int, LineBuffer] = field(default_factory=dict)
    kept: dict[int, KeptCells] = field(default_factory=dict)
    waiting: tuple[Waiting, ...] = ()
    transfers: int = 0

    @classmethod
    def at_reset(cls, chip: Chip) -> State:
        """Memory, palette and sprite table all zero; every control at rest or its register's reset value."""
        values = rest_values(instance("chip", chip, Chip))
        sprites = chip.sprites
        rows = sprites.count if sprites and sprites.table == "chip" else 0
        return cls(
            chip,
            np.zeros(chip.memory.size, np.uint8),
            np.zeros(chip.palette.entries, np.uint32),
            np.zeros((rows, sprites.record_bytes if sprites else 1), np.uint8),
            np.array(list(values.values()), np.int64),
            tuple(values),
            ports=[[0, port.advance] for port in chip.ports],
        )

    def copy(self) -> State:
        """A state that shares nothing with this one but the chip."""
        return State(
            self.chip,
            self.memory.copy(),
            self.palette.copy(),
            self.sprites.copy(),
            self.controls.copy(),
            self.names,
            dict(self.next_frame),
            self.frame,
            self.line,
            self.collision_flags,
            self.status,
            [list(port) for port in self.ports],
            self.ahead,
            dict(self.buffers),
            dict(self.kept),
            self.waiting,
            self.transfers,
        )

    def become(self, other: State) -> None:
        """Hold what ``other``, a state of the same chip, holds, in the same arrays; ``other`` is not to be used any more."""
        for name, value in vars(other).items():
            if isinstance(value, np.ndarray):
                getattr(self, name)[...] = value
            else:
                setattr(self, name, value)

    def value(self, name: str) -> int:
        """The value in force of the control ``name``. Raises KeyError where the chip has none of that name."""
        if name not in self.names:
            raise KeyError(f"name must be a control of {self.chip.name}, {', '.join(self.names)}, got {shown(name)}")
        return int(self.controls[self.names.index(name)])


def fault(chip: Chip, write: Write) -> str | None:
    """Why ``write`` cannot happen on ``chip``, in words that say what is allowed and what was given; None where it can."""
    frame = chip.frame
    if not 0 <= write.line < frame.lines_per_frame:
        return f"line must be 0 to {frame.lines_per_frame - 1}, got {shown(write.line)}"
    if not 0 <= write.dot < frame.dots_per_line:
        return f"dot must be 0 to {frame.dots_per_line - 1}, got {shown(write.dot)}"
    if isinstance(write, RegisterWrite):
        known = registers(chip)
        if write.name not in known:
            return f"{shown(write.name)} is no register of {chip.name}; it has {', '.join(known)}"
        return unfit(known[write.name], write.value)
    if isinstance(write, PaletteWrite):
        if not write.words or not 0 <= write.entry <= chip.palette.entries - len(write.words):
            return (
                f"entries must lie in 0 to {chip.palette.entries - 1}, got {len(write.words)} from {shown(write.entry)}"
            )
        top = (1 << chip.palette.word_bits) - 1
        wrong = [word for word in write.words if not 0 <= word <= top]
        return f"a colour word must be 0 to 0x{top:X}, got {_hexadecimal(wrong[0])}" if wrong else None
    if isinstance(write, Transfer):
        return _transfer_fault(chip, write)
    if isinstance(write, PortWrite):
        if not 0 <= write.value <= 0xFF:
            return f"a port takes a byte, 0 to 255, got {shown(write.value)}"
        return (
            None if 0 <= write.address <= 0xFFFF else f"address must be 0 to 0xFFFF, got {_hexadecimal(write.address)}"
        )
    if write.dot:
        return f"takes effect between lines: dot must be 0, got {shown(write.dot)}"
    if isinstance(write, SpriteWrite):
        sprites = chip.sprites
        size = sprites.count * sprites.record_bytes if sprites and sprites.table == "chip" else 0
        return _range_fault("the on-chip sprite table", size, write.offset, len(write.data))
    return _range_fault("video memory", chip.memory.size, write.address, len(write.data))


def _hexadecimal(number: int) -> str:
    return f"{number:#x}" if number.bit_length() <= 64 else shown(number)


def _transfer_fault(chip: Chip, write: Transfer) -> str | None:
    if chip.time is None:
        return f"needs a chip with a time table, to find slots in; {chip.name} has none"
    if not 0 <= write.address < chip.memory.size:
        return f"must lie in video memory, 0x0 to 0x{chip.memory.size - 1:X}, got {_hexadecimal(write.address)}"
    if not 1 <= len(write.data) <= chip.memory.size:
        return f"must be 1 to {chip.memory.size} bytes, got {len(write.data)}"
    return None if 0 <= write.step <= 255 else f"step must be 0 to 255, got {shown(write.step)}"


def _range_fault(what: str, size: int, start: int, length: int) -> str | None:
    if 0 <= start and length and start + length <= size:
        return None
    told = f"0x{start:X}" if start.bit_length() <= 64 else shown(start)
    return f"{what} has bytes 0x0 to 0x{max(size - 1, 0):X}, got {length} from {told}"
