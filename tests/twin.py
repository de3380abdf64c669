"""A second model of the chip: dot by dot and access by access, in plain Python.

Law: obvious rather than fast. It shares with the package the chip's description, the state, the timed writes and nothing
else: no array is computed with, no code of the engine is used. What it says is what the chip's rules say, one after the other;
where it and the engine differ, one of the two has misread a rule. The only things kept from one dot to the next are those
that the rules themselves keep (the last fetch of a layer) and rows of dots already decoded, until memory changes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from vdpsim.chip.controls import registers
from vdpsim.chip.model import BitmapMode, Chip, Entries, Rung, TextMode, TilesMode
from vdpsim.memory import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, State, Write

AnyMode = TilesMode | BitmapMode | TextMode
Dot = tuple[int, dict[str, int]] | None
"""What a layer shows at a dot: the entry and the cell's fields; None where it shows nothing."""

NO_FIELDS: dict[str, int] = {}


@dataclass
class TwinResult:
    """The picture's lines among those drawn; every list has one item a line, and in it one a dot.

    ``edge`` is the backdrop's colour at each line's first dot, the lines of the bottom border included. ``planes`` says what
    each source alone would show: entries, None where it shows nothing.
    """

    first: int
    indices: list[list[int]] = field(default_factory=list)
    source: list[list[int]] = field(default_factory=list)
    rung: list[list[int]] = field(default_factory=list)
    sprite: list[list[int]] = field(default_factory=list)
    rgb: list[list[tuple[int, int, int]]] = field(default_factory=list)
    counts: list[dict[str, int]] = field(default_factory=list)
    found: list[int] = field(default_factory=list)
    drawn: list[int] = field(default_factory=list)
    drops: list[tuple[int, int, str]] = field(default_factory=list)
    collisions: list[tuple[int, int, int, int]] = field(default_factory=list)
    collision_flags: int = 0
    edge: list[tuple[int, int, int]] = field(default_factory=list)
    planes: list[dict[str, list[int | None]]] = field(default_factory=list)


class Span(NamedTuple):
    """Dots ``start`` to ``stop - 1`` of a line, in which nothing is written."""

    start: int
    stop: int
    controls: dict[str, int]
    palette: list[int]


class Sprite(NamedTuple):
    """A record of the sprite table."""

    number: int
    fields: dict[str, int]

    def get(self, name: str) -> int:
        """A field's value; 0 where the chip has no such field."""
        return self.fields.get(name, 0)


def clients(chip: Chip) -> list[str]:
    """Who asks the memory for data, in the log's order."""
    kinds = {"cells": (TilesMode, TextMode), "pattern": TilesMode, "glyphs": TextMode, "bitmap": BitmapMode}
    names = []
    for layer in chip.layers:
        for client, kind in kinds.items():
            if any(isinstance(mode, kind) for mode in layer.modes):
                names.append(f"{layer.name}.{client}")
    if chip.sprites and chip.sprites.table == "memory":
        names.append("sprites.attribute")
    if chip.sprites:
        names.append("sprites.pattern")
    return names


def draw_frame(state: State, writes: Iterable[Write] = (), last: int | None = None) -> TwinResult:
    """Draw the lines from ``state.line`` up to but not including ``last`` (None: to the frame's end).

    ``state`` is left as it stands before line ``last``, at the frame's end before line 0 of the next frame.
    """
    end = state.chip.frame.lines_per_frame
    twin = Twin(state, list(writes))
    for line in range(state.line, end if last is None else last):
        twin.run_line(line)
    twin.leave(state, end if last is None else last)
    return twin.result


