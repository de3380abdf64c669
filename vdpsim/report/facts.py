"""Everything that a page tells of a scene: plain data, ready for JSON, and the frames' planes as packed bytes.

Law: what is told is what drawing yielded and what the chip's description says; a name is the description's own. HTML is made in
``still/`` alone, which escapes every name; all else is plain. Addresses are numbers of bytes.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.line.rates import frame_rate
from ..chip.model import Chip
from ..engine import Plan
from ..images.png import png_bytes
from ..machine.machine import frames
from ..output.flashes import Watcher
from ..output.frame import Frame, on_canvas
from ..scene import Scene
from .pictures import address, thumbnails
from .planes import Stack, deflated, packed, split
from .still.frame import frame_parts
from .still.parts import still_parts
from .told.chip import chip_told
from .told.frame import frame_told
from .told.totals import Totals

Json = dict[str, Any]

KEY_EVERY = 16
"""Frames from one that is told whole to the next."""


@dataclass
class _Gathered:
    """What is gathered while frames go by; ``plan`` is the chip's, worked out once for all of them."""

    plan: Plan
    touched: npt.NDArray[np.bool_] | None
    frames: list[Json] = field(default_factory=list)
    strips: dict[bytes, int] = field(default_factory=dict)
    small: list[npt.NDArray[np.uint8]] = field(default_factory=list)
    totals: Totals = field(default_factory=Totals)
    bare: Json = field(default_factory=dict)
    before: list[Stack] | None = None
    size: tuple[int, int] = (0, 0)


def facts(scene: Scene, wanted: Iterable[int], progress: Callable[[int], None] | None = None) -> Json:
    """What there is to say of the ``wanted`` frames of ``scene``. ``progress`` is told how many are done.

    Fetches that come too late are shown as the damage that they do, and counted. ``still``: parts of the page as HTML, by their
    places; ``bare``: those of the first frame, for who runs no scripts. Raises ValueError where no frame is wanted.
    """
    chip, numbers = scene.chip, list(wanted)
    if not numbers:
        raise ValueError("a report needs a frame at least, got none")
    found, watcher = _Gathered(Plan(chip), _untouched(chip)), Watcher(frame_rate(chip.frame), again=True)
    drawn = frames(scene, numbers, planes=True, damage=True, trace=chip.time is not None)
    canvas = chip.frame.width, chip.frame.height
    for count, frame in enumerate(drawn):
        found.small.append(on_canvas(frame, canvas))
        if len(numbers) > 1:  # a frame alone cannot flash
            watcher.look(found.small[-1], frame.frame)
        found.frames.append(_frame(scene, frame, found, key=count % KEY_EVERY == 0))
        if progress:
            progress(count + 1)
    seen = watcher.found() if len(numbers) > 1 else None
    return {
        "scene": {"name": scene.name, "about": scene.about, "frames": scene.frames, "file": scene.path.name},
        "chip": {**chip_told(chip), "keyEvery": KEY_EVERY},
        "flashes": {"passes": seen is None or seen.passes},
        "frames": found.frames,
        "mostFound": max(frame["marks"]["found"] for frame in found.frames),
        "strips": _text(deflated(b"".join(found.strips))),
        "thumbnails": thumbnails(found.small),
        "still": still_parts(scene, found.totals, found.touched, seen),
        "bare": found.bare,
    }


def _untouched(chip: Chip) -> npt.NDArray[np.bool_] | None:
    """No byte of memory was fetched yet; None where drawing does not tell."""
    return np.zeros(chip.memory.size, np.bool_) if chip.time is not None else None


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


# One frame


def _frame(scene: Scene, frame: Frame, gathered: _Gathered, *, key: bool) -> Json:
    stacks = list(_stacks(scene.chip, frame))
    before = None if key or frame.size != gathered.size else gathered.before
    gathered.before, gathered.size = stacks, frame.size
    tail = [part.tobytes() for part in _arrays(frame, gathered)]
    told = frame_told(scene, gathered.plan, frame)
    parts = frame_parts(scene.chip, frame.frame, told)
    if not gathered.frames:
        gathered.bare = {**parts, "picture": address(png_bytes(frame.image()), "png")}
    _touch(scene.chip, frame, gathered)
    width, height = frame.size
    clients = list(frame.slots.clients) if frame.slots is not None else list(frame.log.clients)
    words = json.dumps({**told, "countClients": clients, "parts": parts}, separators=(",", ":"))
    return {
        "number": frame.frame,
        "width": width,
        "height": height,
        "marks": {**gathered.totals.add(frame, told), "found": max(told["found"], default=0)},
        "planes": _text(packed(stacks, before, b"".join(tail))),
        "tail": [len(part) for part in tail],
        "facts": _text(deflated(words.encode())),
    }


def _touch(chip: Chip, frame: Frame, gathered: _Gathered) -> None:
    """Note the bytes that the frame has fetched."""
    if gathered.touched is not None and frame.trace is not None:
        first = np.unique(frame.trace["address"]).astype(np.int64)
        for byte in range(chip.memory.bytes_per_access):
            gathered.touched[(first + byte) % chip.memory.size] = True


def _arrays(frame: Frame, gathered: _Gathered) -> Iterator[npt.NDArray[Any]]:
    """What goes with the planes: palettes, where they and the backdrop change, accesses by line and client, lines' strips."""
    assert frame.colours is not None
    tables = frame.colours.tables
    changes = tables.copy()  # each palette as what is other than in the one before
    changes[1:] ^= tables[:-1]
    yield changes
    yield frame.colours.starts.astype("<u4")
    counts = frame.log.counts if frame.slots is None else frame.slots.counts[: frame.height]
    yield counts.astype("<u4")
    yield _slots(frame, gathered)


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


def _slots(frame: Frame, gathered: _Gathered) -> npt.NDArray[Any]:
    """Who had which slot of every line: the number of the line's strip among all that there are, for each line of the frame."""
    if frame.slots is None or frame.trace is None:
        return np.empty(0, "<u4")
    lines, per_line = len(frame.slots.counts), frame.slots.per_line
    strips = np.full((lines, per_line), 255, np.uint8)
    strips[frame.trace["line"], frame.trace["slot"]] = frame.trace["client"]
    return np.array([gathered.strips.setdefault(row.tobytes(), len(gathered.strips)) for row in strips], "<u4")
