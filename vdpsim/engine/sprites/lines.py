"""Sprites: who lies on a line, who is dropped, and what they fetch.

Law: the sprites of a line are prepared from the controls and the table of one moment, all of them together and all lines
together. Which moment that is, and how many slots there are for them, is the caller's to say. Knows no layer and no dot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.line.costs import scan_of, sprite_costs
from ...chip.model import SpritesTable
from ..frame import DROPS
from ..plan import Plan
from ..timeline import Timeline

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class Asked:
    """The lines whose sprites are wanted, and when they are prepared; arrays of one item a line.

    ``lines`` on which they show; ``at`` the timeline's rows whose controls and table hold for them; ``slot_lines`` in whose
    slots they ask. ``rooms`` gives for each shape of a line, which ``shape`` names, the slots that the sprites can have
    there, in order; None: as many as they like.
    """

    lines: Ints
    at: Ints
    slot_lines: Ints
    rooms: Sequence[tuple[int, ...]] | None = None
    shape: Ints | None = None


@dataclass(eq=False, repr=False)
class LineSprites:
    """Sprites drawn on lines, one item for each of them and line, from the back to the front.

    ``line`` counts from the timeline's first; ``sprite`` is the table number; ``record`` the packed record and ``fields``
    what it holds; ``row`` the line of the sprite; ``place`` where the row's bytes stand in the store.
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

    ``line`` (an index into the lines asked for), ``sprite``; ``start``: accesses of its line before its own; ``cost``: of its
    pattern's row, which begins at ``address``.
    """

    line: Ints
    sprite: Ints
    start: Ints
    cost: Ints
    address: Ints


@dataclass(eq=False, repr=False)
class Prepared:
    """Some lines' sprites: ``found`` and ``drawn`` int64 (lines,), the drops, what is kept.

    ``of_table`` and ``pattern`` int64 (lines,): accesses made; ``asks`` what they were for.
    """

    lines: Ints
    found: Ints
    drawn: Ints
    drops: npt.NDArray[Any]
    kept: LineSprites
    of_table: Ints
    pattern: Ints
    asks: Asks


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
    walk = _walk(plan, sprites, asked, found.line, found.size, enabled)
    address = _row_addresses(plan, sprites, timeline.control("sprites.patterns")[asked.at], found)
    place = timeline.memory.translate(_read_at(timeline, asked, found, walk), address)

    stay = np.flatnonzero(~walk.dropped)
    if sprites.dropped == "back":  # then the walk goes from the front to the back
        stay = stay[::-1]
    many = np.bincount(found.line, minlength=len(asked.lines))
    return Prepared(
        lines=asked.lines,
        found=many,
        drawn=many - np.bincount(found.line[walk.dropped], minlength=len(asked.lines)),
        drops=_drops(asked, found, walk),
        kept=LineSprites(
            line=found.line[stay] + (asked.lines[:1] - timeline.first),
            sprite=found.sprite[stay],
            row=found.row[stay],
            record=found.record[stay],
            place=place[stay],
            fields={name: values[stay] for name, values in found.fields.items()},
        ),
        of_table=walk.of_table,
        pattern=walk.made - walk.of_table,
        asks=Asks(*(values[walk.asking] for values in (found.line, found.sprite, walk.start, walk.cost, address))),
    )


def _find(
    plan: Plan, sprites: SpritesTable, timeline: Timeline, asked: Asked, enabled: npt.NDArray[np.bool_]
) -> _Found:
    """Who lies on the lines, in the order in which the walk goes over them."""
    words, version = _records(plan, sprites, timeline, asked)
    on, row = _on_lines(sprites, asked.lines, words, version)
    on &= enabled[:, None]
    upward = (sprites.front == "first") == (sprites.dropped == "back")
    line, sprite = np.divmod(np.flatnonzero(on if upward else on[:, ::-1]), sprites.count)
    sprite = sprite if upward else sprites.count - 1 - sprite
    record = words.reshape(-1)[sprite] if version is None else words[version[line], sprite]
    fields = {name: bits.get(record) for name, bits in sprites.fields.layout.items()}
    size = fields.get("size", np.zeros(len(line), np.int64))
    return _Found(line, sprite, record, row[line, sprite], fields, size)


def _drops(asked: Asked, found: _Found, walk: _SpriteWalk) -> npt.NDArray[Any]:
    """Who is dropped and why, as DROPS."""
    drops = np.empty(int(walk.dropped.sum()), DROPS)
    drops["line"] = asked.lines[found.line[walk.dropped]]
    drops["sprite"] = found.sprite[walk.dropped]
    drops["reason"] = walk.reason[walk.dropped]
    return drops


def _read_at(timeline: Timeline, asked: Asked, found: _Found, walk: _SpriteWalk) -> Ints:
    """The instants at which the sprites' rows are read: where memory changes meanwhile, that of their first slot."""
    instants: Ints = (asked.slot_lines * timeline.per_line).take(found.line)
    if asked.rooms is None or timeline.memory.hot is None:
        return instants
    return instants + np.maximum(SpriteSlots(asked).of(found.line, walk.start + walk.rest), 0)


