"""Writes that act, the one place that changes what a state holds; and what registers hold as words.

Law: a write acts at the moment at which the state stands. Which writes act, and in which order, is for the caller to say.
What a field is set to stands in the state's controls; what of its register does not count, or not yet, is latched:
``State.held`` has, for registers by number, which of their bits wait, and the bits that wait or that no field names as they were
last written. A register with neither is not in it. Draws nothing and knows no slot.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
import numpy.typing as npt

from ..chip.registers import Part, Register, RegisterField, registers, settable
from .state import State
from .writes import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, Write

Held = dict[int, tuple[int, int]]
"""By a register's number: the bits of it that wait, as a mask, and bits as last written that no control has."""


Ints = npt.NDArray[np.int64]


class Latches:
    """The registers while writes are done one after the other; ``held`` is changed, the state is not."""

    def __init__(self, state: State, held: Held) -> None:
        self.state, self.held = state, held
        self.numbered = tuple(registers(state.chip).values())
        self._latest: dict[str, int] = {}

    def fork(self) -> Latches:
        """The registers as they stand, to be written on without these."""
        other = Latches(self.state, dict(self.held))
        other._latest.update(self._latest)
        return other

    def last(self, field: RegisterField) -> int:
        """The field's value as last set."""
        return self._raw(field) * field.step

    def word(self, register: Register) -> int:
        """The register's bits as they were last written."""
        waiting, bits = self.held.get(register.number, (0, 0))
        return bits | sum(self._bits(*one) for one in register.holds) & ~waiting

    def _bits(self, field: RegisterField, part: Part) -> int:
        """The part's bits of its register, as the field's value has them."""
        bits: int = part.bits.put(part.of.get(self._raw(field)))
        return bits

    def _raw(self, field: RegisterField) -> int:
        """The field's raw number as last set, be it in force or waiting for a frame to begin."""
        if field.name not in self._latest:
            # All controls of a field hold the same.
            number = self.state.names.index(field.controls[0])
            self._latest[field.name] = self.state.next_frame.get(number, int(self.state.controls[number]))
        return self._latest[field.name] // field.step

    def set(self, field: RegisterField, value: int) -> None:
        """The field is set as a whole: what waited of it waits no more."""
        self._latest[field.name] = value
        for part in field.parts:
            self._hold(part.register, part.bits.mask, 0, 0)

    def write(
        self, register: Register, mask: int, word: int, *, whole: bool = False
    ) -> Iterator[tuple[RegisterField, int]]:
        """The bits ``mask`` of a register, whole bytes, are written as they are in ``word``: which fields that sets, and to what.

        ``whole``: nothing waits.
        """
        self._hold(register.number, register.unnamed & mask, 0, register.unnamed & mask & word)
        ends = bool(mask >> 8 * (register.size - 1))
        for field, part in register.holds:
            written = part.bits.mask & mask
            if not field.split and ends and register.half_write == "waits":
                written |= part.bits.mask & self.held.get(register.number, (0, 0))[0]  # its lower bytes count now
                mine = word & mask | self.held.get(register.number, (0, 0))[1] & ~mask
            else:
                mine = word
            if not written:
                continue
            if register.half_write == "waits" and (field.split or not ends) and not whole:
                self._hold(register.number, written, written, written & word)
                continue
            raw = self._raw(field)
            for one in field.parts:
                waiting, bits = self.held.get(one.register, (0, 0))
                raw = _with(raw, one, waiting, bits)
            value = field.value(_with(raw, part, written, mine))
            self.set(field, value)
            yield field, value

    def _hold(self, number: int, mask: int, waiting: int, bits: int) -> None:
        """Of the bits ``mask`` of a register so many wait, and are these."""
        before, held = self.held.get(number, (0, 0))
        now = before & ~mask | waiting, held & ~mask | bits
        if any(now):  # else it goes, so that states that hold the same compare as the same
            self.held[number] = now
        else:
            self.held.pop(number, None)


def _with(raw: int, part: Part, mask: int, word: int) -> int:
    """A field's raw number with the bits of a part of it that are in ``mask``, as they stand in a register's ``word``."""
    changed: int = part.of.put(part.bits.get(mask))
    given: int = part.of.put(part.bits.get(word))
    return raw & ~changed | changed & given


def enact(state: State, write: Write, waits: Collection[str]) -> None:
    """Do ``write`` to ``state``, which it must fit (see ``fault``).

    ``waits``: the fields of registers whose values have to wait in ``next_frame`` until a frame begins.
    A Transfer and a PortWrite do nothing here: slots and ports first have to make other writes of them.
    """
    if isinstance(write, RegisterWrite):
        set_register(state, write.name, write.value, waits)
    elif isinstance(write, PaletteWrite):
        state.palette[write.entry : write.entry + len(write.words)] = write.words
    elif isinstance(write, SpriteWrite):
        put_bytes(state.sprites.reshape(-1), write.offset, write.data)
    elif isinstance(write, MemoryWrite):
        put_bytes(state.memory, write.address, write.data)


def enact_columns(state: State, registers: Ints, palette: Ints, sprites: Ints) -> None:
    """Do many writes at once: each of the three int64 (2, writes), what is written to and the values, in order.

    Registers are those that wait for nothing, by their controls' numbers; palette entries get words, the
    sprite table gets bytes. One by one, the 1,153 writes of a frame of the scene dusk take a fifth of the frame's time.
    """
    state.controls[registers[0]] = registers[1]  # of several writes to one place numpy lets the last stay
    state.palette[palette[0]] = palette[1].astype(np.uint32)
    state.sprites.reshape(-1)[sprites[0]] = sprites[1].astype(np.uint8)


def set_register(state: State, name: str, value: int, waits: Collection[str]) -> None:
    """Set the field that ``name`` names, or write the whole register of that name; for ``waits`` see ``enact``."""
    one = settable(state.chip)[name]
    if isinstance(one, Register):
        for field, each in Latches(state, state.held).write(one, one.top, value):
            set_field(state, field, each, waits)
        return
    if state.held:  # else nothing waits that this could overtake
        Latches(state, state.held).set(one, value)
    set_field(state, one, value, waits)


def put_register(state: State, name: str, value: int) -> None:
    """Let a field, or all fields of a whole register, hold ``value`` from now on, whatever effect or half write say."""
    one = settable(state.chip)[name]
    if not isinstance(one, Register):
        set_register(state, name, value, waits=())
        return
    for field, each in Latches(state, state.held).write(one, one.top, value, whole=True):
        set_field(state, field, each, waits=())


def set_field(state: State, field: RegisterField, value: int, waits: Collection[str]) -> None:
    """All controls of a field get ``value``; what waits of it in a register is let alone."""
    for number in map(state.names.index, field.controls):
        if field.name in waits:
            state.next_frame[number] = value
        else:
            state.controls[number] = value
            state.next_frame.pop(number, None)  # an older write, which would come into force after this one


def put_bytes(target: npt.NDArray[np.uint8], start: int, data: bytes) -> None:
    """``target``, memory or the sprite table byte by byte, gets ``data`` from ``start`` on."""
    target[start : start + len(data)] = np.frombuffer(data, np.uint8)


def begin_frame(state: State) -> None:
    """Go on to line 0 of the next frame, where register values that wait for it come into force."""
    state.frame, state.line = state.frame + 1, 0
    for number, value in state.next_frame.items():
        state.controls[number] = value
    state.next_frame.clear()
