"""A line in words: what each layer shows on it and how far it is scrolled, and the accesses of sprites that come before.

Law: one account of a line, in two sets of words: for a sentence, and for a table that says what its marks mean.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ...chip.line.clients import buffered, mode_costs
from ...chip.line.serving import Stretch
from ...chip.model import Chip, Layer
from ...chip.tables.basics import size_name
from ...chip.tables.modes import SurfaceMode
from ..line.line import Line


class Words(NamedTuple):
    """How things are said: ``after`` a layer's mode, between what is said of it, and between layers."""

    no_row: str
    scrolled: str
    part: str
    kept: str
    all_turned: str
    some_turned: str
    ahead: str
    sprites: str
    after: str
    between: str
    layers: str


LONG = Words(
    no_row="below its last row",
    scrolled="scrolled by {} of {} dots",
    part="groups {} to {}",
    kept="cells kept",
    all_turned="all cells turned",
    some_turned="{} cells turned",
    ahead="fetched for the next line",
    sprites="{} accesses of sprites",
    after=" ",
    between=", ",
    layers="; ",
)
"""``near tiles scrolled by 7 of 8 dots, cells kept; far text; 12 accesses of sprites``."""

SHORT = Words(
    no_row="(no row)",
    scrolled="{}/{}",
    part="{}-{}",
    kept="kept",
    all_turned="turned",
    some_turned="{} turned",
    ahead="",
    sprites="{} of sprites",
    after=" ",
    between=" ",
    layers=" + ",
)
"""``near tiles 7/8 kept + far text + 12 of sprites``."""


def where(chip: Chip, line: Line, *, client: str = "", words: Words = LONG) -> str:
    """The line; of sprites only where they are served before ``client`` (left out: in any case)."""
    told = [
        _layer(chip, layer, mode, stretch, words)
        for layer, mode, stretch in zip(chip.layers, line.kind.modes, line.layers, strict=True)
        if mode is not None
    ]
    names = list(chip.time.clients) if chip.time else []
    if chip.sprites and (not client or names.index("sprites") < names.index(client)):
        told.append(words.sprites.format(line.sprites))
    head = "" if line.kind.picture else "below the picture: "
    return at_size(chip, line.size) + head + (words.layers.join(told) or "no layer")


def at_size(chip: Chip, size: int | None) -> str:
    """A size of the picture, by its number, to stand before what is said of a line; nothing where there is one alone."""
    return "" if size is None else f"{size_name(chip.frame.every_size[size])}: "


def _layer(chip: Chip, layer: Layer, mode: int, stretch: Stretch | None, words: Words) -> str:
    name = f"{layer.name} {layer.modes[mode].name}"
    told = [one for one in _said(chip, layer, mode, stretch, words) if one]
    return words.after.join([name, words.between.join(told)]) if told else name


def _said(chip: Chip, layer: Layer, mode: int, stretch: Stretch | None, words: Words) -> Iterator[str]:
    """What there is to say of a layer beside its mode."""
    of = layer.modes[mode]
    if stretch is None:
        yield words.no_row
    else:
        if of.scrolls("x"):
            yield words.scrolled.format(stretch.fine, mode_costs(chip, of).size)
        if isinstance(of, SurfaceMode) and not of.wrap:
            yield words.part.format(stretch.first, stretch.last)
        if stretch.kept:
            yield words.kept
        if 1 in stretch.turned:
            yield words.all_turned if 0 not in stretch.turned else words.some_turned.format(sum(stretch.turned))
    if buffered(chip, layer):
        yield words.ahead
