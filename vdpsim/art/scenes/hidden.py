"""How a layer that cannot be switched off is made to show nothing in the scene that is written for fitted art.

Law: by the value that shows nothing, where its mode has one; else there is no way. Knows no art and no file.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ...chip.model import BitmapMode, Chip, TextMode, TilesMode
from ...chip.tables.bitmap import TWO_COLOURS
from ...scene.contents.dots import digits_per_dot

NamedTable = tuple[str, dict[str, Any]]


def nothing(chip: Chip, layer: str, number: int) -> Iterator[NamedTable]:
    """Tables with which a layer that is always on shows nothing, where it has a value for that."""
    mode = chip.layer(layer).modes[number]
    target = f"{layer}.{mode.name}"
    if mode.transparent is None or isinstance(mode, TextMode):
        return
    if isinstance(mode, BitmapMode) and mode.colours is not None and mode.colours.two:
        if mode.transparent <= mode.colours.both:
            yield "colours", {"for": target, "fill": dict.fromkeys(TWO_COLOURS, mode.transparent)}
        return
    digits = f"{mode.transparent:0{digits_per_dot(mode.bits_per_dot)}x}"
    if isinstance(mode, TilesMode):
        rows = [digits * mode.tile[0]] * mode.tile[1]
        yield "patterns", {"name": f"nothing_{layer}", "for": target, "rows": rows}
        yield "maps", {"for": target, "fill": {"pattern": f"nothing_{layer}"}}
    else:
        yield "bitmaps", {"for": target, "rows": [digits * mode.width] * mode.height}
