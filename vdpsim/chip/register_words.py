"""The registers that a chip's file lists, or that the default map has, as words at addresses.

Law: a word has a name, bits and the fields that the file puts into it; an address is the file's or the next that is free. What
the fields mean, and which controls they set, is for ``registers.py``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import NamedTuple

from .controls import PICTURE_SIZE, Control, controls, once
from .line.places import cpu_places
from .model import Chip
from .tables.bits import Bits
from .tables.registers import (
    Access,
    HalfWrite,
    Others,
    RegisterFieldTable,
    RegistersTable,
    RegisterTable,
    others,
    words,
)
from .tables.table import Effect

DEFAULT_EFFECT: Effect = "at once"


class OnlyField(NamedTuple):
    """A field that has all bits of its register: what a ``RegisterFieldTable`` says, made without checks, which it passes."""

    bits: Bits
    of: Bits | None = None
    sets: tuple[str, ...] | None = None
    step: int | None = None
    reset: int | str | None = None
    effect: Effect | None = None

    def with_said(self, one: RegisterFieldTable | OnlyField) -> OnlyField:
        """This with what another word on the same field says, where it says something."""
        reset = self.reset if one.reset is None else one.reset
        return OnlyField(
            self.bits, None, one.sets or self.sets, one.step or self.step, reset, one.effect or self.effect
        )


class Word(NamedTuple):
    """A register as it is listed, or as the default map has it."""

    name: str
    bits: int
    address: int | None
    fields: Mapping[str, RegisterFieldTable | OnlyField]
    effect: Effect = DEFAULT_EFFECT
    access: Access = "read-back"
    half_write: HalfWrite = "counts"


def _words(chip: Chip) -> list[Word]:
    """The registers that the file lists."""
    return once(chip, "_words", lambda: _listed(chip))


def _listed(chip: Chip) -> list[Word]:
    listed = chip.registers
    if isinstance(listed, RegistersTable):
        return [_short(name, table) for name, table in listed.listed().items()]
    return [
        Word(one.name, one.bits, one.address, one.fields, one.effect, one.access, one.half_write or "counts")
        for _, one in words(listed or ())
    ]


def _short(name: str, table: RegisterTable) -> Word:
    """A register that holds one control and nothing else."""
    return Word(name, table.bits, table.address, {name: only_field(table)})


def _default(control: Control) -> Word:
    """The register of a control in the default map."""
    bits = max(1, (control.top // control.step).bit_length())
    effect: Effect = "next frame" if control.name == PICTURE_SIZE else DEFAULT_EFFECT
    return Word(control.name, bits, None, {control.name: OnlyField(whole_bits(bits))}, effect)


def placed_words(chip: Chip) -> list[tuple[Word, int]]:
    """All registers of the chip with their addresses: those listed, then those that others have by default."""
    known, listed = controls(chip), _words(chip)
    further = [known[name] for name in missing(chip)] if others_of(chip) == "default" else []
    if chip.registers is None:
        further = list(known.values())
    return [*_placed(listed), *_free(chip, listed, [_default(control) for control in further])]


def only_field(table: RegisterTable) -> OnlyField:
    """The field of a register of the short form, which has all its bits."""
    return OnlyField(whole_bits(table.bits), step=table.step, reset=table.reset, effect=table.effect)


def missing(chip: Chip) -> list[str]:
    """The controls that neither the listed registers nor the constants name; none where nothing is listed."""
    if chip.registers is None:
        return []
    named = {name for word in _words(chip) for key, one in word.fields.items() for name in one.sets or (key,)}
    return [name for name in controls(chip) if name not in named and name not in (chip.constants or {})]


def others_of(chip: Chip) -> Others | None:
    """What the file says of the controls that it does not name."""
    return None if chip.registers is None else others(chip.registers)


def _placed(listed: Sequence[Word]) -> list[tuple[Word, int]]:
    """The listed registers with their addresses."""
    found, free = [], 0
    for word in listed:
        address = free if word.address is None else word.address
        found.append((word, address))
        free = address + (word.bits + 7) // 8
    return found


def _free(chip: Chip, listed: Sequence[Word], further: Sequence[Word]) -> list[tuple[Word, int]]:
    """Further registers at the next free addresses after the last one listed; without any that is listed from 0 on.

    They keep clear of what is listed, of ports and of the status.
    """
    before = _placed(listed)
    taken = {address + byte for word, address in before for byte in range((word.bits + 7) // 8)}
    if chip.registers is not None:
        taken |= {first + byte for _, _, first, count in cpu_places(chip) for byte in range(count)}
    found, free = [], before[-1][1] + (before[-1][0].bits + 7) // 8 if before else 0
    for word in further:
        size = (word.bits + 7) // 8
        while not taken.isdisjoint(range(free, free + size)):
            free += 1
        found.append((word, free))
        free += size
    return found


@cache  # of 1 to 32 bits: many registers are alike, and ask for their width and mask
def whole_bits(width: int) -> Bits:
    """Bits ``width`` - 1 to 0."""
    return Bits(((width - 1, 0),))
