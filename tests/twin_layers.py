"""The twin's layers: which dots a fetch serves, which accesses it is made of, and what its bytes look like.

Law: what a layer shows is told in three steps. Which dots have a key in common (a group), without a look at memory; which
accesses bring the group's cell and its row; which dots these bytes are. When the accesses are made is for ``twin_time.py``:
a dot is made of the bytes that were brought for it and of nothing else. Knows the chip's description alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from twin_planes import DotRows, without_repeats

from vdpsim.chip.model import BitmapMode, Chip, Entries, TextMode, TilesMode

AnyMode = TilesMode | BitmapMode | TextMode
Memory = Sequence[int]
Dot = tuple[int, dict[str, int]] | None
"""What a layer shows at a dot: the entry and the cell's fields; None where it shows nothing."""

NO_FIELDS: dict[str, int] = {}
ROWS = {"tiles": "pattern", "text": "glyphs", "bitmap": "bitmap"}
"""Which client brings the row of dots of a mode of each kind."""


class Span(NamedTuple):
    """Dots ``start`` to ``stop - 1`` of a line, in which nothing is written."""

    start: int
    stop: int
    controls: dict[str, int]
    palette: list[int]


@dataclass(eq=False)
class Group:
    """The dots of a layer that one fetch serves, from dot ``due`` on.

    ``cell`` is the address of its cell (None: a bitmap has none) and ``bases`` those of its patterns or glyphs, one or one for
    each plane; of a bitmap those of its accesses. ``row`` is the row of the pattern before flips, or that of the glyph. ``word``
    is the cell's word as it was brought or kept, once ``has_word``; ``first_word`` what stands for it where it is missed.
    ``data`` has the bytes that were brought, by address.
    """

    layer: str
    mode: AnyMode
    due: int
    cell: int | None
    bases: tuple[int, ...]
    row: int
    word: int = 0
    first_word: int = 0
    has_word: bool = False
    cell_missed: bool = False
    row_missed: bool = False
    data: dict[int, int] = field(default_factory=dict)
    rows: dict[int, list[Dot]] = field(default_factory=dict)
    fed: tuple[int | None, int, int] | None = None

    @property
    def row_client(self) -> str:
        """Who brings the row of dots."""
        return f"{self.layer}.{ROWS[self.mode.kind]}"


class Place(NamedTuple):
    """What a dot shows of its group: which dot of the row, and the registers that colour it."""

    group: Group
    at: int
    bank: int
    colours: tuple[int, int]


