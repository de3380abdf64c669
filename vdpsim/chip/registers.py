"""A chip's registers: words at addresses, and the fields in them that set its controls.

Law: a *field* is what can be set: one control, or several that it sets alike; its bits stand in one register or are split
over several. A *register* is a word at an address. Both follow from what the chip's file lists or, where it lists nothing,
from its controls. Values are those of the control (an address in bytes, a line, an entry); a *raw* number is value / step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import lcm
from types import MappingProxyType
from typing import NamedTuple

from ..door.shown import value as shown
from .controls import PICTURE_SIZE, Control, choices, controls, number_of, once
from .model import Chip
from .register_words import OnlyField, Word, placed_words, whole_bits
from .tables.bits import Bits
from .tables.registers import Access, HalfWrite
from .tables.table import Effect

TOLD = ("sets", "step", "reset", "effect")
"""What is said of a field as a whole, by any of its parts."""


# Made dozens at a time as a chip is loaded: a named tuple takes a quarter of a frozen dataclass's time.
class Part(NamedTuple):
    """Bits ``bits`` of register number ``register`` are the bits ``of`` a field's raw number."""

    register: int
    bits: Bits
    of: Bits


class RegisterField(NamedTuple):
    """What sets ``controls``, all to one value; ``bits`` in all its ``parts``; ``effect`` says when a write counts.

    ``at once``: from the dot written. ``next line``: from dot 0 of the line after the one in which it is written.
    ``next frame``: from dot 0 of line 0 of the frame after. ``top`` is the largest value that it takes, in control units;
    ``names`` are its controls', where all have the same.
    """

    name: str
    controls: tuple[str, ...]
    bits: int
    reset: int
    effect: Effect
    step: int
    top: int
    parts: tuple[Part, ...]
    names: tuple[str, ...] = ()

    @property
    def split(self) -> bool:
        """Whether its bits stand in several registers."""
        return len(self.parts) > 1

    def value(self, raw: int) -> int:
        """The value of a raw number: the largest that the field takes, where it would be more."""
        return min(raw * self.step, self.top)


