"""Who asks a chip's memory for data.

Law: clients follow from the chip's description, in one order: each layer's, then the sprites'; with them, where the chip
has a time table, refresh and the CPU. Knows no count and no slot.
"""

from __future__ import annotations

from ..model import AnyMode, BitmapMode, Chip, Layer

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


def keeps(chip: Chip, layer: Layer, mode: AnyMode) -> bool:
    """Whether the layer keeps what ``kept_of`` says from line to line."""
    what = kept_of(mode)
    return bool(chip.time and what and chip.time.clients[f"{layer.name}.{what}"].keep)


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
    """The names that a time table has to hold: the layers' clients, and ``sprites`` for all that sprites fetch."""
    return (*layer_clients(chip), *(("sprites",) if chip.sprites else ()))


def buffered(chip: Chip, layer: Layer) -> bool:
    """Whether the layer is held in a line buffer: its fetches are made in the slots of the line before."""
    if chip.time is None:
        return False
    names = (f"{layer.name}.{client}" for mode in layer.modes for client in of_mode(mode))
    return any(name in chip.time.clients and chip.time.clients[name].when == "line before" for name in names)
