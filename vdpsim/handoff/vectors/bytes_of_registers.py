"""Registers as the CPU's bytes: which writes over the bus bring registers where the model has them.

Law: what bytes do is asked of the latches, which the engine asks too; bytes that would do something else than is wanted are
not offered. Knows no frame and no time but whether a write falls within a line of the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ...chip.registers import Register, RegisterField, registers
from ...state.enact import Latches
from ...state.state import State

Bytes = list[tuple[int, int]]
"""Addresses of the CPU's, each with the byte that is written there, in order."""


class Bus:
    """A chip's registers while bytes are written to them one after the other, from ``state`` on."""

    def __init__(self, state: State) -> None:
        self.chip = state.chip
        self.latches = Latches(state, dict(state.held))
        self.known = list(registers(state.chip).values())
        self.places = {one.address + byte: (one, byte) for one in self.known for byte in range(one.size)}

    def write(self, address: int, byte: int) -> list[tuple[RegisterField, int]]:
        """The CPU writes a byte: the fields that this sets, and to what."""
        return _written(self.latches, self.places, address, byte)

    def tried(self, pairs: Iterable[tuple[int, int]]) -> tuple[Latches, list[tuple[RegisterField, int]]]:
        """What bytes would make of the registers, and which fields they would set, and to what."""
        trial = self.latches.fork()
        return trial, [one for pair in pairs for one in _written(trial, self.places, *pair)]

    def bring(self, now: State) -> Bytes:
        """The bytes that make the registers hold what ``now`` holds, on the way to a frame's beginning; they are written.

        First registers that wait for others, then those that count, each from its lowest byte on; where a number on the way
        would be cut, all are set to 0 before. At last what waits in this very moment, from the highest byte on.
        """
        wanted = Latches(now, dict(now.held))
        words = {one.number: wanted.word(one) for one in self.known}
        settled = Latches(now, {number: (0, bits & ~waiting) for number, (waiting, bits) in now.held.items()})
        counts = {one.number: settled.word(one) for one in self.known}
        order = sorted(self.known, key=lambda one: one.half_write == "counts")
        plain = [pair for one in order for pair in bytes_of(one, counts[one.number])]
        zeros = [pair for one in order for pair in bytes_of(one, 0)]
        left = [
            pair
            for one in self.known
            for pair in reversed(bytes_of(one, words[one.number], now.held.get(one.number, (0, 0))[0]))
        ]
        ways = ([*plain, *left], [*zeros, *plain, *left])
        found = next((pairs for pairs in ways if _alike(self.tried(pairs)[0], wanted, self.known)), ways[-1])
        self.latches, _ = self.tried(found)
        return found

    def field(self, field: RegisterField, value: int, *, within: bool) -> Bytes | None:
        """The bytes that set ``field`` as the model does that sets it by its name, and nothing else; None where none do.

        ``within``: the write falls within a line of the picture, where one that counts at once is told apart from none.
        """
        wanted = self.latches.fork()
        wanted.set(field, value)
        holding = sorted(field.parts, key=lambda part: self.known[part.register].half_write == "counts")
        pairs: Bytes = []
        for part in holding:
            register = self.known[part.register]
            # A register whose bytes wait acts with the last of them: that one is written even where the field has no bit in it.
            last = 0xFF << 8 * (register.size - 1) if register.half_write == "waits" and not field.split else 0
            pairs += bytes_of(register, wanted.word(register), part.bits.mask | last)
        return self._offered(pairs, wanted, [field], within=within)

    def whole(self, register: Register, word: int, *, within: bool) -> Bytes | None:
        """The bytes that write all of ``register`` as the model does that writes it as one; None where none do."""
        wanted = self.latches.fork()
        set_ = [field for field, _ in wanted.write(register, register.top, word)]
        return self._offered(bytes_of(register, word), wanted, set_, within=within)

    def _offered(self, pairs: Bytes, wanted: Latches, meant: Sequence[RegisterField], *, within: bool) -> Bytes | None:
        """``pairs``, where they come to ``wanted`` without a write that is not meant and shows; the registers hold that then."""
        trial, did = self.tried(pairs)
        names = {field.name for field in meant}
        others = [field for field, _ in did if field.name not in names]
        touched = {part.register for field in (*meant, *others) for part in field.parts}
        touched |= {self.places[address][0].number for address, _ in pairs}
        shows = within and any(field.effect == "at once" for field in others)
        good = not shows and _alike(trial, wanted, [self.known[number] for number in touched])
        self.latches = trial if good else wanted
        return pairs if good else None


def _alike(one: Latches, other: Latches, these: Iterable[Register]) -> bool:
    """Whether ``these`` registers hold the same in both, and will do the same with whatever is written."""
    return all(
        one.word(each) == other.word(each) and all(one.last(field) == other.last(field) for field, _ in each.holds)
        for each in these
    )


def _written(
    latches: Latches, places: dict[int, tuple[Register, int]], address: int, byte: int
) -> list[tuple[RegisterField, int]]:
    """Do a byte to ``latches``; nothing where no register has the address."""
    if address not in places:
        return []
    register, place = places[address]
    return list(latches.write(register, register.bytes_from(place), byte << 8 * place))


def bytes_of(register: Register, word: int, mask: int = -1) -> Bytes:
    """The bytes of a register that have a bit of ``mask``, the lowest first."""
    return [
        (register.address + byte, word >> 8 * byte & 0xFF) for byte in range(register.size) if mask >> 8 * byte & 0xFF
    ]
