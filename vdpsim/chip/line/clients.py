"""Who asks a chip's memory for data, and at which place of its time table each is served.

Law: clients follow from the chip's description, in one order: each layer's, then the sprites'; with them, where the chip
has a time table, refresh and the CPU. What a client fetches for one mode of its layer has a place of its own where the table
names the mode, else that of the layer's other modes. Knows no count and no slot.
"""

from __future__ import annotations

from typing import NamedTuple

from ..controls import once
from ..model import AnyMode, BitmapMode, Chip, ClientTime, Layer

OF_KIND: dict[str, tuple[str, ...]] = {
    "tiles": ("cells", "pattern"),
    "bitmap": ("bitmap",),
    "text": ("cells", "glyphs"),
}
"""What a mode of each kind asks for, in the order in which it needs them; a bitmap may ask for colour cells before."""

ORDER = ("cells", "pattern", "glyphs", "colours", "bitmap")

KEPT = ("cells", "colours")
"""What a chip may keep from one line to the next."""


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
