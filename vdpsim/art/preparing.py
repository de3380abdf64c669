"""From an Ask to a job: the picture read and sized, its layer, mode and banks found.

Law: whatever a person gave wrong is an InputError that says what is allowed and what was given. Knows files only to read a
picture.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, get_args

import numpy as np
from PIL import Image

from ..chip.model import AnyMode, BitmapMode, Chip, TextMode, TilesMode
from ..door.shown import value as shown
from ..images.pictures import Picture, from_image, open_picture
from ..scene.findings import one_of
from .arrays import Dithering, OverLimit, Size
from .ask import Ask
from .colours.reach import Reach, layer_reach, sprite_reach
from .job import wrong
from .layers.bitmap import BitmapJob
from .layers.blocks import BlockJob
from .layers.job import dots_seen
from .layers.tiles import TileJob
from .results import slug
from .sprites.sheet import SheetJob

AnyJob = BitmapJob | BlockJob | TileJob | SheetJob


def job_of(ask: Ask, chip: Chip, dithering: Dithering, names: Sequence[str]) -> AnyJob:
    """The picture, read and cut, under a name that is none of ``names``. Raises InputError."""
    picture = _picture(ask)
    name = _unlike(slug(ask.name or picture.name), names)
    if ask.max_tiles is not None and ask.max_tiles < 1:
        raise wrong(picture.name, "max_tiles", f"must be 1 or more, got {shown(ask.max_tiles)}")
    if ask.over not in get_args(OverLimit):
        raise wrong(picture.name, "over", f"{one_of(get_args(OverLimit), 'one of')}, got {shown(ask.over)}")
    if ask.sprites is not None:
        return _sheet_job(ask, ask.sprites, chip, picture, name, dithering)
    return _layer_job(ask, chip, picture, name, dithering)


def _sheet_job(ask: Ask, cell: Size, chip: Chip, picture: Picture, name: str, dithering: Dithering) -> SheetJob:
    sprites = chip.sprites
    if min(cell) < 1:
        told = f"a cell must be 1x1 dots or more, got {shown(cell[0])}x{shown(cell[1])}"
        raise wrong(picture.name, "sprites", told)
    if sprites is None:
        raise wrong(picture.name, "sprites", f"{chip.name} has no sprites")
    reach = _checked(picture, lambda: sprite_reach(chip, sprites, ask.banks))
    return SheetJob(
        chip=chip,
        name=name,
        target="sprites",
        picture=picture,
        reach=reach,
        dithering=dithering,
        sprites=sprites,
        cell_size=cell,
        limit=ask.max_tiles,
    )


def _layer_job(
    ask: Ask, chip: Chip, picture: Picture, name: str, dithering: Dithering
) -> BitmapJob | BlockJob | TileJob:
    layer, mode = find_mode(chip, ask.layer, ask.mode, (TilesMode, BitmapMode), picture.name)
    assert isinstance(mode, TilesMode | BitmapMode)
    target = f"{layer}.{mode.name}"
    picture = _sized(picture, chip, target, mode, scale=ask.scale)
    reach = _checked(picture, lambda: layer_reach(chip, layer, mode, ask.banks))
    common: dict[str, Any] = {
        "chip": chip,
        "name": name,
        "target": target,
        "picture": picture,
        "reach": reach,
        "dithering": dithering,
        "layer": layer,
    }
    if isinstance(mode, TilesMode):
        return TileJob(**common, mode=mode, limit=_most_patterns(ask, chip, mode), over_limit=ask.over)
    if ask.max_tiles is not None:
        raise wrong(picture.name, "max_tiles", f"{target} is a bitmap: it has no tiles")
    return BitmapJob(**common, mode=mode) if mode.colours is None else BlockJob(**common, mode=mode)


def _most_patterns(ask: Ask, chip: Chip, mode: TilesMode) -> int:
    """As many as a cell can name and memory holds beside the map, or fewer where so asked."""
    room = (chip.memory.size - mode.map_bytes) // (mode.raster.bases * mode.pattern_bytes)
    there = min(mode.cell.pattern.top + 1, max(room, 0))
    return there if ask.max_tiles is None else min(ask.max_tiles, there)


def _checked(picture: Picture, reach: Callable[[], Reach]) -> Reach:
    """What ``reach`` gives. Raises InputError where it finds that the banks are none of the source's."""
    try:
        return reach()
    except ValueError as error:
        raise wrong(picture.name, "banks", str(error)) from None


