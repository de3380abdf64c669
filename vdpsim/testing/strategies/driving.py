"""A CPU that drives a chip through its ports and registers, as a state machine of hypothesis.

Law: it does what a program could: bytes to addresses and bytes from them, while lines go by. Every step is one of hypothesis's
own, so that a failure prints as the shortest program that has it.
"""

from __future__ import annotations

from collections.abc import Iterable
from random import Random
from typing import ClassVar

from hypothesis import note
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from ...chip.addresses import Place, places
from ...chip.line.places import address_bytes
from ...chip.load import chip_text
from ...chip.model import Chip
from ...chip.registers import fields
from ...machine.machine import Machine
from ...output.frame import Frame
from .made.chances import randoms
from .made.chips import make_chip

MOST_TRIED = 20
"""Random chips that are tried for one with an address to write to."""

MOST_LINES = 40
"""Lines that go by in one step."""


def _addresses(found: Iterable[Place]) -> list[int]:
    """All addresses of places."""
    return [address for place in found for address in range(place.first, place.last + 1)]


def _with_addresses(random: Random) -> Chip:
    """A random chip, with an address to write to where one is found soon."""
    for _ in range(MOST_TRIED):
        chip = make_chip(random)
        if any(place.written for place in places(chip)):
            break
    note(f"# the chip file\n{chip_text(chip)}")
    return chip


class ChipDriver(RuleBasedStateMachine):
    """A CPU with a chip: it writes, reads and waits, in any order.

    ``chip``: the chip that is driven; None: a random one that has addresses to write to. Give a subclass more rules, or
    invariants of ``self.machine`` and of ``self.frame``, what was drawn last (None: nothing yet); its ``TestCase`` is what pytest
    and unittest run. Fetches that come too late do the damage that they do.

    >>> from vdpsim import load_chip
    >>> class Curlew(ChipDriver):
    ...     chip = load_chip("scenes/chips/curlew.chip.toml")
    ...     @invariant()
    ...     def nothing_is_lost(self):
    ...         assert self.frame is None or not len(self.frame.drops)
    >>> TestCurlew = Curlew.TestCase
    """

    chip: ClassVar[Chip | None] = None

    machine: Machine
    frame: Frame | None = None

    @initialize(data=st.data())
    def _begin(self, data: st.DataObject) -> None:
        mine = _with_addresses(data.draw(randoms())) if self.chip is None else self.chip
        self.machine = Machine(mine)
        self._written = _addresses(place for place in places(mine) if place.written)
        self._read = _addresses(place for place in places(mine) if place.read)

    @precondition(lambda self: self._written)
    @rule(data=st.data(), byte=st.integers(0, 255))
    def write(self, data: st.DataObject, byte: int) -> None:
        """A byte to an address at which the chip listens."""
        self.machine.write(data.draw(st.sampled_from(self._written), "address"), byte)

    @precondition(lambda self: self._read)
    @rule(data=st.data())
    def read(self, data: st.DataObject) -> None:
        """A byte from an address that can be read."""
        found = self.machine.read(data.draw(st.sampled_from(self._read), "address"))
        assert 0 <= found <= 255

    @precondition(lambda self: self.machine.chip.ports)
    @rule(data=st.data(), start=st.integers(0, 0xFFFF), values=st.binary(min_size=1, max_size=8))
    def fill(self, data: st.DataObject, start: int, values: bytes) -> None:
        """A port's address, low byte first, and then data from there on."""
        port = data.draw(st.sampled_from(self.machine.chip.ports), "port")
        for byte in range(address_bytes(self.machine.chip, port)):
            self.machine.write(port.address + byte, start >> 8 * byte & 0xFF)
        for value in values:
            self.machine.write(port.data, value)

    @rule(count=st.integers(1, MOST_LINES))
    def lines(self, count: int) -> None:
        """Lines go by, so many or as many as are left of the frame."""
        left = self.machine.chip.frame.lines_per_frame - self.machine.state.line
        self.frame = self.machine.lines(min(count, left), damage=True)

    @rule()
    def whole_frame(self) -> None:
        """The rest of the frame goes by."""
        self.frame = self.machine.frame(damage=True)

    @invariant()
    def registers_hold_what_they_can(self) -> None:
        """Each register's field holds a value that it takes."""
        machine = self.machine
        for field in fields(machine.chip).values():
            assert 0 <= machine.registers[field.name] <= field.top, field.name
