"""Which bank each thing shows, and which colour each entry has: exactly where that can be, with the least loss elsewhere.

Law: art whose colours fit the banks keeps every one of them, on the chip's own grid; only where it does not fit are colours
chosen. Sources that see the same entries are coloured together. An entry that is kept is never given another colour, and its
colour may be used by whoever sees it. Knows reaches and dots, no maps and no files.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.colour import expand, nearest
from .choose import Room, choose
from .pack import Page, pack, place
from .reach import Reach, View, pages

Colour = tuple[int, int, int]
Kept = Mapping[int, Colour | None]
"""Entries that are not to be changed, and the colour that each has; None where nobody may rely on it."""

Progress = Callable[[float], None]
MOST_PACKED = 200
"""Unlike sets of colours for which the fewest banks that can be are looked for, and not only few enough."""

PIECE = 64
"""Dots of a piece of something that shows one bank whatever it is, such as a bitmap."""


@dataclass(frozen=True, eq=False, repr=False)
class Units:
    """Things of a source that show one bank each: ``rgb`` (n, dots, 3), ``opaque`` (n, dots), ``weight`` (n,), how often.

    ``name`` is for messages.
    """

    rgb: npt.NDArray[np.uint8]
    opaque: npt.NDArray[np.bool_]
    weight: npt.NDArray[Any]
    reach: Reach
    name: str = "it"


@dataclass(frozen=True, eq=False, repr=False)
class Coloured:
    """What became of a source's units.

    ``view`` (n,): the place of each one's in ``reach.views``. ``value`` (n, dots): what its dots have, -1 where they are
    transparent. ``exact``: every dot has its own colour, as near as the chip has it.
    """

    reach: Reach
    view: npt.NDArray[np.int64]
    value: npt.NDArray[np.int64]
    exact: bool


@dataclass(frozen=True, eq=False, repr=False)
class Scheme:
    """The sources as they are coloured, and the colour of every entry that has one; kept entries are among them.

    ``pages``: how many different banks all sources together have. ``bound``: fewer than this cannot hold what was asked, proved;
    0 where colours had to be chosen.
    """

    sources: tuple[Coloured, ...]
    colours: dict[int, Colour] = field(default_factory=dict)
    pages: int = 0
    bound: int = 0


def grid(rgb: npt.NDArray[np.uint8], channels: tuple[int, int, int]) -> npt.NDArray[np.uint8]:
    """8-bit colours (..., 3) as the chip has them: each channel the nearest of its bits' values."""
    found = np.empty(rgb.shape, np.uint8)
    for at, bits in enumerate(channels):
        table = np.array([expand(nearest(channel, bits), bits) for channel in range(256)], np.uint8)
        found[..., at] = table[rgb[..., at]]
    return found


def colour(
    sources: Sequence[Units],
    channels: tuple[int, int, int],
    kept: Kept,
    *,
    exact: bool = True,
    seed: int = 0,
    progress: Progress | None = None,
) -> Scheme:
    """Give every unit a bank and values, and the entries their colours.

    ``exact``: colours that the chip has not exactly are first rounded and tried as they are; without it only art in the chip's
    own colours is (a dithering wants the others). Raises ValueError where a source sees no entry that it may use.
    """
    tries = [_single(units, kept) for units in sources]
    for units in tries:
        if units.opaque.any() and not any(_usable(view.entries, kept) for view in units.reach.views):
            raise ValueError(f"{units.name}: all entries that it can show are kept, and none of them has a colour")
    whole = [exact or bool(np.array_equal(grid(one.rgb, channels)[one.opaque], one.rgb[one.opaque])) for one in tries]
    if all(whole):
        found = _exact(tries, channels, kept, seed)
        if found is not None:
            return found
    return _in_turn(tries, whole, channels, kept, seed, progress)


