"""What goes into hardware: what brings a frame's beginning about, and everything that is written during it, as records.

Law: records of line -1 bring a design from where the frame before left it to where a frame begins; all others are written at
their line and dot, and stand in the order in which they are to be done. What the CPU writes goes over its bus where bytes do
just what the model does; what they cannot do has a kind of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.line.places import address_bytes
from ...chip.model import Chip
from ...chip.registers import Register, fields, settable
from ...state.state import State
from ...state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write
from ..records.text import as_text
from .bytes_of_registers import Bus, Bytes

BEFORE = -1
"""The line of records that bring about the beginning of a frame."""


def beginning(now: State, before: State | None) -> Iterator[bytes]:
    """Records that make of ``before``, what the frame before has left, the beginning ``now`` of a frame.

    Without ``before`` the design is at reset, with memory, palette and sprite table loaded.
    """
    frame = now.frame
    if before is not None:
        yield _changed("memory", frame, before.memory, now.memory)
        yield _changed("palette", frame, before.palette, now.palette)
        yield _changed("sprite", frame, before.sprites.reshape(-1), now.sprites.reshape(-1))
    yield _bus(frame, BEFORE, 0, [*_registers(now, before), *_ports(now, before)])
    known = set() if before is None else {one.number for one in before.waiting}
    yield from _waiting(now, known)
    flags = now.status, now.collision_flags
    if flags != ((0, 0) if before is None else (before.status, before.collision_flags)):
        yield as_text("status", (frame, BEFORE, *flags))


def _changed(kind: str, frame: int, before: npt.NDArray[Any], now: npt.NDArray[Any]) -> bytes:
    places = np.flatnonzero(before != now)
    return as_text(kind, (frame, BEFORE, 0, places, now[places])) if len(places) else b""


def _registers(now: State, before: State | None) -> Bytes:
    """All registers, byte by byte, where one of them holds something else than before."""
    if before is not None and now.held == before.held and np.array_equal(now.controls, before.controls):
        return []
    return Bus(State.at_reset(now.chip) if before is None else before).bring(now)


def _ports(now: State, before: State | None) -> Bytes:
    """The address and the step of each port that stands elsewhere; a port whose step is wired has no place for it."""
    found: Bytes = []
    for number, port in enumerate(now.chip.ports):
        at, step = now.ports[number]
        if before is not None and before.ports[number] == [at, step]:
            continue
        found += [(port.address + byte, at >> 8 * byte & 0xFF) for byte in range(address_bytes(now.chip, port))]
        if port.step is not None:
            found.append((port.step, step))
    return found


def _waiting(now: State, known: set[int]) -> Iterator[bytes]:
    """What is left of each transfer that a design does not know of."""
    size = now.chip.memory.size
    for one in now.waiting:
        if one.number in known:
            continue
        left, at = one.data[one.done :], (one.address + one.done * one.step) % size
        head = (one.start, int(one.done > 0), len(one.at_hand), at, one.step, len(left))
        yield as_text("waiting", (now.frame, BEFORE, *head))
        for moment in one.at_hand:
            yield as_text("hand", (now.frame, moment.numerator, moment.denominator))
        yield as_text("byte", (now.frame, np.frombuffer(left, np.uint8)))


def _bus(frame: int, line: int, dot: int, pairs: Bytes) -> bytes:
    if not pairs:
        return b""
    table = np.array(pairs, np.int64)
    return as_text("bus", (frame, line, dot, table[:, 0], table[:, 1]))


def timed(start: State, writes: Sequence[Write], chip: Chip) -> Iterator[bytes]:
    """The records of a frame's ``writes``, in the order in which they are to be done.

    The frame begins with ``start``; ``chip`` is at its size.
    """
    maker = _Maker(start, chip)
    # Made in the order in which the model acts, since bytes follow from what registers hold by then; told in the order of time.
    made = [
        (maker.when(write), maker.record(write)) for write in sorted(writes, key=lambda each: (each.line, each.dot))
    ]
    for _, record in sorted(made, key=lambda each: each[0]):
        yield record


class _Maker:
    """Makes the records of one frame's writes, one after the other in order of time."""

    def __init__(self, start: State, chip: Chip) -> None:
        self.chip, self.frame, self.bus = chip, start.frame, Bus(start)
        self.settable = settable(start.chip)
        self.numbers = {name: number for number, name in enumerate(fields(start.chip))}

    def when(self, write: Write) -> int:
        """When it is to be done, in dots from line 0, dot 0; what acts before a line's slots is done when they begin."""
        frame = self.chip.frame
        ahead = isinstance(write, MemoryWrite | SpriteWrite) and self.chip.time is not None
        return write.line * frame.dots_per_line + (frame.width - frame.dots_per_line if ahead else write.dot)

    def record(self, write: Write) -> bytes:
        """Its records."""
        return _MAKERS[type(write)](self, write)

    def register(self, write: RegisterWrite) -> bytes:
        """A field, or a whole register: by bytes, where these do the same."""
        one, within = self.settable[write.name], 0 < write.dot < self.chip.frame.width
        if isinstance(one, Register):
            pairs = self.bus.whole(one, write.value, within=within)
            alone = "register", one.number, write.value
        else:
            pairs = self.bus.field(one, write.value, within=within)
            alone = "field", self.numbers[one.name], write.value // one.step
        if pairs is not None:
            return _bus(self.frame, write.line, write.dot, pairs)
        kind, number, value = alone
        return as_text(kind, (self.frame, write.line, write.dot, number, value))

    def port(self, write: PortWrite) -> bytes:
        """A byte as it is."""
        self.bus.write(write.address, write.value)
        return _bus(self.frame, write.line, write.dot, [(write.address, write.value)])

    def palette(self, write: PaletteWrite) -> bytes:
        """An entry a record."""
        entries = np.arange(write.entry, write.entry + len(write.words))
        return as_text("palette", (self.frame, write.line, write.dot, entries, np.array(write.words)))

    def sprite(self, write: SpriteWrite) -> bytes:
        """A byte a record."""
        return self._run("sprite", write.line, write.offset, write.data)

    def memory(self, write: MemoryWrite) -> bytes:
        """A byte a record."""
        return self._run("memory", write.line, write.address, write.data)

    def _run(self, kind: str, line: int, at: int, data: bytes) -> bytes:
        return as_text(kind, (self.frame, line, 0, np.arange(at, at + len(data)), np.frombuffer(data, np.uint8)))

    def transfer(self, write: Transfer) -> bytes:
        """Its head, and a record for each byte."""
        head = (self.frame, write.line, write.dot, write.address, write.step, len(write.data))
        return as_text("transfer", head) + as_text("byte", (self.frame, np.frombuffer(write.data, np.uint8)))


_MAKERS: dict[type, Callable[[_Maker, Any], bytes]] = {
    RegisterWrite: _Maker.register,
    PortWrite: _Maker.port,
    PaletteWrite: _Maker.palette,
    SpriteWrite: _Maker.sprite,
    MemoryWrite: _Maker.memory,
    Transfer: _Maker.transfer,
}
