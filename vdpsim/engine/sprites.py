"""Sprites: who lies on a line, who is dropped, which dots they have, who collides.

Law: the sprites of a line are prepared from the controls and the table as they stand at its dot 0. All sprites of all lines
are worked out together; the dots of sprites are few, so they are kept as a list of dots and not as planes. Dots stand in the
list from the back to the front, so that where two fall on one place the later one is in front. Knows no layer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.model import SpritesTable
from .frame import COLLISIONS, DROPS
from .plan import NO_RUNG, Plan
from .timeline import Timeline

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class Kept:
    """Sprites drawn on lines, one item for each of them and line, from the back to the front.

    ``line`` counts from the timeline's first; ``sprite`` is the table number; ``fields`` the record's fields, ``row`` the
    line of the sprite.
    """

    line: Ints
    sprite: Ints
    row: Ints
    fields: dict[str, Ints]


@dataclass(eq=False, repr=False)
class SpriteDots:
    """Opaque dots inside the picture, from the back to the front: place = line x width + dot, entry, item of ``Kept``.

    ``front`` bool, no other dot stands before it; ``ahead`` the number of the dot that stands front-most at its place.
    """

    place: Ints
    entry: npt.NDArray[Any]
    item: Ints
    front: npt.NDArray[np.bool_]
    ahead: npt.NDArray[np.int32]


@dataclass(eq=False, repr=False)
class Prepared:
    """The lines' sprites: ``found`` and ``drawn`` int64 (lines,), the drops, what is kept, its dots."""

    found: Ints
    drawn: Ints
    drops: npt.NDArray[Any]
    kept: Kept
    dots: SpriteDots


def prepare(plan: Plan, timeline: Timeline, counts: Ints) -> Prepared:
    """Work out the sprites of every line; adds their fetches to ``counts`` (clients, lines)."""
    sprites = plan.chip.sprites
    assert sprites is not None
    first_rows = timeline.row_of_line
    lines = timeline.line[first_rows]
    enabled = timeline.control("sprites.enable")[first_rows] == 1
    words, version = _records(plan, sprites, timeline, lines)
    layout = sprites.fields.layout
    table = {name: layout[name].get(words) for name in ("y", "size", "enable") if name in layout}
    heights = np.array([height for _, height in sprites.sizes])
    widths = np.array([width for width, _ in sprites.sizes])
    tall = heights[table["size"]] if "size" in table else heights[0]

    def of_lines(values: Any) -> Any:
        return values[version] if version is not None and np.ndim(values) else values

    rel = lines[:, None] - of_lines(table["y"])
    if sprites.wrap_y:
        rel = rel & layout["y"].top
    on = (rel >= 0) & (rel < of_lines(tall)) & enabled[:, None]
    if "enable" in table:
        on &= of_lines(table["enable"]) == 1

    upward = (sprites.front == "first") == (sprites.dropped == "back")
    line, sprite = np.divmod(np.flatnonzero(on if upward else on[:, ::-1]), sprites.count)
    sprite = sprite if upward else sprites.count - 1 - sprite
    found = np.bincount(line, minlength=len(lines))
    begin = np.cumsum(found) - found
    record = words[0 if version is None else version[line], sprite]
    size = layout["size"].get(record) if "size" in layout else np.zeros(len(line), np.int64)

    over_count: npt.NDArray[np.bool_] = np.zeros(len(line), np.bool_)
    over_dots: npt.NDArray[np.bool_] = over_count
    if sprites.per_line is not None:
        over_count = np.arange(len(line)) - begin[line] >= sprites.per_line
    if sprites.dots_per_line is not None:
        total = np.cumsum(widths[size])
        before = np.concatenate([[0], total])[begin]
        over_dots = total - before[line] > sprites.dots_per_line
    dropped = over_count | over_dots
    drops = np.empty(int(dropped.sum()), DROPS)
    drops["line"], drops["sprite"] = lines[line[dropped]], sprite[dropped]
    drops["reason"] = np.where(over_count[dropped], "count", "dots")

    keep = np.flatnonzero(~dropped) if len(drops) else np.arange(len(line))
    if sprites.dropped == "back":
        keep = keep[::-1]
    record, line, sprite = record[keep], line[keep], sprite[keep]
    fields = {name: bits.get(record) for name, bits in layout.items()}
    kept = Kept(line, sprite, rel[line, sprite], fields)
    drawn = np.bincount(kept.line, minlength=len(lines))
    _count(plan, sprites, kept, drawn, enabled, counts)
    return Prepared(found, drawn, drops, kept, _dots(plan, sprites, timeline, lines, kept))


