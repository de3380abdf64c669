"""The CPU's bytes: what a write to an address of its address space does.

Law: bytes, and whole registers, are decoded in the order of time, before anything is drawn; what comes out are the other
kinds of write, fields of registers among them, and the moments at which flags are cleared. Reads the state and changes
nothing but the ports and held bits that it is given.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..chip.line.places import address_bytes, entry_bytes, port_bytes
from ..chip.model import Chip, Port
from ..chip.registers import Register, registers, settable
from ..state.enact import Held, Latches
from ..state.state import State
from ..state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write
from .flags import Clear


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
            entry, byte = divmod(address, entry_bytes(self.chip))
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
