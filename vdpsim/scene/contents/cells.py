"""Maps and texts: what lies in memory cell by cell.

Law: a cell's word has just the fields that its layout names, each within its bits; a cell that the scene tells names a
pattern that is loaded. Every map starts as zeros; tables act in the order of the file.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ...chip.model import TextMode, TilesMode
from ...door.shown import value as shown
from ..findings import Findings, Place, WrongError, one_of
from ..tables.contents import CellTable, MapTable, TextTable
from .assets import Assets
from .dots import Dots
from .match import Matched
from .patterns import Patterns

MOST_TOLD = 20
"""Mistakes of one kind that are told of one table."""


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
                name = str(wrong.sub[0])
                where = ("set", name) if name in self.usual and name not in told else (*sub, name)
                self._tell(where, wrong.message)
        return self._made[key]

    def _tell(self, where: tuple[str | int, ...], message: str) -> None:
        """Tell a mistake once, however many different cells make it, and not too many of them."""
        mistake = (str(where[-1]), message)
        if mistake not in self._told and len(self._told) < MOST_TOLD:
            self.findings.tell((*self.place, *where), message)
        self._told.add(mistake)

    def checked(self, fields: Mapping[str, int | str]) -> int:
        """The word of a cell. Raises WrongError for the first thing that does not fit."""
        layout = self.mode.cell.layout
        word = 0
        for name, value in fields.items():
            if name not in layout:
                raise WrongError(f"{one_of(layout, f'a field of the cells of {self.target}')}, got {shown(name)}", name)
            number: int | None = self.patterns.number(self.target, value, name) if name == "pattern" else int(value)
            if number is None:
                continue
            if number > layout[name].top:
                raise WrongError(
                    f"{name} must be 0 to {layout[name].top} in a cell of {self.target}, got {number}", name
                )
            if name == "pattern":
                self.loaded(number)
            word |= layout[name].put(number)
        if "pattern" not in fields:
            raise WrongError("pattern is missing: neither the cell nor set names one", "pattern")
        return word

    def loaded(self, number: int) -> None:
        """Raises WrongError where the pattern ``number`` is not loaded."""
        if "patterns" in self.findings.muted or self.patterns.has(self.target, number, self.mode.pattern_bytes):
            return
        known = self.patterns.known(self.target)
        raise WrongError(f"pattern must be one that is loaded for {self.target}: {known}; got {number}", "pattern")


class Cells:
    """The cells of every map and text that the scene fills, by target."""

    def __init__(self, findings: Findings, assets: Assets, patterns: Patterns) -> None:
        self.findings, self.assets, self.patterns = findings, assets, patterns
        self.words: dict[str, Dots] = {}

    def map(self, index: int, table: MapTable, matched: Matched | None, *, shared: bool) -> None:
        """Fill cells as ``table`` says, with the cells of its picture; ``shared``: not the map's only one. Raises WrongError."""
        mode = self.findings.mode(table.target, "tiles")
        assert isinstance(mode, TilesMode)
        words = self.words.setdefault(table.target, np.zeros((mode.rows, mode.columns), np.int64))
        maker = CellMaker(self.findings, self.patterns, table.target, mode, table.set, ("maps", index))
        column, row = table.at
        if column >= mode.columns or row >= mode.rows:
            raise WrongError(
                f"must be a column and row of {mode.columns}x{mode.rows} cells, got {list(table.at)}", "at"
            )
        across, down = table.size or (mode.columns - column, mode.rows - row)
        if table.fill is not None:
            room = _room(words, table.at, across, down, "size")
            room[:] = maker.word(table.fill.told, "fill")
        if table.rows is not None:
            for line, cells in enumerate(table.rows):
                room = _room(words, (column, row + line), len(cells), 1, "rows", line)
                for at, cell in enumerate(cells):
                    room[0, at] = maker.word(cell.told, "rows", line, at)
        elif table.text is not None:
            self._characters(table, maker, words)
        elif matched is not None:
            room = _room(words, table.at, matched.pattern.shape[1], matched.pattern.shape[0], "picture")
            usual = maker.word({"pattern": int(matched.pattern[0, 0])}, "picture")
            room[:] = usual & ~matched.mask(mode) | matched.words(mode)
        elif table.raw is not None:
            self._raw(table, mode, maker, words, None if shared else ("maps", index, "raw"))

    def _characters(self, table: MapTable, maker: CellMaker, words: Dots) -> None:
        assert table.text is not None
        key = table.key or {}
        for name in key:
            if len(name) != 1:
                raise WrongError(f"must have single characters for keys, got {shown(name)}", "key", name)
        known = {name: maker.word(cell.told, "key", name) for name, cell in key.items()}
        for line, text in enumerate(text_lines(table.text)):
            room = _room(words, (table.at[0], table.at[1] + line), len(text), 1, "text")
            for at, character in enumerate(text):
                if character not in known:
                    listed = one_of(map(repr, known), "a character of key")
                    raise WrongError(f"{listed}; got {shown(character)} at place {at} of line {line}", "text")
                room[0, at] = known[character]

    def _raw(self, table: MapTable, mode: TilesMode, maker: CellMaker, words: Dots, alone: Place | None) -> None:
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
            room = _room(words, table.at, *table.size, "size")
            if len(found) != room.size:
                raise WrongError(
                    f"{table.raw} must be {room.size} cells of {mode.cell_bytes} bytes, got {len(data)} bytes", "raw"
                )
            room[:] = found.reshape(room.shape)
        self._all_loaded(table, maker, mode.cell.pattern.get(found))

    @staticmethod
    def _all_loaded(table: MapTable, maker: CellMaker, patterns: Dots) -> None:
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
        colours, character = _colours(table, mode), mode.cell.layout["character"]
        column, row = table.at
        for number, line in enumerate(text_lines(table.text)):
            room = _room(words, (column, row + number), len(line), 1, "text")
            for at, letter in enumerate(line):
                if ord(letter) > character.top:
                    raise WrongError(
                        f"characters must be 0 to {character.top}, got {shown(letter)}, which is {ord(letter)}", "text"
                    )
                room[0, at] = colours | character.put(ord(letter))

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
    word = 0
    for name in ("foreground", "background"):
        value, bits = getattr(table, name), mode.cell.layout.get(name)
        if bits is None:
            if name in table.model_fields_set:
                raise WrongError(
                    f"is no field of the cells of {table.target}: set register {table.target}.{name}", name
                )
            continue
        if value > bits.top:
            raise WrongError(f"must be 0 to {bits.top}, got {value}", name)
        word |= bits.put(value)
    return word


