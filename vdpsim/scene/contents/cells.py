"""Maps and texts: what lies in memory cell by cell.

Law: a cell's word has just the fields that its layout names, each within its bits; a cell that the scene tells names a
pattern that is loaded. Every map starts as zeros; tables act in the order of the file.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ...chip.model import TextMode, TilesMode
from ...door.shown import value as shown
from ..findings import MOST_TOLD, Findings, Place, Together, WrongError, one_of
from ..tables.contents import CellTable, MapTable, TextTable
from .assets import Assets
from .dots import Dots
from .grid import Grid, lay, paged, room_of, text_lines, unpaged
from .match import Matched
from .patterns import Patterns


class CellMaker:
    """Makes the words of a tiles mode's cells, and tells what is wrong with each different cell once."""

    def __init__(
        self,
        findings: Findings,
        patterns: Patterns,
        target: str,
        mode: TilesMode,
        usual: CellTable,
        place: tuple[str | int, ...],
    ) -> None:
        """``usual`` are the fields of cells that do not say otherwise, for the table at ``place``."""
        self.findings, self.patterns, self.target, self.mode = findings, patterns, target, mode
        self.usual, self.place = usual.told, place
        self._made: dict[tuple[tuple[str, int | str], ...], int] = {}
        self._told: set[tuple[str, str]] = set()

    def word(self, told: Mapping[str, int | str], *sub: str | int) -> int:
        """The word of a cell that stands at ``sub`` of the table and names the fields ``told``; 0 for one that is wrong."""
        key = tuple(sorted(told.items()))
        if key not in self._made:
            self._made[key] = 0
            try:
                self._made[key] = self.checked({**self.usual, **told})
            except WrongError as wrong:
                for one in (wrong, *wrong.others):
                    name = str(one.sub[0])
                    where = ("set", name) if name in self.usual and name not in told else (*sub, name)
                    self._tell(where, one.message)
        return self._made[key]

    def _tell(self, where: tuple[str | int, ...], message: str) -> None:
        """Tell a mistake once, however many different cells make it, and not too many of them."""
        mistake = (str(where[-1]), message)
        if mistake not in self._told and len(self._told) < MOST_TOLD:
            self.findings.tell((*self.place, *where), message)
        self._told.add(mistake)

    def checked(self, fields: Mapping[str, int | str], *sub: str | int) -> int:
        """The word of a cell. Raises WrongError, at ``sub`` and each field, for all that does not fit."""
        each = Together()
        words = [each(self._field, name, value, *sub, name) for name, value in fields.items()]
        if "pattern" not in fields:
            each.tell("pattern is missing: neither the cell nor set names one", *sub, "pattern")
        each.done()
        return sum(filter(None, words))

    def usual_fits(self) -> None:
        """Tell what is wrong with the fields of cells that do not say otherwise, of a table whose own cells are not known."""
        for name, value in self.usual.items():
            try:
                self._field(name, value)
            except WrongError as wrong:
                self._tell(("set", name), wrong.message)

    def _field(self, name: str, value: int | str, *sub: str | int) -> int:
        """The bits of one field; none of a pattern that is unknown only because a table has failed. Raises WrongError."""
        layout = self.mode.cell.layout
        if name not in layout:
            raise WrongError(f"{one_of(layout, f'a field of the cells of {self.target}')}, got {shown(name)}", *sub)
        number = self.patterns.number(self.target, value, *sub) if name == "pattern" else int(value)
        if number is None:
            return 0
        if number > layout[name].top:
            raise WrongError(f"{name} must be 0 to {layout[name].top} in a cell of {self.target}, got {number}", *sub)
        if name == "pattern":
            self.loaded(number, *sub)
        word: int = layout[name].put(number)
        return word

    def loaded(self, number: int, *sub: str | int) -> None:
        """Raises WrongError, at ``sub``, where the pattern ``number`` is not loaded."""
        if "patterns" in self.findings.muted or self.patterns.has(self.target, number, self.mode.pattern_bytes):
            return
        known = self.patterns.known(self.target)
        raise WrongError(f"pattern must be one that is loaded for {self.target}: {known}; got {number}", *sub)


