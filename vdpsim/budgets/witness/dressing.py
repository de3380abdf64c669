"""A proposed stage as the tables of a scene file, with something to look at where memory has room for it.

Law: from the richest to the plainest, since a chip's memory or its address registers may have no room for what is only there to
be seen; the fetches are the same in each. Knows no file, and draws nothing.
"""

from __future__ import annotations

import colorsys
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import product
from typing import Any, NamedTuple

from ...chip.controls import name_of, scroll_span
from ...chip.line.slots import Server
from ...chip.model import Chip, SpritesTable, TilesMode
from ...chip.registers import field_names
from ...scene.contents.dots import digits_per_dot
from ...scene.contents.grid import cell_offset
from ..line.stretches import begin_of
from ..line.tied import by_fields
from .staging import Stage

SceneTable = tuple[str, dict[str, Any]]
"""A table of a scene file: its head, with brackets, and its keys."""

Wanted = list[tuple[int, int]]
"""The line and the size of each sprite."""


class _TurnedMap(NamedTuple):
    """A map some of whose ``columns`` are to be turned; ``address``: the control that says where it lies."""

    address: str
    mode: TilesMode
    columns: set[int]


class Dresser:
    """Makes the tables of scenes for one chip; ``can``: the values that each control can have."""

    def __init__(self, chip: Chip, server: Server, can: dict[str, range]) -> None:
        self.chip, self.server, self.can = chip, server, can
        self.held = field_names(chip)

    def dressed(self, stage: Stage) -> Iterator[tuple[SceneTable, ...]]:
        """The tables of a scene file for ``stage``, the richest first."""
        sprites = self.chip.sprites
        wanted = self._wanted(stage, sprites) if sprites else []
        crowd = list(self._crowd(sprites, wanted)) if sprites and wanted else []
        for layers in (self._tiles(stage), self._turned(stage), self._bytes(stage, wanted)):
            yield from self._whole(stage, [*layers, *crowd])
        if sprites and wanted and sprites.table == "memory":
            contents = list(self._bytes(stage, wanted))
            told = [data["sprites.table"] for _, data in contents if "sprites.table" in data]
            at = (*told, self.can["sprites.table"][0])[0]
            yield from self._whole(stage, [*contents, *self._records(sprites, wanted, at)])

    def _whole(self, stage: Stage, contents: Sequence[SceneTable]) -> Iterator[tuple[SceneTable, ...]]:
        """All of a scene file's tables; nothing where a field of a register would need two values."""
        given = dict(stage.registers)
        for where, data in contents:
            given |= data if where == "[registers]" else {}
        told = by_fields(self.chip, given)
        if told is None:
            return
        writes = dict.fromkeys((frame, line, self.held[name].name, value) for frame, line, name, value in stage.writes)
        yield (
            ("[registers]", {name: self._named(name, value) for name, value in told.items()}),
            ("[[palette]]", {"colours": list(self._colours())}),
            *((where, data) for where, data in contents if where != "[registers]"),
            *(
                ("[[writes]]", {"frame": frame, "line": line, "register": name, "value": self._named(name, value)})
                for frame, line, name, value in writes
            ),
        )

    def _named(self, name: str, value: int) -> int | str:
        return name_of(self.held[name].names, value)

    def _colours(self) -> Iterator[str]:
        for entry in range(min(self.chip.palette.entries, 64)):
            rgb = colorsys.hsv_to_rgb(entry * 0.381 % 1, 0.25 + 0.5 * (entry % 3 > 0), 0.35 + 0.6 * (entry % 4) / 3)
            yield "#" + "".join(f"{round(255 * channel):02x}" for channel in rgb)

    def _tiles(self, stage: Stage) -> Iterator[SceneTable]:
        """Tiles for the layers that show some: all of them alike, turned where that is wanted."""
        for number, (index, marks) in stage.turned.items():
            yield from self._map(stage, number, index, marks)

    def _turned(self, stage: Stage) -> Iterator[SceneTable]:
        """Tiles only for the layers that show turned ones."""
        for number, (index, marks) in stage.turned.items():
            if 1 in marks:
                yield from self._map(stage, number, index, marks)

    def _map(self, stage: Stage, number: int, index: int, marks: bytes) -> Iterator[SceneTable]:
        """A layer's map of one pattern, with its marked columns turned."""
        layer, mode = self.chip.layers[number], self._mode(number, index)
        turned = self._columns(stage, number, index, marks)
        target, everywhere = f"{layer.name}.{mode.name}", len(turned) == mode.columns
        rows = list(_stripes(*mode.tile, mode.bits_per_dot, hole=mode.transparent, shift=2 * number))
        yield "[[patterns]]", {"for": target, "at": 0, "rows": rows}
        yield "[[maps]]", {"for": target, "fill": {"pattern": 0, **({"turn": 1} if everywhere else {})}}
        for column in () if everywhere else sorted(turned):
            fill = {"pattern": 0, "turn": 1}
            yield "[[maps]]", {"for": target, "at": [column, 0], "size": [1, mode.rows], "fill": fill}

    def _bytes(self, stage: Stage, wanted: Wanted) -> Iterator[SceneTable]:
        """The maps of turned cells as bytes, apart from each other and from the sprites' table where registers let them be."""
        maps, taken = list(self._turned_maps(stage)), list[range]()
        sprites = self.chip.sprites
        if sprites is not None and wanted:
            taken.append(_taken(sprites, wanted))
            if sprites.table == "memory":
                table = self._table_place(sprites, maps, taken)
                taken.append(table)
                yield from self._told("sprites.table", table.start)
        for one in maps:
            at = self._place(one.address, one.mode.map_bytes, taken)
            taken.append(range(at, at + one.mode.map_bytes))
            yield from self._told(one.address, at)
            yield from self._image_written(one, at)

    def _turned_maps(self, stage: Stage) -> Iterator[_TurnedMap]:
        for number, (index, marks) in stage.turned.items():
            if 1 in marks:
                mode = self._mode(number, index)
                name = f"{self.chip.layers[number].name}.{mode.name}.map"
                yield _TurnedMap(name, mode, self._columns(stage, number, index, marks))

    def _table_place(self, sprites: SpritesTable, maps: Sequence[_TurnedMap], taken: Sequence[range]) -> range:
        """Where the sprites' table lies: clear of what is ``taken`` and of the maps whose place is wired."""
        wired = [(self.can[one.address][0], one.mode.map_bytes) for one in maps if one.address not in self.held]
        length = sprites.count * sprites.record_bytes
        at = self._place("sprites.table", length, [*taken, *(range(at, at + each) for at, each in wired)])
        return range(at, at + length)

    def _image_written(self, one: _TurnedMap, address: int) -> Iterator[SceneTable]:
        """The map's bytes from ``address`` on; those beyond the end of memory are written from 0 on."""
        image, until_end = self._image(one.mode, one.columns), self.chip.memory.size - address
        for at, part in ((address, image[:until_end]), (0, image[until_end:])):
            if part:
                yield "[[writes]]", {"frame": 0, "line": 0, "memory": at, "bytes": list(part)}

    def _told(self, control: str, address: int) -> Iterator[SceneTable]:
        if control in self.held:
            yield "[registers]", {control: address}

    def _place(self, control: str, length: int, taken: Sequence[range]) -> int:
        """The first address that the control can hold and from which so many bytes are nobody's; the first, if none is."""
        can, last = self.can[control], self.chip.memory.size - length
        for at in can:
            if at > last:
                break
            if not any(at < one.stop and one.start < at + length for one in taken):
                return at
        return can[0]

    def _image(self, mode: TilesMode, columns: set[int]) -> bytes:
        """A map whose cells in ``columns`` are turned."""
        assert mode.cell.turn is not None
        word = mode.cell.turn.put(1).to_bytes(mode.cell_bytes, self.chip.memory.byte_order)
        image = bytearray(mode.map_bytes)
        for column, row in product(columns, range(mode.rows)):
            at = cell_offset(mode, column, row)
            image[at : at + mode.cell_bytes] = word
        return bytes(image)

    def _mode(self, number: int, index: int) -> TilesMode:
        mode = self.chip.layers[number].modes[index]
        assert isinstance(mode, TilesMode)
        return mode

    def _columns(self, stage: Stage, number: int, index: int, marks: bytes) -> set[int]:
        """The columns of the map that are to be turned."""
        mode = self._mode(number, index)
        if marks and 0 not in marks:
            return set(range(mode.columns))
        name = f"{self.chip.layers[number].name}.scroll_x"
        can = self.can.get(name, range(1))
        scrolled = stage.registers.get(name, can[0]) if mode.scrolls("x") else 0
        begin = scrolled if mode.wrap else begin_of(mode.extent[0], scroll_span(self.chip, mode)[0], scrolled)
        first = begin // mode.doubled(mode.tile)[0]
        return {(first + place) % mode.columns for place, mark in enumerate(marks) if mark}

    # Sprites

    def _wanted(self, stage: Stage, sprites: SpritesTable) -> Wanted:
        """The sprites that are wanted and, where the table cannot switch one off, the others on another line."""
        wanted = list(stage.sprites)
        if sprites.fields.enable is None and (wanted or 0 not in self.can["sprites.enable"]):
            line = wanted[0][0] if wanted else max(stage.line, 0) + self.server.sprites_ahead
            away = line + 1 if line < sprites.fields.y.top else max(0, line - 64)
            wanted += [(away, 0)] * (sprites.count - len(wanted))
        return wanted

    def _fields(self, sprites: SpritesTable, number: int, line: int, size: int) -> dict[str, Any]:
        place = {"x": min(number * 16 % self.chip.frame.width, sprites.fields.x.top), "y": line, "pattern": 0}
        return {**place, **({"size": size} if sprites.fields.size is not None else {})}

    def _crowd(self, sprites: SpritesTable, wanted: Wanted) -> Iterator[SceneTable]:
        """The sprites by name, all with one pattern, as large as the largest of them, or with one of each size that it lacks."""
        shown = _apart(sprites, wanted)
        for place, size in enumerate(shown):
            across, down = sprites.sizes[size]
            rows = list(_stripes(across, down, sprites.bits_per_dot))
            where = {"name": f"crowd_{place}"} if place else {"at": 0}
            yield "[[patterns]]", {"for": "sprites", "size": [across, down], **where, "rows": rows}
        for number, (line, one) in enumerate(wanted):
            fields = self._fields(sprites, number, line, one)
            place = next(place for place, size in enumerate(shown) if _covers(sprites, size, one))
            fields |= {"pattern": f"crowd_{place}"} if place else {}
            yield "[[sprites]]", {"name": f"sprite_{number}", "number": number, **fields}

    def _records(self, sprites: SpritesTable, wanted: Wanted, at: int) -> Iterator[SceneTable]:
        """The sprite table as bytes from ``at`` on: where it cannot but share its place with the patterns."""
        layout, data = sprites.fields.layout, bytearray()
        for number, (line, size) in enumerate(wanted):
            fields = self._fields(sprites, number, line, size) | ({"enable": 1} if "enable" in layout else {})
            word = sum(layout[name].put(value) for name, value in fields.items())
            data += word.to_bytes(sprites.record_bytes, self.chip.memory.byte_order)
        data += bytes(sprites.count * sprites.record_bytes - len(data))
        yield "[[writes]]", {"frame": 0, "line": 0, "memory": at, "bytes": list(data)}


