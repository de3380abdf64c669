"""Writes that act: the one place that changes what a state holds.

Law: a write acts at the moment at which the state stands. Which writes act, and in which order, is for the caller to say.
Draws nothing and knows no slot.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import numpy.typing as npt

from ..chip.registers import Register, RegisterField, settable
from .latches import Latches
from .state import State
from .writes import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, Write

Ints = npt.NDArray[np.int64]


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
    state.controls[registers[0]] = registers[1]
    state.palette[palette[0]] = palette[1].astype(np.uint32)
    state.sprites.reshape(-1)[sprites[0]] = sprites[1].astype(np.uint8)


def set_register(state: State, name: str, value: int, waits: Collection[str]) -> None:
    """Set the field that ``name`` names, or write the whole register of that name; for ``waits`` see ``enact``."""
    one = settable(state.chip)[name]
    if isinstance(one, Register):
        for field, each in list(Latches(state, state.held).write(one, one.top, value)):
            set_field(state, field, each, waits)
        return
    if state.held:
        Latches(state, state.held).set(one, value)
    set_field(state, one, value, waits)


def put_register(state: State, name: str, value: int) -> None:
    """Let a field, or all fields of a whole register, hold ``value`` from now on, whatever effect or half write say."""
    one = settable(state.chip)[name]
    if not isinstance(one, Register):
        set_register(state, name, value, waits=())
        return
    for field, each in list(Latches(state, state.held).write(one, one.top, value, whole=True)):
        set_field(state, field, each, waits=())


def set_field(state: State, field: RegisterField, value: int, waits: Collection[str]) -> None:
    """All controls of a field get ``value``; what waits of it in a register is let alone."""
    for number in map(state.names.index, field.controls):
        if field.name in waits:
            state.next_frame[number] = value
        else:
            state.controls[number] = value
            state.next_frame.pop(number, None)


def put_bytes(target: npt.NDArray[np.uint8], start: int, data: bytes) -> None:
    """``target``, memory or the sprite table byte by byte, gets ``data`` from ``start`` on."""
    target[start : start + len(data)] = np.frombuffer(data, np.uint8)


def begin_frame(state: State) -> None:
    """Go on to line 0 of the next frame, where register values that wait for it come into force."""
    state.frame, state.line = state.frame + 1, 0
    for number, value in state.next_frame.items():
        state.controls[number] = value
    state.next_frame.clear()
