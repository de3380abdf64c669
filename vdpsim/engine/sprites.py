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
from .layers.common import accesses
from .plan import NO_RUNG, Plan
from .timeline import Timeline

Ints = npt.NDArray[np.int64]


@dataclass
class Kept:
    """Sprites drawn on lines, one item for each of them and line, from the back to the front.

    ``line`` counts from the timeline's first; ``sprite`` is the table number; ``fields`` the record's fields, ``row`` the
    line of the sprite.
    """

    line: Ints
    sprite: Ints
    row: Ints
    fields: dict[str, Ints]


@dataclass
class SpriteDots:
    """Opaque dots inside the picture, from the back to the front: place = line x width + dot, entry, item of ``Kept``."""

    place: Ints
    entry: npt.NDArray[Any]
    item: Ints


@dataclass
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
    line, sprite = np.nonzero(on if upward else on[:, ::-1])
    sprite = sprite if upward else sprites.count - 1 - sprite
    found = np.bincount(line, minlength=len(lines))
    begin = np.cumsum(found) - found
    record = words[0 if version is None else version[line], sprite]
    fields = {name: bits.get(record) for name, bits in layout.items()}
    wide = widths[fields["size"]] if "size" in fields else np.full(len(line), widths[0])

    over_count = over_dots = np.zeros(len(line), np.bool_)
    if sprites.per_line is not None:
        over_count = np.arange(len(line)) - begin[line] >= sprites.per_line
    if sprites.dots_per_line is not None:
        total = np.cumsum(wide)
        before = np.concatenate([[0], total])[begin]
        over_dots = total - before[line] > sprites.dots_per_line
    dropped = over_count | over_dots
    drops = np.empty(int(dropped.sum()), DROPS)
    drops["line"], drops["sprite"] = lines[line[dropped]], sprite[dropped]
    drops["reason"] = np.where(over_count[dropped], "count", "dots")

    keep = np.flatnonzero(~dropped) if len(drops) else np.arange(len(line))
    if sprites.dropped == "back":
        keep = keep[::-1]
    kept = Kept(line[keep], sprite[keep], rel[line[keep], sprite[keep]], {n: v[keep] for n, v in fields.items()})
    drawn = np.bincount(kept.line, minlength=len(lines))
    _count(plan, sprites, timeline, kept, drawn, enabled, counts)
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


def scan_bytes(plan: Plan, sprites: SpritesTable) -> tuple[int, int]:
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
    plan: Plan, sprites: SpritesTable, timeline: Timeline, kept: Kept, drawn: Ints, enabled: npt.NDArray[np.bool_], counts: Ints
) -> None:
    if sprites.table == "memory":
        scanned, rest = scan_bytes(plan, sprites)
        counts[plan.column["sprites.attribute"]] += enabled * (sprites.count * scanned) + drawn * rest
    cost = np.array([accesses(plan, sprites.row_bytes(size)) for size in range(len(sprites.sizes))])
    if len(cost) == 1:
        counts[plan.column["sprites.pattern"]] += drawn * cost[0]
    else:
        fetched = np.bincount(kept.line, weights=cost[kept.fields["size"]], minlength=len(drawn))
        counts[plan.column["sprites.pattern"]] += fetched.astype(np.int64)


def _dots(plan: Plan, sprites: SpritesTable, timeline: Timeline, lines: Ints, kept: Kept) -> SpriteDots:
    """The opaque dots of everything kept, a size at a time and then put back into the order from back to front."""
    parts = []
    sizes = kept.fields.get("size")
    for size in range(len(sprites.sizes)):
        items = np.arange(len(kept.line)) if sizes is None else np.flatnonzero(sizes == size)
        if len(items):
            parts.append(_dots_of(plan, sprites, timeline, lines, kept, items, size))
    if not parts:
        return SpriteDots(np.empty(0, np.int64), np.empty(0, np.dtype(plan.entry_dtype)), np.empty(0, np.int64))
    if len(parts) == 1:
        return SpriteDots(*parts[0])
    place, entry, item = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    order = np.argsort(item, kind="stable")
    return SpriteDots(place[order], entry[order], item[order])


