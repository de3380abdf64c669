"""Who asks a chip's memory for data, at which place of its time table each is served, and what it costs in accesses.

Law: all follows from the chip's description alone, and is worked out here for the engine, the slots and the budgets alike.
Clients have one order: each layer's, then the sprites'; with them, where the chip has a time table, refresh and the CPU. What a
client fetches for one mode of its layer has a place of its own where the table names the mode, else that of the layer's other
modes. Knows no slot.
"""

from __future__ import annotations

from typing import NamedTuple

from ..controls import once
from ..model import AnyMode, BitmapMode, Chip, ClientTime, Layer, TextMode, TilesMode

OF_KIND: dict[str, tuple[str, ...]] = {
    "tiles": ("cells", "pattern"),
    "bitmap": ("bitmap",),
    "text": ("cells", "glyphs"),
}
"""What a mode of each kind asks for, in the order in which it needs them; a bitmap may ask for colour cells before."""

ORDER = ("cells", "pattern", "glyphs", "colours", "bitmap")

KEPT = ("cells", "colours")
"""What a chip may keep from one line to the next."""


SCANNED = ("y", "size", "enable")
"""The fields of a record that say whether a sprite lies on a line."""


def of_mode(mode: AnyMode) -> tuple[str, ...]:
    """What the mode asks for."""
    with_colours = isinstance(mode, BitmapMode) and mode.colours is not None
    return (*(("colours",) if with_colours else ()), *OF_KIND[mode.kind])


def kept_of(mode: AnyMode) -> str | None:
    """What of it the mode may have from the line before; None where there is nothing."""
    return next((what for what in of_mode(mode) if what in KEPT), None)


def layer_clients(chip: Chip) -> tuple[str, ...]:
    """The clients of the layers, in the log's order."""
    names = []
    for layer in chip.layers:
        has = {client for mode in layer.modes for client in of_mode(mode)}
        names += [f"{layer.name}.{client}" for client in ORDER if client in has]
    return tuple(names)


def clients(chip: Chip) -> tuple[str, ...]:
    """Every client of the picture, in the log's order."""
    names = list(layer_clients(chip))
    if chip.sprites:
        names += ["sprites.table"] if chip.sprites.table == "memory" else []
        names.append("sprites.pattern")
    return tuple(names)


def slot_clients(chip: Chip) -> tuple[str, ...]:
    """Everyone who can have a slot: the picture's clients, then ``refresh`` and ``cpu``."""
    return (*clients(chip), "refresh", "cpu")


def timed_clients(chip: Chip) -> tuple[str, ...]:
    """The names that a time table speaks of: the layers' clients, and ``sprites`` for all that sprites fetch."""
    return (*layer_clients(chip), *(("sprites",) if chip.sprites else ()))


class Place(NamedTuple):
    """A place of a time table: what of a layer is fetched there, and in which of its modes.

    ``layer``: its number, -1 for the sprites. ``what``: such as ``cells``. ``client``: under which name it is logged. ``modes``:
    the numbers of the modes.
    """

    layer: int
    what: str
    client: str
    modes: tuple[int, ...]


def place_of(chip: Chip, layer: Layer, mode: int, what: str) -> str:
    """The name of the place at which the layer's mode of this number is served with ``what``; the table may lack it."""
    assert chip.time is not None
    own = f"{layer.name}.{layer.modes[mode].name}.{what}"
    return own if own in chip.time.clients else f"{layer.name}.{what}"


def places_of(chip: Chip, layer: Layer) -> dict[str, list[int]]:
    """The names of all places that the layer wants, each with the numbers of its modes."""
    found: dict[str, list[int]] = {}
    for number, mode in enumerate(layer.modes):
        for what in of_mode(mode):
            found.setdefault(place_of(chip, layer, number, what), []).append(number)
    return found


def places(chip: Chip) -> dict[str, Place]:
    """Every place of the chip's time table that somebody is served at, in the table's order."""
    return once(chip, "_places", lambda: _places(chip))


def _places(chip: Chip) -> dict[str, Place]:
    assert chip.time is not None
    found = {"sprites": Place(-1, "", "sprites", ())} if chip.sprites else {}
    for number, layer in enumerate(chip.layers):
        for name, modes in places_of(chip, layer).items():
            what = name.rpartition(".")[2]
            found[name] = Place(number, what, f"{layer.name}.{what}", tuple(modes))
    return {name: found[name] for name in chip.time.clients if name in found}


def timing(chip: Chip, layer: Layer, mode: int, what: str) -> ClientTime:
    """When the layer's mode of this number is served with ``what``."""
    assert chip.time is not None
    return chip.time.clients[place_of(chip, layer, mode, what)]


