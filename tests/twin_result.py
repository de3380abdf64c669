"""What the twin says of the lines that it drew, and in which order it names who asks the memory.

Law: plain lists, dictionaries and numbers, nothing that the engine has made. Knows the chip's description alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from vdpsim.chip.model import BitmapMode, Chip, TextMode, TilesMode


@dataclass
class TwinResult:
    """The picture's lines among those drawn; every list has one item a line, and in it one a dot.

    ``edge`` is the backdrop's colour at each line's first dot, the lines of the bottom border included. ``planes`` says
    what each source alone would show: entries, None where it shows nothing. ``missed`` counts, for each line of the
    picture, what came too late for whom; ``raised`` has line, dot and flag. For a chip with a time table ``slots`` has who
    had the slots of each line from ``slot_first`` on, below the picture too, ``unread`` for each of these the accesses of
    the scan of a sprite table that found none, ``trace`` every access: line, slot, client,
    address, value; and ``transfers`` number, line and slot of the first byte and of the last, bytes, slots waited, and
    whether it ended.
    """

    first: int
    indices: list[list[int]] = field(default_factory=list)
    source: list[list[int]] = field(default_factory=list)
    rung: list[list[int]] = field(default_factory=list)
    sprite: list[list[int]] = field(default_factory=list)
    rgb: list[list[tuple[int, int, int]]] = field(default_factory=list)
    counts: list[dict[str, int]] = field(default_factory=list)
    found: list[int] = field(default_factory=list)
    drawn: list[int] = field(default_factory=list)
    drops: list[tuple[int, int, str]] = field(default_factory=list)
    collisions: list[tuple[int, int, int, int]] = field(default_factory=list)
    collision_flags: int = 0
    edge: list[tuple[int, int, int]] = field(default_factory=list)
    planes: list[dict[str, list[int | None]]] = field(default_factory=list)
    fed: list[dict[str, list[tuple[int | None, int, int] | None]]] = field(default_factory=list)
    slot_first: int = 0
    slots: list[dict[str, int]] = field(default_factory=list)
    unread: list[int] = field(default_factory=list)
    missed: list[dict[str, int]] = field(default_factory=list)
    trace: list[tuple[int, int, str, int, int]] = field(default_factory=list)
    transfers: list[tuple[int, int, int, int, int, int, int, bool]] = field(default_factory=list)
    raised: list[tuple[int, int, str]] = field(default_factory=list)


def clients(chip: Chip) -> list[str]:
    """Who asks the memory for data, in the log's order."""
    kinds: dict[str, type | tuple[type, ...]] = {
        "cells": (TilesMode, TextMode),
        "pattern": TilesMode,
        "glyphs": TextMode,
        "bitmap": BitmapMode,
    }
    names = []
    for layer in chip.layers:
        for client, kind in kinds.items():
            if client == "bitmap" and any(isinstance(mode, BitmapMode) and mode.colours for mode in layer.modes):
                names.append(f"{layer.name}.colours")
            if any(isinstance(mode, kind) for mode in layer.modes):
                names.append(f"{layer.name}.{client}")
    if chip.sprites and chip.sprites.table == "memory":
        names.append("sprites.table")
    if chip.sprites:
        names.append("sprites.pattern")
    return names
