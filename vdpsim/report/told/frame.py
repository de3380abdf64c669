"""Everything that is said of one frame but its dots, its timed writes in words among it: plain data, ready for JSON.

Law: what is told is what drawing yielded and what the scene writes; a name is the description's own. A write is told by what it
does, with values by their names where the chip has any. Nothing here is HTML.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np

from ...chip.controls import sprite_addresses
from ...chip.controls import told as value_told
from ...chip.model import Chip, SpritesTable
from ...chip.registers import settable
from ...engine import Plan
from ...machine.handles import Sprites
from ...machine.reached import reached
from ...output.frame import Frame
from ...scene import Scene
from ...state.state import State
from ...state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write
from .registers import registers_told
from .vanished import missing_dots, unread, unread_told

Json = dict[str, Any]

MOST_WRITES = 400
"""Timed writes of a frame that are told one by one."""

MOST_COLLISIONS = 10_000
"""Collisions of a frame that are told one by one: a browser makes a mark of each."""


def frame_told(scene: Scene, plan: Plan, frame: Frame) -> Json:
    """What there is to say of ``frame``, of which ``plan`` is the chip's."""
    writes = scene.writes(frame.frame)
    state = reached(plan, scene, frame.frame)
    sprites = list(_table(scene, plan, state))
    records = {one["number"]: one["fields"] for one in sprites}
    return {
        "size": list(frame.size),
        "rungs": list(frame.rungs),
        "found": frame.log.found.tolist(),
        "drawn": frame.log.drawn.tolist(),
        "missed": frame.missed.sum(axis=1).tolist(),
        "late": _late(frame),
        "unread": {line: (count, unread_told(count)) for line, count in unread(scene.chip, frame).items()},
        "drops": [list(drop) for drop in frame.drops.tolist()],
        "gone": missing_dots(scene.chip, frame, state, records),
        "collisions": [list(one) for one in frame.collisions[:MOST_COLLISIONS].tolist()],
        "moreCollisions": max(0, len(frame.collisions) - MOST_COLLISIONS) + frame.collisions_left_out,
        "raised": [list(one) for one in frame.raised.tolist()],
        "transfers": [list(one) for one in frame.transfers.tolist()],
        "sprites": sprites,
        "writes": [write_told(scene.chip, write) for write in writes[:MOST_WRITES]],
        "moreWrites": max(0, len(writes) - MOST_WRITES),
        "registers": registers_told(plan, state, writes),
    }


def _late(frame: Frame) -> dict[int, list[tuple[str, int]]]:
    """By line, of those on which accesses came too late: whose, and how many."""
    names = frame.log.clients
    return {
        line: [(names[client], count) for client, count in enumerate(frame.missed[line].tolist()) if count]
        for line in np.flatnonzero(frame.missed.any(axis=1)).tolist()
    }


def _table(scene: Scene, plan: Plan, state: State) -> Iterator[Json]:
    """The sprites as they stand in the table when the frame begins, those that are enabled."""
    chip = scene.chip
    if chip.sprites is None:
        return
    names = {number: name for name, number in scene.sprite_names.items()}
    records, base = Sprites(plan, state), state.value(sprite_addresses(chip.sprites)[0])
    for number in range(chip.sprites.count):
        try:
            record = records[number]
        except IndexError:  # a table in memory that sticks out
            return
        values = {name: getattr(record, name) for name in chip.sprites.fields.layout}
        if values.get("enable", 1):
            begin = chip.sprites.fields.number(values) * chip.sprites.patterns[values.get("size", 0)].step
            data = (base + begin) % chip.memory.size
            told = {"number": number, "name": names.get(number, ""), **_shape(chip.sprites, values)}
            yield {**told, "data": data, "fields": values}


def _shape(table: SpritesTable, values: Mapping[str, int]) -> Json:
    """Where a sprite stands and how large it is, from its record's ``values``."""
    width, height = table.sizes[values.get("size", 0)]
    x = values["x"] - (table.x_bias if values.get("x_bias") else 0)
    return {"x": x, "y": values["y"], "width": width, "height": height}


def _register_write(chip: Chip, write: RegisterWrite) -> str:
    return f"{write.name} = {value_told(settable(chip)[write.name].names, write.value)}"


def _palette_write(_chip: Chip, write: PaletteWrite) -> str:
    if len(write.words) > 1:
        return f"entries {write.entry} to {write.entry + len(write.words) - 1}"
    return f"entry {write.entry} = 0x{write.words[0]:X}"


WRITES_TOLD: Mapping[type, Callable[[Chip, Any], str]] = {
    RegisterWrite: _register_write,
    PaletteWrite: _palette_write,
    SpriteWrite: lambda _chip, one: f"sprite table from byte {one.offset}: {len(one.data)} bytes",
    MemoryWrite: lambda _chip, one: f"memory from 0x{one.address:X}: {len(one.data)} bytes",
    Transfer: lambda _chip, one: f"transfer to 0x{one.address:X}: {len(one.data)} bytes",
    PortWrite: lambda _chip, one: f"port 0x{one.address:X} = 0x{one.value:02X}",
}
"""What a timed write does, in words."""


def write_told(chip: Chip, write: Write) -> dict[str, Any]:
    """A timed write: its line and dot, and what it does in words."""
    return {"line": write.line, "dot": write.dot, "what": WRITES_TOLD[type(write)](chip, write)}
