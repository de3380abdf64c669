"""Random scene files for a chip: colours, patterns, maps, bitmaps, text, sprites, timed writes, transfers and motion.

Law: a scene is written as text and comes in by the ordinary door. A part whose address a register holds is filled, as a rule;
where all parts together find no room, the scene is refused and the caller takes another chip. Little is written, so that a
scene costs no more than other cases.
"""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Any

from strategies import chance, register_value

from vdpsim import InputError, load_scene
from vdpsim.chip.addresses import listens
from vdpsim.chip.controls import controls, sprite_addresses
from vdpsim.chip.model import BitmapMode, Chip, TextMode, TilesMode
from vdpsim.chip.registers import RegisterField, field_names, fields, own_names, registers
from vdpsim.files.toml.out import value
from vdpsim.scene.scene import Scene

Json = dict[str, Any]

ADDRESSES = (
    ".map",
    ".patterns",
    ".glyphs",
    ".bitmap",
    ".colours",
    ".table",
    *(f".plane_{plane}" for plane in range(8)),
)
"""Ends of the names of controls that hold an address, which is for the scene's layout to choose."""


NO_ROOM = ("finds no room", "must be a pattern that is loaded", "must be a map that the scene fills")
"""What is said of a scene whose parts find no room, and of what hangs on these parts: all that may be wrong here."""


def make_scene(random: Random, chip: Chip, folder: Path) -> tuple[Scene, set[str]] | None:
    """A scene of up to three frames for ``chip`` and what its file says; None where its parts find no room in memory."""
    path, writer = folder / "random.scene.toml", _Writer(random, chip)
    path.write_text(writer.text(), "utf-8")
    try:
        return load_scene(path, chip), writer.says()
    except InputError as error:
        if all(any(words in problem.message for words in NO_ROOM) for problem in error.problems):
            return None
        raise


SAID = ("register", "entry", "sprite", "memory", "map", "port", "by", "lines", "from", "values", "frames", "to")
"""Keys of writes and motion that are worth counting."""


def _is_address(name: str) -> bool:
    return name.endswith(ADDRESSES)


