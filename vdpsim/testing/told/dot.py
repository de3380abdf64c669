"""Who drew a dot, and why: in the words of the page and of ``vdpsim verify``.

Law: says of a dot what the frame's planes say of it. Without planes it says what the frame itself has, and guesses nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ...chip.model import BitmapMode, Chip
from ...chip.tables.bits import Bits
from ...engine.frame import Plane
from ...handoff.verifying.told.words import drawn_by
from ...machine.machine import Machine
from ...output.frame import Frame
from ...report.told.vanished import reason_told, unread, unread_told
from ..asked import Asked

ROW_WORDS = {"tiles": "pattern row at", "text": "glyph row at", "bitmap": "access at"}
"""What lies at the address from which a dot of each kind of mode came."""


def shown_as(entry: int, colour: Any) -> str:
    """An entry and its colour in words; ``colour``: three channels of 8 bits."""
    red, green, blue = (int(one) for one in colour)
    return f"entry 0x{entry:03x}, colour #{red:02x}{green:02x}{blue:02x}"


def dot_told(asked: Asked, line: int, dot: int, *, head: str = "came") -> Iterator[str]:
    """Lines on the dot ``dot`` of line ``line``, counted as the frame counts them: what came, who drew it, what lies beneath."""
    frame, row = asked.frame, line - asked.frame.first
    yield f"{head} {shown_as(int(frame.indices[row, dot]), frame.rgb[row, dot])}"
    source, rung, sprite = (int(plane[row, dot]) for plane in (frame.source, frame.rung, frame.sprite))
    yield from drawn_by(asked, {"source": source, "rung": rung, "sprite": sprite})
    explained = asked.explained()
    if explained is None:
        return
    chip = asked.origin.chip if asked.origin else None
    if chip is not None and 0 < source <= len(chip.layers):
        yield from _layer_told(chip, source, explained.planes[frame.sources[source]], row, dot)
    if sprite >= 0:
        yield from _sprite_told(asked, sprite)
    yield from _beneath(explained, source, row, dot)
    yield from _would_be(asked, line, dot)


def _layer_told(chip: Chip, source: int, plane: Plane, row: int, dot: int) -> Iterator[str]:
    """Which mode, cell, fields and address fed a dot of a layer."""
    if plane.fed is None:
        return
    number, cell, word, data = (
        int(each[row, dot]) for each in (plane.fed.mode, plane.fed.cell, plane.fed.word, plane.fed.data)
    )
    if number < 0:
        yield "it came from the line buffer, filled before the first frame here"
        return
    mode = chip.layers[source - 1].modes[number]
    if data < 0:
        beyond = "the margin" if mode.kind == "text" else "beyond the edge"
        yield f"mode {mode.name} ({mode.kind}): it came from {beyond}, which is not fetched"
        return
    parts = [f"{ROW_WORDS[mode.kind]} 0x{data:x}"]
    if cell >= 0:
        what = "colour cell" if mode.kind == "bitmap" else "cell"
        fields = ", ".join(f"{name} {bits.get(word)}" for name, bits in _layout(mode).items())
        parts.insert(0, f"{what} at 0x{cell:x}, its word 0x{word:x} ({fields})")
    yield f"mode {mode.name} ({mode.kind}): {'; '.join(parts)}"


def _layout(mode: Any) -> Mapping[str, Bits]:
    """Where the fields of a mode's cells lie."""
    if isinstance(mode, BitmapMode):
        return mode.colours.cell.layout if mode.colours else {}
    found: Mapping[str, Bits] = mode.cell.layout
    return found


def records(asked: Asked) -> Mapping[int, Mapping[str, int]]:
    """The sprites that the scene names, with their fields as the frame begins; none where it has no scene."""
    scene, origin = asked.scene, asked.origin
    if scene is None or origin is None or scene.chip.sprites is None:
        return {}
    machine = Machine.of(scene, origin.number)
    layout = scene.chip.sprites.fields.layout
    found = {}
    for number in scene.sprite_names.values():
        try:
            record = machine.sprites[number]
        except IndexError:  # a table in memory that sticks out
            continue
        found[number] = {name: int(getattr(record, name)) for name in layout}
    return found


def _sprite_told(asked: Asked, sprite: int) -> Iterator[str]:
    fields = records(asked).get(sprite)
    if fields:
        yield f"its record as the frame begins: {', '.join(f'{name} {value}' for name, value in fields.items())}"


def _beneath(frame: Frame, source: int, row: int, dot: int) -> Iterator[str]:
    """Each other source that shows something there, from front to back."""
    found = []
    for name, plane in frame.planes.items():
        stands = plane.standing
        if not plane.opaque[row, dot] or name == frame.sources[source]:
            continue
        rung = 255 if stands is None else int(stands.rung[row, dot])
        by = f"by rung {rung}" if rung < 255 else "on no rung"
        if rung < len(frame.rungs) and frame.rungs[0] != "rule":
            by += f": {frame.rungs[rung]}"
        found.append((rung, f"beneath: {name}, {by}: {shown_as(int(plane.entry[row, dot]), plane.rgb[row, dot])}"))
    yield from (told for _, told in sorted(found))


def _would_be(asked: Asked, line: int, dot: int) -> Iterator[str]:
    """Sprites that were dropped on the line and would cover the dot, as they stand when the frame begins, or may be unknown."""
    drops = {int(drop["sprite"]): str(drop["reason"]) for drop in asked.frame.drops if drop["line"] == line}
    held = records(asked) if drops else {}
    for number, reason in drops.items():
        if number in held and covers(asked, held[number], line, dot):
            why = reason_told(asked.origin.chip, reason) if asked.origin else reason
            yield f"{asked.sprite_called(number)} stands here and is dropped on this line by {why}"
    count = unread(asked.origin.chip, asked.frame).get(line) if asked.origin else None
    if count:
        yield f"of this line {unread_told(count)}"


def covers(asked: Asked, fields: Mapping[str, int], line: int, dot: int) -> bool:
    """Whether a sprite with these fields lies over the dot."""
    table = asked.origin.chip.sprites if asked.origin else None
    assert table is not None
    size = table.sizes[fields.get("size", 0)]
    x = fields["x"] - (table.x_bias if fields.get("x_bias") else 0)
    far = [dot - x, line - fields["y"]]
    for axis, (bits, wraps) in enumerate(((table.fields.x, table.wrap_x), (table.fields.y, table.wrap_y))):
        if wraps:
            far[axis] %= bits.top + 1
    return all(0 <= place < extent for place, extent in zip(far, size, strict=True))
