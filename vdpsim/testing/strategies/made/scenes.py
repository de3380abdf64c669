"""Random scene files for a chip: what lies in memory, timed writes, transfers and motion.

Law: a scene is written as text and comes in by the ordinary door. Little is written, so that a scene costs no more than other
cases. Where all parts together find no room in memory, the file is refused.
"""

from __future__ import annotations

from typing import Any

from ....chip.addresses import listens
from ....chip.controls import controls
from ....chip.model import BitmapMode, TilesMode
from ....chip.registers import fields, own_names, registers
from ....files.toml.out import value
from .chances import Json, chance
from .scene_contents import SceneContents, is_address
from .states import register_value

SAID = ("register", "entry", "sprite", "memory", "map", "port", "by", "lines", "from", "values", "frames", "to")
"""Keys of writes and motion that are worth counting."""


NO_ROOM = ("finds no room", "must be a pattern that is loaded", "must be a map that the scene fills")
"""What is said of a scene whose parts find no room, and of what hangs on these parts: all that may be wrong here."""


class SceneWriter(SceneContents):
    """One scene file, table by table."""

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

    def says(self) -> set[str]:
        """The kinds of table in the file; of writes and motion also what they set, and how."""
        found = set()
        for key, table in self.lists:
            more = (name for name in table if name in SAID) if key in {"writes", "motion"} else ()
            found |= {key, *(f"{key} {name}" for name in more)}
        return found

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
            known = [one for one in fields(self.chip).values() if not any(map(is_address, one.controls))]
            if known:
                register = self.random.choice(known)
                ends = [register_value(self.random, register) for _ in range(2)]
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
