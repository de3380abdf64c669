"""The CPU's bytes: what a write to an address of its address space does.

Law: bytes are decoded in the order of time, before anything is drawn; what comes out are the other kinds of write and the
moments at which flags are cleared. Reads the state and changes nothing but the ports that it is given.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..chip.controls import registers
from ..chip.line.checks_time import address_bytes, entry_bytes, port_bytes
from ..chip.model import Chip, Port
from ..state.state import State
from ..state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write
from .flags import Clear


def decode(
    chip: Chip, state: State, ports: list[list[int]], writes: Iterable[Write]
) -> tuple[list[Write], list[Clear]]:
    """``writes``, in order of time, with every PortWrite replaced by what it does, and the clears among them.

    ``ports``: [address, step] of each port; they are counted on.
    """
    decoder = _Decoder(chip, state, ports)
    for write in writes:
        if isinstance(write, PortWrite):
            decoder.port_write(write)
        else:
            decoder.note(write)
    return decoder.found, decoder.clears


class _Decoder:
    """Decodes writes one after the other, and knows what those before have made of registers and palette."""

    def __init__(self, chip: Chip, state: State, ports: list[list[int]]) -> None:
        self.chip, self.state, self.ports = chip, state, ports
        self.found: list[Write] = []
        self.clears: list[Clear] = []
        self.registers = registers(chip)
        self.latest: dict[str, int] = {}
        self.palette: dict[int, int] = {}
        self.of_address = {
            register.address + byte: (register, byte)
            for register in self.registers.values()
            for byte in range((register.bits + 7) // 8)
        }

    def note(self, write: Write) -> None:
        """Pass on a write of another kind; later bytes build on it."""
        if isinstance(write, RegisterWrite):
            self.latest[write.name] = write.value
        elif isinstance(write, PaletteWrite):
            self.palette.update({write.entry + number: word for number, word in enumerate(write.words)})
        self.found.append(write)

    def port_write(self, write: PortWrite) -> None:
        """Do what the byte does."""
        if write.address in self.of_address:
            self._register(write)
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

    def _register(self, write: PortWrite) -> None:
        register, byte = self.of_address[write.address]
        name = register.name
        if name not in self.latest:
            number = self.state.names.index(name)
            self.latest[name] = self.state.next_frame.get(number, int(self.state.controls[number]))
        raw = self.latest[name] // register.step
        raw = (raw & ~(0xFF << 8 * byte)) | write.value << 8 * byte
        value = min((raw & (1 << register.bits) - 1) * register.step, register.top)
        self.note(RegisterWrite(write.line, name, value, write.dot))

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
