"""Timed writes as the file tells them, resolved against the chip and the scene's names.

Law: a table is resolved once, and every value that it can ever write is checked then; what is left is a TimedWrite. Tables
that lack what a failed table would have given are left out without a word.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..chip.addresses import listens, writable
from ..chip.colour import word
from ..chip.model import TilesMode
from ..chip.named import number_of
from ..chip.registers import Register, RegisterField, own_names, settable, unfit
from ..door.shown import value as shown
from ..state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, Transfer, fault
from .contents.assets import Assets
from .contents.cells import CellMaker, cell_offset
from .contents.colours import channels, colour_word
from .contents.dots import digits_per_dot
from .contents.formats import Format, formats
from .contents.patterns import Patterns, inline
from .contents.sprites import PATTERN_FIELDS, SpriteList, SpriteMaker
from .findings import Findings, WrongError, none_of, one_of
from .tables.contents import CellTable
from .tables.timed import WriteTable
from .tables.values import HEX_COLOUR
from .writes import Draft, SpriteDraft, TimedWrite


class WriteMaker:
    """Resolves tables of timed writes."""

    def __init__(
        self,
        findings: Findings,
        assets: Assets,
        patterns: Patterns,
        sprites: SpriteList,
        maker: SpriteMaker | None,
        bases: dict[str, int],
    ) -> None:
        self.findings, self.chip, self.assets = findings, findings.chip, assets
        self.patterns, self.sprites, self.maker, self.bases = patterns, sprites, maker, bases
        self._resolve: dict[str, Callable[[WriteTable, Sequence[int]], list[Draft]]] = {
            "register": self._register,
            "entry": self._palette,
            "sprite": self._sprite,
            "memory": self._memory,
            "patterns": self._pattern,
            "map": self._cell,
            "port": self._port,
        }

    def timed(self, table: WriteTable) -> list[TimedWrite]:
        """The table resolved, one write for each place that it writes to.

        None at all where a failed table hides what it needs. Raises WrongError where it cannot happen.
        """
        lines = self._lines(table)
        if table.by and self.chip.time is None:
            raise WrongError(f"needs a chip with a time table, to find slots in; {self.chip.name} has none", "by")
        kind = next(name for name in table.SOURCES if name in table.given)
        drafts = self._resolve[kind](table, lines)
        if table.by:
            drafts = [_transfer(draft, table) for draft in drafts]
        if kind == "port" and table.values is not None and table.line is not None:
            lines = [table.line] * len(drafts)  # one after the other, all on the one line
        for draft in drafts:
            reason = None if isinstance(draft, SpriteDraft) else fault(self.chip, draft)
            if reason:
                raise WrongError(reason, *self._culprit(table, kind))
        frames = table.frames if table.frame is None else range(table.frame, table.frame + 1)
        places, follows = [[draft] for draft in drafts] if kind == "patterns" else [drafts], self._follows(table)
        return [TimedWrite(tuple(lines), tuple(each), frames, table.advance, follows) for each in places if each]

    def _follows(self, table: WriteTable) -> bool:
        """Whether it writes a whole register with a part of a split field: what that sets hangs on the other parts."""
        one = settable(self.chip).get(table.control or "")
        return isinstance(one, Register) and any(field.split for field, _ in one.holds)

    def _lines(self, table: WriteTable) -> Sequence[int]:
        """The lines that the table writes on. Raises WrongError where a line or the dot lies outside the frame."""
        lines: Sequence[int] | None = table.lines if table.line is None else range(table.line, table.line + 1)
        assert lines is not None
        top = self.chip.frame.lines_per_frame - 1
        if lines[-1] > top:
            key = "lines" if table.line is None else "line"
            raise WrongError(f"must be lines of the frame, 0 to {top}, got {lines[-1]}", key)
        last_dot = self.chip.frame.dots_per_line - 1
        if table.dot > last_dot:
            raise WrongError(f"must be a dot of the line, 0 to {last_dot}, got {table.dot}", "dot")
        return lines

    @staticmethod
    def _culprit(table: WriteTable, kind: str) -> tuple[str, ...]:
        """The key that most likely holds the mistake: the value where there is one, else what is written to."""
        keys = ("value", "values", "from") if kind in {"register", "port"} else ("memory",)
        return tuple(key for key in keys if key in table.given)[:1] or (kind,)

    def _list(self, table: WriteTable, items: Sequence[int], lines: Sequence[int], key: str) -> Sequence[int]:
        if len(items) > len(lines) and not table.advance:
            raise WrongError(
                f"must be at most one for each of {len(lines)} lines (more only with advance), got {len(items)}", key
            )
        return items

    def _register(self, table: WriteTable, lines: Sequence[int]) -> list[Draft]:
        assert table.control is not None
        if table.control not in settable(self.chip):
            raise WrongError(
                none_of(table.control, own_names(self.chip), f"a register of {self.chip.name}"), "register"
            )
        register = settable(self.chip)[table.control]
        if table.value is not None:
            values: Sequence[int] = (register_value(register, table.value, "value"),)
        elif table.values is not None:
            numbers = [register_value(register, value, "values") for value in table.values]
            values = self._list(table, numbers, lines, "values")
        else:
            assert table.first is not None
            assert table.last is not None
            first, last = register_value(register, table.first, "from"), register_value(register, table.last, "to")
            values = evenly(first, last, len(lines))
        return [RegisterWrite(0, table.control, value, table.dot) for value in values]

    def _palette(self, table: WriteTable, lines: Sequence[int]) -> list[Draft]:
        assert table.entry is not None
        palette = self.chip.palette
        if table.entry >= palette.entries:
            raise WrongError(f"must be an entry, 0 to {palette.entries - 1}, got {table.entry}", "entry")
        if table.colour is not None:
            groups: list[tuple[int, ...]] = [(colour_word(palette, table.colour, "colour"),)]
        elif table.colours is not None:
            words = tuple(colour_word(palette, colour, "colours", at) for at, colour in enumerate(table.colours))
            if table.lines is None:
                if table.advance:
                    raise WrongError("needs lines", "advance")
                groups = [words]
            else:
                groups = [(one,) for one in self._list(table, words, lines, "colours")]
        else:
            ends = []
            for key, value in (("from", table.first), ("to", table.last)):
                if not isinstance(value, str) or not HEX_COLOUR.fullmatch(value):
                    raise WrongError(f'must be a colour such as "#1a2b3c", got {shown(value)}', key)
                ends.append(channels(value))
            parts = [evenly(a, b, len(lines)) for a, b in zip(*ends, strict=True)]
            groups = [(word(palette, rgb),) for rgb in zip(*parts, strict=True)]
        return [PaletteWrite(0, table.entry, group, table.dot) for group in groups]

    def _sprite(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        assert table.sprite is not None
        assert table.set is not None
        number = self.sprites.number(self.findings, table.sprite, "sprite")
        if number is None or self.maker is None:
            return []
        if not table.set.told:
            raise WrongError("names no field", "set")
        base = self.sprites.fields.get(number, {})
        changes = self.maker.fields(table.set.told, "set", base=base)
        if PATTERN_FIELDS & set(changes):
            self.maker.loaded({**base, **changes}, "set")
        return [SpriteDraft(0, number, tuple(changes.items()))] if changes else []

    def _memory(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        assert table.memory is not None
        if table.raw is not None:
            data = self.assets.raw(table.raw, "raw", table.offset, table.length)
        elif table.bytes is not None:
            data = bytes(table.bytes)
        else:
            assert table.fill is not None
            assert table.count is not None
            data = bytes([table.fill]) * table.count
        return [MemoryWrite(0, table.memory, data)]

    def _port(self, table: WriteTable, lines: Sequence[int]) -> list[Draft]:
        assert table.port is not None
        if not listens(self.chip, table.port):
            raise WrongError(
                f"must be an address where {self.chip.name} listens: {writable(self.chip)}; got 0x{table.port:02X}",
                "port",
            )
        if table.value is not None:
            values: Sequence[int] = (_byte(table.value, "value"),)
        else:
            assert table.values is not None
            if table.lines is None and table.advance:
                raise WrongError("needs lines", "advance")
            values = [_byte(value, "values") for value in table.values]
            values = values if table.lines is None else self._list(table, values, lines, "values")
        return [PortWrite(0, table.port, value, table.dot) for value in values]

    def _pattern(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        assert table.patterns is not None
        assert table.rows is not None
        target = table.target or self._owner(table.patterns)
        if target is None:
            return []
        look = self._look(target, table.rows)
        one = self.patterns.sets[target]
        number = self.patterns.number(target, table.patterns, "patterns", shape=look.shape)
        if number is None or not all(owner in self.bases for owner in one.owners):
            return []
        if not self.patterns.has(target, number, look.raster.size, look.shape):
            known = self.patterns.known(target)
            raise WrongError(f"must be a pattern that is loaded for {target}: {known}; got {number}", "patterns")
        dots = inline(table.rows, look)
        if len(dots) != 1:
            raise WrongError(f"must be the {look.height} rows of one pattern, got {len(table.rows)}", "rows")
        begin, parts = number * one.step_of(look.shape), look.packed(dots).reshape(len(one.owners), -1)
        stretches, each = (range(1), parts.shape[1]) if look.shape is None else look.shape.own
        return [
            MemoryWrite(0, self.bases[owner] + begin + at, data.tobytes())
            for owner, part in zip(one.owners, parts, strict=True)
            for at, data in zip(stretches, part.reshape(-1, each), strict=True)
        ]

    def _look(self, target: str, rows: Sequence[str]) -> Format:
        """The format of the pattern; a sprite's size is that of the rows."""
        sprites = self.chip.sprites
        if target == "sprites" and sprites:
            return formats(self.findings, target, (len(rows[0]) // (digits_per_dot(sprites.bits_per_dot)), len(rows)))
        return formats(self.findings, target, None)

    def _owner(self, ref: int | str) -> str | None:
        if isinstance(ref, int):
            raise WrongError("for is needed where patterns is a number", "patterns")
        name = ref.partition("+")[0]
        found = [target for target, one in self.patterns.sets.items() if one.named(name)]
        if len(found) > 1:
            raise WrongError(f"{shown(name)} is a name for {' and '.join(found)}: say which with for", "patterns")
        if not found and "patterns" not in self.findings.muted:
            names = [run.name for one in self.patterns.sets.values() for run in one.runs if run.name]
            raise WrongError(f"{one_of(names, 'the name of patterns')}, got {shown(ref)}", "patterns")
        return found[0] if found else None

    def _cell(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        assert table.map is not None
        assert table.cell is not None
        assert table.at is not None
        mode = self.findings.mode(table.map, "tiles", key="map")
        assert isinstance(mode, TilesMode)
        column, row = table.at
        if column >= mode.columns or row >= mode.rows:
            raise WrongError(
                f"must be a column and row of {mode.columns}x{mode.rows} cells, got {list(table.at)}", "at"
            )
        if f"{table.map}.map" not in self.bases:
            if self.findings.problems:
                return []
            raise WrongError(f"must be a map that the scene fills, got {shown(table.map)}", "map")
        try:
            cell = CellMaker(self.findings, self.patterns, table.map, mode, CellTable(), ()).checked(table.cell.told)
        except WrongError as wrong:
            raise WrongError(wrong.message, "cell", *wrong.sub) from None
        data = cell.to_bytes(mode.cell_bytes, self.chip.memory.byte_order)
        return [MemoryWrite(0, self.bases[f"{table.map}.map"] + cell_offset(mode, column, row), data)]


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


def _transfer(draft: Draft, table: WriteTable) -> Draft:
    """What goes to memory, as a transfer by the CPU."""
    assert isinstance(draft, MemoryWrite)
    return Transfer(draft.line, draft.address, draft.data, table.dot, table.step)


def evenly(first: int, last: int, count: int) -> list[int]:
    """``count`` whole numbers from ``first`` to ``last`` at even distances, rounded half up.

    >>> evenly(0, 3, 3), evenly(5, 9, 1)
    ([0, 2, 3], [5])
    """
    if count == 1:
        return [first]
    span = count - 1
    return [(2 * (first * span + (last - first) * place) + span) // (2 * span) for place in range(count)]