def _single(units: Units, kept: Kept) -> Units:
    """A source that shows one bank alone gets the one with the most entries that are free."""
    if not units.reach.single or len(units.reach.views) == 1:
        return units
    free = [sum(entry not in kept for entry in view.entries) for view in units.reach.views]
    return Units(units.rgb, units.opaque, units.weight, units.reach.one(free.index(max(free))), units.name)


def _usable(entries: Sequence[int], kept: Kept) -> bool:
    return any(entry not in kept or kept[entry] is not None for entry in entries)


def _in_turn(
    sources: Sequence[Units],
    whole: Sequence[bool],
    channels: tuple[int, int, int],
    kept: Kept,
    seed: int,
    progress: Progress | None,
) -> Scheme:
    """First what fits as it is, source by source, those with small banks first; then colours are chosen for the others."""
    done: dict[int, Coloured] = {}
    now: dict[int, Colour | None] = dict(kept)
    order = sorted(
        range(len(sources)), key=lambda at: max((len(v.entries) for v in sources[at].reach.views), default=0)
    )
    if len(sources) > 1:
        for at in order:
            found = _exact([sources[at]], channels, now, seed) if whole[at] else None
            others = [one for one in order if one not in done and one != at]
            if found is None:
                continue
            after = {**now, **found.colours}
            if all(any(_usable(v.entries, after) for v in sources[other].reach.views) for other in others):
                done[at], now = found.sources[0], after
    rest = [at for at in order if at not in done]
    rounds = [rest] if rest and pages([sources[at].reach for at in rest]) else [[at] for at in rest]
    for at, some in enumerate(rounds):
        told = None if progress is None else _part(progress, at, len(rounds))
        chosen = _chosen([sources[one] for one in some], channels, now, seed, told)
        done.update(zip(some, chosen.sources, strict=True))
        now.update(chosen.colours)
    colours = {entry: shade for entry, shade in now.items() if shade is not None}
    return Scheme(tuple(done[at] for at in range(len(sources))), colours)


def _part(progress: Progress, at: int, count: int) -> Progress:
    return lambda done: progress((at + done) / count)


@dataclass(frozen=True, eq=False, repr=False)
class _Table:
    """The pages of some sources: ``free`` entries and the ``fixed`` colours with their entries, of each page."""

    places: list[dict[int, int]]
    free: list[list[int]]
    fixed: list[dict[Colour, int]]


def _table(sources: Sequence[Units], kept: Kept) -> _Table | None:
    found = pages([units.reach for units in sources])
    if found is None:
        return None
    entries, places = found
    fixed: list[dict[Colour, int]] = []
    for some in entries:
        fixed.append({})
        for entry in some:
            shade = kept.get(entry)
            if shade is not None:
                fixed[-1].setdefault(shade, entry)
    return _Table(places, [[entry for entry in some if entry not in kept] for some in entries], fixed)


def _exact(sources: Sequence[Units], channels: tuple[int, int, int], kept: Kept, seed: int) -> Scheme | None:
    """Every colour kept, as near as the chip has it; None where the banks do not hold them, or no way was found."""
    table = _table(sources, kept)
    if table is None:
        return None
    numbers = [_numbers(grid(units.rgb, channels)) for units in sources]
    sets: list[frozenset[int]] = []
    reach: list[list[int]] = []
    largest = max((len(free) + len(fixed) for free, fixed in zip(table.free, table.fixed, strict=True)), default=0)
    for units, number, places in zip(sources, numbers, table.places, strict=True):
        for row, shows in zip(number, units.opaque, strict=True):
            own = frozenset(np.unique(row[shows]).tolist())
            if len(own) > largest:
                return None
            sets.append(own)
            reach.append(sorted(places.values()))
    packed = _packed(sets, reach, table, seed)
    if packed is None:
        return None
    where, bound = packed
    colours = {entry: shade for entry, shade in kept.items() if shade is not None}
    for page, (free, fixed) in enumerate(zip(table.free, table.fixed, strict=True)):
        wanted = set().union(*(one for one, at in zip(sets, where, strict=True) if at == page))
        new = [shade for shade in map(_shade, wanted) if shade not in fixed]
        colours.update(zip(free, sorted(new, key=_by_light), strict=False))
    done, start = [], 0
    for units, number, places in zip(sources, numbers, table.places, strict=True):
        of_page = {page: at for at, page in places.items()}
        view = np.array([of_page[page] for page in where[start : start + len(number)]], np.int64)
        start += len(number)
        done.append(Coloured(units.reach, view, _valued(units, view, number, colours), exact=True))
    return Scheme(tuple(done), colours, len(set(where)), bound)