class Cells:
    """The cells of every map and text that the scene fills, by target."""

    def __init__(self, findings: Findings, assets: Assets, patterns: Patterns) -> None:
        self.findings, self.assets, self.patterns = findings, assets, patterns
        self.words: dict[str, Grid] = {}

    def map(self, index: int, table: MapTable, matched: Matched | None, *, shared: bool) -> None:
        """Fill cells as ``table`` says, with the cells of its picture; ``shared``: not the map's only one. Raises WrongError."""
        mode = self.findings.mode(table.target, "tiles")
        assert isinstance(mode, TilesMode)
        words = self.words.setdefault(table.target, np.zeros((mode.rows, mode.columns), np.int64))
        maker = CellMaker(self.findings, self.patterns, table.target, mode, table.set, ("maps", index))
        each = Together()
        each(lay, words, table, lambda cell, *sub: maker.word(cell.told, *sub), "cells")
        if matched is not None:
            each(_picture, table, mode, matched, maker, words)
        elif table.picture is not None:
            maker.usual_fits()
        elif table.raw is not None and each.clear({"at"}):
            each(self._raw, table, mode, maker, words, None if shared else ("maps", index, "raw"))
        each.done()

    def _raw(self, table: MapTable, mode: TilesMode, maker: CellMaker, words: Grid, alone: Place | None) -> None:
        """Cells as they lie in memory; ``alone``: where to warn of too few, for a table that has the map to itself."""
        assert table.raw is not None
        data = self.assets.raw(table.raw, "raw", table.offset, table.length)
        if len(data) % mode.cell_bytes:
            raise WrongError(
                f"{table.raw} must be whole cells of {mode.cell_bytes} bytes, got {len(data)} bytes", "raw"
            )
        found = np.frombuffer(data, self._type(mode)).astype(np.int64)
        if table.size is None:
            if table.at != (0, 0):
                raise WrongError("raw without size is the map as it lies in memory: at must be [0, 0]", "at")
            if len(found) > words.size:
                raise WrongError(
                    f"{table.raw} must be at most {mode.map_bytes} bytes, the whole map, got {len(data)}", "raw"
                )
            if alone and len(found) < words.size and table.length is None and table.fill is None:
                short = mode.map_bytes - len(data)
                self.findings.warn(alone, f"{table.raw} is {short} bytes shorter than the {mode.map_bytes} of the map")
            flat = paged(words, mode)
            flat[: len(found)] = found
            words[:] = unpaged(flat, mode)
        else:
            room = room_of(words, table.at, *table.size, "cells", "size")
            if len(found) != room.size:
                raise WrongError(
                    f"{table.raw} must be {room.size} cells of {mode.cell_bytes} bytes, got {len(data)} bytes", "raw"
                )
            room[:] = found.reshape(room.shape)
        self._all_loaded(table, maker, mode.cell.pattern.get(found))

    @staticmethod
    def _all_loaded(table: MapTable, maker: CellMaker, patterns: Grid) -> None:
        """Raises WrongError for the first cell of the raw file whose pattern is not loaded."""
        numbers, first = np.unique(patterns, return_index=True)
        for number, at in sorted(zip(numbers.tolist(), first.tolist(), strict=True), key=lambda pair: pair[1]):
            try:
                maker.loaded(number)
            except WrongError as wrong:
                raise WrongError(f"{table.raw}, cell {at}: {wrong.message}", "raw") from None

    def text(self, table: TextTable) -> None:
        """Write characters as ``table`` says. Raises WrongError."""
        mode = self.findings.mode(table.target, "text")
        assert isinstance(mode, TextMode)
        words = self.words.setdefault(table.target, np.zeros((mode.rows, mode.columns), np.int64))
        each, character = Together(), mode.cell.layout["character"]
        colours = each(_colours, table, mode) or 0
        column, row = table.at
        for number, line in enumerate(text_lines(table.text)):
            for letter in line:
                if ord(letter) > character.top:
                    told = f"characters must be 0 to {character.top}, got {shown(letter)}, which is {ord(letter)}"
                    each.tell(told, "text")
            room = each(room_of, words, (column, row + number), len(line), 1, "cells", "text")
            if room is not None:
                room[0, :] = [colours | character.put(ord(letter) & character.top) for letter in line]
        each.done()

    def _type(self, mode: TilesMode | TextMode) -> str:
        order = "<" if self.findings.chip.memory.byte_order == "little" else ">"
        return f"{order}u{mode.cell_bytes}"

    def image(self, target: str) -> Dots:
        """The bytes of a target's map or text as they lie in memory."""
        mode = self.findings.mode(target, "tiles", "text")
        assert isinstance(mode, TilesMode | TextMode)
        words = self.words[target]
        flat = paged(words, mode) if isinstance(mode, TilesMode) else words.reshape(-1)
        return np.frombuffer(flat.astype(self._type(mode)).tobytes(), np.uint8)


def _colours(table: TextTable, mode: TextMode) -> int:
    """The bits of a text's cells that hold its colours. Raises WrongError where a cell cannot hold what the table says."""
    each, word = Together(), 0
    for name in ("foreground", "background"):
        value, bits = getattr(table, name), mode.cell.layout.get(name)
        if bits is None:
            if name in table.model_fields_set:
                each.tell(f"is no field of the cells of {table.target}: set register {table.target}.{name}", name)
        elif value > bits.top:
            each.tell(f"must be 0 to {bits.top}, got {value}", name)
        else:
            word |= bits.put(value)
    each.done()
    return word


def _picture(table: MapTable, mode: TilesMode, matched: Matched, maker: CellMaker, words: Grid) -> None:
    """Lay the cells of a picture; fields that it does not decide are those of ``set``. Raises WrongError."""
    down, across = matched.pattern.shape
    room = room_of(words, table.at, across, down, "cells", "picture")
    usual = maker.word({"pattern": int(matched.pattern[0, 0])}, "picture")
    room[:] = usual & ~matched.mask(mode) | matched.words(mode)