def keeps(chip: Chip, layer: Layer, mode: int) -> bool:
    """Whether the layer keeps the cells, or the colour cells, of its mode of this number from line to line."""
    what = kept_of(layer.modes[mode])
    return chip.time is not None and what is not None and timing(chip, layer, mode, what).keep


def buffered(chip: Chip, layer: Layer) -> bool:
    """Whether the layer is held in a line buffer: its fetches are made in the slots of the line before."""
    if chip.time is None:
        return False
    told = (chip.time.clients.get(name) for name in places_of(chip, layer))
    return any(client is not None and client.when == "line before" for client in told)


def layers_ahead(chip: Chip) -> tuple[int, ...]:
    """The numbers of the layers that are held in line buffers."""
    return once(
        chip, "_ahead", lambda: tuple(number for number, layer in enumerate(chip.layers) if buffered(chip, layer))
    )


class ModeCosts(NamedTuple):
    """A group's dots of the picture, the accesses that each client makes for it, and those for the pattern of a turned cell."""

    size: int
    costs: dict[str, int]
    turned: int


class Scan(NamedTuple):
    """A scan of a sprite table in memory: which accesses of a record every line makes to find its sprites.

    ``words``: their numbers within a record, in order. ``accesses``: those of a line, for all records. ``rest``: those that are
    left of a record, made for a sprite that is drawn. Empty and 0 for a table on the chip.
    """

    words: tuple[int, ...]
    accesses: int
    rest: int


def costs_of(chip: Chip) -> list[list[ModeCosts]]:
    """What a group takes, by layer and mode."""
    return once(chip, "_costs", lambda: [[mode_costs(chip, mode) for mode in layer.modes] for layer in chip.layers])


def mode_costs(chip: Chip, mode: AnyMode) -> ModeCosts:
    """What a group of ``mode`` takes."""
    accesses, access = chip.memory.accesses, chip.memory.bytes_per_access
    if isinstance(mode, TilesMode):
        costs = {"cells": accesses(mode.cell_bytes), "pattern": mode.raster.row_accesses(access)}
        return ModeCosts(mode.doubled(mode.tile)[0], costs, mode.tile[1] * mode.raster.dot_accesses(access))
    if isinstance(mode, TextMode):
        return ModeCosts(mode.doubled(mode.glyph)[0], {"cells": accesses(mode.cell_bytes), "glyphs": 1}, 0)
    assert isinstance(mode, BitmapMode)
    return _bitmap_costs(mode, access)


def _bitmap_costs(mode: BitmapMode, access: int) -> ModeCosts:
    """What a group of a bitmap takes: its colour cells, where there are any, and its dots in each plane."""
    dots, cells = mode.group(access), mode.colours
    costs = {} if cells is None else {"colours": max(1, dots // cells.block[0] * cells.cell_bytes // access)}
    costs["bitmap"] = len(mode.raster.bit_places) * (dots // mode.raster.dots_per_access(access))
    return ModeCosts(dots * mode.double[0], costs, 0)


def scan_of(chip: Chip) -> Scan:
    """The scan of the chip's sprite table: accesses that hold a bit of y, size or enable."""
    return once(chip, "_scan", lambda: _scan_of(chip))


def _scan_of(chip: Chip) -> Scan:
    sprites, memory = chip.sprites, chip.memory
    if sprites is None or sprites.table == "chip":
        return Scan((), 0, 0)
    bits = {bit for name in SCANNED if name in sprites.fields.layout for bit in _bits(sprites.fields.layout[name].mask)}
    found = {bit // 8 if memory.byte_order == "little" else sprites.record_bytes - 1 - bit // 8 for bit in bits}
    words = tuple(sorted({byte // memory.bytes_per_access for byte in found}))
    return Scan(words, len(words) * sprites.count, sprites.record_bytes // memory.bytes_per_access - len(words))


def sprite_costs(chip: Chip) -> tuple[int, ...]:
    """What a drawn sprite of each size costs: its pattern's row and the rest of its record; empty without sprites."""
    return once(chip, "_sprite_costs", lambda: _sprite_costs(chip))


def _sprite_costs(chip: Chip) -> tuple[int, ...]:
    sprites = chip.sprites
    if sprites is None:
        return ()
    width, rest = chip.memory.bytes_per_access, scan_of(chip).rest
    return tuple(one.accesses(width) + rest for one in sprites.patterns)


def _bits(mask: int) -> list[int]:
    return [bit for bit in range(mask.bit_length()) if mask >> bit & 1]
