"""Art as it is: a bank for every thing and an entry for every colour, so that each dot keeps its own.

Law: what is found is lossless, on the chip's own grid. What is not found is told as a Reason, which says whether there is no way
at all, proved, or none was found: then there may be one. Where banks are alike the strongest search there is answers. Knows
reaches and dots, no maps and no files.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...colour.numbers import number_of, numbers_of, shade_of
from ..arrays import Colour
from ..packing.pack import pack
from ..packing.place import Page, place
from .reach import EntryGroup, groups
from .units import (
    Coloured,
    EntryRoom,
    KeptEntries,
    Scheme,
    Units,
    by_light,
    grid,
    valued,
)

MOST_PACKED = 200
"""Unlike sets of colours for which the fewest banks that can be are looked for, and not only few enough."""


@dataclass(frozen=True)
class Reason:
    """Why art does not keep its colours, in words; ``proved``: there is no way at all."""

    text: str
    proved: bool

    @property
    def told(self) -> str:
        """The reason as a report has it."""
        return f"there is no way: {self.text}" if self.proved else f"no way was found: {self.text}"


NOT_FOUND = Reason("the search for banks ended without one, there may be a way", proved=False)


@dataclass(frozen=True, eq=False, repr=False)
class _Pages:
    """The groups of entries of some sources, and what each has room for."""

    groups: Sequence[EntryGroup]
    rooms: Sequence[EntryRoom]


@dataclass(frozen=True, eq=False, repr=False)
class _Needs:
    """What is to be placed: sets of colours, the groups that each may use, the place of each one's source, and its units."""

    sets: list[frozenset[int]]
    reach: list[list[int]]
    source: list[int]
    units: list[list[int]]


def as_it_is(
    sources: Sequence[Units], channels: tuple[int, int, int], kept: KeptEntries, seed: int = 0
) -> tuple[Scheme | None, Reason]:
    """Every colour kept, as near as the chip has it, or None; and why not, which says nothing where a way was found.

    Colours of sources whose banks are unlike are first given all entries that any of them sees, then only those that all see.
    """
    reason = NOT_FOUND
    layout = groups([units.reach for units in sources])
    if layout is None:
        return None, reason
    numbers = [numbers_of(grid(units.rgb, channels)) for units in sources]
    for common in (False, True) if any(one.entries != one.common for one in layout) else (False,):
        pages = _pages(layout, kept, common=common)
        needs = _needs(sources, numbers, layout)
        where, bound, why = _packed(needs, pages.rooms, seed)
        if not common:
            reason = Reason(why.text, why.proved and _telling(sources, layout, kept))
        colours = None if where is None else _entries(needs, where, pages, kept)
        if where is not None and colours is not None:
            return _scheme(sources, numbers, needs, where, layout, colours, bound), reason
    return None, reason


def _telling(sources: Sequence[Units], layout: Sequence[EntryGroup], kept: KeptEntries) -> bool:
    """Whether what cannot be packed cannot be shown: every bank was counted, and every kept colour that someone sees."""
    seen = all(kept.get(entry) is None or entry in group.common for group in layout for entry in group.entries)
    return seen and not any(units.reach.part for units in sources)


def _pages(layout: Sequence[EntryGroup], kept: KeptEntries, *, common: bool) -> _Pages:
    """``common``: only entries that all views of a group see are used."""
    usable = [group.common if common else group.entries for group in layout]
    rooms = [EntryRoom.of(some, group.common, kept) for some, group in zip(usable, layout, strict=True)]
    return _Pages(layout, rooms)


def _needs(sources: Sequence[Units], numbers: Sequence[npt.NDArray[np.int64]], layout: Sequence[EntryGroup]) -> _Needs:
    found = _Needs([], [], [], [])
    for at, (units, number) in enumerate(zip(sources, numbers, strict=True)):
        own = [frozenset(np.unique(row[shows]).tolist()) for row, shows in zip(number, units.opaque, strict=True)]
        places = [page for page, group in enumerate(layout) if at in group.views]
        parts = [[one] for one in range(len(own))]
        asked = own
        if units.reach.single:  # all of it shows one bank
            asked, parts = [frozenset().union(*own)], [list(range(len(own)))]
        if (
            len(units.reach.views) == 1 and len(places) > 1
        ):  # one bank over several groups: each colour goes where it likes
            asked = [frozenset({one}) for one in sorted(frozenset().union(*own))]
            parts = [[] for _ in asked]
        found.sets.extend(asked)
        found.reach.extend([places] * len(asked))
        found.source.extend([at] * len(asked))
        found.units.extend(parts)
    return found


