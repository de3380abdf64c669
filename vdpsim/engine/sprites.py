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

from ..chip.model import SpritesTable
from .frame import DROPS
from .plan import Plan
from .timeline import Timeline

Ints = npt.NDArray[np.int64]


@dataclass(eq=False, repr=False)
class Asked:
    """The lines whose sprites are wanted, and when they are prepared; arrays of one item a line.

    ``lines`` on which they show; ``at`` the timeline's rows whose controls and table hold for them; ``slot_lines`` in whose slots they
    ask. ``rooms`` gives for each shape of a line, which ``shape`` names, the slots that the sprites can have there, in order; None: as many
    as they like.
    """

    lines: Ints
    at: Ints
    slot_lines: Ints
    rooms: Sequence[tuple[int, ...]] | None = None
    shape: Ints | None = None


@dataclass(eq=False, repr=False)
class Kept:
    """Sprites drawn on lines, one item for each of them and line, from the back to the front.

    ``line`` counts from the timeline's first; ``sprite`` is the table number; ``record`` the packed record and ``fields`` what it holds;
    ``row`` the line of the sprite; ``place`` where the row's bytes stand in the store.
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

    ``line`` (an index into the lines asked for), ``sprite``; ``start``: accesses of its line before its own; ``cost``: of its pattern's row, which begins
    at ``address``.
    """

    line: Ints
    sprite: Ints
    start: Ints
    cost: Ints
    address: Ints


@dataclass(eq=False, repr=False)
class Prepared:
    """Some lines' sprites: ``found`` and ``drawn`` int64 (lines,), the drops, what is kept.

    ``attribute`` and ``pattern`` int64 (lines,): accesses made; ``asks`` what they were for.
    """

    lines: Ints
    found: Ints
    drawn: Ints
    drops: npt.NDArray[Any]
    kept: Kept
    attribute: Ints
    pattern: Ints
    asks: Asks


def prepare(plan: Plan, timeline: Timeline, asked: Asked) -> Prepared:
    """Work out the sprites of the lines that are asked for: who is there, who is dropped, what is fetched."""
    sprites = plan.chip.sprites
    assert sprites is not None
    lines = asked.lines
    enabled = timeline.control("sprites.enable")[asked.at] == 1
    words, version = _records(plan, sprites, timeline, asked)
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

    if not on.any():
        return _nobody(plan, sprites, asked, enabled)
    upward = (sprites.front == "first") == (sprites.dropped == "back")
    line, sprite = np.divmod(np.flatnonzero(on if upward else on[:, ::-1]), sprites.count)
    sprite = sprite if upward else sprites.count - 1 - sprite
    found = np.bincount(line, minlength=len(lines))
    begin = np.cumsum(found) - found
    record = words[0 if version is None else version[line], sprite]
    size = layout["size"].get(record) if "size" in layout else np.zeros(len(line), np.int64)

    def before(values: Ints) -> Ints:
        """What the ``values`` of all that stand before each in its line's walk come to."""
        total: Ints = np.cumsum(values)
        others: Ints = total - values - np.concatenate([[0], total])[begin][line]
        return others

    over_count: npt.NDArray[np.bool_] = np.zeros(len(line), np.bool_)
    over_dots: npt.NDArray[np.bool_] = over_count
    if sprites.per_line is not None:
        over_count = np.arange(len(line)) - begin[line] >= sprites.per_line
    if sprites.dots_per_line is not None:
        over_dots = before(widths[size]) + widths[size] > sprites.dots_per_line
    asking = ~(over_count | over_dots)
    scan, rest = scan_accesses(plan, sprites) if sprites.table == "memory" else (0, 0)
    cost = np.array([plan.accesses(sprites.row_bytes(each)) for each in range(len(sprites.sizes))])[size]
    start = before((cost + rest) * asking) + scan
    wanted = enabled * scan + np.bincount(line, weights=(cost + rest) * asking, minlength=len(lines)).astype(np.int64)
    made = wanted
    over_slots: npt.NDArray[np.bool_] = np.zeros(len(line), np.bool_)
    if asked.rooms is not None:
        room = np.array([len(slots) for slots in asked.rooms], np.int64)[asked.shape]
        made = np.minimum(wanted, room)
        over_slots = asking & (start + rest + cost > room[line])
    dropped = ~asking | over_slots
    drops = np.empty(int(dropped.sum()), DROPS)
    drops["line"], drops["sprite"] = lines[line[dropped]], sprite[dropped]
    drops["reason"] = np.where(over_count, "count", np.where(over_dots, "dots", "slots"))[dropped]

    attribute = np.minimum(made, enabled * scan)
    if rest:
        got = np.clip(made[line] - start, 0, rest) * asking
        attribute = attribute + np.bincount(line, weights=got, minlength=len(lines)).astype(np.int64)
    rel = rel[line, sprite]
    fields = {name: bits.get(record) for name, bits in layout.items()}
    address = _row_addresses(
        plan, sprites, timeline.control("sprites.patterns")[asked.at].take(line), fields, size, rel
    )
    begins = asked.slot_lines * timeline.per_line
    instants = begins.take(line)
    if asked.rooms is not None and timeline.memory.hot is not None:
        instants = instants + _first_slots(asked, line, start + rest)
    place = timeline.memory.translate(instants, address)

    keep = np.flatnonzero(~dropped) if len(drops) else np.arange(len(line))
    if sprites.dropped == "back":
        keep = keep[::-1]
    kept = Kept(
        line[keep] + (lines[0] - timeline.first if len(lines) else 0),
        sprite[keep],
        rel[keep],
        record[keep],
        place[keep],
        {name: values[keep] for name, values in fields.items()},
    )
    drawn = found - np.bincount(line, weights=dropped, minlength=len(lines)).astype(np.int64)
    asks = Asks(*(values[asking] for values in (line, sprite, start, cost, address)))
    return Prepared(lines, found, drawn, drops, kept, attribute, made - attribute, asks)


