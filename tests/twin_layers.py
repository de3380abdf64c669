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
    ``data`` has the bytes that were brought, by address; ``rows`` and ``values`` what they say, once it has been asked for.
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
    values: list[int] = field(default_factory=list)
    fed: tuple[int | None, int, int] | None = None

    @property
    def cell_client(self) -> str | None:
        """Who brings the cell, or the colour cells of all of the group's blocks; None where there are none."""
        if self.cell is None:
            return None
        return f"{self.layer}.{'colours' if isinstance(self.mode, BitmapMode) else 'cells'}"

    @property
    def needs_cell(self) -> bool:
        """Whether it is the cell that says where the row of dots lies."""
        return self.cell is not None and not isinstance(self.mode, BitmapMode)

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
        self.values: dict[Any, list[int]] = {}
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
        controls, (wide, high) = span.controls, mode.tile
        scroll_x, scroll_y = scrolls(name, mode, controls)
        cells, patterns = controls[f"{name}.{mode.name}.map"], addresses(name, mode, controls)
        bank, across, down = controls.get(f"{name}.bank", 0), mode.columns * wide, mode.rows * high
        turn_x, at_y = self.turn(mode, 0), self.along(mode, 1, line + scroll_y)
        for x in range(span.start, span.stop):
            at_x = within(turn_x, x + scroll_x)
            if at_x is None or at_y is None:
                self._outside(name, mode, x)
                continue
            map_x = at_x // mode.double[0] % across
            map_y = at_y // mode.double[1] % down
            column, row, v = map_x // wide, map_y // high, map_y % high
            address = (cells + cell_number(mode, column, row) * mode.cell_bytes) % self.size
            key = (mode.name, at_x // (wide * mode.double[0]), address, patterns, v)
            group = self._going_on(name, key) or self._new(key, Group(name, mode, x, address, patterns, v))
            self.places[name][x] = Place(group, map_x % wide, bank, (0, 0))

    def along(self, mode: TilesMode | BitmapMode, axis: int, at: int) -> int | None:
        """Where on its surface a mode is at a scrolled dot (axis 0) or line (1), unbounded where it wraps; None: outside."""
        return within(self.turn(mode, axis), at)

    def turn(self, mode: TilesMode | BitmapMode, axis: int) -> tuple[int, int] | None:
        """After how many dots or lines a surface with edges comes again, and how many of them it has; None where it wraps."""
        if mode.wrap:
            return None
        if isinstance(mode, TilesMode):
            extent = (mode.columns * mode.tile[0], mode.rows * mode.tile[1])[axis] * mode.double[axis]
        else:
            extent = (mode.width, mode.height)[axis] * mode.double[axis]
        frame = self.chip.frame
        seen = max(size[axis] for size in frame.sizes or [(frame.width, frame.height)])
        turn = 1
        while turn < extent + seen:
            turn *= 2
        return turn, extent

    def _outside(self, name: str, mode: TilesMode | BitmapMode, x: int) -> None:
        """Beyond the edges of a surface nothing is fetched."""
        self.dots[name][x] = None if mode.outside is None else (mode.outside, NO_FIELDS)
        self.stop(name)

    def _bitmap(self, name: str, mode: BitmapMode, line: int, span: Span) -> None:
        controls = span.controls
        scroll_x, scroll_y = scrolls(name, mode, controls)
        bank = controls.get(f"{name}.bank", 0)
        rows, bases = dot_rows(mode), addresses(name, mode, controls)
        together = dots_together(mode, self.width)
        turn_x, at_y = self.turn(mode, 0), self.along(mode, 1, line + scroll_y)
        for x in range(span.start, span.stop):
            at_x = within(turn_x, x + scroll_x)
            if at_x is None or at_y is None:
                self._outside(name, mode, x)
                continue
            map_x, map_y = at_x // mode.double[0] % mode.width, at_y // mode.double[1] % mode.height
            begin = map_x // together * together  # a row begins where an access does
            accesses = tuple(self.access(byte) for byte in rows.bytes_of(bases, map_y, begin))
            cell = None
            if mode.colours:
                number = map_y // mode.colours.block[1] * (mode.width // mode.colours.block[0])
                number += begin // mode.colours.block[0]
                first = controls[f"{name}.{mode.name}.colours"]
                cell = (first + number * mode.colours.cell_bytes) % self.size
            key = (mode.name, at_x // (together * mode.double[0]), accesses, cell)
            group = self._going_on(name, key) or self._new(key, Group(name, mode, x, cell, accesses, 0))
            self.places[name][x] = Place(group, map_x - begin, bank, (0, 0))

    def _text(self, name: str, mode: TextMode, line: int, span: Span) -> None:
        controls, (across, down) = span.controls, mode.glyph
        here = f"{name}.{mode.name}"
        cells, glyphs, bank = controls[f"{here}.map"], controls[f"{here}.glyphs"], controls.get(f"{name}.bank", 0)
        colours = controls.get(f"{here}.background", 0), controls.get(f"{here}.foreground", 0)
        row, glyph_row = line // mode.double[1] // down, line // mode.double[1] % down
        for x in range(span.start, span.stop):
            column = (x - mode.left) // mode.double[0] // across
            if not (0 <= column < mode.columns and 0 <= row < mode.rows):
                self.dots[name][x] = None if mode.margin is None else (mode.margin, NO_FIELDS)
                self.stop(name)
                continue
            address = (cells + (row * mode.columns + column) * mode.cell_bytes) % self.size
            key = (mode.name, column, address, glyphs, glyph_row)
            group = self._going_on(name, key) or self._new(key, Group(name, mode, x, address, (glyphs,), glyph_row))
            self.places[name][x] = Place(group, (x - mode.left) // mode.double[0] % across, bank, colours)

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
        assert group.cell is not None
        return self.run_of(group.cell, self.cell_size(group.mode))

    def row_accesses(self, group: Group, word: int) -> list[int]:
        """Addresses of the accesses that bring the group's row of dots, as a cell's ``word`` asks for them."""
        mode = group.mode
        if isinstance(mode, BitmapMode):
            count = dots_together(mode, self.width) // dots_of_access(mode, self.width)
            return [(base + step * self.width) % self.size for base in group.bases for step in range(count)]
        if isinstance(mode, TextMode):
            return [self.access(self._glyph(mode, group, word))]
        fields = self.fields(mode, word)
        if fields.get("turn"):
            dots = [self._pattern_dot(mode, group, fields, column) for column in range(mode.tile[0])]
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
        assert group.cell is not None
        cell = bytes(data[(group.cell + step) % self.size] for step in range(self.cell_size(group.mode)))
        if isinstance(group.mode, BitmapMode):
            return int.from_bytes(cell, "big")  # no word of its own: the cells' bytes as they lie
        return int.from_bytes(cell, self.chip.memory.byte_order)

    def cell_size(self, mode: AnyMode) -> int:
        """Bytes of a group's cell, or of all its colour cells."""
        if not isinstance(mode, BitmapMode):
            return mode.cell_bytes
        assert mode.colours is not None
        return dots_together(mode, self.width) // mode.colours.block[0] * mode.colours.cell_bytes

    def words_in(self, mode: AnyMode, word: int) -> list[int]:
        """The word of a cell, or those of each colour cell."""
        if not isinstance(mode, BitmapMode):
            return [word]
        assert mode.colours is not None
        data, each = word.to_bytes(self.cell_size(mode), "big"), mode.colours.cell_bytes
        return [int.from_bytes(data[at : at + each], self.chip.memory.byte_order) for at in range(0, len(data), each)]

    def word_from(self, mode: AnyMode, words: Sequence[int]) -> int:
        """The reverse of it."""
        if not isinstance(mode, BitmapMode):
            return words[0]
        assert mode.colours is not None
        each = mode.colours.cell_bytes
        return int.from_bytes(b"".join(word.to_bytes(each, self.chip.memory.byte_order) for word in words), "big")

    def colour_cell(self, group: Group, at: int, word: int) -> tuple[int, int]:
        """Address and word of the colour cell of the group's dot number ``at``."""
        mode = group.mode
        assert isinstance(mode, BitmapMode)
        assert mode.colours is not None
        assert group.cell is not None
        number = at // mode.colours.block[0]
        return (group.cell + number * mode.colours.cell_bytes) % self.size, self.words_in(mode, word)[number]

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
            u = mode.tile[0] - 1 - u
        if fields.get("flip_y"):
            v = mode.tile[1] - 1 - v
        if fields.get("turn"):
            u, v = v, mode.tile[0] - 1 - u
        return v, u

    def _pattern(self, mode: TilesMode, group: Group, fields: dict[str, int]) -> tuple[int, ...]:
        """Where the cell's pattern lies, in each plane where they are apart."""
        whole = dot_rows(mode).whole
        return tuple(base + fields["pattern"] * whole for base in group.bases)

    def _dot(self, place: Place) -> Dot:
        group, mode = place.group, place.group.mode
        if isinstance(mode, TilesMode):
            if place.bank not in group.rows:
                group.rows[place.bank] = self._tile_row(mode, group, place.bank)
            return group.rows[place.bank][place.at]
        if isinstance(mode, BitmapMode):
            if not group.values:
                group.values = self._bitmap_row(mode, group)
            value, bank, fields = group.values[place.at], place.bank, NO_FIELDS
            if mode.colours:
                _, word = self.colour_cell(group, place.at, group.word)
                told = {name: bits.get(word) for name, bits in mode.colours.cell.layout.items()}
                bank = told.get("bank", bank)
                value = value if "bank" in told else told["foreground" if value else "background"]
                fields = {name: number for name, number in told.items() if name == "priority"}
            entry = entry_of(self.chip, mode.entries, mode.transparent, bank, value)
            return None if entry is None else (entry, fields)
        else:
            bit = value_of(group.data, self._glyph(mode, group, group.word), place.at, 1, mode.first_dot)
            colour = "foreground" if bit else "background"
            layout = mode.cell.layout
            value = layout[colour].get(group.word) if colour in layout else place.colours[bit]
        entry = entry_of(self.chip, mode.entries, mode.transparent, place.bank, value)
        return None if entry is None else (entry, NO_FIELDS)

    def _bitmap_row(self, mode: BitmapMode, group: Group) -> list[int]:
        """The values of the group's dots, from left to right. The same bytes have the same values again."""
        key = (group.layer, mode.name, group.bases, bytes(group.data.values()))
        if key not in self.values:
            together = dots_together(mode, self.width)
            one = dot_rows(mode)._replace(across=together, down=1, planes=mode.planes and "apart")
            self.values[key] = [one.value(group.data, self.size, group.bases, 0, dot) for dot in range(together)]
        return self.values[key]

    def _tile_row(self, mode: TilesMode, group: Group, register_bank: int) -> list[Dot]:
        """The dots of a cell's displayed row, from left to right. The same cell with the same bytes looks the same again."""
        key = (group.layer, mode.name, group.word, group.bases, group.row, register_bank, bytes(group.data.values()))
        if key not in self.decoded:
            fields = self.fields(mode, group.word)
            rows, pattern, bank = dot_rows(mode), self._pattern(mode, group, fields), fields.get("bank", register_bank)
            dots: list[Dot] = []
            for column in range(mode.tile[0]):
                row, u = self._pattern_dot(mode, group, fields, column)
                value = rows.value(group.data, self.size, pattern, row, u)
                entry = entry_of(self.chip, mode.entries, mode.transparent, bank, value)
                dots.append(None if entry is None else (entry, fields))
            self.decoded[key] = dots
        return self.decoded[key]


def dot_rows(mode: TilesMode | BitmapMode) -> DotRows:
    """How a mode's dots lie in memory."""
    across, down = mode.tile if isinstance(mode, TilesMode) else (mode.width, mode.height)
    stride = None if isinstance(mode, TilesMode) else mode.stride
    return DotRows(across, down, mode.bits_per_dot, mode.planes, mode.first_dot, stride)


def within(turn: tuple[int, int] | None, at: int) -> int | None:
    """Where on a surface of this ``Layers.turn`` it is ``at`` a scrolled dot or line; None: outside."""
    if turn is None:
        return at
    return at % turn[0] if at % turn[0] < turn[1] else None


def dots_of_access(mode: BitmapMode, width: int) -> int:
    """Of how many dots an access of ``width`` bytes brings some bits."""
    return 8 * width // (mode.bits_per_dot if mode.planes is None else 1)


def dots_together(mode: BitmapMode, width: int) -> int:
    """How many dots of a bitmap are fetched together: those of an access, or those of a wider block of colours."""
    return max(dots_of_access(mode, width), mode.colours.block[0] if mode.colours else 0)


def addresses(name: str, mode: TilesMode | BitmapMode, controls: dict[str, int]) -> tuple[int, ...]:
    """Where a mode's patterns or bitmap lie."""
    here = f"{name}.{mode.name}"
    if mode.planes == "apart":
        return tuple(controls[f"{here}.plane_{plane}"] for plane in range(mode.bits_per_dot))
    return (controls[f"{here}.{'patterns' if isinstance(mode, TilesMode) else 'bitmap'}"],)


def cell_number(mode: TilesMode, column: int, row: int) -> int:
    """How many cells of the map lie before this one in memory."""
    (wide, high), (across, down) = mode.page, mode.pages
    page_x, page_y, x, y = column // wide, row // high, column % wide, row % high
    page = page_x * down + page_y if mode.page_order == "columns" else page_y * across + page_x
    cell = x * high + y if mode.cell_order == "columns" else y * wide + x
    return page * wide * high + cell


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