def find_mode(
    chip: Chip, layer: str | None, mode: str | None, kinds: tuple[type[AnyMode], ...], name: str
) -> tuple[str, AnyMode]:
    """The layer and its mode of one of ``kinds``; ``layer`` may be LAYER.MODE. Raises InputError, for ``name``."""
    layer, _, part = (layer or "").partition(".")
    mode = mode or part or None
    fitting = {
        one.name: [each for each in one.modes if isinstance(each, kinds)]
        for one in chip.layers
        if any(isinstance(each, kinds) for each in one.modes)
    }
    what = "text" if kinds == (TextMode,) else "pictures"
    if layer not in fitting:
        told = one_of(fitting, f"a layer of {chip.name} that holds {what}")
        raise wrong(name, "layer", f"{told}, got {shown(layer)}" if layer else f"{told}; none was named")
    if mode is None:
        return layer, fitting[layer][0]
    for each in fitting[layer]:
        if each.name == mode:
            return layer, each
    known = [each.name for each in fitting[layer]]
    raise wrong(name, "mode", f"{one_of(known, f'a mode of {layer} that holds {what}')}, got {shown(mode)}")


def _picture(ask: Ask) -> Picture:
    given = ask.picture
    if isinstance(given, str | Path):
        found = open_picture(given)
    elif isinstance(given, Image.Image):
        found = from_image(given, ask.name or "picture")
    else:
        found = given
    if ask.transparent is None:
        return found
    clear = (found.rgb == np.array(ask.transparent, np.uint8)).all(axis=2)
    return Picture(np.where(clear[..., None], 0, found.rgb), found.opaque & ~clear, found.notes, found.name)


def _sized(picture: Picture, chip: Chip, target: str, mode: TilesMode | BitmapMode, *, scale: bool) -> Picture:
    """The picture in a size that the layer holds. Raises InputError where it is larger and may not be made smaller."""
    wide, high = mode.size
    lines, dots = picture.opaque.shape
    if scale:
        wide, high = dots_seen(chip, mode)
    if dots <= wide and lines <= high:
        return picture
    if not scale:
        told = f"must be at most {wide}x{high} dots for {target}, is {dots}x{lines}"
        raise wrong(picture.name, "size", f"{told}; --scale makes it smaller")
    return _smaller(picture, wide, high)


def _smaller(picture: Picture, wide: int, high: int) -> Picture:
    """The picture made so small that it has at most ``wide`` dots and ``high`` lines."""
    lines, dots = picture.opaque.shape
    part = min(wide / dots, high / lines)
    size = (min(wide, max(1, round(dots * part))), min(high, max(1, round(lines * part))))
    alpha = np.where(picture.opaque, 255, 0).astype(np.uint8)[..., None]
    image = Image.fromarray(np.concatenate([picture.rgb, alpha], axis=2)).resize(size, Image.Resampling.LANCZOS)
    found = from_image(image if not picture.opaque.all() else image.convert("RGB"), picture.name)
    note = f"{dots}x{lines} dots were made {size[0]}x{size[1]}"
    return Picture(found.rgb, found.opaque, (*picture.notes, note), found.name)


def _unlike(name: str, names: Sequence[str]) -> str:
    """``name``, with a number where it is taken."""
    number = 2
    found = name
    while found in names:
        found, number = f"{name}_{number}", number + 1
    return found
