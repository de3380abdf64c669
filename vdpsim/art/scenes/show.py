"""How sprites and glyphs are laid out to be looked at in the scene that is written for them.

Law: what stands here follows from the chip's own limits: no sprite is placed where its line could not take it. Knows no file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...chip.model import Chip, SpritesTable, TextMode
from ...chip.registers import at_largest, field_names, rest_values
from ..arrays import Dots
from ..results import GlyphArt, Placed, SpriteArt

GAP = 4
"""Dots and lines between sprites that do not stand as on their sheet."""

AnyPlace = tuple[Placed, int, int]


def standing(art: SpriteArt) -> list[AnyPlace]:
    """The sprites with the x and y of each: as on their sheet, where the chip can show it so, else in rows, as many as it can."""
    sprites = art.chip.sprites
    assert sprites is not None
    columns = art.rgb.shape[1] // art.cell[0]
    sheet = []
    for sprite in art.sprites:
        left, top = sprite.cell % columns * art.cell[0], sprite.cell // columns * art.cell[1]
        sheet.append((sprite, left + sprite.dx, top + sprite.dy))
    return sheet if _can(art.chip, sprites, sheet) else _in_rows(art.chip, sprites, art.sprites)


def _can(chip: Chip, sprites: SpritesTable, places: Sequence[AnyPlace]) -> bool:
    """Whether the chip shows all of them, every dot."""
    frame = at_largest(chip).frame
    if len(places) > sprites.count:
        return False
    count: Counter[int] = Counter()
    dots: Counter[int] = Counter()
    for sprite, x, y in places:
        across, down = sprite.size
        if not (0 <= x <= min(frame.width - across, sprites.fields.x.top)):
            return False
        if not (0 <= y <= min(frame.height - down, sprites.fields.y.top)):
            return False
        for line in range(y, y + down):
            count[line] += 1
            dots[line] += across
    most, room = max(count.values()), max(dots.values())
    return most <= (sprites.per_line or most) and room <= (sprites.dots_per_line or room)


def _in_rows(chip: Chip, sprites: SpritesTable, shown: Sequence[Placed]) -> list[AnyPlace]:
    found: list[AnyPlace] = []
    frame = at_largest(chip).frame
    x, y, high, here = 0, 0, 0, 0
    wide = 0
    for sprite in shown[: sprites.count]:
        across, down = sprite.size
        full = here == (sprites.per_line or here + 1) or wide + across > (sprites.dots_per_line or wide + across)
        if x + across > frame.width or x > sprites.fields.x.top or full:
            x, y, high, here, wide = 0, y + high + GAP, 0, 0, 0
        if y + down > frame.height or y > sprites.fields.y.top:
            break
        found.append((sprite, x, y))
        x, high, here, wide = x + across + GAP, max(high, down), here + 1, wide + across
    return found


@dataclass(frozen=True, eq=False, repr=False)
class Lettered:
    """Glyphs on show: those from number ``first`` on, empty ones between them, a text, its colours, entries, registers."""

    first: int
    glyphs: Dots
    text: str
    colours: dict[str, int]
    palette: dict[int, str]
    registers: dict[str, int]


def lettered(art: GlyphArt, mode: TextMode) -> Lettered:
    """The glyphs, and a text that shows as many of them as the mode's cells hold, light on dark."""
    chip, layer = art.chip, art.target.partition(".")[0]
    numbers = sorted(art.glyphs)
    glyphs = np.zeros((numbers[-1] - numbers[0] + 1, *mode.glyph[::-1]), np.uint8)
    for number in numbers:
        glyphs[number - numbers[0]] = art.glyphs[number]
    # a line break cannot be written as a character of a text, nor half of a pair
    written = [chr(number) for number in numbers if number != 10 and not 0xD800 <= number <= 0xDFFF]
    wide = min(mode.columns, 32)
    lines = ["".join(written[at : at + wide]) for at in range(0, len(written), wide)][: mode.rows]
    back = 0 if mode.transparent is None else mode.transparent
    ink = 1 if back == 0 else 0
    base, bank_step, value_step = chip.entry_rule(mode.entries)
    held, rest = field_names(chip), rest_values(chip)
    base += rest.get(f"{layer}.bank", 0) * bank_step
    settings, colours, used = {}, {}, {}
    for name, number in (("foreground", ink), ("background", back)):
        if name in mode.cell.layout:
            colours[name] = used[name] = number
            continue
        control = f"{art.target}.{name}"
        used[name] = number if control in held else rest[control]
        if control in held and rest[control] != number:
            settings[control] = number
    palette = {base + used["foreground"] * value_step: "#ffffff"}
    if used["background"] != mode.transparent:
        palette.setdefault(base + used["background"] * value_step, "#000000")
    if len(chip.layer(layer).modes) > 1 and f"{layer}.mode" in held:
        settings[f"{layer}.mode"] = [one.name for one in chip.layer(layer).modes].index(mode.name)
    return Lettered(numbers[0], glyphs, "\n".join(lines), colours, palette, settings)