def _nobody(plan: Plan, sprites: SpritesTable, asked: Asked, enabled: npt.NDArray[np.bool_]) -> Prepared:
    """What comes of lines on which no sprite lies: a table in memory is looked through all the same."""
    zero, none = np.zeros(len(asked.lines), np.int64), np.empty(0, np.int64)
    scan = scan_accesses(plan, sprites)[0] if sprites.table == "memory" else 0
    scanned = enabled * scan
    if asked.rooms is not None:
        scanned = np.minimum(scanned, np.array([len(slots) for slots in asked.rooms], np.int64)[asked.shape])
    kept = Kept(none, none, none, none, none, dict.fromkeys(sprites.fields.layout, none))
    asks = Asks(none, none, none, none, none)
    return Prepared(asked.lines, zero, zero, np.empty(0, DROPS), kept, scanned, zero, asks)


def _first_slots(asked: Asked, line: Ints, number: Ints) -> Ints:
    """The slot of access ``number`` of each line's sprites; 0 where there is none."""
    assert asked.rooms is not None
    assert asked.shape is not None
    longest = max((len(room) for room in asked.rooms), default=0) + 1
    table = np.zeros((len(asked.rooms), longest), np.int64)
    for shape, room in enumerate(asked.rooms):
        table[shape, : len(room)] = room
    return table[asked.shape[line], np.minimum(number, longest - 1)]


def _row_addresses(
    plan: Plan, sprites: SpritesTable, base: Ints, fields: dict[str, Ints], size: Ints, row: Ints
) -> Ints:
    """Where the row of each sprite begins, modulo the memory's size."""
    heights = np.array([height for _, height in sprites.sizes])[size]
    row_bytes = np.array([sprites.row_bytes(each) for each in range(len(sprites.sizes))])[size]
    if "flip_y" in fields:
        row = np.where(fields["flip_y"] == 1, heights - 1 - row, row)
    address: Ints = (base + fields["pattern"] * sprites.step_bytes + row * row_bytes) % plan.chip.memory.size
    return address


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


def scan_words(plan: Plan, sprites: SpritesTable) -> list[int]:
    """Which accesses of a record in memory every line reads to find its sprites: those that hold a bit of y, size or enable."""
    deciding = [bits for name, bits in sprites.fields.layout.items() if name in ("y", "size", "enable")]
    words = set()
    for bits in deciding:
        for bit in range(bits.highest + 1):
            if bits.mask >> bit & 1:
                byte = bit // 8
                byte = byte if plan.chip.memory.byte_order == "little" else sprites.record_bytes - 1 - byte
                words.add(byte // plan.access)
    return sorted(words)


def scan_accesses(plan: Plan, sprites: SpritesTable) -> tuple[int, int]:
    """Accesses that a scan of the whole table in memory takes, and those that are left of a record for a sprite that is drawn."""
    scanned = len(scan_words(plan, sprites))
    return scanned * sprites.count, sprites.record_bytes // plan.access - scanned
