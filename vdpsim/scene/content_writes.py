"""Timed writes of what lies in memory: bytes, a pattern, a cell of a map or of a bitmap's colour cells.

Law: a write is bytes at an address; what a scene has not filled has no address and is not written. What hangs on a table that
has failed is left out without a word.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from ..chip.model import BitmapMode, TilesMode
from ..door.shown import value as shown
from ..state.writes import MemoryWrite
from .contents.assets import Assets
from .contents.cells import CellMaker
from .contents.dots import digits_per_dot
from .contents.formats import Format, formats
from .contents.grid import cell_number
from .contents.patterns import Patterns, inline
from .findings import Findings, Together, WrongError, none_of, one_of
from .tables.contents import CellTable
from .tables.timed import WriteTable
from .writes import Draft


class ContentWrites:
    """Resolves tables that write to memory; ``bases`` has the address of each part. Every method raises WrongError."""

    def __init__(self, findings: Findings, assets: Assets, patterns: Patterns, bases: dict[str, int]) -> None:
        self.findings, self.assets, self.patterns, self.bases = findings, assets, patterns, bases
        self.chip = findings.chip

    def memory(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        """Bytes at an address."""
        assert table.memory is not None
        each, size = Together(), self.chip.memory.size
        data = each(self._bytes, table)
        if data is None and table.memory >= size:  # with bytes, the write itself says how many lie beyond
            each.tell(f"must be an address of video memory, 0x0 to 0x{size - 1:X}, got 0x{table.memory:X}", "memory")
        each.done()
        return [MemoryWrite(0, table.memory, data)] if data is not None else []

    def _bytes(self, table: WriteTable) -> bytes:
        if table.raw is not None:
            return self.assets.raw(table.raw, "raw", table.offset, table.length)
        if table.bytes is not None:
            return bytes(table.bytes)
        assert table.fill is not None
        assert table.count is not None
        return bytes([table.fill]) * table.count

    def pattern(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        """The bytes of one pattern."""
        assert table.patterns is not None
        assert table.rows is not None
        target = table.target or self._owner(table.patterns)
        if target is None:
            return []
        each, look = Together(), self._look(target, table.rows)
        number = each(self._loaded, table.patterns, target, look)
        dots = each(inline, table.rows, look)
        if dots is not None and len(dots) != 1:
            each.tell(f"must be the {look.height} rows of one pattern, got {len(table.rows)}", "rows")
        each.done()
        if number is None or dots is None:
            return []
        one = self.patterns.sets[target]
        begin, parts = number * one.step_of(look.shape), look.packed(dots).reshape(len(one.owners), -1)
        stretches, each_of = (range(1), parts.shape[1]) if look.shape is None else look.shape.own
        return [
            MemoryWrite(0, self.bases[owner] + begin + at, data.tobytes())
            for owner, part in zip(one.owners, parts, strict=True)
            for at, data in zip(stretches, part.reshape(-1, each_of), strict=True)
        ]

    def _loaded(self, ref: int | str, target: str, look: Format) -> int | None:
        """The number of a pattern that is loaded; None where that hangs on a failed table."""
        number = self.patterns.number(target, ref, "patterns", shape=look.shape)
        if number is None or not all(owner in self.bases for owner in self.patterns.sets[target].owners):
            return None
        if not self.patterns.has(target, number, look.raster.size, look.shape):
            known = self.patterns.known(target)
            raise WrongError(f"must be a pattern that is loaded for {target}: {known}; got {number}", "patterns")
        return number

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

    def cell(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        """A cell of a map, or a colour cell."""
        assert table.map is not None
        assert table.cell is not None
        mode = self._mode(table.map)
        if isinstance(mode, TilesMode):
            key, what, size, each_bytes = "maps", "map", (mode.columns, mode.rows), mode.cell_bytes
            word = CellMaker(self.findings, self.patterns, table.map, mode, CellTable(), ()).checked
        else:
            from .contents.blocks import word as colour_word  # noqa: PLC0415 - few scenes have colour cells

            assert mode.colours is not None
            key, what, size, each_bytes = "colours", "colours", mode.blocks, mode.colours.cell_bytes
            word = partial(colour_word, mode.colours)
        each, base = Together(), self.bases.get(f"{table.map}.{what}")
        offset = each(_offset, table, mode, size)
        if base is None and self.findings.muted.isdisjoint({key, "bitmaps", "patterns"}):
            told = (
                "must be a map that the scene fills" if key == "maps" else "must have colour cells that the scene fills"
            )
            each.tell(f"{told}, got {shown(table.map)}", "map")
        cell = each(word, table.cell.told, "cell")
        each.done()
        if base is None or cell is None or offset is None:
            return []
        return [MemoryWrite(0, base + offset * each_bytes, cell.to_bytes(each_bytes, self.chip.memory.byte_order))]

    def _mode(self, target: str) -> TilesMode | BitmapMode:
        """The mode that ``target`` names, of tiles or with colour cells."""
        known = [*self.findings.targets("tiles"), *self.findings.coloured()]
        if target not in known:
            what = f"a tiles mode of {self.chip.name}, or a bitmap mode with colour cells"
            raise WrongError(none_of(target, known, what), "map")
        mode = self.findings.mode(target, "tiles", "bitmap")
        assert isinstance(mode, TilesMode | BitmapMode)
        return mode


def _offset(table: WriteTable, mode: TilesMode | BitmapMode, size: tuple[int, int]) -> int:
    """How many cells from the first the table's lies. Raises WrongError where there is none."""
    assert table.at is not None
    column, row = table.at
    if column >= size[0] or row >= size[1]:
        what = "cells" if isinstance(mode, TilesMode) else "blocks"
        raise WrongError(f"must be a column and row of {size[0]}x{size[1]} {what}, got {list(table.at)}", "at")
    return cell_number(mode, column, row) if isinstance(mode, TilesMode) else row * size[0] + column
