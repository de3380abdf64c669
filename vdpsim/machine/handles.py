"""A running chip's registers and sprites, by the names that its file gives them, and its palette.

Law: what is read and assigned here stands in a State and nowhere else; a value that does not fit is refused with its range.
Draws nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.controls import number_of
from ..chip.model import Chip, PaletteTable
from ..chip.registers import Register, RegisterField, own_names, settable, unfit
from ..chip.tables.bits import Bits
from ..door.given import is_whole, text, whole, whole_number
from ..door.lazy import by_notebook
from ..door.shown import meant
from ..door.shown import value as shown
from ..engine.plan import Plan
from ..state.enact import Latches, set_register
from ..state.state import State
from .cpu_side import waits_now


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
