"""The twin's CPU side: what a byte written to a register, a port or the status means, and which flags are raised when.

Law: bytes become writes of registers, entries, memory, sprites and transfers, one after the other in order of time; nothing
here draws. Knows the chip's description, the state and the timed writes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from twin_picture import picture_of

from vdpsim.chip.model import Chip
from vdpsim.chip.registers import Register, RegisterField, field_names, registers
from vdpsim.chip.tables.bits import Bits
from vdpsim.state.state import State
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write

Made = RegisterWrite | PaletteWrite | MemoryWrite | SpriteWrite | Transfer
"""A write that is not a byte to the CPU's address space."""


@dataclass
class LineWrites:
    """What is written on a line, in order of time, and what a port puts off until the line is over."""

    now: list[Made] = field(default_factory=list)
    later: list[MemoryWrite | SpriteWrite] = field(default_factory=list)
    clears: list[tuple[int, int, int]] = field(default_factory=list)
    """(dot, bits of the status, groups) that the CPU clears."""


class CpuSide:
    """Ports and status while the chip runs."""

    def __init__(self, state: State) -> None:
        self.chip: Chip = state.chip
        self.picture = picture_of(state)
        self.ports = [list(port) for port in state.ports]
        self.status, self.collision_flags = state.status, state.collision_flags
        self.registers = list(registers(self.chip).values())
        self.fields = field_names(self.chip)
        self._wire(state)
        self.raised: list[tuple[int, int, str]] = []

    # What bytes mean

    def translate(self, line: int, writes: Iterable[Write], written: dict[str, int], palette: list[int]) -> LineWrites:
        """The writes of ``line`` with all bytes made out; ``written`` and ``palette`` are what was last written before it."""
        self.made = LineWrites()
        self.written, self.words = dict(written), list(palette)
        for write in sorted(writes, key=lambda write: write.dot):
            if isinstance(write, PortWrite):
                self._byte(write)
            else:
                self._made(write)
        return self.made

    def _made(self, write: Made) -> None:
        if isinstance(write, RegisterWrite):
            self._by_name(write)
            return
        if isinstance(write, PaletteWrite):
            self.words[write.entry : write.entry + len(write.words)] = write.words
        self.made.now.append(write)

    def _byte(self, write: PortWrite) -> None:
        for register in self.registers:
            first = 8 * (write.address - register.address)
            if 0 <= first < register.bits:
                bits = range(first, min(first + 8, register.bits))
                self._word(register, {bit: write.value >> bit - first & 1 for bit in bits}, write)
        for number, port in enumerate(self.chip.ports):
            place = write.address - port.address
            if 0 <= place < self._address_bytes(number):
                self.ports[number][0] = with_byte(self.ports[number][0], place, write.value)
            elif write.address == port.data:
                self._data(number, write)
            elif write.address == port.step:
                self.ports[number][1] = write.value
        status = self.chip.status
        if status and status.cleared == "write":
            if write.address == status.address:
                self.made.clears.append((write.dot, write.value, 0))
            elif write.address == status.groups:
                self.made.clears.append((write.dot, 0, write.value))

    # Registers, bit by bit

    def _wire(self, state: State) -> None:
        """Which bit of which register is which bit of which field, and what registers hold that no field has."""
        self.wires: list[dict[int, tuple[str, int]]] = [{} for _ in self.registers]
        self.waiting: list[dict[int, int]] = [{} for _ in self.registers]
        self.idle: list[dict[int, int]] = [{} for _ in self.registers]
        for one in self.fields.values():
            for part in one.parts:
                pairs = zip(numbers(part.bits), numbers(part.of), strict=True)
                self.wires[part.register].update({bit: (one.name, of) for bit, of in pairs})
        for number, (mask, word) in state.held.items():
            for bit in range(self.registers[number].bits):
                if mask >> bit & 1:
                    self.waiting[number][bit] = word >> bit & 1
                elif bit not in self.wires[number]:
                    self.idle[number][bit] = word >> bit & 1

    def held(self) -> dict[int, tuple[int, int]]:
        """What registers hold that no field has, as a state has it."""
        found = {}
        for number, (waiting, idle) in enumerate(zip(self.waiting, self.idle, strict=True)):
            mask = sum(1 << bit for bit in waiting)
            word = sum(value << bit for bit, value in [*waiting.items(), *idle.items()])
            if mask or word:
                found[number] = mask, word
        return found

    def _by_name(self, write: RegisterWrite) -> None:
        if write.name in self.fields:
            self._set(self.fields[write.name], write.value, write)
            return
        register = next(one for one in self.registers if one.name == write.name)
        self._word(register, {bit: write.value >> bit & 1 for bit in range(register.bits)}, write)

    def _set(self, field: RegisterField, value: int, write: RegisterWrite | PortWrite) -> None:
        """A field gets a value, and nothing of it waits any more."""
        for wires, waiting in zip(self.wires, self.waiting, strict=True):
            for bit, (name, _) in wires.items():
                if name == field.name:
                    waiting.pop(bit, None)
        for control in field.controls:
            self.written[control] = value
        self.made.now.append(RegisterWrite(write.line, field.name, value, write.dot))

    def _word(self, register: Register, word: dict[int, int], write: RegisterWrite | PortWrite) -> None:
        """Some bits of a register are written."""
        number = self.registers.index(register)
        wires, waiting = self.wires[number], self.waiting[number]
        for bit, value in word.items():
            if bit not in wires:
                self.idle[number][bit] = value
        complete = any(bit // 8 == (register.bits - 1) // 8 for bit in word)
        for name in dict.fromkeys(name for name, _ in wires.values()):
            field = self.fields[name]
            mine = {bit: value for bit, value in word.items() if bit in wires and wires[bit][0] == name}
            split = len({part.register for part in field.parts}) > 1
            if register.half_write == "waits" and (split or not complete):
                waiting.update(mine)
                continue
            if register.half_write == "waits":
                mine = {bit: value for bit, value in waiting.items() if wires[bit][0] == name} | mine
            if mine:
                self._count(field, number, mine, write)

    def _count(self, field: RegisterField, number: int, mine: dict[int, int], write: RegisterWrite | PortWrite) -> None:
        """These bits of a register count, and with them what waits of the field."""
        raw = self.written[field.controls[0]] // field.step
        known = [(one, bit, value) for one, waiting in enumerate(self.waiting) for bit, value in waiting.items()]
        for one, bit, value in [*known, *((number, bit, value) for bit, value in mine.items())]:
            name, of = self.wires[one][bit]
            if name == field.name:
                raw = raw & ~(1 << of) | value << of
        self._set(field, min(raw * field.step, field.top), write)

    def _entry_bytes(self) -> int:
        return -(-self.chip.palette.word_bits // 8)

    def _size(self, number: int) -> int:
        """Bytes that the port reaches."""
        target, sprites = self.chip.ports[number].target, self.chip.sprites
        if target == "memory":
            return self.chip.memory.size
        if target == "palette":
            return self.chip.palette.entries * self._entry_bytes()
        assert sprites is not None
        return sprites.count * sprites.record_bytes

    def _address_bytes(self, number: int) -> int:
        """Bytes that the port's address has: as many as its target's last byte needs."""
        last, count = self._size(number) - 1, 1
        while last >= 1 << 8 * count:
            count += 1
        return count

    def _data(self, number: int, write: PortWrite) -> None:
        address, step = self.ports[number]
        size = self._size(number)
        self.ports[number][0] = (address + step) % size
        address %= size
        target, data = self.chip.ports[number].target, bytes([write.value])
        if target == "palette":
            entry, place = divmod(address, self._entry_bytes())
            word = with_byte(self.words[entry], place, write.value) & ((1 << self.chip.palette.word_bits) - 1)
            self._made(PaletteWrite(write.line, entry, (word,), write.dot))
        elif target == "memory" and self.chip.time:
            self._made(Transfer(write.line, address, data, write.dot))
        else:
            made = (MemoryWrite if target == "memory" else SpriteWrite)(write.line, address, data)
            if write.dot:
                self.made.later.append(made)
            else:
                self._made(made)

    # Flags

    def end_line(
        self,
        line: int,
        flag_line: int | None,
        *,
        drops: bool,
        collisions: list[tuple[int, int]],
        clears: list[tuple[int, int, int]],
    ) -> None:
        """All that was raised and cleared on ``line``, in order of time.

        ``flag_line`` is what the control ``line_flag`` names at dot 0; ``collisions`` are (dot, bits of both groups).
        """
        frame, status = self.chip.frame, self.chip.status
        bits = status.bits if status else {}
        flags = []
        if "line" in bits and flag_line == line:
            flags.append((0, bits["line"], "line"))
        if "picture_end" in bits and line == self.picture.height % frame.lines_per_frame:
            flags.append((0, bits["picture_end"], "picture_end"))
        if "dropped" in bits and drops:
            flags.append((0, bits["dropped"], "dropped"))
        if "collision" in bits and collisions:
            flags.append((min(collisions)[0], bits["collision"], "collision"))
        self.raised += [(line, dot, name) for dot, _, name in sorted(flags)]
        for now in range(frame.dots_per_line):
            for dot, bits_cleared, groups_cleared in clears:
                if dot == now:
                    self.status &= ~bits_cleared
                    self.collision_flags &= ~groups_cleared
            for dot, bit, _ in flags:
                if dot == now:
                    self.status |= 1 << bit
            for dot, groups in collisions:
                if dot == now:
                    self.collision_flags |= groups


def numbers(bits: Bits) -> list[int]:
    """The bit numbers of a layout, from the bit that counts least."""
    return [bit for high, low in reversed(bits.parts) for bit in range(low, high + 1)]


def with_byte(number: int, place: int, value: int) -> int:
    """``number`` with its byte ``place``, from the lowest, replaced."""
    return number & ~(0xFF << 8 * place) | value << 8 * place
