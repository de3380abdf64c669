"""Random contents of a scene file: colours, patterns, maps, bitmaps, text and sprites.

Law: tables as a scene file has them, for one chip that they fit. A part whose address a register holds is filled, as a rule; what
was filled is remembered, so that what is written and moves can name it.
"""

from __future__ import annotations

from random import Random
from typing import Any

from ....chip.controls import sprite_addresses
from ....chip.model import BitmapMode, Chip, TextMode, TilesMode
from ....chip.registers import RegisterField, field_names, fields, own_names, registers
from .chances import Json, bulk, chance
from .states import register_value

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


def is_address(name: str) -> bool:
    """Whether a control holds an address."""
    return name.endswith(ADDRESSES)


class SceneContents:
    """What of one scene file lies in memory, table by table."""

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

    def add(self, key: str, **table: Any) -> None:
        """One more table."""
        self.lists.append((key, {name.removesuffix("_"): what for name, what in table.items()}))

    def starting(self) -> dict[str, int | str]:
        """What registers hold at the beginning: fields by any of their names, or a whole register."""
        plain = [field for field in fields(self.chip).values() if not any(map(is_address, field.controls))]
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

    def value(self, register: RegisterField) -> int | str:
        """A value that the register takes, by its name where it has one and chance will have it."""
        value = register_value(self.random, register)
        return register.names[value] if register.names and chance(self.random, 50) else value

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
        """Dots as digits: now and then all of them the same, else about half."""
        digits = 2 if bits > 4 else 1
        often = self.random.randrange(1 << bits)
        if not chance(self.random, 85):
            return [f"{often:0{digits}x}" * across] * down
        other = bulk(self.random)
        return [
            "".join(f"{often if chance(other, 40) else other.randrange(1 << bits):0{digits}x}" for _ in range(across))
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
