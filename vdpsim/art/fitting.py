"""Pictures, sprite sheets and fonts fitted to a chip: the order of work.

Law: what shares the palette is fitted together, and one answer follows from the same input and seed on any machine. First
everything is coloured; where a picture then has too many tiles they are merged, and everything is coloured anew. Whatever
a person gave wrong is an InputError that says what is allowed and what was given. Knows files only to read a picture or a font.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

import numpy as np
from PIL import Image

from ..chip.model import AnyMode, BitmapMode, Chip, TextMode, TilesMode
from ..door.arrays import numbers, shade
from ..door.arrays import size as size_of
from ..door.given import flag, function, instance, is_whole, items, text, whole, whole_number
from ..door.shown import value as shown
from ..files.problems import InputError, Problem
from ..fonts.fonts import read_font
from ..fonts.glyphs import Font
from ..images.pictures import Picture, from_image, open_picture
from ..scene.findings import one_of
from .colours.colouring import colour
from .colours.reach import Reach, layer_reach, sprite_reach
from .colours.units import Colour, Progress, Scheme, channels, grid
from .fitted import Fitted, FittedGlyphs, FittedSprites
from .layers import BitmapJob, Kind, Over, TileJob, wrong
from .lettering import letter
from .results import Art, slug
from .sprites import SheetJob

AnyPicture = str | Path | Image.Image | Picture
Keep = Mapping[int, Colour | None] | Iterable[int]
Banks = Collection[int] | int | None
Work = BitmapJob | TileJob | SheetJob


ANY_PICTURE = (str, Path, Image.Image, Picture)


def _banks(name: str, value: Any) -> Banks:
    """Banks as they are asked for: how many, or their numbers. Raises TypeError or ValueError."""
    if is_whole(value):
        return whole_number(name, value)
    return numbers(name, items(name, value, "a number of banks, or several banks"))


_KINDS: dict[str, Callable[[str, Any], Any]] = {
    "layer": text,
    "mode": text,
    "sprites": size_of,
    "max_tiles": whole,
    "banks": _banks,
    "transparent": shade,
    "name": text,
}
"""What an Ask may leave out, and what it is where it is there."""


@dataclass(frozen=True, eq=False)
class Ask:
    """One picture, and what it is for.

    ``layer``: LAYER or LAYER.MODE; ``mode``: its mode, left out: the first that holds pictures. ``sprites`` instead: dots of a
    cell of the sheet, across and down. ``max_tiles``: the most patterns, ``over``: "merge" or "error" where there are more.
    ``banks``: only these, or so many from the lowest on. ``transparent``: dots of this colour show nothing. ``scale``: make it
    smaller until it fits. ``name``: what to call it; left out: the picture's own. Raises
    TypeError or ValueError for a value of another kind; whether it goes with the picture and the chip is told by fitting.
    """

    picture: AnyPicture
    layer: str | None = None
    mode: str | None = None
    sprites: tuple[int, int] | None = None
    max_tiles: int | None = None
    over: Over = "merge"
    banks: Banks = None
    transparent: Colour | None = None
    scale: bool = False
    name: str | None = None

    def __post_init__(self) -> None:
        """Check the kinds, and keep numbers as Python's own."""
        instance("picture", self.picture, ANY_PICTURE, "a path, a Pillow image or a Picture")
        text("over", self.over)
        flag("scale", self.scale)
        for name, check in _KINDS.items():
            if getattr(self, name) is not None:
                object.__setattr__(self, name, check(name, getattr(self, name)))


def fit(
    picture: AnyPicture,
    chip: Chip,
    *,
    layer: str,
    mode: str | None = None,
    max_tiles: int | None = None,
    over: Over = "merge",
    banks: Banks = None,
    dither: Kind = "none",
    keep: Keep = (),
    transparent: Colour | None = None,
    scale: bool = False,
    seed: int = 0,
    progress: Progress | None = None,
) -> Fitted:
    """A picture (path, Pillow image or Picture) fitted to a layer of ``chip``, at its top left.

    See Ask for what may be said of the picture. ``dither``: "none", "ordered" or "diffusion". ``keep``: entries that are not to
    be changed; a mapping gives the 8-bit colours that they have, which may then be used. ``progress`` is told 0 to 1.
    Where a way is found to keep every colour, all are kept; if not, the report's notes say what is lost
    and why. Raises InputError for a picture, layer or limit that cannot be, TypeError for an argument of another kind.
    """
    ask = Ask(picture, layer, mode, None, max_tiles, over, banks, transparent, scale)
    (found,) = fit_together([ask], chip, dither=dither, keep=keep, seed=seed, progress=progress)
    assert isinstance(found, Fitted)
    return found


