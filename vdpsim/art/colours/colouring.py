"""Which bank each thing shows, and which colour each entry has: exactly where that can be, with the least loss elsewhere.

Law: where a way is found to keep every colour, on the chip's own grid, all are kept; only where none is found are colours
chosen, and then each source says why. Sources that see the same entries are coloured together. An entry that is kept is never
given another colour, and its colour may be used by whoever sees it. Knows reaches and dots, no maps and no files.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from itertools import permutations

import numpy as np

from ...colour.numbers import numbers_of
from ..arrays import Block, Colour, Dots, Mask, Progress
from .as_it_is import NOT_FOUND, Reason, as_it_is
from .choose import Chosen, Room, choose
from .reach import pages
from .units import Coloured, EntryRoom, KeptEntries, Scheme, Units, by_light, grid, valued

DITHERED = Reason("a dithering was asked for, and the chip has not all of its colours", proved=False)
MOST_TURNED = 3
"""Sources of which all orders are tried, one after the other."""

PIECE = 64
"""Dots of a piece of something that shows one bank whatever it is, such as a bitmap."""


def colour(
    sources: Sequence[Units],
    channels: tuple[int, int, int],
    kept: KeptEntries,
    *,
    exact: bool = True,
    seed: int = 0,
    progress: Progress | None = None,
) -> Scheme:
    """Give every unit a bank and values, and the entries their colours.

    ``exact``: colours that the chip has not exactly are first rounded and tried as they are; without it only art in the chip's
    own colours is (a dithering wants the others). Raises ValueError where a source sees no entry that it may use.
    """
    for units in sources:
        if units.opaque.any() and not any(_usable(view.entries, kept) for view in units.reach.views):
            raise ValueError(f"{units.name}: all entries that it can show are kept, and none of them has a colour")
    whole = [exact or bool(np.array_equal(grid(one.rgb, channels)[one.opaque], one.rgb[one.opaque])) for one in sources]
    together, reasons = NOT_FOUND, [NOT_FOUND if one else DITHERED for one in whole]
    if all(whole):
        found, together = as_it_is(sources, channels, kept, seed)
        if found is not None:
            return found
        reasons = [together] * len(sources)
    if len(sources) == 1:
        return _with_loss(sources, {}, dict(kept), reasons, channels, seed, progress)
    done: dict[int, Coloured] = {}
    now: dict[int, Colour | None] = dict(kept)
    for order in _orders(sources) if all(whole) else _orders(sources)[:1]:
        some, after, why = _in_turn(sources, order, whole, channels, kept, seed)
        if not done or len(some) > len(done):
            done, now = some, after
            reasons = [_plainest(why.get(at, reason), together) for at, reason in enumerate(reasons)]
        if len(done) == len(sources) or any(one.proved for one in why.values()):
            break
    return _with_loss(sources, done, now, reasons, channels, seed, progress)


def _plainest(alone: Reason, together: Reason) -> Reason:
    """Why a source lost colours: its own reason, unless only that of all sources together is proved."""
    return together if together.proved and not alone.proved else alone


def _narrowed(units: Units, kept: KeptEntries, taken: Collection[int] = frozenset()) -> Units:
    """A source that shows one bank alone gets the one with the most entries that are free, and that no other took."""
    if not units.reach.single or len(units.reach.views) == 1:
        return units
    free = [sum(entry not in kept and entry not in taken for entry in view.entries) for view in units.reach.views]
    usable = [_usable(view.entries, kept) for view in units.reach.views]
    best = max(range(len(free)), key=lambda at: (usable[at], free[at], -at))
    return Units(units.rgb, units.opaque, units.weight, units.reach.one(best), units.name)


def _usable(entries: Sequence[int], kept: KeptEntries) -> bool:
    return any(entry not in kept or kept[entry] is not None for entry in entries)


def _orders(sources: Sequence[Units]) -> list[tuple[int, ...]]:
    """Orders in which sources are tried one after the other: first those with small banks, then the other ways of few sources."""
    first = sorted(
        range(len(sources)), key=lambda at: max((len(v.entries) for v in sources[at].reach.views), default=0)
    )
    return list(permutations(first)) if len(sources) <= MOST_TURNED else [tuple(first), tuple(reversed(first))]


def _in_turn(
    sources: Sequence[Units],
    order: Sequence[int],
    whole: Sequence[bool],
    channels: tuple[int, int, int],
    kept: KeptEntries,
    seed: int,
) -> tuple[dict[int, Coloured], dict[int, Colour | None], dict[int, Reason]]:
    """What fits as it is, source by source, each beside those before it; what entries then have; and why the others do not."""
    done: dict[int, Coloured] = {}
    now: dict[int, Colour | None] = dict(kept)
    reasons: dict[int, Reason] = {}
    for at in order:
        if not whole[at]:
            continue
        found, reason = as_it_is([sources[at]], channels, now, seed)
        if found is None:
            reasons[at] = Reason(reason.text, reason.proved and not done)
            continue
        after = {**now, **found.colours}
        others = [one for one in order if one not in done and one != at]
        if all(any(_usable(v.entries, after) for v in sources[other].reach.views) for other in others):
            done[at], now = found.sources[0], after
        else:
            reasons[at] = Reason("its colours would leave another picture none", proved=False)
    return done, now, reasons


def _with_loss(
    sources: Sequence[Units],
    done: dict[int, Coloured],
    now: dict[int, Colour | None],
    reasons: Sequence[Reason],
    channels: tuple[int, int, int],
    seed: int,
    progress: Progress | None,
) -> Scheme:
    """Colours chosen for the sources that are not ``done``, together where their banks allow it."""
    rest: dict[int, Units] = {}
    taken: set[int] = set()
    for at, units in enumerate(sources):
        if at not in done:
            rest[at] = _narrowed(units, now, taken)
            if units.reach.single:
                taken.update(entry for view in rest[at].reach.views for entry in view.entries)
    together = rest and pages([units.reach for units in rest.values()]) is not None
    rounds = [list(rest)] if together else [[at] for at in rest]
    for number, some in enumerate(rounds):
        told = None if progress is None else _part(progress, number, len(rounds))
        chosen = _chosen([rest[one] for one in some], channels, now, seed, told)
        done.update({at: replace(one, why=reasons[at].told) for at, one in zip(some, chosen.sources, strict=True)})
        now.update(chosen.colours)
    colours = {entry: shade for entry, shade in now.items() if shade is not None}
    return Scheme(tuple(done[at] for at in range(len(sources))), colours)


def _part(progress: Progress, at: int, count: int) -> Progress:
    return lambda done: progress((at + done) / count)


def _chosen(
    sources: Sequence[Units], channels: tuple[int, int, int], kept: KeptEntries, seed: int, progress: Progress | None
) -> Scheme:
    """Banks and colours chosen together, for sources whose pages can be shared."""
    laid = pages([units.reach for units in sources])
    assert laid is not None
    entries, places = laid
    rooms = [EntryRoom.of(some, some, kept) for some in entries]
    parts = [_pieces(units) if units.reach.single else units for units in sources]
    found = choose(
        *_side_by_side(parts),
        [Room(len(room.free), tuple(room.fixed)) for room in rooms],
        channels,
        reach=_open_pages(parts, places, rooms),
        weights=np.concatenate([units.weight for units in parts]),
        seed=seed,
        progress=progress,
    )
    colours = {entry: shade for entry, shade in kept.items() if shade is not None}
    for room, some in zip(rooms, found.colours, strict=True):
        new = {(row[0], row[1], row[2]) for row in some.tolist()} - set(room.fixed)
        colours.update(zip(room.free, sorted(new, key=by_light), strict=False))
    done, start = [], 0
    for units, part, places_of in zip(sources, parts, places, strict=True):
        here = slice(start, start + len(part.opaque))
        start = here.stop
        done.append(_coloured(units, part, places_of, _shown(found, here, part), found.banks[here], colours))
    return Scheme(tuple(done), colours)


def _side_by_side(parts: Sequence[Units]) -> tuple[Dots, Mask]:
    """The units of all sources after each other, each with as many dots as the longest has."""
    dots = max(units.opaque.shape[1] for units in parts)
    count = sum(len(units.opaque) for units in parts)
    rgb, opaque = np.zeros((count, dots, 3), np.uint8), np.zeros((count, dots), np.bool_)
    start = 0
    for units in parts:
        here = slice(start, start + len(units.opaque))
        rgb[here, : units.opaque.shape[1]] = units.rgb
        opaque[here, : units.opaque.shape[1]] = units.opaque
        start = here.stop
    return rgb, opaque


def _open_pages(parts: Sequence[Units], places: Sequence[Mapping[int, int]], rooms: Sequence[EntryRoom]) -> Mask:
    """Bool (units, pages): the pages that each unit sees and in which a colour is or can be."""
    usable = np.array([bool(room.free or room.fixed) for room in rooms])
    rows = np.zeros((len(parts), len(rooms)), np.bool_)
    for row, pages_of in zip(rows, places, strict=True):
        seen = list(pages_of.values())
        row[seen] = usable[seen]
    return np.repeat(rows, [len(units.opaque) for units in parts], axis=0)


def _shown(found: Chosen, here: slice, part: Units) -> Dots:
    """The colours (n, dots, 3) that were chosen for the dots of one source's units."""
    shown = np.zeros((*part.opaque.shape, 3), np.uint8)
    values = found.values[here][:, : part.opaque.shape[1]]
    for page, some in enumerate(found.colours):
        mine = found.banks[here] == page
        if mine.any() and len(some):
            shown[mine] = some[np.maximum(values[mine], 0)]
    return shown


