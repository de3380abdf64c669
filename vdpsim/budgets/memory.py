"""What fits into video memory: what is allotted, what is free, and how many of everything there is room for.

Law: sizes come from the chip's description, addresses from what its registers can hold; who owns which bytes comes from a
scene's map, where one is given. A thing counts where the chip can really be told of it: whole, sharing no byte with another,
and not across the end of memory, where no scene puts anything. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import gcd
from typing import Literal, NamedTuple

from ..chip.controls import address_names, field_top, sprite_addresses
from ..chip.model import AnyMode, BitmapMode, Chip, SpritesTable, TilesMode
from .places import Free, Numbered, at_least, congruent, disjoint, distinct, shifted, up_to
from .reach import reachable


@dataclass(frozen=True)
class Capacity:
    """Things of one kind: ``bytes`` of each, by how many ``numbers`` the chip can be told of one, and how many there is room for.

    Maps, pages, bitmaps and sprite tables are told ``by`` an address; a page by that of a map that it lies in. Tiles, glyphs
    and sprite patterns are told by a number that counts from one base address; where a sprite takes several, by those that
    are apart, of tiles with a stride as a scene lays them out, side by side. ``room``: how many lie at once in a memory with
    nothing else in it, those told by a number all from one base.
    ``left``: how many in what a scene leaves free; those told by a number from one base that reaches the scene's own ones too.
    None without a scene.
    """

    name: str
    bytes: int
    numbers: int
    room: int
    left: int | None = None
    by: Literal["address", "number"] = "address"

    @property
    def most(self) -> int:
        """How many distinct ones there can be at once."""
        return min(self.numbers, self.room)


@dataclass(frozen=True)
class Allotted:
    """Bytes ``first`` to ``last`` of video memory belong to ``owner``; ``free`` where they belong to nobody."""

    first: int
    last: int
    owner: str
    free: bool = False

    @property
    def bytes(self) -> int:
        """How many they are."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class MemoryBudget:
    """Video memory of ``size`` bytes: what each kind of thing takes, and what a scene has put there, in order of address.

    ``overlaps``: pairs of owners that share bytes, and how many.
    """

    size: int
    capacities: tuple[Capacity, ...]
    allotted: tuple[Allotted, ...] = ()
    overlaps: tuple[tuple[str, str, int], ...] = ()

    @property
    def free(self) -> int:
        """Bytes that nobody owns; the whole size without a scene."""
        return sum(row.bytes for row in self.allotted if row.free) if self.allotted else self.size

    @property
    def holes(self) -> tuple[Allotted, ...]:
        """Free stretches that have owned bytes on both sides."""
        return tuple(row for row in self.allotted[1:-1] if row.free)


def memory_budget(chip: Chip, rows: Sequence[tuple[int, int, str]] = ()) -> MemoryBudget:
    """The budget of ``chip``'s memory; ``rows``: (first byte, byte after the last, owner) of a scene."""
    size = chip.memory.size
    allotted = tuple(_allotted(rows, size)) if rows else ()
    free = [(row.first, row.last + 1) for row in allotted if row.free]
    own = {owner: (first, end) for first, end, owner in rows}
    found = [thing.capacity(size, free if rows else None, own) for thing in _things(chip)]
    overlaps = [
        (one[2], other[2], min(one[1], other[1]) - max(one[0], other[0]))
        for number, one in enumerate(rows)
        for other in rows[:number]
        if one[0] < other[1] and other[0] < one[1]
    ]
    return MemoryBudget(size, tuple(found), allotted, tuple(overlaps))


def _allotted(rows: Sequence[tuple[int, int, str]], size: int) -> Iterator[Allotted]:
    free = 0
    for first, end, owner in sorted(rows):
        if first > free:
            yield Allotted(free, first - 1, "", free=True)
        yield Allotted(first, end - 1, owner)
        free = max(free, end)
    if free < size:
        yield Allotted(free, size - 1, "", free=True)


class _ByAddress(NamedTuple):
    """Things of ``each`` bytes that are told by their address; ``offsets``: where in the ``whole`` that it begins one lies."""

    name: str
    each: int
    addresses: range
    offsets: range
    whole: int

    def capacity(self, size: int, free: Free | None, _own: object) -> Capacity:
        """How many there are places for in all, at once, and in ``free``."""
        numbers = distinct([up_to(run, size - 1) for run in self._runs(self.addresses)])
        runs = self._runs(up_to(self.addresses, size - self.whole))
        room = disjoint(runs, self.each, [(0, size)])
        return Capacity(self.name, self.each, numbers, room, None if free is None else disjoint(runs, self.each, free))

    def _runs(self, addresses: range) -> list[range]:
        return [shifted(addresses, offset) for offset in self.offsets]


