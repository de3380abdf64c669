"""Sprites: who lies on a line, who is dropped, and what they fetch.

Law: the sprites of a line are prepared from the controls and the table of one moment, all of them together and all lines
together. Which moment that is, and how many slots there are for them, is the caller's to say. Knows no layer and no dot.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.controls import sprite_addresses
from ...chip.line.clients import scan_of
from ...chip.model import SpritesTable
from ..frame import DROPS
from ..layers.common import around, stacked
from ..plan import Plan
from ..timeline import Timeline
from .walk import Asked, SpriteSlots, SpriteWalk, walk_of

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class LineSprites:
    """Sprites drawn on lines, one item for each of them and line, from the back to the front.

    ``line`` counts from the timeline's first; ``sprite`` is the table number; ``record`` the packed record and ``fields``
    what it holds; ``row`` the line of the sprite; ``place`` (items, parts) where the parts of the row stand in the store.
    """

    line: Ints
    sprite: Ints
    row: Ints
    record: Ints
    place: Ints
    fields: dict[str, Ints]


@dataclass(eq=False, repr=False)
class Asks:
    """The sprites that neither count nor dots drop, in the order of the walk: what each asks memory for.

    ``line`` (an index into the lines asked for), ``sprite``, its ``size``'s number; ``start``: accesses of its line before its
    own; ``cost``: of its pattern's row, the parts of which begin at ``address`` (items, parts).
    """

    line: Ints
    sprite: Ints
    size: Ints
    start: Ints
    cost: Ints
    address: Ints


@dataclass(eq=False, repr=False)
class Prepared:
    """Some lines' sprites: ``found`` and ``drawn`` int64 (lines,), the drops, what is kept.

    ``of_table`` and ``pattern`` int64 (lines,): accesses made; ``unread``: of the scan, those that found no slot; ``asks()`` what
    they were for, which only a trace wants to know.
    """

    lines: Ints
    found: Ints
    drawn: Ints
    drops: npt.NDArray[Any]
    kept: LineSprites
    of_table: Ints
    pattern: Ints
    unread: Ints
    asks: Callable[[], Asks]


@dataclass(eq=False, repr=False)
class _Found:
    """The sprites that lie on the lines, one item for each of them and line, in the order of the walk.

    ``line`` (an index into the lines asked for), ``sprite``, its ``record``, the ``row`` of it that shows, its ``size``'s number.
    """

    line: Ints
    sprite: Ints
    record: Ints
    row: Ints
    fields: dict[str, Ints]
    size: Ints


def prepare(plan: Plan, timeline: Timeline, asked: Asked) -> Prepared:
    """Work out the sprites of the lines that are asked for: who is there, who is dropped, what is fetched."""
    sprites = plan.chip.sprites
    assert sprites is not None
    enabled = timeline.control("sprites.enable")[asked.at] == 1
    found = _find(plan, sprites, timeline, asked, enabled)
    if found is None:  # as on many lines: the walk over nobody takes three times as long as all the rest
        return _nobody(plan, sprites, asked, enabled)
    walk = walk_of(plan, asked, found.line, found.size, enabled)
    bases = stacked([timeline.control(name)[asked.at] for name in sprite_addresses(sprites)])
    address = _row_addresses(plan, bases, found)
    place = timeline.memory.translate(_read_at(plan, timeline, asked, found, walk), address)

    stay = (~walk.dropped).nonzero()[0]
    if sprites.dropped == "back":  # then the walk goes from the front to the back; lines may stand in any order
        stay = stay[::-1]
    many = np.bincount(found.line, minlength=len(asked.lines))
    return Prepared(
        lines=asked.lines,
        found=many,
        drawn=many - np.bincount(found.line[walk.dropped], minlength=len(asked.lines)),
        drops=_drops(asked, found, walk),
        kept=LineSprites(
            line=found.line.take(stay) + (asked.lines[:1] - timeline.first),
            sprite=found.sprite.take(stay),
            row=found.row.take(stay),
            record=found.record.take(stay),
            place=place.take(stay, axis=0),
            fields={name: values.take(stay) for name, values in found.fields.items()},
        ),
        of_table=walk.of_table,
        pattern=walk.made - walk.of_table,
        unread=_scanned(plan, asked, enabled)[1],
        asks=lambda: Asks(
            *(values[walk.asking] for values in (found.line, found.sprite, found.size, walk.start, walk.cost, address))
        ),
    )


def _nobody(plan: Plan, sprites: SpritesTable, asked: Asked, enabled: npt.NDArray[np.bool_]) -> Prepared:
    """What comes of lines on which no sprite lies: a table in memory is looked through all the same."""
    zero, none = np.zeros(len(asked.lines), np.int64), np.empty(0, np.int64)
    scanned, unread = _scanned(plan, asked, enabled)
    assert plan.sprite_rows is not None
    parts = np.empty((0, plan.sprite_rows.most), np.int64)
    kept = LineSprites(none, none, none, none, parts, dict.fromkeys(sprites.fields.layout, none))
    asks = Asks(none, none, none, none, none, parts)
    return Prepared(asked.lines, zero, zero, np.empty(0, DROPS), kept, scanned, zero, unread, lambda: asks)


def _scanned(plan: Plan, asked: Asked, enabled: npt.NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Of the scan of each line the accesses that are made, and those that find no slot; int64 (lines,) each."""
    wanted, room = enabled * scan_of(plan.chip).accesses, asked.room()
    made = wanted if room is None else np.minimum(wanted, room)
    return made, wanted - made


