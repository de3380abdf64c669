"""A picture on its way into a chip: what layers and sheets of sprites have in common.

Law: what is asked for stays as it came; what becomes of it is taken in once the colours are known, and told in a Report.
Knows pictures and colours, no maps, no patterns and no file.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..chip.model import Chip
from ..files.problems import InputError, Problem
from ..images.pictures import Picture
from .arrays import Dithering, Dots, Mask, Numbers, Size
from .colours.lost import lost
from .colours.reach import Reach
from .colours.shades import Shades
from .colours.units import Coloured, Scheme, channels, grid
from .results import Report, loss
from .scenes.encode import colour_words


def wrong(name: str, place: str, message: str) -> InputError:
    """The error that says ``message`` of the picture ``name``."""
    return InputError([Problem(name, 0, place, message)])


@dataclass(frozen=True)
class PatternCount:
    """The part of a Report that counts patterns; its words are the Report's."""

    things: str
    there: int
    asked: int
    used: int
    limit: int
    bound: int
    unlimited: float | None = None


@dataclass(eq=False, repr=False, kw_only=True)
class FittingJob:
    """One picture, what it is for, and what has become of it so far.

    ``cell`` and ``thing``: dots of what a report names the place of, across and down, and what it is. ``why``: why colours
    are lost, in words. ``counted``: the dots whose loss counts.
    """

    chip: Chip
    name: str
    target: str
    picture: Picture
    reach: Reach
    dithering: Dithering

    def __post_init__(self) -> None:
        self.notes = list(self.picture.notes)
        self.asked: Dots = self.picture.rgb
        self.opaque: Mask = self.picture.opaque
        self.cell: Size = (1, 1)
        self.thing, self.why = "dot", ""

    def wrong(self, place: str, message: str) -> InputError:
        """The error that says ``message`` of this picture."""
        return wrong(self.picture.name, place, message)

    def take(self, coloured: Coloured, scheme: Scheme, values: int) -> None:
        """Take in which colours there are, for a chip with so many ``values`` of a dot."""
        self.reach, self.why = coloured.reach, coloured.why
        self.shades = Shades(coloured.reach.views, scheme.colours, values)
        self.scheme = scheme
        self.dithers = self.dithering != "none" and not coloured.exact

    def report(
        self, rgb: Dots, view: Numbers, value: Numbers, counted: Mask, kept: Collection[int], patterns: PatternCount
    ) -> Report:
        """What a Report says of the picture ``rgb`` that the chip shows.

        ``view`` and ``value``: of every dot that shows, of one shape. ``counted``: the dots whose loss counts.
        """
        views = self.shades.views
        used = np.unique(view)
        reached = {entry for one in views for entry in one.entries}
        told = lost(grid(self.asked, channels(self.chip)), rgb, counted, self.cell, self.thing, self.why)
        return Report(
            name=self.name,
            target=self.target,
            size=(self.asked.shape[1], self.asked.shape[0]),
            banks=len(used),
            banks_there=len(views),
            together=self.scheme.pages,
            entries=self._entries(view, value),
            free=len(reached - set(self.shades.colours) - set(kept)),
            loss=loss(self.asked, rgb, counted),
            notes=(*self.notes, told) if told else tuple(self.notes),
            **vars(patterns),
        )

    def _entries(self, view: Numbers, value: Numbers) -> int:
        """How many entries show in these dots."""
        entry = np.full((len(self.shades.views), self.shades.values), -1, np.int64)
        for at, one in enumerate(self.shades.views):
            entry[at, list(one.values)] = one.entries
        return len(np.unique(entry[view, value]))

    def result(self, rgb: Dots, report: Report, banks: Numbers, registers: dict[str, int]) -> dict[str, Any]:
        """The words that every kind of Art has."""
        return {
            "chip": self.chip,
            "name": self.name,
            "target": self.target,
            "asked": self.picture.rgb,
            "rgb": rgb,
            "opaque": self.opaque,
            "banks": banks,
            "palette": colour_words(self.chip.palette, self.shades.colours),
            "registers": registers,
            "report": report,
        }