def _covers(sprites: SpritesTable, one: int, other: int) -> bool:
    """Whether the bytes of size ``one``'s pattern are those of ``other``'s too, where both begin with a number 0."""
    (large, each), (small, wanted) = (sprites.patterns[size].own for size in (one, other))
    return all(any(begin <= at and at + wanted <= begin + each for begin in large) for at in small)


def _apart(sprites: SpritesTable, wanted: Wanted) -> list[int]:
    """Sizes of which a pattern each is enough for the ``wanted``: the largest, and those of which it has not every byte."""
    found: list[int] = []
    for size in sorted({size for _, size in wanted}, key=lambda one: -sprites.patterns[one].size_bytes):
        if not any(_covers(sprites, one, size) for one in found):
            found.append(size)
    return found


def _taken(sprites: SpritesTable, wanted: Wanted) -> range:
    """The bytes of the patterns, which are laid out from 0 on, each behind the one before."""
    end = 0
    for size in _apart(sprites, wanted):
        shape = sprites.patterns[size]
        end = -(-end // shape.step) * shape.step + shape.extent
    bases, align = sprites.patterns[0].raster.bases, sprites.alignment
    return range((bases - 1) * -(-end // align) * align + end)


@lru_cache(256)
def _stripes(across: int, down: int, bits: int, hole: int | None = None, shift: int = 0) -> tuple[str, ...]:
    """A pattern of slanting stripes, as rows of digits; every other one shows what is behind it, where ``hole`` does."""
    top, digits = (1 << bits) - 1, digits_per_dot(bits)

    def dot(x: int, y: int) -> int:
        place = x + y + shift
        if place % 8 < 4 and hole is not None:
            return hole
        return max(1, place // 2 * 3 % (top + 1)) if place % 4 else 1

    return tuple("".join(f"{dot(x, y):0{digits}x}" for x in range(across)) for y in range(down))
