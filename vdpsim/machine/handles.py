"""A running chip between two lines, as a program has it: registers, sprites and palette by name, and bytes as the CPU has them.

Law: what is read and assigned here stands in a State and nowhere else; a value that does not fit is refused with its range. What
a byte means is the engine's to say; it is let happen at the moment where the state stands, which is dot ``width`` of the line
before: there the slots of the next line begin. Draws nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, MutableMapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.controls import number_of
from ..chip.line.places import entry_bytes, port_bytes
from ..chip.model import Chip, PaletteTable, Port
from ..chip.registers import Register, RegisterField, own_names, registers, settable, unfit
from ..chip.tables.bits import Bits
from ..door.given import is_whole, text, whole, whole_number
from ..door.lazy import by_notebook
from ..door.shown import meant
from ..door.shown import value as shown
from ..engine.plan import Plan
from ..engine.ports import advance, decode
from ..state.enact import Latches, enact, set_register
from ..state.state import State, Waiting
from ..state.writes import PortWrite, Transfer, fault


class Registers(MutableMapping[str, int]):
    """A machine's registers by name: their fields, and after them whole registers that have names of their own.

    A field has values in control units (addresses in bytes, lines, dots, entries); it goes by its own name and by those of the
    controls that it sets. Reading gives the value in force, as a number; a value that has a name can be set by it. A whole
    register has a raw number, its bits as in hardware; reading gives them as they were last written. Raises KeyError for a name
    that is no register, ValueError for a value that does not fit.
    """

    def __init__(self, plan: Plan, state: State) -> None:
        self._plan, self._state = plan, state
        self._known, self._own = settable(plan.chip), own_names(plan.chip)

    def __getitem__(self, name: str) -> int:
        one = self._register(name)
        if isinstance(one, Register):
            return Latches(self._state, self._state.held).word(one)
        return int(self._state.controls[self._plan.number[one.controls[0]]])

    def __setitem__(self, name: str, value: int | str) -> None:
        register = self._register(name)
        value = value if isinstance(value, str) and register.names else whole(name, value)
        wrong = unfit(register, value)
        if wrong:
            raise ValueError(wrong)
        set_register(self._state, name, number_of(register.names, value), waits_now(self._plan, self._state))

    def __delitem__(self, name: str) -> None:
        raise TypeError(f"{name} is part of the chip and cannot be taken out")

    def __iter__(self) -> Iterator[str]:
        return iter(self._own)

    def __len__(self) -> int:
        return len(self._own)

    def __repr__(self) -> str:
        return f"<{len(self)} registers of {self._plan.chip.name}>"

    _repr_html_ = by_notebook("machines", "registers_html")

    def _register(self, name: str) -> RegisterField | Register:
        if text("a register's name", name) not in self._known:
            raise KeyError(
                f"{shown(name)} is no register of {self._plan.chip.name}; it has {', '.join(self._own)}{meant(name, self._own)}"
            )
        return self._known[name]


class Sprite:
    """One record of the sprite table; its fields (``x``, ``y``, ``pattern`` ...) read and write the packed record.

    Raises AttributeError for a field that the chip's records do not have, ValueError for a value that does not fit.
    """

    __slots__ = ("_chip", "_record")
    _chip: Chip
    _record: npt.NDArray[np.uint8]

    def __init__(self, chip: Chip, record: npt.NDArray[np.uint8]) -> None:
        object.__setattr__(self, "_chip", chip)
        object.__setattr__(self, "_record", record)

    def _word(self) -> int:
        return int.from_bytes(self._record.tobytes(), self._chip.memory.byte_order)

    def _layout(self, name: str) -> Bits:
        layout = self._chip.sprites.fields.layout if self._chip.sprites else {}
        if name not in layout:
            raise AttributeError(f"sprites of {self._chip.name} have {', '.join(layout)}, not {shown(name)}")
        return layout[name]

    def __getattr__(self, name: str) -> int:
        return int(self._layout(name).get(self._word()))

    def __setattr__(self, name: str, value: int) -> None:
        bits = self._layout(name)
        value = whole_number(name, value, 0, bits.top)
        word = (self._word() & ~bits.mask) | bits.put(value)
        self._record[:] = np.frombuffer(word.to_bytes(len(self._record), self._chip.memory.byte_order), np.uint8)

    def __repr__(self) -> str:
        layout = self._chip.sprites.fields.layout if self._chip.sprites else {}
        values = ", ".join(f"{name}={getattr(self, name)}" for name in layout)
        return f"Sprite({values})"


class Sprites(Sequence[Sprite]):
    """The sprite table, on the chip or, at the address held in ``sprites.table``, in video memory."""

    def __init__(self, plan: Plan, state: State) -> None:
        self._plan, self._state = plan, state

    @property
    def fields(self) -> tuple[str, ...]:
        """The names of a sprite's fields."""
        return tuple(self._plan.chip.sprites.fields.layout) if self._plan.chip.sprites else ()

    def __repr__(self) -> str:
        return f"<{len(self)} sprites of {self._plan.chip.name}>"

    _repr_html_ = by_notebook("machines", "sprites_html")

    def __len__(self) -> int:
        return self._plan.chip.sprites.count if self._plan.chip.sprites else 0

    def __getitem__(self, number: Any) -> Any:
        if isinstance(number, slice):
            for end in (number.start, number.stop, number.step):
                if end is not None:
                    whole("each end of a slice of sprites", end)
            return [self[each] for each in range(*number.indices(len(self)))]
        if not is_whole(number):
            raise TypeError(f"a sprite's number must be a whole number or a slice, got {shown(number)}")
        number = int(number)
        table = self._plan.chip.sprites
        place = number + len(self) if number < 0 else number
        if table is None or not 0 <= place < len(self):
            raise IndexError(f"sprites are numbered 0 to {len(self) - 1}, got {number}")
        if table.table == "chip":
            return Sprite(self._plan.chip, self._state.sprites[place])
        start = self._state.value("sprites.table") + place * table.record_bytes
        if start + table.record_bytes > len(self._state.memory):
            raise IndexError(f"sprite {number} lies beyond the memory, at 0x{start:X}")
        return Sprite(self._plan.chip, self._state.memory[start : start + table.record_bytes])


