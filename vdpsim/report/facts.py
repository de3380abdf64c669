"""Everything that a page tells of a scene: plain data, ready for JSON, and the frames' planes as packed bytes.

Law: what is told is what drawing yielded and what the chip's description says; a name is the description's own. Nothing here is
HTML, and nothing is escaped: that is for the page. Addresses are numbers of bytes.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.controls import sprite_addresses
from ..chip.line.clients import slot_clients
from ..chip.line.rates import frame_rate
from ..chip.model import BitmapMode, Chip, SpritesTable, TilesMode
from ..chip.tables.bits import Bits
from ..engine import Plan
from ..machine.handles import Sprites
from ..machine.machine import frames
from ..machine.reached import reached
from ..output.flashes import Watcher
from ..output.frame import Frame, on_canvas
from ..output.roles import role_colours
from ..scene import Scene
from .pictures import pattern_sheets, thumbnails
from .planes import Stack, deflated, packed, split
from .tables import budget_tables
from .written import write_told

Json = dict[str, Any]

KEY_EVERY = 25
"""Frames from one that is told whole to the next."""

MOST_WRITES = 400
"""Timed writes of a frame that are told one by one."""

MOST_COLLISIONS = 10_000
"""Collisions of a frame that are told one by one: a browser makes a row and a mark of each."""


@dataclass
class _Gathered:
    """What is gathered while frames go by; ``plan`` is the chip's, worked out once for all of them."""

    plan: Plan
    frames: list[Json] = field(default_factory=list)
    strips: dict[bytes, int] = field(default_factory=dict)
    small: list[npt.NDArray[np.uint8]] = field(default_factory=list)
    before: list[Stack] | None = None
    size: tuple[int, int] = (0, 0)


def facts(scene: Scene, wanted: Iterable[int], progress: Callable[[int], None] | None = None) -> Json:
    """What there is to say of the ``wanted`` frames of ``scene``. ``progress`` is told how many are done.

    Fetches that come too late are shown as the damage that they do, and counted. Raises ValueError where no frame is wanted.
    """
    chip, numbers = scene.chip, list(wanted)
    if not numbers:
        raise ValueError("a report needs a frame at least, got none")
    found, watcher = _Gathered(Plan(chip)), Watcher(frame_rate(chip.frame), again=True)
    drawn = frames(scene, numbers, planes=True, damage=True, trace=chip.time is not None)
    canvas = chip.frame.width, chip.frame.height
    for count, frame in enumerate(drawn):
        if len(numbers) > 1:  # a frame alone cannot flash
            watcher.look(on_canvas(frame, canvas), frame.frame)
        found.small.append(on_canvas(frame, canvas))
        found.frames.append(_frame(scene, frame, found, key=count % KEY_EVERY == 0))
        if progress:
            progress(count + 1)
    seen = watcher.found() if len(numbers) > 1 else None
    return {
        "scene": {"name": scene.name, "about": scene.about, "frames": scene.frames, "file": scene.path.name},
        "chip": _chip(chip),
        "flashes": {"passes": seen is None or seen.passes, "told": seen.told() if seen else ""},
        "frames": found.frames,
        "clientColours": [list(colour) for colour in role_colours(slot_clients(chip))],
        "strips": _text(deflated(b"".join(found.strips))),
        "thumbnails": thumbnails(found.small),
        "memory": [{"start": row.start, "end": row.end, "owner": row.owner} for row in scene.layout],
        "patterns": pattern_sheets(scene),
        "budget": budget_tables(scene),
    }


