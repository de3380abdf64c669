"""What a chip's file says without a mistake, and what yet can never come about: warnings to its designer.

Law: a warning is given only where it holds whatever registers are set to and whatever memory holds, or at reset, and says so;
who is not sure says nothing. Each has its place in the file and a sentence. Knows the chip and its slots, and no scene.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from operator import itemgetter

from ..door.given import instance
from ..files.problems import hexadecimal
from .controls import address_names
from .line.clients import buffered, mode_costs, scan_of, sprite_costs
from .line.rates import line_slots
from .line.slots import Server
from .model import AnyMode, BitmapMode, Chip, ClientTime, Layer, Mode, Rung
from .register_checks import place_of
from .registers import at_sizes, field_names, rest_values
from .tables.bits import Bits
from .tables.modes import SurfaceMode
from .tables.pattern import SpritePattern

Place = tuple[str | int, ...]
Found = Iterator[tuple[Place, str]]
Ladder = tuple[Place, tuple[Rung, ...], tuple[Layer, Mode] | None]
"""Where a ladder stands, its rungs, and the layer and mode whose own it is."""


def design_warnings(chip: Chip) -> tuple[tuple[Place, str], ...]:
    """What of ``chip`` is seen never to come about: for each the keys that lead to its place, and a sentence.

    Told are: a source on no rung; a rung that never shows, or where a fetch is missed alone; cells, a bitmap, colour cells or a
    sprite table that at reset go beyond memory; a sprite that is larger than memory; a client that finds no slots even where no
    other asks. Empty where none of these is found, which proves no more than that.
    """
    instance("chip", chip, Chip)
    return tuple(chain(_no_rung(chip), _dead_rungs(chip), _at_reset(chip), _large_sprites(chip), _unserved(chip)))


# The ladder


def _ladders(chip: Chip) -> Iterator[Ladder]:
    yield ("ladder",), chip.ladder, None
    for number, layer in enumerate(chip.layers):
        for index, mode in enumerate(layer.modes):
            if mode.ladder is not None:
                yield ("layers", number, "modes", index, "ladder"), mode.ladder, (layer, mode)


def _no_rung(chip: Chip) -> Found:
    on = {rung.source for _, rungs, _ in _ladders(chip) for rung in rungs}
    for number, layer in enumerate(chip.layers):
        if layer.name not in on:
            yield ("layers", number), f"{layer.name} is on no rung of any ladder: it never shows"
    if chip.sprites and "sprites" not in on:
        yield ("sprites",), "sprites are on no rung of any ladder: they never show"


def _dead_rungs(chip: Chip) -> Found:
    for place, rungs, of in _ladders(chip):
        for number, rung in enumerate(rungs):
            why = _dead(chip, rung, rungs[:number], of)
            if why:
                yield (*place, number), f"{rung} {why}"


def _dead(chip: Chip, rung: Rung, before: Sequence[Rung], of: tuple[Layer, Mode] | None) -> str | None:
    """That a rung behind those ``before`` it can never show, and why; None where it may."""
    if of and rung.source in (of[1].exclusive or ()):
        return f"never shows: this ladder is in force where {of[0].name} shows {of[1].name}, which switches {rung.source} off"
    for place, other in enumerate(before):
        if other.when is None and other.source != rung.source and _covers(chip, other.source, of):
            if chip.time is not None:
                return f"shows at most where rung {place}, {other.source}, misses a fetch: it has an opaque dot everywhere else"
            return f"never shows: rung {place}, {other.source}, has an opaque dot everywhere"
    same = [other for other in before if other.source == rung.source]
    if any(other.when is None for other in same):
        return f"never shows: another rung of {rung.source} stands before it without a condition"
    named = {one.when.field for one in (*same, rung) if one.when}
    if any(_met(chip, rung, same, field, of) for field in named):
        return f"never shows: no value meets its condition that does not meet that of another rung of {rung.source} before it"
    return None


def _met(chip: Chip, rung: Rung, same: Sequence[Rung], field: str, of: tuple[Layer, Mode] | None) -> bool:
    """Whether each value of ``field`` that meets the rung's condition meets one of a rung before it (so too, if none does)."""
    conditions = [one.when for one in same if one.when and one.when.field == field]
    mine = rung.when if rung.when and rung.when.field == field else None
    numbers = [one.number for one in (*conditions, *([mine] if mine else []))]
    top = _top(chip, rung.source, field, of)
    # conditions change their mind at these values alone
    values = {0, top, *(number + by for number in numbers for by in (-1, 0, 1))}
    return all(
        any(one.holds(value) for one in conditions)
        for value in values
        if 0 <= value <= top and (mine is None or mine.holds(value))
    )


def _top(chip: Chip, source: str, field: str, of: tuple[Layer, Mode] | None) -> int:
    """The largest value that ``field`` of ``source`` has where a ladder is in force; 0 where there is no such field."""
    if source == "sprites":
        layouts: list[Mapping[str, Bits]] = [chip.sprites.fields.layout] if chip.sprites else []
    else:
        layer = chip.layer(source)
        modes = [of[1]] if of and of[0].name == source else layer.modes
        layouts = [mode.asked for mode in modes]
    return max((layout[field].top for layout in layouts if field in layout), default=0)


