"""Art as it is: a bank for every thing and an entry for every colour, so that each dot keeps its own.

Law: what is found is lossless, on the chip's own grid. What is not found is told as a Reason, which says whether there is no way
at all, proved, or none was found: then there may be one. Where banks are alike the strongest search there is answers. Knows
reaches and dots, no maps and no files.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..arrays import Colour
from ..packing.pack import pack
from ..packing.place import Page, place
from .reach import Group, groups
from .units import (
    Coloured,
    KeptEntries,
    Scheme,
    Units,
    by_light,
    grid,
    number_of,
    numbers_of,
    shade_of,
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
class _Table:
    """The groups of entries of some sources: ``free`` entries and the ``fixed`` colours with their entries, of each."""

    groups: Sequence[Group]
    free: list[list[int]]
    fixed: list[dict[Colour, int]]


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
        table = _table(layout, kept, common=common)
        needs = _needs(sources, numbers, layout)
        where, bound, why = _packed(needs, table, seed)
        if not common:
            reason = Reason(why.text, why.proved and _telling(sources, layout, kept))
        colours = None if where is None else _entries(needs, where, table, kept)
        if where is not None and colours is not None:
            return _scheme(sources, numbers, needs, where, layout, colours, bound), reason
    return None, reason


def _telling(sources: Sequence[Units], layout: Sequence[Group], kept: KeptEntries) -> bool:
    """Whether what cannot be packed cannot be shown: every bank was counted, and every kept colour that someone sees."""
    seen = all(kept.get(entry) is None or entry in group.common for group in layout for entry in group.entries)
    return seen and not any(units.reach.part for units in sources)


def _table(layout: Sequence[Group], kept: KeptEntries, *, common: bool) -> _Table:
    """``common``: only entries that all views of a group see are used."""
    fixed: list[dict[Colour, int]] = []
    free: list[list[int]] = []
    for group in layout:
        fixed.append({})
        for entry in group.common:
            shade = kept.get(entry)
            if shade is not None:
                fixed[-1].setdefault(shade, entry)
        free.append([entry for entry in (group.common if common else group.entries) if entry not in kept])
    return _Table(layout, free, fixed)


def _needs(sources: Sequence[Units], numbers: Sequence[npt.NDArray[np.int64]], layout: Sequence[Group]) -> _Needs:
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


def _packed(needs: _Needs, table: _Table, seed: int) -> tuple[list[int] | None, int, Reason]:
    """The group of each set; how few groups could do, proved; and why there is none."""
    sets, reach = needs.sets, needs.reach
    fixed = [frozenset(map(number_of, some)) for some in table.fixed]
    rooms = [len(some) for some in table.free]
    if not sets:
        return [], 0, NOT_FOUND
    asked = frozenset().union(*sets).difference(*fixed)
    if len(asked) > sum(rooms):
        beside = " beside what is there" if any(fixed) else ""
        return None, 0, Reason(f"{len(asked)} colours{beside}, and room for {sum(rooms)}", proved=True)
    for one, pages in zip(sets, reach, strict=True):
        if not any(len(one - fixed[page]) <= rooms[page] for page in pages):
            most = max((rooms[page] + len(fixed[page]) for page in pages), default=0)
            return (
                None,
                0,
                Reason(f"one bank would have to show {len(one)} colours, and holds at most {most}", proved=True),
            )
    largest = max(*rooms, 1)
    distinct = list(dict.fromkeys(sets))
    if not any(fixed) and _apart(distinct, largest, len(rooms)):
        return None, 0, Reason("more things than banks, no two of which fit into one bank together", proved=True)
    alike = len(set(rooms)) == 1 and len(set(fixed)) == 1 and all(len(one) == len(rooms) for one in reach)
    held = [Page(room, colours) for room, colours in zip(rooms, fixed, strict=True)]
    placed = place(sets, held, reach, seed=seed)
    where = None if placed is None else list(placed)
    least = max(1, -(-len(asked) // largest))
    if alike and rooms[0] and (where is None or len(distinct) <= MOST_PACKED):
        packing = pack(distinct, largest, shared=fixed[0], seed=seed)
        least = max(least, packing.bound)
        if packing.bound > len(rooms):
            return None, 0, Reason(f"at least {packing.bound} banks are needed, of {len(rooms)}", proved=True)
        if len(packing.pages) < (len(rooms) + 1 if where is None else len(set(where))):
            page = {distinct[member]: at for at, members in enumerate(packing.pages) for member in members}
            where = [page[one] for one in sets]
    return where, least, NOT_FOUND


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


def _entries(needs: _Needs, where: Sequence[int], table: _Table, kept: KeptEntries) -> dict[int, Colour] | None:
    """The colour of every entry that has one, from dark to light where that is free; None where the entries do not do."""
    found = {entry: shade for entry, shade in kept.items() if shade is not None}
    for page, (group, free, fixed) in enumerate(zip(table.groups, table.free, table.fixed, strict=True)):
        seen_by: dict[Colour, set[int]] = {}
        for one, source, at in zip(needs.sets, needs.source, where, strict=True):
            if at == page:
                for number in one:
                    seen_by.setdefault(shade_of(number), set()).add(source)
        new = sorted((shade for shade in seen_by if shade not in fixed), key=by_light)
        open_ = [
            [entry for entry in free if all(entry in group.views[source].entries for source in seen_by[shade])]
            for shade in new
        ]
        given = _matched(open_)
        if given is None:
            return None
        found.update(zip(given, new, strict=True))
    return found


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
    layout: Sequence[Group],
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