def _dots_of(
    plan: Plan, sprites: SpritesTable, timeline: Timeline, lines: Ints, kept: Kept, items: Ints, size: int
) -> tuple[Ints, npt.NDArray[Any], Ints]:
    def field(name: str) -> Any:
        return kept.fields[name][items] if name in kept.fields else 0

    width, height = sprites.sizes[size]
    row_bytes = sprites.row_bytes(size)
    row, line = kept.row[items], kept.line[items]
    row = np.where(field("flip_y") == 1, height - 1 - row, row) if "flip_y" in kept.fields else row
    base = timeline.control("sprites.patterns")[timeline.row_of_line][line]
    addresses = base + field("pattern") * sprites.step_bytes + row * row_bytes
    places = timeline.memory.translate(lines[line], addresses)
    dots = plan.store.dots(sprites.bits_per_dot, sprites.first_dot).reshape(-1, width)
    values = dots.take(places // row_bytes, axis=0)
    if "flip_x" in kept.fields:
        flipped = np.flatnonzero(field("flip_x"))
        values[flipped] = values[flipped, ::-1]
    x = field("x") - field("x_bias") * sprites.x_bias
    at = x[:, None] + np.arange(width)
    if sprites.wrap_x:
        at &= sprites.fields.x.top
    shown = (at >= 0) & (at < plan.width)
    if sprites.transparent is not None:
        shown &= values != sprites.transparent
    place = (at + line[:, None] * plan.width)[shown]
    counted = shown.sum(axis=1)
    base_entry, bank_step, value_step = plan.chip.entry_rule(sprites.entries)
    offset = base_entry + field("bank") * bank_step + np.zeros(len(items), np.int64)
    dtype = np.dtype(plan.entry_dtype)
    entry = values[shown].astype(dtype) * dtype.type(value_step) + np.repeat(offset.astype(dtype), counted)
    return place, entry, np.repeat(items, counted)


def front_most(place: Ints, size: int) -> Ints:
    """Which dots of a list, ordered from back to front, have no dot of the list in front of them."""
    numbers = np.arange(len(place), dtype=np.int32)
    last = np.empty(size, np.int32)
    last[place] = numbers
    return np.flatnonzero(last[place] == numbers)


def rung_of(plan: Plan, kept: Kept) -> Ints:
    """int64 (ladders, items): the first rung of each ladder that takes the sprite; ``NO_RUNG`` where none does."""
    source = len(plan.chip.source_names) - 1
    rungs = np.full((len(plan.ladders), len(kept.line)), NO_RUNG, np.int64)
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
    pairs = plan.colliding
    group = kept.fields.get("group", np.zeros(len(kept.line), np.int64))
    matters = pairs.any(axis=1)[group[dots.item]]
    if hidden is not None:
        matters &= ~hidden
    place, item = dots.place[matters], dots.item[matters]
    height = timeline.lines
    shared = np.bincount(place, minlength=height * plan.width)[place] > 1
    place, item = place[shared], item[shared]
    order = np.argsort(place, kind="stable")
    place, item = place[order], item[order]
    found = []
    for gap in range(1, len(place)):
        same = np.flatnonzero(place[gap:] == place[:-gap])
        if not len(same):
            break
        one, other = item[same], item[same + gap]
        both = pairs[group[one], group[other]]
        found.append(np.stack([place[same][both], one[both], other[both]]))
    if not found:
        return np.empty(0, COLLISIONS), 0
    where, one, other = np.concatenate(found, axis=1)
    flags = int(np.bitwise_or.reduce(1 << np.concatenate([group[one], group[other]]), initial=0))
    a, b = kept.sprite[one], kept.sprite[other]
    line, dot = where // plan.width, where % plan.width
    table = np.stack([line, np.minimum(a, b), np.maximum(a, b), dot])
    table = table[:, np.lexsort(table[::-1])]
    fresh = np.ones(table.shape[1], np.bool_)
    fresh[1:] = (table[:3, 1:] != table[:3, :-1]).any(axis=0)
    out = np.empty(int(fresh.sum()), COLLISIONS)
    for name, column in zip(("line", "first", "second", "dot"), table[:, fresh], strict=True):
        out[name] = column
    out["line"] += timeline.first
    return out, flags
