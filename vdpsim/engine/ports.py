"""What passes between the CPU and a chip that draws: bytes that it writes, by address, and flags that it is shown.

Law: bytes, and whole registers, are decoded in the order of time, before anything is drawn; what comes out are the other
kinds of write, fields of registers among them, and the moments at which flags are cleared. What is raised follows from the lines
drawn; raises and clears act in order of time, and of the two at one instant the raise comes after. Draws nothing; reads the
state, and changes nothing but the ports and held bits that it is given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ..chip.line.places import address_bytes, entry_bytes, port_bytes
from ..chip.model import Chip, Port
from ..chip.registers import Register, registers, settable
from ..state.enact import Held, Latches
from ..state.state import State
from ..state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write
from .frame import RAISED, Result
from .plan import Plan
from .timeline import Program, Timeline

Touched = Callable[[], npt.NDArray[np.int64]]


class Clear(NamedTuple):
    """At ``line``, ``dot`` the CPU clears these bits of the status and of the collided groups."""

    line: int
    dot: int
    status: int
    groups: int


def raised(plan: Plan, state: State, program: Program, result: Result, touched: Touched, last: int) -> npt.NDArray[Any]:
    """The flags raised on the lines from ``state.line`` up to but not including ``last``, as RAISED.

    ``touched()`` int64 (n, 3): line, dot and bits of the groups that collide there, in order.
    """
    status = plan.chip.status
    if status is None or state.line >= last:
        return np.empty(0, RAISED)
    lines = np.arange(state.line, last)
    found: dict[str, list[tuple[int, int]]] = {}
    if status.line is not None:
        timeline = Timeline(plan, state, program, state.line, last)
        wanted = timeline.control("line_flag")[timeline.row_of_line]
        found["line"] = [(int(line), 0) for line in lines[wanted == lines]]
    end = plan.height % plan.chip.frame.lines_per_frame  # no line below the picture: line 0 of the next frame
    found["picture_end"] = [(end, 0)] if state.line <= end < last else []
    found["dropped"] = [(int(line), 0) for line in sorted(set(result.drops["line"].tolist()))]
    places = touched()
    leftmost = np.unique(places[:, 0], return_index=True)[1]
    found["collision"] = [(line, dot) for line, dot, _ in places[leftmost].tolist()]
    order = [(line, dot, bit, name) for name, bit in status.bits.items() for line, dot in found[name]]
    return np.array([(line, dot, name) for line, dot, _, name in sorted(order)], RAISED)


def settle_flags(chip: Chip, state: State, result: Result, touched: Touched, clears: Sequence[Clear]) -> None:
    """Bring ``state.status`` and ``state.collision_flags`` up to the end of the lines drawn; ``touched`` as for ``raised``."""
    events: list[tuple[int, int, int, int, int]] = [
        (clear.line, clear.dot, 0, clear.status, clear.groups) for clear in clears
    ]
    bits = chip.status.bits if chip.status else {}
    events += [(line, dot, 1, 1 << bits[flag], 0) for line, dot, flag in result.raised.tolist()]
    if not clears:  # then it does not matter who touched when, which takes long to find out
        state.collision_flags |= result.collision_flags
    else:
        events += [(line, dot, 1, 0, groups) for line, dot, groups in touched().tolist()]
    for _, _, rises, status, groups in sorted(events):
        if rises:
            state.status |= status
            state.collision_flags |= groups
        else:
            state.status &= ~status
            state.collision_flags &= ~groups


def decode(
    chip: Chip, state: State, ports: list[list[int]], held: Held, writes: Iterable[Write]
) -> tuple[list[Write], list[Clear]]:
    """``writes``, in order of time, with what is written by byte or by register replaced by what it does, and the clears.

    ``ports``: [address, step] of each port; they are counted on. ``held``: what registers hold that no control has; it is
    brought up to the end.
    """
    decoder = _Decoder(chip, state, ports, held)
    for write in writes:
        if isinstance(write, PortWrite):
            decoder.port_write(write)
        else:
            decoder.note(write)
    return decoder.found, decoder.clears


class _Decoder:
    """Decodes writes one after the other, and knows what those before have made of registers and palette."""

    def __init__(self, chip: Chip, state: State, ports: list[list[int]], held: Held) -> None:
        self.chip, self.state, self.ports = chip, state, ports
        self.found: list[Write] = []
        self.clears: list[Clear] = []
        self.settable, self.latches = settable(chip), Latches(state, held)
        self.palette: dict[int, int] = {}
        self.of_address = {
            register.address + byte: (register, byte)
            for register in registers(chip).values()
            for byte in range(register.size)
        }

    def note(self, write: Write) -> None:
        """Pass on a write of another kind; later bytes build on it."""
        if isinstance(write, RegisterWrite):
            one = self.settable[write.name]
            if isinstance(one, Register):
                self._register(one, one.top, write.value, write)
                return
            self.latches.set(one, write.value)
        elif isinstance(write, PaletteWrite):
            self.palette.update({write.entry + number: word for number, word in enumerate(write.words)})
        self.found.append(write)

    def port_write(self, write: PortWrite) -> None:
        """Do what the byte does."""
        if write.address in self.of_address:
            register, byte = self.of_address[write.address]
            self._register(register, register.bytes_from(byte), write.value << 8 * byte, write)
            return
        for number, port in enumerate(self.chip.ports):
            state = self.ports[number]
            byte = write.address - port.address
            if 0 <= byte < address_bytes(self.chip, port):
                state[0] = (state[0] & ~(0xFF << 8 * byte)) | write.value << 8 * byte
            elif write.address == port.step:
                state[1] = write.value
            elif write.address == port.data:
                self._data(write, port, state[0] % port_bytes(self.chip, port))
                advance(self.chip, port, state)
        status = self.chip.status
        if status and status.cleared == "write":
            if write.address == status.address:
                self.clears.append(Clear(write.line, write.dot, write.value, 0))
            elif write.address == status.groups:
                self.clears.append(Clear(write.line, write.dot, 0, write.value))

    def _register(self, register: Register, mask: int, word: int, write: PortWrite | RegisterWrite) -> None:
        """The bits ``mask`` of a register are written as in ``word``: the fields that this sets."""
        for field, value in self.latches.write(register, mask, word):
            self.found.append(RegisterWrite(write.line, field.name, value, write.dot))

    def _data(self, write: PortWrite, port: Port, address: int) -> None:
        line = write.line
        if port.target == "memory" and self.chip.time:
            self.found.append(Transfer(line, address, bytes([write.value]), write.dot))
            return
        if port.target == "palette":
            entry, byte = divmod(address, entry_bytes(self.chip))  # the other bytes are as these writes have left them
            word = self.palette.get(entry, int(self.state.palette[entry]))
            word = (word & ~(0xFF << 8 * byte)) | write.value << 8 * byte
            word &= (1 << self.chip.palette.word_bits) - 1
            self.note(PaletteWrite(line, entry, (word,), write.dot))
            return
        line += bool(write.dot)  # after the last line: line 0 of the next frame, once these lines are over
        data = bytes([write.value])
        self.found.append(
            MemoryWrite(line, address, data) if port.target == "memory" else SpriteWrite(line, address, data)
        )


def advance(chip: Chip, port: Port, state: list[int]) -> None:
    """Count a port's address on by its step."""
    state[0] = (state[0] + state[1]) % port_bytes(chip, port)
