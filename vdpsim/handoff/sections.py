"""The model's text: which of its sections speak of a chip.

Law: the text stands in ``model/``, a file a section or a part of one, in the order of reading; here stands for which chips
each holds. A section that does not hold for a chip says nothing that the chip does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib.resources import files

from ..chip.line.clients import keeps, layers_ahead
from ..chip.model import BitmapMode, Chip

ALL: Callable[[Chip], bool] = lambda _chip: True  # noqa: E731 - a name for a cell of the table below


def _shows(*kinds: str) -> Callable[[Chip], bool]:
    """Chips of which a layer has a mode of one of ``kinds``."""
    return lambda chip: any(mode.kind in kinds for layer in chip.layers for mode in layer.modes)


def _coloured(chip: Chip) -> bool:
    modes = [mode for layer in chip.layers for mode in layer.modes]
    return any(isinstance(mode, BitmapMode) and mode.colours is not None for mode in modes)


def _timed(chip: Chip) -> bool:
    return chip.time is not None


def _has_sprites(chip: Chip) -> bool:
    return chip.sprites is not None


def _keeps(chip: Chip) -> bool:
    return any(keeps(chip, layer, mode) for layer in chip.layers for mode in range(len(layer.modes)))


SECTIONS: Mapping[str, Callable[[Chip], bool]] = {
    "01-terms": ALL,
    "02-registers": ALL,
    "03-time": ALL,
    "04-sizes": lambda chip: len(chip.frame.every_size) > 1,
    "05-modes": lambda chip: bool(chip.layers),
    "06-surfaces": _shows("tiles", "bitmap"),
    "07-tiles": _shows("tiles"),
    "08-rows-of-dots": lambda chip: _has_sprites(chip) or _shows("tiles", "bitmap")(chip),
    "09-bitmap": _shows("bitmap"),
    "10-colour-cells": _coloured,
    "11-text": _shows("text"),
    "12-clients": ALL,
    "13-sprites": _has_sprites,
    "14-ladder": ALL,
    "15-slots": _timed,
    "16-refresh": lambda chip: chip.time is not None and chip.time.refresh is not None,
    "17-fetches": _timed,
    "18-line-buffers": lambda chip: bool(layers_ahead(chip)),
    "19-missed": _timed,
    "20-kept-cells": _keeps,
    "21-sprites-in-time": lambda chip: _timed(chip) and _has_sprites(chip),
    "22-transfers": _timed,
    "23-accesses": _timed,
    "24-cpu": ALL,
    "25-results": lambda _chip: False,
}
"""For which chips each file of ``model/`` holds; the last is about Python alone."""


def model_text(chip: Chip) -> Iterator[str]:
    """The sections that speak of ``chip``, in order."""
    yield from (_section(name) for name, holds in SECTIONS.items() if holds(chip))


def whole_model() -> Iterator[str]:
    """All sections, in order."""
    yield from map(_section, SECTIONS)


@cache
def _section(name: str) -> str:
    return (files(__package__) / "model" / f"{name}.md").read_text("utf-8").strip("\n")