def _records(plan: Plan, sprites: SpritesTable, timeline: Timeline, lines: Ints) -> tuple[Ints, Ints | None]:
    """The records as int64 (versions, count), and the version of each line; None where there is just one.

    A record of eight bytes may set bit 63; shifts and masks of ``Bits`` read it right from a negative number too.
    """
    if sprites.table == "chip":
        raw, version = timeline.tables, timeline.table_of_line
    else:
        at = timeline.control("sprites.table")[timeline.row_of_line]
        alike = timeline.memory.hot is None and bool((at == at[:1]).all())
        at, asked = (at[:1], lines[:1]) if alike else (at, lines)
        addresses = at[:, None] + np.arange(sprites.count * sprites.record_bytes)
        raw = plan.store.bytes()[timeline.memory.translate(asked[:, None], addresses)]
        raw = raw.reshape(len(at), sprites.count, sprites.record_bytes)
        version = None if alike else np.arange(len(lines))
    size = sprites.record_bytes
    padded = np.zeros((*raw.shape[:2], 8), np.uint8)
    if plan.chip.memory.byte_order == "little":
        padded[..., :size] = raw
    else:
        padded[..., :size] = raw[..., ::-1]
    return padded.view("<i8")[..., 0].astype(np.int64), version


def scan_accesses(plan: Plan, sprites: SpritesTable) -> tuple[int, int]:
    """Accesses of a record in memory that every line reads to find its sprites, and those left for a sprite that is drawn."""
    deciding = [bits for name, bits in sprites.fields.layout.items() if name in ("y", "size", "enable")]
    words = set()
    for bits in deciding:
        for bit in range(bits.highest + 1):
            if bits.mask >> bit & 1:
                byte = bit // 8
                byte = byte if plan.chip.memory.byte_order == "little" else sprites.record_bytes - 1 - byte
                words.add(byte // plan.access)
    return len(words), sprites.record_bytes // plan.access - len(words)


def _count(
    plan: Plan,
    sprites: SpritesTable,
    kept: Kept,
    drawn: Ints,
    enabled: npt.NDArray[np.bool_],
    counts: Ints,
) -> None:
    if sprites.table == "memory":
        scanned, rest = scan_accesses(plan, sprites)
        counts[plan.column["sprites.attribute"]] += enabled * (sprites.count * scanned) + drawn * rest
    cost = np.array([plan.accesses(sprites.row_bytes(size)) for size in range(len(sprites.sizes))])
    if len(cost) == 1:
        counts[plan.column["sprites.pattern"]] += drawn * cost[0]
    else:
        fetched = np.bincount(kept.line, weights=cost[kept.fields["size"]], minlength=len(drawn))
        counts[plan.column["sprites.pattern"]] += fetched.astype(np.int64)


def _dots(plan: Plan, sprites: SpritesTable, timeline: Timeline, lines: Ints, kept: Kept) -> SpriteDots:
    """The opaque dots of everything kept, a size at a time and then put back into the order from back to front."""
    if len(sprites.sizes) == 1:
        place, entry, item = _dots_of(plan, sprites, timeline, lines, kept, 0)
    else:
        parts = []
        for size in range(len(sprites.sizes)):
            items = np.flatnonzero(kept.fields["size"] == size)
            fields = {name: values.take(items) for name, values in kept.fields.items()}
            some = Kept(kept.line.take(items), kept.sprite.take(items), kept.row.take(items), fields)
            place, entry, item = _dots_of(plan, sprites, timeline, lines, some, size)
            parts.append((place, entry, items.take(item)))
        place, entry, item = (np.concatenate(columns) for columns in zip(*parts, strict=True))
        order = np.argsort(item, kind="stable")
        place, entry, item = place.take(order), entry.take(order), item.take(order)
    return SpriteDots(place, entry, item, *front_most(plan, place, len(lines) * plan.width))


def _dots_of(
    plan: Plan, sprites: SpritesTable, timeline: Timeline, lines: Ints, kept: Kept, size: int
) -> tuple[Ints, npt.NDArray[Any], Ints]:
    """The opaque dots of ``kept``, all of one size: place, entry, item of ``kept``."""
    field, row = kept.fields, kept.row
    width, height = sprites.sizes[size]
    row_bytes = sprites.row_bytes(size)
    if "flip_y" in field:
        row = np.where(field["flip_y"] == 1, height - 1 - row, row)
    base = timeline.control("sprites.patterns")[timeline.row_of_line].take(kept.line)
    addresses = base + field["pattern"] * sprites.step_bytes + row * row_bytes
    places = timeline.memory.translate(lines.take(kept.line), addresses)
    dots = plan.store.dots(sprites.bits_per_dot, sprites.first_dot).reshape(-1, width)
    values = dots.take(places // row_bytes, axis=0)
    if "flip_x" in field:
        flipped = np.flatnonzero(field["flip_x"])
        values[flipped] = values[flipped, ::-1]
    x = field["x"] - field["x_bias"] * sprites.x_bias if "x_bias" in field else field["x"]
    at = x[:, None] + np.arange(width)
    if sprites.wrap_x:
        at &= sprites.fields.x.top
    shown = np.ones(values.shape, np.bool_) if sprites.transparent is None else values != sprites.transparent
    if sprites.wrap_x or x.min(initial=0) < 0 or x.max(initial=0) > plan.width - width:
        shown &= (at >= 0) & (at < plan.width)
    at += (kept.line * plan.width)[:, None]
    base_entry, bank_step, value_step = plan.chip.entry_rule(sprites.entries)
    dtype = np.dtype(plan.entry_dtype)
    entry: npt.NDArray[Any] = values.astype(dtype, copy=False)
    if value_step != 1:
        entry = entry * dtype.type(value_step)
    if "bank" in field:
        entry = entry + (base_entry + field["bank"] * bank_step).astype(dtype)[:, None]
    else:
        entry = entry + dtype.type(base_entry)
    found = np.flatnonzero(shown)
    return at.reshape(-1).take(found), entry.reshape(-1).take(found), found >> width.bit_length() - 1


def front_most(plan: Plan, place: Ints, size: int) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int32]]:
    """Which dots of a list, ordered from back to front, have no dot in front of them, and who stands in front at their place.

    Places are below ``size``; the second array numbers dots of the list.
    """
    numbers = np.arange(len(place), dtype=np.int32)
    last = plan.scratch(size)
    last[place] = numbers
    ahead = last.take(place)
    return ahead == numbers, ahead


