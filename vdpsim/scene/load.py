"""From a scene file to a Scene.

Law: either a whole, checked Scene or an InputError with every independent mistake of the scene file, its chip file and
its assets. The parts are made in the order in which they depend on each other: patterns, pictures of maps (they may add
patterns), addresses, then everything that names a pattern or an address.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from contextlib import AbstractContextManager
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.controls import address_names
from ..chip.model import Chip
from ..chip.registers import field_names, rest_values
from ..door.given import instance
from ..door.given import path as path_of
from ..files import once
from ..files.problems import InputError, Problem
from ..files.toml.tables import Source
from ..state.state import State
from .contents.assets import Assets
from .contents.bitmaps import Bitmaps
from .contents.cells import Cells
from .contents.match import Matched, match
from .contents.patterns import Patterns, collect
from .contents.sprites import SpriteList, SpriteMaker
from .findings import Findings, Together, WrongError
from .model import LISTS
from .motion import motions
from .placing.layout import MapRow, Need, lay_out
from .reading import (
    HANG_ON,
    WRITES_HANG_ON,
    Way,
    look_at_file,
    look_at_files,
    read_own_chip,
    read_tables,
    refuse_chip,
    working,
)
from .scene import Scene, SceneParts, put_record
from .tables.contents import PaletteTable
from .tables.values import colour_word
from .values import starting
from .write_maker import WriteMaker
from .writes import TimedWrite


@once()
def load_scene(path: str | Path, chip: Chip | None = None) -> Scene:
    """The scene in the file at ``path``, with its assets, on its own chip or on ``chip``.

    Raises InputError with the mistakes in the scene file, its chip file and its assets, but for those that hang on others.
    """
    if chip is not None:
        instance("chip", chip, Chip, "a Chip or None")
    return scene_from(Source.read(path_of("path", path)), Path(path), chip)


@once()
def scene_from(source: Source, path: Path, chip: Chip | None = None) -> Scene:
    """The scene in ``source``, which is taken to stand at ``path``. Raises InputError with the mistakes."""
    problems: list[Problem] = []
    refuse_chip(source)
    assets, wrong = Assets(path.parent), frozenset[str]()
    ways, failed = read_tables(source, assets, problems)
    chips: tuple[Chip, ...] = () if chip is None else (chip,)
    if chip is None:
        chips, wrong = read_own_chip(source, assets, problems)
    first, *others = [_Building(source, *each, assets, failed) for each in product(chips, ways)]
    parts = first.parts(wrong)
    found = first.findings.problems
    for other in others if found else ():
        other.parts(wrong)
        # What is told whatever stands where a file is wrong hangs on nothing that is.
        found = [one for one in found if one in other.findings.problems]
    if problems or found or parts is None:
        raise InputError(problems + found)
    return Scene(
        name=first.head.name,
        about=first.head.about,
        chip=first.chip,
        frames=first.head.frames,
        path=path,
        layout=parts[0],
        sprite_names=tuple(parts[1].items()),
        parts=parts[2],
        warnings=first.findings.warnings,
        text=source.text,
    )


class _Building:
    """The making of one scene."""

    def __init__(self, source: Source, chip: Chip, way: Way, assets: Assets, failed: AbstractSet[str]) -> None:
        self.chip, self.assets, self.head, self.tables = chip, assets, way.head, way.tables
        self.findings = Findings(source, chip)
        self.findings.muted |= failed
        self.state = State.at_reset(chip)

    def parts(self, wrong: AbstractSet[str]) -> tuple[tuple[MapRow, ...], dict[str, int], SceneParts] | None:
        """The memory map, the sprites' numbers and the parts of the scene, or None; mistakes become findings.

        ``wrong``: keys of the chip's file on which nothing is built.
        """
        findings = self.findings
        if not wrong & HANG_ON["palette"]:
            self._palette()
        if wrong & HANG_ON["contents"]:
            look_at_files(findings, self.assets, self.tables, [key for key in LISTS if key != "palette"])
            return None
        patterns, bases, rows = self._memory()
        sprites, maker = self._sprites(patterns)
        table = self._records(sprites, maker, bases)
        timed = self._writes(WriteMaker(findings, self.assets, patterns, sprites, maker, bases), wrong)
        moving = motions(findings, self.tables["motion"], sprites, maker, self.head.frames)
        return rows, sprites.numbers, SceneParts(self.state, sprites.fields, maker, table, timed, moving)

    def _memory(self) -> tuple[Patterns, dict[str, int], tuple[MapRow, ...]]:
        """Lay memory out and fill it: the patterns, the address of each part by its control, and the memory map."""
        findings = self.findings
        patterns = collect(findings, self.assets, self.tables["patterns"])
        matched = self._pictures(patterns)
        begun = starting(findings, self.head.registers)
        given = begun.values
        before = len(findings.problems)
        bases, rows = lay_out(findings, list(self._needs(patterns)), given)
        # Without addresses no pattern is loaded; that one is missing at each sprite would say the same thing again.
        if len(findings.problems) > before:
            findings.muted.add("patterns")
        held = field_names(self.chip)
        # One register may hold the addresses of several layers: what one of them found is then in force for the others too.
        tied = {other: base for name, base in bases.items() if name in held for other in held[name].controls}
        patterns.settle({**rest_values(self.chip), **given, **tied, **bases}, self.state.memory)
        self._contents(patterns, matched, bases, {**rest_values(self.chip), **given, **tied})
        for name, value in {**given, **tied}.items():
            self.state.controls[self.state.names.index(name)] = value
        self.state.held.update(begun.held)
        return patterns, bases, rows

    def _working(self, key: str, index: int, table: Any) -> AbstractContextManager[None]:
        return working(self.findings, self.assets, (key, index), table)

    def _palette(self) -> None:
        for index, table in self.tables["palette"]:
            with self._working("palette", index, table):
                each, room = Together(), self.chip.palette.entries
                words = each(self._colours, table)
                count = 1 if words is None else len(words)
                if table.at + count > room:
                    each.tell(f"must lie in entries 0 to {room - 1}, got {count} colours from {table.at}", "at")
                each.done()
                self.state.palette[table.at : table.at + count] = words or []

    def _colours(self, table: PaletteTable) -> list[int]:
        palette = self.chip.palette
        if table.colours is not None:
            each = Together()
            words = [each(colour_word, palette, colour, "colours", at) for at, colour in enumerate(table.colours)]
            each.done()
            return [word for word in words if word is not None]
        assert table.png is not None
        found = self.assets.picture(table.png, "png").colours
        if not found:
            raise WrongError(f"{table.png} must be a paletted picture, is grey", "png")
        last = len(found) if table.count is None else table.first + table.count
        if table.first >= len(found) or last > len(found):
            key = "count" if table.first < len(found) else "first"
            raise WrongError(f"{table.png} has colours 0 to {len(found) - 1}, got {table.first} to {last - 1}", key)
        return [colour_word(palette, f"#{r:02x}{g:02x}{b:02x}") for r, g, b in found[table.first : last]]

    def _pictures(self, patterns: Patterns) -> dict[int, Matched]:
        found = {}
        for index, table in self.tables["maps"]:
            if table.picture is None:
                continue
            with self._working("maps", index, table):
                found[index] = match(self.findings, self.assets, patterns, index, table)
            if table.make and index not in found:
                self.findings.muted.add("patterns")
        return found

    def _needs(self, patterns: Patterns) -> Iterator[Need]:
        """What needs memory, in the order in which it is laid out: one need for each control that holds an address."""
        for key, kind in (("maps", "tiles"), ("bitmaps", "bitmap"), ("text", "text")):
            first: dict[str, int] = {}
            for index, table in self.tables[key]:
                first.setdefault(table.target, index)
            for target in self.findings.targets(kind):
                if target in first:
                    mode = self.findings.mode(target, kind)
                    names = address_names(target, mode) if kind == "bitmap" else (f"{target}.map",)
                    yield from (Need(name, 0, mode.map_bytes, (key, first[target])) for name in names)
        if self._has_cells():
            yield from self._colour_needs()
        sprites = self.chip.sprites
        if sprites and sprites.table == "memory" and self.tables["sprites"]:
            size = sprites.count * sprites.record_bytes
            yield Need("sprites.table", 0, size, ("sprites", self.tables["sprites"][0][0]))
        for one in patterns.sets.values():
            if one.runs:
                yield from (Need(owner, *one.extent(), one.runs[0].place) for owner in one.owners)

    def _has_cells(self) -> bool:
        """Whether the scene fills colour cells."""
        return bool(self.tables["colours"]) or any(table.banked for _, table in self.tables["bitmaps"])

    def _colour_needs(self) -> Iterator[Need]:
        for target, mode in self.findings.coloured().items():
            filled = [("colours", index) for index, table in self.tables["colours"] if table.target == target]
            filled += [("bitmaps", index) for index, table in self.tables["bitmaps"] if table.fills_cells(target)]
            yield from (Need(f"{target}.colours", 0, mode.colour_bytes, place) for place in filled[:1])

    def _contents(
        self, patterns: Patterns, matched: dict[int, Matched], bases: dict[str, int], begun: dict[str, int]
    ) -> None:
        findings, cells = self.findings, Cells(self.findings, self.assets, patterns)
        bitmaps = Bitmaps(findings, self.assets, begun)
        tables_for = Counter(table.target for key in ("maps", "bitmaps") for _, table in self.tables[key])
        for index, table in self.tables["maps"]:
            with self._working("maps", index, table):
                cells.map(index, table, matched.get(index), shared=tables_for[table.target] > 1)
        for index, table in self.tables["bitmaps"]:
            with self._working("bitmaps", index, table):
                bitmaps.fill(index, table, shared=tables_for[table.target] > 1)
        for index, table in self.tables["text"]:
            with self._working("text", index, table):
                cells.text(table)
        images = {f"{target}.map": cells.image(target) for target in cells.words}
        images |= dict(bitmaps.images())
        if self._has_cells():
            images |= self._blocks(bitmaps)
        for name, image in images.items():
            if name in bases:
                self.state.memory[bases[name] : bases[name] + len(image)] = image

    def _blocks(self, bitmaps: Bitmaps) -> dict[str, npt.NDArray[np.uint8]]:
        """The bytes of colour cells by the control with their address."""
        from .contents.blocks import Blocks  # noqa: PLC0415 - few scenes have colour cells

        blocks = Blocks(self.findings, self.assets)
        for picture in bitmaps.coloured:
            blocks.put(picture)
        for index, table in self.tables["colours"]:
            with self._working("colours", index, table):
                blocks.fill(table)
        return dict(blocks.images())

    def _sprites(self, patterns: Patterns) -> tuple[SpriteList, SpriteMaker | None]:
        listed = SpriteList()
        sprites = self.chip.sprites
        if sprites is None:
            for index, _ in self.tables["sprites"][:1]:
                self.findings.tell(("sprites", index), f"{self.chip.name} has no sprites")
            return listed, None
        maker, lost = SpriteMaker(self.findings, sprites, patterns), "sprites" in self.findings.muted
        # Places that the file names are given before the free ones are counted out.
        for index, table in sorted(self.tables["sprites"], key=lambda pair: pair[1].number is None):
            with self._working("sprites", index, table):
                each = Together()
                each(listed.add, table, sprites.count)
                fields = each(maker.whole, table)
                each.done()
                listed.fields[listed.numbers[table.name]] = fields or {}
        if not lost and len(listed.numbers) == len(self.tables["sprites"]):
            self.findings.muted.discard("sprites")  # whatever is wrong with their fields, all names are known
        return listed, maker

    def _records(self, listed: SpriteList, maker: SpriteMaker | None, bases: dict[str, int]) -> int | None:
        """Write every sprite's record; the address of the sprite table, None where it is on the chip or found no room."""
        if maker is None:
            return None
        table = bases.get("sprites.table") if maker.sprites.table == "memory" else None
        if listed.numbers and (table is not None or maker.sprites.table == "chip"):
            # Every record, with those of no sprite parked: else what memory held at reset would show as sprites.
            for number in range(maker.sprites.count):
                put_record(self.state, table, number, maker.record(listed.fields.get(number) or maker.parked()))
        return table

    def _writes(self, maker: WriteMaker, wrong: AbstractSet[str]) -> tuple[TimedWrite, ...]:
        found: list[TimedWrite] = []
        hidden = {key for table, key in WRITES_HANG_ON.items() if table in wrong}
        for index, table in self.tables["writes"]:
            with self._working("writes", index, table):
                if hidden and hidden & table.given:
                    look_at_file(self.assets, table)
                else:
                    found += maker.timed(table)
        return tuple(found)