class SpriteSlots:
    """In which slots of their lines the sprites' accesses are made."""

    def __init__(self, asked: Asked) -> None:
        assert asked.rooms is not None
        assert asked.shape is not None
        self._shape = asked.shape
        self._most = max((len(room) for room in asked.rooms), default=0)
        self._slots = np.full((len(asked.rooms), self._most + 1), -1, np.int64)
        for slots, room in zip(self._slots, asked.rooms, strict=True):
            slots[: len(room)] = room

    def of(self, line: Ints, number: Ints) -> Ints:
        """The slot of access ``number`` of each ``line``, an index into the lines asked for; -1 where there is none."""
        return self._slots[self._shape[line], np.minimum(number, self._most)]


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
    if sprites.wrap_y:
        rel = rel & layout["y"].top
    on = (rel >= 0) & (rel < of_lines(tall))
    if "enable" in table:
        on &= of_lines(table["enable"]) == 1
    return on, rel


@dataclass(eq=False, repr=False)
class _SpriteWalk:
    """The walk over the sprites of each line, one item a sprite: who is dropped and why, who asks for accesses.

    ``start``: accesses of its line before its own, of which the first ``rest`` are its record's and ``cost`` its pattern's.
    By line: accesses ``made``, and those among them of the table.
    """

    dropped: npt.NDArray[np.bool_]
    reason: npt.NDArray[Any]
    asking: npt.NDArray[np.bool_]
    start: Ints
    rest: int
    cost: Ints
    made: Ints
    of_table: Ints


def _walk(
    plan: Plan, sprites: SpritesTable, asked: Asked, line: Ints, size: Ints, enabled: npt.NDArray[np.bool_]
) -> _SpriteWalk:
    """Walk over the sprites found on each line; ``line`` and ``size`` of each, in the order of the walk."""
    lines = len(asked.lines)
    found = np.bincount(line, minlength=lines)
    begin = np.cumsum(found) - found

    def before(values: Ints) -> Ints:
        """What the ``values`` of all that stand before each in its line's walk come to."""
        total: Ints = np.cumsum(values)
        others: Ints = total - values - np.concatenate([[0], total])[begin][line]
        return others

    def by_line(values: Ints) -> Ints:
        return np.bincount(line, weights=values, minlength=lines).astype(np.int64)

    none: npt.NDArray[np.bool_] = np.zeros(len(line), np.bool_)
    over_count = over_dots = over_slots = none
    if sprites.per_line is not None:
        over_count = np.arange(len(line)) - begin[line] >= sprites.per_line
    if sprites.dots_per_line is not None:
        widths = np.array([width for width, _ in sprites.sizes])[size]
        over_dots = before(widths) + widths > sprites.dots_per_line
    asking = ~(over_count | over_dots)
    _, scan, rest = scan_of(plan.chip)
    cost = np.array(sprite_costs(plan.chip))[size] - rest
    own = (cost + rest) * asking
    start = before(own) + scan
    made = enabled * scan + by_line(own)
    if asked.rooms is not None:
        room = np.array([len(slots) for slots in asked.rooms], np.int64)[asked.shape]
        made = np.minimum(made, room)
        over_slots = asking & (start + own > room[line])
    of_table = np.minimum(made, enabled * scan)
    if rest:
        of_table = of_table + by_line(np.clip(made[line] - start, 0, rest) * asking)
    reason = np.where(over_count, "count", np.where(over_dots, "dots", "slots"))
    return _SpriteWalk(~asking | over_slots, reason, asking, start, rest, cost, made, of_table)


def _row_addresses(plan: Plan, sprites: SpritesTable, patterns: Ints, found: _Found) -> Ints:
    """Where the row of each sprite begins, modulo the memory's size; ``patterns``: the patterns' base of each line."""
    heights = np.array([height for _, height in sprites.sizes])[found.size]
    row_bytes = np.array([sprites.row_bytes(each) for each in range(len(sprites.sizes))])[found.size]
    row = found.row
    if "flip_y" in found.fields:
        row = np.where(found.fields["flip_y"] == 1, heights - 1 - row, row)
    address: Ints = patterns.take(found.line) + found.fields["pattern"] * sprites.step_bytes + row * row_bytes
    return address % plan.chip.memory.size


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
    padded[..., :size] = raw if plan.chip.memory.byte_order == "little" else raw[..., ::-1]
    return padded.view("<i8")[..., 0].astype(np.int64), version
