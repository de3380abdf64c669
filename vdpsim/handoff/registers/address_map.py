"""Everything that a chip's CPU has an address for, as words with fields: registers, ports, status and collided groups.

Law: addresses, fields, resets and effects are those of ``chip/registers.py`` and ``chip/line/places.py``; here they are beside
each other and in words, for files of every kind. Knows no kind of file. A name is a path of words, which ``names.py`` makes a
name: a register's or a field's is one word, what the chip's file gives no name has two or more, so that both are told apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from ...chip.controls import controls, told
from ...chip.line.places import cpu_places, port_bytes
from ...chip.model import Chip, Port, Status
from ...chip.register_words import whole_bits
from ...chip.registers import Part, Register, RegisterField, field_names, registers, rest_values
from ...chip.tables.bits import Bits
from ...chip.tables.table import Effect

Software = Literal["rw", "r", "w"]
Hardware = Literal["rw", "r", "w", "na"]
Clearing = Literal["read", "write", "never"]

COUNTS: dict[Effect, str] = {
    "at once": "from the dot written on",
    "next line": "from dot 0 of the next line on",
    "next frame": "from line 0 of the next frame on",
}

NO_NAME = "no name"
"""The first word of what the chip's file says nothing of: with the numbers of the bits behind it, unlike a field's one word."""


class Field(NamedTuple):
    """Bits ``bits`` of a word, which are the bits ``of`` its own number (None: all of it, from bit 0).

    ``reset``: the word with these bits as they are at reset, None where they have no value of their own. ``software`` and
    ``hardware`` read and write it; ``cleared`` says what takes a flag away. ``names``: numbers that have a name. ``sets``: the
    controls, ``step`` in which units and ``top`` the largest number; ``said``: sentences.
    """

    words: tuple[str, ...]
    bits: Bits
    software: Software
    hardware: Hardware
    of: Bits | None = None
    reset: int | None = 0
    effect: Effect = "at once"
    cleared: Clearing = "never"
    strobes: bool = False
    names: tuple[tuple[int, str], ...] = ()
    sets: tuple[str, ...] = ()
    step: int = 1
    top: int | None = None
    said: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """What people call it."""
        return " ".join(self.words)

    @property
    def idle(self) -> bool:
        """Whether the chip makes nothing of it."""
        return self.words[0] == NO_NAME

    @property
    def reset_number(self) -> int | None:
        """Its bits at reset, as a number of their own."""
        return None if self.reset is None else int(self.bits.get(self.reset))


class Entry(NamedTuple):
    """A word of ``bits`` bits, 1 to 32, whose low byte stands at ``address``; ``half_write`` only where a file may say it."""

    words: tuple[str, ...]
    address: int
    bits: int
    software: Software
    fields: tuple[Field, ...]
    half_write: str | None = None
    said: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """What people call it."""
        return " ".join(self.words)

    @property
    def size(self) -> int:
        """Its bytes."""
        return (self.bits + 7) // 8

    @property
    def reset(self) -> int | None:
        """All of it at reset; None where a field has no value of its own."""
        values = [field.reset for field in self.fields]
        return None if None in values else sum(value or 0 for value in values)


def entries(chip: Chip) -> tuple[Entry, ...]:
    """All words, in the order of addresses."""
    found = [_register(chip, one) for one in registers(chip).values()]
    first = {place: (address, count) for place, _, address, count in cpu_places(chip)}
    for number, port in enumerate(chip.ports):
        found += _port(chip, port, first["ports", number, "address"][1])
    found += _status(chip, chip.status) if chip.status else []
    return tuple(sorted(found, key=lambda one: one.address))


def wired(chip: Chip) -> Iterator[tuple[str, str]]:
    """The controls that no field sets, each with the value that it has for good."""
    known, settable = controls(chip), field_names(chip)
    for name, value in rest_values(chip).items():
        if name not in settable:
            yield name, told(known[name].names, value)


# Registers


def _register(chip: Chip, one: Register) -> Entry:
    readable = one.access == "read-back"
    fields = [_field(chip, one, field, part) for field, part in one.holds]
    fields += [_unnamed(high, low, readable=readable) for high, low in runs(one.unnamed)]
    split = any(field.split for field, _ in one.holds)
    half = one.half_write if one.size > 1 or split else None
    said = [] if readable else ["Reads give 0."]
    said += [HALF_WRITE[half]] if half else []
    return Entry((one.name,), one.address, one.bits, "rw" if readable else "w", tuple(fields), half, tuple(said))


HALF_WRITE = {
    "counts": "A write to a part of a field counts by itself.",
    "waits": "A write to a part of a field waits until the highest byte is written; of a field that is split over registers, "
    "until a part is written whose register does not wait.",
}


def _field(chip: Chip, register: Register, field: RegisterField, part: Part) -> Field:
    whole = part.of == whole_bits(field.bits)
    top = field.top // field.step
    return Field(
        (field.name,),
        part.bits,
        "rw" if register.access == "read-back" else "w",
        "r",
        None if whole else part.of,
        part.bits.put(part.of.get(field.reset // field.step)),
        field.effect,
        names=tuple(
            (value // field.step, name)
            for value, name in enumerate(field.names)
            if value <= field.top and value % field.step == 0
        ),
        sets=field.controls,
        step=field.step,
        top=top,
        said=tuple(_said(chip, field, part, top, whole=whole)),
    )


def _said(chip: Chip, field: RegisterField, part: Part, top: int, *, whole: bool) -> Iterator[str]:
    known = controls(chip)
    if not whole:
        yield f"Bits {part.of} of {field.bits}."
    for name in field.controls:
        yield f"Sets {name}: {known[name].about}."
    if field.step > 1:
        yield f"One unit is {field.step}."
    if top < (1 << field.bits) - 1:
        yield f"Takes 0 to {top}; a larger number is kept as {top}."
    yield f"Counts {COUNTS[field.effect]}."


def _unnamed(high: int, low: int, *, readable: bool) -> Field:
    said = ("Kept as written, and does nothing.",) if readable else ("Does nothing.",)
    software: Software = "rw" if readable else "w"
    bits = Bits(((high, low),))
    return Field((NO_NAME, str(bits)), bits, software, "na" if readable else "r", said=said)


def runs(mask: int) -> Iterator[tuple[int, int]]:
    """The highest and lowest bit of each run of ones, from the highest run on."""
    while mask:
        high = mask.bit_length() - 1
        low = (~mask & (1 << high) - 1).bit_length()
        yield high, low
        mask &= (1 << low) - 1


# Ports and status


def _port(chip: Chip, port: Port, count: int) -> Iterator[Entry]:
    """The words of a port: its address has ``count`` bytes."""
    where, reach = ("port", port.target), port_bytes(chip, port)
    said = f"Where in the {reach} bytes of the {WHAT[port.target]} the next byte of data is; counts on by the step, modulo that."
    bits = whole_bits(8 * count)
    at = Field((port.target, "address"), bits, "w", "rw", said=(said,))
    each = ("counts", ("Each byte of it counts by itself.",)) if count > 1 else (None, ())
    yield Entry((*where, "address"), port.address, 8 * count, "w", (at,), *each)
    said = f"The byte of the {WHAT[port.target]} at the port's address, which each access moves on by the step."
    data = Field(
        (port.target, "byte"), whole_bits(8), "rw", "rw", reset=None, strobes=True, said=(said, LANDS[port.target])
    )
    yield Entry((*where, "data"), port.data, 8, "rw", (data,))
    if port.step is not None:
        step = Field(
            (port.target, "step"), whole_bits(8), "w", "r", reset=port.advance, said=("What the address counts on by.",)
        )
        yield Entry((*where, "step"), port.step, 8, "w", (step,))


WHAT = {"memory": "video memory", "palette": "palette", "sprites": "sprite table"}
LANDS = {
    "memory": "Written, it lands in the CPU's next slot; without a time table before dot 0 of the line or, where that is over, "
    "of the next.",
    "palette": "Written, it counts at once.",
    "sprites": "Written, it counts from dot 0 of the line on or, where that is over, of the next.",
}
FLAG = {
    "line": "Raised at dot 0 of the line that line_flag names.",
    "picture_end": "Raised at dot 0 of the line after the picture's last, of line 0 where there is none.",
    "dropped": "Raised at dot 0 of a line that drops a sprite.",
    "collision": "Raised at the leftmost dot of a line's collisions.",
}


def _status(chip: Chip, status: Status) -> Iterator[Entry]:
    software: Software = "r" if status.cleared == "read" else "rw"
    cleared = "Cleared by reading." if status.cleared == "read" else "Cleared by writing 1 to the bit."

    def flag(name: tuple[str, ...], bit: int, said: str) -> Field:
        last = "Of a raise and a clear at one instant the raise comes after."
        return Field(name, Bits(((bit, bit),)), software, "w", cleared=status.cleared, said=(said, cleared, last))

    flags = tuple(flag((name,), bit, FLAG[name]) for name, bit in status.bits.items())
    flags = flags or (Field((NO_NAME, "7:0"), whole_bits(8), "r", "na", said=("Reads give 0.",)),)
    yield Entry(("status", "flags"), status.address, 8, software, flags)
    if status.groups is not None and chip.collisions:
        names = enumerate(chip.collisions.groups)
        groups = tuple(
            flag((name,), bit, f"Raised at the leftmost dot where a sprite of {name} collides.") for bit, name in names
        )
        yield Entry(("status", "groups"), status.groups, 8, software, groups)