def _find(
    plan: Plan, sprites: SpritesTable, timeline: Timeline, asked: Asked, enabled: npt.NDArray[np.bool_]
) -> _Found | None:
    """Who lies on the lines, in the order in which the walk goes over them; None where nobody does."""
    words, version = _records(plan, sprites, timeline, asked)
    on, row = _on_lines(sprites, asked.lines, words, version)
    on &= enabled[:, None]
    known = asked.known(scan_of(plan.chip), sprites.count)
    if known is not None:
        on &= np.arange(sprites.count) < known[:, None]
    if not on.any():
        return None
    # The walk begins with those that stay: at the front where the back is dropped. Sprite 0 may be either end.
    upward = (sprites.front == "first") == (sprites.dropped == "back")
    # ``np.nonzero``, which gives lines and sprites at once, takes four times as long.
    line, sprite = np.divmod(np.flatnonzero(on if upward else on[:, ::-1]), sprites.count)
    sprite = sprite if upward else sprites.count - 1 - sprite
    record = words.reshape(-1)[sprite] if version is None else words[version[line], sprite]
    fields = {name: bits.get(record) for name, bits in sprites.fields.layout.items()}
    size = fields.get("size", np.zeros(len(line), np.int64))
    return _Found(line, sprite, record, row[line, sprite], fields, size)


def _drops(asked: Asked, found: _Found, walk: SpriteWalk) -> npt.NDArray[Any]:
    """Who is dropped and why, as DROPS."""
    drops = np.empty(int(walk.dropped.sum()), DROPS)
    drops["line"] = asked.lines[found.line[walk.dropped]]
    drops["sprite"] = found.sprite[walk.dropped]
    drops["reason"] = walk.reason
    return drops


def _read_at(plan: Plan, timeline: Timeline, asked: Asked, found: _Found, walk: SpriteWalk) -> Ints:
    """The instants at which parts of rows are read: where memory changes meanwhile, that of the first slot of their tile."""
    instants: Ints = (asked.slot_lines * timeline.per_line).take(found.line)[:, None]
    if asked.rooms is None or timeline.memory.hot is None:
        return instants
    assert plan.sprite_rows is not None
    number = (walk.start + walk.rest)[:, None] + plan.sprite_rows.begins[found.size]
    # Who finds no slot (-1) is dropped: whatever is read for it does not show.
    return instants + SpriteSlots(asked).of(found.line[:, None], number)


def _on_lines(
    sprites: SpritesTable, lines: Ints, words: Ints, version: Ints | None
) -> tuple[npt.NDArray[np.bool_], Ints]:
    """Which sprites lie on which lines, bool (lines, count), and the line within each sprite, int64 (lines, count)."""
    layout = sprites.fields.layout
    table = {name: layout[name].get(words) for name in ("y", "size", "enable") if name in layout}
    heights = np.array([height for _, height in sprites.sizes])
    tall = heights[table["size"]] if "size" in table else heights[0]

    def of_lines(values: Any) -> Any:
        return values[version] if version is not None and np.ndim(values) else values

    rel: Ints = lines[:, None] - of_lines(table["y"])
    if sprites.wrap_y:  # a mask of a negative number counts around as well
        rel = rel & layout["y"].top
    on = (rel >= 0) & (rel < of_lines(tall))
    if "enable" in table:
        on &= of_lines(table["enable"]) == 1
    return on, rel


def _row_addresses(plan: Plan, patterns: Ints, found: _Found) -> Ints:
    """Where the parts of each sprite's row begin, modulo the memory's size; ``patterns`` (bases, lines): those of pattern 0."""
    rows, row = plan.sprite_rows, found.row
    assert rows is not None
    if "flip_y" in found.fields:
        row = np.where(found.fields["flip_y"] == 1, rows.heights[found.size] - 1 - row, row)
    assert plan.chip.sprites is not None
    number = plan.chip.sprites.fields.number(found.fields)
    return around(rows.addresses(patterns.take(found.line, axis=1), number, row, found.size), plan.chip.memory.size)


def _records(plan: Plan, sprites: SpritesTable, timeline: Timeline, asked: Asked) -> tuple[Ints, Ints | None]:
    """The records as int64 (versions, count), and the version of each line asked for; None where there is just one.

    A record of eight bytes may set bit 63; shifts and masks of ``Bits`` read it right from a negative number too.
    """
    if sprites.table == "chip":
        raw, version = timeline.tables, timeline.table_of_line
        if version is not None:
            version = version[timeline.line[asked.at] - timeline.first]
    else:
        at = timeline.control("sprites.table")[asked.at]
        alike = timeline.memory.hot is None and bool((at == at[:1]).all())
        begins = asked.slot_lines * timeline.per_line
        at, begins = (at[:1], begins[:1]) if alike else (at, begins)
        addresses = at[:, None] + np.arange(sprites.count * sprites.record_bytes)
        raw = plan.store.bytes()[timeline.memory.translate(begins[:, None], addresses)]
        raw = raw.reshape(len(at), sprites.count, sprites.record_bytes)
        version = None if alike else np.arange(len(asked.lines))
    size = sprites.record_bytes
    padded = np.zeros((*raw.shape[:2], 8), np.uint8)
    # Turned around where the highest byte comes first, so that all sizes and orders are read as one kind of number.
    padded[..., :size] = raw if plan.chip.memory.byte_order == "little" else raw[..., ::-1]
    return padded.view("<i8")[..., 0].astype(np.int64), version