def value_of(data: Any, row: int, dot: int, bits: int, first_dot: str) -> int:
    """The value of a dot in the row of dots that begins at ``row`` in ``data``, bytes by their address."""
    at = dot * bits
    shift = at % 8 if first_dot == "low" else 8 - bits - at % 8
    return int(data[row + at // 8] >> shift & ((1 << bits) - 1))


class Layers:
    """The layers' dots on one line after the other."""

    def __init__(self, chip: Chip, across: int) -> None:
        self.chip, self.across = chip, across
        self.size, self.width = chip.memory.size, chip.memory.bytes_per_access
        self.decoded: dict[Any, list[Dot]] = {}
        self.begin()

    def begin(self) -> None:
        """A new line: nothing shows, and no fetch goes on."""
        names, width = self.chip.layer_names, self.across
        self.dots: dict[str, list[Dot]] = {name: [None] * width for name in names}
        self.places: dict[str, list[Place | None]] = {name: [None] * width for name in names}
        self.groups: dict[str, list[Group]] = {name: [] for name in names}
        self.last: dict[str, tuple[Any, Group] | None] = {}

    def stop(self, name: str) -> None:
        """The layer shows nothing here: what it shows next is fetched anew."""
        self.last[name] = None

    def show(self, name: str, mode: AnyMode, line: int, span: Span) -> None:
        """Find the groups of ``mode`` in ``span``, whose own line is ``line``."""
        if isinstance(mode, TilesMode):
            self._tiles(name, mode, line, span)
        elif isinstance(mode, BitmapMode):
            self._bitmap(name, mode, line, span)
        else:
            self._text(name, mode, line, span)

    def fill(self) -> None:
        """Put in the dots of every group, of which nothing was missed."""
        for name, places in self.places.items():
            out = self.dots[name]
            for x, place in enumerate(places):
                if place is not None and not (place.group.cell_missed or place.group.row_missed):
                    out[x] = self._dot(place)

    # Which dots belong together

    def _going_on(self, name: str, key: Any) -> Group | None:
        """The group of the dot before, where that had the same key."""
        last = self.last.get(name)
        return last[1] if last is not None and last[0] == key else None

    def _new(self, key: Any, group: Group) -> Group:
        self.last[group.layer] = key, group
        self.groups[group.layer].append(group)
        return group

    def _tiles(self, name: str, mode: TilesMode, line: int, span: Span) -> None:
        controls, tile = span.controls, mode.tile
        scroll_x, scroll_y = scrolls(name, mode, controls)
        cells, patterns = controls[f"{name}.{mode.name}.map"], addresses(name, mode, controls)
        bank = controls.get(f"{name}.bank", 0)
        map_y = (line + scroll_y) % (mode.rows * tile)
        row, v = map_y // tile, map_y % tile
        for x in range(span.start, span.stop):
            at = (x + scroll_x) // tile
            if x == span.start or (x + scroll_x) % tile == 0:
                column = at % mode.columns
                page = row // mode.page[1] * mode.pages[0] + column // mode.page[0]
                in_page = row % mode.page[1] * mode.page[0] + column % mode.page[0]
                index = page * mode.page[0] * mode.page[1] + in_page
                address = (cells + index * mode.cell_bytes) % self.size
                key = (mode.name, at, address, patterns, v)
                group = self._going_on(name, key) or self._new(key, Group(name, mode, x, address, patterns, v))
            self.places[name][x] = Place(group, (x + scroll_x) % tile, bank, (0, 0))

    def _bitmap(self, name: str, mode: BitmapMode, line: int, span: Span) -> None:
        controls, bits = span.controls, mode.bits_per_dot
        scroll_x, scroll_y = scrolls(name, mode, controls)
        bank = controls.get(f"{name}.bank", 0)
        rows, bases = dot_rows(mode), addresses(name, mode, controls)
        map_y = (line + scroll_y) % mode.height
        per_access = 8 * self.width // (bits if mode.planes is None else 1)
        for x in range(span.start, span.stop):
            map_x = (x + scroll_x) % mode.width
            accesses = tuple(self.access(byte) for byte in rows.bytes_of(bases, map_y, map_x))
            key = (mode.name, (x + scroll_x) // per_access, accesses)
            group = self._going_on(name, key) or self._new(key, Group(name, mode, x, None, accesses, 0))
            # a row begins where an access does
            self.places[name][x] = Place(group, map_x % per_access, bank, (0, 0))

    def _text(self, name: str, mode: TextMode, line: int, span: Span) -> None:
        controls, (across, down) = span.controls, mode.glyph
        here = f"{name}.{mode.name}"
        cells, glyphs, bank = controls[f"{here}.map"], controls[f"{here}.glyphs"], controls.get(f"{name}.bank", 0)
        colours = controls.get(f"{here}.background", 0), controls.get(f"{here}.foreground", 0)
        row, glyph_row = line // down, line % down
        for x in range(span.start, span.stop):
            column = (x - mode.left) // across
            if not (0 <= column < mode.columns and 0 <= row < mode.rows):
                self.dots[name][x] = None if mode.margin is None else (mode.margin, NO_FIELDS)
                self.stop(name)
                continue
            address = (cells + (row * mode.columns + column) * mode.cell_bytes) % self.size
            key = (mode.name, column, address, glyphs, glyph_row)
            group = self._going_on(name, key) or self._new(key, Group(name, mode, x, address, (glyphs,), glyph_row))
            self.places[name][x] = Place(group, (x - mode.left) % across, bank, colours)

    # Which accesses bring them

    def access(self, address: int) -> int:
        """The address of the access that brings the byte at ``address``."""
        return address // self.width * self.width % self.size

    def run_of(self, address: int, count: int) -> list[int]:
        """The accesses that bring ``count`` bytes from ``address`` on: one at least."""
        first = address // self.width * self.width
        return [(first + step * self.width) % self.size for step in range(max(1, count // self.width))]

    def cell_accesses(self, group: Group) -> list[int]:
        """Addresses of the accesses that bring the group's cell."""
        assert group.cell is not None and not isinstance(group.mode, BitmapMode)
        return self.run_of(group.cell, group.mode.cell_bytes)

    def row_accesses(self, group: Group, word: int) -> list[int]:
        """Addresses of the accesses that bring the group's row of dots, as a cell's ``word`` asks for them."""
        mode = group.mode
        if isinstance(mode, BitmapMode):
            return list(group.bases)
        if isinstance(mode, TextMode):
            return [self.access(self._glyph(mode, group, word))]
        fields = self.fields(mode, word)
        if fields.get("turn"):
            dots = [self._pattern_dot(mode, group, fields, column) for column in range(mode.tile)]
            return [address for dot in dots for address in self._dot_accesses(mode, group, fields, dot)]
        row, _ = self._pattern_dot(mode, group, fields, 0)
        runs = dot_rows(mode).runs(self._pattern(mode, group, fields), row)
        return [address for at, count in runs for address in self.run_of(at, count)]

    def _dot_accesses(self, mode: TilesMode, group: Group, fields: dict[str, int], dot: tuple[int, int]) -> list[int]:
        """Addresses of the accesses that bring one dot of a pattern, (row, dot): one that brings bits of several planes once."""
        found = [self.access(byte) for byte in dot_rows(mode).bytes_of(self._pattern(mode, group, fields), *dot)]
        return without_repeats(found) if mode.planes == "by row" else found

    def word_of(self, group: Group, data: Any) -> int:
        """The cell's word out of ``data``, bytes by their address."""
        assert group.cell is not None and not isinstance(group.mode, BitmapMode)
        cell = bytes(data[(group.cell + step) % self.size] for step in range(group.mode.cell_bytes))
        return int.from_bytes(cell, self.chip.memory.byte_order)

    def brought(self, memory: Memory, addresses: list[int]) -> dict[int, int]:
        """The bytes that accesses to ``addresses`` bring, in the order in which they come."""
        return {address + step: memory[address + step] for address in addresses for step in range(self.width)}

    # Which dots they are

    def fields(self, mode: AnyMode, word: int) -> dict[str, int]:
        """A cell's fields."""
        assert not isinstance(mode, BitmapMode)
        return {name: bits.get(word) for name, bits in mode.cell.layout.items()}

    def _glyph(self, mode: TextMode, group: Group, word: int) -> int:
        character = mode.cell.character.get(word)
        return int((group.bases[0] + character * mode.glyph[1] + group.row) % self.size)

    def _pattern_dot(self, mode: TilesMode, group: Group, fields: dict[str, int], column: int) -> tuple[int, int]:
        """Which of the pattern's rows has the dot shown at ``column``, and which of its dots it is."""
        u, v = column, group.row
        if fields.get("flip_x"):
            u = mode.tile - 1 - u
        if fields.get("flip_y"):
            v = mode.tile - 1 - v
        if fields.get("turn"):
            u, v = v, mode.tile - 1 - u
        return v, u

    def _pattern(self, mode: TilesMode, group: Group, fields: dict[str, int]) -> tuple[int, ...]:
        """Where the cell's pattern lies, in each plane where they are apart."""
        return tuple(base + fields["pattern"] * dot_rows(mode).whole for base in group.bases)

    def _dot(self, place: Place) -> Dot:
        group, mode = place.group, place.group.mode
        if isinstance(mode, TilesMode):
            if place.bank not in group.rows:
                group.rows[place.bank] = self._tile_row(mode, group, place.bank)
            return group.rows[place.bank][place.at]
        if isinstance(mode, BitmapMode):
            one = dot_rows(mode)._replace(across=place.at + 8, down=1, planes=mode.planes and "apart")
            value = one.value(group.data, self.size, group.bases, 0, place.at)
        else:
            bit = value_of(group.data, self._glyph(mode, group, group.word), place.at, 1, mode.first_dot)
            colour = "foreground" if bit else "background"
            layout = mode.cell.layout
            value = layout[colour].get(group.word) if colour in layout else place.colours[bit]
        entry = entry_of(self.chip, mode.entries, mode.transparent, place.bank, value)
        return None if entry is None else (entry, NO_FIELDS)

    def _tile_row(self, mode: TilesMode, group: Group, register_bank: int) -> list[Dot]:
        """The dots of a cell's displayed row, from left to right. The same cell with the same bytes looks the same again."""
        key = (group.layer, mode.name, group.word, group.bases, group.row, register_bank, bytes(group.data.values()))
        if key not in self.decoded:
            fields = self.fields(mode, group.word)
            dots: list[Dot] = []
            for column in range(mode.tile):
                row, u = self._pattern_dot(mode, group, fields, column)
                value = dot_rows(mode).value(group.data, self.size, self._pattern(mode, group, fields), row, u)
                entry = entry_of(self.chip, mode.entries, mode.transparent, fields.get("bank", register_bank), value)
                dots.append(None if entry is None else (entry, fields))
            self.decoded[key] = dots
        return self.decoded[key]


def dot_rows(mode: TilesMode | BitmapMode) -> DotRows:
    """How a mode's dots lie in memory."""
    across, down = (mode.tile, mode.tile) if isinstance(mode, TilesMode) else (mode.width, mode.height)
    stride = None if isinstance(mode, TilesMode) else mode.stride
    return DotRows(across, down, mode.bits_per_dot, mode.planes, mode.first_dot, stride)


def addresses(name: str, mode: TilesMode | BitmapMode, controls: dict[str, int]) -> tuple[int, ...]:
    """Where a mode's patterns or bitmap lie."""
    here = f"{name}.{mode.name}"
    if mode.planes == "apart":
        return tuple(controls[f"{here}.plane_{plane}"] for plane in range(mode.bits_per_dot))
    return (controls[f"{here}.{'patterns' if isinstance(mode, TilesMode) else 'bitmap'}"],)


def scrolls(name: str, mode: TilesMode | BitmapMode, controls: dict[str, int]) -> tuple[int, int]:
    """How far the mode is scrolled, across and down: 0 on an axis on which it does not scroll."""
    across = controls[f"{name}.scroll_x"] if mode.scroll in {"both", "x"} else 0
    down = controls[f"{name}.scroll_y"] if mode.scroll in {"both", "y"} else 0
    return across, down


def entry_of(chip: Chip, entries: Entries, transparent: int | None, bank: int, value: int) -> int | None:
    """The palette's entry for a value; None where it shows nothing."""
    if value == transparent:
        return None
    step = chip.palette.bank_size if entries.bank_step is None else entries.bank_step
    return entries.base + bank * step + value * entries.value_step