class Reach(NamedTuple):
    """What all things come to that have their numbers from one base.

    ``last``: where that of the largest number begins, in bytes from the base on; ``step``: what all such bytes are multiples
    of; ``widest``: the bytes of the largest thing.
    """

    last: int
    step: int
    widest: int


class _ByNumber(NamedTuple):
    """Things of ``each`` bytes told by a number from a base address, which is one of ``bases`` and held by control ``owner``."""

    name: str
    each: int
    numbered: Numbered
    bases: range
    owner: str
    reach: Reach

    def capacity(self, size: int, free: Free | None, own: dict[str, tuple[int, int]]) -> Capacity:
        """How many there are numbers for, of them at once from one base (the lowest, which has most before it), in ``free``."""
        numbered = self.numbered
        room = numbered.from_base(self.bases[0], [(0, size)])
        left = None if free is None else numbered.from_any(self._reaching(own.get(self.owner)), free)
        return Capacity(self.name, self.each, numbered.numbers, room, left, "number")

    def _reaching(self, own: tuple[int, int] | None) -> range:
        """The bases from which the scene's own bytes of this kind are patterns of some number."""
        if own is None:
            return self.bases
        first, end = own
        bases = up_to(at_least(self.bases, max(first, end - self.reach.widest) - self.reach.last), first)
        return congruent(bases, first, self.reach.step) if bases else bases


def _things(chip: Chip) -> Iterator[_ByAddress | _ByNumber]:
    """Each kind of thing that lies in memory."""
    can = reachable(chip)
    for layer in chip.layers:
        for mode in layer.modes:
            yield from _of_mode(f"{layer.name}.{mode.name}", mode, can)
    sprites = chip.sprites
    if sprites:
        if sprites.table == "memory":
            table = sprites.count * sprites.record_bytes
            yield _ByAddress("sprite table", table, can["sprites.table"], range(1), table)
        for told, owner in _planes("", sprite_addresses(sprites)):
            yield from _patterns(sprites, can[owner], owner, told)


def _of_mode(name: str, mode: AnyMode, can: dict[str, range]) -> Iterator[_ByAddress | _ByNumber]:
    whole = mode.map_bytes
    if isinstance(mode, BitmapMode):
        for told, owner in _by_plane(name, "bitmap", mode):
            yield _ByAddress(told, whole, can[owner], range(1), whole)
        if mode.colours is not None:
            cells = mode.colour_bytes
            yield _ByAddress(f"{name} colours", cells, can[f"{name}.colours"], range(1), cells)
        return
    yield _ByAddress(f"{name} map", whole, can[f"{name}.map"], range(1), whole)
    if isinstance(mode, TilesMode) and mode.pages != (1, 1):
        page = mode.page[0] * mode.page[1] * mode.cell_bytes
        yield _ByAddress(f"{name} page", page, can[f"{name}.map"], range(0, whole, page), whole)
    top = mode.cell.pattern.top if isinstance(mode, TilesMode) else mode.cell.character.top
    each = mode.pattern_bytes
    numbered, reach = Numbered(each, top, each), Reach(each * top, each, each)
    for told, owner in _by_plane(name, "tile" if isinstance(mode, TilesMode) else "glyph", mode):
        yield _ByNumber(told, each, numbered, can[owner], owner, reach)


def _by_plane(name: str, what: str, mode: AnyMode) -> Iterator[tuple[str, str]]:
    """What lies at each address of a mode's dots, and the control that holds it: planes apart are things of their own."""
    yield from _planes(f"{name} {what}", address_names(name, mode))


def _planes(what: str, owners: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    for plane, owner in enumerate(owners):
        yield what + (f", plane {plane}" if len(owners) > 1 else ""), owner


def _patterns(sprites: SpritesTable, bases: range, owner: str, told: str) -> Iterator[_ByNumber]:
    """The patterns of each size of sprite, a size that is listed twice with one step once."""
    shapes = list(dict.fromkeys(sprites.patterns[: 1 + field_top(sprites.fields.size)]))
    top, widest = sprites.fields.top_number, max(one.extent for one in shapes)
    steps = {one.step for one in shapes}
    reach = Reach(max(steps) * top, gcd(*steps), widest)
    for one in shapes:
        across, down = one.size
        numbered = Numbered(one.step, top, one.extent, one.beside, one.units, one.band)
        yield _ByNumber(f"sprite {across}x{down}{told}", one.size_bytes, numbered, bases, owner, reach)