class Register(NamedTuple):
    """A word of ``bits`` bits, the low byte at ``address``; ``number`` in the chip's order; it ``holds`` parts of fields.

    ``half_write``: whether a write to a part of a field ``counts`` by itself, or ``waits`` for the rest of it.
    """

    name: str
    number: int
    address: int
    bits: int
    access: Access
    half_write: HalfWrite
    holds: tuple[tuple[RegisterField, Part], ...] = ()

    @property
    def step(self) -> int:
        """What a raw number is counted in."""
        return 1

    @property
    def names(self) -> tuple[str, ...]:
        """Raw numbers have none."""
        return ()

    @property
    def top(self) -> int:
        """The largest raw number."""
        return (1 << self.bits) - 1

    @property
    def size(self) -> int:
        """Its bytes."""
        return (self.bits + 7) // 8

    @property
    def reset(self) -> int:
        """Its bits at reset."""
        return sum(part.bits.put(part.of.get(field.reset // field.step)) for field, part in self.holds)

    @property
    def unnamed(self) -> int:
        """The bits that no field names, as a mask."""
        return self.top & ~sum(part.bits.mask for _, part in self.holds)

    def bytes_from(self, place: int) -> int:
        """The bits of its byte ``place``, as a mask."""
        return self.top & 0xFF << 8 * place


class _Resolved(NamedTuple):
    """Fields by their own names and by all of their names, and registers by theirs."""

    fields: Mapping[str, RegisterField]
    names: Mapping[str, RegisterField]
    registers: Mapping[str, Register]
    settable: Mapping[str, RegisterField | Register]


def fields(chip: Chip) -> Mapping[str, RegisterField]:
    """Every field of the chip by its own name (that of its control, where it has none), in the order of the registers."""
    return _resolved(chip).fields


def field_names(chip: Chip) -> Mapping[str, RegisterField]:
    """Every name by which something can be set, with the field that it sets: the fields' own and those of their controls.

    By the name of a control a field's values have the names that they have for that control.
    """
    return _resolved(chip).names


def registers(chip: Chip) -> Mapping[str, Register]:
    """The chip's registers by name, as its file lists them or, where it lists none, one for every control.

    In the default map a register has as many bits as its control needs, resets to its rest value, takes effect at once
    (``picture_size`` with the next frame) and follows the one before it at the next free byte address. A name that is also a
    field's means the field, where something is set.
    """
    return _resolved(chip).registers


def settable(chip: Chip) -> Mapping[str, RegisterField | Register]:
    """What can be set by name: fields by all their names, and after them the whole registers that have names of their own."""
    return _resolved(chip).settable


def own_names(chip: Chip) -> list[str]:
    """The names of what can be set, each thing once: fields, and after them whole registers."""
    known = field_names(chip)
    return [*fields(chip), *(name for name in registers(chip) if name not in known)]


def rest_values(chip: Chip) -> dict[str, int]:
    """Every control's value at reset, by name, in the controls' order."""
    known = controls(chip)
    values = {name: control.rest for name, control in known.items()}
    values.update({name: number_of(known[name].names, value) for name, value in (chip.constants or {}).items()})
    values.update({name: field.reset for field in fields(chip).values() for name in field.controls})
    return values


def unfit(one: RegisterField | Register, given: int | str) -> str | None:
    """Why ``given``, a value or its name, cannot be written to a field, or as a raw number to a register; None where it can."""
    value = number_of(one.names, given)
    if not 0 <= value <= one.top:
        return f"{one.name} takes 0 to {one.top}{choices(one.names)}, got {shown(given)}"
    if value % one.step:
        return f"{one.name} takes multiples of {one.step}, got {value}"
    return None


def names_of(known: Sequence[Control]) -> tuple[str, ...]:
    """What the controls' values are called, where it is the same for all."""
    return known[0].names if len(known) == 1 or len({one.names for one in known}) == 1 else ()


def step_of(known: Sequence[Control]) -> int:
    """The least step that all of the controls count in."""
    return known[0].step if len(known) == 1 else lcm(*(control.step for control in known))


def top_of(known: Sequence[Control], bits: int, step: int) -> int:
    """The largest value in steps that fits so many bits and that every control takes; one that wraps takes any."""
    tops = [control.top // step * step for control in known if not control.wraps]
    return min([((1 << bits) - 1) * step, *tops])


def _resolved(chip: Chip) -> _Resolved:
    return once(chip, "_registers", lambda: _resolve(chip))


def _resolve(chip: Chip) -> _Resolved:
    placed = placed_words(chip)
    known = controls(chip)
    found = _fields(known, [word for word, _ in placed])
    names = {**found, **{name: _called(field, known[name]) for field in found.values() for name in field.controls}}
    held = [
        Register(
            word.name,
            number,
            address,
            word.bits,
            word.access,
            word.half_write,
            tuple((found[key], part) for key in word.fields for part in found[key].parts if part.register == number),
        )
        for number, (word, address) in enumerate(placed)
    ]
    all_held = {one.name: one for one in held}
    whole = {name: one for name, one in all_held.items() if name not in names}
    return _Resolved(
        MappingProxyType(found),
        MappingProxyType(names),
        MappingProxyType(all_held),
        MappingProxyType({**names, **whole}),
    )


def _called(field: RegisterField, control: Control) -> RegisterField:
    """The field as it is known by the name of one of its controls: its values have that control's names."""
    return field if field.names == control.names else field._replace(names=control.names)


def _fields(known: Mapping[str, Control], placed: Sequence[Word]) -> dict[str, RegisterField]:
    """The fields in the order in which the registers name them first; what one part of a field says holds for all."""
    parts: dict[str, list[Part]] = {}
    told: dict[str, OnlyField] = {}
    for number, word in enumerate(placed):
        for key, one in word.fields.items():
            of = whole_bits(one.bits.width) if one.of is None else one.of
            parts.setdefault(key, []).append(Part(number, one.bits, of))
            told[key] = told.get(key, OnlyField(one.bits, effect=word.effect)).with_said(one)
    return {key: _field(known, key, tuple(parts[key]), said) for key, said in told.items()}


def _field(known: Mapping[str, Control], name: str, parts: tuple[Part, ...], said: OnlyField) -> RegisterField:
    """A field from what is said of it."""
    assert said.effect is not None
    names = said.sets or (name,)
    these = [known[one] for one in names]
    bits = sum([part.of.width for part in parts])
    step = said.step or step_of(these)
    called = names_of(these)
    reset = these[0].rest if said.reset is None else number_of(called, said.reset)
    return RegisterField(name, names, bits, reset, said.effect, step, top_of(these, bits, step), parts, called)


def at_sizes(chip: Chip) -> tuple[Chip, ...]:
    """The chip at each size of its picture that its registers let it have."""
    every, field = chip.each_size, field_names(chip).get(PICTURE_SIZE)
    if len(every) == 1:
        return every
    numbers = range(0, field.top + 1, field.step) if field else (rest_values(chip)[PICTURE_SIZE],)
    return tuple(every[number] for number in numbers)


def at_largest(chip: Chip) -> Chip:
    """The chip at the size with most dots that its registers let it have; of equals the first."""
    return max(at_sizes(chip), key=lambda one: one.frame.width * one.frame.height)