def text_lines(text: str) -> list[str]:
    """The lines of a text; a line break at its very end starts no further line."""
    return text.removesuffix("\n").split("\n")


def _room(words: Dots, at: tuple[int, int], across: int, down: int, *sub: str | int) -> Dots:
    """The part of ``words`` from column and row ``at`` on. Raises WrongError where it sticks out."""
    column, row = at
    if column + across > words.shape[1] or row + down > words.shape[0]:
        raise WrongError(
            f"{across}x{down} cells at [{column}, {row}] must lie within {words.shape[1]}x{words.shape[0]} cells", *sub
        )
    return words[row : row + down, column : column + across]


def paged(words: Dots, mode: TilesMode) -> Dots:
    """Cells (rows, columns) in the order of memory: page after page."""
    (wide, high), (across, down) = mode.page, mode.pages
    return words.reshape(down, high, across, wide).transpose(_axes(mode)).reshape(-1)


def unpaged(flat: Dots, mode: TilesMode) -> Dots:
    """Cells (rows, columns) from the order of memory."""
    (wide, high), (across, down) = mode.page, mode.pages
    axes = _axes(mode)
    shape = (down, high, across, wide)
    return flat.reshape([shape[axis] for axis in axes]).transpose(np.argsort(axes)).reshape(mode.rows, mode.columns)


def _axes(mode: TilesMode) -> tuple[int, ...]:
    """Pages down, a page's rows, pages across, a page's columns (0 to 3) in the order of memory, the slowest first."""
    pages = (2, 0) if mode.page_order == "columns" else (0, 2)
    return (*pages, *((3, 1) if mode.cell_order == "columns" else (1, 3)))


def cell_offset(mode: TilesMode, column: int, row: int) -> int:
    """Bytes from the map's address to the cell at ``column`` and ``row``."""
    (wide, high), (page, cell) = mode.page, mode.steps
    number = column // wide * page[0] + row // high * page[1] + column % wide * cell[0] + row % high * cell[1]
    return number * mode.cell_bytes