def fit_sprites(
    sheet: AnyPicture,
    chip: Chip,
    cell: tuple[int, int],
    *,
    banks: Banks = None,
    dither: Kind = "none",
    keep: Keep = (),
    transparent: Colour | None = None,
    seed: int = 0,
    progress: Progress | None = None,
) -> FittedSprites:
    """A sheet of sprites: cut into cells of (dots across, dots down), trimmed, deduplicated, banked. See fit."""
    instance("sheet", sheet, ANY_PICTURE, "a path, a Pillow image or a Picture")
    ask = Ask(sheet, sprites=size_of("cell", cell), banks=banks, transparent=transparent)
    (found,) = fit_together([ask], chip, dither=dither, keep=keep, seed=seed, progress=progress)
    assert isinstance(found, FittedSprites)
    return found


def fit_glyphs(
    font: str | Path | Font,
    chip: Chip,
    *,
    layer: str | None = None,
    mode: str | None = None,
    cell: tuple[int, int] | None = None,
    name: str | None = None,
) -> FittedGlyphs:
    """A font's glyphs for a text mode; ``layer`` left out: the chip's first. ``cell``: size of a PNG sheet's glyphs.

    Raises InputError where the font cannot be read, the chip has no such mode, or no glyph fits.
    """
    instance("font", font, (str, Path, Font), "a path or a Font")
    instance("chip", chip, Chip)
    for what, given in (("layer", layer), ("mode", mode), ("name", name)):
        instance(what, given, (str, type(None)), "text or None")
    cell = None if cell is None else size_of("cell", cell)
    file = str(font) if isinstance(font, str | Path) else name or "font"
    known = [(one.name, each) for one in chip.layers for each in one.modes if isinstance(each, TextMode)]
    if layer is None and mode is None:
        if not known:
            raise wrong(file, "layer", f"{chip.name} has no text mode")
        where, text = known[0]
    else:
        where, found = find_mode(chip, layer, mode, (TextMode,), file)
        assert isinstance(found, TextMode)
        text = found
    glyphs = read_font(font, cell=cell) if isinstance(font, str | Path) else font
    return letter(glyphs, chip, where, text, slug(name or file), file)


def fit_together(
    asks: Sequence[Ask],
    chip: Chip,
    *,
    dither: Kind = "none",
    keep: Keep = (),
    seed: int = 0,
    progress: Progress | None = None,
) -> tuple[Art, ...]:
    """Several pictures that share the palette, each fitted to its layer or to the sprites, in the order given. See fit.

    Where a way is found to keep every colour of all of them, it is taken; sources that see the same entries share them.
    Raises InputError with every picture
    that is wrong in itself.
    """
    asks = [instance("each of asks", ask, Ask, "an Ask") for ask in items("asks", asks, "several Asks")]
    instance("chip", chip, Chip)
    seed, progress = whole_number("seed", seed), function("progress", progress)
    if text("dither", dither) not in get_args(Kind):
        raise wrong("vdpsim.art", "dither", f"{one_of(get_args(Kind), 'one of')}, got {shown(dither)}")
    kept = _kept(chip, keep)
    jobs: list[Work] = []
    problems: list[Problem] = []
    names: list[str] = []
    for ask in asks:
        try:
            jobs.append(_job(ask, chip, dither, names))
            names.append(jobs[-1].name)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    scheme = _colour(jobs, chip, kept, dither, seed, _share(progress, 0, 0.5))
    late = [job for job in jobs if job.over()]
    for job in late:
        assert isinstance(job, TileJob)
        job.merge(_share(progress, 0.5, 0.6))
    if late:
        scheme = _colour(jobs, chip, kept, dither, seed, _share(progress, 0.6, 1))
    if progress is not None:
        progress(1.0)
    return tuple(job.fitted(kept, scheme) for job in jobs)


def _share(progress: Progress | None, first: float, last: float) -> Progress | None:
    return None if progress is None else lambda done: progress(first + (last - first) * done)


