"""What a chip's registers, its constants and its controls must agree on.

Law: as in ``checks.py``, whose part this is: every check yields (place, message) and goes on. What is asked of a register in
the short form is asked of it as of a field.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from ..door.shown import meant
from ..door.shown import value as shown
from .controls import PICTURE_SIZE, Control, choices, controls, number_of, once
from .model import Chip
from .register_words import OnlyField, missing, only_field, others_of
from .registers import TOLD, names_of, registers, step_of, top_of
from .tables.bits import clashes
from .tables.registers import RegisterFieldTable, RegistersTable, RegisterWordTable, words

NAMED = 12
"""So many of the controls that are left out are named."""

Place = tuple[str | int, ...]
Found = Iterator[tuple[Place, str]]


class _Stated(NamedTuple):
    """A part of a field as the file states it: where, in which register, and by which table."""

    place: Place
    register: RegisterWordTable | None
    table: RegisterFieldTable | OnlyField


def check_registers(chip: Chip) -> Found:
    """Every disagreement of registers and constants with the controls, and of the registers among themselves."""
    wrong = [*_constants(chip), *_names(chip), *_fields(chip), *_complete(chip)]
    yield from wrong
    if not wrong and chip.registers is not None:
        yield from _addresses(chip)


def _constants(chip: Chip) -> Found:
    known, set_by = controls(chip), _setters(chip) if chip.constants else {}
    for name, value in (chip.constants or {}).items():
        if name not in known:
            yield ("constants", name), f"is no control of this chip; it has {', '.join(known)}{meant(name, known)}"
            continue
        if chip.registers is None or name in set_by:
            yield ("constants", name), "is a register already; a constant is for a control without one"
        control = known[name]
        number = number_of(control.names, value)
        if not 0 <= number <= control.top or number % control.step:
            may = f"0 to {control.top}{choices(control.names)} in steps of {control.step}"
            yield ("constants", name), f"must be {may}, got {shown(value)}"


def _setters(chip: Chip) -> dict[str, list[str]]:
    """For every control that is named the fields that set it."""
    found: dict[str, list[str]] = {}
    for key, parts in _stated(chip).items():
        sets = next((one.table.sets for one in parts if one.table.sets), (key,))
        for name in dict.fromkeys(sets):
            found.setdefault(name, []).append(key)
    return found


def place_of(chip: Chip, control: str) -> Place:
    """Where the file says what ``control`` is at reset: its constant, or the field that sets it; of a split one its first part.

    Raises KeyError for a control of which the file says nothing.
    """
    if control in (chip.constants or {}):
        return ("constants", control)
    return _stated(chip)[_setters(chip)[control][0]][0].place


def _stated(chip: Chip) -> dict[str, list[_Stated]]:
    """Every field that the file names, with its parts."""
    return once(chip, "_stated", lambda: _found_stated(chip))


def _found_stated(chip: Chip) -> dict[str, list[_Stated]]:
    listed = chip.registers
    if isinstance(listed, RegistersTable):
        return {
            name: [_Stated(("registers", name), None, only_field(table))] for name, table in listed.listed().items()
        }
    found: dict[str, list[_Stated]] = {}
    for number, word in words(listed or ()):
        for key, table in word.fields.items():
            found.setdefault(key, []).append(_Stated(("registers", number, "fields", key), word, table))
    return found


# The list of registers


def _names(chip: Chip) -> Found:
    """Registers of the list: their names, and what each says of its bits."""
    known, stated = controls(chip), _stated(chip)
    taken: dict[str, int] = {}
    told = 0
    for number, one in enumerate(chip.registers if isinstance(chip.registers, tuple) else ()):
        told += not isinstance(one, RegisterWordTable)
        if not isinstance(one, RegisterWordTable):
            if told > 1:
                yield ("registers", number, "others"), "is said already by an element before it"
            continue
        at = ("registers", number)
        if one.name in taken:
            yield (*at, "name"), f"register {taken[one.name]} is called {shown(one.name)} too"
        taken.setdefault(one.name, number)
        if (one.name in known or one.name in stated) and one.name not in one.fields:
            yield (*at, "name"), f"{shown(one.name)} is the name of a control or field that it does not hold"
        for message in clashes({key: table.bits for key, table in one.fields.items()}, one.bits):
            yield (*at, "fields"), message
        split = [key for key in one.fields if len(stated[key]) > 1]
        if one.half_write is not None and one.bits <= 8 and not split:
            yield (
                (*at, "half_write"),
                "is for a register of several bytes, or for one that holds a part of a split control",
            )
        if one.half_write is None and split:
            yield (*at, "half_write"), f'must be "counts" or "waits", as {shown(split[0])} is split over registers'


def _complete(chip: Chip) -> Found:
    """No control may be left out without a word."""
    left = missing(chip)
    if not left or others_of(chip) is not None:
        return
    where = (
        "have the key" if isinstance(chip.registers, RegistersTable) else "have an element [[registers]] with the key"
    )
    named = ", ".join(left[:NAMED]) + (f" and {len(left) - NAMED} more" if len(left) > NAMED else "")
    choice = 'others = "default" (each has a register of its own) or others = "wired" (each stays at its rest value)'
    yield (
        ("registers",),
        f"must {where} {choice}, as {len(left)} control{'s are' if len(left) > 1 else ' is'} not named: {named}",
    )


# Fields


def _fields(chip: Chip) -> Found:
    known, set_by = controls(chip), _setters(chip)
    for key, parts in _stated(chip).items():
        wrong = list(_sets(chip, key, parts))
        yield from wrong
        if (
            len(parts) > 1 or parts[0].table.of is not None
        ):  # else there is just one word on each thing, and all the bits
            yield from _told_twice(parts)
            yield from _parts(key, parts)
        yield from _of_frames(key, parts)
        if not wrong:
            yield from _values(known, key, parts)
    for name, setters in set_by.items():
        for one, other in pairwise(setters):
            yield _stated(chip)[other][0].place, f"sets {name}, which {shown(one)} sets already"


def _sets(chip: Chip, key: str, parts: list[_Stated]) -> Found:
    """A field has the name of its control, or a name of its own and controls that it sets."""
    known = controls(chip)
    listed = [one for one in parts if one.table.sets is not None]
    if key in known and not listed:
        return
    has = f"it has {', '.join(known)}"
    if key in known:
        for one in listed:
            yield (*one.place, "sets"), f"is for a field with a name of its own, but {key} is a control, and sets that"
    elif not listed:
        fields = isinstance(chip.registers, tuple)
        hint = "; a field with a name of its own needs `sets`" if fields else ""
        yield parts[0].place, f"is no control of this chip; {has}{hint}"
    for one in listed if key not in known else ():
        assert one.table.sets is not None
        for place, name in enumerate(one.table.sets):
            if name not in known:
                yield (*one.place, "sets", place), f"must be a control of this chip, got {shown(name)}; {has}"
            elif name in one.table.sets[:place]:
                yield (*one.place, "sets", place), f"names {name} twice"


def _of_frames(key: str, parts: list[_Stated]) -> Found:
    """A frame keeps the size that it begins with."""
    names = next((one.table.sets for one in parts if one.table.sets), (key,))
    if PICTURE_SIZE not in names:
        return
    said = [one.table.effect or (one.register and one.register.effect) for one in parts]
    if "next frame" not in said:
        told = f"must be 'next frame', as {PICTURE_SIZE} is that of a whole frame, got {said[0]!r}"
        yield (*parts[0].place, "effect"), told


def _told_twice(parts: list[_Stated]) -> Found:
    """What two parts of a field say must be the same."""
    for name in TOLD:
        said = [(one, it) for one in parts if (it := getattr(one.table, name)) is not None]
        for (_, first), (one, other) in pairwise(said):
            if first != other:
                yield (*one.place, name), f"must be as in the field's other part, {shown(first)}, got {shown(other)}"
    effects = dict.fromkeys(one.register.effect for one in parts if one.register is not None)
    if len(effects) > 1 and not any(one.table.effect for one in parts):
        yield (*parts[0].place, "effect"), f"must be said, as the registers of its parts have {' and '.join(effects)}"


def _parts(key: str, parts: list[_Stated]) -> Found:
    """The parts of a field hold each of its bits once, and somewhere a write counts."""
    held, whole = 0, True
    for one in parts:
        of = one.table.of
        if of is None:
            if len(parts) > 1:
                yield (
                    (*one.place, "of"),
                    f"must say which bits of {key} these are, as another register holds the others",
                )
                whole = False
            continue
        if of.width != one.table.bits.width:
            bits = f"{one.table.bits.width} bit{'s' if one.table.bits.width > 1 else ''}"
            yield (*one.place, "of"), f"must be {bits}, as `bits` are, got {shown(str(of))}"
        if of.highest > 31:
            yield (*one.place, "of"), f"must be bits 0 to 31, got {shown(str(of))}"
        if held & of.mask:
            yield (*one.place, "of"), f"names {_bits(held & of.mask)} of {key}, which another register holds"
        held |= of.mask
    gaps = ~held & (1 << held.bit_length()) - 1
    if held and whole and gaps:
        yield (
            (*parts[-1].place, "of"),
            f"no part holds {_bits(gaps)} of {key}: there must be none between bit 0 and its last",
        )
    waits = [one for one in parts if one.register and one.register.half_write == "waits"]
    if len(parts) > 1 and len(waits) == len(parts):
        place = waits[-1].place[:2]
        yield (
            (*place, "half_write"),
            f'must be "counts" for one of the registers at least over which {shown(key)} is split',
        )


def _bits(mask: int) -> str:
    numbers = [str(bit) for bit in range(mask.bit_length()) if mask >> bit & 1]
    return f"bit{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"


def _values(known: Mapping[str, Control], key: str, parts: list[_Stated]) -> Found:
    """The step of a field, and what it holds at reset."""
    names = next((one.table.sets for one in parts if one.table.sets), (key,))
    these = [known[name] for name in names]
    least = step_of(these)
    place, step = next(
        ((one.place, one.table.step) for one in reversed(parts) if one.table.step), (parts[0].place, least)
    )
    if step % least:
        yield (*place, "step"), f"must be a multiple of {least}, got {step}"
        return
    resets = [(one.place, one.table.reset) for one in parts if one.table.reset is not None]
    place, reset = resets[-1] if resets else (parts[0].place, these[0].rest)
    if not resets and len(these) > 1 and len({one.rest for one in these}) > 1:
        rests = ", ".join(f"{one.name} at {one.rest}" for one in these)
        yield (*place, "reset"), f"must be said, as its controls rest at different values: {rests}"
        return
    top, called = top_of(these, sum(one.table.bits.width for one in parts), step), names_of(these)
    number = number_of(called, reset)
    if not 0 <= number <= top or number % step:
        yield (*place, "reset"), f"must be 0 to {top}{choices(called)} in steps of {step}, got {shown(reset)}"


# Addresses


def _addresses(chip: Chip) -> Found:
    taken: dict[int, str] = {}
    numbers = [number for number, _ in words(chip.registers or ())]
    for name, register in registers(chip).items():
        listed = isinstance(chip.registers, tuple) and register.number < len(numbers)
        at: Place = ("registers", numbers[register.number] if listed else name, "address")
        last = register.address + register.size - 1
        if last > 0xFFFF:
            yield (
                at,
                f"must leave all of its bytes at 0xFFFF or below, got 0x{register.address:X} for {register.bits} bits",
            )
        for address in range(register.address, last + 1):
            if address in taken:
                message = f"byte 0x{address:02X} is taken by {taken[address]} already ({register.bits} bits from "
                yield at, f"{message}0x{register.address:02X})"
                break
            taken[address] = name