class _Writer:
    """One scene file, table by table; what was filled is remembered for the writes."""

    def __init__(self, random: Random, chip: Chip) -> None:
        self.random, self.chip = random, chip
        self.held = field_names(chip)
        self.modes = {f"{layer.name}.{mode.name}": mode for layer in chip.layers for mode in layer.modes}
        self.frames = random.choice((1, 2, 3))
        self.lists: list[tuple[str, Json]] = []
        self.patterns: dict[str, list[int]] = {}
        self.sizes: dict[int, int] = {}
        self.maps: list[str] = []
        self.sprites: list[str] = []
        self.moving: list[Json] = []

    def text(self) -> str:
        """All of it."""
        for part in (self.palette, self.all_patterns, self.all_cells, self.all_sprites, self.writes, self.motion):
            part()
        values = self.starting()
        lines = ['name = "Random"', 'chip = "handed in"', f"frames = {self.frames}", "[registers]"]
        lines += [f'"{name}" = {value(what)}' for name, what in values.items()]
        for key, table in self.lists:
            lines += [f"[[{key}]]", *(f"{name} = {value(what)}" for name, what in table.items())]
        return "\n".join(lines) + "\n"

    def starting(self) -> dict[str, int | str]:
        """What registers hold at the beginning: fields by any of their names, or a whole register."""
        plain = [field for field in fields(self.chip).values() if not any(map(_is_address, field.controls))]
        known = {field.name for field in plain}
        whole = [
            one for one in registers(self.chip).values() if one.name in own_names(self.chip)[len(fields(self.chip)) :]
        ]
        whole = [one for one in whole if known.issuperset(field.name for field, _ in one.holds)]
        values: dict[str, int | str] = {
            one.name: self.random.getrandbits(one.bits) for one in whole if chance(self.random, 20)
        }
        taken = {field.name for one in whole if one.name in values for field, _ in one.holds}
        for field in plain:
            if field.name not in taken and chance(self.random, 50):
                name = self.random.choice((field.name, *field.controls))
                values[name] = self.value(field)
        return values

    def says(self) -> set[str]:
        """The kinds of table in the file; of writes and motion also what they set, and how."""
        found = set()
        for key, table in self.lists:
            more = (name for name in table if name in SAID) if key in {"writes", "motion"} else ()
            found |= {key, *(f"{key} {name}" for name in more)}
        return found

    def add(self, key: str, **table: Any) -> None:
        """One more table."""
        self.lists.append((key, {name.removesuffix("_"): what for name, what in table.items()}))

    # What lies in memory

    def word(self) -> int | str:
        """A colour, as a word or as people write it."""
        if chance(self.random, 50):
            return self.hex_colour()
        return self.random.getrandbits(self.chip.palette.word_bits)

    def hex_colour(self) -> str:
        """A colour as people write it."""
        return f"#{self.random.getrandbits(24):06x}"

    def palette(self) -> None:
        """Some colours, from some entry on."""
        at = self.random.choice((0, self.random.randrange(self.chip.palette.entries)))
        room = min(self.chip.palette.entries - at, self.random.choice((4, 16)))
        self.add("palette", at=at, colours=[self.word() for _ in range(room)])

    def rows(self, across: int, down: int, bits: int) -> list[str]:
        """Dots as digits, about half of them the same."""
        digits = 2 if bits > 4 else 1
        often = self.random.randrange(1 << bits)
        return [
            "".join(
                f"{often if chance(self.random, 40) else self.random.randrange(1 << bits):0{digits}x}"
                for _ in range(across)
            )
            for _ in range(down)
        ]

    def all_patterns(self) -> None:
        """One to three patterns for each who has some."""
        for target, mode in self.modes.items():
            if isinstance(mode, TilesMode) and self.laid_out(target, mode) and chance(self.random, 85):
                self.pattern(target, mode.tile, mode.bits_per_dot, mode.cell.pattern.top)
            elif isinstance(mode, TextMode) and f"{target}.glyphs" in self.held and chance(self.random, 85):
                self.pattern(target, mode.glyph, 1, mode.cell.character.top)
        sprites = self.chip.sprites
        if sprites and all(name in self.held for name in sprite_addresses(sprites)):
            number = self.random.randrange(len(sprites.sizes))
            across, down = sprites.sizes[number]
            self.add(
                "patterns",
                for_="sprites",
                size=[across, down],
                rows=self.rows(across, down, sprites.bits_per_dot),
            )
            self.patterns["sprites"], self.sizes[0] = [0], number

    def laid_out(self, target: str, mode: TilesMode | BitmapMode) -> bool:
        """Whether registers hold the addresses of the mode's dots."""
        planes = [f"plane_{plane}" for plane in range(mode.bits_per_dot)] if mode.planes == "apart" else []
        plain = "patterns" if isinstance(mode, TilesMode) else "bitmap"
        return all(f"{target}.{name}" in self.held for name in planes or [plain])

    def pattern(self, target: str, size: tuple[int, int], bits: int, top: int) -> None:
        """Some patterns of one size, from 0 on."""
        count = min(self.random.randint(1, 3), top + 1)
        rows = [row for _ in range(count) for row in self.rows(*size, bits)]
        self.add("patterns", for_=target, rows=rows)
        self.patterns[target] = list(range(count))

    def cell(self, target: str, mode: TilesMode) -> Json:
        """A cell with some of its fields."""
        fields: Json = {"pattern": self.random.choice(self.patterns[target])}
        for name, bits in mode.cell.layout.items():
            if name != "pattern" and chance(self.random, 40):
                fields[name] = self.random.randint(0, bits.top)
        return fields

    def all_cells(self) -> None:
        """Maps, bitmaps and texts."""
        for target, mode in self.modes.items():
            if isinstance(mode, BitmapMode):
                if self.laid_out(target, mode):
                    across, down = min(mode.width, 24), min(mode.height, 6)
                    self.add("bitmaps", for_=target, rows=self.rows(across, down, mode.bits_per_dot))
                if mode.colours and f"{target}.colours" in self.held and chance(self.random, 80):
                    self.maps.append(target)
                    self.add("colours", for_=target, fill=self.colour_cell(mode), **self.colour_cells(mode))
            elif f"{target}.map" not in self.held:
                continue
            elif isinstance(mode, TextMode):
                shown = "".join(chr(self.random.randint(32, 126)) for _ in range(min(mode.columns, 4)))
                if mode.cell.character.top >= 126:
                    self.add("text", for_=target, text=shown, **self.colours(mode))
            elif target in self.patterns:
                self.maps.append(target)
                across, down = min(mode.columns, 3), min(mode.rows, 2)
                cells = [[self.cell(target, mode) for _ in range(across)] for _ in range(down)]
                self.add("maps", for_=target, fill=self.cell(target, mode), rows=cells)

    def colour_cell(self, mode: BitmapMode) -> Json:
        """A colour cell with all of its fields."""
        assert mode.colours is not None
        return {name: self.random.randint(0, bits.top) for name, bits in mode.colours.cell.layout.items()}

    def colour_cells(self, mode: BitmapMode) -> Json:
        """Some colour cells, each for itself or as characters."""
        across, down = min(mode.blocks[0], 3), min(mode.blocks[1], 2)
        if chance(self.random, 40):
            lines = ["".join(self.random.choice("ab") for _ in range(across)) for _ in range(down)]
            return {"text": "\n".join(lines), "key": {one: self.colour_cell(mode) for one in "ab"}}
        return {"rows": [[self.colour_cell(mode) for _ in range(across)] for _ in range(down)]}

    def colours(self, mode: TextMode) -> Json:
        """The colour numbers that cells of ``mode`` have."""
        layout = mode.cell.layout
        return {
            name: self.random.randint(0, layout[name].top) for name in ("foreground", "background") if name in layout
        }

    def all_sprites(self) -> None:
        """Up to six sprites that show what is loaded for them."""
        sprites = self.chip.sprites
        if not sprites or (sprites.table == "memory" and "sprites.table" not in self.held):
            return
        if "sprites" not in self.patterns:
            return
        layout, frame = sprites.fields.layout, self.chip.frame
        for number in range(min(sprites.count, self.random.randint(1, 6))):
            fields: Json = {"pattern": 0}
            if "size" in layout:
                fields["size"] = self.sizes[0]
            elif self.sizes[0]:
                return
            for name in ("flip_x", "flip_y", "bank", "priority", "group", "enable"):
                if name in layout and chance(self.random, 60):
                    fields[name] = 1 if name == "enable" else self.random.randint(0, layout[name].top)
            x = min(layout["x"].top, self.random.randrange(frame.width))
            y = min(layout["y"].top, self.random.randrange(frame.height))
            self.add("sprites", name=f"s{number}", x=x, y=y, **fields)
            self.sprites.append(f"s{number}")

    # What is written

    def when(self, *, lines: bool = True) -> Json:
        """Line or lines, and a frame or some, or all."""
        end = self.chip.frame.lines_per_frame
        first = self.random.randrange(end)
        found: Json = {"line": first}
        if lines and chance(self.random, 40):
            found = {"lines": f"{first}:{self.random.randint(first + 1, end)}:{self.random.choice((1, 1, 2))}"}
        if chance(self.random, 40):
            found["frame"] = self.random.randrange(self.frames)
        elif chance(self.random, 20):
            found["frames"] = f"0:{self.random.randint(1, self.frames)}"
        return found

    def dot(self) -> Json:
        """A dot of the line, or none."""
        return {"dot": self.random.randrange(self.chip.frame.dots_per_line)} if chance(self.random, 40) else {}

    def writes(self) -> None:
        """Up to five tables of writes."""
        kinds = [self.register, self.entry, self.memory, self.memory, self.port]
        kinds += [self.sprite_set] if self.sprites else []
        kinds += [self.map_cell] if self.maps else []
        for _ in range(self.random.randint(0, 5)):
            self.random.choice(kinds)()

    def register(self) -> None:
        """A register's value: one, one a line, or from one to another."""
        if not self.held:
            return
        if chance(self.random, 25) and len(own_names(self.chip)) > len(fields(self.chip)):
            self.whole_register()
            return
        name = self.random.choice(list(self.held))
        register, when = self.held[name], self.when()
        how = self.random.choice(("value", "value", "values", "from")) if "lines" in when else "value"
        if how == "value":
            told: Json = {"value": self.value(register)}
        elif how == "values":
            count = self.random.randint(1, 3)
            told = {"values": [self.value(register) for _ in range(count)], "advance": 1}
        elif register.step == 1:
            told = {"from": self.value(register), "to": self.value(register)}
        else:
            return
        self.add("writes", register=name, **told, **when, **self.dot())

    def whole_register(self) -> None:
        """A whole register's bits: one number, or one a line."""
        one = registers(self.chip)[self.random.choice(own_names(self.chip)[len(fields(self.chip)) :])]
        words, when = [self.random.getrandbits(one.bits) for _ in range(2)], self.when()
        told: Json = {"values": words, "advance": 1} if "lines" in when else {"value": words[0]}
        self.add("writes", register=one.name, **told, **when, **self.dot())

    def value(self, register: RegisterField) -> int | str:
        """A value that the register takes, by its name where it has one and chance will have it."""
        value = register_value(self.random, self.chip, register)
        return register.names[value] if register.names and chance(self.random, 50) else value

    def entry(self) -> None:
        """A palette's entry, or several."""
        at, when = self.random.randrange(self.chip.palette.entries), self.when()
        if "lines" in when and chance(self.random, 50):
            told: Json = {"from": self.hex_colour(), "to": self.hex_colour()}
        else:
            told = {"colour": self.word()}
        self.add("writes", entry=at, **told, **when, **self.dot())

    def memory(self) -> None:
        """Bytes to memory, at once or by the CPU."""
        size = self.chip.memory.size
        count = self.random.randint(1, 24)
        told: Json = {"memory": self.random.randrange(size - count)}
        if chance(self.random, 50):
            told["bytes"] = list(self.random.randbytes(count))
        else:
            told |= {"fill": self.random.randrange(256), "count": count}
        if self.chip.time and chance(self.random, 70):
            told |= {"by": "cpu", "step": self.random.choice((1, 1, 0, 2, 255)), **self.dot()}
        self.add("writes", **told, **self.when(lines=False))

    def port(self) -> None:
        """Bytes to an address where the chip listens."""
        known = [one.address + byte for one in registers(self.chip).values() for byte in range(one.size)]
        known += [place for port in self.chip.ports for place in (port.address, port.data)]
        known = [place for place in known if listens(self.chip, place)]
        if known:
            values = list(self.random.randbytes(self.random.randint(1, 3)))
            self.add("writes", port=self.random.choice(known), values=values, **self.when(lines=False), **self.dot())

    def sprite_set(self) -> None:
        """A sprite put somewhere else."""
        assert self.chip.sprites is not None
        layout = self.chip.sprites.fields.layout
        name = self.random.choice(("x", "y"))
        place = self.random.randint(0, min(layout[name].top, 40))
        self.add("writes", sprite=self.random.choice(self.sprites), set={name: place}, **self.when(lines=False))

    def map_cell(self) -> None:
        """Another cell in a map, at once or by the CPU."""
        target = self.random.choice(self.maps)
        mode = self.modes[target]
        assert isinstance(mode, TilesMode | BitmapMode)
        size = (mode.columns, mode.rows) if isinstance(mode, TilesMode) else mode.blocks
        cell = self.cell(target, mode) if isinstance(mode, TilesMode) else self.colour_cell(mode)
        at = [self.random.randrange(size[0]), self.random.randrange(size[1])]
        by: Json = {"by": "cpu"} if self.chip.time and chance(self.random, 50) else {}
        self.add("writes", map=target, at=at, cell=cell, **by, **self.when(lines=False))

    def motion(self) -> None:
        """Up to two things that move."""
        for _ in range(self.random.randint(0, 2)):
            if self.sprites and chance(self.random, 60):
                assert self.chip.sprites is not None
                name = self.random.choice(("x", "y"))
                top = min(self.chip.sprites.fields.layout[name].top, 40)
                moved: Json = {"sprite": self.random.choice(self.sprites), "field": name}
                ends = [self.random.randint(0, top) for _ in range(2)]
                self.course(moved, ends, self.random.choice((0.5, 1, 3, 2.75)))
                continue
            known = [one for one in fields(self.chip).values() if not any(map(_is_address, one.controls))]
            if known:
                register = self.random.choice(known)
                ends = [register_value(self.random, self.chip, register) for _ in range(2)]
                wraps = all(controls(self.chip)[name].wraps for name in register.controls)
                if wraps and chance(self.random, 40):
                    self.move({"register": register.name}, from_=ends[0], step=register.step)
                    continue
                self.course({"register": register.name}, ends, register.step)

    def course(self, moved: Json, ends: list[int], step: float) -> None:
        """From one end to the other."""
        step = step if ends[1] >= ends[0] else -step
        then = self.random.choice(("stop", "repeat", "bounce"))
        self.move(moved, from_=ends[0], to=ends[1], step=step, then=then)

    def move(self, moved: Json, **told: Any) -> None:
        """A motion of what does not move yet: a second one would be refused."""
        if moved not in self.moving:
            self.moving.append(moved)
            self.add("motion", **moved, **told)
