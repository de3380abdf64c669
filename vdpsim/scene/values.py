"""Values that a scene sets: of registers at its beginning, and in timed writes of registers, palette entries and ports.

Law: at the beginning a field is set once, by one of its names, or by whole registers that each hold a part of it; a second value
is a mistake. What is set is in force from the beginning, whatever an effect or a half write says. Addresses that the file leaves
out are for ``layout.py``. Every value that a table of writes can ever write, one or one for each line, is made here, as a number
that its register, entry or port is then asked to take. Knows no memory.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from ..chip.colour import word
from ..chip.controls import number_of
from ..chip.model import Chip
from ..chip.registers import Register, RegisterField, own_names, settable, unfit
from ..door.shown import value as shown
from ..state.writes import PaletteWrite, PortWrite, RegisterWrite
from .findings import Findings, Together, WrongError, none_of
from .tables.timed import WriteTable
from .tables.values import HEX_COLOUR, channels, colour_word
from .writes import Draft

Given = TypeVar("Given")


@dataclass(eq=False, repr=False)
class Starting:
    """By control the values that the file sets; by a register's number its bits that no field names."""

    values: dict[str, int] = field(default_factory=dict)
    held: dict[int, tuple[int, int]] = field(default_factory=dict)


def starting(findings: Findings, given: Mapping[str, int | str]) -> Starting:
    """What ``given``, the file's registers, sets; mistakes become problems."""
    found, setter = Starting(), _Setter(findings)
    known = settable(findings.chip)
    for name, value in given.items():
        if name not in known:
            told = none_of(name, own_names(findings.chip), f"a register of {findings.chip.name}")
            findings.tell(("registers", name), told)
            continue
        one = known[name]
        reason, number = unfit(one, value), number_of(one.names, value)
        if reason:
            findings.tell(("registers", name), reason)
        elif isinstance(one, Register):
            for of, part in one.holds:
                setter.set(name, of, part.of.mask, part.of.put(part.bits.get(number)))
            if number & one.unnamed:
                found.held[one.number] = 0, number & one.unnamed
        else:
            # -1: all bits of the field, however many it has.
            setter.set(name, one, -1, number // one.step)
    for each, raw in setter.raw.values():
        found.values.update(dict.fromkeys(each.controls, each.value(raw)))
    return found


class _Setter:
    """Fields' raw numbers as they are set, and by which name."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.raw: dict[str, tuple[RegisterField, int]] = {}
        self.set_by: dict[str, list[tuple[int, str]]] = {}

    def set(self, name: str, of: RegisterField, mask: int, raw: int) -> None:
        """``name`` sets the bits ``mask`` of a field's raw number, where nothing has set one of them before."""
        before = self.set_by.setdefault(of.name, [])
        first = next((other for bits, other in before if bits & mask), None)
        if first is not None:
            told = f"sets {of.name}, which {shown(first)} sets already: a field is set once"
            self.findings.tell(("registers", name), told)
            return
        before.append((mask, name))
        _, rest = self.raw.get(of.name, (of, of.reset // of.step))
        self.raw[of.name] = of, rest & ~mask | raw


class ValueWrites:
    """Resolves tables that write values. Every method raises WrongError."""

    def __init__(self, chip: Chip) -> None:
        self.chip = chip

    def register(self, table: WriteTable, lines: Sequence[int]) -> list[Draft]:
        """A field or a whole register gets values."""
        assert table.control is not None
        each, one = Together(), settable(self.chip).get(table.control)
        if one is None:
            known = own_names(self.chip)
            raise WrongError(none_of(table.control, known, f"a register of {self.chip.name}"), "register")
        if table.value is not None:
            values: Sequence[int] = (register_value(one, table.value, "value"),)
        elif table.values is not None:
            values = _numbers(
                table, table.values, lines, "values", lambda given, _: register_value(one, given, "values")
            )
        else:
            ends = (("from", table.first), ("to", table.last))
            first, last = (each(register_value, one, given, key) for key, given in ends if given is not None)
            each.done()
            assert first is not None
            assert last is not None
            values = evenly(first, last, len(lines))
        return [RegisterWrite(0, table.control, value, table.dot) for value in values]

    def palette(self, table: WriteTable, lines: Sequence[int]) -> list[Draft]:
        """Entries from one on get colours."""
        assert table.entry is not None
        each, entries = Together(), self.chip.palette.entries
        if table.entry >= entries:
            each.tell(f"must be an entry, 0 to {entries - 1}, got {table.entry}", "entry")
        groups = each(self._colours, table, lines)
        each.done()
        return [PaletteWrite(0, table.entry, group, table.dot) for group in groups or ()]

    def _colours(self, table: WriteTable, lines: Sequence[int]) -> list[tuple[int, ...]]:
        """The packed words of each write."""
        palette = self.chip.palette
        if table.colour is not None:
            return [(colour_word(palette, table.colour, "colour"),)]
        if table.colours is None:
            return self._blend(table, len(lines))
        loose = table.lines is None
        if loose and table.advance:
            raise WrongError("needs lines", "advance")
        words = _numbers(
            table,
            table.colours,
            None if loose else lines,
            "colours",
            lambda colour, at: colour_word(palette, colour, "colours", at),
        )
        return [tuple(words)] if loose else [(one,) for one in words]

    def _blend(self, table: WriteTable, count: int) -> list[tuple[int, ...]]:
        """Colours at even distances from one to another."""
        each, ends = Together(), []
        for key, value in (("from", table.first), ("to", table.last)):
            if isinstance(value, str) and HEX_COLOUR.fullmatch(value):
                ends.append(channels(value))
            else:
                each.tell(f'must be a colour such as "#1a2b3c", got {shown(value)}', key)
        each.done()
        parts = [evenly(first, last, count) for first, last in zip(*ends, strict=True)]
        return [(word(self.chip.palette, rgb),) for rgb in zip(*parts, strict=True)]

    def port(self, table: WriteTable, lines: Sequence[int]) -> list[Draft]:
        """The CPU writes bytes to an address."""
        from ..chip.addresses import listens, writable  # noqa: PLC0415 - for writes to ports alone

        assert table.port is not None
        each = Together()
        if not listens(self.chip, table.port):
            listening = writable(self.chip)
            told = f"must be an address where {self.chip.name} listens: {listening}; got 0x{table.port:02X}"
            each.tell(told, "port")
        values = each(self._bytes, table, lines)
        each.done()
        return [PortWrite(0, table.port, value, table.dot) for value in values or ()]

    @staticmethod
    def _bytes(table: WriteTable, lines: Sequence[int]) -> Sequence[int]:
        if table.value is not None:
            return (_byte(table.value, "value"),)
        assert table.values is not None
        if table.lines is None and table.advance:
            raise WrongError("needs lines", "advance")
        on = None if table.lines is None else lines
        return _numbers(table, table.values, on, "values", lambda value, _: _byte(value, "values"))


def register_value(register: RegisterField | Register, value: int | str, *sub: str) -> int:
    """The number that ``value`` stands for in ``register``. Raises WrongError, at ``sub``, for a text that names none."""
    reason = unfit(register, value) if isinstance(value, str) else None
    if reason:
        raise WrongError(reason if register.names else f"must be a whole number, got {shown(value)}", *sub)
    return number_of(register.names, value)


def _byte(value: int | str, key: str) -> int:
    if isinstance(value, str):
        raise WrongError(f"must be a byte, 0 to 255, for a port, got {shown(value)}", key)
    return value


def _numbers(
    table: WriteTable,
    given: Sequence[Given],
    lines: Sequence[int] | None,
    key: str,
    number: Callable[[Given, int], int],
) -> list[int]:
    """The ``number`` of each of ``given`` and its place; ``lines``: on which one each is written, None for no such limit.

    Raises WrongError for those that have none and, at ``key``, for more than there are lines.
    """
    each = Together()
    if lines is not None and len(given) > len(lines) and not table.advance:
        told = f"must be at most one for each of {len(lines)} lines (more only with advance), got {len(given)}"
        each.tell(told, key)
    found = [each(number, one, at) for at, one in enumerate(given)]
    each.done()
    return [one for one in found if one is not None]


def evenly(first: int, last: int, count: int) -> list[int]:
    """``count`` whole numbers from ``first`` to ``last`` at even distances, rounded half up.

    >>> evenly(0, 3, 3), evenly(5, 9, 1)
    ([0, 2, 3], [5])
    """
    if count == 1:
        return [first]
    span = count - 1
    return [(2 * (first * span + (last - first) * place) + span) // (2 * span) for place in range(count)]
