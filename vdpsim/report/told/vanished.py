"""Sprites that a frame does not show where they stand: which, on which lines, and why.

Law: what vanished is what drawing says was dropped; the sprite's place and dots are those of its record and of memory as the
frame begins. Nothing here is HTML.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.controls import sprite_addresses
from ...chip.model import Chip
from ...output.frame import Frame
from ...scene.contents.formats import sprite_format
from ...state.state import State


class Gone(NamedTuple):
    """A sprite that is dropped on some ``lines``, first and last of each run, for one ``reason``."""

    sprite: int
    reason: str
    lines: tuple[tuple[int, int], ...]

    @property
    def number(self) -> int:
        """How many lines they are."""
        return sum(last - first + 1 for first, last in self.lines)

    @property
    def where(self) -> str:
        """The lines in words."""
        return lines_told(self.lines)


def vanished(drops: Iterable[tuple[int, int, str]]) -> list[Gone]:
    """What a frame's ``drops``, (line, sprite, reason), come to: one for each sprite and reason, by number, then first line."""
    lines: dict[tuple[int, str], list[int]] = {}
    for line, sprite, reason in drops:
        lines.setdefault((sprite, reason), []).append(line)
    found = [Gone(sprite, reason, runs(each)) for (sprite, reason), each in lines.items()]
    return sorted(found, key=lambda one: (one.sprite, one.lines))


def runs(numbers: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """The first and last of each run of numbers that follow on each other; of equal ones only one counts."""
    rising = sorted(set(numbers))
    cuts = [0, *(at + 1 for at, (one, other) in enumerate(pairwise(rising)) if other > one + 1), len(rising)]
    return tuple((rising[begin], rising[end - 1]) for begin, end in pairwise(cuts))


def lines_told(lines: Sequence[tuple[int, int]]) -> str:
    """Runs of lines in words: ``line 4``, ``lines 30 to 39``, ``lines 4, 30 to 39``."""
    parts = [str(first) if first == last else f"{first} to {last}" for first, last in lines]
    alone = len(lines) == 1 and lines[0][0] == lines[0][1]
    return f"line{'' if alone else 's'} {', '.join(parts)}"


REASONS = {
    "count": "count: more than {0.per_line} sprites on the line",
    "dots": "dots: more than {0.dots_per_line} dots of sprites on the line",
    "slots": "slots: none are left on the line for its pattern",
}
"""Why a sprite is dropped, in words about the chip's sprites."""


def reason_told(chip: Chip, reason: str) -> str:
    """Why a sprite is dropped, in words, with the limit that it went beyond. Raises KeyError for what is no reason."""
    return REASONS[reason].format(chip.sprites)


def unread(chip: Chip, frame: Frame) -> dict[int, int]:
    """Accesses to the sprite table for which a line had no slot, by the line whose sprites are not found for that.

    Where sprites are fetched a line ahead ``lines_per_frame`` stands for line 0 of the next frame, and line 0 is for the
    frame before to tell.
    """
    slots = frame.slots
    if slots is None or slots.unread is None or chip.time is None:
        return {}
    ahead = chip.time.clients["sprites"].when == "line before"
    return {line + ahead: count for line, count in enumerate(slots.unread.tolist(), slots.first) if count}


def unread_told(count: int) -> str:
    """What becomes of a line for whose sprites ``count`` accesses to the table found no slot."""
    access = "access finds" if count == 1 else "accesses find"
    return (
        f"the sprite table is not read to its end: {count:,} {access} no slot, and no sprite of those records is found"
    )


def missing_dots(chip: Chip, frame: Frame, state: State, records: Mapping[int, Mapping[str, int]]) -> dict[str, Any]:
    """Which dots of each dropped sprite would show: by its number the rows of its box, as hexadecimal numbers.

    The leftmost dot is the highest bit of a row, which is filled up on the right to whole bytes. ``records``: the fields of
    the sprites that are enabled.
    """
    if chip.sprites is None:
        return {}
    dropped = sorted({int(one) for one in frame.drops["sprite"]} & set(records))
    nothing = chip.sprites.transparent
    dots = {number: sprite_dots(chip, state, records[number]) for number in dropped}
    return {str(number): _rows(one != (-1 if nothing is None else nothing)) for number, one in dots.items()}


def sprite_dots(chip: Chip, state: State, record: Mapping[str, int]) -> npt.NDArray[np.uint8]:
    """The values of a sprite's dots, uint8 (height, width), as they stand in the picture: flipped where it is."""
    sprites = chip.sprites
    assert sprites is not None
    size = record.get("size", 0)
    look, shape = sprite_format(sprites, sprites.sizes[size]), sprites.patterns[size]
    begin = sprites.fields.number(record) * shape.step
    tiles = np.sort(np.array(shape.offsets).reshape(-1))
    place = begin + tiles[:, None] + np.arange(shape.tile_bytes)
    images = [state.memory[(state.value(base) + place) % chip.memory.size] for base in sprite_addresses(sprites)]
    return _flipped(look.unpacked(np.concatenate(images).reshape(1, -1))[0], record)


def _flipped(dots: npt.NDArray[np.uint8], record: Mapping[str, int]) -> npt.NDArray[np.uint8]:
    if record.get("flip_x"):
        dots = dots[:, ::-1]
    return dots[::-1] if record.get("flip_y") else dots


def _rows(shows: npt.NDArray[np.bool_]) -> list[str]:
    return [row.tobytes().hex() for row in np.packbits(shows, axis=1)]
