"""The moves of an attack: what each line is wanted to have, how that is changed a little, and the writes that bring it about.

Law: whatever is wanted is something that the chip's registers, its memory and its sprite table can hold; what a line wants
is brought about by writes at dot 0 or in blanking. Which moves there are follows from what has broken budgets before: a
layer that comes or goes from one line to the next, one sprite more or fewer, another mode on the line at which a buffer is
filled, cells that are no longer kept, scrolls one apart, a zone that begins on this very line, some cells turned. Draws
nothing and scores nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random
from typing import Any

from attack_script import Script
from attack_table import Table

from vdpsim.chip.line.clients import buffered
from vdpsim.chip.model import Chip, TilesMode
from vdpsim.chip.registers import RegisterField, fields, rest_values
from vdpsim.state.writes import MemoryWrite, RegisterWrite, SpriteWrite, Transfer, Write

SPRITES = ""
"""The name under which a line's wants have its sprites: their sizes, in the order of the walk."""

TURNS = "turns"
"""And what is put into a map whose cells can be turned: the map's control, how many bytes, those that stand over and over."""

MATTER = (".enable", ".mode", ".below", ".split", ".scroll_x", ".scroll_y", ".map", ".colours", "picture_size")
"""The registers from which it follows what is fetched and when."""

Want = dict[str, Any]


@dataclass(frozen=True)
class Window:
    """Some lines from ``line`` on and what each of them wants: registers by name, and the sprites."""

    line: int
    wants: tuple[Want, ...]