def _chip(chip: Chip) -> Json:
    rate = frame_rate(chip.frame)
    return {
        "name": chip.name,
        "about": chip.about,
        "width": chip.frame.width,
        "height": chip.frame.height,
        "sizes": len(chip.frame.every_size),
        "lines": chip.frame.lines_per_frame,
        "rate": f"{float(rate):.4f}",
        "memory": chip.memory.size,
        "access": chip.memory.bytes_per_access,
        "entries": chip.palette.entries,
        "bankSize": chip.palette.bank_size,
        "word": {name: _parts(bits) for name, bits in chip.palette.layout.items()},
        "wordDigits": -(-chip.palette.word_bits // 4),
        "sources": list(chip.source_names),
        "layers": [{"name": layer.name, "modes": [_mode(mode) for mode in layer.modes]} for layer in chip.layers],
        "sprites": _sprites(chip),
        "transparent": list(chip.transparency.items()),
        "perLine": int(chip.memory.accesses_per_dot * chip.frame.dots_per_line)
        if chip.time and chip.memory.accesses_per_dot
        else 0,
        "keyEvery": KEY_EVERY,
    }


def _mode(mode: Any) -> Json:
    told: Json = {
        "name": mode.name,
        "kind": mode.kind,
        "bits": mode.bits_per_dot,
        "planes": getattr(mode, "planes", None),
    }
    if isinstance(mode, BitmapMode):
        if mode.colours is not None:
            told["cell"] = {name: _parts(bits) for name, bits in mode.colours.cell.layout.items()}
    else:
        told["cell"] = {name: _parts(bits) for name, bits in mode.cell.layout.items()}
        told["size"] = list(mode.tile if isinstance(mode, TilesMode) else mode.glyph)
    return told


def _sprites(chip: Chip) -> Json | None:
    table = chip.sprites
    if table is None:
        return None
    groups = list(chip.collisions.groups) if chip.collisions else []
    return {
        "count": table.count,
        "bits": table.bits_per_dot,
        "planes": table.planes,
        "patterns": [
            {"size": list(one.size), "tile": list(one.tile), "rowBytes": one.row_bytes, "offsets": one.offsets}
            for one in table.patterns
        ],
        "wraps": [bits.top + 1 if wrap else 0 for bits, wrap in _axes(table)],
        "groups": groups,
        "xBias": table.x_bias,
    }


def _axes(table: SpritesTable) -> list[tuple[Bits, bool]]:
    return [(table.fields.x, table.wrap_x), (table.fields.y, table.wrap_y)]


def _parts(bits: Bits) -> list[list[int]]:
    """The bit ranges of a field, [highest, lowest], the first on top."""
    return [list(part) for part in bits.parts]


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


# One frame


def _frame(scene: Scene, frame: Frame, gathered: _Gathered, *, key: bool) -> Json:
    stacks = list(_stacks(scene.chip, frame))
    before = None if key or frame.size != gathered.size else gathered.before
    data = packed(stacks, before)
    gathered.before, gathered.size = stacks, frame.size
    assert frame.colours is not None
    tables = frame.colours.tables
    changes = tables.copy()  # each palette as what is other than in the one before
    changes[1:] ^= tables[:-1]
    told = json.dumps(_told(scene, frame, gathered, changes), separators=(",", ":"))
    width, height = frame.size
    of = {"number": frame.frame, "width": width, "height": height}
    return {**of, "planes": _text(data), "facts": _text(deflated(told.encode()))}


def _told(scene: Scene, frame: Frame, gathered: _Gathered, changes: npt.NDArray[np.uint8]) -> Json:
    """Everything that is said of a frame but its dots."""
    assert frame.colours is not None
    writes = scene.writes(frame.frame)
    return {
        "palettes": _text(deflated(changes.tobytes())),
        "stretches": frame.colours.starts.reshape(-1).tolist(),
        "rungs": list(frame.rungs),
        "clients": list(frame.log.clients),
        "counts": _text(deflated(frame.log.counts.astype("<u2").tobytes())),
        "found": frame.log.found.tolist(),
        "drawn": frame.log.drawn.tolist(),
        "missed": frame.missed.sum(axis=1).tolist(),
        "drops": [list(drop) for drop in frame.drops.tolist()],
        "collisions": [list(one) for one in frame.collisions[:MOST_COLLISIONS].tolist()],
        "moreCollisions": max(0, len(frame.collisions) - MOST_COLLISIONS) + frame.collisions_left_out,
        "raised": [list(one) for one in frame.raised.tolist()],
        "transfers": [list(one) for one in frame.transfers.tolist()],
        "sprites": list(_table(scene, gathered.plan, frame.frame)),
        "writes": [write_told(scene.chip, write) for write in writes[:MOST_WRITES]],
        "moreWrites": max(0, len(writes) - MOST_WRITES),
        **_slots(frame, gathered),
    }


def _stacks(chip: Chip, frame: Frame) -> Iterator[Stack]:
    """For each layer and the sprites the planes that move together."""
    wide = 2 if chip.palette.entries > 254 else 1
    for name, plane in frame.planes.items():
        stands = plane.standing
        assert stands is not None
        value = np.where(plane.opaque, plane.entry.astype(np.int64) + 1, 0)
        if name == "sprites":
            assert stands.sprite is not None
            value = np.where(stands.sprite >= 0, stands.entry.astype(np.int64) + 1, 0)
            more = split(stands.sprite.astype(np.int64) + 1, 2)
        else:
            fed = plane.fed
            assert fed is not None
            more = [
                *split(fed.mode + 1, 1),
                *split(fed.cell + 1, 4),
                *split(np.maximum(fed.word, 0), 2),
                *split(fed.data + 1, 4),
            ]
        yield np.stack([*split(value, wide), stands.rung, *more])


def _slots(frame: Frame, gathered: _Gathered) -> Json:
    """Who had which slot of every line: the number of the line's strip among all that there are, for each line of the frame."""
    if frame.slots is None or frame.trace is None:
        return {"slots": None, "used": None}
    lines, per_line = len(frame.slots.counts), frame.slots.per_line
    strips = np.full((lines, per_line), 255, np.uint8)
    strips[frame.trace["line"], frame.trace["slot"]] = frame.trace["client"]
    numbers = [gathered.strips.setdefault(row.tobytes(), len(gathered.strips)) for row in strips]
    return {
        "slots": _text(deflated(np.array(numbers, "<u4").tobytes())),
        "used": _text(deflated(frame.slots.used.astype("<u4").tobytes())),
        "slotClients": list(frame.slots.clients),
    }


def _table(scene: Scene, plan: Plan, frame: int) -> Iterator[Json]:
    """The sprites as they stand in the table when ``frame`` begins, those that are enabled."""
    chip = scene.chip
    if chip.sprites is None:
        return
    names = {number: name for name, number in scene.sprite_names.items()}
    state = reached(plan, scene, frame)
    sprites, base = Sprites(plan, state), state.value(sprite_addresses(chip.sprites)[0])
    for number in range(chip.sprites.count):
        try:
            record = sprites[number]
        except IndexError:  # a table in memory that sticks out
            return
        values = {name: getattr(record, name) for name in chip.sprites.fields.layout}
        if values.get("enable", 1):
            begin = chip.sprites.fields.number(values) * chip.sprites.patterns[values.get("size", 0)].step
            data = (base + begin) % chip.memory.size
            told = {"number": number, "name": names.get(number, ""), **_shape(chip.sprites, values)}
            yield {**told, "data": data, "fields": values}


def _shape(table: SpritesTable, values: dict[str, int]) -> Json:
    """Where a sprite stands and how large it is, from its record's ``values``."""
    width, height = table.sizes[values.get("size", 0)]
    x = values["x"] - (table.x_bias if values.get("x_bias") else 0)
    return {"x": x, "y": values["y"], "width": width, "height": height}
