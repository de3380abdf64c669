"""What the chip's registers hold as words: bits as they were last written, those that wait for the rest of a field among them.

Law: what a field is set to stands in the state's controls; here stands what does not count, or not yet: ``State.held`` has, for
registers by number, which of their bits wait, and the bits that wait or that no field names as they were last written. A
register with neither is not in it. Says what a write to a register sets; when that counts is for others.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..chip.registers import Part, Register, RegisterField, registers
from .state import State

Held = dict[int, tuple[int, int]]
"""By a register's number: the bits of it that wait, as a mask, and bits as last written that no control has."""


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
        if any(now):
            self.held[number] = now
        else:
            self.held.pop(number, None)


def _with(raw: int, part: Part, mask: int, word: int) -> int:
    """A field's raw number with the bits ``mask`` of a part of it, as they stand in a register's ``word``."""
    mask &= part.bits.mask
    if not mask:
        return raw
    changed: int = part.of.put(part.bits.get(mask))
    given: int = part.of.put(part.bits.get(word))
    return raw & ~changed | changed & given