def _coloured(
    units: Units, part: Units, places: Mapping[int, int], shown: Dots, banks: Block, colours: Mapping[int, Colour]
) -> Coloured:
    """What became of a source whose ``part`` shows these colours in these banks, the source itself or its pieces."""
    of_page = {page: at for at, page in places.items()}
    view = np.array([of_page[page] for page in banks.tolist()], np.int64)
    value = valued(part, view, numbers_of(shown), colours)
    if part is not units:
        value = value.reshape(-1)[: units.opaque.size].reshape(units.opaque.shape)
        view = np.zeros(len(units.opaque), np.int64)
    return Coloured(units.reach, view, value, exact=False)


def _pieces(units: Units) -> Units:
    """A source that shows one bank alone, in pieces that can be looked at side by side."""
    total = units.opaque.size
    spare = -total % PIECE
    rgb = np.pad(units.rgb.reshape(-1, 3), ((0, spare), (0, 0))).reshape(-1, PIECE, 3)
    opaque = np.pad(units.opaque.reshape(-1), (0, spare)).reshape(-1, PIECE)
    often = np.repeat(np.asarray(units.weight, np.float64), units.opaque.shape[1])
    weight = np.pad(often, (0, spare), "edge").reshape(-1, PIECE).mean(axis=1)
    return Units(rgb, opaque, weight, units.reach)
