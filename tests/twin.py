"""A second model of the chip: dot by dot and access by access, in plain Python.

Law: obvious rather than fast. It shares with the package the chip's description, the state, the timed writes and nothing
else: no array is computed with, no code of the engine is used. What it says is what the chip's rules say, one after the other;
where it and the engine differ, one of the two has misread a rule. Layers, time and the CPU's bytes have modules of their own.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from twin_cpu import CpuSide, Made
from twin_layers import Layers, Place, Span, entry_of, scrolls
from twin_picture import picture_of
from twin_planes import DotRows
from twin_result import TwinResult, clients
from twin_time import Asker, LayerAsks, RecordNeeds, Slots, SpriteNeeds, SpritesAsk, TileNeeds

from vdpsim.chip.model import BitmapMode, Rung, TilesMode
from vdpsim.chip.registers import fields
from vdpsim.state.state import Ahead, KeptCells, LineBuffer, State
from vdpsim.state.writes import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, Transfer, Write


class Sprite(NamedTuple):
    """A record of the sprite table."""

    number: int
    word: int
    fields: dict[str, int]

    def get(self, name: str) -> int:
        """A field's value; 0 where the chip has no such field."""
        return self.fields.get(name, 0)


class Prepared(NamedTuple):
    """A line's sprites: all that lie on it, in the order of the table.

    ``scan``: what has to be read of each record to find them, empty where the table is on the chip; ``needs`` what each that
    neither count nor dots drop fetches, by its number.
    """

    line: int
    lying: list[Sprite]
    scan: list[RecordNeeds]
    needs: dict[int, SpriteNeeds]


class NextLine(NamedTuple):
    """What is fetched on a line for the one after it: its sprites, and the layers that a line buffer holds.

    ``asked`` and ``shown``: the mode that each layer asks for, and its own line there where it is not switched off.
    """

    sprites: Prepared | None
    layers: Layers
    asked: dict[str, int]
    shown: dict[str, tuple[int, int]]
    kept: dict[int, KeptCells]
    askers: dict[str, Asker]


def draw_frame(state: State, writes: Iterable[Write] = (), last: int | None = None) -> TwinResult:
    """Draw the lines from ``state.line`` up to but not including ``last`` (None: to the frame's end).

    ``state`` is left as it stands before line ``last``, at the frame's end before line 0 of the next frame.
    """
    end = state.chip.frame.lines_per_frame
    last = end if last is None else last
    twin = Twin(state, list(writes))
    if last > state.line:
        twin.prepare_first(state.line)
    for line in range(state.line, last):
        twin.run_line(line)
    twin.leave(state, last)
    return twin.result


