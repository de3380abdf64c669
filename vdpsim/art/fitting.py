"""Pictures, sprite sheets and fonts fitted to a chip: the order of work.

Law: what shares the palette is fitted together, and one answer follows from the same input and seed on any machine. First
everything is coloured; where a picture then has too many tiles they are merged, and everything is coloured anew. Whatever
a person gave wrong is an InputError that says what is allowed and what was given. Knows files only to read a picture or a font.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import get_args

import numpy as np

from ..chip.model import Chip, TextMode
from ..door.arrays import shade
from ..door.arrays import size as size_of
from ..door.given import function, instance, items, text, whole, whole_number
from ..door.shown import value as shown
from ..files.problems import InputError, Problem
from ..fonts.fonts import read_font
from ..fonts.glyphs import Font
from ..scene.findings import one_of
from .arrays import Colour, Dithering, OverLimit, Progress, Size
from .ask import ANY_PICTURE, AnyPicture, Ask, Banks, Keep
from .colours.colouring import colour
from .colours.units import KeptEntries, channels, grid
from .fitted import Fitted, FittedGlyphs, FittedSprites
from .job import wrong
from .layers.tiles import TileJob
from .lettering import letter
from .preparing import AnyJob, find_mode, job_of
from .results import Art, slug


def fit(
    picture: AnyPicture,
    chip: Chip,
    *,
    layer: str,
    mode: str | None = None,
    max_tiles: int | None = None,
    over: OverLimit = "merge",
    banks: Banks = None,
    dither: Dithering = "none",
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
    cell: Size,
    *,
    banks: Banks = None,
    dither: Dithering = "none",
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
    cell: Size | None = None,
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
    where, text_mode = _text_mode(chip, layer, mode, file)
    glyphs = read_font(font, cell=cell) if isinstance(font, str | Path) else font
    return letter(glyphs, chip, where, text_mode, slug(name or file), file)


def _text_mode(chip: Chip, layer: str | None, mode: str | None, file: str) -> tuple[str, TextMode]:
    """The layer and its text mode that were named; where none was, the chip's first. Raises InputError, for ``file``."""
    if layer is not None or mode is not None:
        where, found = find_mode(chip, layer, mode, (TextMode,), file)
        assert isinstance(found, TextMode)
        return where, found
    for one in chip.layers:
        for each in one.modes:
            if isinstance(each, TextMode):
                return one.name, each
    raise wrong(file, "layer", f"{chip.name} has no text mode")


def fit_together(
    asks: Sequence[Ask],
    chip: Chip,
    *,
    dither: Dithering = "none",
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
    if text("dither", dither) not in get_args(Dithering):
        raise wrong("vdpsim.art", "dither", f"{one_of(get_args(Dithering), 'one of')}, got {shown(dither)}")
    kept = _kept(chip, keep)
    jobs = _jobs(asks, chip, dither)
    exact = dither == "none"
    _colour(jobs, chip, kept, exact=exact, seed=seed, progress=_share(progress, 0, 0.5))
    late = [job for job in jobs if job.over()]
    for job in late:
        assert isinstance(job, TileJob)
        job.merge(_share(progress, 0.5, 0.6))
    if late:
        _colour(jobs, chip, kept, exact=exact, seed=seed, progress=_share(progress, 0.6, 1))
    if progress is not None:
        progress(1.0)
    return tuple(job.fitted(kept) for job in jobs)


def _jobs(asks: Sequence[Ask], chip: Chip, dithering: Dithering) -> list[AnyJob]:
    """What each Ask becomes. Raises InputError with what is wrong in all of them."""
    jobs: list[AnyJob] = []
    problems: list[Problem] = []
    for ask in asks:
        try:
            jobs.append(job_of(ask, chip, dithering, [job.name for job in jobs]))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return jobs


def _share(progress: Progress | None, first: float, last: float) -> Progress | None:
    """``progress``, for a part of the work that goes from ``first`` to ``last`` of the whole."""
    return None if progress is None else lambda done: progress(first + (last - first) * done)


def _colour(
    jobs: Sequence[AnyJob], chip: Chip, kept: KeptEntries, *, exact: bool, seed: int, progress: Progress | None
) -> None:
    """Colour all jobs together. Raises InputError where one of them sees no entry that it may use."""
    units = [job.units() for job in jobs]
    try:
        scheme = colour(units, channels(chip), kept, exact=exact, seed=seed, progress=progress)
    except ValueError as error:
        raise wrong(jobs[0].picture.name, "keep", str(error)) from None
    for job, coloured in zip(jobs, scheme.sources, strict=True):
        job.settle(coloured, scheme)


def _kept(chip: Chip, keep: Keep) -> dict[int, Colour | None]:
    """The entries that are kept; a colour is what the chip shows for it."""
    found: dict[int, Colour | None] = {}
    for given in items("keep", keep, "entries, or their colours by entry"):
        entry = whole("each of keep", given)
        if not 0 <= entry < chip.palette.entries:
            raise wrong("vdpsim.art", "keep", f"entries go from 0 to {chip.palette.entries - 1}, got {shown(entry)}")
        colour = keep[given] if isinstance(keep, Mapping) else None
        found[entry] = None if colour is None else _on_grid(chip, shade("each colour of keep", colour))
    return found


def _on_grid(chip: Chip, colour: Colour) -> Colour:
    red, green, blue = grid(np.array(colour, np.uint8), channels(chip)).tolist()
    return red, green, blue