def _covers(chip: Chip, source: str, of: tuple[Layer, Mode] | None) -> bool:
    """Whether ``source`` is a layer with an opaque dot everywhere where the ladder of ``of`` (None: the chip's) is in force.

    Dots of which a fetch is missed are not asked.
    """
    if source == "sprites":
        return False
    layer, own = chip.layer(source), of is not None and of[0].name == source
    exclusive = {name for one in chip.layers for mode in one.modes for name in mode.exclusive or ()}
    modes = [of[1]] if own and of else layer.modes
    enabled = own or (f"{source}.enable" not in field_names(chip) and rest_values(chip)[f"{source}.enable"] == 1)
    return enabled and source not in exclusive and not _short(chip, layer) and all(_opaque(mode) for mode in modes)


def _short(chip: Chip, layer: Layer) -> bool:
    """Whether a line can be wider than what a layer has for it: a line buffer for line 0 is as wide as the frame before."""
    return buffered(chip, layer) and len({one.frame.width for one in at_sizes(chip)}) > 1


def _opaque(mode: Mode) -> bool:
    """Whether every dot of a mode is opaque; a text has margins and an end, and is not asked."""
    return isinstance(mode, SurfaceMode) and mode.transparent is None and (mode.wrap or mode.outside is not None)


# What registers hold at reset


def _at_reset(chip: Chip) -> Found:
    rest, size = rest_values(chip), chip.memory.size
    for name, needed in _needed(chip):
        last = rest[name] + needed - 1
        if last >= size:
            yield (
                place_of(chip, name),
                f"at reset {needed} bytes from {hexadecimal(rest[name], size)} on: the last {last - size + 1} are beyond memory",
            )


def _needed(chip: Chip) -> Iterator[tuple[str, int]]:
    """Controls that hold the address of something with a size, and its bytes."""
    for layer in chip.layers:
        for mode in layer.modes:
            here = f"{layer.name}.{mode.name}"
            if not isinstance(mode, BitmapMode):
                yield f"{here}.map", mode.map_bytes
                continue
            yield from ((name, mode.map_bytes) for name in address_names(here, mode))
            if mode.colours is not None:
                yield f"{here}.colours", mode.colour_bytes
    if chip.sprites and chip.sprites.table == "memory":
        yield "sprites.table", chip.sprites.count * chip.sprites.record_bytes


def _large_sprites(chip: Chip) -> Found:
    sprites = chip.sprites
    for number, (width, height) in enumerate(sprites.sizes if sprites else ()):
        assert sprites is not None
        needed = sprites.patterns[number].extent
        if needed > chip.memory.size and _folded(sprites.patterns[number], chip.memory.size):
            told = f"no pattern number reaches a whole sprite of {width} x {height} dots, {needed} bytes"
            yield ("sprites", "sizes", number), f"{told}: memory has {chip.memory.size}"


def _folded(pattern: SpritePattern, size: int) -> bool:
    """Whether two of a sprite's own bytes are one where memory of ``size`` bytes begins again after its last."""
    begins, each = pattern.own
    return len({(begin + byte) % size for begin in begins for byte in range(each)}) < len(begins) * each


# Time


def _unserved(chip: Chip) -> Found:
    """Clients that the slots of no line can serve at any size of the picture; of what they lack the first size tells."""
    first, *others = ([*_unserved_at(one)] for one in at_sizes(chip))
    yield from (told for told in first if all(told[0] in map(itemgetter(0), each) for each in others))


def _unserved_at(chip: Chip) -> Found:
    """Clients that the slots of no line can serve, even if no other client asks; before them goes refresh alone."""
    if chip.time is None:
        return
    server = Server(chip)
    free = {when: server.fresh(picture=when != "line before")[0] for when in ("in time", "blanking", "line before")}
    for name, place in server.places.items():
        client = chip.time.clients[name]
        mask = client.mask(server.line.slots)
        slots = [slot for slot in free[client.when] if mask >> slot & 1]
        if place.layer < 0:
            room, least = server.room_of(slots), scan_of(chip).accesses + min(sprite_costs(chip))
            if len(room) < least:
                yield (
                    ("time", "clients", name),
                    f"can never be served: a line has {len(room)} slots for it, and one sprite takes {least}",
                )
            continue
        modes = [chip.layers[place.layer].modes[mode] for mode in place.modes]
        never = [mode.name for mode in modes if not _serves(chip, client, slots, place.what, mode)]
        if never:
            yield (
                ("time", "clients", name),
                f"can never be served in {' and '.join(never)}: no dot of a line has the slots before it that a group takes",
            )


def _serves(chip: Chip, client: ClientTime, slots: Sequence[int], what: str, mode: AnyMode) -> bool:
    """Whether ``slots`` hold enough accesses for a group that is due at one of the picture's dots at least."""
    line, needed = line_slots(chip), mode_costs(chip, mode).costs[what]
    if client.lead is None:
        end = line.blank if client.when == "blanking" else line.slots
        return bisect_left(slots, end) >= needed
    windows = ((line.from_dot(dot - client.lead), line.before(dot)) for dot in range(chip.frame.width))
    return any(bisect_left(slots, end) - bisect_left(slots, begin) >= needed for begin, end in windows)
