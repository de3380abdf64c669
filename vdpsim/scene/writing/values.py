"""Timed writes of values: registers, entries of the palette and ports, one value or one for each line.

Law: every value that a table can ever write is made here, as a number that its register, entry or port is then asked to take.
Knows no memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from ...chip.addresses import listens, writable
from ...chip.colour import word
from ...chip.controls import number_of
from ...chip.model import Chip
from ...chip.registers import Register, RegisterField, own_names, settable, unfit
from ...door.shown import value as shown
from ...state.writes import PaletteWrite, PortWrite, RegisterWrite
from ..contents.colours import channels, colour_word
from ..findings import Together, WrongError, none_of
from ..tables.timed import WriteTable
from ..tables.values import HEX_COLOUR
from ..writes import Draft

Given = TypeVar("Given")


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