def _packed(
    sets: Sequence[frozenset[int]], reach: Sequence[list[int]], table: _Table, seed: int
) -> tuple[list[int], int] | None:
    """The page of each set, and how few pages could do, proved."""
    fixed = [frozenset(map(_number, some)) for some in table.fixed]
    rooms = [len(some) for some in table.free]
    asked: frozenset[int] = frozenset().union(*sets)
    if len(asked.difference(*fixed)) > sum(rooms):
        return None
    largest = max(*rooms, 1)
    alike = not any(fixed) and len(set(rooms)) == 1 and all(len(one) == len(rooms) for one in reach)
    distinct = list(dict.fromkeys(sets))
    if not any(fixed) and _apart(distinct, largest, len(rooms)):
        return None
    held = [Page(room, colours) for room, colours in zip(rooms, fixed, strict=True)]
    found = place(sets, held, reach, seed=seed)
    if found is None:
        return None
    where = list(found)
    least = max(1, -(-len(asked.difference(*fixed)) // largest))
    if alike and len(distinct) <= MOST_PACKED:
        packing = pack(distinct, largest, seed=seed)
        least = max(least, packing.bound)
        if len(packing.pages) < len(set(where)):
            page = {distinct[member]: at for at, members in enumerate(packing.pages) for member in members}
            where = [page[one] for one in sets]
    return where, least


def _apart(sets: Sequence[frozenset[int]], capacity: int, pages: int) -> bool:
    """Whether there are more sets than pages of which no two go into one page; then there is no way, and none is looked for."""
    symbols = {symbol: at for at, symbol in enumerate(sorted(frozenset().union(*sets)))}
    matrix = np.zeros((len(sets), len(symbols)), np.float32)
    for row, one in enumerate(sets):
        matrix[row, [symbols[symbol] for symbol in one]] = 1
    sizes = matrix.sum(axis=1)
    clash = sizes[:, None] + sizes - matrix @ matrix.T > capacity
    left = np.ones(len(sets), np.bool_)
    for _ in range(pages + 1):
        if not left.any():
            return False
        chosen = int(np.where(left, (clash & left).sum(axis=1), -1).argmax())
        left &= clash[chosen]
    return True


def _chosen(
    sources: Sequence[Units], channels: tuple[int, int, int], kept: Kept, seed: int, progress: Progress | None
) -> Scheme:
    """Banks and colours chosen together, for sources whose pages can be shared."""
    table = _table(sources, kept)
    assert table is not None
    rooms = [Room(len(free), tuple(fixed)) for free, fixed in zip(table.free, table.fixed, strict=True)]
    parts = [_pieces(units) if units.reach.single else units for units in sources]
    dots = max(units.opaque.shape[1] for units in parts)
    count = sum(len(units.opaque) for units in parts)
    rgb, opaque = np.zeros((count, dots, 3), np.uint8), np.zeros((count, dots), np.bool_)
    reach = np.zeros((count, len(rooms)), np.bool_)
    start = 0
    for units, places in zip(parts, table.places, strict=True):
        here = slice(start, start + len(units.opaque))
        rgb[here, : units.opaque.shape[1]] = units.rgb
        opaque[here, : units.opaque.shape[1]] = units.opaque
        for page in places.values():
            reach[here, page] = bool(rooms[page].free or rooms[page].fixed)
        start = here.stop
    weight = np.concatenate([units.weight for units in parts])
    found = choose(rgb, opaque, rooms, channels, reach=reach, weights=weight, seed=seed, progress=progress)
    colours = {entry: shade for entry, shade in kept.items() if shade is not None}
    for page, free in enumerate(table.free):
        new = {_shade_of(row) for row in found.colours[page].tolist()} - set(table.fixed[page])
        colours.update(zip(free, sorted(new, key=_by_light), strict=False))
    done, start = [], 0
    for units, part, places in zip(sources, parts, table.places, strict=True):
        here = slice(start, start + len(part.opaque))
        start = here.stop
        of_page = {page: at for at, page in places.items()}
        view = np.array([of_page[page] for page in found.banks[here].tolist()], np.int64)
        shown = np.zeros((*part.opaque.shape, 3), np.uint8)
        for page, some in enumerate(found.colours):
            mine = found.banks[here] == page
            if mine.any() and len(some):
                shown[mine] = some[np.maximum(found.values[here][mine][:, : part.opaque.shape[1]], 0)]
        value = _valued(part, view, _numbers(shown), colours)
        if part is not units:
            value = value.reshape(-1)[: units.opaque.size].reshape(units.opaque.shape)
            view = np.zeros(len(units.opaque), np.int64)
        done.append(Coloured(units.reach, view, value, exact=False))
    return Scheme(tuple(done), colours)


def _pieces(units: Units) -> Units:
    """A source that shows one bank alone, in pieces that can be looked at side by side."""
    total = units.opaque.size
    spare = -total % PIECE
    rgb = np.pad(units.rgb.reshape(-1, 3), ((0, spare), (0, 0))).reshape(-1, PIECE, 3)
    opaque = np.pad(units.opaque.reshape(-1), (0, spare)).reshape(-1, PIECE)
    often = np.repeat(np.asarray(units.weight, np.float64), units.opaque.shape[1])
    weight = np.pad(often, (0, spare), "edge").reshape(-1, PIECE).mean(axis=1)
    return Units(rgb, opaque, weight, units.reach)


def _valued(
    units: Units, view: npt.NDArray[np.int64], numbers: npt.NDArray[np.int64], colours: Mapping[int, Colour]
) -> npt.NDArray[np.int64]:
    """The values of dots whose colours, as ``numbers``, stand in their view; -1 where they are transparent."""
    value = np.full(units.opaque.shape, -1, np.int64)
    for at, one in enumerate(units.reach.views):
        mine = view == at
        shades = palette_of(one, colours)
        if mine.any() and shades:
            known = {_number(shade): number for number, shade in reversed(shades)}
            order = np.array(sorted(known), np.int64)
            which = np.searchsorted(order, numbers[mine]).clip(0, len(order) - 1)
            value[mine] = np.array([known[number] for number in order.tolist()], np.int64)[which]
    value[~units.opaque] = -1
    return value


def palette_of(view: View, colours: Mapping[int, Colour]) -> list[tuple[int, Colour]]:
    """The values of a view whose entries have a colour, and those colours."""
    pairs = zip(view.values, view.entries, strict=True)
    return [(value, colours[entry]) for value, entry in pairs if entry in colours]


def _numbers(rgb: npt.NDArray[np.uint8]) -> npt.NDArray[np.int64]:
    wide = rgb.astype(np.int64)
    return wide[..., 0] << 16 | wide[..., 1] << 8 | wide[..., 2]


def _number(shade: Colour) -> int:
    return shade[0] << 16 | shade[1] << 8 | shade[2]


def _shade(number: int) -> Colour:
    return number >> 16, number >> 8 & 255, number & 255


def _shade_of(row: Sequence[int]) -> Colour:
    red, green, blue = row
    return red, green, blue


def _by_light(shade: Colour) -> tuple[int, Colour]:
    """From dark to light, by the weights of Rec. 601 luma, in thousandths."""
    return 299 * shade[0] + 587 * shade[1] + 114 * shade[2], shade