class Twin:
    """The chip while it runs: its changing parts as ints, bytes and lists."""

    def __init__(self, state: State, writes: list[Write]) -> None:
        self.chip = chip = state.chip
        self.writes = writes
        self.memory = bytearray(state.memory.tobytes())
        self.palette: list[int] = state.palette.tolist()
        self.table = bytearray(state.sprites.tobytes())
        self.controls: dict[str, int] = dict(zip(state.names, state.controls.tolist(), strict=True))
        self.names = state.names
        self.next_line: dict[str, int] = {}
        self.next_frame = {state.names[number]: value for number, value in state.next_frame.items()}
        self.effects = {name: register.effect for name, register in registers(chip).items()}
        self.width = chip.memory.bytes_per_access
        self.result = TwinResult(min(state.line, chip.frame.height))
        self.decoded: dict[Any, Any] = {}
        self.ladders = self._ladders()

    def leave(self, state: State, last: int) -> None:
        """Put everything back into ``state``, which stands before line ``last`` from now on."""
        state.line = last
        if last == self.chip.frame.lines_per_frame:
            self.controls.update(self.next_frame)
            self.next_frame = {}
            state.line = 0
            state.frame += 1
        state.memory[:] = list(self.memory)
        state.palette[:] = self.palette
        state.sprites.reshape(-1)[:] = list(self.table)
        state.controls[:] = [self.controls[name] for name in self.names]
        state.next_frame = {self.names.index(name): value for name, value in self.next_frame.items()}
        state.collision_flags |= self.result.collision_flags

    # Time

    def run_line(self, line: int) -> None:
        """One line: what is written between the lines, then span by span what is written while dots are shown."""
        here = sorted((write for write in self.writes if write.line == line), key=lambda write: write.dot)
        for write in here:
            if isinstance(write, MemoryWrite):
                self.memory[write.address : write.address + len(write.data)] = write.data
                self.decoded.clear()
            elif isinstance(write, SpriteWrite):
                self.table[write.offset : write.offset + len(write.data)] = write.data
                self.decoded.clear()
        width = self.chip.frame.width
        spans = []
        start = 0
        for write in here:
            if isinstance(write, MemoryWrite | SpriteWrite):
                continue
            if start < min(write.dot, width):
                spans.append(Span(start, min(write.dot, width), self.controls, self.palette))
                start = min(write.dot, width)
            self._act(write)
        if start < width:
            spans.append(Span(start, width, self.controls, self.palette))
        if line < self.chip.frame.height:
            self._draw_line(line, spans)
        if line < self.chip.frame.height + self.chip.frame.border.bottom:
            _, _, controls, colours = spans[0]
            self.result.edge.append(self._colour(colours[controls["backdrop"]]))
        self.controls = {**self.controls, **self.next_line}
        self.next_line = {}

    def _act(self, write: RegisterWrite | PaletteWrite) -> None:
        if isinstance(write, PaletteWrite):
            after = write.entry + len(write.words)
            self.palette = [*self.palette[: write.entry], *write.words, *self.palette[after:]]
        elif self.effects[write.name] == "at once":
            self.controls = {**self.controls, write.name: write.value}
        elif self.effects[write.name] == "next line":
            self.next_line[write.name] = write.value
        else:
            self.next_frame[write.name] = write.value

    # A line of the picture

    def _draw_line(self, line: int, spans: list[Span]) -> None:
        chip, width = self.chip, self.chip.frame.width
        self.counts = dict.fromkeys(clients(chip), 0)
        self.last_key: dict[str, Any] = {}
        self.dots: dict[str, list[Dot]] = {layer.name: [None] * width for layer in chip.layers}
        self.on_dot: list[list[tuple[Sprite, int]]] = [[] for _ in range(width)]
        rows: list[list[Any]] = [[], [], [], [], []]
        self.result.found.append(0)
        self.result.drawn.append(0)
        if chip.sprites:
            self._sprites(line, spans[0].controls)
        touched: dict[tuple[int, int], int] = {}
        for span in spans:
            ladder = self._layers(line, span)
            rung_of: dict[int, int | None] = {}
            for x in range(span.start, span.stop):
                if len(self.on_dot[x]) > 1 and chip.collisions:
                    self._collide(x, ladder, touched)
                for row, value in zip(rows, self._winner(x, ladder, span.controls["backdrop"], rung_of), strict=False):
                    row.append(value)
                rows[4].append(self._colour(span.palette[rows[0][-1]]))
        self.result.collisions += [(line, *pair, touched[pair]) for pair in sorted(touched)]
        indices, source, rung, sprite, rgb = rows
        self.result.indices.append(indices)
        self.result.source.append(source)
        self.result.rung.append(rung)
        self.result.sprite.append(sprite)
        self.result.rgb.append(rgb)
        self.result.counts.append(self.counts)
        planes = {name: [dot and dot[0] for dot in dots] for name, dots in self.dots.items()}
        if chip.sprites:
            planes["sprites"] = [dots[0][1] if dots else None for dots in self.on_dot]
        self.result.planes.append(planes)

    def _layers(self, line: int, span: Span) -> list[tuple[int, Rung]]:
        """Fill in what each layer shows in ``span``; the ladder that is in force there."""
        chip, controls = self.chip, span.controls
        off: set[str] = set()
        ladder = self.ladders[None]
        showing = []
        for layer in chip.layers:
            if not controls[f"{layer.name}.enable"]:
                off.add(layer.name)
                continue
            number, zone = 0, 0
            if len(layer.modes) > 1:
                number = controls[f"{layer.name}.mode"]
                if line >= controls[f"{layer.name}.split"]:
                    number, zone = controls[f"{layer.name}.below"], controls[f"{layer.name}.split"]
            mode = layer.modes[number]
            showing.append((layer.name, mode, line if mode.origin == "picture" else line - zone))
            if layer.name not in off and mode.exclusive is not None:
                off.update(mode.exclusive)
                if mode.ladder is not None and ladder is self.ladders[None]:
                    ladder = self.ladders[layer.name, mode.name]
        for name in off:
            self.last_key[name] = None
        for name, mode, mode_line in showing:
            if name in off:
                continue
            if isinstance(mode, TilesMode):
                self._tiles(name, mode, mode_line, span)
            elif isinstance(mode, BitmapMode):
                self._bitmap(name, mode, mode_line, span)
            else:
                self._text(name, mode, mode_line, span)
        return ladder

    def _ladders(self) -> dict[Any, list[tuple[int, Rung]]]:
        """The chip's ladder under None, each mode's own under (layer, mode); every rung with its number."""
        ladders: dict[Any, list[tuple[int, Rung]]] = {None: list(enumerate(self.chip.ladder))}
        free = len(self.chip.ladder)
        for layer in self.chip.layers:
            for mode in layer.modes:
                if mode.ladder is not None:
                    ladders[layer.name, mode.name] = list(enumerate(mode.ladder, free))
                    free += len(mode.ladder)
        self.backdrop_rung = free
        return ladders

    # Values and entries

    def _value(self, row: int, dot: int, bits: int, first_dot: str) -> int:
        """The value of a dot in the row of dots at address ``row``."""
        at = dot * bits
        byte = self.memory[(row + at // 8) % len(self.memory)]
        shift = at % 8 if first_dot == "low" else 8 - bits - at % 8
        return byte >> shift & ((1 << bits) - 1)

    def _entry(self, entries: Entries, transparent: int | None, bank: int, value: int) -> int | None:
        """The palette's entry for a value; None where it shows nothing."""
        if value == transparent:
            return None
        step = self.chip.palette.bank_size if entries.bank_step is None else entries.bank_step
        return entries.base + bank * step + value * entries.value_step

    def _word(self, data: bytes) -> int:
        return int.from_bytes(data, self.chip.memory.byte_order)

    def _bytes(self, address: int, count: int) -> bytes:
        return bytes(self.memory[(address + step) % len(self.memory)] for step in range(count))

    def _colour(self, word: int) -> tuple[int, int, int]:
        if word not in self.decoded:
            channels = []
            for bits in self.chip.palette.layout.values():
                most = bits.top
                channels.append((2 * 255 * bits.get(word) + most) // (2 * most))
            self.decoded[word] = tuple(channels)
        return self.decoded[word]

    # Layers

    def _tiles(self, name: str, mode: TilesMode, line: int, span: Span) -> None:
        controls, tile = span.controls, mode.tile
        scroll_x = controls[f"{name}.scroll_x"] if mode.scroll else 0
        scroll_y = controls[f"{name}.scroll_y"] if mode.scroll else 0
        cells, patterns = controls[f"{name}.{mode.name}.map"], controls[f"{name}.{mode.name}.patterns"]
        register_bank = controls.get(f"{name}.bank", 0)
        map_y = (line + scroll_y) % (mode.rows * tile)
        row, v = map_y // tile, map_y % tile
        out, at = self.dots[name], None
        shown: list[Dot] = []
        for x in range(span.start, span.stop):
            if (x + scroll_x) // tile != at:
                at = (x + scroll_x) // tile
                column = at % mode.columns
                page = row // mode.page[1] * mode.pages[0] + column // mode.page[0]
                in_page = row % mode.page[1] * mode.page[0] + column % mode.page[0]
                index = page * mode.page[0] * mode.page[1] + in_page
                address = (cells + index * mode.cell_bytes) % len(self.memory)
                word = self._word(self._bytes(address, mode.cell_bytes))
                fields = {field: bits.get(word) for field, bits in mode.cell.layout.items()}
                key = (mode.name, at, address, patterns, v)
                if key != self.last_key.get(name):
                    self.last_key[name] = key
                    self.counts[f"{name}.cells"] += max(1, mode.cell_bytes // self.width)
                    row_accesses = max(1, mode.row_bytes // self.width)
                    self.counts[f"{name}.pattern"] += tile if fields.get("turn") else row_accesses
                bank = fields.get("bank", register_bank)
                row_key = (name, mode.name, word, patterns, v, bank)
                if row_key not in self.decoded:
                    self.decoded[row_key] = self._tile_row(mode, fields, patterns, v, bank)
                shown = self.decoded[row_key]
            out[x] = shown[(x + scroll_x) % tile]

    def _tile_row(self, mode: TilesMode, fields: dict[str, int], patterns: int, row: int, bank: int) -> list[Dot]:
        """The dots of a cell's displayed row, from left to right."""
        dots: list[Dot] = []
        pattern = patterns + fields["pattern"] * mode.pattern_bytes
        for column in range(mode.tile):
            u, v = column, row
            if fields.get("flip_x"):
                u = mode.tile - 1 - u
            if fields.get("flip_y"):
                v = mode.tile - 1 - v
            if fields.get("turn"):
                u, v = v, mode.tile - 1 - u
            value = self._value(pattern + v * mode.row_bytes, u, mode.bits_per_dot, mode.first_dot)
            entry = self._entry(mode.entries, mode.transparent, bank, value)
            dots.append(None if entry is None else (entry, fields))
        return dots

    def _bitmap(self, name: str, mode: BitmapMode, line: int, span: Span) -> None:
        controls, bits = span.controls, mode.bits_per_dot
        scroll_x = controls[f"{name}.scroll_x"] if mode.scroll else 0
        scroll_y = controls[f"{name}.scroll_y"] if mode.scroll else 0
        bank = controls.get(f"{name}.bank", 0)
        row = controls[f"{name}.{mode.name}.bitmap"] + (line + scroll_y) % mode.height * mode.stride_bytes
        per_access = 8 * self.width // bits
        out = self.dots[name]
        for x in range(span.start, span.stop):
            map_x = (x + scroll_x) % mode.width
            address = (row + map_x * bits // 8) // self.width * self.width % len(self.memory)
            key = (mode.name, (x + scroll_x) // per_access, address)
            if key != self.last_key.get(name):
                self.last_key[name] = key
                self.counts[f"{name}.bitmap"] += 1
            value = self._value(row, map_x, bits, mode.first_dot)
            entry = self._entry(mode.entries, mode.transparent, bank, value)
            out[x] = None if entry is None else (entry, NO_FIELDS)

    def _text(self, name: str, mode: TextMode, line: int, span: Span) -> None:
        controls, (across, down) = span.controls, mode.glyph
        here = f"{name}.{mode.name}"
        cells, glyphs, bank = controls[f"{here}.map"], controls[f"{here}.glyphs"], controls.get(f"{name}.bank", 0)
        row, glyph_row = line // down, line % down
        margin: Dot = None if mode.margin is None else (mode.margin, NO_FIELDS)
        for x in range(span.start, span.stop):
            column = (x - mode.left) // across
            if not (0 <= column < mode.columns and 0 <= row < mode.rows):
                self.dots[name][x] = margin
                self.last_key[name] = None
                continue
            address = (cells + (row * mode.columns + column) * mode.cell_bytes) % len(self.memory)
            word = self._word(self._bytes(address, mode.cell_bytes))
            fields = mode.cell.layout
            key = (mode.name, column, address, glyphs, glyph_row)
            if key != self.last_key.get(name):
                self.last_key[name] = key
                self.counts[f"{name}.cells"] += max(1, mode.cell_bytes // self.width)
                self.counts[f"{name}.glyphs"] += 1
            glyph = glyphs + fields["character"].get(word) * down + glyph_row
            bit = self._value(glyph, (x - mode.left) % across, 1, mode.first_dot)
            colour = "foreground" if bit else "background"
            number = fields[colour].get(word) if colour in fields else controls[f"{here}.{colour}"]
            entry = self._entry(mode.entries, mode.transparent, bank, number)
            self.dots[name][x] = None if entry is None else (entry, NO_FIELDS)

    # Sprites

    def _sprites(self, line: int, controls: dict[str, int]) -> None:
        """Who is found, who is dropped, and the opaque dots of the others, front to back in each dot's list."""
        sprites = self.chip.sprites
        assert sprites is not None
        if not controls["sprites.enable"]:
            return
        found = [sprite for sprite in self._records(controls) if self._row_of(sprite, line) is not None]
        if sprites.front == "last":
            found.reverse()
        walk = found if sprites.dropped == "back" else found[::-1]
        kept, dots = set(), 0
        for rank, sprite in enumerate(walk):
            dots += sprites.sizes[sprite.get("size")][0]
            if sprites.per_line is not None and rank >= sprites.per_line:
                self.result.drops.append((line, sprite.number, "count"))
            elif sprites.dots_per_line is not None and dots > sprites.dots_per_line:
                self.result.drops.append((line, sprite.number, "dots"))
            else:
                kept.add(sprite.number)
        self.result.found[-1], self.result.drawn[-1] = len(found), len(kept)
        if sprites.table == "memory":
            first, others = self._attribute_accesses()
            self.counts["sprites.attribute"] += first * sprites.count + others * len(kept)
        for sprite in found:
            if sprite.number in kept:
                self._sprite_row(sprite, line, controls["sprites.patterns"])

    def _records(self, controls: dict[str, int]) -> list[Sprite]:
        """The whole sprite table, decoded."""
        sprites = self.chip.sprites
        assert sprites is not None
        at = ("table", controls.get("sprites.table", 0))
        if at not in self.decoded:
            records = []
            for number in range(sprites.count):
                start = number * sprites.record_bytes
                if sprites.table == "memory":
                    record = self._bytes(controls["sprites.table"] + start, sprites.record_bytes)
                else:
                    record = bytes(self.table[start : start + sprites.record_bytes])
                word = self._word(record)
                records.append(Sprite(number, {name: bits.get(word) for name, bits in sprites.fields.layout.items()}))
            self.decoded[at] = records
        return self.decoded[at]

    def _row_of(self, sprite: Sprite, line: int) -> int | None:
        """Which of the sprite's rows lies on ``line``, counted from its upper edge; None where none does."""
        sprites = self.chip.sprites
        assert sprites is not None
        if not sprite.fields.get("enable", 1):
            return None
        row = line - sprite.get("y")
        if sprites.wrap_y:
            row %= 1 << sprites.fields.y.width
        return row if 0 <= row < sprites.sizes[sprite.get("size")][1] else None

    def _attribute_accesses(self) -> tuple[int, int]:
        """Accesses of a record that must be read to find the sprite, and those that only a drawn sprite needs."""
        sprites = self.chip.sprites
        assert sprites is not None
        needed = set()
        for name in ("y", "size", "enable"):
            for bit in range(8 * sprites.record_bytes):
                if name in sprites.fields.layout and sprites.fields.layout[name].mask >> bit & 1:
                    little = bit // 8
                    byte = little if self.chip.memory.byte_order == "little" else sprites.record_bytes - 1 - little
                    needed.add(byte // self.width)
        return len(needed), sprites.record_bytes // self.width - len(needed)

    def _sprite_row(self, sprite: Sprite, line: int, patterns: int) -> None:
        sprites = self.chip.sprites
        assert sprites is not None
        size = sprite.get("size")
        across, down = sprites.sizes[size]
        row = self._row_of(sprite, line)
        assert row is not None
        if sprite.get("flip_y"):
            row = down - 1 - row
        address = patterns + sprite.get("pattern") * sprites.step_bytes + row * sprites.row_bytes(size)
        self.counts["sprites.pattern"] += max(1, sprites.row_bytes(size) // self.width)
        left = sprite.get("x") - (sprites.x_bias if sprite.get("x_bias") else 0)
        for step in range(across):
            x = left + step
            if sprites.wrap_x:
                x %= 1 << sprites.fields.x.width
            if not 0 <= x < self.chip.frame.width:
                continue
            dot = across - 1 - step if sprite.get("flip_x") else step
            value = self._value(address, dot, sprites.bits_per_dot, sprites.first_dot)
            entry = self._entry(sprites.entries, sprites.transparent, sprite.get("bank"), value)
            if entry is not None:
                self.on_dot[x].append((sprite, entry))

    # What shows

    def _holds(self, x: int, rung: Rung) -> bool:
        """Whether a layer's rung matches at dot ``x``."""
        dot = self.dots[rung.source][x]
        return dot is not None and (rung.when is None or rung.when.holds(dot[1].get(rung.when.field, 0)))

    def _rung_of(self, sprite: Sprite, ladder: list[tuple[int, Rung]]) -> int | None:
        """The number of the rung on which the sprite stands; None where there is none for it."""
        for number, rung in ladder:
            if rung.source == "sprites" and (rung.when is None or rung.when.holds(sprite.fields[rung.when.field])):
                return number
        return None

    def _winner(
        self, x: int, ladder: list[tuple[int, Rung]], backdrop: int, rung_of: dict[int, int | None]
    ) -> tuple[int, int, int, int]:
        """(entry, source, rung, sprite) of dot ``x``; ``rung_of`` keeps the sprites' rungs while ``ladder`` is in force."""
        here = self.on_dot[x]
        sprites = self.chip.sprites
        if sprites and sprites.resolve == "before the ladder":
            here = here[:1]
        for sprite, _ in here:
            if sprite.number not in rung_of:
                rung_of[sprite.number] = self._rung_of(sprite, ladder)
        for number, rung in ladder:
            if rung.source == "sprites":
                for sprite, entry in here:
                    if rung_of[sprite.number] == number:
                        return entry, 1 + len(self.chip.layers), number, sprite.number
            elif self._holds(x, rung):
                dot = self.dots[rung.source][x]
                assert dot is not None
                return dot[0], 1 + self.chip.layer_names.index(rung.source), number, -1
        return backdrop, 0, self.backdrop_rung, -1

    def _collide(self, x: int, ladder: list[tuple[int, Rung]], touched: dict[tuple[int, int], int]) -> None:
        """Note the pairs that collide at dot ``x``, where they have not done so further left on this line."""
        collisions = self.chip.collisions
        assert collisions is not None
        here = [sprite for sprite, _ in self.on_dot[x]]
        if not collisions.hidden_dots:
            here = [sprite for sprite in here if not self._hidden(x, sprite, ladder)]
        here.sort()
        for index, first in enumerate(here):
            for second in here[index + 1 :]:
                groups = first.get("group"), second.get("group")
                if collisions.collide(*groups):
                    touched.setdefault((first.number, second.number), x)
                    self.result.collision_flags |= 1 << groups[0] | 1 << groups[1]

    def _hidden(self, x: int, sprite: Sprite, ladder: list[tuple[int, Rung]]) -> bool:
        """Whether a layer covers the sprite at dot ``x``, or no rung shows it."""
        own = self._rung_of(sprite, ladder)
        if own is None:
            return True
        return any(number < own and rung.source != "sprites" and self._holds(x, rung) for number, rung in ladder)