class Twin:
    """The chip while it runs: its changing parts as ints, bytes and lists."""

    def __init__(self, state: State, writes: list[Write]) -> None:
        self.chip = chip = state.chip
        self.picture = picture_of(state)
        self.writes = writes
        self.memory = bytearray(state.memory.tobytes())
        self.palette: list[int] = state.palette.tolist()
        self.table = bytearray(state.sprites.tobytes())
        self.controls: dict[str, int] = dict(zip(state.names, state.controls.tolist(), strict=True))
        self.names = state.names
        self.next_line: dict[str, int] = {}
        self.next_frame = {state.names[number]: value for number, value in state.next_frame.items()}
        self.fields = fields(chip)
        self.width = chip.memory.bytes_per_access
        self.result = TwinResult(min(state.line, self.picture.height), slot_first=state.line)
        self.colours: dict[int, tuple[int, int, int]] = {}
        self.ladders = self._ladders()
        self.layers = Layers(chip, self.picture.width)
        self.layer = {layer.name: layer for layer in chip.layers}
        self.cpu = CpuSide(state)
        self.slots = Slots(state, self.memory) if chip.time else None
        self.put_off: list[MemoryWrite | SpriteWrite] = []
        self.early = bool(chip.time and chip.sprites and chip.time.clients["sprites"].when == "line before")
        self.ahead, self.buffers, self.kept = state.ahead, dict(state.buffers), dict(state.kept)
        fetched_before = (
            {name for name, client in chip.time.clients.items() if client.when == "line before"} if chip.time else ()
        )
        self.fed_before: dict[str, list[Any]] = {}
        self.fed_here: dict[str, list[Any]] = {}
        self.buffered = [name for name in chip.layer_names if any(one.startswith(f"{name}.") for one in fetched_before)]

    def leave(self, state: State, last: int) -> None:
        """Put everything back into ``state``, which stands before line ``last`` from now on."""
        self._put_off_act()
        state.line = last
        if last == self.chip.frame.lines_per_frame:
            self.controls.update(self.next_frame)
            self.next_frame = {}
            self._forget_kept()
            state.line = 0
            state.frame += 1
        state.memory[:] = list(self.memory)
        state.palette[:] = self.palette
        state.sprites.reshape(-1)[:] = list(self.table)
        state.controls[:] = [self.controls[name] for name in self.names]
        state.next_frame = {self.names.index(name): value for name, value in self.next_frame.items()}
        state.ports, state.status, state.collision_flags = self.cpu.ports, self.cpu.status, self.cpu.collision_flags
        state.held = self.cpu.held()
        self.result.raised = self.cpu.raised
        if self.slots:
            state.ahead, state.buffers, state.kept = self.ahead, self.buffers, self.kept
            state.waiting, state.transfers = self.slots.cpu.waiting(), self.slots.cpu.begun
            self.result.transfers = list(self.slots.cpu.records())

    # Time

    def _put_off_act(self) -> None:
        for write in self.put_off:
            self._store(write)
        self.put_off = []

    def _store(self, write: MemoryWrite | SpriteWrite) -> None:
        if isinstance(write, MemoryWrite):
            self.memory[write.address : write.address + len(write.data)] = write.data
        else:
            self.table[write.offset : write.offset + len(write.data)] = write.data

    def run_line(self, line: int) -> None:
        """One line: what is written between the lines, then span by span what is written while dots are shown."""
        self._put_off_act()
        here = [write for write in self.writes if write.line == line]
        made = self.cpu.translate(line, here, {**self.controls, **self.next_frame}, self.palette)
        self.put_off = made.later
        for write in made.now:
            if isinstance(write, MemoryWrite | SpriteWrite):
                self._store(write)
            elif isinstance(write, Transfer) and self.slots:
                self.slots.cpu.begin(write)
        spans = self._spans(made.now)
        drops: list[Any] = []
        before = len(self.result.collisions)
        if line < self.picture.height:
            drops = self._draw_line(line, spans, uncut=self._uncut(made.now))
        else:
            self._forget_kept()
            self._below(line, spans)
        self._flags(line, spans, made.clears, self.result.collisions[before:], drops=bool(drops))
        if line < self.picture.height + self.picture.below:
            self.result.edge.append(self._colour(spans[0].palette[spans[0].controls["backdrop"]]))
        self.controls = {**self.controls, **self.next_line}
        self.next_line = {}

    def _flags(self, line: int, spans: list[Span], clears: Any, collisions: Any, *, drops: bool) -> None:
        touched = []
        for record in collisions:
            groups = 0
            for number in record[1:3]:
                groups |= 1 << self.groups_of[number]
            self.result.collision_flags |= groups
            touched.append((record[3], groups))
        flag_line = spans[0].controls.get("line_flag")
        self.cpu.end_line(line, flag_line, drops=drops, collisions=touched, clears=clears)

    def _spans(self, here: list[Made]) -> list[Span]:
        """The stretches of the line between writes, with what is in force there; all writes act."""
        width = self.picture.width
        spans = []
        start = 0
        for write in here:
            if not isinstance(write, RegisterWrite | PaletteWrite):
                continue
            if start < min(write.dot, width):
                spans.append(Span(start, min(write.dot, width), self.controls, self.palette))
                start = min(write.dot, width)
            self._act(write)
        if start < width:
            spans.append(Span(start, width, self.controls, self.palette))
        return spans

    def _uncut(self, here: list[Made]) -> bool:
        """Whether nothing that counts at once is written in the middle of the line."""
        for write in here:
            counts = isinstance(write, PaletteWrite) or (
                isinstance(write, RegisterWrite) and self.fields[write.name].effect == "at once"
            )
            if counts and 0 < write.dot < self.picture.width:
                return False
        return True

    def _act(self, write: RegisterWrite | PaletteWrite) -> None:
        if isinstance(write, PaletteWrite):
            after = write.entry + len(write.words)
            self.palette = [*self.palette[: write.entry], *write.words, *self.palette[after:]]
            return
        field = self.fields[write.name]
        values = dict.fromkeys(field.controls, write.value)
        if field.effect == "at once":
            self.controls = {**self.controls, **values}
        elif field.effect == "next line":
            self.next_line.update(values)
        else:
            self.next_frame.update(values)

    # Lines

    def prepare_first(self, line: int) -> None:
        """What is fetched ahead for the first line, where nothing was: as though an empty line had gone before."""
        sprites, layers = self.early and self.ahead is None, len(self.buffers) != len(self.buffered)
        if (sprites or layers) and line < self.picture.height:
            assert self.slots is not None and self.chip.time is not None
            following = self._fetch_ahead(line, self.controls)
            in_order = [following.askers[name] for name in self.chip.time.clients if name in following.askers]
            self.slots.run_empty(in_order)
            self._take(following)
            self.fed_before = {}  # a state does not hold what fed the dots that it has

    def _below(self, line: int, spans: list[Span]) -> None:
        """A line below the picture: nothing but what the next frame's first line needs ahead may be fetched."""
        if not self.slots:
            return
        following = self._next_line(line, spans)
        self._run_slots(line, following.askers if following else {})
        self._take(following)

    def _next_line(self, line: int, spans: list[Span]) -> NextLine | None:
        """What is fetched on ``line`` for the one after it, where that is in the picture."""
        target = (line + 1) % self.chip.frame.lines_per_frame
        if target >= self.picture.height or not (self.early or self.buffered):
            return None
        return self._fetch_ahead(target, spans[0].controls)

    def _fetch_ahead(self, target: int, controls: dict[str, int]) -> NextLine:
        """What line ``target`` needs of what is fetched ahead, as ``controls`` have it."""
        prepared = self._prepare(target, controls) if self.early else None
        layers = Layers(self.chip, self.picture.width)
        zones = self._asked(target, controls)
        asked = {name: number for name, (number, _) in zones.items()}
        off, _ = self._say(asked)
        whole = Span(0, self.picture.width, controls, self.palette)
        shown = {}
        for name, (number, zone) in zones.items():
            mode = self.layer[name].modes[number]
            if name not in off and name in self.buffered:
                shown[name] = number, target if mode.origin == "picture" else target - zone
                layers.show(name, mode, shown[name][1], whole)
        kept = self._keep(target, whole, layers, shown)
        askers = self._layer_askers(layers, self.buffered)
        if prepared:
            askers["sprites"] = self._asks(prepared)
        return NextLine(prepared, layers, asked, shown, kept, askers)

    def _take(self, following: NextLine | None) -> None:
        """The line's slots are over: what was fetched ahead is kept until the next line shows."""
        self.ahead = self._as_ahead(following.sprites) if following and following.sprites else None
        self.buffers, self.fed_before = {}, {}
        numbers = {name: number for number, name in enumerate(self.chip.layer_names)}
        self.kept = {
            number: kept for number, kept in self.kept.items() if number not in map(numbers.get, self.buffered)
        }
        if not following:
            return
        following.layers.fill()
        self._note_kept(following.kept, following.layers)
        for name in self.buffered:
            lost = dict.fromkeys(clients(self.chip), 0)
            for asker in following.askers.values():
                if isinstance(asker, LayerAsks) and asker.name.startswith(f"{name}."):
                    lost[asker.name] += asker.count_missed()
            missed = [(client, count) for client, count in lost.items() if count]
            dots: tuple[int, ...] = ()
            fields: tuple[tuple[str, tuple[int, ...]], ...] = ()
            if name in following.shown:
                layers = following.layers
                self.fed_before[name] = [self._fed(layers, place) for place in layers.places[name]]
                mode = self.layer[name].modes[following.shown[name][0]]
                shows = following.layers.dots[name]
                dots = tuple(dot[0] if dot else -1 for dot in shows)
                names = list(mode.cell.layout) if isinstance(mode, TilesMode) else []
                if isinstance(mode, BitmapMode) and mode.colours and mode.colours.cell.priority:
                    names = ["priority"]
                fields = tuple((name, tuple(dot[1].get(name, 0) if dot else 0 for dot in shows)) for name in names)
            self.buffers[numbers[name]] = LineBuffer(following.asked.get(name, -1), dots, fields, tuple(missed))

    def _run_slots(self, line: int, askers: dict[str, Asker]) -> None:
        assert self.slots is not None and self.chip.time is not None
        counts = dict.fromkeys([*clients(self.chip), "refresh", "cpu"], 0)
        in_order = [askers[name] for name in self.chip.time.clients if name in askers]
        for slot, access in self.slots.run(line, in_order):
            counts[access.client] += 1
            self.result.trace.append((line, slot, access.client, access.address, access.value))
        self.result.slots.append(counts)
        self.result.unread.append(sum(asker.unread() for asker in in_order if isinstance(asker, SpritesAsk)))

    def _draw_line(self, line: int, spans: list[Span], *, uncut: bool) -> list[Any]:
        chip, width = self.chip, self.picture.width
        self.layers.begin()
        self.fed_here = {}
        ladders = [self._show(line, span) for span in spans]
        kept = self._keep(line, spans[0] if uncut else None, self.layers, self.shown)
        missed = dict.fromkeys(clients(chip), 0)
        here = None if self.early or not chip.sprites else self._prepare(line, spans[0].controls)
        if self.slots:
            following = self._next_line(line, spans)
            askers = self._layer_askers(self.layers, [name for name in chip.layer_names if name not in self.buffered])
            if here:
                askers["sprites"] = self._asks(here)
            self._run_slots(line, askers | (following.askers if following else {}))
            for asker in askers.values():
                if isinstance(asker, LayerAsks):
                    missed[asker.name] += asker.count_missed()
            for buffer in self.buffers.values():
                missed.update(buffer.missed)
            self.result.counts.append({name: self.result.slots[-1][name] for name in clients(chip)})
            sprites = self.ahead if self.early else here and self._as_ahead(here)
            self.kept = {}
            self._note_kept(kept, self.layers)
            self._take(following)
        else:
            self.result.counts.append(self._fetch_all(here))
            sprites = here and self._as_ahead(here)
        self.result.missed.append(missed)
        self.layers.fill()
        self._place_sprites(sprites)
        drops = [(line, number, reason) for number, reason in sprites.drops] if sprites else []
        self.result.drops += drops
        self.result.found.append(sprites.found if sprites else 0)
        self.result.drawn.append(len(sprites.kept) if sprites else 0)
        self._paint(line, spans, ladders, width)
        return drops

    def _paint(self, line: int, spans: list[Span], ladders: list[list[tuple[int, Rung]]], width: int) -> None:
        won: list[tuple[int, int, int, int]] = []
        colours: list[tuple[int, int, int]] = []
        touched: dict[tuple[int, int], int] = {}
        for span, ladder in zip(spans, ladders, strict=True):
            rung_of: dict[int, int | None] = {}
            for x in range(span.start, span.stop):
                if len(self.on_dot[x]) > 1 and self.chip.collisions:
                    self._collide(x, ladder, touched)
                won.append(self._winner(x, ladder, span.controls["backdrop"], rung_of))
                colours.append(self._colour(span.palette[won[-1][0]]))
        self.result.collisions += [(line, *pair, touched[pair]) for pair in sorted(touched)]
        self.result.indices.append([entry for entry, _, _, _ in won])
        self.result.source.append([source for _, source, _, _ in won])
        self.result.rung.append([rung for _, _, rung, _ in won])
        self.result.sprite.append([sprite for _, _, _, sprite in won])
        self.result.rgb.append(colours)
        planes = {name: [dot and dot[0] for dot in dots] for name, dots in self.layers.dots.items()}
        if self.chip.sprites:
            planes["sprites"] = [dots[0][1] if dots else None for dots in self.on_dot]
        self.result.planes.append(planes)
        self.result.fed.append(
            {
                name: self.fed_here.get(name) or [self._fed(self.layers, place) for place in places]
                for name, places in self.layers.places.items()
            }
        )

    def _fed(self, layers: Layers, place: Place | None) -> tuple[int | None, int, int] | None:
        """What fed a dot: the address of its cell, the cell's word, the first access for its row."""
        if place is None:
            return None
        group = place.group
        if isinstance(group.mode, BitmapMode) and group.mode.colours:
            word = group.word if group.has_word else group.first_word
            return *layers.colour_cell(group, place.at, word), layers.row_accesses(group, word)[0]
        if group.fed is None:
            word = group.word if group.has_word else group.first_word
            group.fed = group.cell, word if group.cell is not None else -1, layers.row_accesses(group, word)[0]
        return group.fed

    def _asked(self, line: int, controls: dict[str, int]) -> dict[str, tuple[int, int]]:
        """For each layer that is enabled: the mode that it asks for on ``line``, and the first line of its zone."""
        found = {}
        for layer in self.chip.layers:
            if not controls[f"{layer.name}.enable"]:
                continue
            number, zone = 0, 0
            if len(layer.modes) > 1:
                number = controls[f"{layer.name}.mode"]
                if line >= controls[f"{layer.name}.split"]:
                    number, zone = controls[f"{layer.name}.below"], controls[f"{layer.name}.split"]
            found[layer.name] = number, zone
        return found

    def _say(self, asked: dict[str, int]) -> tuple[set[str], list[tuple[int, Rung]]]:
        """Which layers are off where these modes are asked for, and the ladder that is in force."""
        off = {name for name in self.chip.layer_names if name not in asked}
        ladder = self.ladders[None]
        for layer in self.chip.layers:
            if layer.name in off:
                continue
            mode = layer.modes[asked[layer.name]]
            if mode.exclusive is not None:
                off.update(mode.exclusive)
                if mode.ladder is not None and ladder is self.ladders[None]:
                    ladder = self.ladders[layer.name, mode.name]
        return off, ladder

    def _show(self, line: int, span: Span) -> list[tuple[int, Rung]]:
        """Find what each layer shows in ``span``; the ladder that is in force there."""
        zones = self._asked(line, span.controls)
        asked = {name: number for name, (number, _) in zones.items() if name not in self.buffered}
        held = {name: self.buffers[self.chip.layer_names.index(name)] for name in self.buffered}
        asked |= {name: buffer.mode for name, buffer in held.items() if buffer.mode >= 0}
        off, ladder = self._say(asked)
        for name in off:
            self.layers.stop(name)
        self.shown = {}
        for name, (number, zone) in zones.items():
            if name not in off and name not in self.buffered:
                mode = self.layer[name].modes[number]
                self.shown[name] = number, line if mode.origin == "picture" else line - zone
                self.layers.show(name, mode, self.shown[name][1], span)
        for name, buffer in held.items():
            here = self.fed_here.setdefault(name, [None] * self.picture.width)
            if name not in off and buffer.dots and name in self.fed_before:
                fed = self.fed_before[name][span.start : span.stop]
                here[span.start : span.start + len(fed)] = fed
            filled = len(buffer.dots)  # as wide as the picture was in whose slots it was
            for x in range(span.start, min(span.stop, filled)) if name not in off else ():
                entry, fields = buffer.dots[x], {field: values[x] for field, values in buffer.fields}
                self.layers.dots[name][x] = (entry, fields) if entry >= 0 else None
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

    # Fetches

    def _layer_askers(self, layers: Layers, names: list[str]) -> dict[str, Asker]:
        """Whoever asks for the groups of the layers called ``names``."""
        assert self.chip.time is not None and self.slots is not None
        found: dict[str, Asker] = {}
        for name, table in self.chip.time.clients.items():
            layer, what = name.partition(".")[0], name.rpartition(".")[2]
            if layer not in names:
                continue
            client = f"{layer}.{what}"
            here = [group for group in layers.groups[layer] if self._key(layer, group.mode.name, what) == name]
            if what in ("cells", "colours"):
                groups = [group for group in here if group.cell_client == client and not group.has_word]
            else:
                groups = [group for group in here if group.row_client == client]
            found[name] = LayerAsks(client, table, self.slots.clock, layers, groups)
        return found

    def _key(self, layer: str, mode: str, what: str) -> str:
        """The key of the time table that holds for a client in a mode: that of the mode alone, where there is one."""
        assert self.chip.time is not None
        alone = f"{layer}.{mode}.{what}"
        return alone if alone in self.chip.time.clients else f"{layer}.{what}"

    def _fetch_all(self, sprites: Prepared | None) -> dict[str, int]:
        """Everything at once, for a chip without a time table; how many accesses each client makes."""
        counts = dict.fromkeys(clients(self.chip), 0)
        for groups in self.layers.groups.values():
            for group in groups:
                if group.cell_client is not None:
                    group.word, group.has_word = self.layers.word_of(group, self.memory), True
                    counts[group.cell_client] += len(self.layers.cell_accesses(group))
                accesses = self.layers.row_accesses(group, group.word)
                counts[group.row_client] += len(accesses)
                group.data = self.layers.brought(self.memory, accesses)
        if sprites:
            scanned = sum(len(record.accesses) for record in sprites.scan)
            counts["sprites.table"] = scanned + sum(len(need.record) for need in sprites.needs.values())
            counts["sprites.pattern"] = sum(
                len(tile.accesses) for need in sprites.needs.values() for tile in need.tiles
            )
            if self.chip.sprites and self.chip.sprites.table == "chip":
                del counts["sprites.table"]
            for record in sprites.scan:
                record.left = 0
            for need in sprites.needs.values():
                need.complete = True
                for tile in need.tiles:
                    tile.data = self.layers.brought(self.memory, tile.accesses)
        return counts

    def _keep(
        self, line: int, span: Span | None, layers: Layers, shown: dict[str, tuple[int, int]]
    ) -> dict[int, KeptCells]:
        """Give kept cells to the groups that have them; what may be kept from this line on, without words yet.

        ``span`` is the line's only one, None where there are more.
        """
        found: dict[int, KeptCells] = {}
        for number, layer in enumerate(self.chip.layers):
            groups = layers.groups[layer.name]
            for group in groups:
                if group.cell is not None:
                    group.first_word = layers.word_of(group, self.memory)
            if not self.chip.time or not span or layer.name not in shown:
                continue
            index, mode_line = shown[layer.name]
            mode, controls = layer.modes[index], span.controls
            what, where = ("colours", "colours") if isinstance(mode, BitmapMode) else ("cells", "map")
            client = self.chip.time.clients.get(self._key(layer.name, mode.name, what))
            if not client or not client.keep:
                continue
            if isinstance(mode, BitmapMode):
                if not mode.colours:
                    continue
                scroll_x, scroll_y = scrolls(layer.name, mode, controls)
                map_y = layers.along(mode, 1, mode_line + scroll_y)
                if map_y is None:
                    continue
                row = map_y // mode.double[1] % mode.height // mode.colours.block[1]
            elif isinstance(mode, TilesMode):
                scroll_x, scroll_y = scrolls(layer.name, mode, controls)
                map_y = layers.along(mode, 1, mode_line + scroll_y)
                if map_y is None:
                    continue
                row = map_y // mode.double[1] % (mode.rows * mode.tile[1]) // mode.tile[1]
            else:
                scroll_x, row = 0, mode_line // mode.double[1] // mode.glyph[1]
                if row >= mode.rows:
                    continue
            at = controls[f"{layer.name}.{mode.name}.{where}"]
            now = KeptCells(index, at, row, scroll_x, (), self.picture.width)
            before = self.kept.get(number)
            if line > 0 and before and before._replace(words=()) == now:
                each = len(before.words) // len(groups) if groups else 0
                for place, group in enumerate(groups):
                    word = layers.word_from(mode, before.words[place * each : (place + 1) * each])
                    group.word, group.first_word, group.has_word = word, word, True
            found[number] = now
        return found

    def _note_kept(self, found: dict[int, KeptCells], layers: Layers) -> None:
        for number, kept in found.items():
            groups = layers.groups[self.chip.layers[number].name]
            words = tuple(
                word
                for group in groups
                for word in layers.words_in(group.mode, group.word if group.has_word else group.first_word)
            )
            self.kept[number] = kept._replace(words=words)

    def _forget_kept(self) -> None:
        """No cells are kept over the picture's end, but for those of the next frame's first line, fetched ahead."""
        for number, name in enumerate(self.chip.layer_names):
            if name not in self.buffered:
                self.kept.pop(number, None)

    def _colour(self, word: int) -> tuple[int, int, int]:
        if word not in self.colours:
            red, green, blue = (
                (2 * 255 * bits.get(word) + bits.top) // (2 * bits.top) for bits in self.chip.palette.layout.values()
            )
            self.colours[word] = red, green, blue
        return self.colours[word]

    # Sprites

    def _prepare(self, line: int, controls: dict[str, int]) -> Prepared:
        """Who lies on ``line``, who is dropped for count or dots, and what the others need to fetch."""
        sprites = self.chip.sprites
        assert sprites is not None
        if not controls["sprites.enable"]:
            return Prepared(line, [], [], {})
        table = controls.get("sprites.table", 0)
        lying = [sprite for sprite in self._records(table) if self._row_of(sprite, line) is not None]
        scan: list[RecordNeeds] = []
        others: list[int] = []
        if sprites.table == "memory":
            first, others = self._table_words()
            for number in range(sprites.count):
                record = table + number * sprites.record_bytes
                accesses = [self.layers.access(record + word * self.width) for word in first]
                scan.append(RecordNeeds(number, accesses, len(accesses)))
        needs = {}
        for sprite, reason in self._walk(lying):
            if not reason:
                record = table + sprite.number * sprites.record_bytes
                needs[sprite.number] = SpriteNeeds(
                    sprite.number,
                    [self.layers.access(record + word * self.width) for word in others],
                    self._tiles(sprite, line, self._bases(controls)),
                )
        return Prepared(line, lying, scan, needs)

    def _walk(self, found: list[Sprite]) -> list[tuple[Sprite, str]]:
        """The sprites in the order of the walk, and why each is dropped ("": not by count or dots)."""
        sprites = self.chip.sprites
        assert sprites is not None
        walk, dots = [], 0
        upward = (sprites.front == "first") == (sprites.dropped == "back")
        for rank, sprite in enumerate(found if upward else found[::-1]):
            dots += sprites.sizes[sprite.get("size")][0]
            reason = ""
            if sprites.per_line is not None and rank >= sprites.per_line:
                reason = "count"
            elif sprites.dots_per_line is not None and dots > sprites.dots_per_line:
                reason = "dots"
            walk.append((sprite, reason))
        return walk

    def _asks(self, prepared: Prepared) -> SpritesAsk:
        assert self.chip.time is not None
        table = self.chip.time.clients["sprites"]
        return SpritesAsk(table, self.layers, self.memory, prepared.scan, list(prepared.needs.values()))

    def _as_ahead(self, prepared: Prepared) -> Ahead:
        """What came of the line's sprites once their fetches are made."""
        drops, kept = [], []
        unknown = {record.number for record in prepared.scan if not record.known}
        found = [sprite for sprite in prepared.lying if sprite.number not in unknown]
        for sprite, reason in self._walk(found):
            need = prepared.needs.get(sprite.number)
            if need is None or not need.complete:
                drops.append((sprite.number, reason or "slots"))
                continue
            row = self._row_of(sprite, prepared.line)
            assert row is not None
            kept.append((sprite.number, sprite.word, row, need.bytes))
        assert self.chip.sprites is not None
        from_back = kept[::-1] if self.chip.sprites.dropped == "back" else kept
        return Ahead(len(found), tuple(drops), tuple(from_back))

    def _records(self, table: int) -> list[Sprite]:
        """The whole sprite table, decoded."""
        sprites = self.chip.sprites
        assert sprites is not None
        records = []
        for number in range(sprites.count):
            start = number * sprites.record_bytes
            if sprites.table == "memory":
                record = bytes(self.memory[(table + start + n) % len(self.memory)] for n in range(sprites.record_bytes))
            else:
                record = bytes(self.table[start : start + sprites.record_bytes])
            records.append(self._sprite(number, int.from_bytes(record, self.chip.memory.byte_order)))
        return records

    def _sprite(self, number: int, word: int) -> Sprite:
        assert self.chip.sprites is not None
        layout = self.chip.sprites.fields.layout
        return Sprite(number, word, {name: bits.get(word) for name, bits in layout.items()})

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

    def _bases(self, controls: dict[str, int]) -> tuple[int, ...]:
        """Where pattern 0 lies, in each plane where they are apart."""
        sprites = self.chip.sprites
        assert sprites is not None
        if sprites.planes == "apart":
            return tuple(controls[f"sprites.plane_{plane}"] for plane in range(sprites.bits_per_dot))
        return (controls["sprites.patterns"],)

    def _rows(self, size: int) -> DotRows:
        """How the rows of a sprite size's tiles lie, of the sprite itself where it is made of none."""
        sprites = self.chip.sprites
        assert sprites is not None
        across, down = sprites.tiles.size if sprites.tiles else sprites.sizes[size]
        return DotRows(across, down, sprites.bits_per_dot, sprites.planes, sprites.first_dot)

    def _tiles(self, sprite: Sprite, line: int, patterns: tuple[int, ...]) -> list[TileNeeds]:
        """The row of each tile that the sprite shows on ``line``."""
        sprites = self.chip.sprites
        assert sprites is not None
        size = sprite.get("size")
        row = self._row_of(sprite, line)
        assert row is not None
        if sprite.get("flip_y"):
            row = sprites.sizes[size][1] - 1 - row
        number = sprite.get("pattern")
        if sprites.fields.pattern_bank:
            number += sprite.get("pattern_bank") * 2**sprites.fields.pattern.width
        (across, down), rows = sprites.sizes[size], self._rows(size)
        found = []
        for column in range(across // rows.across):
            tile = self._tile_number(column, row // rows.down, across // rows.across, down // rows.down)
            bases = tuple(base + number * self._step(size) + tile * rows.whole for base in patterns)
            own, accesses = [], []
            for at, count in rows.runs(bases, row % rows.down):
                own += [(at + step) % len(self.memory) for step in range(count)]
                accesses += self.layers.run_of(at % len(self.memory), count)
            found.append(TileNeeds(own, accesses))
        return found

    def _tile_number(self, column: int, row: int, columns: int, rows: int) -> int:
        """How many tiles after its sprite's first one lies, of ``columns`` and ``rows`` of them; 0 where it is the only one."""
        tiles = self.chip.sprites.tiles if self.chip.sprites else None
        if tiles is None:
            return 0
        if tiles.order == "rows":
            return row * (tiles.stride or columns) + column
        return column * (tiles.stride or rows) + row

    def _step(self, size: int) -> int:
        """Bytes from a pattern number of a sprite size to the next."""
        sprites = self.chip.sprites
        assert sprites is not None
        if isinstance(sprites.pattern_bytes, int):
            return sprites.pattern_bytes
        if sprites.pattern_bytes is not None:
            return sprites.pattern_bytes[size]
        return min(self._rows(one).whole for one in range(len(sprites.sizes)))

    def _table_words(self) -> tuple[list[int], list[int]]:
        """Which accesses of a record must be read to find the sprite, and those that only a drawn sprite needs."""
        sprites = self.chip.sprites
        assert sprites is not None
        needed = set()
        for name in ("y", "size", "enable"):
            for bit in range(8 * sprites.record_bytes):
                if name in sprites.fields.layout and sprites.fields.layout[name].mask >> bit & 1:
                    little = bit // 8
                    byte = little if self.chip.memory.byte_order == "little" else sprites.record_bytes - 1 - little
                    needed.add(byte // self.width)
        return sorted(needed), [word for word in range(sprites.record_bytes // self.width) if word not in needed]

    def _place_sprites(self, ahead: Ahead | None) -> None:
        """The opaque dots of the line's sprites, front to back in each dot's list."""
        sprites, width = self.chip.sprites, self.picture.width
        self.on_dot: list[list[tuple[Sprite, int]]] = [[] for _ in range(width)]
        self.groups_of: dict[int, int] = {}
        for number, word, _, data in reversed(ahead.kept if ahead else ()):
            assert sprites is not None
            sprite = self._sprite(number, word)
            self.groups_of[number] = sprite.get("group")
            across = sprites.sizes[sprite.get("size")][0]
            left = sprite.get("x") - (sprites.x_bias if sprite.get("x_bias") else 0)
            for step in range(across):
                x = left + step
                if sprites.wrap_x:
                    x %= 1 << sprites.fields.x.width
                if not 0 <= x < width:
                    continue
                dot = across - 1 - step if sprite.get("flip_x") else step
                value = self._rows(sprite.get("size")).value_in_row(data, dot)
                entry = entry_of(self.chip, sprites.entries, sprites.transparent, sprite.get("bank"), value)
                if entry is not None:
                    self.on_dot[x].append((sprite, entry))

    # What shows

    def _holds(self, x: int, rung: Rung) -> bool:
        """Whether a layer's rung matches at dot ``x``."""
        dot = self.layers.dots[rung.source][x]
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
        if len(here) > 1 and self.chip.sprites and self.chip.sprites.resolve == "before the ladder":
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
                dot = self.layers.dots[rung.source][x]
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

    def _hidden(self, x: int, sprite: Sprite, ladder: list[tuple[int, Rung]]) -> bool:
        """Whether a layer covers the sprite at dot ``x``, or no rung shows it."""
        own = self._rung_of(sprite, ladder)
        if own is None:
            return True
        return any(number < own and rung.source != "sprites" and self._holds(x, rung) for number, rung in ladder)
