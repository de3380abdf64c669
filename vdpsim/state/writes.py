"""Timed writes: what changes a chip's state at a frame's line and dot, and whether a chip can take it.

Law: two writes of the same instant act in the order in which they are given. A write is plain data; whether it fits is a
chip's to say (``fault``). Knows chip/ and changes nothing.
"""

from __future__ import annotations

from dataclasses import FrozenInstanceError, dataclass
from typing import Any, ClassVar

from ..chip.model import Chip
from ..chip.registers import own_names, settable, unfit
from ..door.given import items, raw_bytes, text, whole
from ..door.shown import value as shown


class _CheckedWrite:
    """What every timed write is: frozen, equal to one of its kind with the same values, and checked for the kinds of value.

    Whether they fit is a chip's to say. What ``dataclass(frozen=True)`` would make anew for each kind stands here once: to make
    it took a fiftieth of all the time in which a first scene is loaded.
    """

    WHOLE: ClassVar[tuple[str, ...]] = ()
    BYTES: ClassVar[str | None] = None
    __match_args__: ClassVar[tuple[str, ...]] = ()

    def __setattr__(self, name: str, value: Any) -> None:
        """Set a field for the first time. Raises FrozenInstanceError after that."""
        if name in vars(self) or name not in self.__match_args__:
            raise FrozenInstanceError(f"cannot assign to field {name!r}")
        vars(self)[name] = value

    def __delattr__(self, name: str) -> None:
        """Raises FrozenInstanceError."""
        raise FrozenInstanceError(f"cannot delete field {name!r}")

    def __eq__(self, other: object) -> bool:
        """Whether both are of one kind and have the same values."""
        return self._values() == other._values() if type(other) is type(self) else NotImplemented

    def __hash__(self) -> int:
        """As that of a tuple of the values."""
        return hash(self._values())

    def __repr__(self) -> str:
        """The kind and its fields."""
        told = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.__match_args__)
        return f"{type(self).__qualname__}({told})"

    def _values(self) -> tuple[Any, ...]:
        return tuple(getattr(self, name) for name in self.__match_args__)

    def __post_init__(self) -> None:
        """Raise TypeError for a wrong kind; keep numbers and bytes as Python's own."""
        for name in self.WHOLE:
            if type(getattr(self, name)) is not int:  # a bool is an int as well, which ``whole`` refuses
                object.__setattr__(self, name, whole(name, getattr(self, name)))
        if self.BYTES is not None and type(getattr(self, self.BYTES)) is not bytes:
            object.__setattr__(self, self.BYTES, raw_bytes(self.BYTES, getattr(self, self.BYTES)))


@dataclass(eq=False, repr=False)
class RegisterWrite(_CheckedWrite):
    """The field ``name`` of a register gets ``value`` (control units) at ``line``, ``dot``; its effect says from when it counts.

    ``name`` is the field's own or that of a control that it sets; or it is a whole register's, which gets a raw number.
    """

    WHOLE: ClassVar[tuple[str, ...]] = ("line", "value", "dot")

    line: int
    name: str
    value: int
    dot: int = 0

    def __post_init__(self) -> None:
        """Raise TypeError for a wrong kind."""
        text("name", self.name)
        super().__post_init__()


@dataclass(eq=False, repr=False)
class PaletteWrite(_CheckedWrite):
    """Palette entries from ``entry`` on get the packed ``words`` from ``line``, ``dot`` on."""

    WHOLE: ClassVar[tuple[str, ...]] = ("line", "entry", "dot")

    line: int
    entry: int
    words: tuple[int, ...]
    dot: int = 0

    def __post_init__(self) -> None:
        """Raise TypeError for a wrong kind."""
        words = items("words", self.words, "colour words")
        object.__setattr__(self, "words", tuple(whole("each of words", word) for word in words))
        super().__post_init__()


@dataclass(eq=False, repr=False)
class SpriteWrite(_CheckedWrite):
    """The on-chip sprite table gets ``data`` from its byte ``offset`` on, before ``line`` is prepared."""

    WHOLE: ClassVar[tuple[str, ...]] = ("line", "offset", "dot")
    BYTES: ClassVar[str | None] = "data"

    line: int
    offset: int
    data: bytes
    dot: int = 0


@dataclass(eq=False, repr=False)
class MemoryWrite(_CheckedWrite):
    """Video memory gets ``data`` from ``address`` on, before ``line`` is fetched."""

    WHOLE: ClassVar[tuple[str, ...]] = ("line", "address", "dot")
    BYTES: ClassVar[str | None] = "data"

    line: int
    address: int
    data: bytes
    dot: int = 0


@dataclass(eq=False, repr=False)
class Transfer(_CheckedWrite):
    """The CPU puts ``data`` into video memory from ``line``, ``dot`` on, a byte a slot, as slots are free for it.

    The first byte goes to ``address``, each further one ``step`` bytes on, modulo the memory's size.
    """

    WHOLE: ClassVar[tuple[str, ...]] = ("line", "address", "dot", "step")
    BYTES: ClassVar[str | None] = "data"

    line: int
    address: int
    data: bytes
    dot: int = 0
    step: int = 1


@dataclass(eq=False, repr=False)
class PortWrite(_CheckedWrite):
    """The CPU writes the byte ``value`` to ``address``, a register's or a port's, at ``line``, ``dot``."""

    WHOLE: ClassVar[tuple[str, ...]] = ("line", "address", "value", "dot")

    line: int
    address: int
    value: int
    dot: int = 0


WRITES = (RegisterWrite, PaletteWrite, SpriteWrite, MemoryWrite, Transfer, PortWrite)
"""The kinds of timed write."""

Write = RegisterWrite | PaletteWrite | SpriteWrite | MemoryWrite | Transfer | PortWrite


def fault(chip: Chip, write: Write) -> str | None:
    """Why ``write`` cannot happen on ``chip``, in words that say what is allowed and what was given; None where it can."""
    frame = chip.frame
    if not 0 <= write.line < frame.lines_per_frame:
        return f"line must be 0 to {frame.lines_per_frame - 1}, got {shown(write.line)}"
    if not 0 <= write.dot < frame.dots_per_line:
        return f"dot must be 0 to {frame.dots_per_line - 1}, got {shown(write.dot)}"
    if isinstance(write, RegisterWrite):
        known = settable(chip)
        if write.name not in known:
            return f"{shown(write.name)} is no register of {chip.name}; it has {', '.join(own_names(chip))}"
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