def _packed(needs: _Needs, rooms: Sequence[EntryRoom], seed: int) -> tuple[list[int] | None, int, Reason]:
    """The group of each set; how few groups could do, proved; and why there is none."""
    if not needs.sets:
        return [], 0, NOT_FOUND
    held = [Page(len(room.free), frozenset(map(number_of, room.fixed))) for room in rooms]
    why = _impossible(needs, held)
    if why is not None:
        return None, 0, why
    placed = place(needs.sets, held, needs.reach, seed=seed)
    where = None if placed is None else list(placed)
    largest = max(*(page.room for page in held), 1)
    least = max(1, -(-len(_asked(needs, held)) // largest))
    distinct = list(dict.fromkeys(needs.sets))
    if not _alike(needs, held) or (where is not None and len(distinct) > MOST_PACKED):
        return where, least, NOT_FOUND
    packing = pack(distinct, largest, shared=held[0].fixed, seed=seed)
    least = max(least, packing.bound)
    if packing.bound > len(held):
        return None, 0, Reason(f"at least {packing.bound} banks are needed, of {len(held)}", proved=True)
    if len(packing.pages) < (len(held) + 1 if where is None else len(set(where))):
        page = {distinct[member]: at for at, members in enumerate(packing.pages) for member in members}
        where = [page[one] for one in needs.sets]
    return where, least, NOT_FOUND


def _asked(needs: _Needs, held: Sequence[Page]) -> frozenset[int]:
    """The colours that are wanted and stand nowhere yet."""
    return frozenset().union(*needs.sets).difference(*(page.fixed for page in held))


def _alike(needs: _Needs, held: Sequence[Page]) -> bool:
    """Whether all banks have the same room and are open to all: only then can the strongest search be asked."""
    return held[0].room > 0 and len(set(held)) == 1 and all(len(one) == len(held) for one in needs.reach)


def _impossible(needs: _Needs, held: Sequence[Page]) -> Reason | None:
    """Why there is no way at all, as far as that is seen without a search."""
    asked, room = _asked(needs, held), sum(page.room for page in held)
    kept = any(page.fixed for page in held)
    if len(asked) > room:
        beside = " beside what is there" if kept else ""
        return Reason(f"{len(asked)} colours{beside}, and room for {room}", proved=True)
    for one, pages in zip(needs.sets, needs.reach, strict=True):
        mine = [held[page] for page in pages]
        if not any(len(one - page.fixed) <= page.room for page in mine):
            most = max((page.room + len(page.fixed) for page in mine), default=0)
            return Reason(f"one bank would have to show {len(one)} colours, and holds at most {most}", proved=True)
    largest = max(*(page.room for page in held), 1)
    if not kept and _apart(list(dict.fromkeys(needs.sets)), largest, len(held)):
        return Reason("more things than banks, no two of which fit into one bank together", proved=True)
    return None


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


def _entries(needs: _Needs, where: Sequence[int], pages: _Pages, kept: KeptEntries) -> dict[int, Colour] | None:
    """The colour of every entry that has one, from dark to light where that is free; None where the entries do not do."""
    found = {entry: shade for entry, shade in kept.items() if shade is not None}
    for page, (group, room) in enumerate(zip(pages.groups, pages.rooms, strict=True)):
        seen_by = _seen_by(needs, where, page)
        new = sorted((shade for shade in seen_by if shade not in room.fixed), key=by_light)
        open_ = [_open_to(seen_by[shade], group, room) for shade in new]
        given = _matched(open_)
        if given is None:
            return None
        found.update(zip(given, new, strict=True))
    return found


def _seen_by(needs: _Needs, where: Sequence[int], page: int) -> dict[Colour, set[int]]:
    """The colours that lie in ``page``, and the sources that show each there."""
    found: dict[Colour, set[int]] = {}
    for one, source, at in zip(needs.sets, needs.source, where, strict=True):
        for number in one if at == page else ():
            found.setdefault(shade_of(number), set()).add(source)
    return found


def _open_to(sources: Collection[int], group: EntryGroup, room: EntryRoom) -> list[int]:
    """The free entries that all of these sources see."""
    return [entry for entry in room.free if all(entry in group.views[source].entries for source in sources)]


def _matched(open_: Sequence[Sequence[int]]) -> list[int] | None:
    """An entry for each colour out of those open to it, no entry twice, the lowest where it is free; None if there is no way.

    By paths that move earlier colours on: H. W. Kuhn, "The Hungarian method for the assignment problem", Naval Research
    Logistics Quarterly 2 (1955).
    """
    holder: dict[int, int] = {}

    def settle(colour: int, tried: set[int]) -> bool:
        for entry in open_[colour]:
            if entry not in tried and entry not in holder:
                holder[entry] = colour
                return True
        for entry in open_[colour]:
            if entry not in tried:
                tried.add(entry)
                if settle(holder[entry], tried):
                    holder[entry] = colour
                    return True
        return False

    if not all(settle(colour, set()) for colour in range(len(open_))):
        return None
    entry_of = {colour: entry for entry, colour in holder.items()}
    return [entry_of[colour] for colour in range(len(open_))]


def _scheme(
    sources: Sequence[Units],
    numbers: Sequence[npt.NDArray[np.int64]],
    needs: _Needs,
    where: Sequence[int],
    layout: Sequence[EntryGroup],
    colours: dict[int, Colour],
    bound: int,
) -> Scheme:
    """What was found, as each source sees it."""
    views = [np.zeros(len(units.opaque), np.int64) for units in sources]
    for source, parts, at in zip(needs.source, needs.units, where, strict=True):
        for part in parts:
            views[source][part] = sources[source].reach.views.index(layout[at].views[source])
    done = []
    for units, number, view in zip(sources, numbers, views, strict=True):
        reach = units.reach
        if reach.single and len(reach.views) > 1:
            reach = reach.one(int(view[0]) if len(view) else 0)
        own = view if reach is units.reach else np.zeros_like(view)
        one = Units(units.rgb, units.opaque, units.weight, reach, units.name)
        done.append(Coloured(reach, own, valued(one, own, number, colours), exact=True))
    return Scheme(tuple(done), colours, len(set(where)), bound)
