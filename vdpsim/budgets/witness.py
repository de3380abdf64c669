"""A scene that shows what a budget tells of: the line that comes nearest to being late, or one on which accesses are missed.

Law: a witness has been drawn, and what it says is what the drawn frame says. The scene needs no file but the chip's. Loads the
engine, so that only those who ask for a witness, or for a verdict against a chip, wait for it.
"""

from __future__ import annotations

import colorsys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..chip.model import Chip, TilesMode
from ..chip.slots import Server
from ..problems import InputError
from ..scene.cells import cell_offset
from ..scene.load import scene_from
from ..toml_file import Source
from ..toml_out import key, table, value
from .staging import Stage, Stager
from .ways import Ways
from .worst import Line, Spare

if TYPE_CHECKING:
    from ..picture import Frame

MOST_DRAWN = 100
"""Scenes that are drawn in search of one witness."""

Table = tuple[str, dict[str, Any]]
Dress = Callable[[Stage], Iterator[Table]]


@dataclass(frozen=True)
class Witness:
    """A scene in whose frame number ``frame`` it can be seen, as the ``tables`` of a scene file but for its chip's path.

    ``line``: where; ``slot_line`` in whose slots. ``missed``: accesses of each client that find no slot in time for the line;
    ``dropped``: sprites of it that find none. Neither: the line that comes nearest. ``total``: missed accesses of the frame.
    """

    name: str
    about: str
    frame: int
    line: int
    slot_line: int
    missed: dict[str, int]
    dropped: int
    total: int
    tables: tuple[Table, ...]

    @property
    def what(self) -> str:
        """What finds no slot, in words."""
        return told_missed(self.missed, self.dropped)

    def text(self, chip: str) -> str:
        """The scene file; ``chip`` is the path of the chip file, from the scene file's folder."""
        head = {"name": self.name, "about": self.about, "chip": chip, "frames": self.frame + 1}
        parts = ["\n".join(f"{key(name)} = {value(one)}" for name, one in head.items()) + "\n"]
        return "\n".join([*parts, *(table(where, data) for where, data in self.tables)])