class PaletteWords(np.ndarray[Any, np.dtype[np.uint32]]):
    """The palette's packed words, uint32 (entries,), an array like any other; ``table``: the chip's, None for a part of it."""

    table: PaletteTable | None = None

    @classmethod
    def of(cls, words: npt.NDArray[np.uint32], table: PaletteTable) -> PaletteWords:
        """The whole palette of a chip."""
        view = words.view(cls)
        view.table = table
        return view

    _repr_html_ = by_notebook("palettes", "palette_html")


def waits_now(plan: Plan, state: State) -> Collection[str]:
    """The fields of registers whose values, written now, wait for a frame to begin: none before line 0, where one begins."""
    return plan.waits if state.line else ()


def cpu_read(chip: Chip, state: State, address: int) -> int:
    """The byte that the CPU reads at ``address``, with all that reading does. Raises KeyError where there is nothing to read."""
    address = whole_number("address", address, -1 << 63)
    for register in registers(chip).values():
        byte = address - register.address
        if 0 <= byte < register.size:
            written = Latches(state, state.held).word(register) if register.access == "read-back" else 0
            return written >> 8 * byte & 0xFF
    for port, at in zip(chip.ports, state.ports, strict=True):
        if address == port.data:
            found = _data(chip, state, port, at[0] % port_bytes(chip, port))
            advance(chip, port, at)
            return found
    status = chip.status
    if status and address == status.address:
        found = state.status
        state.status = 0 if status.cleared == "read" else found
        return found
    if status and address == status.groups:
        found = state.collision_flags
        state.collision_flags = 0 if status.cleared == "read" else found
        return found
    from ..chip.addresses import readable  # noqa: PLC0415 - to say so alone

    raise KeyError(f"nothing to read at 0x{address:02X}: {chip.name} has {readable(chip)}")


def _data(chip: Chip, state: State, port: Port, place: int) -> int:
    """The byte ``place`` of what ``port`` reaches."""
    if port.target == "memory":
        return int(state.memory[place])
    if port.target == "sprites":
        return int(state.sprites.reshape(-1)[place])
    entry, byte = divmod(place, entry_bytes(chip))
    return int(state.palette[entry]) >> 8 * byte & 0xFF


def cpu_write(plan: Plan, state: State, address: int, byte: int) -> None:
    """Let the CPU write ``byte`` to ``address`` now. Raises ValueError for a byte or an address out of range."""
    chip, wanted = plan.chip, PortWrite(state.line, address, byte)
    wrong = fault(chip, wanted)
    if wrong:
        raise ValueError(wrong)
    found, clears = decode(chip, state, state.ports, state.held, [wanted])
    for one in found:
        if isinstance(one, Transfer):
            state.waiting += (Waiting(state.transfers, 0, one.address, one.data, one.step),)
            state.transfers += 1
        else:
            enact(state, one, waits_now(plan, state))
    for clear in clears:
        state.status &= ~clear.status
        state.collision_flags &= ~clear.groups