class Moves:
    """The moves on one chip; ``restart`` before anything else."""

    def __init__(self, chip: Chip, random: Random) -> None:
        self.chip, self.random = chip, random
        own = {one: [name for name in one.controls if name.endswith(MATTER)] for one in fields(chip).values()}
        matter = {
            names[0]: one for one, names in own.items() if names
        }  # what a field sets is written by one of its names
        self.tied = {other: name for name, one in matter.items() for other in one.controls}
        self.by_line = {name: one for name, one in matter.items() if one.effect != "next frame"}
        self.by_frame = {name: one for name, one in matter.items() if one.effect == "next frame"}
        self.length = 3 + any(buffered(chip, layer) for layer in chip.layers)
        self.sprites = chip.sprites
        self.turning = [
            (f"{layer.name}.{mode.name}.map", min(mode.map_bytes, 256))
            for layer in chip.layers
            for mode in layer.modes
            if isinstance(mode, TilesMode) and mode.cell.turn
        ]
        self.memory = b""
        self.values: dict[str, int] = {}

    # What stays for a few scripts

    def restart(self, number: int, *, keep: bool) -> None:
        """Other memory, and other registers that change with frames alone; ``keep``: much the same as before."""
        random = self.random
        if not keep:
            self.memory = self._contents(number)
            self.values = {name: self._value(name, one, 0) for name, one in self.by_frame.items()}
            if number < 2:
                self.values |= {name: 1 for name, one in self.by_frame.items() if _switches(name) and one.top}
        else:
            memory = bytearray(self.memory)
            for _ in range(random.choice((0, 1, 4, 30))):
                memory[random.randrange(len(memory))] ^= 0xFF
            self.memory = bytes(memory)
            for name in self.by_frame:
                if random.randrange(2) == 0:
                    self.values[name] = self._value(name, self.by_frame[name], 0)

    def _contents(self, number: int) -> bytes:
        """Memory all of whose cells are turned, or none, or some: here and there, or row by row in their own measure."""
        size, random = self.chip.memory.size, self.random
        modes = [mode for layer in self.chip.layers for mode in layer.modes if isinstance(mode, TilesMode)]
        if number == 0 or not any(mode.cell.turn for mode in modes):
            return b"\xff" * size
        if number == 1:
            return bytes(size)
        run, found = random.choice((1, 2, 16, 32)), bytearray()
        share = random.random()
        while len(found) < size:
            if random.randrange(3) == 0:
                share = random.choice((0.0, 0.1, 0.5, 0.9, 1.0, random.random()))
            unit = random.choice((1, 2))
            for _ in range(max(1, run // unit)):
                found += (b"\xff" if random.random() < share else b"\0") * unit
        return bytes(found[:size])

    # What a line wants

    def _value(self, name: str, register: RegisterField, line: int) -> int:
        random, top, step = self.random, register.top, register.step
        if _switches(name):
            return min(top, int(random.randrange(100) < 78))
        if name.endswith(".split"):
            near = random.choice((line - 1, line, line, line + 1, line + 1, line + 2, 0, top, random.randint(0, top)))
            return max(0, min(near, top) // step * step)
        if name.endswith(".scroll_x"):
            far = random.choice((7, 7, 15, 31, top))
            return random.randint(0, min(far, top) // step) * step
        return random.choice((0, random.randint(0, top // step))) * step

    def _sizes(self) -> tuple[int, ...]:
        """Sizes of the sprites of a line: none, all, or some number of them; of one size or of any."""
        if self.sprites is None:
            return ()
        random, count = self.random, self.sprites.count
        limit = min(count, self.sprites.per_line or count)
        number = random.choice((0, limit, limit, count, max(0, limit - 1), random.randint(0, count)))
        one = random.randrange(len(self.sprites.sizes))
        mixed = random.randrange(2) == 0
        return tuple(random.randrange(len(self.sprites.sizes)) if mixed else one for _ in range(number))

    def fresh(self, line: int) -> Window:
        """A new window: all there is on its first line, and on each further line a few changes."""
        want: Want = {name: self._value(name, one, line) for name, one in self.by_line.items()}
        want[SPRITES] = self._sizes()
        want[TURNS] = self._turns() if self.turning and self.random.randrange(4) == 0 else None
        if self.random.randrange(3) == 0:
            want |= {name: one.top and 1 for name, one in self.by_line.items() if _switches(name)}
        wants = [want]
        while len(wants) < self.length:
            want = dict(want)
            for _ in range(self.random.choice((0, 1, 1, 2, 3))):
                self._change(want, line + len(wants))
            wants.append(want)
        return Window(line, tuple(wants))

    def _change(self, want: Want, line: int) -> None:
        """Change one thing that a line wants."""
        random = self.random
        names = list(self.by_line)
        if want[TURNS] and random.randrange(3) == 0:
            place, (name, count, data) = random.randrange(len(want[TURNS][2])), want[TURNS]
            want[TURNS] = (name, count, bytes([*data[:place], data[place] ^ 0xFF, *data[place + 1 :]]))
            return
        if self.sprites is not None and random.randrange(5) == 0:
            want[SPRITES] = self._other_sprites(want[SPRITES])
            return
        if not names:
            return
        wanted = [name for name in names if not name.endswith((".scroll_y", ".map", ".colours"))]
        if wanted and random.randrange(5):
            names = wanted
        name = random.choice(names)
        register, value = self.by_line[name], want[name]
        if _switches(name):
            want[name] = min(register.top, 1 - value)
        elif name.endswith((".scroll_x", ".scroll_y")) and random.randrange(2):
            by = random.choice((-1, 1, -1, 1, 8, -8)) * register.step
            want[name] = (value + by) % (register.top + register.step)
        else:
            want[name] = self._value(name, register, line)

    def _turns(self) -> tuple[str, int, bytes]:
        """Which cells are turned, as bytes that stand over and over in a layer's map."""
        random = self.random
        name, count = random.choice(self.turning)
        share = random.choice((0.1, 0.5, 0.5, 0.9))
        return (
            name,
            count,
            bytes(0xFF if random.random() < share else 0 for _ in range(random.choice((2, 3, 8, 16, 32)))),
        )

    def _other_sprites(self, sizes: tuple[int, ...]) -> tuple[int, ...]:
        assert self.sprites is not None
        random, kinds = self.random, len(self.sprites.sizes)
        move = random.randrange(4)
        if move == 0 and sizes:
            return sizes[:-1]
        if move == 1 and len(sizes) < self.sprites.count:
            return (*sizes, random.randrange(kinds))
        if move == 2 and sizes:
            place = random.randrange(len(sizes))
            return (*sizes[:place], random.randrange(kinds), *sizes[place + 1 :])
        return self._sizes()

    def changed(self, window: Window, line: int, at: int) -> Window:
        """A window for ``at`` that is much like ``window`` at ``line``: what it says of splits goes along."""
        wants = [dict(want) for want in window.wants]
        by = at - line if line == window.line else at - window.line
        for want in wants:
            for name, register in self.by_line.items():
                if name.endswith(".split") and 0 < want[name] < register.top:
                    want[name] = max(0, min(want[name] + by, register.top) // register.step * register.step)
        for _ in range(self.random.choice((0, 1, 1, 2, 3, 6))):
            place = self.random.randrange(len(wants))
            if self.random.randrange(4) == 0:
                wants[place] = dict(wants[place - 1] if place else wants[-1])
                continue
            self._change(wants[place], at + place)
            if self.random.randrange(2):  # and so it stays
                for later in range(place + 1, len(wants)):
                    wants[later] = dict(wants[place])
        return Window(at, tuple(wants))

    def crossed(self, one: Window, other: Window) -> Window:
        """``one`` with what ``other`` wants of some layers, or of the sprites."""
        sources = [*self.chip.layer_names, "sprites"]
        taken = {source for source in sources if self.random.randrange(2)}
        wants = []
        for mine, theirs in zip(one.wants, other.wants, strict=False):
            wants.append(
                {name: (theirs if (name or "sprites").partition(".")[0] in taken else mine)[name] for name in mine}
            )
        return Window(one.line, (*wants, *one.wants[len(wants) :]))

    # From wants to writes

    def script(self, rows: list[list[Window]], until: int | None = None) -> Script:
        """The script of one frame or two, whose lines want what the windows of ``rows`` want; ``until``: its ``last``."""
        first = rows[0][0].wants[0]
        values = {**rest_values(self.chip), **self.values, **{name: first[name] for name in self.by_line}}
        values |= {other: values[name] for other, name in self.tied.items()}
        controls, memory = dict(values), bytearray(self.memory)
        table = Table(self.chip, values.get("sprites.table", 0)) if self.sprites else None
        start = b""
        if table is not None:
            table.arrange(first[SPRITES], 0)
            start = b"".join(table.records)
            if table.of.table == "memory":
                for place, byte in enumerate(start):
                    memory[(table.address + place) % len(memory)] = byte
                start = b""
        done = []
        last = self.chip.frame.lines_per_frame - 1
        for number, windows in enumerate(rows):
            lines = [want for window in windows for want in window.wants][: last + 1]
            after = rows[number + 1][0].wants[0] if number + 1 < len(rows) else None
            done.append(tuple(self._writes(lines, after, values, table)))
        return Script(bytes(memory), start, controls, tuple(done), until)

    def _writes(
        self, lines: list[Want], after: Want | None, values: dict[str, int], table: Table | None
    ) -> Iterator[Write]:
        """A frame's writes; ``values`` are the registers as they stand, and stand after it as they shall at its end."""
        random, frame = self.random, self.chip.frame
        blanking = range(frame.width, frame.dots_per_line)
        turns = None
        for line, want in enumerate(lines):
            if want[TURNS] and want[TURNS] != turns:
                turns = want[TURNS]
                yield from self._turn_writes(line, values[self.tied.get(turns[0], turns[0])], *turns[1:])
            if table is not None:
                yield from self._sprite_writes(table, want, line)
            for name, register in self.by_line.items():
                if register.effect == "next line":
                    wanted = lines[line + 1] if line + 1 < len(lines) else after
                    dots = [0, random.choice(blanking or [0])]
                    if wanted is not None and wanted[name] != values[name]:
                        yield RegisterWrite(line, name, wanted[name], random.choice(dots))
                        values[name] = wanted[name]
                elif want[name] != values[name]:
                    early = line > 0 and blanking and random.randrange(5) == 0
                    where = (line - 1, random.choice(blanking)) if early else (line, 0)
                    yield RegisterWrite(where[0], name, want[name], where[1])
                    values[name] = want[name]
        for name, register in self.by_frame.items():
            if after is not None and random.randrange(2):
                yield RegisterWrite(random.randrange(frame.height), name, self._value(name, register, 0))
        if random.randrange(12) == 0:
            count = random.choice((8, 64, 400))
            line = random.randrange(len(lines))
            data = bytes(random.choice((0, 0xFF)) for _ in range(count))
            yield Transfer(line, random.randrange(self.chip.memory.size), data)

    def _turn_writes(self, line: int, address: int, count: int, data: bytes) -> Iterator[Write]:
        size = self.chip.memory.size
        whole = (data * (count // len(data) + 1))[:count]
        fits = min(count, size - address)
        yield MemoryWrite(line, address, whole[:fits])
        if fits < count:
            yield MemoryWrite(line, 0, whole[fits:])

    def _sprite_writes(self, table: Table, want: Want, line: int) -> Iterator[Write]:
        """The records that have to change for the sprites that are prepared in the slots of ``line``."""
        frame = self.chip.frame
        shows = line
        if self.chip.time is not None and self.chip.time.clients["sprites"].when == "line before":
            shows = (line + 1) % frame.lines_per_frame
        if shows >= frame.height:
            return
        size = table.of.record_bytes
        for number in table.arrange(want[SPRITES], shows):
            if table.of.table == "chip":
                yield SpriteWrite(line, number * size, table.records[number])
                continue
            for place, byte in enumerate(table.records[number]):
                yield MemoryWrite(line, (table.address + number * size + place) % self.chip.memory.size, bytes([byte]))


def _switches(name: str) -> bool:
    return name.endswith(".enable")