class Seeker:
    """Makes witnesses for lines of one chip."""

    def __init__(self, chip: Chip, server: Server, ways: Ways) -> None:
        self.chip, self.server = chip, server
        self.stager = Stager(chip, server, ways)
        self.left = MOST_DRAWN

    def against(self, line: Line, *, promised: bool) -> Witness | None:
        """A scene of ``line`` in whose frame accesses are missed or, where sprites are ``promised``, find no slot."""
        for witness, frame in self._drawn(line, trace=False):
            drops = frame.drops[frame.drops["reason"] == "slots"] if promised else frame.drops[:0]
            if frame.missed.any():
                late = frame.missed.sum(axis=1).tolist()
                most = [line for line, count in enumerate(late) if count == max(late)]
                return self._seen(witness, frame, min(most, key=lambda line: abs(line - witness.line)), 0)
            if len(drops):
                at = int(drops["line"][0])
                return self._seen(witness, frame, at, int((drops["line"] == at).sum()))
        return None

    def nearest(self, spare: Spare) -> Witness | None:
        """A scene in which the client's burst has its last slot just where it is told."""
        for witness, frame in self._drawn(spare.line, trace=True):
            line = witness.slot_line
            if line < 0:
                return witness if not frame.missed.any() else None
            assert frame.trace is not None
            assert frame.slots is not None
            client = frame.slots.clients.index(spare.client)
            mine = (frame.trace["line"] == line) & (frame.trace["client"] == client)
            if spare.slot in frame.trace["slot"][mine].tolist() and self._alike(frame, line, spare.line):
                return witness
        return None

    def _alike(self, frame: Frame, line: int, wanted: Line) -> bool:
        """Whether the drawn line has its slots given out as the wanted one has."""
        assert frame.slots is not None
        served = self.server.serve(wanted.shape, wanted.sprites)
        drawn = dict(zip(frame.slots.clients, frame.slots.counts[line].tolist(), strict=True))
        names = [name for name in self.server.names if name != "cpu" and not name.startswith("sprites.")]
        return all(served.counts[self.server.number[name]] == drawn[name] for name in names)

    def _seen(self, witness: Witness, frame: Frame, line: int, dropped: int) -> Witness:
        clients = frame.log.clients
        missed = {name: int(count) for name, count in zip(clients, frame.missed[line], strict=True) if count}
        what = told_missed(missed, dropped)
        return replace(
            witness,
            name=f"What {self.chip.name} misses"[:60],
            about=f"On line {line} of frame {witness.frame} {what} find no slot in time.",
            line=line,
            missed=missed,
            dropped=dropped,
            total=int(frame.missed.sum()),
        )

    def _drawn(self, line: Line, *, trace: bool) -> Iterator[tuple[Witness, Frame]]:
        """Scenes for ``line``, each with the frame in which it is to be seen."""
        from ..machine import render  # noqa: PLC0415 - the engine, for those who need it

        for stage in self.stager.stages(line):
            if self.left <= 0:
                return
            self.left -= 1
            for dress in (self._tiles, self._turned, self._bytes):
                tables = tuple(self._tables(stage, dress))
                at = max(stage.line, 0)
                about = f"Line {at} of frame {stage.frame} comes nearest to missing an access."
                name = f"The worst line of {self.chip.name}"[:60]
                witness = Witness(name, about, stage.frame, at, stage.line, {}, 0, 0, tables)
                try:
                    scene = scene_from(Source(witness.text("chip"), "witness"), Path("witness"), self.chip)
                except InputError:
                    continue  # memory, or its address registers, have no room for what is only there to be seen
                yield witness, render(scene, stage.frame, damage=True, trace=trace)
                break

    # The scene's tables

    def _tables(self, stage: Stage, dress: Dress) -> Iterator[Table]:
        """The tables of a scene file; ``dress`` says what lies in memory for the layers."""
        contents = list(dress(stage))
        given = dict(stage.registers)
        for where, data in contents:
            given |= data if where == "[registers]" else {}
        yield "[registers]", given
        yield "[[palette]]", {"colours": list(self._colours())}
        yield from ((where, data) for where, data in contents if where != "[registers]")
        yield from self._sprites(stage)
        for frame, line, name, wanted in stage.writes:
            yield "[[writes]]", {"frame": frame, "line": line, "register": name, "value": wanted}

    def _colours(self) -> Iterator[str]:
        for entry in range(min(self.chip.palette.entries, 64)):
            rgb = colorsys.hsv_to_rgb(entry * 0.381 % 1, 0.25 + 0.5 * (entry % 3 > 0), 0.35 + 0.6 * (entry % 4) / 3)
            yield "#" + "".join(f"{round(255 * channel):02x}" for channel in rgb)

    def _tiles(self, stage: Stage) -> Iterator[Table]:
        """Tiles for the layers that show some: all of them alike, turned where that is wanted."""
        for number, (index, marks) in stage.turned.items():
            yield from self._map(stage, number, index, marks)

    def _turned(self, stage: Stage) -> Iterator[Table]:
        """Tiles only for the layers that show turned ones."""
        for number, (index, marks) in stage.turned.items():
            if 1 in marks:
                yield from self._map(stage, number, index, marks)

    def _map(self, stage: Stage, number: int, index: int, marks: bytes) -> Iterator[Table]:
        layer, mode, turned = (
            self.chip.layers[number],
            self._mode(number, index),
            self._columns(stage, number, index, marks),
        )
        target = f"{layer.name}.{mode.name}"
        everywhere = len(turned) == mode.columns
        rows = list(_stripes(mode.tile, mode.tile, mode.bits_per_dot, hole=mode.transparent, shift=2 * number))
        yield "[[patterns]]", {"for": target, "at": 0, "rows": rows}
        yield "[[maps]]", {"for": target, "fill": {"pattern": 0, **({"turn": 1} if everywhere else {})}}
        for column in () if everywhere else sorted(turned):
            fill = {"pattern": 0, "turn": 1}
            yield "[[maps]]", {"for": target, "at": [column, 0], "size": [1, mode.rows], "fill": fill}

    def _bytes(self, stage: Stage) -> Iterator[Table]:
        """The maps of turned cells as bytes, apart from each other and from the sprites' table where registers let them be."""
        sprites, size, taken = self.chip.sprites, self.chip.memory.size, list[range]()
        maps = []
        for number, (index, marks) in stage.turned.items():
            if 1 in marks:
                mode = self._mode(number, index)
                maps.append(
                    (
                        f"{self.chip.layers[number].name}.{mode.name}.map",
                        mode,
                        self._columns(stage, number, index, marks),
                    )
                )
        if sprites is not None and stage.sprites:
            most = max(sprites.row_bytes(each) * sprites.sizes[each][1] for _, each in stage.sprites)
            taken.append(range(most))  # the patterns, which are laid out from 0 on
            if sprites.table == "memory":
                wired = [(self.stager.can[name][0], mode) for name, mode, _ in maps if name not in self.stager.effects]
                around = [range(at, at + mode.map_bytes) for at, mode in wired]
                at = self._place("sprites.table", sprites.count * sprites.record_bytes, [*taken, *around])
                taken.append(range(at, at + sprites.count * sprites.record_bytes))
                yield from self._told("sprites.table", at)
        for name, mode, columns in maps:
            address = self._place(name, mode.map_bytes, taken)
            taken.append(range(address, address + mode.map_bytes))
            yield from self._told(name, address)
            image = self._image(mode, columns)
            for at, part in ((address, image[: size - address]), (0, image[size - address :])):  # it may go round
                if part:
                    yield "[[writes]]", {"frame": 0, "line": 0, "memory": at, "bytes": list(part)}

    def _told(self, control: str, address: int) -> Iterator[Table]:
        if control in self.stager.effects:
            yield "[registers]", {control: address}

    def _place(self, control: str, length: int, taken: list[range]) -> int:
        """The first address that the control can hold and from which so many bytes are nobody's; the first, if none is."""
        can, last = self.stager.can[control], self.chip.memory.size - length
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
        can = self.stager.can.get(name, range(1))
        first = stage.registers.get(name, can[0]) // mode.tile if mode.scroll else 0
        return {(first + place) % mode.columns for place, mark in enumerate(marks) if mark}

    def _sprites(self, stage: Stage) -> Iterator[Table]:
        """The sprites that are wanted and, where the table cannot switch one off, the others on another line."""
        sprites = self.chip.sprites
        if sprites is None:
            return
        wanted = [(line, size) for line, size in stage.sprites]
        if sprites.fields.enable is None and (wanted or 0 not in self.stager.can["sprites.enable"]):
            line = wanted[0][0] if wanted else max(stage.line, 0) + self.server.sprites_ahead
            away = line + 1 if line < sprites.fields.y.top else max(0, line - 64)
            wanted += [(away, 0)] * (sprites.count - len(wanted))
        if not wanted:
            return
        size = max((size for _, size in wanted), key=lambda one: sprites.row_bytes(one) * sprites.sizes[one][1])
        across, down = sprites.sizes[size]
        rows = list(_stripes(across, down, sprites.bits_per_dot))
        yield "[[patterns]]", {"for": "sprites", "at": 0, "size": [across, down], "rows": rows}
        for number, (line, one) in enumerate(wanted):
            place = {"x": min(number * 16 % self.chip.frame.width, sprites.fields.x.top), "y": line, "pattern": 0}
            sized = {"size": one} if sprites.fields.size is not None else {}
            yield "[[sprites]]", {"name": f"sprite_{number}", "number": number, **place, **sized}


def told_missed(missed: Mapping[str, int], dropped: int) -> str:
    """What finds no slot, in words: accesses of clients, and sprites."""
    told = [f"{count} access{'es' if count > 1 else ''} of {name}" for name, count in missed.items()]
    told += [f"{dropped} sprite{'s' if dropped > 1 else ''}"] if dropped else []
    return " and ".join(told)


@lru_cache(256)
def _stripes(across: int, down: int, bits: int, hole: int | None = None, shift: int = 0) -> tuple[str, ...]:
    """A pattern of slanting stripes, as rows of digits; every other one shows what is behind it, where ``hole`` does."""
    top, digits = (1 << bits) - 1, 2 if bits == 8 else 1

    def dot(x: int, y: int) -> int:
        place = x + y + shift
        if place % 8 < 4 and hole is not None:
            return hole
        return max(1, place // 2 * 3 % (top + 1)) if place % 4 else 1

    return tuple("".join(f"{dot(x, y):0{digits}x}" for x in range(across)) for y in range(down))