def rung_of(plan: Plan, kept: Kept) -> npt.NDArray[np.uint8]:
    """uint8 (ladders, items): the first rung of each ladder that takes the sprite; ``NO_RUNG`` where none does."""
    source = len(plan.chip.source_names) - 1
    rungs = np.full((len(plan.ladders), len(kept.line)), NO_RUNG, np.uint8)
    for number, ladder in enumerate(plan.ladders):
        for step in reversed(ladder):
            if step.source != source:
                continue
            if step.when is None:
                rungs[number] = step.number
            else:
                rungs[number, step.when.holds(kept.fields[step.when.field])] = step.number
    return rungs


def collide(
    plan: Plan, timeline: Timeline, kept: Kept, dots: SpriteDots, hidden: npt.NDArray[np.bool_] | None
) -> tuple[npt.NDArray[Any], int]:
    """Collisions by line and pair, and the flags of the groups that took part.

    ``hidden`` marks dots of the list that a layer covers; None where they count all the same. Of the dots that a pair shares
    on a line the leftmost is told.
    """
    assert plan.chip.sprites is not None
    pairs = plan.colliding
    group = kept.fields.get("group", np.zeros(len(kept.line), np.int64))
    size = timeline.lines * plan.width
    place, item, front, ahead = dots.place, dots.item, dots.front, dots.ahead
    if hidden is not None:
        place, item = place[~hidden], item[~hidden]
        front, ahead = front_most(plan, place, size)
    found = []
    while len(behind := np.flatnonzero(~front)):
        # at every place the front-most meets all that is behind it, and is then taken away
        other = item.take(ahead.take(behind))
        place, item = place.take(behind), item.take(behind)
        both = np.flatnonzero(pairs[group.take(item), group.take(other)])
        found.append((place.take(both), item.take(both), other.take(both)))
        front, ahead = front_most(plan, place, size)
    if not found:
        return np.empty(0, COLLISIONS), 0
    where, one, other = (np.concatenate(part) for part in zip(*found, strict=True))
    flags = int(np.bitwise_or.reduce(1 << np.concatenate([group[one], group[other]]), initial=0))
    a, b = kept.sprite[one], kept.sprite[other]
    line, dot = where // plan.width, where % plan.width
    count = plan.chip.sprites.count
    key = np.sort(((line * count + np.minimum(a, b)) * count + np.maximum(a, b)) * plan.width + dot)
    fresh = np.ones(len(key), np.bool_)
    fresh[1:] = key[1:] // plan.width != key[:-1] // plan.width
    key = key[fresh]
    out = np.empty(len(key), COLLISIONS)
    for name, modulus in (("dot", plan.width), ("second", count), ("first", count)):
        out[name] = key % modulus
        key = key // modulus
    out["line"] = key + timeline.first
    return out, flags