def _colour(
    jobs: Sequence[Work],
    chip: Chip,
    kept: Mapping[int, Colour | None],
    dither: Kind,
    seed: int,
    progress: Progress | None,
) -> Scheme:
    try:
        scheme = colour(
            [job.units() for job in jobs], channels(chip), kept, exact=dither == "none", seed=seed, progress=progress
        )
    except ValueError as error:
        raise wrong(jobs[0].picture.name, "keep", str(error)) from None
    for job, coloured in zip(jobs, scheme.sources, strict=True):
        job.settle(coloured, scheme.colours)
    return scheme


def _kept(chip: Chip, keep: Keep) -> dict[int, Colour | None]:
    """The entries that are kept; a colour is what the chip shows for it."""
    entries = items("keep", keep, "entries, or their colours by entry")
    found: dict[int, Colour | None] = {}
    for given in entries:
        entry, colour = whole("each of keep", given), keep[given] if isinstance(keep, Mapping) else None
        if not 0 <= entry < chip.palette.entries:
            raise wrong("vdpsim.art", "keep", f"entries go from 0 to {chip.palette.entries - 1}, got {shown(entry)}")
        if colour is not None:
            red, green, blue = grid(np.array(shade("each colour of keep", colour), np.uint8), channels(chip)).tolist()
            colour = (red, green, blue)
        found[entry] = colour
    return found


def _job(ask: Ask, chip: Chip, dither: Kind, names: Sequence[str]) -> Work:
    """The picture, read and cut. Raises InputError."""
    picture = _picture(ask)
    name = _unlike(slug(ask.name or picture.name), names)
    if ask.max_tiles is not None and ask.max_tiles < 1:
        raise wrong(picture.name, "max_tiles", f"must be 1 or more, got {shown(ask.max_tiles)}")
    if ask.over not in get_args(Over):
        raise wrong(picture.name, "over", f"{one_of(get_args(Over), 'one of')}, got {shown(ask.over)}")
    if ask.sprites is not None:
        if min(ask.sprites) < 1:
            raise wrong(
                picture.name,
                "sprites",
                f"a cell must be 1x1 dots or more, got {shown(ask.sprites[0])}x{shown(ask.sprites[1])}",
            )
        if chip.sprites is None:
            raise wrong(picture.name, "sprites", f"{chip.name} has no sprites")
        sheet = SheetJob(
            chip, name, picture, ask.sprites, _reach(ask, chip, picture, None, None), dither, ask.max_tiles
        )
        sheet.prepare()
        return sheet
    layer, mode = find_mode(chip, ask.layer, ask.mode, (TilesMode, BitmapMode), picture.name)
    assert isinstance(mode, TilesMode | BitmapMode)
    picture = _sized(picture, chip, f"{layer}.{mode.name}", mode, scale=ask.scale)
    reach = _reach(ask, chip, picture, layer, mode)
    if isinstance(mode, BitmapMode):
        if ask.max_tiles is not None:
            raise wrong(picture.name, "max_tiles", f"{layer}.{mode.name} is a bitmap: it has no tiles")
        return BitmapJob(chip, name, layer, mode, picture, reach, dither)
    job = TileJob(chip, name, layer, mode, picture, reach, dither)
    room = (chip.memory.size - mode.map_bytes) // mode.pattern_bytes
    there = min(mode.cell.pattern.top + 1, max(room, 0))
    job.prepare(there if ask.max_tiles is None else min(ask.max_tiles, there), ask.over)
    return job


def _reach(ask: Ask, chip: Chip, picture: Picture, layer: str | None, mode: AnyMode | None) -> Reach:
    try:
        if layer is None or mode is None:
            assert chip.sprites is not None
            return sprite_reach(chip, chip.sprites, ask.banks)
        return layer_reach(chip, layer, mode, ask.banks)
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
    if isinstance(mode, TilesMode):
        wide, high = mode.columns * mode.tile, mode.rows * mode.tile
    else:
        wide, high = mode.width, mode.height
    lines, dots = picture.opaque.shape
    if scale:
        wide, high = min(wide, chip.frame.width), min(high, chip.frame.height)
    if dots <= wide and lines <= high:
        return picture
    if not scale:
        told = f"must be at most {wide}x{high} dots for {target}, is {dots}x{lines}"
        raise wrong(picture.name, "size", f"{told}; --scale makes it smaller")
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
