"""Small pictures for a page, as data addresses: frames to step through, and patterns as the chip sees them.

Law: patterns are decoded from the memory that the scene's first frame begins with, in the colours of bank 0; nothing is drawn
that is not in memory.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from ..chip.colour import expand
from ..chip.controls import address_names, sprite_addresses
from ..chip.model import BitmapMode, TextMode
from ..images.png import png_bytes
from ..scene import Scene
from ..scene.contents.formats import Format, format_of, tile_format
from ..state.state import State

SMALL = (72, 54)
"""Dots across and down that a frame of the strip has at most."""

SHEET = 32
"""Patterns in a row of a sheet."""

MOST_PATTERNS = 1024
"""Patterns of a sheet; the rest is counted."""


def address(data: bytes, kind: str) -> str:
    """``data`` as an address that holds it."""
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"


def thumbnails(pictures: list[npt.NDArray[np.uint8]]) -> dict[str, Any]:
    """All frames small, side by side in one picture, with the size of each."""
    height, width = pictures[0].shape[:2]
    scale = min(SMALL[0] / width, SMALL[1] / height)
    size = max(1, int(width * scale)), max(1, int(height * scale))
    across = min(len(pictures), 50)
    sheet = Image.new("RGB", (across * size[0], -(-len(pictures) // across) * size[1]))
    for number, picture in enumerate(pictures):
        small = Image.fromarray(picture).resize(size, Image.Resampling.BOX)
        sheet.paste(small, (number % across * size[0], number // across * size[1]))
    out = io.BytesIO()
    sheet.save(out, "JPEG", quality=80)
    return {"sheet": address(out.getvalue(), "jpeg"), "width": size[0], "height": size[1], "across": across}


def pattern_sheets(scene: Scene) -> list[dict[str, Any]]:
    """A picture of the patterns of each owner in memory: its name, the address of the first, how many, their size."""
    chip, state = scene.chip, scene.state(0)
    sheets = []
    for layer in chip.layers:
        for mode in layer.modes:
            if isinstance(mode, BitmapMode):
                continue
            names = address_names(f"{layer.name}.{mode.name}", mode)
            sheets.append(_sheet(scene, state, names, mode, format_of(mode), mode.pattern_bytes))
    if chip.sprites:
        first = chip.sprites.patterns[0]  # of one tile, or made of several, which are what lies in memory
        step = first.step if chip.sprites.tiles is None else first.tile_bytes
        sheets.append(
            _sheet(scene, state, sprite_addresses(chip.sprites), chip.sprites, tile_format(chip.sprites), step)
        )
    return [sheet for sheet in sheets if sheet]


@dataclass(frozen=True)
class _PatternRow:
    """``count`` patterns that lie in memory one after the other, from byte ``first`` on."""

    first: int
    count: int


def _sheet(
    scene: Scene, state: State, owners: Sequence[str], mode: Any, look: Format, step: int
) -> dict[str, Any] | None:
    """The sheet of the patterns that lie at the addresses of ``owners``; None where there are none."""
    rows = [_found(scene, state, owner, step, look.raster.size) for owner in owners]
    found = [row for row in rows if row is not None]
    count = min((row.count for row in found), default=0)
    if len(found) < len(rows) or not count:
        return None
    shown = min(count, MOST_PATTERNS)
    numbers = np.arange(shown)[:, None] * step + np.arange(look.raster.size)
    images = np.concatenate([state.memory[row.first + numbers] for row in found], axis=1)
    image = Image.fromarray(_side_by_side(look.unpacked(images)))
    image.putpalette(_colours(scene, state, mode).tobytes(), "RGB")
    return {
        "owner": owners[0] if len(owners) == 1 else f"{owners[0]} to {owners[-1].rpartition('.')[2]}",
        "first": found[0].first,
        "step": step,
        "count": count,
        "shown": shown,
        "width": look.width,
        "height": look.height,
        "across": SHEET,
        "picture": address(png_bytes(image), "png"),
    }


def _found(scene: Scene, state: State, owner: str, step: int, whole: int) -> _PatternRow | None:
    """Where ``owner``'s patterns of ``whole`` bytes lie; None where the scene has put none into memory."""
    row = next((row for row in scene.layout if owner in row.owner.split(", ")), None)
    if row is None or owner not in state.names:
        return None
    first, last = state.value(owner), min(row.end, len(state.memory))
    return _PatternRow(first, max(0, (last - first - whole) // step + 1))


def _side_by_side(dots: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Patterns (number, lines, dots) as one picture, ``SHEET`` of them in a row."""
    count, height, width = dots.shape
    down = -(-count // SHEET)
    padded = np.zeros((down * SHEET, height, width), np.uint8)
    padded[:count] = dots
    sheet = padded.reshape(down, SHEET, height, width).transpose(0, 2, 1, 3)
    return np.ascontiguousarray(sheet.reshape(down * height, SHEET * width))


def _colours(scene: Scene, state: State, mode: Any) -> npt.NDArray[np.uint8]:
    """The colours of bank 0's values; of text, which has its colours from cells and registers, dark on light."""
    if isinstance(mode, TextMode):
        return np.array([[240, 240, 240], [20, 20, 20]], np.uint8)
    chip = scene.chip
    base, _, step = chip.entry_rule(mode.entries)
    entries = np.minimum(base + np.arange(1 << mode.bits_per_dot) * step, chip.palette.entries - 1)
    words = state.palette[entries].tolist()
    fields = chip.palette.layout.values()
    return np.array([[expand(bits.get(word), bits.width) for bits in fields] for word in words], np.uint8)
